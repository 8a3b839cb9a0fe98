"""The lines of the list that follow from a rule for each, and what the scenario itself counts beside the bed."""

from __future__ import annotations

from o2sim.looks.words import joined
from o2sim.money import cost
from o2sim.money.by_model import head_of, model_of, named
from o2sim.money.listed import quantities
from o2sim.money.to_buy import Thing, things
from o2sim.planning.by_model import models_of
from o2sim.questions.equipment.peaks import HUMIDIFIER, Use
from o2sim.questions.equipment.result import (
    BACK_UP,
    BEDSIDE,
    CONSUMABLES,
    EACH,
    EACH_YEAR,
    PLACE,
    POWER,
    SCENARIO,
    UNITS,
    Bought,
    Entry,
)
from o2sim.scenario.types.hospital import Hospital
from o2sim.scenario.types.listed import KINDS, Group, Kind

_GROUPS: dict[Group, str] = {
    "beside": BEDSIDE, "units": UNITS, "place": PLACE, "back-up": BACK_UP, "year": CONSUMABLES,
}  # fmt: skip
STATED = {  # item of the costs, as the list calls it
    cost.CYLINDERS: "Cylinders, whole fleet",
    cost.REGULATORS: "Regulators",
    cost.SPLITTERS: "Flow splitters, on cylinders",
    cost.MANIFOLD: "Manifold with pipework and outlets",
    cost.CONCENTRATORS: "Concentrators",
    cost.MONITORS: "Oxygen monitors of units",
    cost.ANALYSER: "Oxygen analyser, for checks",
    cost.GENERATOR: "Generator",
    cost.BATTERY: "Battery with inverter",
    cost.SOLAR: "Solar panels, all together",
    cost.STABILISER: "Voltage stabilisers, all together",
    cost.HUMIDIFIERS: "Humidifiers, as limited",
    cost.OXIMETERS: "Oximeters that stay on a patient and alarm",
    **{kind.item: kind.label for kind in KINDS},
}
OF_POWER = (cost.GENERATOR, cost.BATTERY, cost.SOLAR, cost.STABILISER)
_OF_UNITS = (cost.MONITORS, cost.ANALYSER)


def of_group(use: Use, group: Group) -> list[Entry]:
    """Return the lines of a group that a strategy has, each with its rule."""
    stated = {each.key for each in use.hospital.equipment}
    return [
        Entry(_GROUPS[group], kind.label, count, EACH_YEAR if kind.yearly else EACH,
              SCENARIO if kind.key in stated else kind.basis, "as stated" if kind.key in stated else kind.rule,
              _figures(use, kind))
        for kind, count in quantities(use.hospital)
        if kind.group == group
    ]  # fmt: skip


def stated_of(use: Use, items: tuple[str, ...], group: str, rule: str = "as stated") -> list[Entry]:
    """Return the lines of items of the costs that the scenario counts itself."""
    found = {thing.item: thing.count for thing in things(use.hospital)}
    return [Entry(group, STATED[item], found[item], EACH, SCENARIO, rule) for item in items if item in found]


def of_power(use: Use) -> list[Entry]:
    """Return what stands behind the grid."""
    return stated_of(use, OF_POWER, POWER)


def beside_units(use: Use) -> list[Entry]:
    """Return the monitors and the analyser that the scenario has the units checked with."""
    return stated_of(use, _OF_UNITS, UNITS)


def _figures(use: Use, kind: Kind) -> str:
    units = use.hospital.concentrators
    if kind.key == "humidifier":
        return f"{use.need[HUMIDIFIER].enough} at once in the run, for 99 % of the time, if all were served"
    models = models_of(units)
    if kind.key == "splitter":
        several = dict.fromkeys(model.rules.outlets for model in models if model.rules.outlets > 1)
        return f"{joined(list(map(str, several)))} outlets"
    if kind.group == "back-up" and kind.key in ("back_up_cylinder", "back_up_regulator"):
        return joined([f"{model.count} units of {outlets_said(model.rules.outlets)}" for model in models])
    return ""


def outlets_said(count: int) -> str:
    """Return a number of outlets in words."""
    return f"{count} outlet{'' if count == 1 else 's'}"


def stated_name(line: str) -> str:
    """Return what the list calls a line of the costs: a model's, or a size's, with its name."""
    size = line.removeprefix(f"{cost.CYLINDERS}: ")
    return f"Cylinders, {size}, all of them" if size != line else named(STATED[head_of(line)], model_of(line))


def to_buy(hospital: Hospital) -> tuple[Bought, ...]:
    """Return what there is to be, what of it is there already, and what is left to buy at what price."""
    return tuple(_bought(thing) for thing in things(hospital))


def _bought(thing: Thing) -> Bought:
    return Bought(
        item=stated_name(thing.item),
        quantity=thing.count,
        there=thing.stock.there,
        due=thing.stock.due,
        to_buy=thing.stock.bought,
        unit=EACH_YEAR if thing.yearly else EACH,
        price=None if thing.each is None else thing.each.price,
        amount=thing.amount,
        rented=thing.rented,
        next_due=thing.next_due,
    )
