"""What is legal but doubtful in a loaded scenario, each with its place and what to do."""

from __future__ import annotations

from collections.abc import Iterator

from o2sim.errors import Problem
from o2sim.scenario.checks import (
    demand,
    devices,
    hands,
    of_count,
    of_records,
    of_shocks,
    owned,
    places,
    purse,
    sizes,
    stock,
    units,
)
from o2sim.scenario.checks.doubt import Doubt
from o2sim.scenario.checks.part_used import part_used
from o2sim.scenario.checks.slips import slips
from o2sim.scenario.types.hospital import Hospital, Scenario

STRATEGIES = 3  # cylinders only, concentrators only, mixed
_OF_GENERATORS = (  # key, what is taken where it is not stated, what to do; the sources: keys/sources.py
    (
        "start_chance",
        "it always starts",
        "write the share: maintained sets of power stations and fleets had 94 to 98 %, no hospital's are known",
    ),
    (
        "running_failure",
        "it never fails while it runs",
        "write a law, such as {exponential: {mean: 69 h}} for a set ill kept, 1506 h for one well kept, or never",
    ),
)
ASKED_FOR = ("recognised", *(key for key, _, _ in _OF_GENERATORS))


def warnings(scenario: Scenario) -> list[Problem]:
    """Return what is legal but doubtful in a scenario; line is 0 where a default is meant.

    The same doubt of several strategies is said once, naming them.
    """
    stated: dict[Doubt, list[str]] = {}
    for name, hospital in scenario.hospitals.items():
        for doubt in _doubts(hospital):
            stated.setdefault(doubt, []).append(name)
    problems = [_problem(scenario, doubt, names) for doubt, names in stated.items()]
    looks = (
        _asked_for,
        _whole_file,
        _idle_monitor,
        _idle_backups,
        sizes.idle,
        owned.idle,
        units.models_of_no_unit,
        of_count.idle_warm_up,
        of_shocks.idle,
    )
    return [*slips(scenario), *problems] + [problem for look in looks for problem in look(scenario)]


def _problem(scenario: Scenario, doubt: Doubt, names: list[str]) -> Problem:
    """Return a doubt with its place: the key in a strategy's changes, else in the scenario, else its section."""
    field, found, hint = doubt
    paths = [f"strategies.{name}.{field}" for name in names] + [field, field.rpartition(".")[0]]
    path = next((path for path in paths if path and path in scenario.lines), "")
    shown = path if path.endswith(field) else field
    if len(names) < len(scenario.hospitals):
        found = f"{found} (in {', '.join(names)})"
    return Problem(scenario.file, scenario.lines.get(path, 0), shown, found, "", hint)


def _asked_for(scenario: Scenario) -> Iterator[Problem]:
    """Yield what has a default that nobody should rely on, where the file does not state it."""
    stated = [path.split(".") for path in scenario.lines]
    hospitals = list(scenario.hospitals.values())
    silent = [
        kind.name
        for kind in hospitals[0].patients
        if kind.recorded is None and not any(path[-2:] == [kind.name, "recognised"] for path in stated)
    ]
    if silent:
        found = f"not stated ({', '.join(silent)}): 100 % is taken, everyone in need is found"
        hint = "write the share; where nobody has counted, for example {low: 50 %, likely: 75 %, high: 95 %}"
        yield Problem(scenario.file, scenario.lines.get("patients", 0), "patients.*.recognised", found, "", hint)
    if not any(each.power is not None and each.power.generator is not None for each in hospitals):
        return
    line = scenario.lines.get("power.generator", 0)
    for key, taken, hint in _OF_GENERATORS:
        if not any(path[-2:] == ["generator", key] for path in stated):
            found = f"not stated: {taken}"
            yield Problem(scenario.file, line, f"power.generator.{key}", found, "", hint)


def _whole_file(scenario: Scenario) -> Iterator[Problem]:
    if len(scenario.hospitals) < STRATEGIES:
        sources = {hospital.strategy.sources for hospital in scenario.hospitals.values()}
        named = {("cylinder",): "cylinders only", ("concentrator",): "concentrators only"}
        missing = [name for key, name in named.items() if key not in sources]
        if not any(len(key) == 2 for key in sources):
            missing.append("both together")
        found = f"found {len(scenario.hospitals)} of the usual {STRATEGIES} strategies"
        hint = f"not compared: {', '.join(missing)}" if missing else "add another to compare"
        yield Problem(scenario.file, scenario.lines.get("strategies", 0), "strategies", found, "", hint)


def _idle_backups(scenario: Scenario) -> Iterator[Problem]:
    """Back-ups are for patients on concentrators."""
    line = scenario.lines.get("cylinders.backup", 0)
    if line and not any(hospital.has_backups for hospital in scenario.hospitals.values()):
        found, hint = "back-ups, but no strategy with concentrators has any", "delete it, or add concentrators"
        yield Problem(scenario.file, line, "cylinders.backup", found, "", hint)


def _idle_monitor(scenario: Scenario) -> Iterator[Problem]:
    """A monitor without drift never alarms: said where the file itself asks for one."""
    line = scenario.lines.get("concentrators.oxygen_monitor", 0)
    banks = [hospital.concentrators for hospital in scenario.hospitals.values() if hospital.concentrators]
    if line and banks and all(group.rules.drift_s is None for each in banks for group in each.groups):
        hint = "write drift, the running time to low concentration, or leave the monitor out"
        found = "a monitor, but no drift: it never alarms"
        yield Problem(scenario.file, line, "concentrators.oxygen_monitor", found, "", hint)


_OF_ALL = (
    demand.admissions,
    of_records.of_registers,
    hands.tolerance,
    hands.idle_night,
    demand.flows,
    demand.supply_below_need,
    of_records.of_cuts,
    of_count.more_than_outlets,
    of_count.longer_than_its_law,
    places.weak_power,
    units.older_than_its_law,
    units.starts,
    places.unreached_wards,
    places.bedside,
    devices.devices_and_flows,
    devices.sizes_without_newborns,
    purse.money,
)
_OF_STOCK = (
    stock.cylinder_levels,
    hands.gauge_check,
    hands.timed_changes,
    hands.who_notices,
    stock.ordering,
    stock.banks,
    stock.backups,
    sizes.valves,
    sizes.lorries,
    sizes.on_the_way,
    part_used,
    of_count.not_accounted_for,
    of_count.more_than_places,
)


def _doubts(hospital: Hospital) -> Iterator[Doubt]:
    for check in _OF_ALL:
        yield from check(hospital)
    if hospital.cylinders is not None:
        for of_stock in _OF_STOCK:
            yield from of_stock(hospital, hospital.cylinders)
