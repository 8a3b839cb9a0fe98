"""A sizing that found an answer in, three sheets to print out: weekly count, dusk page, reorder card.

They are for people who have no computer at hand, so every figure stands ready: what to order at each count, until
what time a cylinder lasts that is at a reading at dusk, when to phone. Whatever a scenario says is escaped.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from o2sim import shown
from o2sim.analysis.card import Card, card_of
from o2sim.analysis.sizing import Sizing
from o2sim.errors import O2simError
from o2sim.gas import CylinderSize
from o2sim.report import doubt
from o2sim.report.bedside_table import Bedside
from o2sim.report.cautions import LONG, STRETCH
from o2sim.report.files import write_answer, write_text
from o2sim.report.sheet_cover import cover_blocks, cover_line, phone
from o2sim.report.sheet_page import big, blank, cautions, heading, listed, page, paragraph, sign, table
from o2sim.report.sizing import runs_of
from o2sim.report.words import is_year, number, percent
from o2sim.scenario.types import DAY_S, Cylinders, Hospital, Resupply
from o2sim.units import format_duration

COUNT_SHEET, DUSK_PAGE, REORDER_CARD = "count-sheet.html", "dusk-page.html", "reorder-card.html"
SHEETS = (COUNT_SHEET, DUSK_PAGE, REORDER_CARD)
FLOWS_ML_MIN = (500, 1_000, 2_000, 3_000, 4_000, 5_000, 6_000, 8_000, 10_000, 15_000)
SHARES = (1.0, 0.75, 0.5, 0.25)  # of the filling pressure, the columns of the dusk page
ROWS = 25  # that the count sheet has room for: orders, and weeks to fill in
LEAST_WEEKS, MOST_WEEKS = 6, 13  # a quarter of a year
BEDS = 5
COUNTS_ACROSS = 6  # columns of the table of orders; without a table where it would be deeper than what is left
Result = Mapping[str, Any]


def sheets(hospital: Hospital, result: Result) -> dict[str, str]:
    """Return the pages by file name. Raises O2simError without an answer, cylinders or resupply."""
    if result["answer"] is None:
        raise O2simError(
            "sheets: no value meets the target, so there is nothing to hang on a wall; widen the range"
        )
    cylinders, resupply = hospital.cylinders, hospital.resupply
    if cylinders is None or resupply is None:
        raise O2simError("sheets: they are for cylinders that are ordered again; this strategy has none")
    figures = card_of(result, hospital)
    assert figures is not None
    footer = (
        f"{result['scenario']}, “{result['strategy']}”. o2sim {result['version']}, scenario "
        f"{result['scenario_hash']}, "
        f"seed {result['seed']}, {result['replications']:,} replications, engine {result['engine']}; "
        f"{', '.join(f'{path} = {text}' for path, text in result['answer']['values'].items())}. "
        "Check one figure by hand before this is put up."
    )
    where = f"{result['scenario']}"
    return {
        COUNT_SHEET: page(
            "Cylinder store: count and order", _count_sheet(where, cylinders, resupply, figures), footer
        ),
        DUSK_PAGE: page("Oxygen for the night", _dusk_page(where, hospital, cylinders), footer),
        REORDER_CARD: page("When to order oxygen", _reorder_card(result, cylinders, resupply, figures), footer),
    }


@shown.scenario_copy.register
def _copy(result: Sizing, path: Path, force: bool) -> Path:
    return write_answer(path, result, force)


@shown.sheets.register
def _of_sizing(result: Sizing, folder: Path) -> list[Path]:
    return write_sheets(folder, result.hospital, result.result)


def write_sheets(folder: Path, hospital: Hospital, result: Result) -> list[Path]:
    """Write the three pages into a folder, which is made if need be, and return their paths."""
    pages = sheets(hospital, result)
    folder.mkdir(parents=True, exist_ok=True)
    for name, text in pages.items():
        write_text(folder / name, text)
    return [folder / name for name in pages]


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


def _in_words(resupply: Resupply) -> str:
    """Return how to work out an order where a table would not fit on the page."""
    most = "" if resupply.vehicle_capacity is None else f", at most {resupply.vehicle_capacity}"
    return f"Order {resupply.order_up_to} less what is full and on order together{most}."


def _order_cells(resupply: Resupply) -> list[tuple[str, str]]:
    """Return (full + on order, what to order), counts with the same order together."""
    spans: list[tuple[int, int, int]] = []
    for position in range(resupply.reorder_point + 1):
        order = order_for(resupply, position)
        if spans and spans[-1][2] == order:
            spans[-1] = (spans[-1][0], position, order)
        else:
            spans.append((position, position, order))
    cells = [(f"{low}" if low == high else f"{low} to {high}", f"{order}") for low, high, order in spans]
    return [*cells, (f"{resupply.reorder_point + 1} or more", "0")]


def _orders(cells: list[tuple[str, str]]) -> str:
    """Return the table of orders, in columns side by side."""
    across = COUNTS_ACROSS
    deep = -(-len(cells) // across)
    cells = cells + [("", "")] * (deep * across - len(cells))
    heads = "".join('<th scope="col">full +<br>on order</th><th scope="col">order</th>' for _ in range(across))
    rows = "\n".join(
        "<tr>"
        + "".join(
            f'<td>{cells[c * deep + r][0]}</td><td class="on">{cells[c * deep + r][1]}</td>' for c in range(across)
        )
        + "</tr>"
        for r in range(deep)
    )
    return f'<table class="look"><thead><tr>{heads}</tr></thead><tbody>\n{rows}\n</tbody></table>'


# --- the night ---------------------------------------------------------------------------------------------------


def _dusk_page(where: str, hospital: Hospital, cylinders: Cylinders) -> list[str]:
    hours = hospital.day_hours
    dusk_s, night_s = hours.to_s, (hours.from_s - hours.to_s) % DAY_S
    use = _bedside(cylinders)
    residual = max(use.residual_kpa, use.flow_lost_kpa)
    heads = ["flow", *(_reading(share, cylinders) for share in SHARES), "full ones to bring, each patient"]
    rows = []
    for flow in FLOWS_ML_MIN:
        lasts = [use.seconds(share * cylinders.filling_pressure_kpa, residual, flow) for share in SHARES]
        rows.append(
            (
                f"{number(flow / 1_000)} L/min",
                *(_until(dusk_s, each, night_s) for each in lasts),
                f"{_bring(night_s, lasts[0])}",
            )
        )
    return [
        paragraph(f"{where}. For the night from {_clock(dusk_s)} to {_clock(hours.from_s)}.", "for"),
        paragraph(
            f"At {_clock(dusk_s)} read every gauge. The table says until when that cylinder lasts. Change it at "
            f"{number(residual / 100)} bar ({number(residual)} kPa), not when it is empty.",
            "rule",
        ),
        heading(f"A cylinder at this reading at {_clock(dusk_s)} lasts until"),
        table(heads, rows),
        paragraph(
            "Bring the full ones before dark; the last column is for a patient whose cylinder has to be changed "
            f"at {_clock(dusk_s)}. Times are rounded down, a leak of {number(cylinders.leak_ml_min / 1_000)} "
            "L/min is in them; a gauge can read too high and a flowmeter too low, so look again before the time. "
            f"This page holds for one size alone: {_size(cylinders)}; void for any other."
        ),
        heading("Tonight"),
        blank(("bed", "flow", "gauge", "lasts until", "full ones at the bed", "look at the gauge at"), BEDS),
        *_power_cut(hospital),
        heading("Whom to call"),
        sign("nurse in charge", "technician", "keys of the store", "supplier, by night"),
        sign("next hospital", "ambulance", "page checked by", "date"),
        cautions(
            (
                LONG["What this is"][0],
                LONG["Patients"][0],
                STRETCH,
                LONG["Fire"][0],
                *LONG["Cylinders"][2:3],
                LONG["Concentrators"][2],
            )
        ),
    ]


def _bedside(cylinders: Cylinders) -> Bedside:
    full_l = cylinders.full_gas / 60_000
    size = (
        CylinderSize(water_capacity_l=cylinders.water_capacity_l)
        if cylinders.water_capacity_l is not None
        else CylinderSize(full_content_l=full_l, filling_pressure_kpa=cylinders.filling_pressure_kpa)
    )
    return Bedside(
        size,
        cylinders.filling_pressure_kpa,
        residual_kpa=cylinders.residual_pressure_kpa,
        flow_lost_kpa=cylinders.flow_lost_below_kpa,
        leak_ml_min=cylinders.leak_ml_min,
        temperature_c=cylinders.fill_temperature_c,
    )


def _size(cylinders: Cylinders) -> str:
    litres = (
        f"{number(cylinders.full_gas / 60_000)} L of gas at {number(cylinders.filling_pressure_kpa / 100)} bar"
    )
    stamped = cylinders.water_capacity_l
    return litres if stamped is None else f"{number(stamped)} L stamped on the shoulder, {litres}"


def _reading(share: float, cylinders: Cylinders) -> str:
    bar = math.floor(share * cylinders.filling_pressure_kpa / 100)
    return f"full, {bar} bar" if share == 1 else f"{bar} bar"


def _until(dusk_s: int, lasts_s: int, night_s: int) -> str:
    """Return the clock time at which a cylinder is to be changed, in words where it lasts the night."""
    return "all night" if lasts_s >= night_s else _clock(dusk_s + lasts_s)


def _clock(second: int) -> str:
    minutes = second % DAY_S // 60
    return f"{minutes // 60:02d}:{minutes % 60:02d}"


def _bring(night_s: int, lasts_s: int) -> str:
    return f"{math.ceil(night_s / lasts_s)}" if lasts_s > 0 else "-"


def _power_cut(hospital: Hospital) -> list[str]:
    if hospital.concentrators is None:
        return []
    power = hospital.power
    steps = ["Look at every patient on a concentrator first, with the pulse oximeter."]
    if power is not None and power.battery is not None:
        steps.append("The battery takes over. Do not trust it for the night: make cylinders ready now.")
    if power is not None and power.generator is not None:
        delay = format_duration(power.generator.start_delay_s)
        steps.append(
            f"The generator needs about {delay} to start, and may fail to: do not wait for it with a patient."
        )
    if hospital.cylinders is not None:
        steps.append("Connect those who need oxygen to a cylinder with its regulator; open the valve slowly.")
        steps.append("Note bed, flow and gauge above: a cylinder opened now lasts so much shorter than the night.")
    steps.append(
        "Not enough cylinders or regulators for all: call the nurse in charge at once; local guidelines decide."
    )
    steps.append("Power back: put the units on again, wait until the flow is steady, and close the cylinders.")
    return [heading("In a power cut"), listed(steps, ordered=True)]


# --- the wall ----------------------------------------------------------------------------------------------------


def _reorder_card(result: Result, cylinders: Cylinders, resupply: Resupply, figures: Card) -> list[str]:
    answer, days = result["answer"], result["horizon_days"]
    return [
        paragraph(f"{result['scenario']}, “{result['strategy']}”", "for"),
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
        paragraph(phone(resupply, figures, days), "call"),
        *cover_blocks(resupply, figures, days),
        heading("What the simulation shows"),
        paragraph(
            f"With {percent(result['confidence'])} confidence somebody goes without for want of "
            f"{_causes(result)} in at most {runs_of(result['target'], days)}, if the hospital is as the "
            "scenario says. "
            f"{percent(result['target'])} still means about 1 {'year' if is_year(days) else 'run'} in "
            f"{number(1 / result['target'])}. In {answer['replications']:,} replications it happened in "
            f"{answer['failures']:,}. This confidence holds {doubt.held(result)}. "
            "Night checks that are missed, regulators that are lacking and staff who are "
            "elsewhere are not cured by more cylinders."
        ),
        sign("worked out by", "approved by", "date"),
        sign("valid until (at most one year)", "supplier's telephone", "emergency telephone"),
        cautions((*LONG["Cylinders"][:3], LONG["Fire"][0], LONG["What this is"][0], LONG["What this is"][3])),
    ]


def _causes(result: Result) -> str:
    return "a cylinder" if result["causes"] == ["no cylinder"] else "supply"
