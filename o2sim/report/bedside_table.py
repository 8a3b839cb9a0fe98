"""One cylinder size in, its bedside table out: gauge reading against flow, for the terminal and as CSV.

The table errs on the safe side at every step: the gauge is taken to read too high by its stated error, times are
rounded down, and the change-over point is rounded up to a reading that can be told on the gauge.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from textwrap import wrap

from o2sim.errors import QuantityError
from o2sim.gas import KPA_PER_PSI, CylinderSize, cylinder_lasts
from o2sim.report.planner import floor_seconds
from o2sim.report.words import number

WIDTH = 100
MOST_ROWS = 15  # readings above the change-over point
MOST_FLOWS = 10  # columns that fit on a screen and an A4 page
FLOWS_ML_MIN = (500, 1_000, 2_000, 3_000, 4_000, 5_000, 6_000, 8_000, 10_000, 15_000)
# Gauge unit: kPa of the smallest step that can be told on a gauge, and what that step reads.
GAUGE_UNITS: dict[str, tuple[float, float]] = {
    "bar": (100.0, 1),
    "kPa": (100.0, 100),
    "psi": (10 * KPA_PER_PSI, 10),
    "MPa": (100.0, 0.1),
}
STEPS = (1, 2, 5, 10, 20, 50, 100, 200, 500)  # between rows, in smallest steps


@dataclass(frozen=True)
class Bedside:
    """What a table is made for: one size, filled to a pressure, and how it is used (kPa, mL/min, °C)."""

    size: CylinderSize
    filling_kpa: float
    flows_ml_min: tuple[float, ...] = FLOWS_ML_MIN
    gauge_unit: str = "bar"
    gauge_error_kpa: float = 0.0
    residual_kpa: float = 800.0
    flow_lost_kpa: float = 400.0
    leak_ml_min: float = 0.0
    temperature_c: float = 15.0
    size_name: str = ""  # as US size E; else the size is told by its figures

    def seconds(self, from_kpa: float, to_kpa: float, flow_ml_min: float) -> int:
        """Return the whole seconds, rounded down, in which the true pressure falls from one to the other."""
        lasts = cylinder_lasts(
            self.size,
            from_kpa,
            flow_ml_min / 1_000,
            residual_kpa=to_kpa,
            leak_l_min=self.leak_ml_min / 1_000,
            temperature_c=self.temperature_c,
        )
        return floor_seconds(lasts.minutes_to_residual)


@dataclass(frozen=True)
class BedsideTable:
    """A table ready to show: texts, and whole minutes by row and flow, all rounded down.

    readings and minutes go from the fill down to just above change_at, the reading at or below which the cylinder
    is changed; look_minutes says, by flow, how often the gauge must be looked at so that it never runs out unseen.
    """

    about: tuple[str, ...]
    gauge_unit: str
    flows: tuple[str, ...]
    readings: tuple[str, ...]
    minutes: tuple[tuple[int, ...], ...]
    change_at: str
    change_why: str
    look_minutes: tuple[int, ...]


def bedside_table(use: Bedside) -> BedsideTable:
    """Return the table of one cylinder size. Raises QuantityError where no table can be made."""
    _require_usable(use)
    step_kpa, _ = GAUGE_UNITS[use.gauge_unit]
    top = math.floor(use.filling_kpa / step_kpa + 1e-9)
    change = math.ceil((use.residual_kpa + use.gauge_error_kpa) / step_kpa - 1e-9)
    if change >= top:
        told = f"change-over at {_reading(change, use)}, filled to {_reading(top, use)} {use.gauge_unit}"
        raise QuantityError(f"found {told}; allowed: a filling pressure above the change-over point")
    marks = [top, *_between(change, top)]
    return BedsideTable(
        about=_about(use),
        gauge_unit=use.gauge_unit,
        flows=tuple(f"{number(flow / 1_000)} L/min" for flow in use.flows_ml_min),
        readings=tuple(_reading(mark, use) for mark in marks),
        minutes=tuple(
            tuple(_to_change(use, mark * step_kpa, flow) // 60 for flow in use.flows_ml_min) for mark in marks
        ),
        change_at=_reading(change, use),
        change_why=_change_why(use),
        look_minutes=tuple(
            use.seconds(use.residual_kpa, use.flow_lost_kpa, flow) // 60 for flow in use.flows_ml_min
        ),
    )


def _require_usable(use: Bedside) -> None:
    flows = use.flows_ml_min
    if not 1 <= len(flows) <= MOST_FLOWS or min(flows) <= 0:
        raise QuantityError(f"found {len(flows)} flows; allowed: 1 to {MOST_FLOWS}, each more than 0")
    if use.residual_kpa <= use.flow_lost_kpa:
        found = f"found a residual pressure of {use.residual_kpa:g} kPa, flow lost below {use.flow_lost_kpa:g} kPa"
        raise QuantityError(f"{found}; allowed: a residual pressure above it, or no look would come in time")


def _to_change(use: Bedside, reading_kpa: float, flow_ml_min: float) -> int:
    """Return the seconds to residual pressure if the gauge reads too high by its error."""
    return use.seconds(max(0.0, reading_kpa - use.gauge_error_kpa), use.residual_kpa, flow_ml_min)


def _between(change: int, top: int) -> list[int]:
    """Return round readings below the top and above the change-over point, highest first, in smallest steps."""
    step = next(step for step in STEPS if (top - change) / step <= MOST_ROWS)
    return [mark for mark in range(top - 1, change, -1) if mark % step == 0]


def _reading(mark: int, use: Bedside) -> str:
    _, shown = GAUGE_UNITS[use.gauge_unit]
    return f"{mark * shown:,.{1 if shown < 1 else 0}f}"


def _exact(kpa: float, use: Bedside) -> str:
    """Return a pressure in the gauge's unit, as `8 bar`."""
    step_kpa, shown = GAUGE_UNITS[use.gauge_unit]
    value = kpa / step_kpa * shown
    return f"{value:,.0f} {use.gauge_unit}" if value >= 1_000 else f"{number(value)} {use.gauge_unit}"


def _about(use: Bedside) -> tuple[str, ...]:
    size = use.size_name or size_in_words(use.size)
    full = number(use.size.content(use.filling_kpa, use.temperature_c))
    error = _exact(use.gauge_error_kpa, use) if use.gauge_error_kpa else "nothing"
    taken_off = f"{error} is taken off each reading for the error of the gauge"
    leak = f"; a leak of {number(use.leak_ml_min / 1_000)} L/min is included" if use.leak_ml_min else ""
    return (
        f"{size}, filled to {_exact(use.filling_kpa, use)}: about {full} L when full "
        f"(at {use.temperature_c:g} °C; litres at 15 °C and 1 atm).",
        "Void for cylinders of any other size or filling pressure.",
        f"Hours:minutes to the change-over point, rounded down; {taken_off}{leak}.",
    )


def size_in_words(size: CylinderSize) -> str:
    """Return a cylinder's size as `Water capacity 47 L`."""
    if size.water_capacity_l is not None:
        return f"Water capacity {number(size.water_capacity_l)} L"
    if size.full_content_l is not None and size.filling_pressure_kpa is not None:
        return f"Content {number(size.full_content_l)} L at {number(size.filling_pressure_kpa)} kPa"
    return f"{number(size.us_factor_l_per_psi or 0.0)} L per psi"


def _change_why(use: Bedside) -> str:
    error = f" and {_exact(use.gauge_error_kpa, use)} for the error of the gauge" if use.gauge_error_kpa else ""
    residual, lost = _exact(use.residual_kpa, use), _exact(use.flow_lost_kpa, use)
    return f"residual pressure {residual}{error}; flow is lost at {lost}"


def hours_colon(minutes: int) -> str:
    """Return whole minutes as `21:29`."""
    return f"{minutes // 60:,}:{minutes % 60:02d}"


def look_words(minutes: int) -> str:
    """Return how often to look; below a minute nobody can look often enough."""
    return hours_colon(minutes) if minutes else "watch"


def change_line(table: BedsideTable) -> str:
    """Return the words on the change-over line."""
    return f"CHANGE THE CYLINDER at {table.change_at} {table.gauge_unit} or less"


LOOK_NOTE = (
    "Look at the gauge at least this often: a cylinder just above the change-over point at one look still flows "
    "at the next. Fetching and fitting another takes time too: have it at the bedside."
)


def text_lines(table: BedsideTable) -> list[str]:
    """Return the table for the terminal, at most WIDTH columns."""
    heads = [f"gauge, {table.gauge_unit}", *(flow.removesuffix(" L/min") for flow in table.flows)]
    rows = [
        [reading, *map(hours_colon, cells)] for reading, cells in zip(table.readings, table.minutes, strict=True)
    ]
    looks = ["look every", *map(look_words, table.look_minutes)]
    widths = [max(len(row[place]) for row in [heads, looks, *rows]) for place in range(len(heads))]
    line = "─" * (sum(widths) + 2 * (len(widths) - 1))
    return [
        *(part for said in table.about for part in wrap(said, WIDTH)),
        "",
        "flow, L/min".rjust(len(line)),
        _aligned(heads, widths),
        line,
        *(_aligned(row, widths) for row in rows),
        line,
        *wrap(f"{change_line(table)} ({table.change_why}).", WIDTH),
        line,
        _aligned(looks, widths),
        line,
        *wrap(LOOK_NOTE, WIDTH),
    ]


def _aligned(cells: Sequence[str], widths: Sequence[int]) -> str:
    return "  ".join(cell.rjust(width) for cell, width in zip(cells, widths, strict=True))


def csv_columns(table: BedsideTable) -> list[str]:
    """Return the columns: what the row says, the reading, and whole minutes by flow."""
    return ["row", f"gauge_{table.gauge_unit}", *(f"minutes at {flow}" for flow in table.flows), "cylinder"]


def csv_rows(table: BedsideTable) -> Iterator[tuple[str | int, ...]]:
    """Yield the rows: readings down to the change-over line, that line, and how often to look."""
    about = table.about[0]
    for reading, cells in zip(table.readings, table.minutes, strict=True):
        yield ("until change-over", reading.replace(",", ""), *cells, about)
    yield ("change at or below", table.change_at.replace(",", ""), *(0 for _ in table.flows), about)
    yield ("look at least every", "", *table.look_minutes, about)
