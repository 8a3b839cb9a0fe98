"""Small hospitals with everything written down: round numbers, and draws fixed by hand."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping
from typing import Any

from o2sim.draws import Draws, PatientTable
from o2sim.model.run import simulate
from o2sim.outcome import Cause, LogEntry, Outcome
from o2sim.scenario.types.hospital import (
    Concentrators,
    Cylinders,
    Hospital,
    Law,
    Manifold,
    PatientClass,
    Resupply,
    Scenario,
    Strategy,
)

MINUTE, HOUR, DAY = 60, 3_600, 86_400
LITRE = 60_000  # in 1/60 mL, so that 1 L/min for a second is 1,000
NEVER = 10**9
START = dt.date(2027, 1, 1)
CYLINDER, UNIT = ("cylinder",), ("concentrator",)
UNIT_FIRST, CYLINDER_FIRST = ("concentrator", "cylinder"), ("cylinder", "concentrator")


class Fixed:
    """A series of draws written down; after the last of them, never."""

    def __init__(self, values: Iterable[int]) -> None:
        self.values = tuple(values)

    def __getitem__(self, ordinal: int) -> int:
        return self.values[ordinal] if ordinal < len(self.values) else NEVER


class FixedDraws(Draws):
    """Draws written down. patients: (arrival_s, duration_s, flow mL/min, class index), the last two optional."""

    def __init__(
        self,
        patients: Iterable[tuple[int, ...]] = (),
        up: Iterable[int] = (),
        down: Iterable[int] = (),
        failures: Mapping[int, Iterable[int]] | None = None,
        repairs: Mapping[int, Iterable[int]] | None = None,
        lead_s: Mapping[tuple[dt.date, int], int] | None = None,
        spells: list[tuple[int, int]] | None = None,
    ) -> None:
        super().__init__(seed=0, replication=0)
        rows = [(arrival, stay, *rest, *(1_000, 0)[len(rest) :]) for arrival, stay, *rest in patients]
        self.rows = sorted(rows, key=lambda row: row[0])
        self.up, self.down = up, down
        self.unit_failures, self.unit_repairs = failures or {}, repairs or {}
        self.lead_s, self.spells = lead_s or {}, spells

    def patients(self, _hospital: Hospital) -> PatientTable:
        """Return the patients written down."""
        arrival, stay, flow, kind = ([row[part] for row in self.rows] for part in range(4))
        return PatientTable(kind, list(range(len(kind))), arrival, flow, stay, list(stay))

    def failures(self, _law: Law, unit: int) -> Any:
        """Return the times to failure written down for a unit."""
        return Fixed(self.unit_failures.get(unit, ()))

    def repairs(self, _law: Law, unit: int) -> Any:
        """Return the repair times written down for a unit."""
        return Fixed(self.unit_repairs.get(unit, ()))

    def grid_up(self, _law: Law) -> Any:
        """Return the up-times written down."""
        return Fixed(self.up)

    def grid_down(self, _law: Law) -> Any:
        """Return the down-times written down."""
        return Fixed(self.down)

    def lead_time_s(self, law: Law, day: dt.date, nth: int) -> int:
        """Return the lead time written down for a day's nth order, else the constant of the law."""
        return self.lead_s.get((day, nth), int(law.parameters[0]))

    def closures(self, hospital: Hospital) -> list[tuple[int, int]]:
        """Return the spells written down, else those of the hospital."""
        return super().closures(hospital) if self.spells is None else self.spells


def constant(value: float) -> Law:
    """Return the law that always gives a value."""
    return Law("constant", (float(value),))


def cylinders(**changes: Any) -> Cylinders:
    """Changes in; cylinders of 60 L out: at 1 L/min residual pressure after 54 min, flow lost after 57 min."""
    standard: dict[str, Any] = {
        "fleet": 4,
        "full_at_start": changes.get("fleet", 4),
        "full_gas": 60 * LITRE,
        "residual_gas": 6 * LITRE,
        "lost_gas": 3 * LITRE,
        "regulators": 10,
        "leak_ml_min": 0,
        "gauge_check_s": 0,
        "change_time_s": 0,
        "filling_pressure_kpa": 16_000.0,
        "residual_pressure_kpa": 1_600.0,
        "flow_lost_below_kpa": 800.0,
        "fill_temperature_c": 15.0,
        "water_capacity_l": None,
    }
    return Cylinders(**standard | changes)


def manifold(**changes: Any) -> Manifold:
    """Changes in; two banks of two cylinders and three outlets out, changed in 30 min as an alarm tells."""
    standard: dict[str, Any] = {
        "bank": 2,
        "outlets": 3,
        "changeover_gas": 6 * LITRE,
        "changeover_pressure_kpa": 1_600.0,
    }
    return Manifold(**standard | changes)


def units(
    count: int = 1, rated: int = 5_000, outlets: int = 4, fails: bool = False, clock: Any = "running"
) -> Any:
    """Return so many concentrators; those that fail take their times from the draws."""
    law = constant(1) if fails else None
    return Concentrators(count, rated, outlets, 350.0, law, clock, law)


def resupply(review_s: int | None, point: int, level: int, lead_s: int, **changes: Any) -> Resupply:
    """Return the rule of a review period, reorder point, order-up-to level and lead time."""
    return Resupply(review_s, point, level, constant(lead_s), **changes)


def kind(name: str = "adults", **changes: Any) -> PatientClass:
    """Return a class of that name whose arrivals come from fixed draws unless a rate is given."""
    return PatientClass(name, **{"admissions_per_day": 0.0, "hypoxaemic": 1.0} | _laws() | changes)


def _laws() -> dict[str, Law]:
    return {"flow_ml_min": constant(1_000), "duration_s": constant(HOUR)}


def hospital(sources: tuple[str, ...] = CYLINDER, **changes: Any) -> Hospital:
    """Return a hospital of one class and one day without a warm-up, with these sources and changes."""
    standard: dict[str, Any] = {
        "strategy": Strategy("s", sources),  # type: ignore[arg-type]
        "start": START,
        "horizon_s": DAY,
        "warm_up_s": 0,
        "tolerated_gap_s": 0,
        "response_time_s": 0,
        "patients": (kind(),),
        "cylinders": cylinders() if {"cylinder", "manifold"} & set(sources) else None,
        "manifold": manifold() if "manifold" in sources else None,
        "concentrators": units() if "concentrator" in sources else None,
    }
    return Hospital(**standard | changes)


def run(rules: Hospital, draws: Draws, log: bool = True) -> Outcome:
    """Return the outcome of a hospital under these draws, with the event log."""
    scenario = Scenario("test", "", "test.yaml", "0" * 16, {"s": rules})
    return simulate(scenario, "s", draws, engine="reference", log=log)


def at(text: str) -> int:
    """Return the seconds of `hh:mm` or `hh:mm:ss`."""
    hours, minutes, seconds = (*(int(part) for part in text.split(":")), 0)[:3]
    return hours * HOUR + minutes * MINUTE + seconds


def line(entry: LogEntry) -> str:
    """Return a log entry as `hh:mm:ss step: item other value`; -1 is left out, a cause is named."""
    hours, rest = divmod(entry.time_s, HOUR)
    clock = f"{hours:02}:{rest // MINUTE:02}:{rest % MINUTE:02}"
    parts = (entry.item, entry.other, entry.value)
    shown = [part.label if isinstance(part, Cause) else str(part) for part in parts if part != -1]
    return f"{clock} {entry.step}: {' '.join(shown)}".removesuffix(": ")


def trace(outcome: Outcome) -> list[str]:
    """Return the log of an outcome as lines."""
    return [line(entry) for entry in outcome.log]


def steps(outcome: Outcome, *names: str) -> list[str]:
    """Return the lines of the log for some steps."""
    return [line(entry) for entry in outcome.log if entry.step in names]


def by_cause(values: tuple[int, ...]) -> dict[Cause, int]:
    """Return the causes that are not zero in a tuple by cause."""
    return {Cause(index): value for index, value in enumerate(values) if value}
