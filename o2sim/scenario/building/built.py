"""The values of a section in, the frozen dataclass that declares its keys out; RefusedError where one is refused.

What follows from one key alone is said by the key (keys/record.py). What keys say together is a rule of their
record: it notes what does not fit, and returns the fields that are worked out.
"""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Mapping
from dataclasses import MISSING, dataclass, field, fields
from functools import cache
from typing import Any, TypeVar

from o2sim.scenario.building.reader import Reader
from o2sim.scenario.building.values import Money, Values
from o2sim.scenario.keys.record import Key, keys_of
from o2sim.scenario.text.nodes import Listing
from o2sim.scenario.text.nodes import Mapping as MappingNode
from o2sim.scenario.text.problems import Problems, RefusedError
from o2sim.scenario.types.hospital import General

T = TypeVar("T")


@dataclass(frozen=True)
class Setting:
    """What the rules of a section may need beside its own values.

    hospital: the values of all sections; parts: those built so far, by their names in a Hospital.
    """

    reader: Reader
    general: General
    rules: Mapping[type, Rule]
    hospital: Values
    parts: dict[str, Any] = field(default_factory=dict)

    @property
    def problems(self) -> Problems:
        """Return where problems are noted."""
        return self.reader.problems


Rule = Callable[[Setting, Values], Mapping[str, Any]]


def built(setting: Setting, record: type[T], values: Values, **given: Any) -> T:
    """Return a record: given fields, those its rule works out, and all others as their keys say.

    Where one is refused the others are looked at all the same, so as to tell every problem at once.
    """
    known, refused = dict(given), False
    rule = setting.rules.get(record)
    try:
        known |= rule(setting, values) if rule is not None else {}
    except RefusedError:
        refused = True
    for name, key, may_be_none in _plan(record):  # type: ignore[arg-type]
        if name in known:
            continue
        try:
            found = made(setting, key, values)
        except RefusedError:
            refused = True
            continue
        if found is not None or may_be_none:
            known[name] = found
    if refused:
        raise RefusedError
    values.need_all()
    return record(**known)


@cache
def _plan(record: type) -> tuple[tuple[str, Key, bool], ...]:
    """Return (name, key, whether it may be None) of the fields that are keys; None elsewhere is the default."""
    keys = keys_of(record)
    every = fields(record)
    return tuple(
        (each.name, keys[each.name], each.default in (None, MISSING)) for each in every if each.name in keys
    )


def made(setting: Setting, key: Key, values: Values) -> Any:
    """Return what a field holds by its key, None where the file leaves it out."""
    name = key.field.name
    found: Any = values
    for step in (key.within, name):
        if step and found is not None:
            found = found.get(step)
    if found is None and key.like:
        found = values.get(key.like)
    if found is None:
        return None
    if isinstance(found, Money):
        found = found.amount
    elif key.record is not None and key.field.kind == "list of sections":
        found = listed(setting, key.record, values, name)
    elif key.record is not None and key.field.kind == "named sections":
        found = named(setting, key.record, found, name)
    elif isinstance(found, Values):
        found = built(setting, key.record, found) if key.record is not None else found.whole
    return key.turned(found) if key.turned else found


def listed(setting: Setting, record: type[T], values: Values, name: str) -> tuple[T, ...]:
    """Return the records of a list of sections, none where it is left out."""
    node, found = values.node.entries.get(name), []
    sections = values.data.get(name) or []
    for each in sections:
        with contextlib.suppress(RefusedError):
            found.append(built(setting, record, each))
    if len(found) < (len(node.items) if isinstance(node, Listing) else len(sections)):
        raise RefusedError
    return tuple(found)


def named(
    setting: Setting, record: type[T], sections: Mapping[str, Values], name: str, **given: Any
) -> tuple[T, ...]:
    """Return the records of named sections such as wards, all of those that the file has."""
    node, found = setting.hospital.at(name), []
    for values in sections.values():
        with contextlib.suppress(RefusedError):
            found.append(built(setting, record, values, name=values.name, **given))
    if len(found) < (len(node.entries) if isinstance(node, MappingNode) else 0):
        raise RefusedError
    return tuple(found)
