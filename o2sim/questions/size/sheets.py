"""Three sheets to print from a sizing that found an answer: weekly count, dusk page, reorder card.

They are for people who have no computer at hand, so every figure stands ready: what to order at each count, until
what time a cylinder lasts that is at a reading at dusk, when to phone. Whatever a scenario says is escaped.
"""

from __future__ import annotations

from itertools import groupby
from pathlib import Path

from o2sim import shown
from o2sim.errors import O2simError
from o2sim.looks import cautions as own_figures
from o2sim.looks import doubt
from o2sim.looks.cautions import LONG
from o2sim.looks.files import require_copy, write_text
from o2sim.looks.sheet_page import big, blank, cautions, heading, listed, page, paragraph, sign
from o2sim.looks.words import is_year, number, percent
from o2sim.quantities.units import format_duration
from o2sim.questions.bedside.dusk_page import dusk_page
from o2sim.questions.size import sheets_by_size as by_size
from o2sim.questions.size.better_rule_text import rule_on_the_card
from o2sim.questions.size.parts import card
from o2sim.questions.size.phrases import named_causes, runs_of
from o2sim.questions.size.reorder_card import cover_blocks, cover_line, phone_blocks, runs_words
from o2sim.questions.size.result import Answer, Card, SizingResult
from o2sim.questions.size.sizing import Sizing
from o2sim.scenario.types.hospital import DAY_S, OURS, Cylinders, Hospital, Resupply

COUNT_SHEET, DUSK_PAGE, REORDER_CARD = "count-sheet.html", "dusk-page.html", "reorder-card.html"
SHEETS = (COUNT_SHEET, DUSK_PAGE, REORDER_CARD)
ROWS = 25  # that the count sheet has room for: orders, and weeks to fill in
LEAST_WEEKS, MOST_WEEKS = 6, 13  # a quarter of a year
COUNTS_ACROSS = 6  # columns of the table of orders; without a table where it would be deeper than what is left
PROMISE = heading("What the simulation shows")  # after it the card has no number to act by


def sheets(hospital: Hospital, result: SizingResult) -> dict[str, str]:
    """Return the pages by file name. Raises O2simError without an answer, cylinders or resupply."""
    if result.answer is None:
        raise O2simError(
            "sheets: no value meets the target, so there is nothing to hang on a wall; widen the range"
        )
    cylinders, resupply = hospital.cylinders, hospital.resupply
    if cylinders is None or resupply is None:
        raise O2simError("sheets: they are for cylinders that are ordered again; this strategy has none")
    where, ran, ours = result.of.scenario, result.ran, result.figures == OURS
    values = ", ".join(f"{path} = {text}" for path, text in result.answer.point.values.items())
    footer = (
        f"{where}, “{result.strategy}”. o2sim {ran.version}, scenario {result.of.scenario_hash}, "
        f"seed {ran.seed}, {ran.replications:,} replications, engine {ran.engine}; "
        f"{f'{values}. Check one figure by hand before this is put up' if ours else 'an example'}."
    )
    if cylinders.sizes:
        count = _count_by_size(where, hospital, cylinders, resupply)
        wall = _card_by_size(result, result.answer, hospital, cylinders, resupply)
    else:
        figures = card(hospital, ()) if result.measured is None else result.measured.card
        assert figures is not None
        count = _count_sheet(where, cylinders, resupply, figures)
        wall = _reorder_card(result, result.answer, cylinders, resupply, figures)
    example = ""
    if not ours:
        count, wall = _no_orders(count), _no_orders(wall)
        example = f"{own_figures.OWN} {own_figures.NO_NUMBER}"
    return {
        COUNT_SHEET: page("Cylinder store: count and order", count, footer, example),
        **{
            name: page("Oxygen for the night", dusk_page(where, hospital, cylinders.each[place]), footer, example)
            for place, name in by_size.page_names(cylinders, DUSK_PAGE).items()
        },
        REORDER_CARD: page("When to order oxygen", wall, footer, example),
    }


def acts_by(hospital: Hospital, result: SizingResult) -> dict[str, str]:
    """Return the number that somebody acts by, of the sheets that have one: at which count to order or to phone.

    Nothing where the sheets show none: without an answer, or while not all figures are the hospital's own.
    """
    if result.answer is None or result.figures != OURS or hospital.resupply is None:
        return {}
    if hospital.cylinders is not None and hospital.cylinders.sizes:
        points = by_size.order_point_words(hospital.cylinders, hospital.resupply)
        return {COUNT_SHEET: points, REORDER_CARD: points}
    figures = card(hospital, ()) if result.measured is None else result.measured.card
    phone_at = {} if figures is None else {REORDER_CARD: str(figures.phone_at)}
    return {COUNT_SHEET: str(hospital.resupply.reorder_point), **phone_at}


@shown.scenario_copy.register
def _copy(result: Sizing, path: Path, force: bool) -> Path:
    require_copy(path, result.source, force)
    write_text(path, result.scenario_text())
    return path


@shown.sheets.register
def write_sheets(result: Sizing, folder: Path) -> list[Path]:
    """Write the three pages into a folder, which is made if need be, and return their paths."""
    pages = sheets(result.hospital, result.record)
    folder.mkdir(parents=True, exist_ok=True)
    for name, text in pages.items():
        write_text(folder / name, text)
    return [folder / name for name in pages]


def _no_orders(blocks: list[str]) -> list[str]:
    """Return the blocks of a sheet without a number to order or to phone by: all but the name and the promise."""
    kept = blocks.index(PROMISE) if PROMISE in blocks else len(blocks)
    return [
        own_figures.without_numbers(block) if 0 < place < kept else block for place, block in enumerate(blocks)
    ]


# --- the store ---------------------------------------------------------------------------------------------------


def order_for(resupply: Resupply, position: int) -> int:
    """Return what to order at a count of full and on order together, if there are as many empties."""
    if position > resupply.reorder_point:
        return 0
    wanted = resupply.order_up_to - position
    if resupply.vehicle_capacity is not None:
        wanted = min(wanted, resupply.vehicle_capacity)
    return wanted if wanted >= max(1, resupply.minimum_order) else 0


def _when(resupply: Resupply) -> str:
    if resupply.review_s is None:
        return "Each time a full cylinder is taken"
    return (
        "Once a week, on the same day" if resupply.review_s == 7 * DAY_S else f"Every {_days(resupply.review_s)}"
    )


def _days(seconds: float) -> str:
    days = seconds / DAY_S
    return f"{number(days)} day{'' if days == 1 else 's'}" if days >= 1 else format_duration(round(seconds))


def _count_sheet(where: str, cylinders: Cylinders, resupply: Resupply, figures: Card) -> list[str]:
    limits = ["Never order more than the empties at the door that no open order waits for."]
    if resupply.vehicle_capacity is not None:
        limits.append(f"One lorry takes {resupply.vehicle_capacity}: the table has allowed for it.")
    if resupply.minimum_order > 1:
        limits.append(
            f"Fewer than {resupply.minimum_order} are not delivered: order none and count again next time."
        )
    cells = _order_cells(resupply)
    depth = -(-len(cells) // COUNTS_ACROSS)
    weeks = max(LEAST_WEEKS, ROWS - depth) if depth <= ROWS - LEAST_WEEKS else MOST_WEEKS
    limits += [line for line in (cover_line(resupply, figures),) if line]
    limits.append("Part-used cylinders are not counted as full; use them first.")
    limits.append(
        f"All cylinders together should be {cylinders.fleet}. If they are not, look for the missing ones."
    )
    return [
        paragraph(where, "for"),
        paragraph(
            f"{_when(resupply)}: count the full ones, the empty ones, and those on order. Add full and on "
            "order. At "
            f"{resupply.reorder_point} or fewer order what the table says; above it order nothing.",
            "rule",
        ),
        heading("What to order today"),
        _orders(cells) if depth <= ROWS - LEAST_WEEKS else paragraph(_in_words(resupply), "rule"),
        listed(limits),
        heading("Count"),
        blank(
            ("date", "full", "empty", "on order", "full + on order", "ordered today", "counted by"),
            min(MOST_WEEKS, weeks),
        ),
        cautions((*LONG["Cylinders"][:3], LONG["Fire"][0], LONG["What this is"][0])),
    ]


def _count_by_size(where: str, hospital: Hospital, cylinders: Cylinders, resupply: Resupply) -> list[str]:
    return [
        paragraph(where, "for"),
        paragraph(
            f"{_when(resupply)}: count of each size the full ones, the empty ones, and those on order. Add full "
            "and on order. At the number of the size or fewer order what is missing; above it order none.",
            "rule",
        ),
        heading("What to order today"),
        by_size.orders_of(hospital, cylinders, resupply),
        listed(by_size.limits_of(cylinders, resupply)),
        heading("Count"),
        by_size.count_form(cylinders, MOST_WEEKS),
        cautions((*LONG["Cylinders"][:3], LONG["Fire"][0], LONG["What this is"][0])),
    ]


def _in_words(resupply: Resupply) -> str:
    """Return how to work out an order where a table would not fit on the page."""
    most = "" if resupply.vehicle_capacity is None else f", at most {resupply.vehicle_capacity}"
    return f"Order {resupply.order_up_to} less what is full and on order together{most}."


def _order_cells(resupply: Resupply) -> list[tuple[str, str]]:
    """Return (full + on order, what to order), counts with the same order together."""
    cells = []
    for order, counts in groupby(range(resupply.reorder_point + 1), key=lambda count: order_for(resupply, count)):
        low, *rest = counts
        cells.append((f"{low} to {rest[-1]}" if rest else f"{low}", f"{order}"))
    return [*cells, (f"{resupply.reorder_point + 1} or more", "0")]


def _orders(cells: list[tuple[str, str]]) -> str:
    """Return the table of orders, in columns side by side."""
    deep = -(-len(cells) // COUNTS_ACROSS)
    cells = cells + [("-", "-")] * (-len(cells) % deep)
    columns = [cells[at : at + deep] for at in range(0, len(cells), deep)]
    heads = '<th scope="col">full +<br>on order</th><th scope="col">order</th>' * len(columns)
    rows = "\n".join(
        "<tr>" + "".join(f'<td>{count}</td><td class="on">{order}</td>' for count, order in row) + "</tr>"
        for row in zip(*columns, strict=True)
    )
    return f'<table class="look"><thead><tr>{heads}</tr></thead><tbody>\n{rows}\n</tbody></table>'


# --- the wall ----------------------------------------------------------------------------------------------------


def _reorder_card(
    result: SizingResult, answer: Answer, cylinders: Cylinders, resupply: Resupply, figures: Card
) -> list[str]:
    runs = runs_words(result.horizon_days)
    return [
        paragraph(f"{result.of.scenario}, “{result.strategy}”", "for"),
        big(
            (
                (f"{resupply.reorder_point}", "full and on order, or fewer: ORDER"),
                (f"{resupply.order_up_to}", "order up to this many, full and on order"),
                (f"{cylinders.fleet}", "cylinders in all"),
            )
        ),
        paragraph(
            f"{_when(resupply)} count full and on order together. At {resupply.reorder_point} or fewer order "
            "what is "
            f"missing to {resupply.order_up_to}, as far as there are empties"
            + (f" and the lorry takes it ({resupply.vehicle_capacity})." if resupply.vehicle_capacity else "."),
            "rule",
        ),
        *phone_blocks(resupply, figures, runs),
        *cover_blocks(resupply, figures, runs),
        *_promise(result, answer),
    ]


def _card_by_size(
    result: SizingResult, answer: Answer, hospital: Hospital, cylinders: Cylinders, resupply: Resupply
) -> list[str]:
    return [
        paragraph(f"{result.of.scenario}, “{result.strategy}”", "for"),
        by_size.order_numbers(cylinders, resupply),
        paragraph(
            f"{_when(resupply)} count full and on order together, each size by itself. At its number or fewer "
            "order what is missing, as far as there are empties of that size.",
            "rule",
        ),
        by_size.orders_of(hospital, cylinders, resupply),
        paragraph(by_size.phone_words(cylinders, resupply), "call"),
        *by_size.cover_of(hospital, cylinders, resupply),
        *_promise(result, answer),
    ]


def _promise(result: SizingResult, answer: Answer) -> list[str]:
    """Return what the simulation shows of the answer, and who stands for the card."""
    days, point = result.horizon_days, answer.point
    return [
        PROMISE,
        *([paragraph(said)] if (said := rule_on_the_card(result)) else []),
        paragraph(
            f"With {percent(result.confidence)} confidence somebody goes without because of "
            f"{named_causes(result)} in at most {runs_of(result.target, days)}, if the hospital is as the "
            "scenario says and handling costs no time. "
            f"{percent(result.target)} still means about 1 {'year' if is_year(days) else 'run'} in "
            f"{number(1 / result.target)}. In {point.replications:,} replications it happened in "
            f"{point.failures:,}. This confidence holds {doubt.holds(result.interval_holds, result.draws)}. "
            "Night checks that are missed, regulators that are lacking and staff who are "
            "elsewhere are not cured by more cylinders."
        ),
        sign("worked out by", "approved by", "date"),
        sign("valid until (at most one year)", "supplier's telephone", "emergency telephone"),
        cautions((*LONG["Cylinders"][:3], LONG["Fire"][0], LONG["What this is"][0], LONG["What this is"][3])),
    ]
