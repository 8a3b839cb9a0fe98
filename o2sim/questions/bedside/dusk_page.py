"""The page to read at dusk: until when a cylinder lasts, and what to do in a power cut.

Power and generator stand exactly as in the scenario. The nurse in charge and local guidelines say who is
the sickest, never this page.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from o2sim.looks.cautions import LONG, STRETCH
from o2sim.looks.sheet_page import blank, cautions, heading, listed, paragraph, sign, table
from o2sim.looks.words import joined, number, percent
from o2sim.planning.by_model import models_of
from o2sim.planning.figures import generator_carries
from o2sim.quantities.gas import CylinderSize
from o2sim.quantities.units import format_duration
from o2sim.questions.bedside.table import FLOWS_ML_MIN, Bedside, error_words, room_words
from o2sim.scenario.types.hospital import DAY_S, Concentrators, Cylinders, Generator, Hospital, Window

SHARES = (1.0, 0.75, 0.5, 0.25)  # of the filling pressure, the columns
BEDS = 4
NOW, NEVER = "change now", "this size cannot serve"
# The oxygen concentration below which the low-concentration alarm of a concentrator has to sound: ISO 80601-2-69,
# from memory of earlier editions (the third, ISO 80601-2-69:2026, was not read); the WHO-UNICEF technical
# specifications of 2019 have the same figure, from memory too.
LEAST_PERCENT = 82.0


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
    cut = power_cut(hospital)
    return [
        paragraph(f"{where}. {_whose(cylinders)} the night from {clock(dusk_s)} to {clock(hours.from_s)}.", "for"),
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
            f"{number(residual / 100)} bar. {_leak(cylinders)}; a flowmeter can read too low, so look again "
            "before the time. "
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


def _whose(cylinders: Cylinders) -> str:
    return f"{cylinders.name} cylinders, for".capitalize() if cylinders.name else "For"


def _leak(cylinders: Cylinders) -> str:
    if cylinders.leak_ml_min == 0:
        return "No leak is in the times"
    return f"A leak of {number(cylinders.leak_ml_min / 1_000)} L/min is in the times"


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


# --- in a power cut ---


def clock(second: int) -> str:
    """Return a time of day as `19:00`."""
    minutes = second % DAY_S // 60
    return f"{minutes // 60:02d}:{minutes % 60:02d}"


def power_cut(hospital: Hospital) -> list[str]:
    """Return what to do in a power cut, in order; nothing without concentrators."""
    units, power = hospital.concentrators, hospital.power
    if units is None:
        return []
    return [
        "Connect the sickest first, as the nurse in charge says by local guidelines: cylinder, regulator, open "
        "the valve slowly.",
        "Then measure SpO2 of all who were on a concentrator, by pulse oximeter; connect those who need oxygen.",
        "Note bed, flow and gauge above: a cylinder opened now lasts so much shorter than the night.",
        "Not enough cylinders or regulators for all: call the nurse in charge at once; local guidelines decide.",
        *(
            ["The battery takes over. Do not trust it for the night: make cylinders ready now."]
            if power is not None and power.battery is not None
            else []
        ),
        *([" ".join(_generator(power.generator, hospital))] if power is not None and power.generator else []),
        _power_back(units),
    ]


def _power_back(units: Concentrators) -> str:
    """Return how long cylinders stay on when power returns: of several models the longest."""
    models = [model.rules for model in models_of(units)]
    least = max(LEAST_PERCENT, *((each.alarm_permille or 0) / 10 for each in models))
    start_up_s = max(each.start_up_s for each in models)
    stated = f" of {format_duration(start_up_s)}" if start_up_s else ""
    start_up = f"{stated} (longer if its manual says so)" if stated else " (see its manual)"
    shows = f"it shows at least {number(least)} % oxygen"
    monitors = [each.oxygen_monitor for each in models]
    if any(monitors) and not all(monitors):
        shows = f"its oxygen monitor, or the analyser where it has none, shows at least {number(least)} % oxygen"
    elif not any(monitors):
        shows = f"the analyser shows at least {number(least)} % oxygen (it has no oxygen monitor of its own)"
    return (
        "Power back: put the units on again, but keep each patient's cylinder on until the unit's start-up time"
        f"{start_up} is over and {shows}. Only then close the cylinder."
    )


def _generator(generator: Generator, hospital: Hospital) -> Iterator[str]:
    """Yield what to expect of the generator: when it may run, how long it takes to start, whether it does."""
    yield from _permitted(generator, hospital)
    begins = "From the cut"
    if generator.start_below_permille is not None:
        begins = (
            f"It is started when the battery is down to {percent(generator.start_below_permille / 1_000)}: then"
        )
    delay = f"about {format_duration(generator.start_delay_s)}"
    if generator.started_by_staff:
        yield f"{begins} somebody of the staff starts it, before all else at the bedside: {delay} of work."
        yield _hands(hospital)
    elif generator.night_delay_s != generator.start_delay_s:
        by_night = f"about {format_duration(generator.night_delay_s)} {_span(generator.night)}"
        yield f"{begins} it takes {delay} to give power, {by_night}."
    else:
        yield f"{begins} it takes {delay} to give power, by day and by night."
    carried = generator_carries(generator, hospital.concentrators)
    if carried is not None and hospital.concentrators is not None and carried.units < hospital.concentrators.count:
        yield f"It carries {carried.units} of the {hospital.concentrators.count} units."
    yield f"It starts in {percent(generator.start_chance)} of the cuts" + (
        ", the scenario says: no generator is so sure." if generator.start_chance == 1 else "."
    )
    yield "Do not wait for it with a patient."


def _permitted(generator: Generator, hospital: Hospital) -> Iterator[str]:
    """Yield the hours in which the generator may run, and what that is for the night."""
    if not generator.hours:
        yield "The generator may run at any hour."
        return
    yield f"The generator may run only {joined([_span(each) for each in generator.hours])}."
    dusk_s, dawn_s = hospital.day_hours.to_s, hospital.day_hours.from_s
    night = Window(dusk_s, dawn_s)
    if not any(_meet(each, night) for each in generator.hours):
        yield f"It may not run at night ({clock(dusk_s)} to {clock(dawn_s)})."


def _meet(one: Window, other: Window) -> bool:
    """Return True if two times of the day have a moment in common."""
    apart_s = (other.from_s - one.from_s) % DAY_S
    return apart_s < one.length_s or (DAY_S - apart_s) % DAY_S < other.length_s


def _span(window: Window) -> str:
    return f"from {clock(window.from_s)} to {clock(window.to_s)}"


def _hands(hospital: Hospital) -> str:
    """Return how many of the staff are there by day and by night."""
    assert hospital.staff is not None  # by the scenario's checks
    hours, staff = hospital.day_hours, hospital.staff
    dawn, dusk = clock(hours.from_s), clock(hours.to_s)
    return f"Staff there: {staff.day} from {dawn} to {dusk}, {staff.night} from {dusk} to {dawn}."
