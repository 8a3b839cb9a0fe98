"""Reads a count written in one line: full 7, empty 12, part-used 40 bar 25 bar, on order 10 since 2027-04-29.

Parts stand in any order between commas or semicolons, in small or capital letters. What is left out is unknown.
Times and amounts are read where the section `now` of a file is read.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from o2sim.errors import CountError, O2simError
from o2sim.scenario.changing.count import Counted
from o2sim.scenario.text.nodes import Scalar
from o2sim.scenario.text.problems import Problems, nearest, quote

EXAMPLE = "full 7, empty 12, part-used 40 bar 25 bar, on order 10 since 2027-04-29"
LONGEST = 4_000  # characters
MOST_PARTS = 200
_AMOUNT = r"[0-9.]+\s*[a-z]+"
_SHAPES = (  # the word first, last, or behind a number
    r"(?:{})\b[:=]?\s*(.*)",
    r"(.*?)\s*\b(?:{})",
    r"(\d\S*)\s+(?:{})\b\s*(.*)",
)
_SINCE = r"(?:\s+since\s+(?P<since>.+))?"
_ON_OXYGEN = r"on[-_\s]oxygen"
_MET = (  # patients of a class, on what
    r"(?:(?P<class>.*\S)\s+(?P<count>\S*\d)|(?P<count_first>\d\S*)\s+(?P<named>\S.*?))"
    r"(?:\s+(?:(?:on|by)\s+(?P<source>cylinder|concentrator)s?|(?P<waits>wait(?:s|ing))))?"
)


class _PartError(Exception):
    """A part that cannot be read: what was found, what is allowed, and what to do."""

    def __init__(self, found: str, allowed: str, hint: str = "") -> None:
        super().__init__(found)
        self.parts = (found, allowed, hint)


@dataclass
class _Line:
    """What was read so far: values of the section, and the part that each came from."""

    values: dict[str, Any] = field(default_factory=dict)
    places: dict[str, str] = field(default_factory=dict)
    of_oxygen: bool = False  # the last part was one, so that a class and a number may follow

    def put(self, key: str, value: object, part: str) -> None:
        """Set a value at a dotted key, once."""
        if f"now.{key}" in self.places:
            raise _PartError(f"found it a second time, after {quote(self.places[f'now.{key}'])}", "each once")
        *above, last = key.split(".")
        here = self.values
        for name in above:
            here = here.setdefault(name, {})
        here[last] = value
        self.places[f"now.{key}"] = part

    def add(self, key: str, value: object, part: str) -> None:
        """Add an entry to a list at a dotted key."""
        *above, last = key.split(".")
        here = self.values
        for name in above:
            here = here.setdefault(name, {})
        here.setdefault(last, []).append(value)
        self.places[f"now.{key}[{len(here[last])}]"] = part


Read = Callable[[_Line, str, str], None]  # what was read so far, what stands beside the word, the whole part


@dataclass(frozen=True)
class _Word:
    """A word that begins or ends a part: how it is written, how what stands beside it is read, and an example."""

    name: str
    pattern: str
    read: Read
    example: str


def count_of_text(text: str, counted: dt.datetime | str | None = None, *, file: str = "--count") -> Counted:
    """Return the count in a text, such as "full 7, empty 12, on order 10 since 2027-04-29".

    counted: when it was counted, where the text does not say; file: what messages call the text. Raises CountError
    with every part that cannot be read, and what is allowed there.
    """
    if not isinstance(text, str):
        raise O2simError(f"{file}: found {type(text).__name__}; allowed: a text such as {quote(EXAMPLE)}")
    problems, line = Problems(file), _Line()
    parts = [part for each in re.split(r"[,;\n]", text[: LONGEST + 1]) if (part := " ".join(each.split()))]
    if not parts or len(text) > LONGEST or len(parts) > MOST_PARTS:
        many = f"{len(text):,} characters" if len(text) > LONGEST else f"{len(parts)} parts"
        found = many if parts else "nothing"
        problems.add(Scalar(0, "", ""), f"found {found}", f"parts with commas between, such as {EXAMPLE}")
        parts = []
    for part in parts:
        try:
            _read(line, part)
        except _PartError as error:
            problems.add(Scalar(0, part[:60], part), *error.parts)
    if not len(problems):
        _check_both(line, problems)
    if len(problems):
        raise CountError(list(problems.noted))
    if "counted" not in line.values and counted is not None:
        line.values["counted"] = counted
    line.places.setdefault("now.counted", "counted")
    line.places.setdefault("now.cylinders", "full, empty, part-used")
    first = {"counted": line.values.pop("counted")} if "counted" in line.values else {}
    return Counted({**first, **line.values}, file, line.places)


def _read(line: _Line, part: str) -> None:
    met = re.fullmatch(_MET, part, re.IGNORECASE) if line.of_oxygen else None
    again = re.match(_ON_OXYGEN, part, re.IGNORECASE)
    if met and not again and (met["source"] or met["waits"]):  # a class, whatever else it may look like
        _on_oxygen(line, part, part)
        return
    for word in _WORDS:
        for shape in _SHAPES:
            found = re.fullmatch(shape.format(word.pattern), part, re.IGNORECASE)
            if found:
                line.of_oxygen = word.read is _on_oxygen
                try:
                    word.read(line, " ".join(filter(None, found.groups())).strip(), part)
                except _PartError as error:
                    said, allowed, hint = error.parts
                    raise _PartError(said, allowed, hint or f"for example {word.example}") from None
                return
    if met:
        _on_oxygen(line, part, part)
        return
    names = [word.name for word in _WORDS]
    near = nearest(re.sub(r"[\d\s].*", "", part), names)
    raise _PartError(
        f"found {quote(part)}", f"{', '.join(names)}, with commas between", near or f"for example {EXAMPLE}"
    )


def _check_both(line: _Line, problems: Problems) -> None:
    """Note full or empty cylinders that are not said where the other is."""
    stated = line.values.get("cylinders", {})
    for name, other in (("full", "empty"), ("empty", "full")):
        if stated and name not in stated:
            there = other if other in stated else "part-used"
            hint = f"for example {name} 0 where there is none"
            problems.add(Scalar(0, "", ""), f"found {there}, but not {name}", "full and empty together", hint)


def _found(beside: str) -> str:
    return f"found {quote(beside)}" if beside else "found nothing beside it"


def _whole(text: str, allowed: str = "a whole number") -> str:
    """Return a whole number as a text."""
    if not re.fullmatch(r"[0-9]{1,9}", text):
        negative = ": a negative number makes no sense here" if re.fullmatch(r"-[0-9.]+", text) else ""
        raise _PartError(f"{_found(text)}{negative}", allowed)
    return text


def _cylinders(name: str) -> Read:
    def read(line: _Line, beside: str, part: str) -> None:
        line.put(f"cylinders.{name}", _whole(beside), part)

    return read


def _part_used(line: _Line, beside: str, part: str) -> None:
    """Read the gauges of part-used cylinders."""
    if beside.lower() in ("0", "none"):
        line.put("cylinders.part_used", [], part)
        return
    if not re.fullmatch(rf"{_AMOUNT}(?:\s+{_AMOUNT})*", beside, re.IGNORECASE):
        raise _PartError(_found(beside), "the gauge of each, with its unit")
    gauges = re.findall(_AMOUNT, beside, re.IGNORECASE)
    line.put("cylinders.part_used", gauges, part)
    line.places |= {f"now.cylinders.part_used[{place}]": part for place, _ in enumerate(gauges, 1)}


def _on_order(line: _Line, beside: str, part: str) -> None:
    """Read one order: how many, and since when where that is known."""
    if beside.lower() in ("0", "none", "nothing"):
        line.values.setdefault("on_order", [])
        return
    found = re.fullmatch(rf"(?P<count>\S+){_SINCE}", beside, re.IGNORECASE)
    if not found:
        raise _PartError(_found(beside), "a whole number, and since when where that is known")
    line.add("on_order", {"ordered": found["since"] or "unknown", "count": _whole(found["count"])}, part)


def _on_oxygen(line: _Line, beside: str, part: str) -> None:
    """Read how many of one class are on oxygen."""
    if beside.lower() in ("0", "none", "nobody"):
        line.values.setdefault("on_oxygen", [])
        return
    found = re.fullmatch(_MET, beside, re.IGNORECASE)
    if not found:
        allowed = (
            "a class and how many of it, with `on cylinders`, `on concentrators` or `waiting` behind; or nobody"
        )
        raise _PartError(_found(beside), allowed)
    name, count = found["class"] or found["named"], _whole(found["count"] or found["count_first"])
    source = "none" if found["waits"] else (found["source"] or "").lower()
    line.values.setdefault("on_oxygen", [])
    if int(count):
        line.add("on_oxygen", {"class": name, "count": count, **({"source": source} if source else {})}, part)


def _concentrators(line: _Line, beside: str, part: str) -> None:
    """Read how many units work, or how many are down since when."""
    found = re.fullmatch(
        rf"(?P<count>\S+)(?:\s+(?:(?P<working>working)|(?P<down>down){_SINCE}))?", beside, re.IGNORECASE
    )
    if not found:
        raise _PartError(_found(beside), "how many work, or how many are down and since when")
    count = _whole(found["count"])
    if not found["down"]:
        line.put("concentrators.working", count, part)
        return
    if int(count) > 1_000:
        raise _PartError(f"found {count} down", "at most 1000")
    for _ in range(int(count)):
        line.add("concentrators.down", {"since": found["since"] or "unknown"}, part)


def _grid(line: _Line, beside: str, part: str) -> None:
    """Read whether the grid is up, and since when where that is known."""
    found = re.fullmatch(rf"(?P<state>\S+){_SINCE}", beside, re.IGNORECASE)
    state = {"up": True, "on": True, "down": False, "off": False}.get(found["state"].lower() if found else "")
    if found is None or state is None:
        raise _PartError(_found(beside), "on or off, and since when where that is known")
    line.put("grid", {"up": state, **({"since": found["since"]} if found["since"] else {})}, part)


def _road(line: _Line, beside: str, part: str) -> None:
    """Read whether the road is open."""
    state = {"open": "open", "shut": "shut", "closed": "shut"}.get(beside.lower())
    if state is None:
        raise _PartError(_found(beside), "open or shut")
    line.put("road", state, part)


def _as_it_is(key: str) -> Read:
    def read(line: _Line, beside: str, part: str) -> None:
        if not beside:
            raise _PartError(_found(beside), "a value with its unit, or a time")
        line.put(key, beside, part)

    return read


_WORDS = (
    _Word("counted", r"counted(?:\s+(?:on|at))?", _as_it_is("counted"), "counted 2027-05-03 07:30"),
    _Word("full", r"full(?:\s+ones)?", _cylinders("full"), "full 7"),
    _Word("empty", r"empty(?:\s+ones)?|empties", _cylinders("empty"), "empty 12"),
    _Word("part-used", r"part[-_\s]?used", _part_used, "part-used 40 bar 25 bar"),
    _Word("on order", r"on[-_\s]order", _on_order, "on order 10 since 2027-04-29"),
    _Word("on oxygen", _ON_OXYGEN, _on_oxygen, "on oxygen children 3, adults 2 on cylinders"),
    _Word("concentrators", r"concentrators?", _concentrators, "concentrators 4 working"),
    _Word("grid", r"grid|power", _grid, "grid off since 2027-05-03 05:00"),
    _Word("road", r"road", _road, "road open"),
    _Word("battery", r"battery", _as_it_is("battery"), "battery 80 %"),
    _Word("fuel", r"fuel", _as_it_is("fuel"), "fuel 35 L"),
    _Word("next review", r"next[-_\s](?:review|order(?:\s+day)?)(?:\s+on)?", _as_it_is("next_review"),
          "next review 2027-05-05"),
)  # fmt: skip
