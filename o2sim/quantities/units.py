"""Reads a text such as `13.7 MPa` or `0.18 USD/kWh` as a number in o2sim's internal unit; no rounding here.

Pint alone reads `16,5 MPa` as 165 MPa, accepts `nan` and arithmetic, and never returns from `9**9**9`. So the text
is matched here as *number unit* against a fixed list of spellings; units are
converted in exact fractions, the less common ones by pint.
"""

from __future__ import annotations

import difflib
import math
import numbers
import re
from fractions import Fraction
from functools import lru_cache
from typing import Any, Literal

from o2sim.errors import O2simError, QuantityError
from o2sim.quantities.unit_factors import KNOWN, YEAR_DAYS

Kind = Literal[
    "duration", "flow", "pressure", "volume", "temperature", "power", "energy", "share", "rate", "length", "number"
]
Per = Literal["", "year", "kWh", "L"]

LONGEST_TEXT = 60  # characters; no honest quantity is longer
LARGEST = 10**12  # in any internal unit; keeps what is rounded later far inside 64 bits
ABSOLUTE_ZERO_C = Fraction("-273.15")

# Pint unit: its spellings, the one for messages first. Letters count: MW is not mW.
_TIMES = {
    "second": ("s", "sec", "second", "seconds"),
    "minute": ("min", "mins", "minute", "minutes"),
    "hour": ("h", "hr", "hrs", "hour", "hours"),
    "day": ("day", "days", "d"),
    "week": ("week", "weeks"),
    "calendar_month": ("month", "months"),
    "calendar_year": ("year", "years", "yr", "y"),
}
_VOLUMES = {
    "liter": ("L", "l", "litre", "litres", "liter", "liters"),
    "milliliter": ("mL", "ml", "millilitre", "millilitres", "milliliter", "milliliters"),
    "meter**3": ("m3", "m³", "cubic metre", "cubic metres", "cubic meter", "cubic meters"),
    "foot**3": ("ft3", "ft³", "cu ft", "cubic foot", "cubic feet"),
}
_FLOW_TIMES = ("minute", "hour", "second", "day")


def _flows() -> dict[str, tuple[str, ...]]:
    """Return every volume by every time, as `L/min`, with the trade's LPM."""
    flows = {
        f"{volume}/{time}": tuple(f"{v}/{t}" for v in _VOLUMES[volume] for t in _TIMES[time])
        for volume in ("liter", "milliliter", "meter**3", "foot**3")
        for time in _FLOW_TIMES
    }
    flows["liter/minute"] += ("LPM", "lpm", "Lpm")
    return flows


_UNITS: dict[Kind, dict[str, tuple[str, ...]]] = {
    "duration": _TIMES,
    "flow": _flows(),
    "pressure": {  # all gauge pressures
        "kilopascal": ("kPa", "kilopascal", "kilopascals"),
        "megapascal": ("MPa", "megapascal", "megapascals"),
        "bar": ("bar", "bars", "barg"),
        "psi": ("psi", "psig"),
        "kilogram_force/centimeter**2": ("kgf/cm2", "kgf/cm²", "kg/cm2", "kg/cm²"),
        "pascal": ("Pa", "pascal", "pascals"),
    },
    "volume": _VOLUMES,
    "temperature": {
        "degC": ("degC", "°C", "ºC", "℃", "C", "deg C", "celsius", "Celsius"),
        "degF": ("degF", "°F", "ºF", "℉", "F", "deg F", "fahrenheit", "Fahrenheit"),
        "kelvin": ("K", "kelvin", "kelvins"),
    },
    "power": {
        "watt": ("W", "watt", "watts"),
        "kilowatt": ("kW", "kilowatt", "kilowatts"),
        "megawatt": ("MW", "megawatt", "megawatts"),
    },
    "energy": {
        "watt_hour": ("Wh", "watt hour", "watt hours"),
        "kilowatt_hour": ("kWh", "kilowatt hour", "kilowatt hours"),
        "megawatt_hour": ("MWh", "megawatt hour", "megawatt hours"),
    },
    "share": {"percent": ("%", "percent", "per cent")},
    "rate": {
        f"1/{unit}": tuple(f"/{spelling}" for spelling in _TIMES[unit])
        for unit in ("day", "hour", "week", "calendar_month", "calendar_year")
    },
    "length": {
        "meter": ("m", "metre", "metres", "meter", "meters"),
        "kilometer": ("km", "kilometre", "kilometres", "kilometer", "kilometers"),
        "foot": ("ft", "foot", "feet"),
    },
    "number": {},
}
_INTERNAL: dict[Kind, str] = {
    "duration": "second",
    "flow": "milliliter/minute",
    "pressure": "kilopascal",
    "volume": "milliliter",
    "power": "watt",
    "energy": "watt_hour",
    "share": "dimensionless",
    "rate": "1/day",
    "length": "meter",
}
_EXAMPLES: dict[Kind, str] = {
    "duration": "4 days",
    "flow": "0.5 L/min",
    "pressure": "800 kPa",
    "volume": "47 L",
    "temperature": "25 degC",
    "power": "350 W",
    "energy": "3 kWh",
    "share": "22 %",
    "rate": "1.5 / day",
    "length": "1400 m",
    "number": "1.8",
}
_PER_UNITS: dict[str, dict[str, tuple[str, ...]]] = {
    "year": {unit: _TIMES[unit] for unit in ("calendar_year", "calendar_month", "week", "day", "hour")},
    "kWh": _UNITS["energy"],
    "L": _VOLUMES,
}
_PER_TARGET = {"year": "calendar_year", "kWh": "kilowatt_hour", "L": "liter"}

# Spellings people do write, each with the reason it is not taken.
_HINTS = {
    "m": "m is metres; minutes are written min",
    "M": "write min for minutes, months for months",
    "mW": "mW is a milliwatt; write W, kW or MW",
    "mw": "write W, kW or MW: capital and small letters differ",
    "mbar": "1 kPa is 10 mbar; write kPa",
    "bara": "gauge pressure is meant: take 1.013 bar off and write bar",
    "psia": "gauge pressure is meant: take 14.7 psi off and write psi",
    "bar(g)": "write bar: every pressure is a gauge pressure",
    "kPa(g)": "write kPa: every pressure is a gauge pressure",
    "atm": "1 atm is 101.325 kPa; write kPa",
    "kVA": "write the power in kW: kVA times the power factor",
    "VA": "write the power in W: VA times the power factor",
    "Ah": "write the energy in kWh: Ah times the battery's volts, over 1000",
    "Nm3/h": "Nm3 is counted at 0 °C: multiply by 1.055 for m3/h at 15 °C",
    "Nm3": "Nm3 is counted at 0 °C: multiply by 1.055 for m3 at 15 °C",
    "kg": "oxygen is counted as gas: 1 kg is 738 L at 15 °C and 1 atm",
}
_NUMBER = re.compile(r"[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE](?P<exponent>[+-]?[0-9]+))?")
_NOT_FINITE = re.compile(r"[+-]?\.?(?:nan|inf|infinity)\b", re.IGNORECASE)
_SLASH = re.compile(r"\s*(?:/|\bper\b)\s*")
_THINGS = ("cylinder", "refill", "regulator", "concentrator", "unit", "trip", "delivery", "patient", "repair")
_MONEY = re.compile(r"(?P<currency>[A-Z]{3})(?:/(?P<per>.+))?")


@lru_cache(maxsize=1)
def _registry() -> Any:
    """Return pint's registry in exact fractions (imported here: most commands never convert)."""
    import pint

    registry: Any = pint.UnitRegistry(non_int_type=Fraction)
    registry.define(f"calendar_year = {YEAR_DAYS} * day")
    registry.define("calendar_month = calendar_year / 12")
    return registry


@lru_cache(maxsize=256)
def _factor(unit: str, target: str) -> Fraction:
    """Return how many of target make one unit, exactly."""
    if (unit, target) in KNOWN:
        return KNOWN[unit, target]
    return Fraction(_registry().Quantity(Fraction(1), unit).to(target).magnitude)


def _celsius(number: Fraction, unit: str) -> Fraction:
    return number if unit == "degC" else Fraction(_registry().Quantity(number, unit).to("degC").magnitude)


def spellings(kind: Kind, *, every: bool = False) -> tuple[str, ...]:
    """Return the spelling of each unit of a kind, the common ones first; with every=True all that are accepted."""
    return tuple(text for units in _UNITS[kind].values() for text in (units if every else units[:1]))


def example(kind: Kind) -> str:
    """Return a text of a kind as one would write it."""
    return _EXAMPLES[kind]


def price_spellings(per: Per) -> tuple[str, ...]:
    """Return what may follow the slash of a price per year or per kWh; nothing for a plain price."""
    return tuple(text for texts in _PER_UNITS[per].values() for text in texts) if per else ()


@lru_cache(maxsize=64)
def _pint_units(kind: Kind) -> dict[str, str]:
    return {text: unit for unit, texts in _UNITS[kind].items() for text in texts}


def _article(kind: Kind) -> str:
    return f"an {kind}" if kind == "energy" else f"a {kind}"


def allowed(kind: Kind) -> str:
    """Return what may stand where a kind is needed, for messages: `a flow such as 0.5 L/min (L/min, ...)`."""
    if kind == "number":
        return f"a plain number such as {_EXAMPLES[kind]}"
    return f"{_article(kind)} such as {_EXAMPLES[kind]} (units: {', '.join(spellings(kind)[:8])})"


class _Text:
    """The text of one quantity and what is allowed in its place; makes the errors."""

    def __init__(self, value: object, allowed_here: str, example: str) -> None:
        self.allowed, self.example = allowed_here, example
        self.text = self._scalar(value)

    def error(self, reason: str, hint: str = "") -> QuantityError:
        """Return the error `found '16,5 MPa': reason; allowed: ... (hint)`."""
        found = repr(self.text if len(self.text) <= LONGEST_TEXT else self.text[:20] + "...")
        return self.plain_error(f"found {found}: {reason}", hint)

    def plain_error(self, found: str, hint: str = "") -> QuantityError:
        """Return an error that does not quote the text."""
        return QuantityError(f"{found}; allowed: {self.allowed}" + (f" ({hint})" if hint else ""))

    def _scalar(self, value: object) -> str:
        """Return value as a stripped text, or raise for what is not a text or a real number."""
        if value is None or (isinstance(value, str) and not value.strip()):
            raise self.plain_error("found nothing", f"write for example {self.example}")
        if isinstance(value, bool):
            raise self.plain_error(f"found {value}, which is yes or no", f"write for example {self.example}")
        if isinstance(value, numbers.Integral) and abs(int(value)) >= 10**LONGEST_TEXT:
            raise self.plain_error("found a number too large to use")
        if not isinstance(value, (str, numbers.Real)):
            names = {"list": "a list", "tuple": "a list", "dict": "a mapping"}
            name = type(value).__name__
            raise self.plain_error(f"found {names.get(name, name)}", f"write for example {self.example}")
        text = value if isinstance(value, str) else str(value)
        if len(text) > LONGEST_TEXT:
            self.text = text[: LONGEST_TEXT + 1]
            raise self.error(f"the text is longer than {LONGEST_TEXT} characters")
        return " ".join(text.split())

    def split(self) -> tuple[Fraction, str]:
        """Return the number and what follows it (no unit: an empty text), with `per` as `/`."""
        if _NOT_FINITE.match(self.text):
            raise self.error("the number must be finite")
        if "," in self.text:
            raise self._comma_error()
        text = self.text.replace("\N{MINUS SIGN}", "-", 1)
        match = _NUMBER.match(text)
        if match is None:
            raise self.error("a number must come first", f"write for example {self.example}")
        if abs(int(match["exponent"] or 0)) > LONGEST_TEXT or abs(Fraction(match[0])) > LARGEST**2:
            raise self.error("the number is too large or too small to use")
        rest = text[match.end() :].strip()
        return Fraction(match[0]), rest if rest == "per cent" else _SLASH.sub("/", rest)

    def _comma_error(self) -> QuantityError:
        decimal = re.sub(r"(?<=[0-9]),(?=[0-9])", ".", self.text)
        if re.match(r"[+-]?[0-9]{1,3}(?:,[0-9]{3})+(?![0-9,])", self.text):
            plain = self.text.replace(",", "")
            hint = f"a comma may be read two ways: write {plain}" + (
                f" or {decimal}" if decimal.count(".") == 1 else ""
            )
            return self.error("a comma as thousands separator or decimal comma is refused", hint)
        if decimal != self.text and decimal.count(".") == 1 and "," not in decimal:
            return self.error("a decimal comma is refused", f"write {decimal}")
        return self.error("commas are refused", "write a decimal point and no thousands separators")

    def _one_of_range(self) -> str:
        """Return what to write in place of a range such as `2-4 L/min`: the middle, or a law."""
        ends = re.match(r"([0-9.]+)\s*[^0-9.]*?\s*(?:-|–|to)\s*([0-9.]+)\s*(.*)", self.text)
        try:
            low, high, unit = Fraction(ends[1]), Fraction(ends[2]), ends[3]  # type: ignore[index]
        except (TypeError, ValueError):
            unit = ""
        if not unit:
            return "write one number"
        law = f"{{uniform: {{low: {float(low):g} {unit}, high: {float(high):g} {unit}}}}}"
        return f"write one number, such as {float((low + high) / 2):g} {unit}, or where a law may stand {law}"

    def _in_one_unit(self) -> str:
        """Return what to write in place of `2 h 30 min`: the sum in the last unit."""
        parts = re.findall(r"([0-9.]+)\s*([a-z]+)", self.text)
        units = {text: unit for unit, texts in _TIMES.items() for text in texts}
        if re.sub(r"([0-9.]+)\s*([a-z]+)", "", self.text).strip() or any(unit not in units for _, unit in parts):
            return "write one of them"
        last = parts[-1][1]
        total = sum(Fraction(number) * _factor(units[unit], units[last]) for number, unit in parts)
        return f"write {float(total):.12g} {last}"

    def unit_error(self, unit: str, known: tuple[str, ...]) -> QuantityError:
        """Return why unit, which nobody knows, is refused: arithmetic, two numbers, or a name with its nearest."""
        if re.fullmatch("fortnights?", unit):
            number = _NUMBER.match(self.text)
            days = 14 * Fraction(number[0]) if number else 14
            return self.error(f"unknown unit {unit!r}", f"write {float(days):g} days")
        if unit in _HINTS:
            return self.error(f"unknown unit {unit!r}", _HINTS[unit])
        if re.match(r"['’_]?[0-9]", unit) or unit.startswith("_"):
            groups = re.match(r"[0-9]{1,3}(?:[ _'’][0-9]{3})+(?![0-9_'’])", self.text)
            plain = re.sub(r"[ _'’]", "", groups[0]) + self.text[groups.end() :] if groups else "no separators"
            return self.error("digits in groups are refused", f"write {plain}")
        if re.match(r"(?:-|–|to\b)\s*[0-9]", unit):
            return self.error("a range is refused", self._one_of_range())
        if re.search(r"[*^()+=<>]|/\s*[0-9]", unit):
            return self.error("arithmetic is refused", "work it out and write one number and one unit")
        if re.search(r"[a-z]\s+[0-9]", unit):
            return self.error("one number and one unit are needed", self._in_one_unit())
        points = re.match(r"[0-9]{1,3}(?:\.[0-9]{3}){2,}(?![0-9.])", self.text)
        if points:
            plain = points[0].replace(".", "") + self.text[points.end() :]
            return self.error("points as thousands separators are refused", f"write {plain}")
        if re.search(r"[.:][0-9]", unit):
            return self.error("this is not a number and a unit", f"write for example {self.example}")
        return self.error(f"unknown unit {unit!r}", _nearest(unit, known))


def _nearest(unit: str, known: tuple[str, ...]) -> str:
    """Return a hint naming the known spelling that differs in the case of letters, or the most similar one."""
    folded: dict[str, str] = {}
    for text in known:
        folded.setdefault(text.casefold(), text)
    if unit.casefold() in folded:
        return f"did you mean {folded[unit.casefold()]}? Capital and small letters differ"
    close = difflib.get_close_matches(unit.casefold(), folded, n=1, cutoff=0.5)
    return f"did you mean {folded[close[0]]}?" if close else ""


def _kind_of(unit: str) -> Kind | None:
    return next((kind for kind in _UNITS if unit in _pint_units(kind)), None)


def _need_no_unit(text: _Text, number: Fraction, kind: Kind) -> None:
    """Raise where a number without unit has no meaning: all but a plain number and zero (never 0 degrees)."""
    if kind == "number" or (number == 0 and kind != "temperature"):
        return
    shown = f"{float(number):.15g}"
    if kind == "share":
        percent = f"{float(number) * 100:.12g}" if abs(number) <= 1 else shown
        raise text.error("a unit is missing", f"write {percent} %")
    raise text.error("a unit is missing", f"write for example {shown} {spellings(kind)[0]}")


def _converted(text: _Text, number: Fraction, unit: str, kind: Kind) -> Fraction:
    """Return number in the internal unit of kind, or raise for a unit of another kind or of none."""
    pint_unit = _pint_units(kind).get(unit)
    if pint_unit is None:
        other = None if unit in _HINTS else _kind_of(unit)
        if other is not None:
            needed = "a plain number" if kind == "number" else _article(kind)
            raise text.error(f"this is {_article(other)}", f"{needed} is needed here")
        raise text.unit_error(unit, spellings(kind, every=True))
    return _celsius(number, pint_unit) if kind == "temperature" else number * _factor(pint_unit, _INTERNAL[kind])


def read(value: object, kind: Kind) -> float:
    """Return the quantity in value in the internal unit of its kind, not rounded.

    value is the text of one scalar (`13.7 MPa`), or a number where no unit is needed. Internal units: duration s,
    flow mL/min, pressure kPa (gauge), volume mL, temperature °C, power W, energy Wh, share 0-1, rate per day,
    length m, number as it stands. A bare 0 needs no unit, a temperature apart. Raises QuantityError saying what
    was found, what is allowed and what to do.
    """
    return _read_text(value, kind) if isinstance(value, str) else _read(value, kind)


@lru_cache(maxsize=4_096)  # strategies, options and candidates read the same texts over and over
def _read_text(value: str, kind: Kind) -> float:
    return _read(value, kind)


def _read(value: object, kind: Kind) -> float:
    text = _Text(value, allowed(kind), _EXAMPLES[kind])
    number, unit = text.split()
    if not unit:
        _need_no_unit(text, number, kind)
        result = number
    else:
        result = _converted(text, number, unit, kind)
    if abs(result) > LARGEST:
        raise text.error("the number is too large to use")
    if kind == "temperature" and result < ABSOLUTE_ZERO_C:
        raise text.error("this is below absolute zero")
    if kind != "temperature" and result < 0:
        raise text.error("a negative number makes no sense here")
    if kind == "share" and result > 1:
        raise text.error("a share is at most 100 %")
    return float(result)


def share(value: float | str, name: str) -> float:
    """Return a share between 0 and 1 (both excluded) from a number or a text such as `5 %`; raise O2simError."""
    try:
        number = read(value, "share") if isinstance(value, str) else float(value)
    except QuantityError as error:
        raise O2simError(f"{name}: {error}") from error
    if not 0 < number < 1:
        raise O2simError(f"{name}: found {value!r}; allowed: a share above 0 and below 1, such as 5 %")
    return number


def read_money(value: object, per: Per = "") -> tuple[float, str]:
    """Return (amount, currency) from `648 USD`, `30 USD / year` or `0.18 USD/kWh`.

    per says what the price is for: "" a thing, "year", "kWh" or "L"; a price per month, week, day or hour becomes
    one per year, one per Wh or MWh one per kWh, one per m3 one per L. The currency is three capital letters;
    a bare 0 gives (0.0, ""). Raises QuantityError.
    """
    example = {"": "648 USD", "year": "30 USD/year", "kWh": "0.18 USD/kWh", "L": "1.10 USD/L"}[per]
    text = _Text(value, f"money such as {example}", example)
    number, unit = text.split()
    if number < 0:
        raise text.error("a negative number makes no sense here")
    if not unit:
        if number:
            raise text.error(
                "a currency is missing", f"write for example {float(number):.15g} {example.split()[1]}"
            )
        return 0.0, ""
    match = _MONEY.fullmatch(unit)
    if match is None:
        raise text.unit_error(unit, (example.split()[1],))
    amount = number * _per_factor(text, match["per"] or "", per)
    if amount > LARGEST:
        raise text.error("the number is too large to use")
    return float(amount), match["currency"]


def _per_factor(text: _Text, found: str, per: Per) -> Fraction:
    """Return what a price per found is to be multiplied by to be a price per `per`; `/cylinder` is a word only."""
    found = "/".join(part for part in found.split("/") if part not in _THINGS)
    if not per:
        if found:
            raise text.error(f"a price per {found} where a plain price is needed", "leave out the part after /")
        return Fraction(1)
    units = {spelling: unit for unit, names in _PER_UNITS[per].items() for spelling in names}
    if not found:
        raise text.error(f"the price must be per {per}", f"write /{per} after the currency")
    if found not in units:
        raise text.error(f"a price per {found} where one per {per} is needed", f"write /{per} after the currency")
    return 1 / _factor(units[found], _PER_TARGET[per])


def format_duration(seconds: float) -> str:
    """Return seconds as a short text: `45 s`, `12 min`, `2 h 05 min`, `3.5 days` (from 48 h on)."""
    if math.isinf(seconds):
        return "without end"
    if seconds < 0:
        return f"-{format_duration(-seconds)}"
    whole = round(seconds)
    if whole < 60:
        return f"{whole} s"
    if whole < 3_600:
        return f"{whole // 60} min" + (f" {whole % 60} s" if whole % 60 else "")
    minutes = round(seconds / 60)
    if minutes < 48 * 60:
        return f"{minutes // 60} h {minutes % 60:02d} min"
    return f"{round(seconds / 86_400, 1):g} days"
