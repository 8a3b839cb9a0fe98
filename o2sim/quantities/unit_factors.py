"""How many of one unit make one of another, for those that scenarios mostly use.

Pint knows them all, but takes a third of a second to begin with. A test holds each of these against pint's.
"""

from __future__ import annotations

from fractions import Fraction

YEAR_DAYS = 365  # the default horizon, so that "500 / year" is 500 in one run; a month is a twelfth of it
_DAY = {
    "second": Fraction(1, 86_400),
    "minute": Fraction(1, 1_440),
    "hour": Fraction(1, 24),
    "day": Fraction(1),
    "week": Fraction(7),
    "calendar_month": Fraction(YEAR_DAYS, 12),
    "calendar_year": Fraction(YEAR_DAYS),
}
_LITRE = {"milliliter": Fraction(1, 1_000), "liter": Fraction(1), "meter**3": Fraction(1_000)}
_METRIC: tuple[dict[str, int | Fraction], ...] = (
    {"pascal": 1, "kilopascal": 1_000, "megapascal": 1_000_000, "bar": 100_000},
    {"watt": 1, "kilowatt": 1_000, "megawatt": 1_000_000},
    {"watt_hour": 1, "kilowatt_hour": 1_000, "megawatt_hour": 1_000_000},
    {"meter": 1, "kilometer": 1_000},
    {"percent": Fraction(1, 100), "dimensionless": 1},
)
_SIZES: tuple[dict[str, Fraction], ...] = (  # of units that go into one another, in one that they share
    _DAY,
    _LITRE,
    {f"1/{unit}": 1 / days for unit, days in _DAY.items()},
    {f"{unit}/{time}": litres / _DAY[time] for unit, litres in _LITRE.items() for time in _DAY},
    *({unit: Fraction(size) for unit, size in units.items()} for units in _METRIC),
)
KNOWN = {(unit, target): sizes[unit] / sizes[target] for sizes in _SIZES for unit in sizes for target in sizes}
