"""Turn a hospital into what compiled code reads, once for all its replications."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy.typing as npt

from o2sim.compiler import jit
from o2sim.draws.philox import stable_hash
from o2sim.draws.season import mean_need
from o2sim.draws.spells import spell_records
from o2sim.model.kernel import layout, records
from o2sim.model.kernel.packing import NUMBER
from o2sim.scenario.types.bedside import ALWAYS_HUMIDIFIED
from o2sim.scenario.types.hospital import Hospital
from o2sim.scenario.types.records import listed_cuts
from o2sim.scenario.types.spells import gaps, window_spells

Array = npt.NDArray[Any]
_KEPT = 64
_packed: list[PackedHospital] = []


@dataclass(frozen=True, eq=False)
class PackedHospital:
    """A hospital as compiled code reads it; whatever is pointed to is kept."""

    hospital: Hospital
    rules: Array
    classes: Array
    words: Array
    sending: Array
    devices: Array
    mean_need: Array
    cuts: Array  # all but those of recorded days that are drawn
    generator_gaps: Array
    kept: tuple[Array, ...]
    spare: list[Any] = field(default_factory=list)  # memory of runs that are over, for the next one


def pack(hospital: Hospital) -> PackedHospital:
    """Return a hospital packed; the same object for the same one."""
    for packed in reversed(_packed):
        if packed.hospital is hospital:
            return packed
    kept: list[Array] = []
    rules = records.RULES.pack(hospital, kept)
    classes = jit.memory(records.CLASS.dtype, len(hospital.patients))
    words = jit.memory(records.CLASS_WORD, len(hospital.patients))
    for place, kind in enumerate(hospital.patients):
        classes[place] = records.CLASS.pack(kind, kept)[0]
        words[place].word = stable_hash(kind.name)
    stock = _sending(hospital), _devices(hospital), _mean_need(hospital)
    spells = spell_records(listed_cuts(hospital)), spell_records(_hours(hospital))
    _packed.append(PackedHospital(hospital, rules, classes, words, *stock, *spells, tuple(kept)))
    del _packed[:-_KEPT]
    return _packed[-1]


def _sending(hospital: Hospital) -> Array:
    """Return how the patients of each class are sent on."""
    array = jit.memory(records.SENDING, len(hospital.patients))
    for place in range(len(hospital.patients)):
        rule = hospital.transfer_of(place)
        if rule is None:
            array[place] = (layout.NONE, 0, False, False, 0)
            continue
        on_the_way = rule.oxygen_on_board, rule.with_cylinder, rule.back_after_s
        array[place] = (rule.after_s, rule.travel_s, *on_the_way)
    return array


def _devices(hospital: Hospital) -> Array:
    """Return the device of each class: its place among the limited delivery sets, NONE for no limit.

    Beside it, whether its patients are given a back-up.
    """
    backups = hospital.cylinders.backup if hospital.cylinders else None
    limited = [device for device, _ in hospital.bedside.delivery_sets]
    array = jit.memory(records.DEVICE, len(hospital.patients))
    for place, kind in enumerate(hospital.patients):
        among = limited.index(kind.delivery) if kind.delivery in limited else layout.NONE
        dry_above_ml_min = hospital.bedside.dry_above_ml_min(kind.size)
        backup = backups is not None and kind.name in backups.classes
        array[place] = (among, kind.delivery in ALWAYS_HUMIDIFIED, dry_above_ml_min, backup)
    return array


def _mean_need(hospital: Hospital) -> Array:
    """Return the season's mean need of each day, where there are cylinders."""
    found = mean_need(hospital) if hospital.cylinders else []
    array = jit.memory(NUMBER, len(found))
    array["value"][: len(found)] = found
    return array


def _hours(hospital: Hospital) -> tuple[tuple[int, int], ...]:
    """Return the spells in which the generator may not run."""
    generator = hospital.power.generator if hospital.power else None
    if generator is None or not generator.hours:
        return ()
    allowed = window_spells(generator.hours, hospital.start, hospital.warm_up_s, hospital.end_s)
    return gaps(allowed, hospital.end_s)
