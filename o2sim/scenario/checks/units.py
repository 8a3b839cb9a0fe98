"""What is legal but doubtful in concentrators that differ: ages, models that nobody has, starts and peaks."""

from __future__ import annotations

from collections.abc import Iterator

from o2sim.errors import Problem
from o2sim.quantities.units import format_duration
from o2sim.scenario.checks.doubt import Doubt
from o2sim.scenario.types.hospital import Hospital, Power, Scenario
from o2sim.scenario.types.laws import law_maximum


def older_than_its_law(hospital: Hospital) -> Iterator[Doubt]:
    """Yield units that have worked longer than they can by their law."""
    units = hospital.concentrators
    for place, group in enumerate(units.listed if units is not None else (), 1):
        law = group.rules.failure_s
        if law is not None and group.age_s >= law_maximum(law):
            found = f"{format_duration(group.age_s)}, at most {format_duration(law_maximum(law))} by failure"
            yield f"concentrators.units[{place}].age", found, "it fails at once; check age, or the law"


def starts(hospital: Hospital) -> Iterator[Doubt]:
    """Yield a starting surge that nothing limits, one that is too much for a source, and a peak for no surge."""
    units, power = hospital.concentrators, hospital.power or Power()
    if units is None or units.count == 0:
        return
    surges = [
        round(group.rules.power_w * surge / 1_000)
        for group in units.groups
        if (surge := group.rules.start_surge_permille) is not None
    ]
    sources = {"battery": power.battery, "generator": power.generator}
    limits = {name: each.start_limit_w for name, each in sources.items() if each is not None}
    if surges and all(limit_w is None for limit_w in limits.values()):
        hint = "write peak under power.battery or power.generator, or leave start_surge out"
        yield "concentrators.start_surge", "a start_surge, but no peak: it limits nothing", hint
    for name, each in sources.items():
        limit_w = limits.get(name)
        if each is not None and each.peak_w is not None and not surges:
            hint = "write start_surge under concentrators, or leave peak out"
            yield f"power.{name}.peak", "a peak, but no start_surge: it limits nothing", hint
        elif limit_w is not None and len(surges) == len(units.groups) and limit_w < min(surges):
            found = f"a peak of {limit_w:,} W for units that draw {min(surges):,} W as they start"
            yield f"power.{name}.peak", found, "it cannot start a single concentrator"


def models_of_no_unit(scenario: Scenario) -> Iterator[Problem]:
    """Yield models of which no strategy and no option has a unit."""
    options = scenario.options.hospitals.values() if scenario.options is not None else ()
    banks = [each.concentrators for each in (*scenario.hospitals.values(), *options) if each.concentrators]
    used = {group.model for units in banks for group in units.groups}
    above = "concentrators.models."
    named = {path.removeprefix(above): line for path, line in scenario.lines.items() if path.startswith(above)}
    for name, line in named.items():
        if banks and "." not in name and name not in used:
            hint = "list it under concentrators.units, or delete it"
            yield Problem(scenario.file, line, f"{above}{name}", "a model of which there is no unit", "", hint)
