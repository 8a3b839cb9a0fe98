"""How long what is counted lasts if nothing changes: arithmetic, without chance and without a simulation."""

from __future__ import annotations

import heapq
from collections.abc import Sequence
from dataclasses import dataclass

from o2sim.model.rules import keep_gas
from o2sim.planning.by_model import working_at_count
from o2sim.scenario.checks.of_count import accounted
from o2sim.scenario.types.hospital import Cylinders, Hospital, Law
from o2sim.scenario.types.laws import law_mean, mean_up_to, share_above
from o2sim.scenario.types.now import CountedCylinders, OnOxygen

HALF = 0.5  # of what a full one gives: a cylinder in use whose gauge nobody has read
WH = 3_600


@dataclass(frozen=True)
class Open:
    """A cylinder at a bedside: what flows from it, leak included (mL/min), and what it can still give (1/60 mL).

    assumed: flow or gas was not counted, and a mean stands for it.
    """

    of_class: str
    flow_ml_min: float
    gas: float
    assumed: bool = False

    @property
    def lasts_s(self) -> float:
        """Return the seconds that it lasts."""
        return self.gas / self.flow_ml_min if self.flow_ml_min > 0 else float("inf")


@dataclass(frozen=True)
class Change:
    """At a bedside a cylinder ran out after so many seconds, and a spare one took its place."""

    bedside: int
    second: float


@dataclass(frozen=True)
class Shared:
    """Spare cylinders given out in the order in which those in use run out, until there is none.

    first_dry: the first bedside without a cylinder, and when; None where nothing flows. stranded_gas: what the
    other bedsides' cylinders still hold then, which no pooled figure can give to that patient.
    """

    changes: tuple[Change, ...]
    first_dry: Change | None
    stranded_gas: float


def gives(gas: float, cylinders: Cylinders) -> float:
    """Return what a cylinder of a content can still give, in 1/60 mL: down to where it is changed, or fades."""
    return max(0.0, gas - keep_gas(cylinders))


def spares(counted: CountedCylinders, cylinders: Cylinders) -> list[float]:
    """Return what each spare cylinder gives, part-used ones first, in 1/60 mL."""
    part_used = [gives(gas, cylinders) for gas in counted.part_used]
    return [*(gas for gas in part_used if gas > 0), *[gives(cylinders.full_gas, cylinders)] * counted.full]


def pooled_s(gas: float, flow_ml_min: float) -> float:
    """Return the seconds that gas (1/60 mL) lasts at a flow, were all of it in one vessel."""
    return gas / flow_ml_min if flow_ml_min > 0 else float("inf")


def shared_out(bedsides: Sequence[Open], spare: Sequence[float]) -> Shared:
    """Return how spares are used up, each given to whoever runs out next, and who is dry first."""
    flowing = [(each.lasts_s, place) for place, each in enumerate(bedsides) if each.flow_ml_min > 0]
    heapq.heapify(flowing)
    changes: list[Change] = []
    for gas in spare:
        if not flowing:
            break
        second, place = heapq.heappop(flowing)
        changes.append(Change(place, second))
        heapq.heappush(flowing, (second + gas / bedsides[place].flow_ml_min, place))
    if not flowing:
        return Shared((), None, 0.0)
    second, place = flowing[0]
    left = sum((until - second) * bedsides[each].flow_ml_min for until, each in flowing)
    return Shared(tuple(changes), Change(place, second), left)


def bedsides(hospital: Hospital) -> tuple[Open, ...]:
    """Return the cylinders in use at the count; none where nobody has counted who is on oxygen.

    A flow that is not known is the mean of the class, a gauge that nobody read a half. A patient whose source is
    not known is on a concentrator where the strategy begins with these and an outlet is left; else on a cylinder
    that nobody counted, or, where all were, on one of the spare ones: as in a run.
    """
    now, cylinders = hospital.now, hospital.cylinders
    if now is None or cylinders is None or not now.on_oxygen:
        return ()
    outlets, (counted, fleet) = outlets_left(hospital), accounted(hospital)
    half = HALF * gives(cylinders.full_gas, cylinders)
    uncounted, found = fleet - counted, []
    for each in now.on_oxygen:
        if each.source == "cylinder":
            found.append(_open(hospital, cylinders, each, half))
        elif each.source is None and hospital.strategy.sources[0] == "concentrator" and outlets > 0:
            outlets -= 1
        elif each.source is None:
            found.append(_open(hospital, cylinders, each, half if uncounted > 0 else 0.0))
            uncounted -= 1
    return tuple(found)


def _open(hospital: Hospital, cylinders: Cylinders, patient: OnOxygen, unread: float) -> Open:
    kind = hospital.patients[patient.class_index]
    flow = law_mean(kind.flow_ml_min) if patient.flow_ml_min is None else patient.flow_ml_min
    gas = unread if patient.gas is None else gives(patient.gas, cylinders)
    assumed = None in (patient.flow_ml_min, patient.gas)
    return Open(kind.name, flow + cylinders.leak_ml_min, gas, assumed)


def outlets_left(hospital: Hospital) -> int:
    """Return the outlets of working units beyond those of patients who are known to be on one."""
    units, now = hospital.concentrators, hospital.now
    if units is None or now is None:
        return 0
    taken = sum(each.source == "concentrator" for each in now.on_oxygen or ())
    return max(0, outlets_working(hospital) - taken)


def outlets_working(hospital: Hospital) -> int:
    """Return the outlets of the units that work at the count."""
    units = hospital.concentrators
    return 0 if units is None else sum(units.rules_of(number).outlets for number in _working(hospital))


def working(hospital: Hospital) -> int:
    """Return the units that work at the count: those that the file says, where nobody has counted them."""
    return len(_working(hospital))


def _working(hospital: Hospital) -> tuple[int, ...]:
    units, now = hospital.concentrators, hospital.now
    if units is None or now is None:
        return ()
    return working_at_count(units, None if now.units is None else now.units.working)


def units_running(hospital: Hospital) -> int:
    """Return the units in use at the count, each patient on one of its own as far as they go."""
    now = hospital.now
    if now is None or hospital.concentrators is None:
        return 0
    if now.on_oxygen is None:
        return working(hospital)
    on_units = sum(each.source != "none" for each in now.on_oxygen) - len(bedsides(hospital))
    return min(working(hospital), on_units)


def battery_hours(usable_ws: int, charge_permille: int, inverter_permille: int, load_w: float) -> float:
    """Return the hours that a battery carries a load through its inverter."""
    given_ws = usable_ws * charge_permille * inverter_permille / 1_000_000
    return given_ws / load_w / WH if load_w > 0 else float("inf")


def outlasts(law: Law, lasted_s: float | None, more_s: float) -> float:
    """Return the chance that what has lasted for so long lasts for more_s longer.

    lasted_s None: nobody knows how long; it is met at a random moment, so that what is left has the law of
    renewal theory, the mean of the tail over the mean (Cox 1962, from memory).
    """
    if lasted_s is None:
        mean = law_mean(law)
        return max(0.0, 1 - mean_up_to(law, more_s) / mean) if mean > 0 else 0.0
    so_far = share_above(law, lasted_s)
    return share_above(law, lasted_s + more_s) / so_far if so_far > 0 else 0.0
