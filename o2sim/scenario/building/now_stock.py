"""Cylinders, orders and patients of a count, as a strategy sees them."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator

from o2sim.scenario.building.cylinders import content_at
from o2sim.scenario.building.now_count import Count, item_at
from o2sim.scenario.building.values import Values
from o2sim.scenario.keys.fields import allowed
from o2sim.scenario.text.nodes import Node, describe
from o2sim.scenario.text.problems import nearest, quote
from o2sim.scenario.types.hospital import DAY_S, Cylinders, PatientClass, Resupply
from o2sim.scenario.types.now import CountedCylinders, Now, NowSource, OnOxygen, OrderUnderWay, since_midnight_s
from o2sim.scenario.types.now_keys import OnOxygenStated

MOST_ON_OXYGEN = 5_000  # patients of one count


def cylinders_of(count: Count) -> CountedCylinders | None:
    """Return where the cylinders stand, None for a strategy without any."""
    stock: Cylinders | None = count.setting.parts.get("cylinders")
    stated = count.stated.cylinders
    if stock is None:
        return None
    if stated is None:
        item = next(each for each in count.values.fields if each.name == "cylinders")
        path = f"{count.values.node.path}.cylinders"
        missing = count.setting.problems.add(
            count.values.node, "this key is missing", allowed(item), item.help, field=path
        )
        count.faults.append(missing)
        return None
    gas = []
    for place, gauge_kpa in enumerate(stated.part_used_kpa):
        if gauge_kpa > stock.filling_pressure_kpa:
            node = item_at(count.values["cylinders"], "part_used", place)
            count.fault_at(node, *_over_full(node, stock))
        else:
            gas.append(content_at(stock, gauge_kpa))
    return CountedCylinders(stated.full, stated.empty, tuple(gas))


def _over_full(node: Node, stock: Cylinders) -> tuple[str, str]:
    """Return what is found and what is allowed where a gauge shows more than a full cylinder's."""
    full = f"{stock.filling_pressure_kpa:g} kPa"
    return f"{describe(node)}, above the filling_pressure of {full}", f"at most {full}"


def orders_of(count: Count) -> tuple[OrderUnderWay, ...]:
    """Return the orders under way, none for a strategy to which nothing is delivered."""
    resupply: Resupply | None = count.setting.parts.get("resupply")
    rows = zip(count.stated.on_order, count.listed("on_order"), strict=True)
    found = tuple(OrderUnderWay(each.count, count.age_s(values, "ordered", each.ordered)) for each, values in rows)
    if resupply is None or count.setting.parts.get("cylinders") is None:
        return ()
    stated, ordered = count.stated.cylinders, sum(each.count for each in found)
    if stated is not None and ordered > stated.empty:
        said = f"{ordered} on order, but {stated.empty} empties to exchange for them"
        count.fault(count.values, "on_order", said, "orders of at most the empties, at the door or away")
    return found


def patients_of(count: Count) -> tuple[OnOxygen, ...] | None:
    """Return who is on oxygen or waits, one record for each; None where nobody has counted."""
    if count.stated.on_oxygen is None:
        return None
    total = sum(each.count for each in count.stated.on_oxygen)
    if total > MOST_ON_OXYGEN:
        count.fault(count.values, "on_oxygen", f"{total:,} patients", f"at most {MOST_ON_OXYGEN:,}")
        return None
    rows = zip(count.stated.on_oxygen, count.listed("on_oxygen"), strict=True)
    return tuple(one for each, values in rows for one in _patients(count, each, values))


def _patients(count: Count, each: OnOxygenStated, values: Values) -> Iterator[OnOxygen]:
    classes: tuple[PatientClass, ...] | None = count.setting.parts.get("patients")
    names = [kind.name for kind in classes or ()]
    if classes is not None and each.class_ not in names:
        found, allowed_here = quote(each.class_), f"classes of the scenario: {', '.join(names)}"
        count.fault(values, "class", found, allowed_here, nearest(each.class_, names))
    if each.gauge_kpa is not None and each.source != "cylinder":
        beside = f"a gauge beside source: {each.source}" if each.source else "a gauge, but no source"
        count.fault(values, "gauge", beside, "a gauge with source: cylinder alone")
    gas, age_s = _gas(count, each, values), count.age_s(values, "begun", each.begun)
    if each.class_ in names:
        one = OnOxygen(names.index(each.class_), each.flow_ml_min, age_s, _source(count, each.source), gas)
        yield from [one] * each.count


def _gas(count: Count, each: OnOxygenStated, values: Values) -> int | None:
    """Return the gas in the cylinder in use, by its gauge."""
    stock: Cylinders | None = count.setting.parts.get("cylinders")
    if each.gauge_kpa is None or stock is None or _source(count, each.source) is None:
        return None
    if each.gauge_kpa > stock.filling_pressure_kpa:
        count.fault(values, "gauge", *_over_full(values.at("gauge"), stock))
        return None
    return content_at(stock, each.gauge_kpa)


def _source(count: Count, source: NowSource | None) -> NowSource | None:
    """Return the source of a patient; one that is none of the strategy's is left to its order."""
    return source if source == "none" or source in count.sources else None


def check_fleet(count: Count, now: Now) -> None:
    """Note more cylinders than there are; fewer are legal, and doubted (checks/of_count.py)."""
    stock: Cylinders | None = count.setting.parts.get("cylinders")
    if stock is None or now.cylinders is None or now.cylinders_counted <= stock.fleet:
        return
    parts = now.cylinders
    said = (
        f"{now.cylinders_counted} counted of a fleet of {stock.fleet}: {parts.full} full, "
        f"{len(parts.part_used)} part-used, {now.on_cylinders} on patients, {parts.empty} empty"
    )
    hint = count.whose("cylinders", "fleet", "count again, or raise cylinders.fleet")
    count.fault(count.values, "cylinders", said, "at most the fleet", hint)


def next_review_s(count: Count, start: dt.date) -> int | None:
    """Return the seconds from the count to the next review of the stock; None where it is not reviewed at times.

    Left out, it is the next multiple of `review` from midnight of `start`; one of the count's own day that is past
    is due at once.
    """
    resupply: Resupply | None = count.setting.parts.get("resupply")
    at, stated = count.stated.counted, count.stated.next_review
    if stated is not None and stated.date() < at.date():
        found = f"{stated.date()}, before the count on {at.date()}"
        count.fault(count.values, "next_review", found, "a day from the count's on")
    if resupply is None or resupply.review_s is None:
        return None
    if stated is not None:
        return max(0, int((stated - at).total_seconds()))
    since_s = int((at - dt.datetime.combine(start, dt.time())).total_seconds()) % resupply.review_s
    of_today = since_s <= since_midnight_s(at)
    return 0 if of_today and resupply.review_s >= DAY_S else -since_s % resupply.review_s
