"""A hospital in; the state of its wards out: one ward where none is named."""

from __future__ import annotations

from dataclasses import dataclass

from o2sim.model.bank import ConcentratorBank
from o2sim.model.store import CylinderStore
from o2sim.scenario.types.hospital import Hospital


@dataclass(slots=True, eq=False)
class WardState:
    """One ward: its regulators, and the full cylinders that are kept on it (CylinderStore.bedside)."""

    number: int
    regulators: int
    regulators_free: int
    most_bedside: int
    coming: int = 0  # cylinders on their way from the store to be kept here
    held: int = 0  # of the cylinders kept here, the ones that staff are about to connect


def open_wards(hospital: Hospital, store: CylinderStore | None, bank: ConcentratorBank | None) -> list[WardState]:
    """Return the wards with their units, numbered ward by ward, and their bedside cylinders in place."""
    regulators = sum(each.count for each in hospital.cylinders.usable_sets) if hospital.cylinders else 0
    wards = [
        WardState(number, ward.regulators, ward.regulators, ward.bedside_cylinders)
        for number, ward in enumerate(hospital.wards)
    ] or [WardState(0, regulators, regulators, 0)]
    if bank is not None and hospital.wards:
        homes = [number for number, ward in enumerate(hospital.wards) for _ in range(ward.concentrators)]
        for unit, home in zip(bank.units, homes, strict=True):
            unit.ward = home
    if store is not None:  # of the size that is kept on wards
        store.bedside.extend(type(store.fills)() for _ in wards)
        for ward in wards:
            store.stock_ward(ward.number, ward.most_bedside)
    return wards


def wards_of_classes(hospital: Hospital) -> list[int]:
    """Return the number of the ward of each class of patients."""
    names = [ward.name for ward in hospital.wards]
    return [names.index(kind.ward) if names else 0 for kind in hospital.patients]
