"""Every spelling, against scipy's constants, and every text that must be refused, with its reason."""

import math
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from scipy import constants

from o2sim.errors import QuantityError
from o2sim.quantities import units
from o2sim.quantities.units import format_duration, read, read_money, spellings

KINDS = ("duration", "flow", "pressure", "volume", "temperature", "power", "energy", "share", "rate", "number")
LITRE_ML, M3_ML, FT3_ML = 1e3, 1e6, constants.foot**3 * 1e6
YEAR_S = 365 * constants.day
# Kind, spellings, and one of each in the internal unit, by scipy.constants (CODATA and NIST conversions).
TABLE = [
    ("duration", "s|sec|second|seconds", 1.0),
    ("duration", "min|mins|minute|minutes", constants.minute),
    ("duration", "h|hr|hrs|hour|hours", constants.hour),
    ("duration", "d|day|days", constants.day),
    ("duration", "week|weeks", constants.week),
    ("duration", "month|months", YEAR_S / 12),
    ("duration", "year|years", YEAR_S),
    ("flow", "L/min|l/min|litres/min|litres per minute|L per min|LPM|lpm", LITRE_ML),
    ("flow", "mL/min|ml/min|millilitres per minute", 1.0),
    ("flow", "mL/h", 1 / 60),
    ("flow", "L/h|L / h|l/hr", LITRE_ML / 60),
    ("flow", "m3/h|m³/h|cubic metres per hour", M3_ML / 60),
    ("flow", "L/s", LITRE_ML * 60),
    ("flow", "L/day|L per day", LITRE_ML / 1440),
    ("flow", "ft3/h", FT3_ML / 60),
    ("pressure", "kPa", 1.0),
    ("pressure", "MPa", 1e3),
    ("pressure", "Pa", 1e-3),
    ("pressure", "bar|barg", constants.bar / 1e3),
    ("pressure", "psi|psig", constants.psi / 1e3),
    ("pressure", "kgf/cm2|kg/cm2|kg/cm²", constants.kgf / 1e-4 / 1e3),
    ("volume", "L|l|litre|litres|liter|liters", LITRE_ML),
    ("volume", "mL|ml", 1.0),
    ("volume", "m3|m³|cubic metres", M3_ML),
    ("volume", "ft3|cu ft|cubic feet", FT3_ML),
    ("power", "W|watt|watts", 1.0),
    ("power", "kW", constants.kilo),
    ("power", "MW", constants.mega),
    ("energy", "Wh|watt hours", 1.0),
    ("energy", "kWh", constants.kilo),
    ("energy", "MWh", constants.mega),
    ("share", "%|percent|per cent", 0.01),
    ("rate", "/day|/ day|per day|/d|per  d", 1.0),
    ("rate", "/h|/hour|per hour", 24.0),
    ("rate", "/week|per week", 1 / 7),
    ("rate", "/month", 12 / 365),
    ("rate", "/year|per year", 1 / 365),
]


@pytest.mark.parametrize(("kind", "unit", "factor"), [(k, u, f) for k, us, f in TABLE for u in us.split("|")])
def test_each_unit_against_scipy_constants(kind, unit, factor):
    """A number and a unit, with or without a space between, are converted as by scipy.constants."""
    assert read(f"13.7 {unit}", kind) == pytest.approx(13.7 * factor, rel=1e-14)
    assert read(f"13.7{unit}", kind) == read(f"13.7 {unit}", kind)


@pytest.mark.parametrize("unit", ["degC", "°C", "℃", "C", "degF", "°F", "F", "K", "kelvin"])
@pytest.mark.parametrize("value", [-4.0, 0.0, 77.0, 300.0])
def test_temperature_against_scipy(value, unit):
    """Celsius, Fahrenheit and kelvin are converted as by scipy.constants.convert_temperature."""
    scale = {"C": "C", "F": "F"}.get(unit[-1].upper(), "C" if unit == "℃" else "K")
    expected = constants.convert_temperature(value, scale, "C")
    if scale == "K" and value < 0:
        with pytest.raises(QuantityError, match="below absolute zero"):
            read(f"{value} {unit}", "temperature")
    else:
        assert read(f"{value} {unit}", "temperature") == pytest.approx(expected, abs=1e-9)


@pytest.mark.parametrize("kind", [kind for kind in KINDS if kind != "number"])
def test_each_accepted_spelling_is_read(kind):
    """All listed spellings are read, no two kinds share one, and the short list is part of the long one."""
    every = spellings(kind, every=True)
    assert all(read(f"0.5 {unit}" if kind != "temperature" else f"300 {unit}", kind) > 0 for unit in every)
    others = {unit for other in KINDS if other != kind for unit in spellings(other, every=True)}
    assert not others & set(every)
    assert set(spellings(kind)) <= set(every)


def test_decimal_numbers_are_exact():
    """Conversion is in exact fractions: 13.7 MPa is 13,700 kPa to the last bit, and 3.5 days 302,400 s."""
    assert read("13.7 MPa", "pressure") == 13_700.0
    assert read("3.5 days", "duration") == 302_400.0
    assert read("0.1 L/min", "flow") == 100.0
    assert read("500 / year", "rate") == 500 / 365
    assert read("1 year", "duration") == units.YEAR_DAYS * 86_400


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("5", 5.0),
        ("+5", 5.0),
        ("5.", 5.0),
        (".5", 0.5),
        ("1e3", 1000.0),
        ("1.5E-2", 0.015),
        (" 7 ", 7.0),
        ("−0", 0.0),
    ],
)
def test_the_forms_of_a_number(text, value):
    """Sign, decimal point, exponent and outer spaces are read; a typographic minus is a minus."""
    assert read(text, "number") == value


@pytest.mark.parametrize("zero", [0, 0.0, "0", "0.0", "-0", np.int64(0)])
def test_a_bare_zero_needs_no_unit(zero):
    """Zero means the same in every unit, so it is read bare in every kind but a temperature."""
    assert [read(zero, kind) for kind in KINDS if kind != "temperature"] == [0.0] * 9
    with pytest.raises(QuantityError, match="a unit is missing"):
        read(zero, "temperature")


def test_numbers_from_code_are_read_as_their_text():
    """Python and numpy numbers are accepted where no unit is needed."""
    assert [read(value, "number") for value in (5, 5.5, np.float64(5.5), np.int32(5))] == [5.0, 5.5, 5.5, 5.0]


REFUSED = [
    # value, kind, what the message must say
    ("16,5 MPa", "pressure", "a decimal comma is refused", "write 16.5 MPa"),
    ("1,500 L", "volume", "thousands separator", "write 1500 L or 1.500 L"),
    ("1,500,000.5 L", "volume", "thousands separator", "write 1500000.5 L)"),
    ("5, L", "volume", "commas are refused", "decimal point"),
    ("1 500 L", "volume", "digits in groups", "write 1500 L"),
    ("1\u202f500 L", "volume", "digits in groups", "write 1500 L"),
    ("1_500 L", "volume", "digits in groups", "write 1500 L"),
    ("1'500 L", "volume", "digits in groups", "write 1500 L"),
    ("nan h", "duration", "must be finite", "a duration such as 4 days"),
    (".inf", "number", "must be finite", "a plain number"),
    ("-Infinity kPa", "pressure", "must be finite", "a pressure"),
    (math.nan, "number", "must be finite", "a plain number"),
    (math.inf, "flow", "must be finite", "a flow"),
    ("2*3 h", "duration", "arithmetic is refused", "one number and one unit"),
    ("9**9**9", "duration", "arithmetic is refused", "one number and one unit"),
    ("9**9**9", "number", "arithmetic is refused", "one number and one unit"),
    ("2^3 h", "duration", "arithmetic is refused", "one number and one unit"),
    ("1+1 h", "duration", "arithmetic is refused", "one number and one unit"),
    ("1/2 h", "duration", "arithmetic is refused", "one number and one unit"),
    ("2 (h)", "duration", "arithmetic is refused", "one number and one unit"),
    ("(2) h", "duration", "a number must come first", "write for example 4 days"),
    ("> 5 h", "duration", "a number must come first", "write for example 4 days"),
    ("2-3 h", "duration", "a range is refused", "uniform"),
    ("2 to 3 h", "duration", "a range is refused", "uniform"),
    ("2 h 30 min", "duration", "one number and one unit", "150 min"),
    ("12:30", "duration", "not a number and a unit", "4 days"),
    ("1.2.3 h", "duration", "not a number and a unit", "4 days"),
    ("1" * 61, "number", "longer than 60 characters", "a plain number"),
    ("5 " + "x" * 100_000, "flow", "longer than 60 characters", "a flow"),
    (10**5_000, "number", "too large", "a plain number"),
    (1e300, "number", "too large", "a plain number"),
    ("1e13", "number", "too large", "a plain number"),
    ("1e999999999 h", "duration", "too large or too small", "a duration"),
    ("1e-999999999 h", "duration", "too large or too small", "a duration"),
    ("2e9 m3", "volume", "too large", "a volume"),
    ("5 kPa", "flow", "this is a pressure", "a flow is needed here"),
    ("5 kWh", "power", "this is an energy", "a power is needed here"),
    ("5 kW", "energy", "this is a power", "an energy is needed here"),
    ("22 %", "number", "this is a share", "a plain number is needed here"),
    ("5 L", "flow", "this is a volume", "a flow is needed here"),
    ("5 mpa", "pressure", "unknown unit 'mpa'", "did you mean MPa? Capital"),
    ("5 KPA", "pressure", "unknown unit 'KPA'", "did you mean kPa? Capital"),
    ("5 kpaa", "pressure", "unknown unit 'kpaa'", "did you mean kPa?)"),
    ("5 Days", "duration", "unknown unit 'Days'", "did you mean days? Capital"),
    ("5 minuts", "duration", "unknown unit 'minuts'", "did you mean minutes?"),
    ("5 mW", "power", "unknown unit 'mW'", "mW is a milliwatt; write W, kW or MW"),
    ("5 mw", "power", "unknown unit 'mw'", "write W, kW or MW"),
    ("5 m", "duration", "unknown unit 'm'", "minutes are written min"),
    ("5 mbar", "pressure", "unknown unit 'mbar'", "1 kPa is 10 mbar"),
    ("5 bara", "pressure", "unknown unit 'bara'", "gauge pressure"),
    ("5 bar(g)", "pressure", "unknown unit 'bar(g)'", "write bar"),
    ("5 Nm3/h", "flow", "unknown unit 'Nm3/h'", "counted at 0 °C"),
    ("8 patients / day", "rate", "unknown unit 'patients/day'", "did you mean /day?"),
    ("5 apples", "number", "unknown unit 'apples'", "a plain number"),
    ("10² L", "volume", "unknown unit '² L'", "a volume"),
    ("\u0663 h", "duration", "a number must come first", "4 days"),
    ("5 \x00h", "duration", "unknown unit '\\x00h'", "a duration"),
    ("0.22", "share", "a unit is missing", "write 22 %"),
    ("22", "share", "a unit is missing", "write 22 %"),
    (5, "flow", "a unit is missing", "write for example 5 L/min"),
    ("5", "pressure", "a unit is missing", "write for example 5 kPa"),
    ("101 %", "share", "at most 100 %", "a share"),
    ("-5 %", "share", "negative", "a share"),
    ("-5 L", "volume", "negative", "a volume"),
    ("-5", "number", "negative", "a plain number"),
    ("-274 degC", "temperature", "below absolute zero", "a temperature"),
    (True, "number", "found True, which is yes or no", "write for example 1.8"),
    (None, "flow", "found nothing", "write for example 0.5 L/min"),
    ("  ", "flow", "found nothing", "write for example 0.5 L/min"),
    ([5], "flow", "found a list", "write for example 0.5 L/min"),
    ({"a": 1}, "flow", "found a mapping", "write for example 0.5 L/min"),
    (b"5 L", "volume", "found bytes", "write for example 47 L"),
    ("yes", "number", "a number must come first", "1.8"),
]


@pytest.mark.parametrize(("value", "kind", "reason", "advice"), REFUSED, ids=range(len(REFUSED)))
def test_each_refusal_gives_its_reason(value, kind, reason, advice):
    """What is not one number and one known unit of the kind is refused with the reason and what to do."""
    with pytest.raises(QuantityError) as caught:
        read(value, kind)
    found, _, rest = str(caught.value).partition("; allowed: ")
    assert found.startswith("found ")
    assert reason in found
    assert advice in rest
    assert len(str(caught.value)) < 350


def test_a_message_in_full():
    """Found, allowed and what to do stand in one line."""
    with pytest.raises(QuantityError) as caught:
        read("16,5 MPa", "pressure")
    assert str(caught.value) == (
        "found '16,5 MPa': a decimal comma is refused; allowed: a pressure such as 800 kPa "
        "(units: kPa, MPa, bar, psi, kgf/cm2, Pa) (write 16.5 MPa)"
    )


@pytest.mark.parametrize(
    ("text", "per", "amount"),
    [
        ("648 USD", "", 648.0),
        ("648USD", "", 648.0),
        ("30 USD / year", "year", 30.0),
        ("3 USD per month", "year", 36.0),
        ("7 USD/week", "year", 365.0),
        ("2 USD/day", "year", 730.0),
        ("0.18 USD/kWh", "kWh", 0.18),
        ("180 USD / MWh", "kWh", 0.18),
        ("0.001 USD/Wh", "kWh", 1.0),
    ],
)
def test_money_by_hand(text, per, amount):
    """Money is read with its currency; a price per month is 12 a year, one per MWh a thousandth per kWh."""
    assert read_money(text, per) == (amount, "USD")


@pytest.mark.parametrize("zero", [0, 0.0, "0"])
def test_no_money_needs_no_currency(zero):
    """A bare 0 is no money in any currency."""
    assert [read_money(zero, per) for per in ("", "year", "kWh")] == [(0.0, "")] * 3


@pytest.mark.parametrize(
    ("value", "per", "reason", "advice"),
    [
        (5, "", "a currency is missing", "write for example 5 USD"),
        ("5 usd", "", "unknown unit 'usd'", "did you mean USD?"),
        ("$5", "", "a number must come first", "648 USD"),
        ("USD 5", "", "a number must come first", "648 USD"),
        ("5 DOLLAR", "", "unknown unit 'DOLLAR'", "money such as 648 USD"),
        ("1,000 USD", "", "thousands separator", "write 1000 USD"),
        ("0,18 USD/kWh", "kWh", "a decimal comma", "write 0.18 USD/kWh"),
        ("-5 USD", "", "negative", "money"),
        ("5 USD/day", "", "a price per day where a plain price is needed", "leave out"),
        ("5 USD", "year", "the price must be per year", "write /year after the currency"),
        ("5 USD/kWh", "year", "a price per kWh where one per year is needed", "write /year"),
        ("5 USD/year", "kWh", "a price per year where one per kWh is needed", "write /kWh"),
        ("1e12 USD/day", "year", "too large", "money"),
        (None, "kWh", "found nothing", "0.18 USD/kWh"),
        (False, "", "yes or no", "648 USD"),
    ],
)
def test_each_refusal_of_money_gives_its_reason(value, per, reason, advice):
    """Money without a currency, with another price's unit or with separators is refused with the reason."""
    with pytest.raises(QuantityError) as caught:
        read_money(value, per)
    found, _, rest = str(caught.value).partition("; allowed: ")
    assert reason in found
    assert advice in rest


@settings(deadline=None)  # no test fails by the clock
@given(st.text(max_size=80) | st.from_regex(r"[-+]?[0-9.,eE*^()/ _]{1,20} ?[a-zA-Z%°/³ ]{0,12}", fullmatch=True))
@example("1e60 years")
@example("1e-60 years")
@example("0e99999999999999999999999999999999999999999999999999 h")
def test_any_text_is_a_finite_number_or_a_clean_error(text):
    """Whatever is written, the answer is a finite number that is not negative (but in °C) or a QuantityError."""
    for kind in KINDS:
        try:
            value = read(text, kind)
        except QuantityError:
            continue
        assert abs(value) <= units.LARGEST
        assert value >= (-273.15 if kind == "temperature" else 0.0)


@settings(deadline=None)  # no test fails by the clock
@given(st.decimals(0, 10**4, places=3), st.sampled_from(TABLE[:15]))
def test_any_decimal_number_is_converted_in_proportion(number, row):
    """Twice the text's number is twice the value: conversion is a factor, whatever the number."""
    kind, texts, factor = row
    unit = texts.split("|")[0]
    assert read(f"{number} {unit}", kind) == pytest.approx(float(Fraction(str(number))) * factor, rel=1e-13)


@pytest.mark.parametrize(
    ("seconds", "text"),
    [
        (0, "0 s"),
        (45, "45 s"),
        (59.6, "1 min"),
        (90, "1 min 30 s"),
        (720, "12 min"),
        (3_599.7, "1 h 00 min"),
        (7_500, "2 h 05 min"),
        (-7_500, "-2 h 05 min"),
        (172_740, "47 h 59 min"),
        (172_799, "2 days"),
        (302_400, "3.5 days"),
        (31_536_000, "365 days"),
        (math.inf, "without end"),
    ],
)
def test_format_duration_by_hand(seconds, text):
    """A duration is shown in the largest units that keep its sense, rounded up over the next unit where due."""
    assert format_duration(seconds) == text
