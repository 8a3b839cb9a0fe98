"""The count that a form of today makes, as section `now` of a file has it; what is wrong with it as a whole."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

from o2sim.desk import today_read as read
from o2sim.desk.today_fields import (
    BATTERY,
    DOWN,
    EMPTY,
    FUEL,
    FULL,
    GAUGE,
    GRID,
    ON,
    ON_CYLINDERS,
    ORDERS,
    PART_USED,
    STRATEGY,
    TIME,
    class_name,
    classes,
    counted_strategies,
    fields_of,
    parts,
    problem_of,
    usual_strategy,
)
from o2sim.desk.words import say
from o2sim.errors import ScenarioError
from o2sim.scenario.changing.count import Counted, with_now
from o2sim.scenario.types.hospital import Hospital, Scenario

Typed = Mapping[str, str]
Problem = tuple[str, str, str]  # the field, its label, what is wrong with it
UNKNOWN = "unknown"
KPA = 100  # of a bar


@dataclass
class _Made:
    """The values of a count so far, and the field that each came from."""

    values: dict[str, Any] = field(default_factory=dict)
    places: dict[str, str] = field(default_factory=dict)

    def put(self, key: str, value: object, name: str) -> None:
        """Set a value of the count."""
        self.values[key], self.places[f"now.{key}"] = value, name

    def add(self, key: str, value: Mapping[str, Any], name: str) -> None:
        """Add an entry to a list of the count."""
        rows = self.values.setdefault(key, [])
        rows.append(value)
        self.places.setdefault(f"now.{key}", name)
        self.places[f"now.{key}[{len(rows)}]"] = name


def strategy_of(scenario: Scenario, typed: Typed) -> str:
    """Return the way of supply that is chosen, else the usual one."""
    chosen = typed.get(STRATEGY, "")
    return chosen if chosen in counted_strategies(scenario) else usual_strategy(scenario)


def moment_of(typed: Typed, now: dt.datetime) -> dt.datetime:
    """Return when it was counted: at the time of today that was typed, else now, to the minute."""
    at = read.clock(typed.get(TIME, ""))
    return now.replace(second=0, microsecond=0) if at is None else dt.datetime.combine(now.date(), at)


def half_full(hospital: Hospital) -> str:
    """Return the gauge that stands for half full: half of the filling pressure."""
    assert hospital.cylinders is not None
    return f"{hospital.cylinders.filling_pressure_kpa / 2:g} kPa"


def count_of(scenario: Scenario, typed: Typed, now: dt.datetime) -> Counted:
    """Return the count; what was typed has nothing wrong in it."""
    hospital, made = scenario.hospitals[strategy_of(scenario, typed)], _Made()
    made.put("counted", f"{moment_of(typed, now):%Y-%m-%d %H:%M}", TIME)
    _put_stock(made, typed, hospital)
    for order, since in ORDERS:
        if many := _whole(typed, order):
            day = read.day(typed.get(since, ""), now.date())
            made.add("on_order", {"ordered": str(day or UNKNOWN), "count": many}, order)
            made.places[f"now.on_order[{len(made.values['on_order'])}].ordered"] = since
    _put_patients(made, typed, scenario, hospital)
    _put_power(made, typed, hospital)
    return Counted(made.values, "", made.places)


def _put_stock(made: _Made, typed: Typed, hospital: Hospital) -> None:
    bar = read.pressure(typed.get(GAUGE, ""))
    gauge = half_full(hospital) if bar is None else f"{bar:g} bar"
    part_used = [gauge] * (_whole(typed, PART_USED) or 0)
    stock = {"full": _whole(typed, FULL), "empty": _whole(typed, EMPTY)}
    made.put("cylinders", {**stock, "part_used": part_used} if part_used else stock, FULL)
    made.places["now.cylinders.part_used"] = GAUGE if typed.get(GAUGE) else PART_USED
    made.places["now.cylinders.empty"] = EMPTY


def _put_patients(made: _Made, typed: Typed, scenario: Scenario, hospital: Hospital) -> None:
    """Put in who is on oxygen, by source where that was counted; nothing where nobody has counted."""
    found = classes(scenario)
    if not any(typed.get(class_name(kind)) for kind in found):
        return
    made.put("on_oxygen", [], class_name(found[0]))
    for kind in found:
        name = class_name(kind)
        many = _whole(typed, name) or 0
        on_cylinders = _whole(typed, class_name(kind, ON_CYLINDERS))
        for source, count in _by_source(hospital, many, on_cylinders):
            one = {"class": kind.name, "count": count, **({"source": source} if source else {})}
            if count:
                made.add("on_oxygen", one, name)


def _by_source(hospital: Hospital, many: int, on_cylinders: int | None) -> tuple[tuple[str, int], ...]:
    """Return how many are on which source, "" where that is not known."""
    assert hospital.cylinders is not None
    alone = hospital.strategy.sources == ("cylinder",)
    if hospital.cylinders.splitters is not None or (on_cylinders is None and not alone):
        return (("", many),)  # of those who share one nobody has said how many
    if on_cylinders is None:
        return (("cylinder", many),)
    return (("cylinder", on_cylinders), ("none" if alone else "concentrator", many - on_cylinders))


def _put_power(made: _Made, typed: Typed, hospital: Hospital) -> None:
    down, units = _whole(typed, DOWN), hospital.concentrators
    if down is not None and units is not None:
        made.put("concentrators", {"working": units.count - down}, DOWN)
    if typed.get(GRID):
        made.put("grid", {"up": typed[GRID] == ON}, GRID)
    if (charge := read.share(typed.get(BATTERY, ""))) is not None:
        made.put("battery", f"{charge:g} %", BATTERY)
    if (fuel := read.litres(typed.get(FUEL, ""))) is not None:
        made.put("fuel", f"{fuel:g} L", FUEL)


def _whole(typed: Typed, name: str) -> int | None:
    return read.whole(typed.get(name, ""))


# --- what is wrong -----------------------------------------------------------------------------------------------


def problems_of(scenario: Scenario, typed: Typed, now: dt.datetime) -> list[Problem]:
    """Return what is wrong with what was typed: each by itself, then beside the others, then as a count."""
    found = fields_of(parts(scenario))
    wrong = {name: problem_of(each, typed.get(name, ""), now) for name, (_, each) in found.items()}
    for name in (FULL, EMPTY):
        wrong[name] = wrong[name] or ("" if typed.get(name) else say("today_needed"))
    if not any(wrong.values()):
        wrong = dict(_wrong_together(scenario, typed))
    if not any(wrong.values()):
        return list(_refused(scenario, typed, now))
    return [(name, label, wrong[name]) for name, (label, _) in found.items() if wrong.get(name)]


def _wrong_together(scenario: Scenario, typed: Typed) -> Iterator[tuple[str, str]]:
    hospital = scenario.hospitals[strategy_of(scenario, typed)]
    assert hospital.cylinders is not None
    units = 0 if hospital.concentrators is None else hospital.concentrators.count
    for name, most in ((PART_USED, hospital.cylinders.fleet), (DOWN, units)):
        many = _whole(typed, name)
        if many is not None and many > most and (name == PART_USED or units):
            yield name, say("today_more_than", found=many, most=most)
    bar, full_bar = read.pressure(typed.get(GAUGE, "")), hospital.cylinders.filling_pressure_kpa / KPA
    if bar is not None and bar > full_bar:
        yield GAUGE, say("today_gauge_many", found=f"{bar:g}", full=f"{full_bar:g}")
    for order, since in ORDERS:
        if typed.get(since) and not typed.get(order):
            yield order, say("today_order_needed")
    some = any(
        typed.get(class_name(kind, before))
        for kind in classes(scenario)
        for before in ("today_class_", ON_CYLINDERS)
    )
    for kind in classes(scenario) if some else ():
        many, on_cylinders = (_whole(typed, name) for name in (class_name(kind), class_name(kind, ON_CYLINDERS)))
        if many is None:
            yield class_name(kind), say("today_class_needed")
        elif on_cylinders is not None and on_cylinders > many:
            yield class_name(kind, ON_CYLINDERS), say("today_on_cylinders_many", found=on_cylinders, most=many)


def _refused(scenario: Scenario, typed: Typed, now: dt.datetime) -> Iterator[Problem]:
    """Yield what the loader finds wrong with the count, at the fields that it came from."""
    try:
        with_now(scenario, count_of(scenario, typed, now))
    except ScenarioError as error:
        labels = {name: label for name, (label, _) in fields_of(parts(scenario)).items()}
        for each in dict.fromkeys(error.problems):
            said = "; ".join(filter(None, (each.found, each.allowed and say("allowed", what=each.allowed))))
            field_name = each.field if each.field in labels else ""
            yield field_name, labels.get(each.field, each.field), said
