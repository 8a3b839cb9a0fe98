"""Reads a law of chance: a quantity, a named law, counted values, or a column of a CSV file."""

from __future__ import annotations

import contextlib
import math
import re
from collections.abc import Mapping as AnyMapping
from collections.abc import Sequence
from itertools import pairwise

from o2sim.quantities import units
from o2sim.scenario.building.beside import MOST_ROWS, Beside
from o2sim.scenario.building.cells import CellError, Cells, shown
from o2sim.scenario.building.values import read_quantity, within
from o2sim.scenario.text.nodes import Listing, Mapping, Node, Scalar, describe
from o2sim.scenario.text.problems import Problems, RefusedError, listing, nearest, quote
from o2sim.scenario.types.hospital import Law
from o2sim.scenario.types.laws import LAW_FORMS, PLAIN, make_law, wrong_parameters
from o2sim.scenario.types.tables import DECIMALS, SEPARATORS, Dialect

# How a file is written, as far as it matters to a column of quantities.
_WRITTEN = {"separator": tuple(SEPARATORS), "decimal": DECIMALS}
STATED_KEYS = ("values", "counts")  # of an empirical law without a file
MOST_STATED, MOST_COUNTED = 100, 10_000  # values, and how often they were counted in all
EMPIRICAL_KEYS = ("file", "column", "unit", *_WRITTEN)
_NAMES = (*LAW_FORMS, "empirical")
_LIKELY = "low, likely and high without a law is one uncertain number; every draw of the law triangular has a mode"
_OTHER_NAMES = {  # what people try, and what to write
    "constant": "write the quantity itself",
    "normal": "a normal law goes below zero; use gamma: {mean, sd}",
    "fixed": "write the quantity itself",
    "mean": "name the law, as gamma: {mean: ..., sd: ...}",
    "median": "name the law, as lognormal: {median: ..., geometric_sd: ...}",
    "low": "name the law, as triangular: {low: ..., mode: ..., high: ...}",
    "erlang": "an Erlang law is gamma: {mean, sd} with sd = mean / sqrt(k)",
}


def read_law(
    beside: Beside, node: Node, kind: units.Kind, least: str, most: str, words: Sequence[str] = ()
) -> Law:
    """Return the law at a node in the internal unit of kind; raise RefusedError.

    least and most bound its quantities as one would write them. Without least they must be more than 0: only
    least "0 s" allows a 0, and then not as a mean or a median.
    """
    problems = beside.problems
    limits = _Limits(problems, kind, least, most)
    if isinstance(node, Scalar):
        return Law("constant", (limits.read(node, zero=True, words=words),))
    if not isinstance(node, Mapping) or len(node.entries) != 1:
        names = node.entries if isinstance(node, Mapping) else ()
        hint = next((hint for name, hint in _OTHER_NAMES.items() if name in names), "")
        allowed = f"{units.allowed(kind)}, or one law: {listing(_NAMES)}"
        raise problems.add(node, f"found {describe(node)}", allowed, hint)
    ((name, inside),) = node.entries.items()
    if name not in _NAMES:
        hint = _OTHER_NAMES.get(name) or nearest(name, _NAMES)
        raise problems.add(inside, f"the law {quote(name)} is unknown", listing(_NAMES), hint)
    if not isinstance(inside, Mapping):
        allowed = _EMPIRICAL_FORM if name == "empirical" else _forms(name)
        raise problems.add(inside, f"found {describe(inside)}", allowed)
    if name != "empirical":
        return _named(name, inside, limits)
    is_stated = set(inside.entries) & set(STATED_KEYS)
    return _stated(inside, limits) if is_stated else _empirical(beside, inside, limits)


def _named(name: str, node: Mapping, limits: _Limits) -> Law:
    """Return a law from the mapping of its parameters."""
    problems, forms = limits.problems, [set(form) for form in LAW_FORMS[name]]
    known = set().union(*forms)
    given: dict[str, float] = {}
    for parameter, child in node.entries.items():
        if parameter not in known:
            hint = _LIKELY if parameter == "likely" else nearest(parameter, sorted(known))
            problems.add(child, f"{quote(parameter)} is unknown", _forms(name), hint)
            continue
        with contextlib.suppress(RefusedError):
            given[parameter] = limits.parameter(parameter, child)
    if set(node.entries) <= known and set(node.entries) not in forms:
        problems.add(node, f"found {describe(node)}", _forms(name))
    if len(given) < len(node.entries) or set(given) not in forms:
        raise RefusedError
    wrong = wrong_parameters(given)
    if wrong is not None:
        at = node.entries.get(wrong[0], node)
        raise problems.add(at, f"found {describe(at)}: {wrong[1]}", *wrong[2:])
    return make_law(name, given)


def _stated(node: Mapping, limits: _Limits) -> Law:
    """Return the law that gives each of some values as often as it was counted."""
    problems = limits.problems
    lists = [node.entries.get(key) for key in STATED_KEYS]
    if set(node.entries) != set(STATED_KEYS) or not all(isinstance(each, Listing) for each in lists):
        raise problems.add(node, f"found {describe(node)}", _STATED_FORM, "two lists")
    values, counts = (each.items for each in lists if isinstance(each, Listing))
    if len(values) != len(counts) or not 2 <= len(values) <= MOST_STATED:
        found = f"found {len(values)} values and {len(counts)} counts"
        hint = "for no spread write the quantity itself" if len(values) == 1 else ""
        raise problems.add(node, found, f"a count for each value, 2 to {MOST_STATED} of them", hint)
    read = [limits.read(each, zero=True) for each in values]
    if any(after <= before for before, after in pairwise(read)):
        raise problems.add(node.entries["values"], "found values out of order", "each once, from low to high")
    times = [_count(problems, each) for each in counts]
    share = math.gcd(*times)
    if sum(times) // share > MOST_COUNTED:
        raise problems.add(node.entries["counts"], f"found {sum(times)} in all", f"at most {MOST_COUNTED:,}")
    return Law("empirical", tuple(value for value, n in zip(read, times, strict=True) for _ in range(n // share)))


def _count(problems: Problems, node: Node) -> int:
    text = node.text.strip() if isinstance(node, Scalar) else ""
    if not re.fullmatch("[0-9]{1,5}", text) or not 1 <= int(text) <= MOST_COUNTED:
        raise problems.add(node, f"found {describe(node)}", f"a whole number from 1 to {MOST_COUNTED:,}")
    return int(text)


def _empirical(beside: Beside, node: Mapping, limits: _Limits) -> Law:
    """Return the law that gives each value of a column with the same chance."""
    problems, text = beside.problems, dict[str, str]()
    for key, child in node.entries.items():
        if key not in EMPIRICAL_KEYS or not isinstance(child, Scalar):
            hint = nearest(key, EMPIRICAL_KEYS)
            raise problems.add(child, f"found {quote(key)}: {describe(child)}", _EMPIRICAL_FORM, hint)
        text[key] = child.text.strip()
        words = _WRITTEN.get(key, ())
        if words and text[key] not in words:
            raise problems.add(child, f"found {describe(child)}", listing(words), nearest(text[key], words))
    if not text.get("file") or not text.get("column"):
        raise problems.add(node, f"found {describe(node)}", _EMPIRICAL_FORM)
    how = ("law", tuple(sorted(text.items())), limits.kind, limits.least, limits.most)
    values = beside.once(node.entries["file"], text["file"], how, lambda: _column(beside, node, text, limits))
    return Law("empirical", values)


def _column(beside: Beside, node: Mapping, text: AnyMapping[str, str], limits: _Limits) -> tuple[float, ...]:
    """Return the sorted values of a column; raise RefusedError with all that is wrong noted."""
    file, column, unit = text["file"], text["column"], text.get("unit", "")
    plain = Dialect()
    dialect = Dialect(text.get("separator", plain.separator), text.get("decimal", plain.decimal))
    read = beside.sheet(node.entries["file"], file, dialect.separator, [column], _EMPIRICAL_FORM)
    names, rows = read.sheet.names, read.sheet.rows
    if column not in names:
        allowed = listing([quote(name) for name in names[:10]])
        raise beside.problems.add(
            node.entries["column"], f"{file} has no column {quote(column)}", allowed, nearest(column, names)
        )
    if names.count(column) > 1:
        read.wrong.whole(f"the column {quote(column)} stands twice", "each column once", "remove one")
    if not 1 <= len(rows) <= MOST_ROWS:
        read.wrong.whole(f"has {len(rows)} rows", f"1 to {MOST_ROWS} rows below the names")
    whole = [row for row in rows if not row.surplus]
    cells = Cells(dialect, (row.cells[column] for row in whole), typed=read.sheet.typed)
    values = []
    for row in whole:
        try:
            values.append(limits.cell(cells, row.cells[column], unit))
        except CellError as error:
            read.wrong.add(row.line, column, error)
    read.wrong.stop()
    return tuple(sorted(values))


class _Limits:
    """Reads the quantities of one law between its bounds."""

    def __init__(self, problems: Problems, kind: units.Kind, least: str, most: str) -> None:
        self.problems, self.kind, self.least, self.most = problems, kind, least, most
        self.zero_allowed = least != "" and units.read(least, kind) == 0

    def read(self, node: Node, *, zero: bool, words: Sequence[str] = ()) -> float:
        """Return the quantity at a node; zero says if the place may hold a 0 where the field allows one."""
        value = read_quantity(self.problems, node, self.kind, self.least, self.most, words)
        if value == 0 and not (zero and self.zero_allowed):
            raise self.problems.add(node, f"found {describe(node)}", f"a {self.kind} of more than 0")
        return value

    def parameter(self, name: str, node: Node) -> float:
        """Return a parameter of a named law; its spread is judged later, against its mean."""
        if name in PLAIN:
            return read_quantity(self.problems, node, "number")
        if name == "sd":
            return read_quantity(self.problems, node, self.kind)
        return self.read(node, zero=name in ("low", "mode"))

    def cell(self, cells: Cells, text: str, unit: str) -> float:
        """Return the quantity in a cell, in a unit where it has none of its own; raise CellError."""
        try:
            value = cells.quantity(text, self.kind, unit)
        except CellError as error:
            found, allowed, hint = error.parts
            raise CellError(found, allowed, hint or ("" if unit else "or add unit: to the law")) from None
        low = units.read(self.least, self.kind) if self.least else 0.0
        if not low <= value <= units.read(self.most, self.kind) or (value == 0 and not self.zero_allowed):
            limits = within(self.kind, self.least, self.most)
            raise CellError(f"found {shown(text)}", f"{limits}, more than 0")
        return value


_STATED_FORM = "empirical: {values: [0.5 L/min, 1 L/min], counts: [30, 20]}"
_EMPIRICAL_FORM = (
    "empirical: {file: stays.csv, column: hours, unit: h}, the unit left out where cells have it, with separator "
    f"and decimal where the file needs them, or {_STATED_FORM}"
)


def _forms(name: str) -> str:
    return " or ".join(f"{name}: {{{', '.join(form)}}}" for form in LAW_FORMS[name])
