"""The JSON Schema (2020-12) of scenario files, made from the table of fields, for editors.

It refuses unknown and missing keys, wrong kinds and misspelt units, and shows help and defaults. What keys mean
together (a reorder point below its level, laws that fit) only loading can tell: it never refuses what loads, but
passes some of what does not. Scalars may be texts or typed, as YAML readers differ.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import get_args

from o2sim.quantities import units
from o2sim.scenario.building.law_reader import EMPIRICAL_KEYS, MOST_STATED
from o2sim.scenario.building.reader import LONGEST_NAME, MONTHS, WEEKDAYS, YEARS
from o2sim.scenario.building.uncertain import FORM
from o2sim.scenario.keys.field import MONEY_PER
from o2sim.scenario.keys.fields import STRATEGY, TOP, Field, FieldKind, Section
from o2sim.scenario.types.funds import PURCHASES
from o2sim.scenario.types.laws import LAW_FORMS, PLAIN
from o2sim.typed import Schema
from o2sim.version import __version__

FLEET, SIZES = "fleet", "sizes"  # of cylinders
DIALECT = "https://json-schema.org/draft/2020-12/schema"
ABOUT = (
    "Every key of an o2sim scenario. What this schema passes may still be refused where keys do not fit together: "
    "`o2sim check FILE` has the last word."
)
EXACT = "exact "  # a number without a range
NUMBER = r"(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]+)?"
SIGN = "[+\N{MINUS SIGN}-]?"
ZERO = SIGN + r"(?:0+(?:\.0*)?|\.0+)(?:[eE][+-]?[0-9]+)?"
SLASH = r"(?:\s*/\s*|\s+per\s+)"
IN_PLACE = ("whole", "word", "register", "section", "named sections", "list of sections")  # limits of the field


def scenario_schema() -> Schema:
    """Return the schema as plain dicts and lists."""
    return {
        "$schema": DIALECT,
        "title": f"o2sim scenario, version {__version__}",
        "description": ABOUT,
        **_section(TOP, complete=True),
        "$defs": definitions(),
    }


def definitions() -> dict[str, Schema]:
    """Return what each kind of value may be, by the name of the kind with underscores."""
    kinds = get_args(FieldKind)
    found: dict[str, Schema] = {kind: _quantity(kind) for kind in get_args(units.Kind)}
    found |= {kind: _money(per) for kind, per in MONEY_PER.items()} | {"fuel rate": _quantity("flow")}
    exact = {f"{EXACT}{kind}": schema for kind, schema in found.items()}
    found = {kind: _uncertain({"$ref": f"#/$defs/{_name(EXACT + kind)}"}) for kind in found} | exact
    found |= {kind: _law(kind.removeprefix("law of ")) for kind in kinds if kind.startswith("law of ")}
    found |= _plain_kinds()
    found |= {kind: {} for kind in kinds if kind not in found and kind not in IN_PLACE}  # anything may stand there
    return {_name(kind): schema for kind, schema in found.items()}


def _uncertain(exact: Schema) -> Schema:
    """Return a number, or low, likely and high in its place."""
    return {"anyOf": [exact, {**_object(dict.fromkeys(FORM, exact)), "required": list(FORM)}]}


def _name(kind: str) -> str:
    return kind.replace(" ", "_")  # a reference may hold no space


def _plain_kinds() -> dict[str, Schema]:
    """Return the kinds that are neither a number with a unit, nor money, nor a law."""
    scalar = {"type": ["string", "number", "boolean"]}
    year = "|".join((rf"{YEARS[0] // 100}[0-9]{{2}}", r"2[01][0-9]{2}", str(YEARS[1])))
    day = rf"(?:{year})-(?:0[1-9]|1[0-2])-(?:0[1-9]|[12][0-9]|3[01])"
    time = r"(?:[01]?[0-9]|2[0-3]):[0-5][0-9]"
    date = {"type": "string", "pattern": rf"^\s*{day}\s*$"}
    clock = {"type": "string", "pattern": rf"^\s*{time}\s*$"}
    after = rf"[T\s]+{time}(?::[0-5][0-9])?"
    truths = "|".join(map(_any_case, ("true", "false")))
    days = "|".join(map(_beginnings, WEEKDAYS))
    weekday = {"type": "string", "pattern": rf"^\s*(?:{days})\s*$"}
    months = "|".join([*map(_beginnings, MONTHS), _any_case("sept")])
    named = {"type": "string", "pattern": rf"^\s*(?:0?[1-9]|1[0-2]|{months})\s*$"}
    month = {"anyOf": [{"type": "integer", "minimum": 1, "maximum": 12}, named]}
    column = {"anyOf": [scalar, {"type": "array", "items": scalar, "minItems": 1, "maxItems": 2}]}
    choice = {"type": ["array", "object"], "minItems": 1, "minProperties": 1}
    source = {"type": "string", "pattern": r"^\s*(?:concentrator|cylinder|manifold)\s*$"}
    purchase = {"type": "string", "pattern": rf"^\s*(?:{'|'.join(PURCHASES)})\s*$"}
    return {
        "true or false": {"anyOf": [{"type": "boolean"}, {"type": "string", "pattern": rf"^\s*(?:{truths})\s*$"}]},
        "date": date,
        "date and time": {"type": "string", "pattern": rf"^\s*{day}{after}\s*$"},
        "date or time": {"type": "string", "pattern": rf"^\s*{day}(?:{after})?\s*$"},
        "list of pressures": {"type": "array", "items": {"$ref": "#/$defs/exact_pressure"}},
        "list of durations": {"type": "array", "items": {"$ref": "#/$defs/exact_duration"}},
        "month or date": {"anyOf": [date, {"type": "string", "pattern": rf"^\s*(?:{months})\s*$"}]},
        "clock": clock,
        "clock times": {"type": "array", "items": clock, "minItems": 1},
        "weekdays": {"type": "array", "items": weekday},
        "months": {"type": "array", "items": month, "minItems": 1, "maxItems": 12},
        "names": {"type": "array", "items": scalar, "minItems": 1},
        "purchases": {"type": "array", "items": purchase, "minItems": 1, "maxItems": 3},
        "text": scalar,
        "currency": {"type": "string", "pattern": r"^\s*[A-Z]{3}\s*$"},
        "numbers": {"type": "array", "items": {"$ref": "#/$defs/number"}, "minItems": 12, "maxItems": 12},
        "time zone": {"type": ["string", "number"]},
        "columns": {"type": "object", "minProperties": 1, "additionalProperties": column},
        "choices": {"type": "object", "minProperties": 1, "additionalProperties": choice},
        "sources": {"type": "array", "items": source, "minItems": 1, "maxItems": 3},
    }  # fmt: skip


def _section(section: Section, *, complete: bool) -> Schema:
    """Return the schema of a mapping; where not complete (a strategy's changes) no key of it must be there."""
    needed = [item.name for item in section.fields if item.required and not item.recorded and not item.summed]
    properties = {item.name: _property(item, complete=complete) for item in section.fields}
    by_size: Schema = {}
    if complete and FLEET in needed and SIZES in properties:
        needed.remove(FLEET)  # the sum of those of the sizes
        by_size = {"anyOf": [{"required": [FLEET]}, {"required": [SIZES]}]}
    return {**_object(properties), **({"required": needed} if complete and needed else {}), **by_size}


def _property(item: Field, *, complete: bool) -> Schema:
    """Return the schema of a key: what may stand there, its help, its default."""
    shown: Schema = {"description": _description(item)}
    if item.default is not None:
        shown["default"] = item.default
    words: list[object] = [word for word, _ in item.words]
    words += [word == "true" for word in words if word in ("true", "false")]  # as texts and typed
    if item.kind == "word":
        return {"enum": words, **shown} if words else shown
    value = _value(item, complete=complete)
    return {**({"anyOf": [value, {"enum": words}]} if words else value), **shown}


def _value(item: Field, *, complete: bool) -> Schema:
    """Return the schema of a value of a field's kind, its words apart."""
    if item.kind == "whole":
        limits = {"minimum": int(item.least), "maximum": int(item.most)}
        text = {"type": "string", "pattern": r"^\s*[0-9]{1,9}\s*$"}
        return _uncertain({"anyOf": [{"type": "integer", **limits}, text]})
    if item.section is None:
        return {"$ref": f"#/$defs/{_name(item.kind)}"}
    if item.name == "strategies":
        inside = {**_section(STRATEGY, complete=False), "required": ["sources"]}
    else:
        inside = _section(item.section, complete=complete)
    if item.kind == "named sections":
        names = {"minLength": 1, "maxLength": LONGEST_NAME}
        most = {"maxProperties": int(item.most)} if item.most else {}
        return {
            "type": "object",
            "additionalProperties": inside,
            "propertyNames": names,
            "minProperties": 1,
            **most,
        }
    return {"type": "array", "items": inside} if item.kind == "list of sections" else inside


def _description(item: Field) -> str:
    """Return the help of a key, its limits, and where its default comes from."""
    said = [item.help] if item.help else []
    if item.least and item.most:
        said.append(f"from {item.least} to {item.most}")
    elif item.least or item.most:
        said.append(f"at least {item.least}" if item.least else f"at most {item.most}")
    if item.default is not None and item.mark:
        said.append(f"default: {item.mark}")
    elif item.otherwise:
        said.append(f"left out: {item.otherwise}" + (f" ({item.mark})" if item.mark else ""))
    return "; ".join(said)


def _quantity(kind: units.Kind) -> Schema:
    """Return a number with a unit as a text; a bare 0 where it needs none, as text or typed."""
    if kind == "number":
        bare = {"type": "string", "pattern": rf"^\s*(?:\+?{NUMBER}|{ZERO})\s*$"}
        return {"anyOf": [{"type": "number", "minimum": 0}, bare], "examples": ["1.8"]}
    spelt = _any_of(_unit_pattern(text) for text in units.spellings(kind, every=True))
    example = {"examples": [units.example(kind)]}
    if kind == "temperature":
        return {"type": "string", "pattern": rf"^\s*{SIGN}{NUMBER}\s*{spelt}\s*$", **example}
    text = rf"^\s*(?:\+?{NUMBER}\s*{spelt}|{ZERO}\s*{spelt}?)\s*$"
    return {"anyOf": [{"type": "string", "pattern": text}, {"const": 0}], **example}


def _money(per: units.Per) -> Schema:
    spelt = SLASH + _any_of(_unit_pattern(text) for text in units.price_spellings(per)) if per else ""
    pattern = rf"^\s*(?:\+?{NUMBER}\s*[A-Z]{{3}}{spelt}|{ZERO}(?:\s*[A-Z]{{3}}{spelt})?)\s*$"
    example = {"": "648 USD", "year": "30 USD/year", "kWh": "0.18 USD/kWh", "L": "1.10 USD/L"}[per]
    return {"anyOf": [{"type": "string", "pattern": pattern}, {"const": 0}], "examples": [example]}


def _law(kind: str) -> Schema:
    """Return a quantity (no spread) or a mapping of one law to one of its forms."""
    laws: Schema = {name: {"anyOf": [_form(kind, form) for form in forms]} for name, forms in LAW_FORMS.items()}
    column = {key: {"type": ["string", "number"]} for key in EMPIRICAL_KEYS}
    counted = {
        "values": _listed({"$ref": f"#/$defs/{kind}"}),
        "counts": _listed({"type": "integer", "minimum": 1}),
    }
    laws["empirical"] = {
        "anyOf": [{**_object(column), "required": ["file", "column"]},
                  {**_object(counted), "required": list(counted)}]
    }  # fmt: skip
    one = {**_object(laws), "minProperties": 1, "maxProperties": 1}
    return {"anyOf": [{"$ref": f"#/$defs/{kind}"}, one]}


def _listed(item: Schema) -> Schema:
    return {"type": "array", "items": item, "minItems": 2, "maxItems": MOST_STATED}


def _object(properties: Schema) -> Schema:
    return {"type": "object", "properties": properties, "additionalProperties": False}


def _form(kind: str, parameters: Iterable[str]) -> Schema:
    kinds = {name: {"$ref": f"#/$defs/{'number' if name in PLAIN else kind}"} for name in parameters}
    return {**_object(kinds), "required": list(kinds)}


def _unit_pattern(text: str) -> str:
    """Return a spelling as a pattern: spaces may be wider, and a slash may have spaces or be `per`."""
    parts = [r"\s+".join(map(re.escape, part.split())) for part in text.split("/")]
    return SLASH.join(parts)


def _any_of(patterns: Iterable[str]) -> str:
    return f"(?:{'|'.join(patterns)})"


def _any_case(text: str) -> str:
    return "".join(f"[{letter}{letter.upper()}]" for letter in text)


def _beginnings(month: str) -> str:
    """Return a pattern of a month and its beginnings of three letters or more, in any case."""
    pattern = ""
    for letter in reversed(month[3:]):
        pattern = f"(?:{_any_case(letter)}{pattern})?"
    return _any_case(month[:3]) + pattern
