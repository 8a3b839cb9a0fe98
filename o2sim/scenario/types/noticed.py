"""Who notices between looks at the gauges that a cylinder has lost its flow: relatives, oximeters that alarm."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from o2sim.scenario.keys.record import Key, key, lasting, part_or_none, whole_key
from o2sim.scenario.types.laws import Law
from o2sim.scenario.types.owned import age_of_owned, count_owned


@dataclass(frozen=True)
class ByRelatives:
    """Relatives at the bed, who call staff."""

    share: float = key("share", "of the patients, those with a relative at the bed", required=True)
    after_s: Law = lasting("from the loss of flow until the relative calls staff", required=True, least="1 s")


@dataclass(frozen=True)
class ByOximeter:
    """Oximeters that stay on a patient and alarm, each for one patient at a time."""

    count: int = whole_key("oximeters that stay on a patient and alarm", least=1, required=True)
    owned: ClassVar[Key] = count_owned()
    owned_age: ClassVar[Key] = age_of_owned()
    after_s: Law = lasting("from the loss of flow until somebody comes to the alarm", required=True, least="1 s")
    cut_by_power: bool = key(
        "true or false",
        "an alarm due while neither the grid nor anything behind it gives power sounds once there is power again; "
        "without concentrators the grid alone counts", "false",
    )  # fmt: skip


@dataclass(frozen=True)
class Noticed:
    """Who notices a loss of flow before the next look at the gauge."""

    by_relatives: ByRelatives | None = part_or_none(ByRelatives, "relatives who call staff", "nobody calls")
    by_oximeter: ByOximeter | None = part_or_none(ByOximeter, "oximeters that alarm", "nothing alarms")
