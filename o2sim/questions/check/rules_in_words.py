"""The rules of a scenario's demand and supply that are switched on, in words for `o2sim check`."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping

from o2sim.looks.words import joined, number, percent, quoted
from o2sim.quantities.units import format_duration
from o2sim.questions.check import power_in_words, shocks_in_words, sizes_in_words
from o2sim.scenario.building.reader import WEEKDAYS
from o2sim.scenario.checks.of_count import accounted
from o2sim.scenario.types.hospital import (
    DAY_S,
    Backups,
    Cylinders,
    Emergency,
    Hospital,
    Law,
    Manifold,
    Recorded,
    Resupply,
    Scenario,
    Transfer,
)
from o2sim.scenario.types.laws import law_maximum
from o2sim.scenario.types.times import Time, high_s, mean_s


def sentences(scenario: Scenario) -> list[str]:
    """Return one sentence a rule, naming the strategies where it does not hold for all; nothing for the plain."""
    with_units = {name: hospital for name, hospital in scenario.hospitals.items() if hospital.concentrators}
    return [*_once(scenario.hospitals, _rules), *_once(with_units, power_in_words.sentences)]


def _once(hospitals: Mapping[str, Hospital], say: Callable[[Hospital], Iterator[str]]) -> list[str]:
    strategies: dict[str, list[str]] = {}
    for name, hospital in hospitals.items():
        for said in say(hospital):
            strategies.setdefault(said, []).append(name)
    every = list(hospitals)
    return [said if names == every else f"Under {quoted(names)}: {said}" for said, names in strategies.items()]


def _rules(hospital: Hospital) -> Iterator[str]:
    yield from _from_count(hospital)
    yield from _demand(hospital)
    if hospital.resupply is not None:
        yield from _supplier(hospital.resupply)
    if hospital.cylinders is not None:
        yield from sizes_in_words.sentences(hospital, hospital.cylinders)
        for size in hospital.cylinders.each:
            yield from _gone_wrong(size)
        if hospital.cylinders.backup is not None and hospital.has_backups:
            yield from _backups(hospital, hospital.cylinders.backup)
        if hospital.manifold is not None:
            yield from _manifold(hospital.manifold, hospital.cylinders)
    yield from _wards(hospital)
    yield from _hands(hospital)
    yield from shocks_in_words.sentences(hospital)


def _from_count(hospital: Hospital) -> Iterator[str]:
    """Yield from which count the run begins."""
    now = hospital.now
    if now is None:
        return
    said = f"The run begins from what was counted on {now.counted:%Y-%m-%d} at {now.counted:%H:%M}"
    if now.cylinders is not None:
        counted, fleet = accounted(hospital)
        said += f", {now.cylinders.full} full cylinders among it ({counted} of {fleet} counted)"
    yield f"{said}; what nobody counted is drawn."


def _demand(hospital: Hospital) -> Iterator[str]:
    for kind in hospital.patients:
        if kind.recorded is not None:
            yield _register(hospital, kind.name, kind.recorded)
        if kind.overdispersion > 1:
            yield f"The daily number of {kind.name} has a variance of {kind.overdispersion:g} times its mean."
        for surge in kind.surges:
            yield f"From {surge.start} {kind.name} surge to {surge.multiplier:g} times."
        if isinstance(kind.transfer, Transfer):
            yield f"Of {kind.name}, those {_sent_on(kind.transfer)}"
        elif kind.transfer == "never" and hospital.transfer is not None:
            yield f"No {kind.name} are sent on."
    if hospital.transfer is not None:
        yield f"Patients {_sent_on(hospital.transfer)}"


def _register(hospital: Hospital, name: str, recorded: Recorded) -> str:
    count, days = len(recorded.arrival_s) - recorded.present, _count(recorded.days, "day")
    there = f", and {recorded.present} present when it begins" if recorded.present else ""
    kept = power_in_words.kept(hospital, recorded)
    how = power_in_words.HOW[recorded.use].format("it was")
    return f"Admissions of {name} come from a register of {count} in {days}{there}, {kept}: {how}."


def _sent_on(rule: Transfer) -> str:
    after, travel = format_duration(rule.after_s), format_duration(rule.travel_s)
    if rule.with_cylinder:
        back = format_duration(rule.back_after_s)
        return (
            f"unserved for {after} are sent on with cylinders of the place and a regulator set, where there are "
            f"so many, else they stay: {travel} on the way, both back {back} after it."
        )
    oxygen = "with" if rule.oxygen_on_board else "without"
    return f"unserved for {after} are sent on: {travel} on the way, {oxygen} oxygen on board."


def _supplier(resupply: Resupply) -> Iterator[str]:
    if resupply.own_cylinders:
        yield (
            "The place's own cylinders leave with each order, once the road is open, and come back filled: "
            "the lead time is the turn-round, and each takes two trips."
        )
    if resupply.part_delivery is not None:
        yield f"The supplier brings only a part of {percent(resupply.part_delivery.chance)} of the orders."
    if resupply.supplier_outages:
        yield "An order placed while the supplier is out is taken up when the outage ends."
    if resupply.no_delivery:
        days = " or ".join(WEEKDAYS[day].capitalize() for day in resupply.no_delivery)
        yield f"Nothing is delivered on a {days}; it comes at the same hour of the next other day."
    if resupply.emergency is not None:
        rule = resupply.emergency
        trip = "" if rule.vehicle_capacity is None else f", at most {rule.vehicle_capacity} a trip"
        least = f", no fewer than {rule.minimum_order}" if rule.minimum_order > 1 else ""
        yield (
            f"When {_low(rule)}, an emergency order brings the full up to {rule.up_to}, as far as there are "
            f"empties{trip}{least}."
        )


def _low(rule: Emergency) -> str:
    """Return when an emergency order is placed."""
    if rule.below is not None:
        return f"fewer than {rule.below} cylinders are on hand"
    if rule.cover_s is not None:
        return f"the shelf lasts less than {format_duration(rule.cover_s)} at the present flow"
    use = "the greater of the last 7 days' use and the season's mean need"
    return f"what is on hand lasts less than {format_duration(rule.days_of_cover_s or 0)} at {use}"


def _manifold(manifold: Manifold, cylinders: Cylinders) -> Iterator[str]:
    behind = f" and a reserve of {manifold.reserve}" if manifold.reserve else ""
    every_s = manifold.gauge_check_s
    seen = "an alarm" if every_s is None else f"a look every {format_duration(every_s)}"
    usable = max(cylinders.full_gas - manifold.changeover_gas, 1)
    yield (
        f"Two banks of {manifold.bank} cylinders{behind} feed {manifold.outlets} outlets; "
        f"{seen} shows when a bank is spent."
    )
    if manifold.leak_ml_min:
        lost = manifold.leak_ml_min * DAY_S
        yield (
            f"The pipework loses {number(lost / 60_000)} litres a day, {number(lost / usable)} cylinders, "
            "used or not; not in the need above."
        )


def _gone_wrong(cylinders: Cylinders) -> Iterator[str]:
    of = f"{cylinders.name} " if cylinders.name else ""
    if cylinders.unusable:
        yield f"Of delivered {of}cylinders {percent(cylinders.unusable)} give nothing, found out on opening."
    if cylinders.underfilled is not None:
        yield f"Of delivered {of}cylinders that work, {percent(cylinders.underfilled.share)} are under-filled."
    if cylinders.refused:
        yield f"Of {of}empties {percent(cylinders.refused)} are refused and leave the fleet."
    if cylinders.losses_per_day:
        yield f"About {365 * cylinders.losses_per_day:.3g} {of}cylinders a year go missing from the fleet."


def _backups(hospital: Hospital, rule: Backups) -> Iterator[str]:
    yield (
        f"Of {quoted(rule.classes)} on a concentrator, at most {rule.count} have a back-up cylinder at the bed, "
        f"changed at midnight below {percent(rule.replace_below_permille / 1_000)} of what a full one can give."
    )
    if "cylinder" not in hospital.strategy.sources:
        yield "Cylinders are no source here: they are opened for a lost concentrator and nothing else."


def _wards(hospital: Hospital) -> Iterator[str]:
    for ward in hospital.wards:
        classes = quoted([kind.name for kind in hospital.patients if kind.ward == ward.name])
        kept = f", {_count(ward.bedside_cylinders, 'full cylinder')} kept there" if ward.bedside_cylinders else ""
        units, sets = _count(ward.concentrators, "concentrator"), _count(ward.regulators, "regulator")
        yield f"Ward {ward.name} ({classes or 'nobody'}) has {units} and {sets} of its own{kept}."
    if hospital.moving_s is not None and len(hospital.wards) > 1:
        moved = format_duration(hospital.moving_s)
        yield f"An idle concentrator is moved in {moved} to a ward where someone waits."
    by_day, by_night = hospital.store.fetch_by_day_s, hospital.store.fetch_by_night_s
    if hospital.cylinders is not None and (by_day or by_night):
        times = f"{format_duration(by_day)} by day and {format_duration(by_night)} by night"
        yield f"Fetching a cylinder from the store takes {times}."


def _count(count: int, what: str) -> str:
    return f"{count} {what}" + ("s" if count != 1 else "")


def _hands(hospital: Hospital) -> Iterator[str]:
    if hospital.staff is not None and hospital.staff.connect_s:
        yield f"Connecting a patient who waits takes staff {_time(hospital.staff.connect_s)}."
    if isinstance(hospital.response_time_s, Law):
        yield f"To respond to a loss of supply takes {_time(hospital.response_time_s)}."
    if hospital.cylinders is not None:
        yield from _changes(hospital, hospital.cylinders)
    yield from _by_night(hospital)
    generator = hospital.power.generator if hospital.power else None
    if generator is not None and generator.started_by_staff:
        yield f"Staff start the generator, before all else: {format_duration(generator.start_delay_s)}."


def _changes(hospital: Hospital, cylinders: Cylinders) -> Iterator[str]:
    """Yield how long a change takes where that is drawn, and what a look allows for it."""
    drawn = isinstance(cylinders.change_time_s, Law)
    if drawn:
        yield f"A change of cylinders takes {_time(cylinders.change_time_s)}."
    if cylinders.change_when == "will_not_last" and (drawn or hospital.night.change_time_s is not None):
        allowed = format_duration(hospital.longest_change_s)
        yield f"A cylinder that is to last until the next look must last {allowed} more, for the change."


def _by_night(hospital: Hospital) -> Iterator[str]:
    """Yield the times that differ by night."""
    night, hours = hospital.night, hospital.day_hours
    jobs = [("to respond to a loss of supply", night.response_time_s)]
    jobs += [("to change a cylinder", night.change_time_s)] if hospital.cylinders is not None else []
    jobs += [("to connect a patient who waits", night.connect_s)] if hospital.staff is not None else []
    said = [f"{job} takes {_time(time)}" for job, time in jobs if time is not None]
    if said:
        from_to = f"from {power_in_words.clock(hours.to_s)} to {power_in_words.clock(hours.from_s)}"
        yield f"By night, {from_to}, {joined(said)}."


def _time(time: Time) -> str:
    """Return a time in words; of a law its mean, and what is seldom or never exceeded."""
    if not isinstance(time, Law):
        return format_duration(time)
    bounded = math.isfinite(law_maximum(time))
    most = (
        f"at most {format_duration(high_s(time))}" if bounded else f"1 in 20 over {format_duration(high_s(time))}"
    )
    return f"{format_duration(mean_s(time))} on average ({most})"
