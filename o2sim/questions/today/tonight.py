"""What else may happen today: the power fails in the evening, or three more children come; cylinders to bring."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from o2sim.questions.today.asked import Asked, whole_days_s
from o2sim.questions.today.moment import Whole, at, evening_s, morning_s, now_of, reviews
from o2sim.questions.today.order import day_of, until_s
from o2sim.questions.today.result import IfSo, Night, TodayResult
from o2sim.questions.today.runs import Seen, by, chance
from o2sim.scenario.types.hospital import DAY_S, Hospital, Law, PatientClass
from o2sim.scenario.types.now import GridNow, OnOxygen

CHILDREN, MORE = ("preterm", "newborn", "infant", "child"), 3
NAMED_SO = ("child", "newborn", "infant", "baby", "babies", "neonate", "preterm")
AT_ONCE_S = 60
ENOUGH = 0.95  # of the replications, those in which what is brought is enough
FOR_EVER_S = 10 * 365 * 86_400  # without a cut but the one that is asked about
NO_CUT = {
    "units": "no concentrators: a power cut changes nothing that is simulated",
    "law": "the scenario draws no power cuts, so none is tried tonight",
    "off": "the power is off already",
}


def why_no_cut(hospital: Hospital) -> str:
    """Return why no cut can be tried, empty where one can."""
    grid, now = hospital.grid, now_of(hospital)
    if hospital.concentrators is None:
        return NO_CUT["units"]
    if grid is None or grid.never_on or grid.up_s is None or grid.down_s is None:
        return NO_CUT["law"]
    return NO_CUT["off"] if now.grid is not None and now.grid.up is False else ""


def cut_begins_s(hospital: Hospital) -> int:
    """Return the second at which the cut begins: a little after the count at the least, so that units do stop."""
    return max(AT_ONCE_S, evening_s(hospital))


def with_cut(hospital: Hospital) -> Hospital:
    """Return the hospital with a cut as the night begins, at once where it has begun, as long as its law draws.

    No other cut follows: it is for a run until the morning. The time with power is of a fixed length that ends
    then, by the age that it has at the count.
    """
    now, grid, begins_s = now_of(hospital), hospital.grid, cut_begins_s(hospital)
    assert grid is not None  # see why_no_cut
    fixed = replace(grid, up_s=Law("constant", (float(FOR_EVER_S),)))
    return replace(hospital, grid=fixed, now=replace(now, grid=GridNow(True, FOR_EVER_S - begins_s)))


def child_class(patients: tuple[PatientClass, ...]) -> int:
    """Return the place of the class of children with most who need oxygen; of the first class without any."""
    places = [place for place, each in enumerate(patients) if _is_child(each)]
    return max(
        places, key=lambda place: patients[place].admissions_per_day * patients[place].hypoxaemic, default=0
    )


def _is_child(kind: PatientClass) -> bool:
    return kind.size in CHILDREN or (kind.size is None and any(word in kind.name.lower() for word in NAMED_SO))


def with_more(hospital: Hospital) -> tuple[Hospital, str] | None:
    """Return the hospital with more children who begin oxygen at the count, and their class.

    None where nobody has counted who is on oxygen: three more than how many?
    """
    now = now_of(hospital)
    if now.on_oxygen is None:
        return None
    place = child_class(hospital.patients)
    more = (OnOxygen(place, age_s=0),) * MORE
    return replace(hospital, now=replace(now, on_oxygen=(*now.on_oxygen, *more))), hospital.patients[place].name


def enough(opened: Whole) -> int:
    """Return the fewest cylinders that were enough in 19 of 20 replications."""
    return int(np.quantile(opened, ENOUGH, method="inverted_cdf"))


def to_bring(hospital: Hospital) -> int:
    """Return the cylinders that can be brought: those counted, full or part-used."""
    stock = now_of(hospital).cylinders
    return 0 if stock is None else stock.full + len(stock.part_used)


def with_night(asked: Asked, found: TodayResult) -> TodayResult:
    """Return the result with the cylinders to bring until the morning, and what a cut tonight would change."""
    hospital, end_s = asked.hospital, morning_s(asked.hospital)
    until = day_of(at(now_of(hospital), end_s))
    plain = asked.runs(hospital, end_s, asked.few)
    there = to_bring(hospital)
    why = why_no_cut(hospital)
    if why:
        night = Night(until, there, enough(plain.opened), None)
        return replace(found, night=night, notes=(*found.notes, f"{why[0].upper()}{why[1:]}."))
    dark = asked.runs(with_cut(hospital), end_s, asked.few)
    bring = enough(plain.opened)
    night = Night(until, there, bring, max(bring, enough(dark.opened)))
    begins = at(now_of(hospital), cut_begins_s(hospital))
    what = f"the power fails at {begins:%H:%M} today, and only then"
    return replace(found, night=night, if_so=(*found.if_so, _if_so(what, until, plain, dark, end_s)))


def with_children(asked: Asked, base: Seen, found: TodayResult) -> TodayResult:
    """Return the result with what three more children would change."""
    more = with_more(asked.hospital)
    if more is None:
        said = "Nobody has counted who is on oxygen: what three more would change is not tried."
        return replace(found, notes=(*found.notes, said))
    hospital, kind = more
    times, end_s = reviews(hospital), asked.settings.days * DAY_S
    if hospital.resupply is not None and times is not None:
        end_s = until_s(hospital.resupply, times, asked.settings.days)
    seen = asked.runs(hospital, whole_days_s(end_s), asked.few)
    until = day_of(at(now_of(hospital), end_s))
    what = f"{MORE} more come today ({kind})"
    return replace(found, if_so=(*found.if_so, _if_so(what, until, base, seen, end_s)))


def _if_so(what: str, until: str, plain: Seen, changed: Seen, end_s: int) -> IfSo:
    """Return both chances by a second, of as many replications under the same luck."""
    few = changed.replications
    both = plain, changed
    return IfSo(
        what,
        until,
        *(chance(by(each.interruption_s[:few], end_s)) for each in both),
        *(chance(by(each.stock_out_s[:few], end_s)) for each in both),
    )
