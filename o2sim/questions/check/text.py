"""The sentences and tables by which `o2sim check` says what a scenario amounts to."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Callable, Iterator, Mapping
from functools import partial

from o2sim.looks.blocks import Table, by_strategy
from o2sim.looks.words import days_down, hours_minutes, joined, number, percent, quoted
from o2sim.planning.figures import Demand, PlanningFigures, SizeFigures
from o2sim.quantities.gas import CylinderLasts

Row = tuple[bool, str, Callable[[PlanningFigures], str]]  # whether it is shown, its head, its cells
SUPPLY_NOTE = (
    "Cylinders a day and days of cover: as if every patient were on a cylinder of their own, each changed exactly "
    "at the residual pressure and part-used ones used up, leaks included; late gauge checks change it. Share in "
    "order: as if units ran all the time."
)


def sentences(figures: Mapping[str, PlanningFigures]) -> list[str]:
    """Return the need and the supply of a scenario's strategies in plain sentences, one paragraph each."""
    said = [_need(one, strategies, figures) for strategies, one in needs(figures)]
    fullest = max(figures, key=lambda name: figures[name].fleet)
    strongest = max(figures, key=lambda name: figures[name].concentrator_flow_ml_min)
    return [*said, _cylinders(figures[fullest], fullest), _concentrators(figures[strongest], strongest)]


def needs(figures: Mapping[str, PlanningFigures]) -> list[tuple[list[str], PlanningFigures]]:
    """Return the strategies that meet the same need together, with the figures of the first of them."""
    return _alike(figures, lambda item: (item.classes, item.peak_day, item.missed))


def _alike(
    figures: Mapping[str, PlanningFigures], key: Callable[[PlanningFigures], object]
) -> list[tuple[list[str], PlanningFigures]]:
    groups: dict[object, list[str]] = {}
    for name, item in figures.items():
        groups.setdefault(key(item), []).append(name)
    return [(names, figures[names[0]]) for names in groups.values()]


def _need(one: PlanningFigures, strategies: list[str], figures: Mapping[str, PlanningFigures]) -> str:
    mean, peak = one.mean, one.peak
    under = "" if len(strategies) == len(figures) else f"Under {quoted(strategies)}: "
    said = (
        f"{under}On average {number(mean.patients)} patients are on oxygen at once and {_litres(mean)}; "
        f"1 % of the time {_exceeded(mean)}."
    )
    if one.missed > 0:
        said += f" Another {number(one.missed)} in need are not recognised."
    if one.peak_day is None:
        return said
    peak_of = "At the peak of season and surges" if one.surges else "At the season's peak"
    if one.by_register:
        peak_of = "On the busiest day of the register"
    return (
        f"{said} {peak_of}, about {day_month(one.peak_day)}, it is {number(peak.patients)} patients "
        f"and {number(peak.litres_per_day)} litres a day; 1 % of the time {_exceeded(peak)}."
    )


def _litres(demand: Demand) -> str:
    """Return the litres a day; where some are given without need or after it, what is needed is said apart."""
    if demand.needed_litres_per_day == demand.litres_per_day:
        return f"need {number(demand.litres_per_day)} litres a day"
    given, needed = number(demand.litres_per_day), number(demand.needed_litres_per_day)
    return f"are given {given} litres a day, of which {needed} are needed"


def _exceeded(demand: Demand) -> str:
    flow = number(demand.flow_99_ml_min / 1_000)
    return f"there are more than {demand.patients_99:,} or they need more than {flow} L/min together"


def _cylinders(one: PlanningFigures, strategy: str) -> str:
    """Return what the largest fleet can do, or nothing where there is none or nobody needs it."""
    if one.peak.cylinders_per_day is None or one.peak.cover_days is None:
        return ""
    if one.sizes:
        sizes, lasts = joined([f"{size.fleet} {size.name}" for size in one.sizes]), days_down(one.peak.cover_days)
        return (
            f"From {one.first_size} cylinders alone the peak takes {number(one.peak.cylinders_per_day)} of them a "
            f"day; the gas of all of “{strategy}”, full ({sizes}), would last {lasts} days."
        )
    return (
        f"From cylinders alone the peak takes {number(one.peak.cylinders_per_day)} of them a day; "
        f"all {one.fleet} of “{strategy}”, full, would last {days_down(one.peak.cover_days)} days."
    )


def _concentrators(one: PlanningFigures, strategy: str) -> str:
    """Return what the most concentrators can do, or nothing where there are none."""
    if not one.concentrators:
        return ""
    rated = one.concentrator_flow_ml_min / 1_000
    in_order = rated * (one.concentrator_share or 0.0)
    units = "1 concentrator" if one.concentrators == 1 else f"{one.concentrators:,} concentrators"
    give = "gives" if one.concentrators == 1 else "give"
    usable = f", with a usable voltage {percent(one.voltage_share)} of that time"
    voltage = "" if one.voltage_share == 1 else usable
    left_out = f" Not among these breakdowns: {', '.join(one.not_in_share)}." if one.not_in_share else ""
    return (
        f"The {units} of “{strategy}” {give} {number(rated)} L/min, {number(in_order)} on average after "
        f"breakdowns, while there is power: the grid is up {percent(one.grid_share)} of the time{voltage}."
        f"{left_out}{_battery(one)}{_generator(one)}"
    )


def _generator(one: PlanningFigures) -> str:
    """Return how many units the generator carries where it stands, or nothing without one."""
    generator = one.generator
    if generator is None:
        return ""
    at_most = "" if generator.watts is None else f" with the {number(generator.watts)} W it has for them"
    below = generator.starts_below
    when = "" if below is None else f"; it is started when the battery is down to {percent(below)}"
    return f" The generator carries {_whom(generator.units, one)}{at_most}{when}."


def _battery(one: PlanningFigures) -> str:
    """Return how long the battery carries how many units, or nothing without one."""
    if one.battery is None:
        return ""
    count, hours = one.battery
    lasts, together = (hours_minutes(int(share * hours * 3_600)) for share in (1, count))
    gathered = f", or one on which all are gathered for {together}" if one.gathers and count > 1 else ""
    return f" A full battery carries {_whom(count, one)} for {lasts}{gathered}."


def _whom(count: int, one: PlanningFigures) -> str:
    return "them all" if count == one.concentrators else f"{count} of them"


def cylinder_sentences(
    lasts: CylinderLasts,
    flow_ml_min: float,
    residual_kpa: float,
    flow_lost_kpa: float,
    unit: tuple[str, float] = ("kPa", 1.0),
) -> list[str]:
    """Return how long a cylinder lasts from its gauge reading, rounded down, with what to mind.

    unit: the name of the unit of pressures, and its size in kPa.
    """
    at = f"At {number(flow_ml_min / 1_000)} L/min"
    residual, lost = (f"{number(kpa / unit[1])} {unit[0]}" for kpa in (residual_kpa, flow_lost_kpa))
    to_residual_s, to_lost_s = map(floor_seconds, (lasts.minutes_to_residual, lasts.minutes_to_flow_lost))
    if lasts.to_residual_l <= 0:
        change = f"Change it now: it is at or below {residual}."
    elif to_residual_s < 60:
        change = f"Change it now: it is at {residual} within a minute."
    else:
        change = f"{at} change it within {hours_minutes(to_residual_s)}: it is then at {residual}."
    when = f"after {hours_minutes(to_lost_s)}, at {lost}" if to_lost_s >= 60 else f"now, at {lost} or below"
    return [
        f"It holds {number(lasts.content_l)} L (at 15 °C and 1 atm, above gauge zero).",
        change,
        f"{at} flow is lost {when}.",
        "Times are rounded down; allow for the error of gauge and flowmeter, and look at the gauge often.",
    ]


def floor_seconds(minutes: float) -> int:
    """Return minutes as whole seconds rounded down, a hair of rounding error forgiven."""
    return math.floor(minutes * 60 + 1e-6)


def need_tables(figures: Mapping[str, PlanningFigures]) -> list[Table]:
    """Return the need: its mean, and beside it that of the busiest day; once where strategies agree."""
    return [
        _need_table(one, "The need" if len(names) == len(figures) else f"The need under {quoted(names)}")
        for names, one in needs(figures)
    ]


def _need_table(one: PlanningFigures, title: str) -> Table:
    rows: list[tuple[str, ...]] = [
        (f"patients on oxygen: {item.name}", number(item.patients_mean), number(item.patients_peak))
        for item in one.classes
    ]
    cells: tuple[tuple[str, Callable[[Demand], str]], ...] = (
        ("patients on oxygen at once", lambda item: number(item.patients)),
        ("  exceeded 1 % of the time", lambda item: str(item.patients_99)),
        ("flow at once, L/min", lambda item: number(item.flow_ml_min / 1_000)),
        ("  exceeded 1 % of the time", lambda item: number(item.flow_99_ml_min / 1_000)),
        ("litres a day", lambda item: number(item.litres_per_day)),
        ("  of which needed", lambda item: number(item.needed_litres_per_day)),
    )
    if one.mean.needed_litres_per_day == one.mean.litres_per_day:
        cells = cells[:-1]
    rows += [(head, cell(one.mean), cell(one.peak)) for head, cell in cells]
    if one.peak_day is None:
        return Table((title, "yearly mean"), tuple(row[:2] for row in rows))
    mean = "mean of the horizon" if one.by_register else "yearly mean"
    return Table((title, mean, f"peak, {day_month(one.peak_day)}"), tuple(rows))


def supply_tables(figures: Mapping[str, PlanningFigures]) -> list[Table]:
    """Return what each strategy holds: fleet, days of cover, concentrators, grid and what backs it up."""
    found = figures.values()
    rows: list[Row] = [
        (True, "cylinders in the fleet", lambda item: f"{item.fleet:,}" if item.fleet else "-"),
        *_full_ones(figures),
        (True, "cylinders a day, mean need", lambda item: _maybe(item.mean.cylinders_per_day)),
        (True, "cylinders a day, peak need", lambda item: _maybe(item.peak.cylinders_per_day)),
        (True, "days of cover, all full, mean need", lambda item: _maybe(item.mean.cover_days, days_down)),
        (True, "days of cover, all full, peak need", lambda item: _maybe(item.peak.cover_days, days_down)),
        (True, "concentrators", lambda item: f"{item.concentrators:,}" if item.concentrators else "-"),
        (True, "  rated flow together, L/min",
         lambda item: number(item.concentrator_flow_ml_min / 1_000) if item.concentrators else "-"),
        (True, "  share in order, long run", lambda item: _maybe(item.concentrator_share, percent)),
        (True, "share of time the grid is up", lambda item: percent(item.grid_share)),
        (any(item.voltage_share < 1 for item in found),
         "  of it with usable voltage", lambda item: percent(item.voltage_share)),
        (any(item.battery for item in found), "units a full battery carries",
         lambda item: f"{item.battery[0]} for {number(item.battery[1])} h" if item.battery else "-"),
        (any(item.battery and item.gathers for item in found), "  with patients gathered",
         lambda item: f"1 for {number(math.prod(item.battery))} h" if item.battery and item.gathers else "-"),
        (any(item.generator for item in found),
         "units the generator carries", lambda item: str(item.generator.units) if item.generator else "-"),
        (any(item.generator and item.generator.starts_below is not None for item in found),
         "  started at this battery charge",
         lambda item: _maybe(item.generator.starts_below if item.generator else None, percent)),
    ]  # fmt: skip
    return by_strategy("The supply", figures, [(head, cell) for shown, head, cell in rows if shown], SUPPLY_NOTE)


def _full_ones(figures: Mapping[str, PlanningFigures]) -> Iterator[Row]:
    """Yield what a full cylinder holds, of each size where there are several."""
    names = dict.fromkeys(size.name for one in figures.values() for size in one.sizes)
    if not names:
        yield True, "litres in a full cylinder", lambda item: _maybe(item.cylinder_litres)
        yield True, "  usable to residual pressure", lambda item: _maybe(item.usable_litres)
    for name in names:
        yield True, f"{name} cylinders", partial(_of_size, name, lambda size: size.fleet)
        yield True, "  litres in a full one", partial(_of_size, name, lambda size: size.litres)
        yield True, "  usable to residual pressure", partial(_of_size, name, lambda size: size.usable_litres)


def _of_size(name: str, of: Callable[[SizeFigures], float], one: PlanningFigures) -> str:
    return next((number(of(size)) for size in one.sizes if size.name == name), "-")


def duration_tables(figures: Mapping[str, PlanningFigures]) -> list[Table]:
    """Return how long one full cylinder lasts by flow, once for each kind; nothing without cylinders."""
    kinds = [
        (names, one) for names, one in _alike(figures, lambda item: item.cylinder_times) if one.cylinder_times
    ]
    title, note = (
        "One full cylinder lasts",
        "Rounded down, leak included; a class in brackets stands at its mean flow.",
    )
    return [
        Table(
            (
                title if len(kinds) == 1 else f"{title}, {quoted(names)}",
                "to residual pressure",
                "to where flow is lost",
            ),
            tuple(
                (
                    (f"{item.size}, " if item.size else "")
                    + f"{number(item.flow_ml_min / 1_000)} L/min"
                    + (f" ({item.whose})" if item.whose else ""),
                    hours_minutes(item.to_residual_s),
                    hours_minutes(item.to_flow_lost_s),
                )
                for item in one.cylinder_times
            ),
            note,
        )
        for names, one in kinds
    ]


def day_month(day: dt.date) -> str:
    """Return a date as "15 May", without the year."""
    return f"{day.day} {day:%B}"


def _maybe(value: float | None, say: Callable[[float], str] = number) -> str:
    return "-" if value is None else say(value)
