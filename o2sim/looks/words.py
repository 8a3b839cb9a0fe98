"""Numbers and results in plain language for a district manager: natural frequencies, ranges, differences.

Probabilities arrive as {estimate, low, high, confidence}, means as {mean, low, high}, as in measures.summarise.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from typing import Any

from o2sim.measures.names import CHANCE, FILL, HOURS
from o2sim.quantities.units import format_duration
from o2sim.scenario.keys.fields import meaning
from o2sim.scenario.types.hospital import Hospital

Summary = Mapping[str, Any]
Chance = Mapping[str, Any]

LEAST_SHOWN = 0.001  # less than this is said to be under it
FAR_APART = 1_000
COUNTED_BELOW = 100  # runs: fewer are shown as counted, "2 of 3 years"
NO_INTERVAL = "no interval"
IN_FILES = "Files and keys call it a stock-out, whether cylinders ran out or the power failed."
WHOLE_WORDS = ("day", "week", "month", "year")  # units that are written out, and so have a plural


def chosen_of(summary: Summary) -> str:
    """Return the strategy that a report is about and marks as chosen; an empty text where none is to be marked."""
    return str(summary.get("chosen", ""))


def stock_out_note(hospital: Hospital) -> str:
    """Return what a supply shortfall and an interruption are, by the scenario's tolerated gap and rule."""
    rule, gap = hospital.shortfall, format_duration(hospital.tolerated_gap_s)
    if rule.as_before:
        return (
            f"Interruption: someone in need goes without oxygen for longer than {gap} "
            "(the tolerated gap: a counting threshold, not a safe time). Supply shortfall: one for lack of "
            "supply, "
            "as no source could serve; no staff could have prevented it. The rest are matters of handling. "
            f"{IN_FILES}"
        )
    share = f"{rule.enough_permille / 10:g} %"
    less = f", or less than {share} of the prescribed flow" if rule.enough_permille else ""
    recovery = f"{format_duration(rule.recovery_s)} of unbroken service" if rule.recovery_s else "any service"
    stock_out = (
        "Supply shortfall: for longer than that, in one spell, no source could serve, however quick the staff."
        if rule.counted_by == "supply clock"
        else "Supply shortfall: one whose cause as the tolerance was crossed was lack of supply."
    )
    short = f"Short: someone in need gets nothing{less}; a spell of it is over after {recovery}."
    return (
        f"{short} Interruption: short for longer than {gap} (the tolerated gap: a counting threshold, not a safe "
        f"time), in one spell. {stock_out} {IN_FILES}"
    )


def for_readers(label: str) -> str:
    """Return the label of a result in a reader's words: what files call a stock-out is a supply shortfall."""
    return label.replace("stock-out", "supply shortfall")


def capital(text: str) -> str:
    """Return a text that begins with a capital letter."""
    return text[:1].upper() + text[1:]


def number(value: float) -> str:
    """Return a number with three significant figures, thousands apart: 0.0123, 4.57, 12,300."""
    if not math.isfinite(value):
        return "unknown"
    if value == 0:
        return "0"
    digits = 2 - math.floor(math.log10(abs(value)))
    rounded = round(value, digits)
    text = f"{rounded:,.{max(digits, 0)}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def amount(value: float) -> str:
    """Return what is counted as people read it: "under 0.001" for less, else as `number` has it."""
    return f"under {LEAST_SHOWN}" if 0 < value < LEAST_SHOWN else number(value)


def end_beside(end: float, other: float) -> str:
    """Return the size of an end of a range: with one digit where the other end is over a thousand times it."""
    size = abs(end)
    if not 0 < size < abs(other) / FAR_APART:
        return number(size)
    digits = -math.floor(math.log10(size))
    return f"{round(size, digits):,.{max(digits, 0)}f}"


def days_down(days: float) -> str:
    """Return days to a tenth, rounded down: what is on hand never lasts longer than is said."""
    if 0 < days < 0.1:
        return "under 0.1"
    return f"{math.floor(10 * days + 1e-9) / 10:,.1f}".removesuffix(".0")


def percent(share: float) -> str:
    """Return a share as a percentage that never rounds a possibility to certainty: 0.99983 gives "99.983 %"."""
    if 0 < share < 1e-6:
        return "under 0.0001 %"
    if 1 - 1e-6 < share < 1:
        return "over 99.9999 %"
    if 0.99 < share < 1:
        return f"{100 * share:.{1 - math.floor(math.log10(100 * (1 - share)))}f}".rstrip("0").rstrip(".") + " %"
    return f"{100 * share:.3g} %"


def spread(interval: Mapping[str, Any] | None, say: Callable[[float], str] = amount) -> str:
    """Return "mean (low–high)" of a {mean, low, high}; "mean (no interval)" without bounds, "-" for None."""
    if interval is None:
        return "-"
    if interval["low"] == interval["high"] is not None:
        return say(interval["mean"])
    return _with_range(interval["mean"], interval, say)


def percent_range(chance: Chance) -> str:
    """Return "5 % (2.8–9)" of a probability with its interval."""
    return _with_range(chance["estimate"], chance, percent)


def _with_range(middle: float, item: Mapping[str, Any], say: Callable[[float], str]) -> str:
    """Return "middle (low–high)" without the sign of percent, "to" between the two where one is negative."""
    if item["low"] is None or item["high"] is None:
        return f"{say(middle)} ({NO_INTERVAL})"
    low, high = say(item["low"]), say(item["high"])
    join = " to " if "-" in low + high or not (low[0] + high[0]).isdigit() else "–"
    return f"{say(middle)} ({low.removesuffix(' %')}{join}{high.removesuffix(' %')})"


def is_year(horizon_days: float) -> bool:
    """Return True where the horizon may be called a year: 365 days, give or take one."""
    return abs(horizon_days - 365) <= 1


def span(horizon_days: float) -> str:
    """Return the horizon in words, never rounded: "a year", "2 years", "28 days", "36 h", "90 min"."""
    if is_year(horizon_days):
        return "a year"
    years = round(horizon_days / 365.25)
    if years > 1 and 365 * years - 1 <= horizon_days <= 365.25 * years + 1:
        return f"{years:,} years"
    minutes = round(horizon_days * 1_440)
    if horizon_days == round(horizon_days) or minutes >= 2 * 1_440:
        return f"{horizon_days:,.10g} day" + ("s" if horizon_days != 1 else "")
    if minutes % 60 and minutes >= 120:
        return f"{minutes // 60} h {minutes % 60:02d} min"
    return f"{minutes // 60} h" if minutes % 60 == 0 else f"{minutes} min"


def a_point(count: int) -> str:
    """Return how many replications were run at each point: "200 replications a point"."""
    return f"{count:,} replication{'' if count == 1 else 's'} a point"


def runs(count: int, horizon_days: float) -> str:
    """Return "1 year", "200 years", or "200 runs of 28 days" where the horizon is not a year."""
    return f"{count:,} {_runs_word(horizon_days, count)}"


def _runs_word(horizon_days: float, count: int = 2) -> str:
    plural = "s" if count != 1 else ""
    return f"year{plural}" if is_year(horizon_days) else f"run{plural} of {span(horizon_days)}"


def out_of(chance: Chance) -> int:
    """Return the denominator for a chance: 100, or 1,000 where it would be rounded to none or to all."""
    share = chance["estimate"]
    if share in (0, 1):
        bound = chance["high"] if share == 0 else chance["low"]
        share = share if bound is None else bound
    return 1_000 if 0 < min(share, 1 - share) < 0.01 else 100


def short_frequency(chance: Chance, replications: int, horizon_days: float, size: int = 0) -> str:
    """Return a probability as a natural frequency: "5 in 100 years", "2 of 3 years", "none seen in 200 years".

    Fewer than 100 runs are shown as they were counted. size: 100 or 1,000, to have one denominator within a
    sentence; by default that of out_of.
    """
    seen, word = runs(replications, horizon_days), _runs_word(horizon_days)
    if chance["estimate"] <= 0:
        return f"none seen in {seen}"
    if chance["estimate"] >= 1:
        return f"all {seen}" if replications > 1 else f"the only {_runs_word(horizon_days, 1)}"
    if replications < COUNTED_BELOW:
        return f"{half_up(chance['estimate'] * replications):,} of {seen}"
    size = size or out_of(chance)
    count = half_up(chance["estimate"] * size)
    if count in (0, size):
        return f"fewer than 1 in {size:,} {word}" if count == 0 else f"more than {size - 1:,} in {size:,} {word}"
    return f"{count:,} in {size:,} {word}"


def frequency(chance: Chance, replications: int, horizon_days: float, size: int = 0) -> str:
    """Return the natural frequency with its range: "5 in 100 years (2 to 9)", "2 of 3 years (chance 9 to 99 %)".

    Never zero and never certain: "none seen in 200 years (could be up to 2 in 100)". Without bounds in the
    summary it says "no interval".
    """
    said = short_frequency(chance, replications, horizon_days, size)
    if said.startswith("all "):
        said = "every one of" + said.removeprefix("all")
    return f"{said} ({_frequency_range(chance, replications, size or out_of(chance))})"


def _frequency_range(chance: Chance, replications: int, size: int) -> str:
    low, high = chance["low"], chance["high"]
    if low is None or high is None:
        return NO_INTERVAL
    counted = replications < COUNTED_BELOW
    size = 100 if counted else size
    least, most = math.floor(low * size + 1e-9), math.ceil(high * size - 1e-9)
    if chance["estimate"] <= 0:
        return f"chance up to {most} %" if counted else f"could be up to {most:,} in {size:,}"
    if chance["estimate"] >= 1:
        return f"chance at least {least} %" if counted else f"could be as few as {least:,} in {size:,}"
    if counted:
        return f"chance {half_up(low * 100)} to {half_up(high * 100)} %"
    return f"{half_up(low * size):,} to {half_up(high * size):,}"


def half_up(value: float) -> int:
    """Return a number of at least 0 rounded to a whole one, halves up, as people expect."""
    return math.floor(value + 0.5 + 1e-9)


def hours_minutes(seconds: int) -> str:
    """Return a time rounded down to whole minutes, as a bedside table must: "21 h 29 min"."""
    minutes = int(seconds) // 60
    return f"{minutes // 60:,} h {minutes % 60:02d} min"


def joined(names: Sequence[str]) -> str:
    """Return "a", "a and b", "a, b and c"."""
    return " and ".join([", ".join(names[:-1]), names[-1]] if len(names) > 1 else list(names))


def quoted(names: Sequence[str]) -> str:
    """Return names in quotation marks, joined."""
    return joined([f"“{name}”" for name in names])


def money(value: float, currency: str) -> str:
    """Return an amount with its currency, three significant figures: "USD 12,300"."""
    return f"{currency} {number(value)}".strip()


UNITS_OF_DIFFERENCES = {  # measure: unit and factor; of any other it has no unit
    CHANCE: (" percentage points", 100.0),
    FILL: (" percentage points", 100.0),
    HOURS: (" h", 1.0),
}


def difference(item: Mapping[str, Any], sign: int = 1) -> str:
    """Return one paired difference in words, such as "supply shortfalls a year 54.6 lower (48.4 to 60.9)".

    sign: -1 for the difference taken the other way round.
    """
    from o2sim.measures.table import NAMED  # which loads the engine

    measure = item["measure"]
    known = NAMED.get(measure)
    head = known.head_a_year if known and known.head else str(measure).replace("_", " ")
    name = f"{head[0].lower()}{head[1:]}"
    unit, factor = UNITS_OF_DIFFERENCES.get(measure, ("", 1.0))
    mean = item["mean"] * sign * factor
    change = f"{number(abs(mean))}{unit} {'lower' if mean < 0 else 'higher'}"
    if item["low"] is None or item["high"] is None:
        return f"{name} {change if mean else 'the same in every run'} ({NO_INTERVAL})"
    low, high = sorted((item["low"] * sign * factor, item["high"] * sign * factor))
    if low <= 0 <= high:
        return f"{name} not clearly different ({_signed(low, high)} to {_signed(high, low)}{unit})"
    least, most = sorted((abs(low), abs(high)))
    return f"{name} {change} ({end_beside(least, most)} to {number(most)})"


def differences(summary: Summary, best: str) -> list[tuple[str, list[str]]]:
    """Return (heading, differences in words) of the best strategy against each other one."""
    pairs: dict[str, list[str]] = {}
    for item in summary["differences"]:
        if best in (item["from"], item["to"]):
            other, sign = (item["from"], 1) if item["to"] == best else (item["to"], -1)
            pairs.setdefault(other, []).append(difference(item, sign))
    return [(f"“{best}” compared with “{other}”", said) for other, said in pairs.items()]


def _signed(value: float, other: float) -> str:
    return f"{'-' if value < 0 else '+' if value > 0 else ''}{end_beside(value, other)}"


def axis_words(path: str, unit: str = "") -> str:
    """Return the label of an axis: what the key means, and below it the key itself with its unit."""
    key = f"{path} ({many(unit)})" if unit else path
    said = meaning(path)
    return f"{said[0].upper()}{said[1:]}\n{key}" if said else key


def many(unit: str) -> str:
    """Return a unit as it stands beside an axis or after several: days, but h."""
    return f"{unit}s" if unit in WHOLE_WORDS else unit


def moved_along(levels: Sequence[str]) -> str:
    """Return that levels move with the fleet, an empty text where none does."""
    if not levels:
        return ""
    verb, them = ("moves", "it") if len(levels) == 1 else ("move", "them")
    return f"{joined(levels)} {verb} with the fleet by the same number (--hold-levels keeps {them})."


def beside_fleet(result: Mapping[str, Any]) -> str:
    """Return in a sentence or two which levels moved with a fleet that varies, which not; empty without one."""
    if result["levels"] is None:
        return ""
    varied = result["levels_varied"]
    own = f"{joined(varied)} {'is varied itself' if len(varied) == 1 else 'are varied themselves'}"
    if result["levels"] == "moved":
        return f"{moved_along(result['levels_moved'])}{f' {own}, so held beside it.' if varied else ''}"
    rest = f"; {own}" if varied else ""
    return f"The levels of the reorder rule are held while the fleet changes{rest}."


def under_title(result: Mapping[str, Any]) -> list[str]:
    """Return the same as a line under the title of a drawing, none where no fleet varies beside levels."""
    said = {"moved": "levels of the reorder rule moved with the fleet", "held": "levels of the reorder rule held"}
    return [said[result["levels"]]] if result["levels"] else []
