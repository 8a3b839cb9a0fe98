"""What is legal but doubtful between a delivery device, the flow through it, and the size of who wears it."""

from __future__ import annotations

from collections.abc import Iterator

from o2sim.scenario.checks.doubt import Doubt
from o2sim.scenario.types.hospital import Hospital, PatientClass
from o2sim.scenario.types.laws import share_above

LEAST_ML_MIN = {  # below it breath is taken in again: WHO 2016, from memory, and common practice
    "face mask": 5_000,
    "non-rebreather mask": 10_000,
}
MASK_MOST_ML_MIN = 10_000  # above it a reservoir is used: common practice
MOST_ML_MIN = {  # by device, then by size; None: adults, and where no size is stated
    # Under 2 years 2 L/min, above 4: NSW Agency for Clinical Innovation, 2019, read. Newborns 1 L/min, adults 6:
    # WHO 2016, from memory.
    "nasal prongs": {"preterm": 1_000, "newborn": 1_000, "infant": 2_000, "child": 4_000, None: 6_000},
    # As prongs: WHO 2016 gives less by age, from memory; no more than these.
    "nasal catheter": {"preterm": 1_000, "newborn": 1_000, "infant": 2_000, "child": 4_000, None: 6_000},
    "nasopharyngeal catheter": {"preterm": 500, "newborn": 500, "infant": 1_000, "child": 2_000, None: 4_000},
}
ANY_DEVICE_ML_MIN = {"preterm": 3_000, "newborn": 5_000}  # where no device is stated: as much as a head box takes
# What classes of newborns are called in some languages, from memory.
NEWBORNS = ("newborn", "neonat", "preterm", "prematur", "baby", "babies", "nicu", "scbu", "kangaroo", "nouveau",
            "néonat", "prématur", "recién", "recien", "neonato", "bebé", "bebe", "recém", "kichanga",
            "watoto wachanga")  # fmt: skip
NOTABLE = 0.1  # share of a class beyond a limit: laws have tails, and one in ten is no tail
_SMALL = ("preterm", "newborn")


def devices_and_flows(hospital: Hospital) -> Iterator[Doubt]:
    """Yield flows that a device is not used with, and flows above what the wearer's size may have."""
    for kind in hospital.patients:
        if kind.delivery in LEAST_ML_MIN:
            yield from _too_little(kind, kind.delivery)
        if kind.delivery == "face mask":
            yield from _for_a_reservoir(kind)
        if kind.delivery in MOST_ML_MIN:
            yield from _too_much(kind, kind.delivery)
        elif kind.delivery is None and kind.size in ANY_DEVICE_ML_MIN:
            yield from _much_for_so_small(kind, kind.size)


def _too_little(kind: PatientClass, device: str) -> Iterator[Doubt]:
    """Yield a flow at the start at which breath is taken in again; who is turned down later changes to prongs."""
    least = LEAST_ML_MIN[device]
    share = 1 - share_above(kind.flow_ml_min, least - 1)
    if share > NOTABLE:
        found = f"{100 * share:.0f} % of {kind.name} have less than {least / 1000:g} L/min, by {device}"
        hint = f"below it breath is taken in again; check the flow, or {_other(kind)}"
        yield f"patients.{kind.name}.delivery", found, hint


def _other(kind: PatientClass) -> str:
    """Return the device that the flows of a class go with."""
    if share_above(kind.flow_ml_min, _most("nasal prongs", kind)) <= NOTABLE:
        return "if they wear prongs write delivery: nasal prongs"
    return "if they have no reservoir write delivery: face mask"


def _for_a_reservoir(kind: PatientClass) -> Iterator[Doubt]:
    share = share_above(kind.flow_ml_min, MASK_MOST_ML_MIN)
    if share > NOTABLE:
        found = (
            f"{100 * share:.0f} % of {kind.name} have more than {MASK_MOST_ML_MIN / 1000:g} L/min, by face mask"
        )
        hint = "usually with a reservoir; if they have one write delivery: non-rebreather mask"
        yield f"patients.{kind.name}.delivery", found, hint


def _most(device: str, kind: PatientClass) -> int:
    limits = MOST_ML_MIN[device]
    return limits.get(kind.size, limits[None])


def _too_much(kind: PatientClass, device: str) -> Iterator[Doubt]:
    """Yield a flow above what prongs or a catheter usually give at a size."""
    most = _most(device, kind)
    share = share_above(kind.flow_ml_min, most)
    if share > NOTABLE:
        size = f" of size {kind.size}" if kind.size else ""
        found = f"{100 * share:.0f} % of {kind.name}{size} have more than {most / 1000:g} L/min, by {device}"
        masks = share_above(kind.flow_ml_min, LEAST_ML_MIN["face mask"] - 1) > 1 - NOTABLE
        mask = ", or if they wear masks write delivery: face mask" if masks else ""
        yield f"patients.{kind.name}.delivery", found, f"usually no more at that size; check flow and size{mask}"


def _much_for_so_small(kind: PatientClass, size: str) -> Iterator[Doubt]:
    most = ANY_DEVICE_ML_MIN[size]
    share = share_above(kind.flow_ml_min, most)
    if share > NOTABLE:
        found = f"{100 * share:.0f} % of {kind.name} of size {size} have more than {most / 1000:g} L/min"
        yield f"patients.{kind.name}.flow", found, "that is much for so small a patient; check flow and size"


def sizes_without_newborns(hospital: Hospital) -> Iterator[Doubt]:
    """Yield classes of size preterm in a hospital that has no newborns by name, nor another such class by size."""
    if any(word in kind.name.casefold() for kind in hospital.patients for word in NEWBORNS):
        return
    if any(kind.size == "newborn" for kind in hospital.patients):
        return
    for kind in hospital.patients:
        if kind.size == "preterm":
            found = "preterm, but no class here is of newborns"
            hint = "which size are they? the others are newborn, infant, child and adult"
            yield f"patients.{kind.name}.size", found, hint
