"""A commented scenario to start from, made from the table of fields: what a place must state, or every key.

Keys with an example stand ready. With every key asked for, all others are there too, switched off with a `#`
before them, so that a key added to the table of fields appears there by itself.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from textwrap import wrap
from typing import get_args

from o2sim.quantities import units
from o2sim.scenario.keys.fields import CHANGEABLE, SOURCES, TOP, Field, Section
from o2sim.scenario.keys.starter_examples import (
    COUNTED,
    EXAMPLES,
    FOUND,
    HEAD,
    HEAD_OF_ALL,
    PRICES,
    STORM,
    WHENCE,
)

WIDTH = 115
EMPTY = '""'  # as an empty text is written
COMMENTS_AT = 38  # column
_SUCH_AS = {
    "date": "2027-04-01",
    "date and time": "2027-04-01 07:30",
    "date or time": "2027-04-01, or 2027-04-01 22:00",
    "list of pressures": "[40 bar, 25 bar]",
    "list of durations": "[8200 h, 400 h]",
    "month or date": "may",
    "months": "[4, 5, 6]",
    "numbers": "[1, 1.2, ...], twelve",
    "true or false": "true",
    "time zone": "UTC+02:00",
    "columns": "{arrival: [date, time]}",
    "choices": "{cylinders.fleet: [40, 60], concentrators.count: [3, 5]}",
}


@dataclass(frozen=True)
class Margin:
    """Where a line begins: spaces, then a `#` where it is switched off, then more spaces; whether all is shown."""

    text: str = ""
    off: bool = False
    every: bool = True  # every key; else those with an example

    @property
    def switched_off(self) -> Margin:
        """Return this margin with a `#`, if it has none yet."""
        return self if self.off else replace(self, text=f"{self.text}#", off=True)

    @property
    def inner(self) -> Margin:
        """Return the margin one level further in."""
        return replace(self, text=f"{self.text}  ")


def starter(*, every: bool = False) -> str:
    """Return the text of the scenario; it loads as it stands.

    every: all keys with their defaults, in place of those alone that a place must state.
    """
    lines = [HEAD_OF_ALL if every else HEAD]
    for item in TOP.fields:
        written = list(_key(item, (item.name,), Margin(every=every)))
        lines += ["", *written] if written and item.section is not None else written
    return "\n".join(lines) + "\n"


def _key(item: Field, keys: tuple[str, ...], margin: Margin) -> Iterator[str]:
    """Yield the lines of one key: with its example, else switched off with its default or what may stand there."""
    if keys in EXAMPLES:
        yield from _line(margin, f"{item.name}: {EXAMPLES[keys]}", _said(item, keys, every=margin.every))
    elif not margin.every and (prices := _prices(keys)):
        said = ", ".join(f"{each[-1]}: {EXAMPLES[each]}" for each in prices)
        yield from _line(margin, f"{item.name}: {{{said}}}", "; ".join(FOUND[each] for each in prices))
    elif any(example[: len(keys)] == keys for example in EXAMPLES):
        yield from _line(margin, f"{item.name}:", item.help)
        yield from _inside(item, keys, margin.inner)
    elif margin.every:
        yield from _switched_off(item, keys, margin)


def _prices(keys: tuple[str, ...]) -> list[tuple[str, ...]]:
    """Return the keys with an example in a section of prices, shown in one line; none for other sections."""
    return [each for each in EXAMPLES if each[:-1] == keys and keys[:-1] == ("costs",)]


def _switched_off(item: Field, keys: tuple[str, ...], margin: Margin) -> Iterator[str]:
    """Yield the lines of a key that has no example."""
    if keys in PRICES:
        yield from _line(margin.switched_off, f"{item.name}: {PRICES[keys]}", f"{item.help}; {WHENCE[keys]}")
        return
    value = "" if item.section is not None or item.default is None else f" {item.default or EMPTY}"
    shown = COUNTED.get(keys) or STORM.get(keys)
    value = f" {shown}" if shown else value
    yield from _line(margin.switched_off, f"{item.name}:{value}", explain(item))
    yield from _inside(item, keys, margin.switched_off.inner)


def _said(item: Field, keys: tuple[str, ...], *, every: bool) -> str:
    """Return the comment beside an example: what it is and its source, or in short where a place finds its own."""
    if not every:
        return "; ".join([item.help.split(";")[0], *([FOUND[keys]] if keys in FOUND else [])])
    return "; ".join([explain(item, default=False), *([WHENCE[keys]] if keys in WHENCE else [])])


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
    """Yield named sections: comments in the first, and beside what the others alone have."""
    first, *_ = names = _names(keys) or ["a name"]
    for name in names:
        yield f"{margin.text}{name}:"
        for field in section.fields:
            inner = (*keys, name, field.name)
            if name == first:
                yield from _key(field, inner, margin.inner)
            elif inner in EXAMPLES and (*keys, first, field.name) in EXAMPLES:
                yield f"{margin.inner.text}{field.name}: {EXAMPLES[inner]}"
            elif inner in EXAMPLES:
                yield from _key(field, inner, margin.inner)


def _strategies(keys: tuple[str, ...], margin: Margin) -> Iterator[str]:
    changeable = ", ".join(field.name for field in CHANGEABLE)
    again = "Beside it a strategy may state any of these keys again, changed for it alone"
    if margin.every:
        yield from _prose(margin, f"sources: {SOURCES.help}. {again}: {changeable}.")
    for name in _names(keys):
        yield f"{margin.text}{name}: {{sources: {EXAMPLES[(*keys, name, 'sources')]}}}"


def _names(keys: tuple[str, ...]) -> list[str]:
    """Return the names that the examples have at these keys."""
    return list(dict.fromkeys(each[len(keys)] for each in (*EXAMPLES, *STORM) if each[: len(keys)] == keys))


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
