"""Which sheets of the workbook say something of a key of a scenario: what to record where it is not known."""

from __future__ import annotations

from collections.abc import Iterable

PATIENTS, THOUGHT = "patients", "What we think"
OF_PATIENTS = {
    "admissions": ("Patients on oxygen", "All admissions", "Month totals"),
    "hypoxaemic": ("Patients on oxygen", "All admissions"),
    "recognised": ("Patients on oxygen", "All admissions"),
    "given_without_need": ("Patients on oxygen", "All admissions"),
    "season": ("Patients on oxygen", "Month totals"),
    "overdispersion": ("Patients on oxygen", "Month totals"),
    "weekday": ("Patients on oxygen",),
    "flow": ("Patients on oxygen", "Month totals"),
    "duration": ("Patients on oxygen", "Month totals", "Counts at midnight"),
}
CUTS = ("Power cuts", "Power hours", "Voltage")
OF_OTHERS = {
    "power.grid": CUTS,
    "power.load_shedding": CUTS,
    "resupply.lead_time": ("Orders",),
    "resupply.part_delivery": ("Orders",),
    "resupply.road_closures": ("Road shut",),
    "cylinders.fleet": ("Stock card",),
    "concentrators.count": ("Units",),
    "concentrators.failure": ("Units", "Job cards"),
    "concentrators.failure_clock": ("Units", "Job cards"),
    "concentrators.repair": ("Units", "Job cards"),
    "concentrators.never_repaired": ("Units", "Job cards"),
}


def sheets_for(key: str) -> tuple[str, ...]:
    """Return the sheets that may give a key, by its dotted path, the best first; what no book has is thought."""
    parts = key.split(".")
    if parts[0] == PATIENTS:  # the name of a class may have dots
        return next((sheets for name, sheets in OF_PATIENTS.items() if name in parts[2:]), (THOUGHT,))
    found = (sheets for start, sheets in OF_OTHERS.items() if f"{key}.".startswith(f"{start}."))
    return next(found, (THOUGHT,))


def to_fill(keys: Iterable[str]) -> dict[str, tuple[str, ...]]:
    """Return for each sheet, the best one of each key, the keys that it is for."""
    found: dict[str, list[str]] = {}
    for key in keys:
        found.setdefault(sheets_for(key)[0], []).append(key)
    return {sheet: tuple(of) for sheet, of in found.items()}
