"""How fields of a frozen dataclass say what keys they are in a scenario file, and the table of keys made of it.

    @dataclass(frozen=True)
    class Battery:
        usable_ws: int = key("energy", "what it gives from full to empty", required=True, turned=watt_seconds)

says in one place the key (`usable`: the name of the field without its unit), its kind, limits, default and help,
and how the value as read is turned into the field. A key of the file that is no field by itself stands among the
fields as a class variable; so the order of the class is that of the file. A class variable that holds a record has
that record's keys in its place: what several sections say alike is declared once.
"""

from __future__ import annotations

import dataclasses
import inspect
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any, get_args

from o2sim.quantities import units
from o2sim.scenario.keys.field import CONVENTION, HIGHEST_COUNT, MOST, Field, FieldKind, Section

UNITS = ("_ml_min", "_ml_h", "_kpa", "_cents", "_s", "_w", "_c", "_l", "_m", "_ml")  # left off the name of a field
NEEDED = dataclasses.MISSING  # no default in the code: counted in the hash of a scenario whatever its value
FOLLOWS = object()  # the default in the code is that of the file, else None
_KEY = "key"


@dataclass(frozen=True)
class Key:
    """How a field stands in a file.

    within: the section of the file that holds the key, where that is no record of its own. turned makes the field
    of the value as read. like: the key whose value is taken where this one is left out. record: what a section
    is built as. needs: the key without which this one means nothing, and a hint.
    """

    field: Field
    within: str = ""
    turned: Callable[[Any], Any] | None = None
    like: str = ""
    record: type | None = None
    needs: tuple[str, str] | None = None


def key(
    kind: FieldKind,
    help_: str,
    default: str | None = None,
    mark: str | None = None,
    *,
    name: str = "",
    most: str = "",
    words: str | Sequence[str] | Mapping[str, object] = "",
    value: Any = FOLLOWS,
    of: type | Section | None = None,
    only: tuple[str, ...] = (),
    defaults: Mapping[str, tuple[str, str]] | None = None,
    within: str = "",
    turned: Callable[[Any], Any] | None = None,
    like: str = "",
    needs: str = "",
    needs_hint: str = "",
    kw_only: Any = dataclasses.MISSING,
    unhashed: bool = False,
    **more: Any,
) -> Any:
    """Return a field of a record that is a key of the file; value is its default in the code, more as in Field.

    words: texts with a meaning of their own, and what they stand for: one alone for None, several for themselves.
    mark: where the default of the file comes from, a convention unless said. of: the record of a section, or its
    table; only: those of its keys that this section has; defaults: (default, mark) in place of the record's own.
    """
    section = of if isinstance(of, Section) or of is None else section_of(of)
    if section is not None and only:
        section = Section(tuple(each for each in section.fields if each.name in only))
    if section is not None and defaults:
        section = Section(
            tuple(_with_default(each, *defaults.get(each.name, ("", ""))) for each in section.fields)
        )
    if like:
        more.setdefault("otherwise", like)
    more["most"] = most or MOST.get(kind, "")
    if mark is None:
        mark = "" if default is None else CONVENTION
    field = Field(name, kind, help_, default, mark, section=section, words=_words(words), **more)
    if value is FOLLOWS:
        value = NEEDED if field.required else _default(field, turned)
        assert default is None or not kind.startswith("law")  # of which the code must say what it is
    how = Key(
        field, within, turned, like, of if isinstance(of, type) else None, (needs, needs_hint) if needs else None
    )
    return dataclasses.field(
        default=value, kw_only=kw_only, hash=False if unhashed else None, metadata={_KEY: how}
    )


def _with_default(field: Field, default: str, mark: str) -> Field:
    return dataclasses.replace(field, default=default, mark=mark) if default else field


def _words(words: str | Sequence[str] | Mapping[str, object]) -> tuple[tuple[str, object], ...]:
    if isinstance(words, str):
        return ((words, None),) if words else ()
    return tuple(words.items()) if isinstance(words, Mapping) else tuple((word, word) for word in words)


def time_key(
    help_: str, default: str | None = None, mark: str | None = None, least: str = "0 s", **more: Any
) -> Any:
    """Return a key that is a time."""
    return key("duration", help_, default, mark, least=least, **more)


def whole_key(
    help_: str, default: str | None = None, least: int = 0, most: int = HIGHEST_COUNT, **more: Any
) -> Any:
    """Return a key that is a whole number between limits."""
    return key("whole", help_, default, least=str(least), most=str(most), **more)


def lasting(help_: str, default: str | None = None, least: str = "1 min", **more: Any) -> Any:
    """Return a key that is a law of times."""
    return key("law of duration", help_, default, least=least, **more)


def part(of: type | Section, help_: str, otherwise: str = "", **more: Any) -> Any:
    """Return a key that is a section of its own, built as a record."""
    return key("section", help_, of=of, otherwise=otherwise, **more)


def part_or_none(of: type, help_: str, otherwise: str, **more: Any) -> Any:
    """Return a key that is a section of its own, which a strategy may take away."""
    return part(of, help_, otherwise, words="none", **more)


def several(of: type, help_: str, otherwise: str, **more: Any) -> Any:
    """Return a key that is a list of sections, each built as a record."""
    return key("list of sections", help_, of=of, otherwise=otherwise, value=(), **more)


def of_file(declared: Any) -> Key:
    """Return a key of the file that is no field by itself: it feeds several, or what it says is worked out."""
    found: Key = declared.metadata[_KEY]
    return found


def worked_out(**more: Any) -> Any:
    """Return a field that is no key of the file, but follows from several."""
    return dataclasses.field(**more)


def permille(share: float) -> int:
    """Return a share in whole thousandths."""
    return round(share * 1_000)


@cache
def keys_of(record: type) -> dict[str, Key]:
    """Return the keys of a record by the names of its fields and class variables, in the order of the class.

    Those of a record that it extends come first.
    """
    fields = {each.name: each.metadata.get(_KEY) for each in dataclasses.fields(record)}
    found: dict[str, Key] = {}
    names = [name for each in reversed(record.__mro__) for name in inspect.get_annotations(each)]
    for name in dict.fromkeys(names):
        how = fields[name] if name in fields else getattr(record, name, None)
        if isinstance(how, type) and dataclasses.is_dataclass(how):
            found |= keys_of(how)
        elif isinstance(how, Key):
            unit = next((unit for unit in UNITS if name.endswith(unit)), "")
            plain = how.field.name or name.removesuffix(unit)
            found[name] = dataclasses.replace(how, field=dataclasses.replace(how.field, name=plain))
    return found


@cache
def section_of(record: type) -> Section:
    """Return the table of a record's keys in the order of the class, those within a section in that section."""
    held: dict[str, list[Field]] = {}
    for how in keys_of(record).values():
        held.setdefault(how.within, []).append(how.field)
    fields = []
    for field in held.pop("", []):
        inside = held.pop(field.name, [])
        own = field.section.fields if field.section else ()
        fields.append(dataclasses.replace(field, section=Section((*own, *inside))) if inside else field)
    assert not held  # each section that holds keys is a key itself
    return Section(tuple(fields), getattr(record, "instead", ()))


def _default(field: Field, turned: Callable[[Any], Any] | None) -> Any:
    """Return the default of the file as the field holds it, None without one."""
    if field.default is None:
        return None
    words = dict(field.words)
    found = words[field.default] if field.default in words else _read(field.kind, field.default)
    return turned(found) if turned and found is not None else found


def _read(kind: FieldKind, text: str) -> Any:
    if kind == "whole":
        return int(text)
    if kind == "true or false":
        return text == "true"
    if kind.startswith("money"):
        return float(text)
    if kind == "clock":
        return (int(text[:2]) * 60 + int(text[3:])) * 60
    if kind in ("duration", "flow"):
        return round(units.read(text, kind))
    return units.read(text, kind) if kind in get_args(units.Kind) else text  # type: ignore[arg-type]
