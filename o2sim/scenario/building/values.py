"""What the reader makes of a section: values by key, each with its place in the file."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from o2sim.scenario.keys.field import Field
from o2sim.scenario.text.nodes import Mapping, Node
from o2sim.scenario.text.problems import RefusedError


@dataclass(frozen=True)
class Values:
    """What a section says: valid values by key, the defaults filled in; a key that was refused is missing."""

    node: Mapping
    data: dict[str, Any] = field(default_factory=dict)
    fields: Sequence[Field] = ()  # what was read
    name: str = ""  # that the author gave to the section

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

    def need_all(self) -> None:
        """Raise RefusedError where a key was refused."""
        if any(item.name not in self.data for item in self.fields):
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


@dataclass(frozen=True)
class Money:
    """A price as read, with its place, so that its currency can be checked once that is known."""

    node: Node | None
    amount: float
    currency: str
