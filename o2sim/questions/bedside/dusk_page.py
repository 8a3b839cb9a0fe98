"""A hospital in, the blocks of its dusk page out: until when a cylinder lasts, what to do in a power cut."""

from __future__ import annotations

import math

from o2sim.looks.cautions import LONG, STRETCH
from o2sim.looks.sheet_page import blank, cautions, heading, listed, paragraph, sign, table
from o2sim.looks.words import number
from o2sim.quantities.gas import CylinderSize
from o2sim.questions.bedside.power_cut import clock, steps
from o2sim.questions.bedside.table import FLOWS_ML_MIN, Bedside, error_words, room_words
from o2sim.scenario.types.hospital import DAY_S, Cylinders, Hospital

SHARES = (1.0, 0.75, 0.5, 0.25)  # of the filling pressure, the columns
BEDS = 4
NOW, NEVER = "change now", "this size cannot serve"


def dusk_page(where: str, hospital: Hospital, cylinders: Cylinders) -> list[str]:
    """Return the page as blocks of HTML."""
    hours = hospital.day_hours
    dusk_s, night_s = hours.to_s, (hours.from_s - hours.to_s) % DAY_S
    use = _bedside(cylinders)
    residual = max(use.residual_kpa, use.flow_lost_kpa)
    change_bar = math.ceil((residual + use.gauge_error_kpa) / 100 - 1e-9)
    heads = ["flow", *(_reading(share, cylinders) for share in SHARES), "full ones to bring, each patient"]
    rows = []
    for flow in FLOWS_ML_MIN:
        readings = [100 * _bar(share, cylinders) - use.gauge_error_kpa for share in SHARES]
        lasts = [use.seconds(max(0.0, true), residual, flow) for true in readings]
        rows.append(
            (
                f"{number(flow / 1_000)} L/min",
                *(_until(dusk_s, each, night_s) for each in lasts),
                _bring(night_s, lasts[0]),
            )
        )
    cut = steps(hospital)
    return [
        paragraph(f"{where}. For the night from {clock(dusk_s)} to {clock(hours.from_s)}.", "for"),
        paragraph(
            f"At {clock(dusk_s)} read every gauge; the table says until when that cylinder lasts. A reading "
            "between two columns counts as the lower, a flow between two rows as the higher. Change it at "
            f"{change_bar} bar, not when it is empty.",
            "rule",
        ),
        heading(f"A cylinder at this reading at {clock(dusk_s)} lasts until"),
        table(heads, rows, "tight"),
        paragraph(
            "Bring the full ones before dark; the last column is for a patient whose cylinder has to be changed "
            f"at {clock(dusk_s)}. Times are rounded down; {error_words(use)}: {change_bar} bar stands for "
            f"{number(residual / 100)} bar. A leak of {number(cylinders.leak_ml_min / 1_000)} L/min is in the "
            "times; a flowmeter can read too low, so look again before the time. "
            f"{room_words(use)} This page holds for one size alone: {_size(cylinders)}; void for any other.",
            "small",
        ),
        heading("Tonight"),
        blank(("bed", "flow", "gauge", "lasts until", "full ones at the bed", "look at the gauge at"), BEDS),
        *([heading("In a power cut"), listed(cut, ordered=True)] if cut else []),
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


def _bar(share: float, cylinders: Cylinders) -> int:
    """Return the reading of a column in whole bar."""
    return math.floor(share * cylinders.filling_pressure_kpa / 100 + 1e-9)


def _reading(share: float, cylinders: Cylinders) -> str:
    bar = f"{_bar(share, cylinders)} bar"
    return f"full, {bar}" if share == 1 else bar


def _until(dusk_s: int, lasts_s: int, night_s: int) -> str:
    """Return the clock time at which a cylinder is to be changed, in words where that is now or never."""
    if lasts_s < 60:
        return NOW
    return "all night" if lasts_s >= night_s else clock(dusk_s + lasts_s)


def _bring(night_s: int, lasts_s: int) -> str:
    return f"{math.ceil(night_s / lasts_s)}" if lasts_s >= 60 else NEVER
