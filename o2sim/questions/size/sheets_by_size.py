"""The sheets of a store with cylinders of several sizes: each has levels of its own, and a page at dusk.

No number to phone at stands on the card, nor days of cover by size: the stock book of a run is of the gas in all.
"""

from __future__ import annotations

import re

from o2sim.looks.sheet_page import big, blank, heading, paragraph, table
from o2sim.looks.sizes import uses_of
from o2sim.looks.words import days_down, joined, number
from o2sim.planning.delivery_time import delivery_time
from o2sim.planning.figures import delivered_gas, planning_figures
from o2sim.questions.size.reorder_card import WITHOUT_SHOCKS, by_rule, within
from o2sim.scenario.types.hospital import Cylinders, Emergency, Hospital, Resupply

SIDE_BY_SIDE = 2  # sizes whose counts fit beside each other
Level = tuple[int, Cylinders, int, int]  # place of a size, its rules, reorder point, order-up-to level


def levels_of(cylinders: Cylinders, resupply: Resupply) -> list[Level]:
    """Return the levels of each size that there are cylinders of, in the order of the file."""
    pairs = zip(cylinders.each, resupply.levels, strict=True)
    return [(place, size, *pair) for place, (size, pair) in enumerate(pairs) if size.fleet]


def orders_of(hospital: Hospital, cylinders: Cylinders, resupply: Resupply) -> str:
    """Return the table of what to order of each size, with what each is for."""
    heads = ("size", "for", "full and on order, or fewer: ORDER", "up to", "in all")
    rows = [
        (size.name, uses_of(hospital, place), f"{point}", f"{upto}", f"{size.fleet}")
        for place, size, point, upto in levels_of(cylinders, resupply)
    ]
    return table(heads, rows)


def limits_of(cylinders: Cylinders, resupply: Resupply) -> list[str]:
    """Return what limits an order: the empties of each size, the lorry, the least order."""
    said = ["Never order more of a size than there are empties of it at the door that no open order waits for."]
    shortest = "one at a time, of the size that will last the fewest days, until nothing more fits"
    if resupply.vehicle_space is not None:
        spaces = joined([f"{size.name} takes {size.space or 1}" for size in cylinders.each if size.fleet])
        said.append(f"One lorry has {resupply.vehicle_space} spaces ({spaces}). Is it too small, load {shortest}.")
    elif resupply.vehicle_capacity is not None:
        said.append(f"One lorry takes {resupply.vehicle_capacity} in all. Is it too small, load {shortest}.")
    if resupply.minimum_order > 1:
        said.append(
            f"Fewer than {resupply.minimum_order} in all are not delivered: order none and count again next time."
        )
    sizes = joined([f"{size.fleet} {size.name}" for size in cylinders.each if size.fleet])
    said.append("Part-used cylinders are not counted as full; use them first.")
    said.append(f"There should be {sizes} cylinders. If there are not, look for the missing ones.")
    return said


def count_form(cylinders: Cylinders, weeks: int) -> str:
    """Return the table to fill in: full, empty, on order and ordered of each size; many have a line each."""
    whats, names = ("full", "empty", "on order", "order"), [size.name for size in cylinders.each if size.fleet]
    if len(names) > SIDE_BY_SIDE:
        return blank(("date", f"size ({', '.join(names)})", *whats, "by"), weeks)
    return blank(("date", *(f"{name}: {what}" for name in names for what in whats), "by"), weeks)


def order_numbers(cylinders: Cylinders, resupply: Resupply) -> str:
    """Return the numbers to order at, for the wall."""
    said = "full and on order, or fewer: ORDER"
    return big([(f"{point}", f"{size.name}, {said}") for _, size, point, _ in levels_of(cylinders, resupply)])


def order_point_words(cylinders: Cylinders, resupply: Resupply) -> str:
    """Return the counts at which somebody orders, as `large 40, small 8`."""
    return ", ".join(f"{size.name} {point}" for _, size, point, _ in levels_of(cylinders, resupply))


def phone_words(cylinders: Cylinders, resupply: Resupply) -> str:
    """Return when to phone: by the scenario's emergency rule, else as soon as something is wrong."""
    rule = resupply.emergency
    if rule is None:
        return (
            "PHONE the supplier as soon as an order is late or the road closes; do not wait for a count. A number "
            "to phone at is not worked out by size."
        )
    return by_rule(rule) if rule.below is None else _fewer(rule, rule.below, cylinders)


def _fewer(rule: Emergency, below: int, cylinders: Cylinders) -> str:
    """Return below how many of each size to phone: its share by the fleets, rounded up."""
    assert rule.below is not None
    sizes = [size for size in cylinders.each if size.fleet]
    least = [f"{-(-below * size.fleet // max(1, cylinders.fleet))} {size.name}" for size in sizes]
    return (
        f"PHONE for an emergency delivery when fewer than {' or '.join(least)} ones, full and part-used, are left."
    )


def cover_of(hospital: Hospital, cylinders: Cylinders, resupply: Resupply) -> list[str]:
    """Return how long the gas in all sizes lasts when filled up, and within how many days deliveries come."""
    demand, held = planning_figures(hospital).peak, 0.0
    for _, size, _, upto in levels_of(cylinders, resupply):
        held += min(upto, size.fleet) * delivered_gas(size)
    said = []
    if demand.cylinders_per_day:
        days = days_down(held / (demand.cylinders_per_day * delivered_gas(cylinders)))
        said.append(
            f"Plan by this: filled up, all sizes together hold {number(held / 60_000)} L of gas to give. With "
            f"all patients on cylinders at the mean need of the hardest season that lasts {days} days, less in "
            "bad weeks."
        )
    ordinary, emergency = delivery_time(hospital), delivery_time(hospital, emergency=True)
    if ordinary is not None:
        said.append(f"19 in 20 deliveries come within {within(ordinary, bool(hospital.shocks))}.")
    if emergency is not None:
        said.append(f"19 in 20 emergency deliveries come within {within(emergency, bool(hospital.shocks))}.")
    if hospital.shocks and (ordinary is not None or emergency is not None):
        said.append(WITHOUT_SHOCKS)
    return [heading("Days of cover"), paragraph(" ".join(said))] if said else []


def page_names(cylinders: Cylinders, name: str) -> dict[int, str]:
    """Return the file of the page at dusk of each size, by its place: `dusk-page-small.html` and the like."""
    if not cylinders.sizes:
        return {0: name}
    stem, _, ending = name.rpartition(".")
    found: dict[int, str] = {}
    for place, size in enumerate(cylinders.each):
        if not size.fleet:
            continue
        plain = re.sub(r"[^a-z0-9]+", "-", size.name.lower()).strip("-")
        wanted = f"{stem}-{plain or place + 1}.{ending}"
        found[place] = f"{stem}-{place + 1}.{ending}" if wanted in found.values() else wanted
    return found
