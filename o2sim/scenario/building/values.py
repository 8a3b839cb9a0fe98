"""The values of a section by key, each with its place in the file; how a number with a unit is read."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from o2sim.errors import QuantityError
from o2sim.quantities import units
from o2sim.scenario.building.refused import likely, with_unit
from o2sim.scenario.keys.field import Field
from o2sim.scenario.text.nodes import Mapping, Node, Scalar, describe
from o2sim.scenario.text.problems import Problems, RefusedError, listing

# The message of units: `found ...; allowed: a flow such as 0.5 L/min (units: ...) (hint)`.
_MESSAGE = re.compile(
    r"(?P<found>.*?)(?:; allowed: (?P<allowed>[^()]*(?:\(units: [^()]*\))?)(?: \((?P<hint>.*)\))?)?", re.DOTALL
)


@dataclass(frozen=True)
class Values:
    """What a section says: valid values by key, the defaults filled in; a key that was refused is missing.

    fields: what was read; name: what the author calls the section; faults: keys that do not go together.
    """

    node: Mapping
    problems: Problems
    fields: Sequence[Field]
    data: dict[str, Any] = field(default_factory=dict)
    name: str = ""
    faults: list[RefusedError] = field(default_factory=list)

    def __getitem__(self, name: str) -> Any:
        """Return a valid value."""
        return self.data[name]

    def get(self, name: str) -> Any:
        """Return a valid value, None for a key that was not asked for; raise RefusedError for one refused."""
        if name not in self.data and any(item.name == name for item in self.fields):
            raise RefusedError
        return self.data.get(name)

    def has(self, *names: str) -> bool:
        """Return True if all these keys are valid (or left out and optional)."""
        return all(name in self.data for name in names)

    @property
    def sound(self) -> bool:
        """Return True if no key was refused, by itself or beside others."""
        return not self.faults and all(item.name in self.data for item in self.fields)

    def need_all(self) -> None:
        """Raise RefusedError where a key was refused."""
        if not self.sound:
            raise RefusedError

    @property
    def whole(self) -> dict[str, Any]:
        """Return all values by key; raise RefusedError where one was refused."""
        self.need_all()
        return self.data

    def states(self, name: str) -> bool:
        """Return True if the file itself says something at this key."""
        return name in self.node.entries

    def at(self, *names: str) -> Node:
        """Return the node to point at for these keys: one a strategy changed before one of the scenario."""
        stated = [self.node.entries[name] for name in names if name in self.node.entries]
        changed = [node for node in stated if node.path.startswith(("strategies.", "options."))]
        return (changed or stated or [self.node])[0]

    def fault(self, names: str, found: str, allowed: str = "", hint: str = "") -> RefusedError:
        """Note that keys (names with blanks between; none: the section) do not fit; return what may be raised."""
        self.faults.append(self.problems.add(self.at(*names.split()), f"found {found}", allowed, hint))
        return self.faults[-1]


@dataclass(frozen=True)
class Money:
    """A price as read, with its place, so that its currency can be checked once that is known."""

    node: Node | None
    amount: float
    currency: str


def split_message(error: QuantityError) -> tuple[str, str, str]:
    """Return what was found, what is allowed and the hint of an error of units."""
    match = _MESSAGE.fullmatch(str(error))
    assert match is not None  # `.*?` alone matches any text
    return match["found"], match["allowed"] or "", match["hint"] or ""


def within(kind: units.Kind, least: str, most: str) -> str:
    """Return `a duration from 1 min to 100 years` ; an empty text is no limit."""
    article = "an" if kind == "energy" else "a"
    noun = "plain number" if kind == "number" else kind
    if least and most:
        return f"{article} {noun} from {least} to {most}"
    return f"{article} {noun} of at least {least}" if least else f"{article} {noun} of at most {most}"


def read_quantity(
    problems: Problems, node: Node, kind: units.Kind, least: str = "", most: str = "", words: Sequence[str] = ()
) -> float:
    """Return the value of a scalar in the internal unit of its kind (see units.read), not rounded.

    words are what else may stand there, for the message. Raises RefusedError.
    """
    others = f", or {listing(words)}" if words else ""
    if not isinstance(node, Scalar):
        raise problems.add(node, f"found {describe(node)}", units.allowed(kind) + others)
    try:
        value = units.read(node.text, kind)
    except QuantityError as error:
        found, allowed, hint = split_message(error)
        hint = with_unit(node.path, node.text, kind) or hint if found.endswith("a unit is missing") else hint
        raise problems.add(node, found, allowed + others, hint) from None
    too_low = least != "" and value < units.read(least, kind)
    if node.refused or too_low or (most != "" and value > units.read(most, kind)):
        reason = "too low" if too_low else "too high"
        hint = likely(node.path, node.text, kind)
        raise problems.add(node, f"found {describe(node)}: {reason}", within(kind, least, most) + others, hint)
    return value
