"""Turns what a file says was counted into what a run begins from, for each strategy; what does not fit is noted.

The run begins at the count: its first day is that date, and the midnight before it lies so long before the run. A
strategy that has no cylinders, concentrators and so on leaves out what was counted of them.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from dataclasses import replace

from o2sim.scenario.building.built import Setting, built
from o2sim.scenario.building.now_count import Count
from o2sim.scenario.building.now_power import battery_of, fuel_of, grid_of, units_of
from o2sim.scenario.building.now_stock import check_fleet, cylinders_of, next_review_s, orders_of, patients_of
from o2sim.scenario.building.reader import Reader
from o2sim.scenario.building.values import Values
from o2sim.scenario.keys.fields import TOP
from o2sim.scenario.text.nodes import Listing, Scalar
from o2sim.scenario.text.nodes import Mapping as MappingNode
from o2sim.scenario.types.hospital import General, Hospital, Resupply, Source
from o2sim.scenario.types.now import Now, RoadNow, since_midnight_s
from o2sim.scenario.types.now_keys import NowStated

NOW = TOP.field("now")
assert NOW is not None
FIELDS = (NOW,)


def from_count(reader: Reader, root: MappingNode, general: General) -> General:
    """Return what all strategies share of a run that begins from a count; as it is without a sound one."""
    if "now" not in root.entries:
        return general
    values = reader.fields(root, FIELDS).data.get("now")
    at = values.data.get("counted") if isinstance(values, Values) else None
    if at is None:
        return general
    return replace(
        general,
        start=at.date(),
        warm_up_s=-since_midnight_s(at),
        reviewed_from=general.start,
        units_there=_units_there(root),
    )


def _units_there(root: MappingNode) -> int | None:
    """Return the number of concentrators that the scenario states, None where only strategies do."""
    units = root.entries.get("concentrators")
    node = units.entries.get("count") if isinstance(units, MappingNode) else None
    text = node.text if isinstance(node, Scalar) else ""
    return int(text) if text.isascii() and text.isdigit() and len(text) < 7 else None


def without(change: MappingNode) -> MappingNode:
    """Return a change without a count of its own, which it may not have: that has been noted."""
    if "now" not in change.entries:
        return change
    return replace(change, entries={key: child for key, child in change.entries.items() if key != "now"})


def now_of(setting: Setting, sources: tuple[Source, ...]) -> Now | None:
    """Return what a strategy's run begins from, None without a count. Raises RefusedError, all faults noted."""
    values = setting.hospital.data.get("now")
    if not isinstance(values, Values):
        return None  # left out, or refused before
    if setting.parts.get("manifold") is not None:
        hint = "the count has no line for what is on the banks"
        raise setting.hospital.fault("now", "now beside a manifold", "one or the other", hint)
    stock = setting.parts.get("cylinders")
    if stock is not None and stock.sizes:
        hint = "the count has no line for how many there are of each size"
        raise setting.hospital.fault("now", "now beside sizes of cylinders", "one or the other", hint)
    count = Count(setting, values, built(setting, NowStated, values), sources)
    start = setting.general.reviewed_from or setting.general.start
    now = Now(
        counted=count.stated.counted,
        cylinders=cylinders_of(count),
        on_order=orders_of(count),
        on_oxygen=patients_of(count),
        units=units_of(count),
        grid=grid_of(count),
        road=_road_of(count),
        battery_permille=battery_of(count),
        fuel_ml=fuel_of(count),
        next_review_s=next_review_s(count, start),
    )
    check_fleet(count, now)
    if count.faults:
        raise count.faults[0]
    return now


def _road_of(count: Count) -> RoadNow | None:
    """Return whether the road is open; shut, there must be a law by which it opens again."""
    resupply: Resupply | None = count.setting.parts.get("resupply")
    road, day = count.stated.road, count.stated.counted.date()
    shocks = count.setting.parts.get("shocks", ())
    if resupply is None:
        return road if shocks else None  # every strategy meets the same storms
    by_shock = any(each.road_s is not None for each in shocks)
    if road == "shut" and not by_shock and not any(each.covers(day) for each in resupply.road_closures):
        allowed = "resupply.road_closures on that day, by which it opens again"
        count.fault(count.values, "road", "the road shut, but by the scenario it is open", allowed)
    return road


def _battery(hospital: Hospital) -> bool:
    return hospital.power is not None and hospital.power.battery is not None


def _tank(hospital: Hospital) -> bool:
    generator = hospital.power.generator if hospital.power is not None else None
    return generator is not None and generator.tank_ml is not None


def _reviews(hospital: Hospital) -> bool:
    return hospital.resupply is not None and hospital.resupply.review_s is not None


_USES: Mapping[
    str, tuple[Callable[[Hospital], bool], str, str]
] = {  # by key: who has a use for it; what is not there
    "cylinders": (lambda hospital: hospital.cylinders is not None, "cylinders counted", "cylinders"),
    "on_order": (lambda hospital: hospital.resupply is not None, "orders", "resupply"),
    "concentrators": (lambda hospital: hospital.concentrators is not None, "units counted", "concentrators"),
    "battery": (_battery, "a charge", "power.battery"),
    "fuel": (_tank, "fuel", "power.generator.tank"),
    "next_review": (_reviews, "a review", "resupply.review"),
}


def check_used(reader: Reader, root: MappingNode, hospitals: Collection[Hospital]) -> None:
    """Note what was counted and no strategy has: it would be passed over unseen."""
    section = root.entries.get("now")
    if not isinstance(section, MappingNode) or len(reader.problems):
        return  # a strategy that was refused may have it
    for name, (has, what, key) in _USES.items():
        node = section.entries.get(name)
        if node is None or (isinstance(node, Listing) and not node.items) or any(map(has, hospitals)):
            continue
        found = f"found {what}, but no strategy has {key}"
        reader.problems.add(node, found, f"{name} with {key}", f"leave {name} out, or add {key}")
