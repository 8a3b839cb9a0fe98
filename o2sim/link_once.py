"""A compiler for numba that links and optimises functions once, with the one that Python calls, not one by one.

As it stands the compiler optimises every function together with all it calls, so that what stands deep in a
program is optimised as often as it has callers above it. Functions that only compiled code calls need no machine
code of their own: they are handed on as they are.
"""

from __future__ import annotations

from typing import Any

from numba.core.codegen import JITCodeLibrary
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

    def finalize(self) -> None:
        """Leave the code as it is, for whoever links it."""
        self._raise_if_finalized()
        self._finalized = True

    def get_pointer_to_function(self, _name: str) -> int:
        """Return 0: there is no machine code."""
        return 0

    @property
    def codegen(self) -> Any:
        """Return what makes code."""
        return _Quiet(self._codegen)


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


INNER, OUTER = _compiler(_Inner), _compiler(_Outer)
