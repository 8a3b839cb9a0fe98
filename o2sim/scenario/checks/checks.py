"""What is legal but doubtful in a loaded scenario, each with its place and what to do."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterator

from o2sim.errors import Problem
from o2sim.quantities.gas import GAS_PER_LITRE
from o2sim.scenario.checks.part_used import part_used
from o2sim.scenario.types.bedside import ALWAYS_HUMIDIFIED
from o2sim.scenario.types.hospital import DAY_S, Cylinders, Hospital, Law, PatientClass, Scenario
from o2sim.scenario.types.laws import law_high, law_maximum, law_mean, law_minimum, share_above
from o2sim.scenario.types.spells import listed_cuts
from o2sim.scenario.types.stages import stages
from o2sim.scenario.types.times import Time, mean_s

LITRES_A_DAY = 1.44  # per mL/min
STRATEGIES = 3  # cylinders only, concentrators only, mixed
WORTH_A_WARNING = 0.001  # share of a class's patients whose flow cannot be set, or is too high
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
Doubt = tuple[str, str, str]  # field, what was found, what to do


def warnings(scenario: Scenario) -> list[Problem]:
    """Return what is legal but doubtful in a scenario; line is 0 where a default is meant.

    The same doubt of several strategies is said once, naming them.
    """
    stated: dict[Doubt, list[str]] = {}
    for name, hospital in scenario.hospitals.items():
        for doubt in _doubts(hospital):
            stated.setdefault(doubt, []).append(name)
    problems = [_problem(scenario, doubt, names) for doubt, names in stated.items()]
    looks = (_asked_for, _whole_file, _idle_monitor, _idle_backups)
    return problems + [problem for look in looks for problem in look(scenario)]


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
    units = [hospital.concentrators for hospital in scenario.hospitals.values() if hospital.concentrators]
    if line and units and all(each.drift_s is None for each in units):
        hint = "write drift, the running time to low concentration, or leave the monitor out"
        found = "a monitor, but no drift: it never alarms"
        yield Problem(scenario.file, line, "concentrators.oxygen_monitor", found, "", hint)


def _doubts(hospital: Hospital) -> Iterator[Doubt]:
    for check in (_admissions, _tolerance, _hands, _flows, _supply, _power, _wards, _bedside):
        yield from check(hospital)
    if hospital.cylinders is not None:
        for of_stock in (
            _cylinder_levels,
            _gauge_check,
            _timed,
            _noticed,
            _resupply,
            _manifold,
            _backups,
            part_used,
        ):
            yield from of_stock(hospital, hospital.cylinders)


def _admissions(hospital: Hospital) -> Iterator[Doubt]:
    """A surge or a register that the run does not meet changes nothing."""
    for patients in hospital.patients:
        for place, surge in enumerate(patients.surges, 1):
            begins_s = hospital.warm_up_s + (surge.start - hospital.start).days * DAY_S
            if begins_s >= hospital.end_s or begins_s + law_high(surge.length_s) <= 0:
                yield f"patients.{patients.name}.surges[{place}]", "outside the run", "check the dates"
            elif surge.multiplier == 1:
                yield f"patients.{patients.name}.surges[{place}]", "a multiplier of 1", "it adds nobody"
        for place, step in enumerate(patients.flow_steps, 1):
            if step.after_s >= law_maximum(patients.duration_s):
                where = f"patients.{patients.name}.flow_steps[{place}]"
                yield where, "after the longest stay", "it changes nothing"
        if patients.recorded is not None and not patients.recorded.resample:
            first_s = hospital.warm_up_s + patients.recorded.first_day * DAY_S
            if not any(0 <= first_s + arrival_s < hospital.end_s for arrival_s in patients.recorded.arrival_s):
                yield f"patients.{patients.name}.register", "no recorded arrival in the run", "check the dates"


def _tolerance(hospital: Hospital) -> Iterator[Doubt]:
    """A tolerated gap shorter than the work of staff turns every handling into an interruption."""
    units, stock, night = hospital.concentrators, hospital.cylinders, hospital.night
    times: list[tuple[str, Time | None]] = []
    if units is not None:
        times += [("response_time", hospital.response_time_s), ("night.response_time", night.response_time_s)]
    if stock is not None:
        times += [("cylinders.change_time", stock.change_time_s), ("night.change_time", night.change_time_s)]
    for field, time in times:
        if time is not None and mean_s(time) > hospital.tolerated_gap_s:
            found = f"{_minutes(mean_s(time))}{' on average' if isinstance(time, Law) else ''}"
            found += f", longer than the tolerated gap of {_minutes(hospital.tolerated_gap_s)}"
            hint = "each one counts as an interruption; raise tolerated_gap, or mean it so"
            if isinstance(time, Law):
                hint = f"each longer one counts{hint.removeprefix('each one counts')}"
            if field.endswith("response_time") and hospital.shortfall.counted_by == "cause at crossing":
                hint = "each loss of supply counts as handling, also where no supply stood behind it; " + hint
            yield field, found, hint


def _hands(hospital: Hospital) -> Iterator[Doubt]:
    """Times by night of what nobody does change nothing."""
    if hospital.night.connect_s is not None and hospital.staff is None:
        yield "night.connect_time", "no section staff", "it changes nothing; add staff, or leave it out"


def _flows(hospital: Hospital) -> Iterator[Doubt]:
    """A flow above the rated flow can only come from a cylinder, or from two units where that is allowed."""
    units, allocation = hospital.concentrators, hospital.allocation
    if units is None or "cylinder" in hospital.strategy.sources:
        return
    two = allocation.two_units and units.count > 1
    most = units.rated_flow_ml_min * (2 if two else 1)
    fate = "they go without" if allocation.reduced_flow == "never" else "they get a part of it"
    for patients in hospital.patients:
        share = share_above(patients.flow_ml_min, most)
        if share > WORTH_A_WARNING:
            found = f"{100 * share:.1f} % of these patients need more than the rated flow of {most / 1000:g} L/min"
            found += " of two units" if two else ""
            yield f"patients.{patients.name}.flow", found, f"{fate}; give them cylinders as well"


def _supply(hospital: Hospital) -> Iterator[Doubt]:
    """A mean need above what the sources can give on average cannot be met, whatever the luck."""
    need = sum(_litres_a_day(patients) for patients in hospital.patients)
    leak = hospital.manifold.leak_ml_min * LITRES_A_DAY if hospital.manifold else 0.0
    supply = concentrator_litres_a_day(hospital) + max(cylinder_litres_a_day(hospital) - leak, 0.0)
    if need > supply:
        found = f"the need of {need:,.0f} L a day on average is above the supply of at most {supply:,.0f} L a day"
        yield "patients", found, "many will go without; check admissions and flows, fleet, lead time and units"


def _litres_a_day(patients: PatientClass) -> float:
    return sum(stage.at_once * law_mean(stage.flow_ml_min) for stage in stages(patients)) * LITRES_A_DAY


def concentrator_litres_a_day(hospital: Hospital) -> float:
    """Return what the concentrators give running all the time they are in order and have power."""
    units, grid, power = hospital.concentrators, hospital.grid, hospital.power
    backed = power is not None and (power.generator is not None or power.battery is not None)
    if units is None or (grid is not None and grid.never_on and not backed):
        return 0.0
    powered = _share_up(grid.up_s, grid.down_s) if grid is not None and not backed else 1.0
    in_order = _share_up(units.failure_s, units.repair_s)
    return units.count * units.rated_flow_ml_min * LITRES_A_DAY * powered * in_order


def _share_up(up: Law | None, down: Law | None) -> float:
    if up is None or down is None:
        return 1.0
    return law_mean(up) / (law_mean(up) + law_mean(down))


def cylinder_litres_a_day(hospital: Hospital) -> float:
    """Return the most the cylinders can give on average, each used down to the residual pressure.

    No more are on order at once than the fleet or the order-up-to level, so by Little's law no more arrive than
    that over the mean lead time; nor more than one order each review, no larger than the vehicle.
    """
    cylinders, resupply = hospital.cylinders, hospital.resupply
    if cylinders is None:
        return 0.0
    usable = max(cylinders.full_gas - max(cylinders.residual_gas, cylinders.lost_gas), 0) / GAS_PER_LITRE
    first_fill = cylinders.full_at_start * usable / (hospital.end_s / DAY_S)
    if resupply is None:
        return first_fill
    most = min(cylinders.fleet, resupply.order_up_to)
    lead_days = law_mean(resupply.lead_time_s) / DAY_S
    a_day = most / lead_days if lead_days > 0 and most else (math.inf if most else 0.0)
    if resupply.review_s is not None:
        load = most if resupply.vehicle_capacity is None else min(most, resupply.vehicle_capacity)
        a_day = min(a_day, load / (resupply.review_s / DAY_S))
    return first_fill + a_day * usable


def _manifold(hospital: Hospital, cylinders: Cylinders) -> Iterator[Doubt]:
    """Banks that cannot be filled at the start, and outlets too few for the patients who have no other source."""
    manifold = hospital.manifold
    if manifold is None:
        return
    places = 2 * manifold.bank + manifold.reserve
    if places > cylinders.full_at_start:
        found = f"{places} cylinders on banks and reserve, but {cylinders.full_at_start} full ones at the start"
        yield "manifold.bank", found, "the banks begin part-filled or empty; raise full_at_start and fleet"
    at_once = sum(
        each.admissions_per_day * each.hypoxaemic * law_mean(each.duration_s) / DAY_S for each in hospital.patients
    )
    if hospital.strategy.sources == ("manifold",) and at_once > manifold.outlets:
        found = f"{manifold.outlets}, but {at_once:.3g} patients are on oxygen at once on average"
        yield "manifold.outlets", found, "they go without; add outlets, or another source"


def _power(hospital: Hospital) -> Iterator[Doubt]:
    """A record that misses the run, and sources too weak for one unit, carry nothing."""
    grid, power, units = hospital.grid, hospital.power, hospital.concentrators
    if grid is not None and grid.cuts and not listed_cuts(hospital):
        found = "no cut of the record lies within the run"
        yield "power.grid.file", found, "check start, and the years of the record"
    if power is None or units is None:
        return
    limits = [("battery.inverter", power.battery.inverter_w if power.battery else None)]
    if power.generator is not None and power.generator.power_w is not None:
        limits.append(("generator.power", power.generator.power_w - power.generator.base_load_w))
    for field, watts in limits:
        if watts is not None and watts < units.power_w:
            found = f"{watts:,} W left for units of {units.power_w:,.0f} W"
            yield f"power.{field}", found, "it cannot run a single concentrator"


def _wards(hospital: Hospital) -> Iterator[Doubt]:
    """A ward whose patients no source can reach, and units that have nowhere to go."""
    for ward in hospital.wards:
        reached = (ward.concentrators > 0 or hospital.moving_s is not None) and hospital.concentrators is not None
        if any(kind.ward == ward.name for kind in hospital.patients) and not (reached or ward.regulators):
            found = "patients, but no regulators" + (" and no concentrators" if hospital.concentrators else "")
            yield f"wards.{ward.name}", found, "they go without; sources are shared within a ward only"
    if hospital.moving_s is not None and len(hospital.wards) < 2 and hospital.concentrators is not None:
        yield "moving", "fewer than two wards", "there is nowhere to move a unit from"


def _cylinder_levels(hospital: Hospital, cylinders: Cylinders) -> Iterator[Doubt]:
    if cylinders.residual_pressure_kpa < cylinders.flow_lost_below_kpa:
        found = f"{cylinders.residual_pressure_kpa:g} kPa, below flow_lost_below"
        found += f" of {cylinders.flow_lost_below_kpa:g} kPa"
        yield "cylinders.residual_pressure", found, "the flow fades before a cylinder counts as used; raise it"
    if hospital.resupply is not None and hospital.warm_up_s == 0 and cylinders.full_at_start:
        found = "0 days: the year starts with full stock and nobody on oxygen"
        yield "warm_up", found, "write for example warm_up: 28 days"


def _gauge_check(hospital: Hospital, cylinders: Cylinders) -> Iterator[Doubt]:
    """Gauges looked at more rarely than a cylinder lasts leave patients without, unseen."""
    lasting = max(cylinders.full_gas - cylinders.lost_gas, 0)
    for patients in hospital.patients:
        high = law_high(patients.flow_ml_min)
        lasts_s = lasting / (high + cylinders.leak_ml_min)
        if cylinders.gauge_check_s > lasts_s:
            found = f"{_minutes(cylinders.gauge_check_s)} between checks, but at {high / 1000:.3g} L/min"
            found += f" ({patients.name}) a full cylinder lasts {_minutes(lasts_s)}"
            yield "cylinders.gauge_check", found, "cylinders will run empty unseen; check more often"


def _timed(hospital: Hospital, cylinders: Cylinders) -> Iterator[Doubt]:
    """A margin shorter than the fetch lets a cylinder run empty while the next is on its way."""
    timed, fetch_s = cylinders.timed, max(hospital.store.fetch_by_day_s, hospital.store.fetch_by_night_s)
    if timed is not None and timed.kept == 0:
        yield "cylinders.timed.kept", "no note is kept", "write change_when: residual, which is the same"
    elif timed is not None and timed.margin_s < fetch_s:
        found = f"{_minutes(timed.margin_s)}, shorter than the {_minutes(fetch_s)} to fetch a cylinder"
        yield "cylinders.timed.margin", found, "cylinders run empty while the next is fetched; come earlier"
    highest = max(law_high(patients.flow_ml_min) for patients in hospital.patients)
    lasts_s = (cylinders.full_gas - cylinders.lost_gas) / (highest + cylinders.leak_ml_min)
    if timed is not None and timed.margin_s >= lasts_s:
        found = f"{_minutes(timed.margin_s)}, but at {highest / 1000:.3g} L/min a full cylinder lasts "
        found += _minutes(lasts_s)
        yield "cylinders.timed.margin", found, "it is changed as soon as it is opened; come later"


def _noticed(hospital: Hospital, cylinders: Cylinders) -> Iterator[Doubt]:
    """Whoever notices comes to nothing where somebody always sees the gauge, or power is never out."""
    noticed = hospital.noticed
    if noticed is None:
        return
    if cylinders.gauge_check_s == 0 and not cylinders.check_times_s:
        yield (
            "noticed",
            "gauges are watched",
            "nothing runs empty unseen; delete noticed, or say how often they look",
        )
    by_oximeter = noticed.by_oximeter
    if by_oximeter is not None and by_oximeter.cut_by_power and hospital.grid is None and hospital.power is None:
        found = "oximeters that are silent without power, but no power cuts"
        yield "noticed.by_oximeter.cut_by_power", found, "write the section power, or leave it out"


def _resupply(hospital: Hospital, cylinders: Cylinders) -> Iterator[Doubt]:
    resupply = hospital.resupply
    if resupply is None:
        if cylinders.unusable or cylinders.underfilled or cylinders.refused:
            found = "found deliveries or empties that go wrong, but no resupply"
            yield "cylinders", found, "nothing is delivered or handed over; add resupply, or delete them"
        return
    for field, level in (("reorder_point", resupply.reorder_point), ("order_up_to", resupply.order_up_to)):
        beyond = level >= cylinders.fleet if field == "reorder_point" else level > cylinders.fleet
        if beyond and cylinders.fleet:
            how = "not below" if field == "reorder_point" else "above"
            found = f"{level}, {how} the fleet of {cylinders.fleet}"
            yield f"resupply.{field}", found, "there are no empties for so many; lower it or enlarge the fleet"
    if cylinders.fleet and resupply.minimum_order > cylinders.fleet:
        found = f"{resupply.minimum_order}, above the fleet of {cylinders.fleet}"
        yield "resupply.minimum_order", found, "no order can ever be placed; lower it"
    first = hospital.start - dt.timedelta(seconds=hospital.warm_up_s)
    last = hospital.start + dt.timedelta(seconds=hospital.horizon_s - 1)
    for place, closure in enumerate(resupply.road_closures, 1):
        if (closure.end and closure.end < first) or (closure.start and closure.start > last):
            found = f"outside the run from {first} to {last}"
            yield f"resupply.road_closures[{place}]", found, "it closes nothing; check the dates"


def _bedside(hospital: Hospital) -> Iterator[Doubt]:
    """Yield sets that fit no cylinder, flows that no flowmeter reads, and limits that limit nobody."""
    if hospital.cylinders is not None:
        yield from _valves(hospital.cylinders)
        yield from _flowmeters(hospital, hospital.cylinders)
    yield from _humidifiers(hospital)
    for device, _ in hospital.bedside.delivery_sets:
        if all(kind.delivery != device for kind in hospital.patients):
            yield f"bedside.delivery_sets.{device}", "no class has this delivery", "it limits nobody; add delivery"


def _backups(hospital: Hospital, cylinders: Cylinders) -> Iterator[Doubt]:
    """Yield back-ups that cannot be, or that are of no use."""
    rule, flowing = cylinders.backup, cylinders.full_gas - max(cylinders.residual_gas, cylinders.lost_gas)
    if rule is None or not hospital.has_backups:
        return
    sets = sum(each.count for each in cylinders.usable_sets)
    for most, what in ((sets, "regulators"), (cylinders.fleet, "cylinders")):
        if rule.count > most:
            found = f"{rule.count}, but only {most} {what}"
            yield "cylinders.backup.count", found, f"there can be no more back-ups than {what}"
    if law_minimum(rule.open_time_s) > hospital.tolerated_gap_s:
        found = f"longer than the tolerated gap of {_minutes(hospital.tolerated_gap_s)}"
        yield "cylinders.backup.open_time", found, "each loss counts as an interruption all the same"
    cut = hospital.grid.down_s if hospital.grid is not None else None
    cut_s = 0.0 if cut is None else law_mean(cut)
    for kind in hospital.patients:
        lasts_s = flowing / (law_mean(kind.flow_ml_min) + cylinders.leak_ml_min)
        if kind.name in rule.classes and lasts_s < cut_s:
            found = f"a full cylinder lasts {kind.name} {_minutes(lasts_s)}, a cut {_minutes(cut_s)} on average"
            yield "cylinders.backup.for", found, "it has to be changed within a cut; see that there are others"


def _valves(cylinders: Cylinders) -> Iterator[Doubt]:
    for place, each in enumerate(cylinders.regulator_sets, 1):
        if each not in cylinders.usable_sets:
            found = f"{each.count} sets for {each.valve} valves, the cylinders' valve is {cylinders.valve}"
            yield f"cylinders.regulator_sets[{place}]", found, "they cannot be used and are counted out"


def _flowmeters(hospital: Hospital, cylinders: Cylinders) -> Iterator[Doubt]:
    low = min(each.low_ml_min for each in cylinders.usable_sets)
    high = max(each.high_ml_min for each in cylinders.usable_sets)
    for kind in hospital.patients:
        share = share_above(kind.flow_ml_min, high) + 1 - share_above(kind.flow_ml_min, low - 1)
        if share > WORTH_A_WARNING:
            found = f"{share:.1%} of {kind.name} need a flow outside {low / 1000:g} to {high / 1000:g} L/min"
            hint = "on cylinders they go without (no regulator); add a set that fits"
            yield "cylinders.regulator_sets", found, hint


def _humidifiers(hospital: Hospital) -> Iterator[Doubt]:
    bedside = hospital.bedside
    if bedside.humidifiers is None:
        return
    devices = {kind.delivery for kind in hospital.patients}
    above = {kind.name: bedside.dry_above_ml_min(kind.size) for kind in hospital.patients}
    dry = any(law_high(kind.flow_ml_min) > above[kind.name] for kind in hospital.patients)
    if not dry and not devices & set(ALWAYS_HUMIDIFIED):
        found = f"no flow above {max(above.values()) / 1000:g} L/min and no nasopharyngeal catheter"
        yield "bedside.humidifiers", found, "nobody needs one; add delivery, or leave the number out"


def _minutes(seconds: float) -> str:
    """Return a time for a message: minutes up to three hours, then hours."""
    return f"{seconds / 60:.3g} min" if seconds < 3 * 3600 else f"{seconds / 3600:.3g} h"
