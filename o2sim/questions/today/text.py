"""What is said of today: what was not counted, two sentences, then the figures as tables."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from pathlib import Path

from o2sim.looks import cautions
from o2sim.looks.blocks import Block, Lines, Part, Points, Strong, Table
from o2sim.looks.screen import Screen
from o2sim.looks.words import capital, half_up, joined, number, percent
from o2sim.questions.today.moment import in_words
from o2sim.questions.today.result import Cover, DayAhead, Delivery, IfSo, Night, Ordering, TodayResult
from o2sim.statistics.estimates import Probability

EVERY_DAY, THEN_EVERY = 10, 3  # rows of the table on the screen: all of the first days, then every third


def lead(said: TodayResult) -> str:
    """Return the two sentences; where it was stopped, that it was."""
    if said.advice:
        return " ".join(said.advice)
    if said.complete:
        return "The scenario has no resupply: nothing is ordered from anybody."
    return (
        f"Stopped before orders were tried: the forecast alone, of {said.ran.replications:,} simulated mornings."
    )


def content(said: TodayResult, every_day: bool = True) -> list[Block]:
    """Return what is to be said below the two sentences; every_day: each day has a row, however many."""
    blocks: list[Block] = []
    if said.ordering is not None:
        blocks += [_orders(said.ordering), *_rule(said.ordering)]
    blocks += [_cover(said.cover), _days(said.by_day if every_day else _fewer(said.by_day), said)]
    if said.night is not None:
        blocks.append(_night(said.night))
    if said.if_so:
        blocks.append(_if_so(said.if_so))
    return blocks


def counted(said: TodayResult) -> str:
    """Return what was counted, in one line."""
    each = said.counts
    on_patients = (
        "those on patients not counted" if each.on_patients is None else f"{each.on_patients} on patients"
    )
    when = dt.datetime.fromisoformat(said.counted)
    return (
        f"Counted {in_words(when.date())} {when:%H:%M}: {each.full} full, {each.part_used} part-used, "
        f"{each.empty} empty, {on_patients}, {each.on_order} on order; {_patients(said)}."
    )


def _patients(said: TodayResult) -> str:
    found = said.counts.on_oxygen
    if found is None:
        return "nobody counted who is on oxygen"
    there = [f"{name} {count}" for name, count in found.items() if count]
    return f"on oxygen: {joined(there)}" if there else "nobody on oxygen"


def _orders(found: Ordering) -> Table:
    until = _moment(found.until)
    rows = tuple(
        (
            f"order {each.order}" if each.order else "order nothing",
            _chance(each.without_supply),
            f"{each.replications:,}",
            ", ".join(_marks(found, each.order)),
        )
        for each in found.tried
    )
    note = f"Until {until}: when the order after today's can be there, 19 times in 20 on open roads."
    if not found.even:
        note += " A larger order tried came out worse by luck of what it meets: take these chances as rough."
    return Table(("What to order today", "anybody without, for want of supply", "replications", ""), rows, note)


def _marks(found: Ordering, order: int) -> list[str]:
    marks = []
    if order == found.least:
        marks.append("the least within the limit" if found.reached else "the best there is")
    return [*marks, *(["the rule"] if order == found.rule.order else [])]


def _rule(found: Ordering) -> list[Block]:
    rule = found.rule
    said = (
        f"The rule (at {rule.reorder_point} or fewer full and on order, up to {rule.order_up_to}) says "
        f"{f'order {rule.order}' if rule.order else 'order nothing'}: full and on order are {rule.position}"
    )
    if not found.why_apart:
        return [f"{said}{f'; {joined(rule.why)}' if rule.why else ''}."]
    return [Points(found.why_apart, f"{said}. Why the least order is not that:")]


def _cover(found: Cover) -> Table:
    rows = [("oxygen that can be given", f"{number(found.litres)} L")]
    if found.flow_l_min is not None:
        rows.append((f"flow from cylinders now ({found.flow_from})", f"{number(found.flow_l_min)} L/min"))
    if found.hours is None:
        rows.append(("all of it lasts", "nothing flows from cylinders"))
    else:
        rows.append(
            ("all of it lasts, were it one vessel", f"{_hours(found.hours)} ({number(found.hours / 24)} days)")
        )
    if found.first_dry_hours is not None:
        changes = f"{found.changes_until_dry} change{'' if found.changes_until_dry == 1 else 's'}"
        first = f"after {_hours(found.first_dry_hours)} ({found.first_dry_class}), {changes}"
        rows += [
            ("the first bedside is dry, spares given out in turn", first),
            *([("the others' cylinders then still hold", f"{number(found.stranded_litres)} L")]
              if len(found.bedsides) > 1 else []),
        ]  # fmt: skip
    rows += [
        (f"cylinder in use {place} ({each.of_class}, {number(each.flow_l_min)} L/min)",
         f"{_hours(each.hours)}{', assumed' if each.assumed else ''}")
        for place, each in enumerate(found.bedsides, 1)
    ]  # fmt: skip
    if found.battery_hours is not None:
        lasts = _hours(found.battery_hours)
        chance = found.cut_outlasts_battery
        more = "" if chance is None else f"; a cut lasts longer with chance {percent(chance)}"
        rows.append(("the battery carries the units in use", f"{lasts}{more}"))
    note = "Arithmetic at the flow of now, without chance, new patients or deliveries."
    return Table(("How long it lasts if nothing changes", ""), tuple(rows), note)


def _hours(hours: float) -> str:
    return f"{number(hours)} h"


def _fewer(days: Sequence[DayAhead]) -> tuple[DayAhead, ...]:
    """Return the first days and some of the later ones, the last among them."""
    later = days[EVERY_DAY:]
    kept = (each for place, each in enumerate(later, 1) if not (len(later) - place) % THEN_EVERY)
    return (*days[:EVERY_DAY], *kept)


def _days(days: Sequence[DayAhead], said: TodayResult) -> Table:
    heads = (
        "By the end of",
        "shelf bare",
        "anybody without",
        "for want of supply",
        "lorry came",
        "full cylinders",
    )
    rows = tuple(
        (in_words(dt.date.fromisoformat(each.day)), _chance(each.bare), _chance(each.without),
         _chance(each.without_supply), percent(round(each.delivered, 3)),
         f"{each.full.p50:g} ({each.full.p5:g}–{each.full.p95:g})")
        for each in days
    )  # fmt: skip
    note = (
        "At any time since the count, as the reorder rule goes on ordering, with 95 % intervals of the "
        "simulation. Full cylinders: the middle one of the simulated mornings (5 to 95 % of them). "
        f"{delivery_words(said.next_delivery)}"
    )
    return Table(heads, rows, note)


def _chance(found: Probability) -> str:
    """Return "3.1 % (2.4–4.0)", in as many digits as a look at a table needs."""
    return f"{_percent(found.estimate)} % ({_percent(found.low)}–{_percent(found.high)})"


def _percent(share: float) -> str:
    value = 100 * share
    if value in (0, 100):
        return f"{value:.0f}"
    digits = 0 if 10 <= value <= 99 else 1 if 1 <= value < 99.95 else 2
    size = 10**digits
    return f"{half_up(value * size) / size:.{digits}f}"


def delivery_words(found: Delivery) -> str:
    """Return when the next delivery comes, in a sentence."""
    if found.likely is None:
        return "The next delivery comes within the days looked at in fewer than half of the simulated mornings."
    late = (
        "later than the days looked at in 1 of 20" if found.late is None else f"by {_day(found.late)} in 19 of 20"
    )
    return f"The next delivery after the count comes by {_day(found.likely)} in half of them, {late}."


def _day(day: str) -> str:
    return in_words(dt.date.fromisoformat(day))


def _moment(moment: str) -> str:
    when = dt.datetime.fromisoformat(moment)
    return f"{in_words(when.date())} {when:%H:%M}"


def night_words(found: Night) -> str:
    """Return how many cylinders to bring, in a sentence or two."""
    until = f"Until {_moment(found.until)}"
    if found.bring > found.there:
        there = f"{found.there or 'none'} {'is' if found.there == 1 else 'are'} there"
        return f"{until} the wards may open {_cylinders(found.bring)} (enough in 19 of 20), but {there}."
    said = f"{until} bring {_cylinders(found.bring)} to the wards: enough in 19 of 20."
    if found.bring_if_cut is None or found.bring_if_cut == found.bring:
        return said
    if found.bring_if_cut > found.there:
        more = f"bring all {found.there}: {found.bring_if_cut} may be opened"
        return f"{said} In case the power fails this evening {more}."
    return f"{said} In case the power fails this evening: {found.bring_if_cut}."


def _cylinders(count: int) -> str:
    return f"{count} full or part-used cylinder{'' if count == 1 else 's'}"


def _night(found: Night) -> str:
    return night_words(found)


def _if_so(found: Sequence[IfSo]) -> Table:
    rows = tuple(
        row
        for each in found
        for row in (
            (f"{capital(each.what)}, until {_moment(each.until)}", _chance(each.as_it_is), _chance(each.if_so)),
            ("the same for want of supply", _chance(each.supply_as_it_is), _chance(each.supply_if_so)),
        )
    )
    return Table(("Chance that somebody goes without, if", "as it is", "if so"), rows)


def small_print(said: TodayResult) -> Points:
    """Return how it was worked out."""
    chosen = f"The strategy is “{said.strategy}” ({said.why_strategy}); --strategy names another."
    return Points((chosen, *said.notes), "How it was worked out:")


def line(said: TodayResult) -> str:
    """Return what says how to get the same again."""
    ran = said.ran
    return (
        f"o2sim {ran.version} | scenario {said.of.scenario_hash} | counted {said.counted} | seed {ran.seed} | "
        f"{ran.replications:,} replications, {said.searched:,} of what is only tried | engine {ran.engine}"
    )


def title(said: TodayResult) -> str:
    """Return what a page is called."""
    return f"{said.of.scenario}: will it last until the lorry comes?"


def first(said: TodayResult) -> list[Block]:
    """Return what stands first: what was not counted, whose figures, the two sentences, the count."""
    return [Lines((*said.unknown, cautions.whose_figures(said.figures))), Strong(lead(said)), counted(said)]


def parts(said: TodayResult, pictures: Sequence[Block]) -> list[Part]:
    """Return the parts of the page."""
    return [
        Part("today", "Today", (*first(said), *pictures), place="first"),
        Part("figures", "The figures", tuple(content(said))),
        Part("method", "How it was worked out", (small_print(said), line(said))),
        Part("cautions", "Cautions", said.cautions),
    ]


def print_today(said: TodayResult, folder: Path | None) -> None:
    """Print what was not counted, the two sentences, the tables, how it was worked out, and what to do next."""
    screen = Screen()
    screen.show([*first(said), *content(said, every_day=False), small_print(said)])
    if folder is None:
        screen.next(["For every day and the drawing: add --out FOLDER", "For the wall: add --sheet today.html"])
    screen.paragraph(said.cautions[0])
    screen.paragraph(line(said))
