"""What is said of cylinders of several sizes, in words: what each is for, its levels."""

from __future__ import annotations

from o2sim.looks.words import joined
from o2sim.money.listed import sends_cylinders
from o2sim.scenario.types.hospital import Hospital


def uses_of(hospital: Hospital, place: int) -> str:
    """Return what the size at a place of Cylinders.each is for, `no use` where the strategy has none for it."""
    stock = hospital.cylinders
    assert stock is not None
    found = (
        ("cylinder" in hospital.strategy.sources and place in stock.places_for("bedside"), "patients"),
        (hospital.has_backups and place in stock.places_for("backup"), "back-ups at the bed"),
        (sends_cylinders(hospital) and place in stock.places_for("transfer"), "patients who are sent on"),
    )
    return joined([words for holds, words in found if holds]) or "no use"
