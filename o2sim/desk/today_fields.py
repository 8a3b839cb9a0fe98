"""The fields of what is counted today, by what a hospital has; what is wrong with each by itself."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass

from o2sim.desk.today_read import BAD, READ
from o2sim.desk.words import say
from o2sim.looks.words import capital, number
from o2sim.scenario.types.hospital import Hospital, PatientClass, Scenario
from o2sim.scenario.types.laws import law_mean

BEGINS = "today_"  # the name of every field
MOST_CLASSES = 20  # of two fields each: a form has at most 60
CLASS, ON_CYLINDERS = f"{BEGINS}class_", f"{BEGINS}on_cylinders_"  # before the name of a class, in hex digits
FULL, PART_USED, GAUGE, EMPTY = (f"{BEGINS}{name}" for name in ("full", "part_used", "gauge", "empty"))
ORDERS = tuple((f"{BEGINS}order_{number}", f"{BEGINS}since_{number}") for number in (1, 2))
TIME, DOWN, GRID = (f"{BEGINS}{name}" for name in ("time", "down", "grid"))
BATTERY, FUEL, STRATEGY = (f"{BEGINS}{name}" for name in ("battery", "fuel", "strategy"))
ON, OFF = "on", "off"


@dataclass(frozen=True)
class Field:
    """One field: its name, how it is read, its label and unit, and what there is to choose, if that is all."""

    name: str
    kind: str
    label: str
    unit: str = ""
    options: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True)
class Row:
    """One or more fields that belong together."""

    legend: str
    fields: tuple[Field, ...]
    hint: str = ""


@dataclass(frozen=True)
class Part:
    """A part of the form."""

    heading: str
    said: str
    rows: tuple[Row, ...]


def counted_strategies(scenario: Scenario) -> list[str]:
    """Return the strategies that have a shelf to count."""
    return [name for name, each in scenario.hospitals.items() if each.cylinders is not None]


def usual_strategy(scenario: Scenario) -> str:
    """Return the one that is taken where none is chosen: the first with both sources, else with cylinders."""
    names = counted_strategies(scenario)
    return next((name for name in names if scenario.hospitals[name].concentrators is not None), names[0])


def has_manifold(scenario: Scenario) -> bool:
    """Return whether some way of supply has cylinders that a count has no line for."""
    return any(each.manifold is not None for each in scenario.hospitals.values())


def has_sizes(scenario: Scenario) -> bool:
    """Return whether cylinders come in several sizes, of which a count does not say how many there are."""
    return any(each.cylinders is not None and each.cylinders.sizes for each in scenario.hospitals.values())


def classes(scenario: Scenario) -> tuple[PatientClass, ...]:
    """Return the classes that are asked for; none where they are too many for a form."""
    found = scenario.hospitals[usual_strategy(scenario)].patients
    return found if len(found) <= MOST_CLASSES else ()


def class_name(kind: PatientClass, before: str = CLASS) -> str:
    """Return the name of a field of a class."""
    return f"{before}{kind.name.encode().hex()}"


def parts(scenario: Scenario) -> list[Part]:
    """Return the form for what any way of supply with cylinders has."""
    having = [scenario.hospitals[name] for name in counted_strategies(scenario)]
    many = len(scenario.hospitals[usual_strategy(scenario)].patients)
    said = say("today_on_oxygen_said") if many <= MOST_CLASSES else say("today_many_classes", count=many)
    found = [
        Part(say("today_counted"), say("today_said"), tuple(_stock(having))),
        Part(say("today_on_oxygen"), said, tuple(_patients(scenario, having))),
        Part(say("today_power"), "", tuple(_power(scenario, having))),
    ]
    return [each for each in found if each.rows or each.said]


def _stock(having: list[Hospital]) -> Iterator[Row]:
    unit = say("today_unit_cylinders")
    yield _one(FULL, "count", say("today_full"), unit)
    part_used = (
        Field(PART_USED, "whole", say("today_part_used_field"), unit),
        Field(GAUGE, "gauge", say("today_gauge_field"), say("today_unit_bar")),
    )
    yield Row(say("today_part_used"), part_used, say("today_part_used_hint"))
    yield _one(EMPTY, "count", say("today_empty"), unit, say("today_empty_hint"))
    if any(each.resupply is not None for each in having):
        for (order, since), legend in zip(ORDERS, (say("today_order_1"), say("today_order_2")), strict=True):
            fields = (
                Field(order, "whole", say("today_order_field"), unit),
                Field(since, "day", say("today_since_field")),
            )
            yield Row(legend, fields, say("today_since_hint"))
    yield _one(TIME, "time", say("today_time"), "", say("today_time_hint"))


def _patients(scenario: Scenario, having: list[Hospital]) -> Iterator[Row]:
    both = any(len(each.strategy.sources) > 1 for each in having)
    unit = say("today_unit_patients")
    for kind in classes(scenario):
        flow = number(law_mean(kind.flow_ml_min) / 1_000)
        fields: tuple[Field, ...] = (Field(class_name(kind), "whole", say("today_class_field"), unit),)
        if both:
            name = class_name(kind, ON_CYLINDERS)
            fields = (*fields, Field(name, "whole", say("today_on_cylinders_field")))
        yield Row(say("today_class", name=capital(kind.name), flow=flow), fields)


def _power(scenario: Scenario, having: list[Hospital]) -> Iterator[Row]:
    units = max((each.concentrators.count for each in having if each.concentrators), default=0)
    if units:
        yield _one(DOWN, "whole", say("today_down"), say("today_unit_units"), say("today_down_hint", count=units))
    if any(each.grid is not None and not each.grid.never_on for each in having):
        choices = (("", say("today_not_known")), (ON, say("today_on")), (OFF, say("today_off")))
        yield Row(say("today_grid"), (Field(GRID, "choice", say("today_grid"), "", choices),))
    power = [each.power for each in having if each.power is not None]
    if any(each.battery is not None for each in power):
        yield _one(BATTERY, "share", say("today_battery"), "%")
    if any(each.generator is not None and each.generator.tank_ml is not None for each in power):
        yield _one(FUEL, "litres", say("today_fuel"), "L")
    names = counted_strategies(scenario)
    if len(names) > 1:
        ways = tuple((name, name) for name in names)
        yield Row(say("today_strategy"), (Field(STRATEGY, "choice", say("today_strategy"), "", ways),))


def _one(name: str, kind: str, label: str, unit: str = "", hint: str = "") -> Row:
    return Row(label, (Field(name, kind, label, unit),), hint)


def fields_of(found: list[Part]) -> dict[str, tuple[str, Field]]:
    """Return the fields by their names, each with what it is called where its row is not beside it."""
    return {
        field.name: (row.legend if len(row.fields) == 1 else f"{row.legend}, {field.label}", field)
        for part in found
        for row in part.rows
        for field in row.fields
    }


def problem_of(field: Field, typed: str, now: dt.datetime) -> str:
    """Return what is wrong with what was typed into a field, "" for nothing; an empty field says nothing."""
    if not typed:
        return ""
    if field.kind == "choice":
        return "" if typed in dict(field.options) else say("today_choice_bad", found=typed)
    found = READ[field.kind](typed, now.date())
    if found is None:
        return BAD[field.kind](typed)
    if isinstance(found, dt.time) and found > now.time():
        return say("today_time_to_come", found=typed, now=f"{now:%H:%M}")
    return ""
