"""The concentrators of a facility: who is on which unit, which have room, how long each has run."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from o2sim.draws import Series
from o2sim.model.patient import Patient
from o2sim.scenario.types.hospital import Concentrators, UnitChoice

UNLIMITED = 1 << 40  # watts
NO_POWER = -1  # watts where nothing carries the units


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
    item: int | str = 0  # by which the draws know it
    watts: int = 0
    lives: tuple[int, ...] = ()  # worked out ahead: of its first life, or of all by one clock that goes on
    lives_over: int = 0  # of a clock that goes on
    life_left_s: int = 0  # of the life in which it was taken out
    fails_s: int = 0  # when, by the calendar

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
        self.units = [Unit(number, rules.rules_of(number), *pair) for number, pair in enumerate(series)]
        for unit, item in zip(self.units, rules.items, strict=True):
            unit.item, unit.watts = item, round(unit.rules.power_w)
        watts = [unit.watts for unit in self.units] or [round(rules.power_w)]
        self.least_w, self.total_w = min(watts), sum(watts)
        self.most_rated_ml_min = max(
            (unit.rules.rated_flow_ml_min for unit in self.units), default=rules.rated_flow_ml_min
        )
        self.surges = any(unit.rules.start_surge_permille is not None for unit in self.units)
        self.limit_w = UNLIMITED  # that units draw at once, by the power there is
        self.peak_w: int | None = None  # for a moment, as one starts

    @property
    def powered(self) -> bool:
        """Return True if some unit can run."""
        return self.limit_w >= self.least_w

    @property
    def running(self) -> int:
        """Return the number of units that serve somebody; each draws its power whatever the flow."""
        return sum(bool(unit.patients) for unit in self.units)

    @property
    def running_w(self) -> int:
        """Return the power that these draw."""
        return sum(unit.watts for unit in self.units if unit.patients)

    def can_start(self, unit: Unit, load_w: int | None = None) -> bool:
        """Return True if there is power for a unit to start beside a load, that of those running unless said."""
        load_w = self.running_w if load_w is None else load_w
        within = self.limit_w >= self.total_w or load_w + unit.watts <= self.limit_w
        return within and self.surge_fits(unit, load_w)

    def surge_fits(self, unit: Unit, load_w: int) -> bool:
        """Return True if what a unit draws as it starts, beside a load, is within the peak of what carries it."""
        surge = unit.rules.start_surge_permille
        return self.peak_w is None or surge is None or load_w * 1_000 + surge * unit.watts <= self.peak_w * 1_000

    def has_power(self, unit: Unit) -> bool:
        """Return True if there is power for a unit: one that runs has it, another if it can start."""
        return bool(unit.patients) or self.can_start(unit)

    def keeps_power(self, unit: Unit) -> bool:
        """Return True if a unit can serve another in place of one: if it stops it has to start again."""
        return len(unit.patients) > 1 or self.can_start(unit, self.running_w - unit.watts)

    def can_carry(self, *, from_the_start: bool) -> bool:
        """Return True if there is power for all that run; from the start: they start again, by number."""
        if self.running_w > self.limit_w:
            return False
        load_w = 0
        for unit in self.units if from_the_start and self.peak_w is not None else ():
            if unit.patients:
                if not self.surge_fits(unit, load_w):
                    return False
                load_w += unit.watts
        return True

    def rated_ml_min(self, ward: int) -> int:
        """Return the most that one unit can give on a ward: one that works there now, or any where none does."""
        here = (unit for unit in self.units if unit.ward == ward and unit.working and not unit.on_the_move)
        return max((unit.rules.rated_flow_ml_min for unit in here), default=self.most_rated_ml_min)

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
        load_w = self.running_w
        fit = (
            unit
            for unit in self.units
            if unit.ward == ward
            and unit.has_room(flow_ml_min)
            and (unit.patients or self.can_start(unit, load_w))
            and unit.number != beside
        )
        if self.first == "lowest number":
            return next((unit.number for unit in fit), None)
        best = max(fit, key=lambda unit: (self.rank(unit, unit.load_ml_min), -unit.number), default=None)
        return None if best is None else best.number

    def rank(self, unit: Unit, load_ml_min: int) -> int:
        """Return what is largest of the unit with room that comes first, where it has such a load."""
        if self.first == "smallest that fits":
            return -unit.rules.rated_flow_ml_min
        return {"lowest number": 0, "least loaded": -1, "most loaded": 1}[self.first] * load_ml_min

    def most_spare(self, ward: int) -> Unit | None:
        """Return the powered, working unit of a ward with the most flow to spare, the lowest number in ties."""
        if not self.powered:
            return None
        load_w = self.running_w
        here = (unit for unit in self.units if unit.ward == ward and unit.spare_ml_min > 0)
        fit = [unit for unit in here if unit.patients or self.can_start(unit, load_w)]
        return max(fit, key=lambda unit: (unit.spare_ml_min, -unit.number), default=None)

    def lacks_power(self, flow_ml_min: int, ward: int) -> bool:
        """Return True if nothing but power keeps a flow from being served on a ward."""
        load_w = self.running_w
        here = (unit for unit in self.units if unit.ward == ward and unit.has_room(flow_ml_min))
        return not self.powered or any(not self.can_start(unit, load_w) for unit in here)
