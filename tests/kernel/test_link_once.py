"""The compiler that links once: what it links belongs to one function that Python calls, and to no other."""

import pytest

from o2sim import jit

numba = pytest.importorskip("numba")


def test_no_name_of_what_is_linked_is_shared() -> None:
    """Memory for code is searched by names: two callers of a function must not find each other's copy of it."""
    if not jit.COMPILES:
        pytest.skip("nothing is compiled")

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
