"""The shocks of a scenario in words for `o2sim check`: how often, what each does, what leaves them out."""

from __future__ import annotations

from collections.abc import Iterator

from o2sim.looks.words import joined, number, quoted
from o2sim.quantities.units import format_duration
from o2sim.scenario.building.cells import MONTHS
from o2sim.scenario.types.hospital import DAY_S, YEAR_DAYS, Hospital, Law, Shock, ShockPatients
from o2sim.scenario.types.laws import law_mean

LEFT_OUT = (
    "The need, the days of cover, the times of delivery and the share of time with power that are worked out "
    "before any run leave shocks out; a run has them."
)


def sentences(hospital: Hospital) -> Iterator[str]:
    """Yield a sentence for each shock, then what leaves them out; nothing without shocks."""
    for shock in hospital.shocks:
        yield _shock(shock)
    if hospital.shocks:
        yield LEFT_OUT


def _shock(shock: Shock) -> str:
    months = [MONTHS[month - 1].capitalize() for month in shock.months]
    when = f", in {joined(months)} only" if months else ""
    often = _times(shock.rate_per_day * YEAR_DAYS)
    alike = " One severity multiplies all lengths of one event." if shock.severity is not None else ""
    named = quoted([shock.name])
    return f"The shock {named} comes {often} a year{when}. On average {joined(_effects(shock))}.{alike}"


def _times(a_year: float) -> str:
    return "once" if a_year == 1 else f"{number(a_year)} times"


def _effects(shock: Shock) -> list[str]:
    """Return what a shock does, each for how long on average."""
    severity = law_mean(shock.severity) if shock.severity is not None else 1.0
    laws = (("the road is shut", shock.road_s), ("the grid is down", shock.power_s),
            ("the supplier takes up no order", shock.supplier_s))  # fmt: skip
    said = [f"{what} for {_mean(law, severity)}" for what, law in laws if law is not None]
    if shock.patients is not None:
        said.append(_more(shock.patients, severity))
    return [*said, *(["what was paid ahead to the supplier is lost"] if shock.prepaid_lost else [])]


def _more(rule: ShockPatients, severity: float) -> str:
    who = f"admissions of {quoted(rule.classes)}" if rule.classes else "all admissions"
    begins = f", from {_time(rule.after_s)} after the onset" if rule.after_s else ""
    return f"{who} are {number(rule.multiplier)} times as many for {_mean(rule.length_s, severity)}{begins}"


def _mean(law: Law, severity: float) -> str:
    return _time(round(law_mean(law) * severity))


def _time(seconds: int) -> str:
    days = number(seconds / DAY_S)
    return f"{days} day{'' if days == '1' else 's'}" if seconds >= DAY_S else format_duration(seconds)
