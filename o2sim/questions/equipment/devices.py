"""What stands at the bedside of a class of patients at a flow: device, size, flowmeter, humidifier.

Humidifiers go by the rule of the model (steps/delivery.py); a device that is left out goes by the flow.
"""

from __future__ import annotations

from dataclasses import dataclass

from o2sim.scenario.types.bedside import ALWAYS_HUMIDIFIED
from o2sim.scenario.types.hospital import Hospital, PatientClass

# Adults: prongs to 5, masks 6-10, reservoir 10-15 L/min (WHO 2016, from memory).
DEVICES = ((5_000, "nasal prongs"), (10_000, "face mask"))
RESERVOIR = "non-rebreather mask"
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
    usual = next((name for most, name in DEVICES if flow_ml_min <= most), RESERVOIR)
    device = kind.delivery or usual
    size = kind.size or f"for {kind.name}"
    humidifier = device in ALWAYS_HUMIDIFIED or flow_ml_min > hospital.bedside.dry_above_ml_min(kind.size)
    flowmeter = next((name for most, name in FLOWMETERS if flow_ml_min <= most), HIGHER)
    return Bedside(device, size, humidifier, flowmeter)
