"""The compiler that links once: what it links belongs to one function that Python calls, and to no other.

It leans on inner names of numba: where one has changed, numba's own way is taken, with the same results.
"""

import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from o2sim.compiler import jit

numba = pytest.importorskip("numba")
if not jit.COMPILES:
    pytest.skip("nothing is compiled", allow_module_level=True)
HERE = Path(__file__).parent
ONCE, OWN = "links once", "numba's own way"


def test_no_name_of_what_is_linked_is_shared() -> None:
    """Memory for code is searched by names: two callers of a function must not find each other's copy of it."""

    @jit.compiled
    def inner(a: int, b: int) -> int:
        return a // b + b // a if a > 0 else inner(a + 7, b)

    def names(of: int) -> set[str]:
        @numba.njit(**jit._OUTER)
        def outer(a: int) -> int:
            return inner(a, of) + inner(of, a)

        assert outer(5) == 5 // of + of // 5 + of // 5 + 5 // of
        (found,) = outer.overloads.values()
        made = found._asdict()["library"]._final_module
        return {each.name for each in made.functions if not each.is_declaration}

    one, other = names(3), names(4)
    assert any("inner" in name for name in one)
    assert not one & other


SMALL = """
from o2sim.compiler import jit

@jit.compiled
def inner(a, b):
    return (a // b + b // a) / 7 if a > 0 else inner(a + 7, b)

@jit.compiled
def middle(a, b):
    return inner(a, b) + inner(b, a), inner(3, 5)

@jit.cached
def outer(a):
    found, more = middle(a, 11)
    return found + more * inner(a, 13)

print([outer(each).hex() for each in (-20, 3, 17)])
"""
WHOLE = """
from dataclasses import replace
from o2sim import loads
from o2sim.compiler import jit
from o2sim.draws import Draws
from o2sim.model.run import simulate
from small_ward import WARD
scenario = loads(WARD)
found = [simulate(scenario, name, Draws(5, 0), log=True) for name in scenario.strategies]
print([replace(each, daily=each.daily.tolist()) for each in found])
"""
WAY = "print('links once' if 'link_once' in jit.compilers()[1].__module__ else \"numba's own way\")\n"


def run_with(pattern: str, other: str, program: str, folder: Path) -> list[str]:
    """A pattern in the sources of numba and what stands there instead in, what a program prints with it out."""
    path = folder / "program.py"
    path.write_text(program + WAY)
    paths = os.pathsep.join(map(str, (HERE.parents[1], HERE.parent)))
    env = os.environ | {"PYTHONPATH": paths, "NUMBA_CACHE_DIR": str(folder)}
    command = [sys.executable, str(HERE / "renamed.py"), pattern, other, str(path)]
    done = subprocess.run(command, env=env, capture_output=True, text=True, check=False)
    return (done.stdout + done.stderr).splitlines()


def plain(a: int) -> float:
    """What `outer` of the small program gives, in plain Python."""

    def inner(a: int, b: int) -> float:
        return (a // b + b // a) / 7 if a > 0 else inner(a + 7, b)

    return inner(a, 11) + inner(11, a) + inner(3, 5) * inner(a, 13)


def word(name: str) -> str:
    """A name in, the pattern that finds it as a whole word out."""
    return rf"\b{name}\b"


SOME = [  # of each kind: imported, overridden, read, a keyword, an option, one argument more
    ("no such word", "", ONCE),
    (word("JITCodeLibrary"), "Renamed", OWN),
    (word("set_env"), "renamed", OWN),
    (word("_linking_libraries"), "_renamed", OWN),
    (word("mutates_CFG"), "renamed", OWN),
    (word("no_cpython_wrapper"), "renamed", ONCE),
    (r"(set_env\(.*env)\)", r"\1, more=None)", OWN),
]
REST = [
    *((word(name), "Renamed", OWN) for name in ("JITCPUCodegen", "CompilerBase", "DefaultPassBuilder")),
    *((word(name), "Renamed", OWN) for name in ("FunctionPass", "register_pass", "NopythonTypeInference")),
    *((word(name), "_renamed", OWN) for name in ("_finalized", "_raise_if_finalized", "_optimize_final_module")),
    *((word(name), "_renamed", OWN) for name in ("_codegen", "_final_module")),
    *((word(name), "renamed", OWN) for name in ("get_pointer_to_function", "define_nopython_pipeline")),
    *((word(name), "renamed", OWN) for name in ("define_pipelines", "add_pass_after", "create_library")),
    *((word(name), "renamed", OWN) for name in ("enable_object_caching", "targetctx", "func_id", "func_qualname")),
    *((word(name), "renamed", OWN) for name in ("library", "run_pass", "analysis_only")),
    (word("serialize_using_object_code"), "renamed", OWN),
    (r"(?<=\.)overloads\b", "renamed", OWN),
    (r"(?<=\.)(?<!core\.)codegen\b|(?<=def )codegen\b", "renamed", OWN),
    (r"(?<!weakref\.)(?<!weakref import )\bfinalize\b", "renamed", OWN),
    (word("no_cfunc_wrapper"), "renamed", ONCE),
    (word("get_call_template"), "renamed", ONCE),
    (r"\bcodegen\.set_env\(", "_codegen.set_env(", ONCE),  # reached by another way
]


@pytest.mark.parametrize(
    ("pattern", "other", "way"), [*SOME, *(pytest.param(*each, marks=pytest.mark.slow) for each in REST)]
)
def test_a_numba_with_other_inner_names_gives_the_same(pattern: str, other: str, way: str, tmp_path: Path) -> None:
    """Whatever has changed inside numba, the program gives the same bits, by numba's own way if need be."""
    assert run_with(pattern, other, SMALL, tmp_path) == [str([plain(each).hex() for each in (-20, 3, 17)]), way]


@pytest.mark.slow
def test_the_whole_engine_by_the_own_way_of_numba_gives_the_same(tmp_path: Path) -> None:
    """With an inner name of numba changed, outcomes and event logs are the same to the last bit."""
    (tmp_path / "own").mkdir()
    found, way = run_with(word("_linking_libraries"), "_renamed", WHOLE, tmp_path / "own")
    wanted, usual_way = run_with("no such word", "", WHOLE, tmp_path)
    assert (way, usual_way) == (OWN, ONCE)
    assert found == wanted


def fails(*_args: object) -> None:
    """Stand in for what raises while it links."""
    raise RuntimeError("linking failed")


@pytest.mark.parametrize("place", ["_Outer.finalize", "_Inner.finalize", "_Outer._optimize_final_module"])
def test_an_exception_while_linking_leads_to_the_own_way(place: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """What fails in the midst of linking the probe is not used for anything else."""
    monkeypatch.setattr(f"o2sim.compiler.link_once.{place}", fails)
    assert jit.compilers.__wrapped__() == (numba.core.compiler.Compiler,) * 2


def test_a_wrong_result_leads_to_the_own_way(monkeypatch: pytest.MonkeyPatch) -> None:
    """A probe that runs and gives another result than plain Python is taken for a failure."""
    from o2sim.compiler import link_once

    program = link_once._program

    def planted(*marks: Any) -> tuple[Any, Any]:
        made = program(*marks)
        return made if hasattr(made[0], "overloads") else (lambda _: 0.0, lambda _: 0.0)

    monkeypatch.setattr(link_once, "_program", planted)
    assert jit.compilers.__wrapped__() == (numba.core.compiler.Compiler,) * 2
