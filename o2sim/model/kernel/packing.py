"""Turn a frozen dataclass into a record that compiled code reads: every field, under its dotted path.

`cylinders.fleet` is `cylinders_fleet`. None is -1 where a whole or real number may be left out, `has_cylinders`
is False where a section is. A word out of a list is its place in it. A tuple is the address of its entries and
their number (`cylinders_check_times_s`, `cylinders_check_times_s_count`).
"""

from __future__ import annotations

import datetime as dt
import types
import typing
from dataclasses import fields, is_dataclass
from functools import lru_cache
from typing import Any, Literal

import numpy as np
import numpy.typing as npt

from o2sim.compiler import jit
from o2sim.draws.laws import LAW, law_record
from o2sim.scenario.types.hospital import Law


def record(*columns: str | tuple[object, ...]) -> np.dtype[Any]:
    """Return a record type: names of whole numbers, and of flags with ? behind them; other columns as in numpy."""
    found: list[tuple[object, ...]] = []
    for column in columns:
        if isinstance(column, tuple):
            found.append(column)
        else:
            found += [(name.removesuffix("?"), "?" if name[-1] == "?" else "i8") for name in column.split()]
    return np.dtype(found, align=True)


NUMBER = record("value")
SHARE = record(("value", "f8"))
PAIR = record("start_s end_s")
_SINGLE: dict[Any, Any] = {bool: "?", int: "i8", float: "f8", dt.date: "i8", Law: LAW}
_ENTRIES: dict[Any, np.dtype[Any]] = {int: NUMBER, float: SHARE, tuple[int, int]: PAIR}


class Packer:
    """Turns objects of one class into records, leaving out some paths."""

    def __init__(self, kind: type, leave_out: frozenset[str] = frozenset()) -> None:
        """Take a dataclass and the paths that compiled code never asks for."""
        self.kind, self.leave_out = kind, leave_out
        self.dtype = np.dtype(list(self._columns(kind, "")), align=True)

    def pack(self, found: Any, kept: list[npt.NDArray[Any]]) -> npt.NDArray[Any]:
        """Return one record of an object; what it points to is added to `kept`."""
        record = jit.memory(self.dtype, 1)
        self._fill(record[0], self.kind, found, "", kept)
        return record

    def _columns(self, kind: type, prefix: str) -> typing.Iterator[tuple[str, Any]]:
        for name, hint in _hints(kind).items():
            path = f"{prefix}{name}"
            if path in self.leave_out or hint is str:
                continue
            if _is_section(hint):
                yield f"has_{path}", "?"
                yield from self._columns(hint, f"{path}_")
            elif typing.get_origin(hint) is tuple:
                yield path, "i8"
                yield f"{path}_count", "i8"
            else:
                yield path, "i8" if typing.get_origin(hint) is Literal else _SINGLE[hint]

    def _fill(self, record: Any, kind: type, found: Any, prefix: str, kept: list[npt.NDArray[Any]]) -> None:
        for name, hint in _hints(kind).items():
            path, value = f"{prefix}{name}", getattr(found, name, None)
            if path in self.leave_out or hint is str:
                continue
            if _is_section(hint):
                record[f"has_{path}"] = value is not None
                self._fill(record, hint, value, f"{path}_", kept)
            elif typing.get_origin(hint) is tuple:
                record[path], record[f"{path}_count"] = _entries(hint, value or (), kept)
            else:
                record[path] = _value(hint, value)


@lru_cache(maxsize=64)
def _hints(kind: type) -> dict[str, Any]:
    """Return the types of a dataclass's fields, a type that may be None as the type itself."""
    found = typing.get_type_hints(kind)
    return {part.name: _without_none(found[part.name]) for part in fields(kind)}


def _is_section(hint: Any) -> bool:
    """Return True for a dataclass that stands in a record part by part."""
    return is_dataclass(hint) and hint is not Law


def _without_none(hint: Any) -> Any:
    if typing.get_origin(hint) in (types.UnionType, typing.Union):
        kinds = [part for part in typing.get_args(hint) if part is not type(None)]
        if set(kinds) == {int, Law}:  # a time: a constant law or another
            return Law
        return kinds[0] if len(kinds) == 1 else hint  # one of several is for its owner to leave out
    return hint


def _value(hint: Any, value: Any) -> Any:
    """Return what stands in a record for a value."""
    if hint is Law:
        return law_record(Law("constant", (value,)) if isinstance(value, int) else value)[0]
    if typing.get_origin(hint) is Literal:
        return typing.get_args(hint).index(value) if value is not None else -1
    if value is None:
        return -1 if hint is not bool else False
    return value.toordinal() if isinstance(value, dt.date) else value


@lru_cache(maxsize=64)
def packer_of(kind: type) -> Packer:
    """Return the packer of a dataclass whole."""
    return Packer(kind)


def _entries(hint: Any, values: tuple[Any, ...], kept: list[npt.NDArray[Any]]) -> tuple[int, int]:
    """Return address and number of the entries of a tuple."""
    kind = typing.get_args(hint)[0]
    dtype = packer_of(kind).dtype if _is_section(kind) else entry_dtype(kind)
    array = jit.memory(dtype, len(values))
    for place, value in enumerate(values):
        if _is_section(kind):
            array[place] = packer_of(kind).pack(value, kept)[0]
        else:
            array[place] = value if isinstance(value, tuple) else (_value(kind, value),)
    kept.append(array)
    return jit.address(array), len(values)


def entry_dtype(kind: Any) -> np.dtype[Any]:
    """Return the record type of one entry of a tuple of plain values."""
    return NUMBER if typing.get_origin(kind) is Literal else _ENTRIES[kind]


def code(kind: type, field: str, word: str) -> int:
    """Return what stands in a record for a word that a field of a dataclass may hold."""
    return typing.get_args(_hints(kind)[field]).index(word)


def entry_code(kind: type, field: str, word: str) -> int:
    """Return what stands in a record for a word that an entry of a dataclass's tuple may hold."""
    return typing.get_args(typing.get_args(_hints(kind)[field])[0]).index(word)
