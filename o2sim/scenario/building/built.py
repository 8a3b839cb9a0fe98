"""Builds the frozen dataclass that declares the keys of a section; raises RefusedError where one is refused.

What follows from one key alone is said by the key (keys/record.py). What keys say together is a rule of their
record: it notes what does not fit, and returns the fields that are worked out.
"""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterable, Mapping
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


Rule = Callable[[Setting, Values], Mapping[str, Any] | None]


def built(setting: Setting, record: type[T], values: Values, **given: Any) -> T:
    """Return a record: given fields, those its rule works out, and all others as their keys say.

    Where one is refused the others are looked at all the same, so that every problem is shown at once.
    """
    known, refused = dict(given), False
    keys = _plan(record)  # type: ignore[arg-type]
    if values.sound:
        for name, other, hint in _needs(record):  # type: ignore[arg-type]
            if values.states(name) and values[name] is not None and values[other] is None:
                values.fault(name, f"{name} without {other}", "both together", hint)
    try:
        if record in setting.rules:
            known |= setting.rules[record](setting, values) or {}
    except RefusedError:
        refused = True
    for name, key, may_be_none in keys:
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
    keys, every = keys_of(record), fields(record)
    return tuple((f.name, keys[f.name], f.default in (None, MISSING)) for f in every if f.name in keys)


@cache
def _needs(record: type) -> tuple[tuple[str, str, str], ...]:
    """Return (key, the key it needs, hint) of the keys that stand only beside others."""
    return tuple((key.field.name, *key.needs) for key in keys_of(record).values() if key.needs)


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
        found = named(setting, key.record, found, name, values)
    elif isinstance(found, Values):
        found = built(setting, key.record, found) if key.record is not None else found.whole
    return key.turned(found) if key.turned else found


def listed(setting: Setting, record: type[T], values: Values, name: str) -> tuple[T, ...]:
    """Return the records of a list of sections, none where it is left out."""
    node, sections = values.node.entries.get(name), values.data.get(name) or []
    return _all_of(setting, record, sections, len(node.items) if isinstance(node, Listing) else len(sections))


def named(
    setting: Setting, record: type[T], sections: Mapping[str, Values], name: str, above: Values, **given: Any
) -> tuple[T, ...]:
    """Return the records of named sections such as wards, all that the file has; above: what holds them."""
    node = above.at(name)
    wanted = len(node.entries) if isinstance(node, MappingNode) else 0
    return _all_of(setting, record, sections.values(), wanted, **given)


def _all_of(
    setting: Setting, record: type[T], sections: Iterable[Values], wanted: int, **given: Any
) -> tuple[T, ...]:
    """Return the records of sections; raise RefusedError where there are fewer than wanted."""
    found = []
    for each in sections:
        with contextlib.suppress(RefusedError):
            found.append(built(setting, record, each, **({"name": each.name} if each.name else {}), **given))
    if len(found) < wanted:
        raise RefusedError
    return tuple(found)
