"""What is legal but doubtful in shocks: those that a run never meets, or that have nothing to hit."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Iterator

from o2sim.errors import Problem
from o2sim.scenario.types.hospital import DAY_S, Hospital, Scenario, Shock

_MONTH_DAYS = 28  # of any month, at least


def idle(scenario: Scenario) -> Iterator[Problem]:
    """Yield what shocks do in no strategy, each with its key."""
    hospitals = list(scenario.hospitals.values())
    for shock in hospitals[0].shocks:
        for key, found, hint in _of_shock(shock, hospitals):
            path = f"shocks.{shock.name}{key}"
            line = scenario.lines.get(path, scenario.lines.get(f"shocks.{shock.name}", 0))
            yield Problem(scenario.file, line, path, found, "", hint)


def _of_shock(shock: Shock, hospitals: Collection[Hospital]) -> Iterator[tuple[str, str, str]]:
    """Yield (key below the shock, what was found, what to do)."""
    if not any(_met(shock, each) for each in hospitals):
        yield ".months", "outside the run", "it never comes; check months, start and horizon"
    if shock.rate_per_day == 0:
        yield ".rate", "a rate of 0", "it never comes"
    if not any(each.resupply for each in hospitals):
        for key, law in ((".road", shock.road_s), (".supplier", shock.supplier_s)):
            if law is not None:
                yield key, "no strategy has resupply", "it hits nothing; add resupply, or delete it"
    grids = [each.grid for each in hospitals if each.concentrators is not None]
    if shock.power_s is not None and all(grid is not None and grid.never_on for grid in grids):
        yield ".power", "no strategy has concentrators on a grid", "it cuts nothing; delete it"
    if shock.patients is not None and shock.patients.multiplier == 1:
        yield ".patients", "a multiplier of 1", "it adds nobody"


def _met(shock: Shock, hospital: Hospital) -> bool:
    """Return True if one of the months of a shock lies in a run, in part at least."""
    day, last = (
        hospital.start + dt.timedelta(days=seconds // DAY_S)
        for seconds in (-hospital.warm_up_s, hospital.end_s - hospital.warm_up_s - 1)
    )
    met = {last.month}
    while day < last and len(met) < 12:
        met.add(day.month)
        day += dt.timedelta(days=_MONTH_DAYS)
    return not shock.months or not met.isdisjoint(shock.months)
