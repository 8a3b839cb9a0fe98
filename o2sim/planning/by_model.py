"""Concentrators by model: how many there are of each, what they can do together, and how that is said.

Whoever asks what the units of a hospital give, take or cost asks here or `Concentrators.groups`: the fields of the
record itself are those of its first unit.
"""

from __future__ import annotations

from dataclasses import dataclass

from o2sim.scenario.types.hospital import Concentrators
from o2sim.scenario.types.units import UnitGroup


@dataclass(frozen=True)
class OfModel:
    """All units of one model, whichever rows list them; name: "" where there are no models.

    rules: all that holds for it, but for their count, which is that of one row.
    """

    name: str
    rules: Concentrators
    rows: tuple[UnitGroup, ...]

    @property
    def count(self) -> int:
        """Return how many units there are of it."""
        return sum(row.count for row in self.rows)

    @property
    def numbers(self) -> tuple[int, ...]:
        """Return the numbers of its units."""
        return tuple(number for row in self.rows for number in row.numbers)

    @property
    def said(self) -> str:
        """Return how many there are, by name: `3 five`; `3` without models."""
        return f"{self.count} {self.name}".strip()


def models_of(units: Concentrators | None) -> tuple[OfModel, ...]:
    """Return the units by model, in the order of their first unit; one entry without models, none without any."""
    found: dict[str, list[UnitGroup]] = {}
    for row in units.groups if units is not None else ():
        found.setdefault(row.model, []).append(row)
    return tuple(OfModel(name, rows[0].rules, tuple(rows)) for name, rows in found.items())


def are_named(units: Concentrators | None) -> bool:
    """Return True where units are of models by name."""
    return any(model.name for model in models_of(units))


def outlets_of(units: Concentrators | None) -> int:
    """Return the outlets of all units."""
    return sum(model.count * model.rules.outlets for model in models_of(units))


def working_at_count(units: Concentrators, counted: int | None) -> tuple[int, ...]:
    """Return the numbers of the units that work at a count; None: nobody has looked, so those that the file says.

    Counted ones are the first, as in a run from the count.
    """
    if counted is not None:
        return tuple(range(min(counted, units.count)))
    return tuple(number for row in units.groups for number in row.numbers[: row.working])


def highest_load_w(units: Concentrators | None, running: int) -> float:
    """Return the watts that so many units take at most: those that take the most of all."""
    watts = sorted((model.rules.power_w for model in models_of(units) for _ in range(model.count)), reverse=True)
    return running * watts[0] if len(set(watts)) == 1 else sum(watts[:running])
