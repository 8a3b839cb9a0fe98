"""What was not counted and so is drawn, and what of the count does not add up: said above any advice."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Iterator

from o2sim.looks.words import joined
from o2sim.questions.today.cover import outlets_working
from o2sim.questions.today.moment import in_words, now_of
from o2sim.scenario.checks.of_count import on_units
from o2sim.scenario.types.hospital import Hospital
from o2sim.scenario.types.now import OnOxygen


def unknown(hospital: Hospital, accounted: int, today: dt.date) -> tuple[str, ...]:
    """Return what is to be known before the advice, a sentence each; none where all was counted.

    accounted: cylinders counted in all.
    """
    of_units = _which_work(hospital)
    return (
        *_fleet(hospital, accounted),
        *_old(hospital, today),
        *_patients(hospital),
        *of_units,
        *_rest(hospital),
    )


def _fleet(hospital: Hospital, accounted: int) -> Iterator[str]:
    fleet = 0 if hospital.cylinders is None else hospital.cylinders.fleet
    if accounted < fleet:
        more = "" if _open_known(hospital) else ", those in use that nobody counted among them"
        yield f"{accounted} of {fleet} cylinders were counted: {fleet - accounted} not accounted for{more}."


def _open_known(hospital: Hospital) -> bool:
    """Return True where those in use were counted: else what is missing may be at beds."""
    found = now_of(hospital).on_oxygen
    return found is not None and all(each.source is not None for each in found)


def _old(hospital: Hospital, today: dt.date) -> Iterator[str]:
    counted = now_of(hospital).counted
    days = (today - counted.date()).days
    if days:
        old = "a day" if days == 1 else f"{days} days"
        yield (
            f"The count is {old} old ({in_words(counted.date())}): all begins there, chances hold what may have "
            "happened since, and the order is as if placed then. Count again before you order."
        )


def _patients(hospital: Hospital) -> Iterator[str]:
    found = now_of(hospital).on_oxygen
    if found is None:
        yield (
            "Nobody has counted who is on oxygen: as many as usual are drawn, on cylinders of those that nobody "
            "counted, if there are any."
        )
        return
    yield from _on_units(hospital)
    lacking = [words for words, count in _lacking(found).items() if count]
    if lacking:
        yield f"Of {len(found)} on oxygen not everything is known; drawn are {joined(lacking)}."


def _on_units(hospital: Hospital) -> Iterator[str]:
    """Yield what is to be said where more were counted on concentrators than these have outlets."""
    units, (patients, works) = hospital.concentrators, on_units(hospital)
    if units is not None and patients > (outlets := outlets_working(hospital)):
        yield (
            f"{patients} were counted on concentrators, but {works} that work have {outlets} "
            f"outlet{'' if outlets == 1 else 's'}: the others wait, or are given cylinders."
        )


def _which_work(hospital: Hospital) -> Iterator[str]:
    """Yield that nobody knows which of several models the units that work are."""
    units, met = hospital.concentrators, now_of(hospital).units
    if units is not None and met is not None and units.mixed and 0 < met.working < units.count:
        first = "the first of the list is" if met.working == 1 else f"the first {met.working} of the list are"
        yield (
            f"Concentrators differ, and the count does not say which of them work: {first} taken to, by "
            "concentrators.units."
        )


def _lacking(found: tuple[OnOxygen, ...]) -> dict[str, int]:
    """Return how many times each thing is not known, by its words."""
    counts = Counter(
        field
        for each in found
        for field in ("flow_ml_min", "age_s", "source", "gas")
        if getattr(each, field) is None and not (field == "gas" and each.source in ("concentrator", "none"))
    )
    words = {
        "flow_ml_min": "the flow of {}",
        "age_s": "the time so far of {}",
        "source": "the source of {}",
        "gas": "the gauge of {}",
    }
    return {said.format(counts[field]): counts[field] for field, said in words.items()}


def _rest(hospital: Hospital) -> Iterator[str]:
    now, power = now_of(hospital), hospital.power
    lacking = []
    if undated := sum(each.age_s is None for each in now.on_order):
        orders = len(now.on_order)
        lacking.append(
            "when the open order was placed"
            if orders == 1
            else f"when {undated} of the {orders} open orders {'was' if undated == 1 else 'were'} placed"
        )
    if hospital.concentrators is not None and now.units is None:
        lacking.append("which concentrators work")
    grid = hospital.grid if hospital.concentrators is not None else None
    if grid is not None and not grid.never_on and (now.grid is None or now.grid.up is None):
        lacking.append("whether the power is on")
    roads = hospital.resupply.road_closures if hospital.resupply is not None else ()
    may_close = any(each.covers(now.counted.date()) for each in roads)
    by_storm = hospital.resupply is not None and any(each.road_s is not None for each in hospital.shocks)
    if now.road is None and (may_close or by_storm):
        lacking.append("whether the road is open")
    if lacking:
        yield f"Not counted, and drawn: {joined(lacking)}."
    full = []
    if power is not None and power.battery is not None and now.battery_permille is None:
        full.append("the battery")
    if power is not None and power.generator is not None and power.generator.tank_ml and now.fuel_ml is None:
        full.append("the tank")
    if full:
        yield f"Not counted, and taken as full: {joined(full)}."
