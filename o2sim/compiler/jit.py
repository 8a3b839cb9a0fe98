"""Compile Python functions; leave them as they are where there is no compiler, which only this file imports.

Compiled code sees memory as records at an address: a numpy structured array is filled by Python, its address goes
into another record, and `records` gives what reads it there. One pointer passes where a dozen arrays would.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache
from types import FunctionType
from typing import Any, TypeVar
from weakref import WeakValueDictionary

import numpy as np
import numpy.typing as npt
from scipy import special

from o2sim.compiler import kept_code

try:
    import numba
    from llvmlite import ir  # type: ignore[import-untyped]
    from llvmlite.binding import add_symbol  # type: ignore[import-untyped]
    from numba.extending import get_cython_function_address, intrinsic
    from numba.np.numpy_support import from_dtype
except ImportError:  # no wheel for this machine
    numba = None

Record = Any  # of a structured array; in compiled code a pointer to it
Whole = Any  # a 64-bit whole number
Word = Any  # the same without a sign
Key = Any  # two words, seed and replication
Real = Any  # a 64-bit floating-point number
Function = TypeVar("Function", bound=Callable[..., Any])
COMPILER: bool = numba is not None  # there is one, whether it is switched off or not
COMPILES: bool = numba is not None and not numba.config.DISABLE_JIT
CHECKS: bool = COMPILES and bool(numba.config.BOUNDSCHECK)  # every access to memory is checked
_kept: WeakValueDictionary[int, Any] = WeakValueDictionary()  # arrays by address, for uncompiled functions
_OPTIONS: dict[str, Any] = {"error_model": "numpy", "nogil": True}


@lru_cache(maxsize=1)
def compilers() -> tuple[Any, Any]:
    """Return what compiles inner and outer functions: what links once, if a probe goes well, else numba's own.

    Whatever goes wrong there, numba has changed inside; its own way gives the same results, only later.
    """
    try:
        from o2sim.compiler import link_once

        link_once.probe(_INNER, _OUTER)
    except Exception:
        return numba.core.compiler.Compiler, numba.core.compiler.Compiler
    return link_once.INNER, link_once.OUTER


def _known(*names: str) -> dict[str, bool]:
    """Return those options of numba switched on that this version of it has."""
    known = getattr(getattr(numba.core, "options", None), "DefaultOptions", None)
    return {name: True for name in names if hasattr(known, name)}


if numba is not None:
    # which compiler it is, is found out when the first function is compiled: most processes load what is kept
    _INNER = _OPTIONS | _known("no_cpython_wrapper", "no_cfunc_wrapper")  # only compiled code calls it
    _INNER["pipeline_class"] = lambda *args, **more: compilers()[0](*args, **more)
    _OUTER = _OPTIONS | {"pipeline_class": lambda *args, **more: compilers()[1](*args, **more)}


def compiled(function: Function) -> Function:
    """Return a function compiled when it is first called, once for each set of types."""
    if not COMPILES:
        return function
    found = numba.njit(**_INNER)(function)
    template = getattr(found, "get_call_template", None)
    if template is None:  # another numba: it compiles more often
        return found  # type: ignore[no-any-return]

    def of_types(args: Any, kws: Any) -> Any:
        """Take constants for what they are numbers of: each would have the function compiled anew."""
        return template([numba.types.unliteral(each) for each in args], kws)

    found.get_call_template = of_types
    return found  # type: ignore[no-any-return]


def compile_file(names: dict[str, Any]) -> None:
    """Have all functions of a file compiled, as its last line: `compile_file(globals())`."""
    for name, found in names.items():
        if isinstance(found, FunctionType) and found.__module__ == names["__name__"]:
            names[name] = compiled(found)


def cached(function: Function) -> Function:
    """Return a compiled function that is kept on disk for the next process, where there is a folder for it."""
    if not COMPILES:
        return function
    found = numba.njit(**_OUTER)(function)
    kept_code.keep(found)
    return found  # type: ignore[no-any-return]


def is_kept(name: str) -> bool:
    """Return True if there is nothing to compile, or `cached` has kept a function of a file of that name."""
    return not COMPILES or kept_code.is_kept(name)


def address(array: npt.NDArray[Any]) -> int:
    """Return where an array begins; the caller keeps it alive."""
    if not COMPILES:
        _kept[array.ctypes.data] = array
    return int(array.ctypes.data)


def memory(dtype: npt.DTypeLike, count: int) -> npt.NDArray[Any]:
    """Return a zeroed array of records, at least one."""
    return np.zeros(max(1, count), dtype=dtype).view(np.recarray)


def table(dtype: npt.DTypeLike, count: int) -> npt.NDArray[Any]:
    """Return the same for columns that Python reads by name: making a recarray takes longer than filling it."""
    return np.zeros(max(1, count), dtype=dtype) if COMPILES else memory(dtype, count)


ndtri: Any = special.ndtri
gammaincinv: Any = special.gammaincinv
if COMPILES:
    for _name in ("ndtri", "gammaincinv"):
        add_symbol(f"o2sim_{_name}", get_cython_function_address("scipy.special.cython_special", _name))
    _f8, _i8, _u8 = numba.types.float64, numba.types.int64, numba.types.uint64
    ndtri = numba.types.ExternalFunction("o2sim_ndtri", _f8(_f8))
    gammaincinv = numba.types.ExternalFunction("o2sim_gammaincinv", _f8(_f8, _f8))


def _high_product(_context: Any, _a: Any, _b: Any) -> Any:
    def generate(_target: Any, builder: Any, _signature: Any, values: Any) -> Any:
        wide = ir.IntType(128)
        product = builder.mul(builder.zext(values[0], wide), builder.zext(values[1], wide))
        return builder.trunc(builder.lshr(product, ir.Constant(wide, 64)), ir.IntType(64))

    return _u8(_u8, _u8), generate


# the upper 64 bits of the product of two words; for compiled functions only
high_product: Any = intrinsic(_high_product) if COMPILES else None


def records(dtype: np.dtype[Any]) -> Callable[[Whole, Whole], Record]:
    """Return a function that takes an address and a place and gives the record of that type there."""
    if not COMPILES:
        return _kept_record
    kind = from_dtype(dtype)

    def at(_context: Any, _address: Any, _place: Any) -> Any:
        def generate(target: Any, builder: Any, _signature: Any, values: Any) -> Any:
            offset = builder.mul(values[1], ir.Constant(ir.IntType(64), dtype.itemsize))
            return builder.inttoptr(builder.add(values[0], offset), target.get_value_type(kind))

        return kind(_i8, _i8), generate

    found: Callable[[Whole, Whole], Record] = intrinsic(at)
    return found


def _kept_record(where: Whole, place: Whole) -> Record:
    array = _kept[int(where)]
    if not 0 <= place < len(array):
        raise IndexError(f"place {place} of {len(array)}")
    return array[place]
