"""The concentrators of a facility: who is on which unit, which have room, how long each has run."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from o2sim.draws import Series
from o2sim.model.patient import Patient
from o2sim.scenario.types import Concentrators, UnitChoice


@dataclass(slots=True, eq=False)
class Unit:
    """One concentrator; remaining_s is what its running clock has left to the next failure."""

    number: int
    rules: Concentrators
    failures: Series | None
    repairs: Series | None
    working: bool = True
    patients: list[Patient] = field(default_factory=list)
    load_ml_min: int = 0
    failed: int = 0  # failures so far: the ordinal of the next one
    remaining_s: int = 0
    running_since_s: int | None = None
    fail_event: Any = None

    def has_room(self, flow_ml_min: int) -> bool:
        """Return True if the unit works and has an outlet and the flow to spare."""
        return (
            self.working
            and len(self.patients) < self.rules.outlets
            and self.load_ml_min + flow_ml_min <= self.rules.rated_flow_ml_min
        )

    def connect(self, patient: Patient) -> None:
        """Put a patient on the unit."""
        self.patients.append(patient)
        self.load_ml_min += patient.flow_ml_min

    def disconnect(self, patient: Patient) -> None:
        """Take a patient off the unit."""
        self.patients.remove(patient)
        self.load_ml_min -= patient.flow_ml_min

    def cut(self) -> list[Patient]:
        """Take everybody off a unit that lost power or failed; return them by number."""
        lost = sorted(self.patients, key=lambda patient: patient.number)
        self.patients, self.load_ml_min = [], 0
        return lost


class ConcentratorBank:
    """All units and whether there is power."""

    def __init__(
        self, rules: Concentrators, series: list[tuple[Series | None, Series | None]], first: UnitChoice
    ) -> None:
        """Take the rules, the failure and repair draws of each unit, and which unit with room comes first."""
        self.rules = rules
        self.first = first
        self.units = [Unit(number, rules, *pair) for number, pair in enumerate(series)]
        self.powered = True

    @property
    def any_working(self) -> bool:
        """Return True if some unit is not under repair."""
        return any(unit.working for unit in self.units)

    def unit_with_room(self, flow_ml_min: int) -> int | None:
        """Return the powered, working unit with room for a flow that comes first, None if there is none."""
        if not self.powered:
            return None
        fit = (unit for unit in self.units if unit.has_room(flow_ml_min))
        if self.first == "lowest number":
            return next((unit.number for unit in fit), None)
        sign = 1 if self.first == "most loaded" else -1
        best = max(fit, key=lambda unit: (sign * unit.load_ml_min, -unit.number), default=None)
        return None if best is None else best.number
