"""The bedside table of one cylinder size: how long it lasts by gauge reading and flow, when to change it.

The gauge is taken to read too high by its error, times are rounded down, and the readings at which to change are
rounded up to what can be read on the gauge. Where no error is stated it is about that of a gauge of accuracy
class 2.5 with a range of 25 MPa, a little less than the class allows.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from o2sim.errors import QuantityError
from o2sim.looks.words import number
from o2sim.quantities.gas import KPA_PER_PSI, CylinderSize, content_litres, cylinder_lasts
from o2sim.quantities.units import format_duration
from o2sim.questions.check.text import floor_seconds
from o2sim.scenario.types.hospital import EXAMPLE, OURS, Figures

# A gauge of class 2.5 (EN 837-1, required of regulators by ISO 2503: both from memory) may be off by 2.5 % of its
# range at any reading: of 25 MPa that is 625 kPa, taken to the nearest 100 kPa, the least that a gauge shows.
GAUGE_ERROR_KPA = 600.0
CLASS_ERROR_KPA = 625.0
ROUND_S = 2 * 3_600  # as gauges are looked at by default in a scenario: common practice
LEAST_ROUND_S = 60
MOST_ROWS = 15  # readings above the change-over point
MOST_FLOWS = 10  # columns that fit on a screen and an A4 page
FLOWS_ML_MIN = (500, 1_000, 2_000, 3_000, 4_000, 5_000, 6_000, 8_000, 10_000, 15_000)
# Gauge unit: kPa of the smallest step that can be read on a gauge, and what that step reads.
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
    gauge_error_kpa: float = GAUGE_ERROR_KPA
    residual_kpa: float = 800.0
    flow_lost_kpa: float = 400.0
    leak_ml_min: float = 0.0
    temperature_c: float = 15.0  # at which the filling pressure is read
    size_name: str = ""  # as US size E; else its figures stand for it
    room_c: float | None = None  # in which the gauge is read; None: not known, taken as temperature_c
    round_s: int = ROUND_S  # from one look at the gauges to the next
    ours: bool = False  # the figures were read off the hospital's own cylinders

    @property
    def read_c(self) -> float:
        """Return the temperature at which readings are taken to be read."""
        return self.temperature_c if self.room_c is None else self.room_c

    @property
    def size_in_room(self) -> CylinderSize:
        """Return the size for readings in the room: a stated content holds at the filling temperature only."""
        stated, filling_kpa = self.size.full_content_l, self.size.filling_pressure_kpa
        if self.room_c is None or stated is None or filling_kpa is None:
            return self.size
        return CylinderSize(water_capacity_l=stated / content_litres(1.0, filling_kpa, self.temperature_c))

    def seconds(self, from_kpa: float, to_kpa: float, flow_ml_min: float) -> int:
        """Return the whole seconds, rounded down, in which the true pressure falls from one to the other."""
        lasts = cylinder_lasts(
            self.size_in_room,
            from_kpa,
            flow_ml_min / 1_000,
            residual_kpa=to_kpa,
            leak_l_min=self.leak_ml_min / 1_000,
            temperature_c=self.read_c,
        )
        return floor_seconds(lasts.minutes_to_residual)


@dataclass(frozen=True)
class BedsideTable:
    """A table ready to show: texts, and whole minutes by row and flow, all rounded down.

    readings and minutes go from the fill down to just above change_at, the reading at or below which the cylinder
    is changed; look_minutes says, by flow, how often the gauge must be looked at so that it never runs out unseen.
    round_below is, by flow, the reading below which it is changed at a round, for it would not last to the next;
    None where the size cannot serve the flow between looks: a full one does not last from round to round, or the
    gauge would have to be looked at more than once a minute.
    """

    about: tuple[str, ...]
    gauge_unit: str
    flows: tuple[str, ...]
    readings: tuple[str, ...]
    minutes: tuple[tuple[int, ...], ...]
    change_at: str
    change_why: str
    look_minutes: tuple[int, ...]
    round_minutes: int
    round_below: tuple[str | None, ...]
    figures: Figures


def bedside_table(use: Bedside) -> BedsideTable:
    """Return the table of one cylinder size. Raises QuantityError where no table can be made."""
    _require_usable(use)
    step_kpa, _ = GAUGE_UNITS[use.gauge_unit]
    top = math.floor(use.filling_kpa / step_kpa + 1e-9)
    change = math.ceil((use.residual_kpa + use.gauge_error_kpa) / step_kpa - 1e-9)
    if change >= top:
        found = f"change-over at {_reading(change, use)}, filled to {_reading(top, use)} {use.gauge_unit}"
        raise QuantityError(f"found {found}; allowed: a filling pressure above the change-over point")
    readings = [top, *_between(change, top)]
    looks = tuple(use.seconds(use.residual_kpa, use.flow_lost_kpa, flow) // 60 for flow in use.flows_ml_min)
    rounds = [_round_reading(use, change, top, flow) for flow in use.flows_ml_min]
    return BedsideTable(
        about=_about(use),
        gauge_unit=use.gauge_unit,
        flows=tuple(f"{number(flow / 1_000)} L/min" for flow in use.flows_ml_min),
        readings=tuple(_reading(mark, use) for mark in readings),
        minutes=tuple(
            tuple(_to_change(use, mark * step_kpa, flow) // 60 for flow in use.flows_ml_min) for mark in readings
        ),
        change_at=_reading(change, use),
        change_why=_change_why(use),
        look_minutes=looks,
        round_minutes=use.round_s // 60,
        round_below=tuple(
            None if mark is None or look < 1 else _reading(mark, use)
            for mark, look in zip(rounds, looks, strict=True)
        ),
        figures=OURS if use.ours else EXAMPLE,
    )


def _require_usable(use: Bedside) -> None:
    flows = use.flows_ml_min
    if not 1 <= len(flows) <= MOST_FLOWS:
        raise QuantityError(f"found {len(flows)} flows; allowed: 1 to {MOST_FLOWS}")
    if min(flows) <= 0:
        raise QuantityError(f"found a flow of {number(min(flows) / 1_000)} L/min; allowed: more than 0")
    if use.residual_kpa <= use.flow_lost_kpa:
        found = f"found a residual pressure of {use.residual_kpa:g} kPa, flow lost below {use.flow_lost_kpa:g} kPa"
        raise QuantityError(f"{found}; allowed: a residual pressure above it, or no look would come in time")
    if use.round_s < LEAST_ROUND_S:
        raise QuantityError(f"found a round every {use.round_s} s; allowed: one a minute, or less often")


def _round_reading(use: Bedside, change: int, top: int, flow_ml_min: float) -> int | None:
    """Return the lowest reading from which a cylinder lasts to the next round; None where a full one does not."""
    step_kpa, _ = GAUGE_UNITS[use.gauge_unit]

    def lasts(mark: int) -> bool:
        return _to_change(use, mark * step_kpa, flow_ml_min) >= use.round_s

    if not lasts(top):
        return None
    low, high = change - 1, top
    while high - low > 1:  # the higher the reading, the longer it lasts
        middle = (low + high) // 2
        low, high = (low, middle) if lasts(middle) else (middle, high)
    return high


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
    leak = f"; a leak of {number(use.leak_ml_min / 1_000)} L/min is included" if use.leak_ml_min else ""
    return (
        f"{size}, filled to {_exact(use.filling_kpa, use)}: about {full} L when full "
        f"(at {use.temperature_c:g} °C; litres at 15 °C and 1 atm).",
        "Void for cylinders of any other size or filling pressure.",
        f"Hours:minutes to the change-over point, rounded down; {error_words(use)}{leak}. A reading between two "
        "rows counts as the lower, a flow between two columns as the higher.",
        room_words(use),
    )


def error_words(use: Bedside) -> str:
    """Return what is taken off each reading, and where that figure is from."""
    if not use.gauge_error_kpa:
        return "nothing is taken off each reading for the error of the gauge"
    allowed = f"class 2.5 on 25 MPa allows {_exact(CLASS_ERROR_KPA, use)}, from memory; yours may be further off"
    known = f" (about: {allowed})" if use.gauge_error_kpa == GAUGE_ERROR_KPA else ""
    return f"{_exact(use.gauge_error_kpa, use)} is taken off each reading for the error of the gauge{known}"


def room_words(use: Bedside) -> str:
    """Return at which temperature gauges are taken to be read, and what another one does."""
    if use.size.us_factor_l_per_psi is not None:
        made = "Litres per psi, as handbooks have them, know no temperature"
    elif use.room_c is None:
        made = f"No room temperature was given: made for gauges read at {use.temperature_c:g} °C"
    else:
        made = f"Made for gauges read in a room of {use.room_c:g} °C"
    return (
        f"{made}. A colder room shows a lower gauge for the same gas; a warmer one a higher (about 5 % for "
        "10 °C), and the cylinder then lasts shorter than this says."
    )


def round_words(minutes: int) -> str:
    """Return how far apart rounds are, and where that is from."""
    usual = ", the usual gauge check, common practice" if minutes * 60 == ROUND_S else ""
    return f"every {format_duration(minutes * 60)}{usual}"


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
