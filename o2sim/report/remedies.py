"""A summary in; what would cure the hours lost for want of equipment at the bedside out, in words."""

from __future__ import annotations

from collections.abc import Sequence

from o2sim.outcome import Cause
from o2sim.report.words import Summary, number, quoted

WORTH_TELLING_H = 1.0  # patient-hours a year
WORTH_TELLING_SHARE = 0.1  # of all unserved hours of the strategy
REMEDIES = {
    Cause.NO_REGULATOR: (
        "a regulator that fits",
        "regulator sets with the right flowmeter and valve, or flow splitters, would cure them; more gas not",
    ),
    Cause.NO_DELIVERY_SET: (
        "a humidifier or a delivery set",
        "more of those would cure them; more cylinders or concentrators not",
    ),
}


def remedies(summary: Summary, names: Sequence[str]) -> str:
    """Return a sentence for each strategy and cause that is worth telling, an empty text where none is."""
    return "".join(_remedy(summary, name, cause) for name in names for cause in REMEDIES)


def _remedy(summary: Summary, name: str, cause: Cause) -> str:
    item = summary["strategies"][name]
    hours = float(item["unserved_hours_by_cause"].get(cause.label, {"mean": 0.0})["mean"])
    if hours < max(WORTH_TELLING_H, WORTH_TELLING_SHARE * float(item["unserved_patient_hours"]["mean"])):
        return ""
    missing, cure = REMEDIES[cause]
    return f" Under {quoted([name])} {number(hours)} patient-hours a year are lost for want of {missing}: {cure}."
