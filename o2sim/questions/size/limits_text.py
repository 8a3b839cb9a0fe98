"""What limits a sizing in which no value was enough, and what to try instead, in words.

The cure follows from the cause that is left at the best value: more of what is sized only where its curve still
falls at the upper end of the range, and where more of it is a cure for that cause at all.
"""

from __future__ import annotations

from collections.abc import Sequence

from o2sim.looks.words import joined, percent, quoted
from o2sim.outcome import CAUSE_LABELS, Cause
from o2sim.questions.size.result import SizingResult
from o2sim.scenario.changing.level_pairs import LEVELS_TOGETHER

MOST_CAUSES = 5
NEARLY_ALL = 0.95
LEAST_POINTS = 3  # of a curve, to see where it is flat
CURES = {  # cause: (beginnings of the fields that are a cure, the cures in words)
    Cause.NO_CYLINDER: (
        ("cylinders.fleet", "cylinders.full_at_start", "resupply", "concentrators", "power"),
        "more cylinders (cylinders.fleet, with which the levels move), or a shorter lead time, review period or "
        "closure of the road",
    ),
    Cause.NO_POWER: (
        ("power", "cylinders.fleet"),
        "a battery whose inverter and charger carry all the units, a generator that starts surely and has fuel "
        "for the longest cut, or cylinders for the cuts",
    ),
    Cause.CONCENTRATOR_DOWN: (
        ("concentrators",),
        "a unit more than is needed, quicker repair, or cylinders to bridge it",
    ),
    Cause.CONCENTRATORS_FULL: (
        ("concentrators", "power"),
        "more units or outlets (concentrators.count), or cylinders beside them",
    ),
    Cause.FLOW_TOO_HIGH: (
        ("concentrators.rated_flow", "concentrators.models", "concentrators.units"),
        "units of a higher rated flow, two units for one patient where their makers allow it "
        "(allocation.two_units), or cylinders for these patients",
    ),
    Cause.OUTLETS_FULL: (("manifold.outlets",), "more outlets on the manifold, or cylinders at the bedside"),
    Cause.NO_FUNDS: (
        ("funds",),
        "more money for gas, or the same money sooner (funds); a larger stock only bridges money that comes late",
    ),
    Cause.NO_REGULATOR: (("cylinders.regulator",), "more regulators (cylinders.regulators); more gas cures none"),
    Cause.NO_DELIVERY_SET: (("bedside",), "more humidifiers or delivery sets (bedside); more gas cures none"),
    Cause.CHANGEOVER: (("cylinders.change_time",), "quicker changes (cylinders.change_time)"),
    Cause.RAN_EMPTY_UNSEEN: (
        ("cylinders.gauge_check", "cylinders.check_times", "cylinders.missed_check"),
        "looks at the gauges more often, above all by night (cylinders.gauge_check); no stock cures it",
    ),
    Cause.WAITING_FOR_STAFF: (
        ("staff", "response_time"),
        "more hands (staff) or a quicker response (response_time)",
    ),
}
LEVELS = ("resupply.reorder_point", "resupply.order_up_to", LEVELS_TOGETHER)
_BY_LABEL = {label: cause for cause, label in CAUSE_LABELS.items()}


def limits(result: SizingResult) -> str:
    """Return the causes left at the best value, whether more of it would help, and what to try."""
    seen = result.measured
    if seen is None or not seen.chance_by_cause:
        return ""
    causes = sorted(seen.chance_by_cause.items(), key=lambda each: -each[1])
    split = joined([f"{label} in {percent(part)}" for label, part in causes[:MOST_CAUSES]])
    left = [label for label, _ in causes if label in result.causes]
    flat = plateau(result)
    parts = [f"At that value replications are interrupted for: {split}."]
    if flat is not None:
        parts.append(f"From {result.vary[0].field} {flat} on, more of it lowers the chance by nothing seen.")
    if cures := _to_try(result, left, flat is not None):
        parts.append(f"What to try: {'; '.join(cures)}.")
    return " ".join(parts)


def plateau(result: SizingResult) -> str | None:
    """Return the value of a single field from which more of it lowers the chance by nothing seen.

    None where the curve still falls in the upper half of the range, or with too few points. Where nearly all fail
    at the last value the range may only be too low.
    """
    curve = result.curve
    if not result.in_a_row or len(curve) < LEAST_POINTS or curve[-1].estimate > NEARLY_ALL:
        return None
    flat = len(curve) - 1
    while flat > 0 and curve[flat - 1].estimate <= curve[-1].estimate:
        flat -= 1
    return curve[flat].values[result.vary[0].field] if flat <= len(curve) // 2 else None


def _to_try(result: SizingResult, left: Sequence[str], flat: bool) -> list[str]:
    """Return what to try against the causes left, the commonest first."""
    fields = [each.field for each in result.vary]
    cures = []
    if not flat and any(field.startswith(CURES[_BY_LABEL[label]][0]) for field in fields for label in left[:1]):
        cures.append("raise the upper end of the range")
    if all(field in LEVELS for field in fields):
        cures = ["a level above the fleet orders nothing more: size cylinders.fleet, with which the levels move"]
    return cures + [f"against {quoted([label])} {CURES[_BY_LABEL[label]][1]}" for label in left[:2]]
