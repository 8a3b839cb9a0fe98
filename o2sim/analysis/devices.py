"""A class of patients and a flow in, what stands at such a bedside out: device, size, flowmeter, humidifier.

All that the scenario says of it is read in `bedside` and `stated`, and nowhere else.
"""

from __future__ import annotations

from collections.abc import Hashable
from dataclasses import dataclass

from o2sim.scenario.types import Hospital, PatientClass

PRONGS, MASK, RESERVOIR = "nasal prongs", "face mask", "non-rebreather mask"
PRONGS_TO_ML_MIN = 5_000  # adults: prongs to 5, masks 6-10, reservoir 10-15 L/min (WHO 2016)
MASK_TO_ML_MIN = 10_000
DRY_TO_ML_MIN = 4_000  # above, a humidifier: common practice
FLOWMETERS = ((2_000, "0–2 L/min"), (15_000, "0–15 L/min"))  # common practice; the finest that can be read
HIGHER = "above 15 L/min"
RANGES = (*(name for _, name in FLOWMETERS), HIGHER)


@dataclass(frozen=True, order=True)
class Bedside:
    """What one patient needs beside a source; size is in words, to stand after the device."""

    device: str
    size: str
    humidifier: bool
    flowmeter: str


def bedside(hospital: Hospital, kind: PatientClass, flow_ml_min: int) -> Bedside:
    """Return what a patient of a class needs at a flow.

    The device is the class's `delivery` where it states one, else by the flow; the size is the class's `size`,
    else it is left to the class, which is then named.
    """
    dry_to_ml_min = getattr(stated(hospital), "humidify_above_ml_min", DRY_TO_ML_MIN)
    device = str(getattr(kind, "delivery", None) or device_for(flow_ml_min))
    size = kind.size or f"for {kind.name}"
    humidifier = "nasopharyngeal" in device or flow_ml_min > dry_to_ml_min
    return Bedside(device, size, humidifier, flowmeter_for(flow_ml_min))


def stated(hospital: Hospital) -> Hashable:
    """Return what a scenario says of bedside equipment beyond the classes, None where it has no such section."""
    section: Hashable = getattr(hospital, "bedside", None)
    return section


def device_for(flow_ml_min: int) -> str:
    """Return the usual device for a flow."""
    if flow_ml_min <= PRONGS_TO_ML_MIN:
        return PRONGS
    return MASK if flow_ml_min <= MASK_TO_ML_MIN else RESERVOIR


def flowmeter_for(flow_ml_min: int) -> str:
    """Return the range of the flowmeter for a flow."""
    return next((name for most, name in FLOWMETERS if flow_ml_min <= most), HIGHER)
