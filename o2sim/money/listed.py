"""How many there are to be of each line of the list of equipment, and at what price; rules in types/listed.py."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from math import ceil

from o2sim.planning.at_once import patients_at_once
from o2sim.planning.by_model import models_of, outlets_of
from o2sim.scenario.types.hospital import Costs, Equipment, Hospital, Power
from o2sim.scenario.types.listed import KINDS, Kind

PATIENTS_PER_OXIMETER = 4
UNITS_PER_PART = 5  # a set of repair parts in stock
_SIZES = {"preterm": "newborn", "newborn": "newborn", "infant": "child", "child": "child"}


def quantities(hospital: Hospital) -> Iterator[tuple[Kind, int]]:
    """Yield each line that a strategy has a use for, and how many, if any: as stated, else by its rule."""
    stated = {each.key: each.count for each in hospital.equipment}
    for kind in KINDS:
        count = RULES[kind.key](hospital)
        if count:
            count = stated.get(kind.key, count)
        if count:
            yield kind, count


def priced(hospital: Hospital) -> Iterator[tuple[str, int, Equipment, float]]:
    """Yield (line, how many, equipment, money a year of each) of those with a price: see cost.owned."""
    costs = hospital.costs
    if costs is None or not (costs.equipment or costs.prices_left_out == "published"):
        return  # nothing is counted: this is asked once a replication
    for kind, count in quantities(hospital):
        each = price_of(costs, kind)
        if each is not None and kind.yearly:
            yield kind.item, count, Equipment(), each.price
        elif each is not None:
            yield kind.item, count, each, 0.0


def price_of(costs: Costs, kind: Kind) -> Equipment | None:
    """Return what one costs: as stated, or as published where that is asked for; None for a price to be asked."""
    for each in costs.equipment:
        if each.key == kind.key:
            return each.each
    if costs.prices_left_out == "asked" or kind.published is None:
        return None
    return Equipment(kind.published, life_of(kind) or 1.0)


def life_of(kind: Kind) -> float | None:
    """Return the years that a line lasts where no price says otherwise; None for what is used up."""
    return float(kind.life.removesuffix(" years")) if kind.life else None


def has_sets(hospital: Hospital) -> bool:
    """Return True where regulator sets are used: an outlet of a manifold has a flowmeter of its own."""
    at_beds = "cylinder" in hospital.strategy.sources or hospital.has_backups
    return hospital.cylinders is not None and (at_beds or sends_cylinders(hospital))


def sends_cylinders(hospital: Hospital) -> bool:
    """Return True where cylinders go with patients who are sent on."""
    rules = (hospital.transfer_of(number) for number in range(len(hospital.patients)))
    return any(rule is not None and rule.with_cylinder for rule in rules)


def has_cylinders_at_hand(hospital: Hospital) -> bool:
    """Return True where patients here may be given cylinders, and not only those who are sent on."""
    sources = hospital.strategy.sources
    return hospital.has_backups or (
        hospital.cylinders is not None and {"cylinder", "manifold"} & {*sources} != set()
    )


def _regulators(hospital: Hospital) -> int:
    stock = hospital.cylinders
    return stock.regulators if stock is not None and has_sets(hospital) else 0


def _units(hospital: Hospital) -> int:
    return 0 if hospital.concentrators is None else hospital.concentrators.count


def _outlets(hospital: Hospital) -> int:
    piped = hospital.manifold.outlets if hospital.manifold is not None else 0
    return piped + outlets_of(hospital.concentrators)


def _wards(hospital: Hospital) -> int:
    return len(hospital.wards) or 1


def _points(hospital: Hospital) -> int:
    """Return the points of use that need a back-up: all outlets of units where no cylinders are for patients."""
    return 0 if has_cylinders_at_hand(hospital) else outlets_of(hospital.concentrators)


def _oximeters(hospital: Hospital) -> int:
    return ceil(patients_at_once(hospital)[0] / PATIENTS_PER_OXIMETER) + 1


def _all_oximeters(hospital: Hospital) -> int:
    noticed = hospital.noticed
    alarm = noticed.by_oximeter.count if noticed is not None and noticed.by_oximeter is not None else 0
    return _oximeters(hospital) + alarm


def _humidifiers(hospital: Hospital) -> int:
    limited = hospital.bedside.humidifiers
    return patients_at_once(hospital)[1] if limited is None else limited


def _masks(hospital: Hospital) -> int:
    sizes = {(kind.ward, _SIZES.get(kind.size or "", "adult")) for kind in hospital.patients}
    return len(sizes)


def _stabilisers(hospital: Hospital) -> int:
    return 0 if (hospital.power or Power()).stabiliser else _units(hospital)


def _splitters(hospital: Hospital) -> int:
    return sum(each.count for each in models_of(hospital.concentrators) if each.rules.outlets > 1)


def _analyser(hospital: Hospital) -> int:
    models = models_of(hospital.concentrators)
    return int(bool(models) and all(each.rules.analyser_check_s is None for each in models))


def _parts(hospital: Hospital) -> int:
    return ceil(_units(hospital) / UNITS_PER_PART)


def _stored(hospital: Hospital) -> int:
    """Return the wards, and the store where there are cylinders."""
    return _wards(hospital) + (hospital.cylinders is not None)


RULES: Mapping[str, Callable[[Hospital], int]] = {
    "spanner": _regulators,
    "stand": _regulators,
    "trolley": lambda hospital: _wards(hospital) if hospital.cylinders is not None else 0,
    "washer": lambda hospital: 4 * _regulators(hospital),
    "leak_fluid": lambda hospital: _wards(hospital) if hospital.cylinders is not None else 0,
    "humidifier": lambda hospital: _humidifiers(hospital) if hospital.bedside.humidifiers is None else 0,
    "spare_humidifier": _humidifiers,
    "oximeter": _oximeters,
    "probe": lambda hospital: 2 * _all_oximeters(hospital),
    "oximeter_battery": _all_oximeters,
    "tubing": lambda hospital: _regulators(hospital) + _outlets(hospital),
    "stabiliser": _stabilisers,
    "splitter": _splitters,
    "gross_filter": lambda hospital: 2 * _units(hospital),
    "internal_filter": lambda hospital: 2 * _units(hospital),
    "analyser": _analyser,
    "sieve_beds": _parts,
    "compressor_kit": _parts,
    "circuit_board": _parts,
    "sign": _stored,
    "extinguisher": _stored,
    "bag_and_mask": _masks,
    "suction": _wards,
    "back_up_cylinder": _points,
    "back_up_regulator": _points,
    "back_up_flowmeter": _points,
    "back_up_spanner": _points,
}
