"""Say in two sentences whether a scenario may be trusted, for what, and which number to doubt."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from scipy.special import bdtr

from o2sim.looks.words import number
from o2sim.questions.hindcast.inputs import Check
from o2sim.questions.hindcast.result import IN_PART, NOT_YET, TRUSTED, UNSAID, Scored, Trust

# What is called what: assumptions, the same for everybody.
FEWEST = 8  # counts
SMALL, LARGE = 0.10, 0.25  # bias
# A true scenario is doubted once in 20 at most: 2 % for a bias, 1 % each for ranks and for so few within the
# ranges, 1 % for all its numbers together (inputs.py).
BY_LUCK, UNEVEN = 0.02, 0.01
USED, EMPTIED = "cylinders used", "cylinders emptied, as written"
MONTHLY = "cylinders emptied in a month"
IN_NEED, ON_CYLINDERS = "patients in need at midnight", "patients on cylinders at midnight"
LEADING = (USED, MONTHLY, EMPTIED, ON_CYLINDERS, IN_NEED)  # the first that is there decides
FOR_WHAT = {
    USED: "how many cylinders are used and how long the shelf lasts",
    EMPTIED: "how many cylinders are used",
    MONTHLY: "how many cylinders are used in a month",
    ON_CYLINDERS: "how many patients are on cylinders",
    IN_NEED: "how many patients are on oxygen",
}
SHORT = {
    **dict.fromkeys((USED, EMPTIED, MONTHLY), "use"),
    ON_CYLINDERS: "the number of patients on cylinders",
    IN_NEED: "the number of patients on oxygen",
}
REST = (
    "the flow after the first (flow_steps), what a cylinder gives until it is changed (cylinders.water_capacity "
    "and filling_pressure, or content; gauge_check), or leaks"
)
UNITS = "how many patients the concentrators carry (concentrators.count, their failures, power)"
CARRIED = "how many patients the concentrators carry (concentrators.rated_flow, concentrators.outlets)"
WHO = "admissions, or how long patients are on oxygen"
FLOWS = "flows (patients.CLASS.flow)"
STAYS = "how long patients are on oxygen (patients.CLASS.duration)"


def verdict(
    series: Sequence[Scored], numbers: Sequence[Check], *, drawn: Sequence[str], period: str
) -> tuple[Trust, tuple[str, str]]:
    """Return how far the scenario may be trusted, and the two sentences.

    drawn: what was not recorded, of WHO, FLOWS, STAYS and UNITS: all of it is the scenario's own.
    """
    by_name = {each.name: each for each in series}
    lead = next((by_name[name] for name in LEADING if name in by_name and by_name[name].counts >= FEWEST), None)
    doubted = sorted(
        (each for each in numbers if each.doubted), key=lambda each: -abs(np.log(max(each.times, 1e-9)))
    )
    if lead is None:
        most = max((each.counts for each in series), default=0)
        said = (
            f"Whether the scenario may be trusted cannot be said: {most} counts could be compared, {FEWEST} are "
            "needed."
        )
        return UNSAID, (said, _to_doubt(None, doubted, by_name, drawn=drawn))
    trust = _trust(lead, doubted)
    return trust, (_trusted(lead, trust, doubted, period), _to_doubt(lead, doubted, by_name, drawn=drawn))


def whole_percent(share: float) -> str:
    """Return a share in whole per cent, which never rounds a possibility to certainty."""
    if 0 < share < 0.005:
        return "under 1 %"
    return "over 99 %" if 0.995 < share < 1 else f"{100 * share:.0f} %"


def is_biased(scored: Scored | None) -> bool:
    """Return whether the forecast is off by more than a little, and not by luck."""
    return (
        scored is not None
        and scored.counts >= FEWEST
        and (scored.bias is None or abs(scored.bias) >= SMALL)
        and scored.bias_by_luck < BY_LUCK
    )


def is_sure_too_soon(scored: Scored) -> bool:
    """Return whether too few counts lie within the ranges, were they right, or the ranks are uneven."""
    worth = max(1.0, scored.ranks_effective)
    if not scored.judged:
        return False
    inside = scored.judged_inside_90 / scored.judged
    few = bdtr(np.floor(inside * worth), round(worth), 0.9) < UNEVEN
    return bool(few) or (scored.ranks_even_by_luck is not None and scored.ranks_even_by_luck < UNEVEN)


def _trust(lead: Scored, doubted: Sequence[Check]) -> Trust:
    if is_biased(lead):
        return NOT_YET if lead.bias is None or abs(lead.bias) >= LARGE else IN_PART
    return IN_PART if doubted or _is_far(lead) or is_sure_too_soon(lead) else TRUSTED


def _is_far(lead: Scored) -> bool:
    """Return whether a forecast is far off, be it by luck."""
    return lead.bias is None or abs(lead.bias) >= LARGE


def _trusted(lead: Scored, trust: Trust, doubted: Sequence[Check], period: str) -> str:
    what = FOR_WHAT[lead.name]
    seen = (
        f"{lead.inside_90} of {lead.counts} counts ({whole_percent(lead.inside_90 / lead.counts)}) lie within its "
        f"90 % ranges, and over {period} it forecasts {_off(lead)}"
    )
    if trust == NOT_YET:
        return f"The scenario may not be trusted yet for {what}: {seen}."
    if trust == TRUSTED:
        limit = ", not for how many cylinders they use" if lead.name in (ON_CYLINDERS, IN_NEED) else ""
        return f"The scenario may be trusted for {what}{limit}: {seen}."
    if is_biased(lead):
        return f"The scenario may be trusted for comparing strategies, with care for {what}: {seen}."
    if _is_far(lead):
        return f"The scenario may be trusted with care for {what}: {seen}, which luck alone may do."
    if doubted:
        return (
            f"With what was recorded put in, the scenario may be trusted for {what}, but not for weeks to come, "
            f"for which it takes its own numbers: {seen}."
        )
    return (
        f"The scenario may be trusted for {what} on average, but not for its ranges from count to count: {seen}."
    )


def _off(lead: Scored) -> str:
    if lead.bias is None:
        return f"{number(lead.forecast.mean)} where none was recorded"
    if abs(lead.bias) < 0.005:
        return "what was recorded"
    return f"{whole_percent(abs(lead.bias))} {'more' if lead.bias > 0 else 'less'} than was recorded"


def _to_doubt(
    lead: Scored | None, doubted: Sequence[Check], by_name: dict[str, Scored], *, drawn: Sequence[str]
) -> str:
    """Return the sentence that says which number to doubt."""
    if lead is not None and is_biased(lead):
        what = SHORT[lead.name].capitalize()
        way = "over-forecast" if _is_high(lead) else "under-forecast"
        far = "" if lead.bias is None else f" by {whole_percent(abs(lead.bias))}"
        more = f"; and {_beside(doubted[0])}" if doubted else ""
        return f"{what} is {way}{far}: doubt {_likeliest(lead, by_name, drawn=drawn)}{more}."
    if doubted:
        others = [each.name for each in doubted[1:3]]
        more = f"; then {' and '.join(others)}" if others else ""
        return f"Doubt {_beside(doubted[0])}{more}."
    if lead is not None and _is_far(lead):
        return "No number of it stands out to be doubted yet: with more counts it could be known."
    if lead is not None and is_sure_too_soon(lead):
        return "Doubt how much its numbers vary (overdispersion, spread of stays and flows) before their means."
    return "No number of it stands out to be doubted; what these books do not show is not checked."


def _beside(check: Check) -> str:
    return (
        f"{check.name} ({check.key}): the scenario has {number(check.scenario)} {check.unit}, the records "
        f"{number(check.recorded)}"
    )


def _likeliest(lead: Scored, by_name: dict[str, Scored], *, drawn: Sequence[str]) -> str:
    """Return what is left to be wrong, given which other counts agree."""
    need, on_cylinders = by_name.get(IN_NEED), by_name.get(ON_CYLINDERS)
    if lead.name == IN_NEED or _is_off_too(need, lead):
        return WHO if WHO in drawn else STAYS
    units = UNITS if UNITS in drawn else CARRIED
    if lead.name == ON_CYLINDERS or _is_off_too(on_cylinders, lead):
        return units
    if WHO in drawn:
        return "admissions or flows" if need is None else f"{FLOWS}, {REST}"
    patients = (what for what in drawn if what != UNITS)
    return "; ".join((*patients, *(() if on_cylinders is not None else (units,)), REST))


def _is_off_too(other: Scored | None, lead: Scored) -> bool:
    """Return whether another series is off the same way."""
    return other is not None and is_biased(other) and _is_high(other) == _is_high(lead)


def _is_high(scored: Scored) -> bool:
    return scored.bias is None or scored.bias > 0
