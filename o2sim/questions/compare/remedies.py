"""A summary in; what would cure the hours lost for want of equipment at the bedside out, in words."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from o2sim.looks.words import Summary, joined, number, quoted
from o2sim.outcome import Cause

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
    """Return a sentence for each cause that is worth telling of some strategy, an empty text where none is."""
    return "".join(_remedy(summary, names, cause) for cause in REMEDIES)


def _remedy(summary: Summary, names: Sequence[str], cause: Cause) -> str:
    lost = {name: _hours(summary["strategies"][name], cause) for name in names}
    told = [
        f"{number(hours)} patient-hours a year under {quoted([name])}" for name, hours in lost.items() if hours
    ]
    missing, cure = REMEDIES[cause]
    return f" For want of {missing}, {joined(told)} are lost: {cure}." if told else ""


def _hours(item: Mapping[str, Any], cause: Cause) -> float:
    """Return the hours lost by a cause, 0 where they are not worth telling."""
    hours = float(item["unserved_hours_by_cause"].get(cause.label, {"mean": 0.0})["mean"])
    least = max(WORTH_TELLING_H, WORTH_TELLING_SHARE * float(item["unserved_patient_hours"]["mean"]))
    return hours if hours >= least else 0.0
