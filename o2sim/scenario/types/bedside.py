"""What a scenario says of the equipment at the bedside: regulator sets, splitters, humidifiers, delivery sets."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import ClassVar

from o2sim.scenario.keys.field import COMMON, HIGHEST_COUNT, Field, Section
from o2sim.scenario.keys.record import Key, key, of_file, part, whole_key
from o2sim.scenario.keys.sources import WHO_2016
from o2sim.scenario.types.owned import age_of_owned, count_owned

VALVES = ("bullnose", "pin-index", "CGA 540")
DEVICES = ("nasal prongs", "nasal catheter", "nasopharyngeal catheter", "face mask", "non-rebreather mask")
ALWAYS_HUMIDIFIED = ("nasopharyngeal catheter",)  # gas that is not moistened in the nose: WHO 2016, from memory
HUMIDIFY_ABOVE = {"preterm": 1_000, "newborn": 1_000, "infant": 2_000}  # mL/min by size of a patient: WHO_2016
ELSE_HUMIDIFY_ABOVE = 4_000  # children, adults, and where no size is stated: WHO_2016
ANY_FLOW_ML_MIN = 1_000_000  # beyond any patient


@dataclass(frozen=True)
class RegulatorSet:
    """So many like sets of regulator and flowmeter: which flows they can be set to, which valve they fit."""

    count: int = whole_key("sets of this kind", required=True)
    owned: ClassVar[Key] = count_owned()
    owned_age: ClassVar[Key] = age_of_owned()
    flowmeter: ClassVar[Key] = of_file(
        key("section", "flows it can be set to, the same at each outlet of a splitter", otherwise="any flow")
    )
    low_ml_min: int = key("flow", "lowest flow it can be set to", "0 L/min", COMMON, within="flowmeter")
    high_ml_min: int = key(
        "flow", "highest flow it can be set to", required=True, within="flowmeter", value=ANY_FLOW_ML_MIN
    )
    valve: str | None = key(  # None fits any
        "word", "fitting; a set whose fitting is not that of the cylinders cannot be used", words=VALVES,
        otherwise="fits the cylinders",
    )  # fmt: skip

    @property
    def width_ml_min(self) -> int:
        """Return the width of the range."""
        return self.high_ml_min - self.low_ml_min

    def fits(self, valve: str | None) -> bool:
        """Return True if it can be mounted on a valve; what is not stated fits."""
        return None in (self.valve, valve) or self.valve == valve

    def reads(self, flow_ml_min: int) -> bool:
        """Return True if the flowmeter can be set to a flow."""
        return self.low_ml_min <= flow_ml_min <= self.high_ml_min


@dataclass(frozen=True)
class Splitters:
    """So many flow splitters, each with so many outlets for patients who share a cylinder."""

    count: int = whole_key("flow splitters", required=True)
    owned: ClassVar[Key] = count_owned()
    owned_age: ClassVar[Key] = age_of_owned()
    outlets: int = whole_key("patients who can share a cylinder through one", None, 2, 20, required=True)


_COUNT = Field("", "whole", "used at once", least="0", most=str(HIGHEST_COUNT), words=(("unlimited", None),),
               otherwise="unlimited")  # fmt: skip
DELIVERY_SETS = Section(tuple(replace(_COUNT, name=device) for device in DEVICES))


def _limits(sets: Mapping[str, int | None]) -> tuple[tuple[str, int], ...]:
    """Return (delivery device, how many) of those of which there is a limited number."""
    found = ((device, sets[device]) for device in DEVICES)
    return tuple((device, count) for device, count in found if count is not None)


@dataclass(frozen=True)
class Bedside:
    """What a patient needs beside a source; None or left out is unlimited."""

    humidifiers: int | None = whole_key("used at once", words="unlimited", otherwise="unlimited")
    humidifiers_owned: ClassVar[Key] = count_owned()
    humidifiers_owned_age: ClassVar[Key] = age_of_owned()
    humidify_above_ml_min: int | None = key(  # None: by the size of a class
        "flow", "a higher flow needs a humidifier, and a nasopharyngeal catheter always", mark=WHO_2016,
        otherwise="by the size of a class: preterm and newborn 1 L/min, infant 2 L/min, child, adult and without "
        "a size 4 L/min", value=ELSE_HUMIDIFY_ABOVE,
    )  # fmt: skip
    delivery_sets: tuple[tuple[str, int], ...] = part(  # (delivery device, how many)
        DELIVERY_SETS, "prongs, catheters and masks that can be used at once", "unlimited", turned=_limits,
        value=(),
    )  # fmt: skip

    def dry_above_ml_min(self, size: str | None) -> int:
        """Return the flow above which a patient of a size needs a humidifier, whatever the device."""
        if self.humidify_above_ml_min is not None:
            return self.humidify_above_ml_min
        return HUMIDIFY_ABOVE.get(size or "", ELSE_HUMIDIFY_ABOVE)


UNLIMITED = Bedside()
