"""Reads the values of a section by its table of keys; every problem is noted with its place."""

from __future__ import annotations

import contextlib
import datetime as dt
import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from o2sim.errors import QuantityError
from o2sim.quantities import units
from o2sim.scenario.building.beside import Beside, Given
from o2sim.scenario.building.cells import MONTHS as MONTHS
from o2sim.scenario.building.cells import YEARS as YEARS
from o2sim.scenario.building.cells import offset_s
from o2sim.scenario.building.columns import dialect_of
from o2sim.scenario.building.law_reader import read_law
from o2sim.scenario.building.moments import read_date, read_moment
from o2sim.scenario.building.record_rows import Register, read_register
from o2sim.scenario.building.refused import whole_number
from o2sim.scenario.building.values import Money, Values, read_quantity, split_message
from o2sim.scenario.keys.field import MONEY_PER, Field, Section
from o2sim.scenario.keys.fields import LONGEST_TEXT, allowed, home
from o2sim.scenario.text.nodes import Listing, Mapping, Node, Scalar, child_path, describe
from o2sim.scenario.text.problems import Problems, RefusedError, nearest, quote
from o2sim.scenario.types.funds import PURCHASES
from o2sim.scenario.types.tables import DIALECT_KEYS

WEEKDAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
LONGEST_NAME = 60  # of a class or a strategy
MOST_CLOSURES = 100
MOST_QUANTITIES = 1_000  # of a list
_LISTED: dict[str, units.Kind] = {"list of pressures": "pressure", "list of durations": "duration"}
Known = dict[
    tuple[int, int], tuple[Any, object, object]
]  # a value by its node and its key, which are kept with it


def is_name(text: str) -> bool:
    """Return True for a text that may be the name of a class, a strategy and the like."""
    return len(text) <= LONGEST_NAME and text.isprintable()


class Reader:
    """Reads sections of one file; folder is where files of data beside it may lie, None without a file.

    A value is read once however many strategies share its node; known: such values of a tree that was read before,
    to which those read here are added. What is refused is never among them.
    """

    def __init__(self, problems: Problems, folder: Given | Path | None, known: Known | None = None) -> None:
        """Take where problems go, and the folder of the scenario."""
        self._known: Known = {} if known is None else known
        self.problems, self.beside = problems, Beside(problems, folder)
        self.currency = "USD"  # in which messages propose a price

    def unknown_keys(self, node: Mapping, known: Iterable[str]) -> None:
        """Note each key of a mapping that is not among the known ones."""
        names = list(known)
        for key, child in node.entries.items():
            if key not in names:
                # Not looked for where nobody would read it: the search costs, key by key.
                hint = "" if self.problems.full else nearest(key, names) or home(key)
                self.problems.add(child, f"the key {quote(key)} is unknown", ", ".join(names), hint)

    def section(self, node: Mapping, section: Section) -> Values:
        """Return the values of a mapping, its unknown keys noted."""
        self.unknown_keys(node, section.names)
        return self.fields(node, section.fields)

    def fields(self, node: Mapping, fields: Sequence[Field]) -> Values:
        """Return the values of some fields of a mapping."""
        values = Values(node, self.problems, fields)
        for item in fields:
            with contextlib.suppress(RefusedError):
                values.data[item.name] = self._field(node, item)
        return values

    def _field(self, above: Mapping, item: Field) -> object:
        node = above.entries.get(item.name)
        if node is not None:
            return self._value(node, item)
        if item.required and not (item.recorded and "register" in above.entries):
            path = child_path(above.path, item.name)
            raise self.problems.add(above, "this key is missing", allowed(item), item.help, field=path)
        if item.kind in MONEY_PER and item.default is not None:
            return Money(None, 0.0, "")
        if item.kind == "section" and not item.otherwise:  # a group of prices: nothing in it is needed
            assert item.section is not None
            return self.fields(Mapping(above.line, child_path(above.path, item.name)), item.section.fields)
        if item.default is None:
            return None
        stands = (Scalar(0, item.name, item.default), None, item)  # one node of each key: it is read once
        return self._value(self._known.setdefault((0, id(item)), stands)[0], item)

    def _value(self, node: Node, item: Field) -> object:
        if item.section is not None:  # it says what is wrong with it, each time it is read
            return self._read(node, item)
        at = id(node), id(item)
        if at not in self._known:
            self._known[at] = self._read(node, item), node, item
        return self._known[at][0]

    def _read(self, node: Node, item: Field) -> object:
        if isinstance(node, Scalar):
            for word, meaning in item.words:
                if node.text == word:
                    return meaning
        return _READERS[item.kind](self, node, item)

    def _text_of(self, node: Node, item: Field) -> str:
        """Return the text of a scalar; raise RefusedError for a list, a mapping or nothing."""
        if not isinstance(node, Scalar) or node.refused or not node.text.strip():
            raise self.problems.add(node, f"found {describe(node)}", allowed(item))
        return node.text.strip()

    def _refuse(self, node: Node, item: Field, reason: str = "", hint: str = "") -> RefusedError:
        found = f"found {describe(node)}" + (f": {reason}" if reason else "")
        return self.problems.add(node, found, allowed(item), hint)

    def _unit(self, node: Node, item: Field) -> float:
        words = [word for word, _ in item.words]
        kind: units.Kind = item.kind  # type: ignore[assignment]
        return read_quantity(self.problems, node, kind, item.least, item.most, words)

    def _rounded(self, node: Node, item: Field) -> int:
        """Return a time in whole seconds, or a flow in whole mL/min."""
        exact = self._unit(node, item)
        self._not_too_short(node, item, exact)
        return round(exact)

    def _not_too_short(self, node: Node, item: Field, exact: float) -> None:
        """Refuse a quantity that would be taken for 0."""
        if exact > 0 and round(exact) == 0:
            unit = "1 mL/min" if item.kind == "flow" else "1 s"
            zero = item.least[:2] == "0 " or (not item.least and not item.kind.startswith("law"))
            hint = "write 0 where 0 is meant" if zero else "check the number and its unit"
            raise self._refuse(node, item, f"below {unit}, the least o2sim counts", hint)

    def _whole(self, node: Node, item: Field) -> int:
        text = self._text_of(node, item)
        if not re.fullmatch(r"[0-9]{1,9}", text):
            negative = re.fullmatch(r"-[0-9.]+", text)
            reason = "a negative number makes no sense here" if negative else ""
            raise self._refuse(node, item, reason, whole_number(text))
        if not int(item.least) <= int(text) <= int(item.most):
            raise self._refuse(node, item)
        return int(text)

    def _true_or_false(self, node: Node, item: Field) -> bool:
        text = self._text_of(node, item)
        if text.lower() not in ("true", "false"):
            raise self._refuse(node, item)
        return text.lower() == "true"

    def _fuel_rate(self, node: Node, item: Field) -> int:
        """Return a rate of fuel in whole mL an hour."""
        return round(60 * read_quantity(self.problems, node, "flow", item.least, item.most))

    def _weekdays(self, node: Node, item: Field) -> tuple[int, ...]:
        """Return days of the week, Monday as 0."""
        found = set()
        for each in self._items(node, item):
            text = self._text_of(each, item).lower()
            days = [n for n, day in enumerate(WEEKDAYS) if len(text) >= 3 and day.startswith(text)]
            if not days:
                raise self._refuse(each, item, hint=nearest(text, WEEKDAYS))
            found.add(days[0])
        if not found and item.name != "no_delivery":  # which a strategy may take back
            raise self.problems.add(node, "found an empty list", allowed(item))
        if len(found) == len(WEEKDAYS) and item.name == "no_delivery":
            raise self.problems.add(node, "found every day of the week", allowed(item), "nothing would ever come")
        return tuple(sorted(found))

    def _date(self, node: Node, item: Field) -> dt.date:
        text = self._text_of(node, item)
        assert isinstance(node, Scalar)
        return read_date(self.problems, node, item, text)

    def _moment(self, node: Node, item: Field) -> dt.datetime:
        """Return a date with its time."""
        text = self._text_of(node, item)
        assert isinstance(node, Scalar)
        return read_moment(self.problems, node, item, text)

    def _month_or_date(self, node: Node, item: Field) -> int | dt.date:
        """Return the number of a month (1-12), or a date."""
        text = self._text_of(node, item)
        return self._date(node, item) if text[0].isdigit() else self._month(node, item, text)

    def _month(self, node: Node, item: Field, text: str) -> int:
        months = [n for n, month in enumerate(MONTHS, 1) if len(text) >= 3 and month.startswith(text.lower())]
        if text.lower() == "sept":
            months = [9]
        if len(months) != 1:
            raise self._refuse(node, item, hint=nearest(text, MONTHS))
        return months[0]

    def _months(self, node: Node, item: Field) -> tuple[int, ...]:
        """Return months by number (1-12) or name, each at most once, in their order."""
        found: list[int] = []
        for each in self._items(node, item):
            text = self._text_of(each, item)
            month = int(text) if re.fullmatch("0?[1-9]|1[0-2]", text) else self._month(each, item, text)
            if month in found:
                raise self._refuse(each, item, "named twice")
            found.append(month)
        if not found:
            raise self.problems.add(node, "found an empty list", allowed(item), "left out it is all the year")
        return tuple(sorted(found))

    def _text(self, node: Node, item: Field) -> str:
        if isinstance(node, Scalar) and not node.refused and item.default == node.text:
            return node.text
        text = " ".join(self._text_of(node, item).split())
        if len(text) > LONGEST_TEXT:
            raise self._refuse(node, item, "too long")
        return text

    def _currency(self, node: Node, item: Field) -> str:
        if not re.fullmatch("[A-Z]{3}", self._text_of(node, item)):
            raise self._refuse(node, item)
        return self._text_of(node, item)

    def _word(self, node: Node, item: Field) -> object:
        text = self._text_of(node, item)  # a known word was met before
        raise self._refuse(node, item, hint=nearest(text, [word for word, _ in item.words]))

    def _items(self, node: Node, item: Field) -> list[Node]:
        if not isinstance(node, Listing):
            raise self._refuse(node, item, hint="write a list in brackets")
        return node.items

    def _clock(self, node: Node, item: Field) -> int:
        """Return a time of day in seconds from midnight."""
        found = re.fullmatch(r"([01]?\d|2[0-3]):([0-5]\d)", self._text_of(node, item), re.A)
        if not found:
            raise self._refuse(node, item, hint="hours and minutes, from 00:00 to 23:59")
        return int(found[1]) * 3600 + int(found[2]) * 60

    def _clock_times(self, node: Node, item: Field) -> tuple[int, ...]:
        times = [self._clock(each, item) for each in self._items(node, item)[:1441]]
        if not times or sorted(set(times)) != times:
            raise self.problems.add(node, "found times that are missing, repeated or out of order", allowed(item))
        return tuple(times)

    def _numbers(self, node: Node, item: Field) -> tuple[float, ...]:
        items = self._items(node, item)
        if len(items) != 12:
            raise self.problems.add(node, f"found {len(items)} factors", allowed(item))
        factors = [read_quantity(self.problems, each, "number", "", "1000") for each in items]
        if not any(factors):
            raise self.problems.add(node, "found factors that are all 0", allowed(item))
        return tuple(factors)

    def _quantities(self, node: Node, item: Field) -> tuple[float, ...]:
        """Return the quantities of a list: pressures in kPa, durations in whole seconds."""
        items, kind = self._items(node, item), _LISTED[item.kind]
        if len(items) > MOST_QUANTITIES:
            raise self.problems.add(node, f"found {len(items)} entries", f"at most {MOST_QUANTITIES}")
        found = []
        for each in items:
            with contextlib.suppress(RefusedError):
                found.append(read_quantity(self.problems, each, kind, item.least, item.most))
        if len(found) < len(items):
            raise RefusedError
        return tuple(map(round, found) if kind == "duration" else found)

    def _sources(self, node: Node, item: Field) -> tuple[str, ...]:
        return self._listed(node, item, ("concentrator", "cylinder", "manifold"))

    def _purchases(self, node: Node, item: Field) -> tuple[str, ...]:
        return self._listed(node, item, PURCHASES)

    def _listed(self, node: Node, item: Field, known: tuple[str, ...]) -> tuple[str, ...]:
        """Return known words in the order of the file, each at most once and one at least."""
        found: list[str] = []
        for each in self._items(node, item):
            text = self._text_of(each, item)
            if text not in known:
                raise self._refuse(each, item, hint=nearest(text, known))
            if text in found:
                raise self._refuse(each, item, "named twice")
            found.append(text)
        if not found:
            raise self.problems.add(node, "found an empty list", allowed(item))
        return tuple(found)

    def _names(self, node: Node, item: Field) -> tuple[str, ...]:
        """Return names, each at most once; whose they are is looked at where all of them are known."""
        names: list[str] = []
        for each in self._items(node, item):
            text = self._text_of(each, item)
            if text in names:
                raise self._refuse(each, item, "named twice")
            names.append(text)
        if not names:
            raise self.problems.add(node, "found an empty list", allowed(item))
        return tuple(names)

    def _law(self, node: Node, item: Field) -> object:
        kind: units.Kind = item.kind.removeprefix("law of ")  # type: ignore[assignment]
        law = read_law(self.beside, node, kind, item.least, item.most, [word for word, _ in item.words])
        if law.kind == "constant" and kind == "duration":
            self._not_too_short(node, item, law.parameters[0])
        return law

    def _register(self, node: Node, item: Field) -> Register:
        """Return the register of admissions in a file beside the scenario."""
        if not isinstance(node, Mapping):
            raise self._refuse(node, item)
        assert item.section is not None
        values = self.section(node, item.section)
        if not values.has("file", *DIALECT_KEYS):
            raise RefusedError
        register = read_register(self.beside, node, values["file"], dialect_of(values))
        values.need_all()
        return replace(register, use=values["use"], first=values["from"], last=values["to"])

    def _time_zone(self, node: Node, item: Field) -> int:
        """Return how far the clock of a place is ahead of UTC, in s."""
        ahead_s = offset_s(self._text_of(node, item))
        if ahead_s is None:
            raise self._refuse(node, item, hint="the fixed offset of the place; its name alone is not enough")
        return ahead_s

    def _columns(self, node: Node, item: Field) -> tuple[tuple[str, tuple[str, ...]], ...]:
        """Return the names of columns in a file, one or two for each of ours, no name twice."""
        if not isinstance(node, Mapping) or not node.entries:
            raise self._refuse(node, item)
        found, names = [], list[str]()
        for column, child in node.entries.items():
            parts = child.items if isinstance(child, Listing) else [child]
            if not 1 <= len(parts) <= 2:
                raise self.problems.add(
                    child, f"found {len(parts)} names", "one, or two: of the date and the time"
                )
            own = tuple(self._text_of(each, item) for each in parts)
            names += own
            found.append((column, own))
        twice = next((name for name in names if names.count(name) > 1), "")
        if twice:
            raise self.problems.add(node, f"found the name {quote(twice)} twice", "each column of the file once")
        return tuple(found)

    def _choices(self, node: Node, item: Field) -> Mapping:
        """Return the rows of an options section as they stand; what is in them is read with each option."""
        if not isinstance(node, Mapping) or not node.entries:
            raise self._refuse(node, item)
        return node

    def _money(self, node: Node, item: Field) -> Money:
        if not isinstance(node, Scalar):
            raise self._refuse(node, item)
        try:
            return Money(node, *units.read_money(node.text, MONEY_PER[item.kind]))
        except QuantityError as error:
            found, allowed_here, hint = (part.replace("USD", self.currency) for part in split_message(error))
            raise self.problems.add(node, found, allowed_here, hint) from None

    def _section(self, node: Node, item: Field) -> Values:
        assert item.section is not None
        if not isinstance(node, Mapping):
            if item.kind != "section":  # one of several
                raise self.problems.add(
                    node, f"found {describe(node)}", f"a mapping of {', '.join(item.section.names)}"
                )
            hint = nearest(node.text, [word for word, _ in item.words]) if isinstance(node, Scalar) else ""
            raise self._refuse(node, item, hint=hint)
        return self.section(node, item.section)

    def _named_sections(self, node: Node, item: Field) -> dict[str, Values]:
        """Return the sections of a mapping by name; those refused are left out."""
        sections: dict[str, Values] = {}
        if not isinstance(node, Mapping) or not node.entries:
            raise self._refuse(node, item)
        assert item.section is not None
        if set(node.entries) <= set(item.section.names):
            found = f"found {describe(node)}, but no name above them"
            raise self.problems.add(
                node, found, allowed(item), f"for example {item.name}: adults: and these below"
            )
        if len(node.entries) > int(item.most):
            raise self.problems.add(node, f"found {len(node.entries)} names", f"at most {item.most}")
        for name, child in node.entries.items():
            if self.fits_as_name(name, child):
                with contextlib.suppress(RefusedError):
                    sections[name] = replace(self._section(child, item), name=name)
        return sections

    def fits_as_name(self, name: str, node: Node) -> bool:
        """Return True for what may be the name of a class, a ward, a strategy or a choice; else note it."""
        fits = is_name(name)
        if not fits:
            self.problems.add(node, "the name cannot be used", f"{LONGEST_NAME} printable characters")
        return fits

    def _list_of_sections(self, node: Node, item: Field) -> list[Values]:
        items, most = self._items(node, item), int(item.most or MOST_CLOSURES)
        if len(items) > most:
            raise self.problems.add(node, f"found {len(items)} entries", f"at most {most}")
        sections = []
        for each in items:
            with contextlib.suppress(RefusedError):
                sections.append(self._section(each, item))
        return sections


_READERS: dict[str, Callable[[Reader, Node, Field], object]] = {
    **dict.fromkeys(
        ("pressure", "volume", "temperature", "power", "share", "rate", "number", "energy", "length"), Reader._unit
    ),
    **dict.fromkeys(("duration", "flow"), Reader._rounded),
    **dict.fromkeys(("law of duration", "law of flow", "law of share", "law of number"), Reader._law),
    **dict.fromkeys(MONEY_PER, Reader._money),
    "whole": Reader._whole,
    "true or false": Reader._true_or_false,
    "date": Reader._date,
    "month or date": Reader._month_or_date,
    **dict.fromkeys(("date and time", "date or time"), Reader._moment),
    **dict.fromkeys(_LISTED, Reader._quantities),
    "text": Reader._text,
    "currency": Reader._currency,
    "numbers": Reader._numbers,
    "clock": Reader._clock,
    "clock times": Reader._clock_times,
    "sources": Reader._sources,
    "purchases": Reader._purchases,
    "word": Reader._word,
    "fuel rate": Reader._fuel_rate,
    "register": Reader._register,
    "weekdays": Reader._weekdays,
    "months": Reader._months,
    "names": Reader._names,
    "choices": Reader._choices,
    "time zone": Reader._time_zone,
    "columns": Reader._columns,
    "section": Reader._section,
    "named sections": Reader._named_sections,
    "list of sections": Reader._list_of_sections,
}
