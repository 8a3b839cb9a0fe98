"""A commented scenario to start from, made from the table of fields: every key, its default, what it means.

Keys with an example stand ready; all others are switched off with a `#` before them, so that a key added to the
table of fields appears here by itself.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from textwrap import wrap
from typing import get_args

from o2sim.quantities import units
from o2sim.scenario.keys.fields import CHANGEABLE, SOURCES, TOP, Field, Section
from o2sim.scenario.keys.sources import SOLAR_STUDY, WORKING

WIDTH = 115
EMPTY = '""'  # as an empty text is written
COMMENTS_AT = 38  # column
HEAD = """\
# A scenario to start from. Everything in it is an example or a default: put in your own figures, with a source.
# When every figure is your hospital's own, write figures: ours; until then each sheet to print says EXAMPLE.
# A # directly before a key switches it off; what stands there is the default. Take the # away to change it.
# A number that nobody knows for sure may be a range, {low: 1 h, likely: 2 h, high: 6 h}: see o2sim drivers.
# After each change: o2sim check FILE. Then: o2sim compare FILE. For a reviewer: o2sim describe FILE.
"""
_MEDIAN_STAY = "{lognormal: {median: 60 h, geometric_sd: 2.2}}"
EXAMPLES: Mapping[tuple[str, ...], str] = {  # by keys from the margin inwards: what the file says
    ("name",): "My hospital",
    ("about",): "where it lies, how many beds, what is hard",
    ("figures",): "example",
    ("warm_up",): "28 days",
    ("response_time",): "{lognormal: {median: 5 min, geometric_sd: 2}}",
    ("patients", "newborns", "admissions"): "1.5 / day",
    ("patients", "newborns", "hypoxaemic"): "20 %",
    ("patients", "newborns", "flow"): "0.5 L/min",
    ("patients", "newborns", "duration"): _MEDIAN_STAY,
    ("patients", "newborns", "priority"): "1",
    ("patients", "children", "admissions"): "6 / day",
    ("patients", "children", "hypoxaemic"): "12 %",
    ("patients", "children", "flow"): "{triangular: {low: 0.5 L/min, mode: 1 L/min, high: 2 L/min}}",
    ("patients", "children", "duration"): _MEDIAN_STAY,
    ("patients", "children", "season"): "{peak: may, ratio: 1.5}",
    ("patients", "adults", "admissions"): "4 / day",
    ("patients", "adults", "hypoxaemic"): "10 %",
    ("patients", "adults", "flow"): "{triangular: {low: 2 L/min, mode: 4 L/min, high: 10 L/min}}",
    ("patients", "adults", "duration"): _MEDIAN_STAY,
    ("patients", "adults", "priority"): "2",
    ("cylinders", "water_capacity"): "47 L",
    ("cylinders", "fleet"): "60",
    ("cylinders", "regulators"): "12",
    ("resupply", "reorder_point"): "40",
    ("resupply", "order_up_to"): "56",
    ("resupply", "lead_time"): "{gamma: {mean: 4 days, sd: 2 days}}",
    ("concentrators", "count"): "5",
    ("concentrators", "rated_flow"): "5 L/min",
    ("concentrators", "outlets"): "4",
    ("concentrators", "failure"): "{exponential: {mean: 4000 h}}",
    ("concentrators", "repair"): "{lognormal: {median: 110 days, geometric_sd: 2}}",
    ("concentrators", "never_repaired"): "10 %",
    ("power", "grid", "up"): "{exponential: {mean: 36 h}}",
    ("power", "grid", "down"): "{lognormal: {median: 2 h, geometric_sd: 2.5}}",
    ("strategies", "cylinders only", "sources"): "[cylinder]",
    ("strategies", "concentrators only", "sources"): "[concentrator]",
    ("strategies", "mixed", "sources"): "[concentrator, cylinder]",
}
PRICES: Mapping[tuple[str, ...], str] = {  # shown where prices are switched off, in place of 0
    ("costs", "concentrators", "price"): "648 USD",
    ("costs", "analyser", "price"): "385 USD",
    ("costs", "oximeters", "price"): "250 USD",
}
WHENCE: Mapping[tuple[str, ...], str] = {  # where an example or a price comes from
    ("concentrators", "repair"): WORKING,
    ("concentrators", "never_repaired"): "assumed",
    ("response_time",): "assumed; one in six is over 10 min",
    **dict.fromkeys(PRICES, SOLAR_STUDY),
}
_SUCH_AS = {
    "date": "2027-04-01",
    "month or date": "may",
    "numbers": "[1, 1.2, ...], twelve",
    "true or false": "true",
    "time zone": "UTC+02:00",
    "columns": "{arrival: [date, time]}",
    "choices": "{cylinders.fleet: [40, 60], concentrators.count: [3, 5]}",
}


@dataclass(frozen=True)
class Margin:
    """Where a line begins: spaces, then a `#` where it is switched off, then more spaces."""

    text: str = ""
    off: bool = False

    @property
    def switched_off(self) -> Margin:
        """Return this margin with a `#`, if it has none yet."""
        return self if self.off else Margin(f"{self.text}#", True)

    @property
    def inner(self) -> Margin:
        """Return the margin one level further in."""
        return Margin(f"{self.text}  ", self.off)


def starter() -> str:
    """Return the text of the scenario; it loads as it stands."""
    lines = [HEAD]
    for item in TOP.fields:
        if item.section is not None:
            lines.append("")
        lines += _key(item, (item.name,), Margin())
    return "\n".join(lines) + "\n"


def _key(item: Field, keys: tuple[str, ...], margin: Margin) -> Iterator[str]:
    """Yield the lines of one key: with its example, else switched off with its default or what may stand there."""
    if keys in EXAMPLES:
        said = "; ".join((explain(item, default=False), *([WHENCE[keys]] if keys in WHENCE else ())))
        yield from _line(margin, f"{item.name}: {EXAMPLES[keys]}", said)
    elif keys in PRICES:
        yield from _line(margin.switched_off, f"{item.name}: {PRICES[keys]}", f"{item.help}; {WHENCE[keys]}")
    elif any(example[: len(keys)] == keys for example in EXAMPLES):
        yield from _line(margin, f"{item.name}:", item.help)
        yield from _inside(item, keys, margin.inner)
    else:
        value = "" if item.section is not None or item.default is None else f" {item.default or EMPTY}"
        yield from _line(margin.switched_off, f"{item.name}:{value}", explain(item))
        yield from _inside(item, keys, margin.switched_off.inner)


def _inside(item: Field, keys: tuple[str, ...], margin: Margin) -> Iterator[str]:
    """Yield the lines of what a section holds; none for any other key."""
    if item.section is None:
        return
    if item.name == "strategies":
        yield from _strategies(keys, margin)
    elif item.kind == "named sections":
        yield from _named(item.section, keys, margin)
    elif item.kind == "list of sections":
        yield from _listed(item.section, keys, margin)
    else:
        for field in item.section.fields:
            yield from _key(field, (*keys, field.name), margin)


def _listed(section: Section, keys: tuple[str, ...], margin: Margin) -> Iterator[str]:
    """Yield one entry of a list: a dash before its first key."""
    dash, at = "- ", len(margin.text)
    for line in (line for field in section.fields for line in _key(field, (*keys, field.name), margin.inner)):
        if dash.strip() and not line[at:].lstrip().startswith("#"):
            yield f"{line[:at]}{dash}{line[at + len(dash) :]}"
            dash = ""
        else:
            yield line


def _named(section: Section, keys: tuple[str, ...], margin: Margin) -> Iterator[str]:
    """Yield named sections: the first with every key, the others with what differs."""
    for place, name in enumerate(_names(keys) or ["a name"]):
        yield f"{margin.text}{name}:"
        for field in section.fields:
            inner = (*keys, name, field.name)
            if place == 0:
                yield from _key(field, inner, margin.inner)
            elif inner in EXAMPLES:
                yield f"{margin.inner.text}{field.name}: {EXAMPLES[inner]}"


def _strategies(keys: tuple[str, ...], margin: Margin) -> Iterator[str]:
    changeable = ", ".join(field.name for field in CHANGEABLE)
    again = "Beside it a strategy may state any of these keys again, changed for it alone"
    yield from _prose(margin, f"sources: {SOURCES.help}. {again}: {changeable}.")
    for name in _names(keys):
        yield f"{margin.text}{name}: {{sources: {EXAMPLES[(*keys, name, 'sources')]}}}"


def _names(keys: tuple[str, ...]) -> list[str]:
    """Return the names that the examples have at these keys."""
    return list(dict.fromkeys(each[len(keys)] for each in EXAMPLES if each[: len(keys)] == keys))


def explain(item: Field, *, default: bool = True) -> str:
    """Return what a key means, what else may stand there, and where its default comes from."""
    said = [item.help] if item.help else []
    words = [word for word, _ in item.words]
    if words:
        said.append(f"{'one of' if item.kind == 'word' else 'or'} {', '.join(words)}")
    if default and item.default is not None and item.mark:
        said.append(f"default: {item.mark}")
    elif default and item.default is None:
        said += _such_as(item)
        whose = f" ({item.mark})" if item.mark else ""
        said += ["needed"] if item.required else [f"left out: {item.otherwise}{whose}"] * bool(item.otherwise)
    return "; ".join(said)


def _such_as(item: Field) -> list[str]:
    """Return `such as 4 days` for a key without a default; nothing where words or keys say enough."""
    kind = item.kind.removeprefix("law of ")
    if kind in get_args(units.Kind):
        return [f"such as {units.example(kind)}" + (" or a law of chance" if kind != item.kind else "")]  # type: ignore[arg-type]
    if item.kind == "whole":
        return [f"a whole number from {item.least} to {item.most}"]
    return [f"such as {_SUCH_AS[item.kind]}"] if item.kind in _SUCH_AS else []


def _line(margin: Margin, text: str, comment: str) -> Iterator[str]:
    """Yield a line with its comment at its right, or above it where it would be too long."""
    whole = f"{margin.text}{text}"
    beside = f"{whole.ljust(COMMENTS_AT)}  # {comment}"
    if not comment:
        yield whole
    elif len(beside) <= WIDTH:
        yield beside
    else:
        yield from _prose(margin, comment)
        yield whole


def _prose(margin: Margin, text: str) -> Iterator[str]:
    """Yield a comment of its own, broken into lines."""
    lead = margin.text.removesuffix("#") + "# "
    yield from (lead + part for part in wrap(text, WIDTH - len(lead)))
