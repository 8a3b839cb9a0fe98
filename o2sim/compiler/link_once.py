"""A compiler for numba that links and optimises functions once, with the one that Python calls, not one by one.

As it stands the compiler optimises every function together with all it calls, so that what stands deep in a
program is optimised as often as it has callers above it. Functions that only compiled code calls need no machine
code of their own: they are handed on as they are.

This leans on inner names of numba, which another version may rename or use otherwise. So whoever imports this is
ready for any exception, and calls `probe` before anything else is compiled: that compiles and runs a small program
and raises where a name is missing or a result is wrong. Then numba's own way is taken for everything: it takes
about four times as long and gives the same results. Tried with numba 0.60.0, 0.61.2, 0.63.1 and 0.68.1 (Linux,
x86-64, Python 3.11), each of which links once.
"""

from __future__ import annotations

from collections.abc import Callable
from operator import attrgetter
from typing import Any

import numba
from numba.core.codegen import JITCodeLibrary, JITCPUCodegen
from numba.core.compiler import CompilerBase, DefaultPassBuilder
from numba.core.compiler_machinery import FunctionPass, register_pass
from numba.core.typed_passes import NopythonTypeInference


class _Quiet:
    """What makes code, but for the environment of a function that Python never calls."""

    def __init__(self, codegen: Any) -> None:
        self._codegen = codegen

    def __getattr__(self, name: str) -> Any:
        return getattr(self._codegen, name)

    def set_env(self, _name: str, _env: Any) -> None:
        """Leave the environment out."""


class _Inner(JITCodeLibrary):  # type: ignore[misc]
    """The code of a function that only compiled code calls."""

    _finalized = False

    def finalize(self) -> None:
        """Leave the code as it is, for whoever links it."""
        self._raise_if_finalized()
        self._finalized = True

    def get_pointer_to_function(self, _name: str) -> int:
        """Return 0: there is no machine code."""
        return 0


class _Outer(JITCodeLibrary):  # type: ignore[misc]
    """The code of a function that Python calls."""

    def finalize(self) -> None:
        """Link all that is called, at whatever depth, and optimise it together."""
        self._own = [each.name for each in self._final_module.functions if not each.is_declaration]
        found: dict[Any, None] = {}
        pending: list[Any] = list(self._linking_libraries)  # type: ignore[has-type]
        while pending:
            library = pending.pop()
            if library not in found:
                found[library] = None
                pending += library._linking_libraries if isinstance(library, _Inner) else []
        self._linking_libraries = list(found)
        super().finalize()

    def _optimize_final_module(self) -> None:
        """Let nobody else call what was linked, so that it can be built into its callers or take fewer arguments.

        It gets a name that no other code has: memory for code is searched by names, whoever they belong to.
        """
        for each in self._final_module.functions:
            if not each.is_declaration and each.name not in self._own:
                each.name, each.linkage = f"{each.name}.{self._own[0]}", "internal"
        super()._optimize_final_module()


def _compiler(kind: type) -> type:
    """Return a compiler whose functions have their code in libraries of a kind."""

    class LibraryOfKind(FunctionPass):  # type: ignore[misc]
        """Make the library before the code is."""

        _name = f"library_of_kind{kind.__name__}"

        def __init__(self) -> None:
            FunctionPass.__init__(self)

        def run_pass(self, state: Any) -> bool:
            """Make the library."""
            code = state.targetctx.codegen().create_library(state.func_id.func_qualname)
            code.__class__ = kind
            if kind is _Inner:
                code._codegen = _Quiet(code._codegen)
            code.enable_object_caching()
            state["library"] = code
            return True

    made = register_pass(mutates_CFG=False, analysis_only=True)(LibraryOfKind)

    class Compiler(CompilerBase):  # type: ignore[misc]
        """The compiler's own passes, with the library made first."""

        def define_pipelines(self) -> list[Any]:
            """Return the passes."""
            passes = DefaultPassBuilder.define_nopython_pipeline(self.state)
            passes.add_pass_after(made, NopythonTypeInference)
            passes.finalize()
            return [passes]

    return Compiler


def _require_overridden(kind: type, base: type) -> None:
    """Raise AttributeError if a class overrides what is not there: numba would never ask for it."""
    for name in vars(kind):
        if not name.startswith("__"):
            getattr(base, name)


_require_overridden(_Inner, JITCodeLibrary)
_require_overridden(_Outer, JITCodeLibrary)
_require_overridden(_Quiet, JITCPUCodegen)
INNER, OUTER = _compiler(_Inner), _compiler(_Outer)


def probe(inner: dict[str, Any], outer: dict[str, Any]) -> None:
    """Compile and run a small program with the options of inner and outer functions; raise if it goes wrong."""
    made = _program(
        numba.njit(**inner | {"pipeline_class": INNER}), numba.njit(**outer | {"pipeline_class": OUTER})
    )
    plain = _program(lambda function: function, lambda function: function)
    for found, wanted in zip(made, plain, strict=True):
        for number in (-20, -7, 1, 5):
            if found(number) != wanted(number):
                raise ValueError(f"{found(number)} instead of {wanted(number)}")
        (code,) = found.overloads.values()
        if not attrgetter("library")(code).serialize_using_object_code():  # to be kept for the next process
            raise ValueError("no code")


def _program(inner: Callable[[Any], Any], outer: Callable[[Any], Any]) -> tuple[Any, Any]:
    """Return two functions that Python calls; of those they share one calls itself, one gives several numbers."""

    @inner
    def shared(a: int, b: int) -> Any:
        return (a // b + b // a) / 7 if a > 0 else shared(a + 7, b)

    @inner
    def several(a: int, b: int) -> tuple[Any, int]:
        return shared(a, b) + shared(b, a), a * b

    def calling(of: int) -> Any:
        @outer
        def whole(a: int) -> Any:
            found, product = several(a, of)
            for each in range(1, of):
                found += shared(each, a + 100) * product
            return found

        return whole

    return calling(3), calling(4)
