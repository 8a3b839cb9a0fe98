"""The concentrators of a facility: who is on which unit, which have room, how long each has run."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from o2sim.draws import Series
from o2sim.model.patient import Patient
from o2sim.scenario.types.hospital import Concentrators, UnitChoice

UNLIMITED = 1 << 40  # units or watts


@dataclass(slots=True, eq=False)
class Unit:
    """One concentrator; timers are the clocks that go while it runs, by their item (see rules)."""

    number: int
    rules: Concentrators
    failures: Series | None
    repairs: Series | None
    drifts: Series | None = None
    working: bool = True
    ward: int = 0  # where it stands, or is moved to
    on_the_move: bool = False  # to another ward
    patients: list[Patient] = field(default_factory=list)
    load_ml_min: int = 0
    expected: list[Patient] = field(default_factory=list)  # whom staff are connecting
    expected_ml_min: int = 0
    failed: int = 0  # failures so far: the ordinal of the next one
    renewed: int = 0  # times new, repaired or serviced so far: the ordinal of the next drift
    running_since_s: int | None = None
    drifted: bool = False  # below 82 % oxygen
    low: bool = False  # drifted, or still starting up
    timers: dict[int, Any] = field(default_factory=dict)
    fail_event: Any = None  # on the calendar clock
    start_event: Any = None  # pending while it starts up
    check_event: Any = None
    service_event: Any = None

    def has_room(self, flow_ml_min: int) -> bool:
        """Return True if the unit works and has an outlet and the flow to spare."""
        return (
            self.working
            and not self.on_the_move
            and len(self.patients) + len(self.expected) < self.rules.outlets
            and self.load_ml_min + self.expected_ml_min + flow_ml_min <= self.rules.rated_flow_ml_min
        )

    @property
    def spare_ml_min(self) -> int:
        """Return the flow that one more patient could have."""
        has_outlet = len(self.patients) + len(self.expected) < self.rules.outlets
        if not has_outlet or not self.working or self.on_the_move:
            return 0
        return self.rules.rated_flow_ml_min - self.load_ml_min - self.expected_ml_min

    def connect(self, patient: Patient, flow_ml_min: int) -> None:
        """Put a patient on the unit, for a flow."""
        self.patients.append(patient)
        self.load_ml_min += flow_ml_min

    def disconnect(self, patient: Patient, flow_ml_min: int) -> None:
        """Take a patient off the unit, who had a flow."""
        self.patients.remove(patient)
        self.load_ml_min -= flow_ml_min

    def cut(self) -> list[Patient]:
        """Take everybody off a unit that lost power or failed; return them by number."""
        lost = sorted(self.patients, key=lambda patient: patient.number)
        self.patients, self.load_ml_min = [], 0
        return lost


class ConcentratorBank:
    """All units and whether there is power."""

    def __init__(
        self,
        rules: Concentrators,
        series: list[tuple[Series | None, Series | None, Series | None]],
        first: UnitChoice,
    ) -> None:
        """Take the rules, each unit's failure, repair and drift draws, and which unit with room comes first."""
        self.rules = rules
        self.first = first
        self.units = [Unit(number, rules, *pair) for number, pair in enumerate(series)]
        self.most_running = UNLIMITED  # at once, by the power there is

    @property
    def powered(self) -> bool:
        """Return True if some unit can run."""
        return self.most_running > 0

    @property
    def running(self) -> int:
        """Return the number of units that serve somebody; each draws its power whatever the flow."""
        return sum(bool(unit.patients) for unit in self.units)

    @property
    def can_start(self) -> bool:
        """Return True if there is power for one more running unit."""
        return self.most_running >= len(self.units) > 0 or self.running < self.most_running

    def has_power(self, unit: Unit) -> bool:
        """Return True if there is power for a unit: one that runs has it, another if one more can be carried."""
        return bool(unit.patients) or self.can_start

    def all_down(self, ward: int) -> bool:
        """Return True if a ward has units and all of them are under repair."""
        here = [unit for unit in self.units if unit.ward == ward and not unit.on_the_move]
        return bool(here) and not any(unit.working for unit in here)

    def unit_with_room(self, flow_ml_min: int, ward: int, beside: int | None = None) -> int | None:
        """Return the powered, working unit of a ward with room for a flow that comes first, None if none has.

        beside: a unit left out, for it gives the rest of the flow already.
        """
        if not self.powered:
            return None
        can_start = self.can_start
        fit = (
            unit
            for unit in self.units
            if unit.ward == ward
            and unit.has_room(flow_ml_min)
            and (can_start or unit.patients)
            and unit.number != beside
        )
        if self.first == "lowest number":
            return next((unit.number for unit in fit), None)
        sign = 1 if self.first == "most loaded" else -1
        best = max(fit, key=lambda unit: (sign * unit.load_ml_min, -unit.number), default=None)
        return None if best is None else best.number

    def most_spare(self, ward: int) -> Unit | None:
        """Return the powered, working unit of a ward with the most flow to spare, the lowest number in ties."""
        if not self.powered:
            return None
        can_start = self.can_start
        here = (unit for unit in self.units if unit.ward == ward)
        fit = [unit for unit in here if unit.spare_ml_min > 0 and (can_start or unit.patients)]
        return max(fit, key=lambda unit: (unit.spare_ml_min, -unit.number), default=None)

    def lacks_power(self, flow_ml_min: int, ward: int) -> bool:
        """Return True if nothing but power keeps a flow from being served on a ward."""
        here = (unit for unit in self.units if unit.ward == ward)
        return not self.powered or (not self.can_start and any(unit.has_room(flow_ml_min) for unit in here))
