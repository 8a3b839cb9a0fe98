"""A node that is to be a law of chance in (a quantity, a named law, or a column of a CSV file), the law out."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from pathlib import Path

from o2sim.errors import QuantityError
from o2sim.quantities import units
from o2sim.scenario.building.quantities import read_quantity, split_message, within
from o2sim.scenario.text.given import Given
from o2sim.scenario.text.nodes import Mapping, Node, Scalar, describe
from o2sim.scenario.text.problems import Problems, RefusedError, listing, nearest, quote
from o2sim.scenario.types.hospital import Law
from o2sim.scenario.types.laws import LAW_FORMS, PLAIN, make_law, wrong_parameters

LARGEST_CSV = 1024 * 1024  # bytes
MOST_ROWS = 10_000
EMPIRICAL_KEYS = ("file", "column", "unit")
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


class LawReader:
    """Reads the laws of one file; folder is where CSV files beside it may lie, None without a file."""

    def __init__(self, problems: Problems, folder: Given | Path | None) -> None:
        """Take where problems go, and the folder of the scenario."""
        self.problems = problems
        self.folder = folder
        self._columns: dict[tuple[str, str], list[tuple[int, str]]] = {}

    def read(self, node: Node, kind: units.Kind, least: str, most: str, words: Sequence[str] = ()) -> Law:
        """Return the law at a node in the internal unit of kind; raise RefusedError.

        least and most bound its quantities as one would write them. Without least they must be more than 0: only
        least "0 s" allows a 0, and then not as a mean or a median.
        """
        limits = _Limits(self.problems, kind, least, most)
        if isinstance(node, Scalar):
            return Law("constant", (limits.read(node, zero=True, words=words),))
        if not isinstance(node, Mapping) or len(node.entries) != 1:
            allowed = f"{units.allowed(kind)}, or one law: {listing(_NAMES)}"
            raise self.problems.add(node, f"found {describe(node)}", allowed, _hint_for(node))
        ((name, inside),) = node.entries.items()
        if name not in _NAMES:
            hint = _OTHER_NAMES.get(name) or nearest(name, _NAMES)
            raise self.problems.add(inside, f"the law {quote(name)} is unknown", listing(_NAMES), hint)
        if not isinstance(inside, Mapping):
            allowed = _EMPIRICAL_FORM if name == "empirical" else _forms(name)
            raise self.problems.add(inside, f"found {describe(inside)}", allowed)
        return self._empirical(inside, limits) if name == "empirical" else self._named(name, inside, limits)

    def _named(self, name: str, node: Mapping, limits: _Limits) -> Law:
        """Return a law from the mapping of its parameters."""
        known = {parameter for form in LAW_FORMS[name] for parameter in form}
        given: dict[str, float] = {}
        for parameter, child in node.entries.items():
            if parameter not in known:
                hint = _LIKELY if parameter == "likely" else nearest(parameter, sorted(known))
                self.problems.add(child, f"{quote(parameter)} is unknown", _forms(name), hint)
                continue
            try:
                given[parameter] = limits.parameter(parameter, child)
            except RefusedError:
                continue
        if set(node.entries) not in [set(form) for form in LAW_FORMS[name]]:
            if set(node.entries) <= known:
                self.problems.add(node, f"found {describe(node)}", _forms(name))
            raise RefusedError()
        if len(given) < len(node.entries):
            raise RefusedError()
        wrong = wrong_parameters(given)
        if wrong is not None:
            at = node.entries.get(wrong[0], node)
            raise self.problems.add(at, f"found {describe(at)}: {wrong[1]}", *wrong[2:])
        return make_law(name, given)

    def _empirical(self, node: Mapping, limits: _Limits) -> Law:
        """Return the law that gives each value of a column with the same chance."""
        for key, child in node.entries.items():
            if key not in EMPIRICAL_KEYS or not isinstance(child, Scalar):
                hint = nearest(key, EMPIRICAL_KEYS)
                raise self.problems.add(child, f"found {quote(key)}: {describe(child)}", _EMPIRICAL_FORM, hint)
        text = {key: child.text.strip() for key, child in node.entries.items() if isinstance(child, Scalar)}
        if not text.get("file") or not text.get("column"):
            raise self.problems.add(node, f"found {describe(node)}", _EMPIRICAL_FORM)
        rows = self.column(node, text["file"], text["column"])
        values = []
        for line, cell in rows:
            try:
                values.append(limits.value(f"{cell} {text['unit']}" if "unit" in text else cell))
            except QuantityError as error:
                found, allowed, hint = split_message(error)
                raise self.problems.add(
                    node, f"{text['file']}:{line}: {found}", allowed, hint or "or add unit: to the law"
                ) from None
        return Law("empirical", tuple(sorted(values)))

    def column(self, node: Mapping, file: str, column: str) -> list[tuple[int, str]]:
        """Return (line, cell) of a column with a name in the first row of a CSV file; node is pointed at."""
        if (file, column) not in self._columns:
            data = read_beside(self.problems, self.folder, node.entries["file"], file)
            try:
                rows = csv.DictReader(io.StringIO(data.decode("utf-8-sig"), newline=""), strict=True)
                names = list(rows.fieldnames or ())
                cells = [(rows.line_num, str(row.get(column) or "")) for row in rows]
            except (UnicodeDecodeError, csv.Error) as error:
                reason = "not UTF-8 text" if isinstance(error, UnicodeDecodeError) else str(error)
                raise self.problems.add(node.entries["file"], f"{file} cannot be read: {reason}") from None
            if column not in names:
                found = f"{file} has no column {quote(column)}"
                named = [quote(name) for name in names[:10]]
                allowed = listing(named) if named else "a first row of names"
                raise self.problems.add(node.entries.get("column", node), found, allowed, nearest(column, names))
            if not 1 <= len(cells) <= MOST_ROWS:
                allowed = f"1 to {MOST_ROWS} rows below the names"
                raise self.problems.add(node.entries["file"], f"{file} has {len(cells)} rows", allowed)
            self._columns[file, column] = cells
        return self._columns[file, column]


def read_beside(problems: Problems, folder: Given | Path | None, node: Node, file: str) -> bytes:
    """Return the bytes of a file in or below the scenario's folder; nothing outside it is ever opened.

    A table that was given in place of the file comes first.
    """
    if isinstance(folder, Given):
        if file in folder.tables:
            return folder.tables[file]
        folder = folder.folder
    if folder is None:
        raise problems.add(node, f"found {quote(file)}", "a scenario on disk, with the file beside it")
    inside = "a file in the folder of the scenario, as stays.csv"
    try:
        path, folder = (folder / file).resolve(), folder.resolve()
        if Path(file).is_absolute() or not path.is_relative_to(folder):
            raise problems.add(node, f"found {quote(file)}, which lies elsewhere", inside)
        if not path.is_file():
            raise problems.add(node, f"found no file {quote(file)}", inside)
        if path.stat().st_size > LARGEST_CSV:
            raise problems.add(node, f"{file} is too large", f"at most {LARGEST_CSV // 1024} kB")
        return path.read_bytes()
    except (OSError, ValueError, RuntimeError) as error:  # also: a loop of links, a NUL in a name
        reason = getattr(error, "strerror", None) or type(error).__name__
        raise problems.add(node, f"{quote(file)} cannot be read: {reason}", inside) from None


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

    def value(self, text: str) -> float:
        """Return the quantity in a cell; raise QuantityError."""
        value = units.read(text, self.kind)
        low = units.read(self.least, self.kind) if self.least else 0.0
        if not low <= value <= units.read(self.most, self.kind) or (value == 0 and not self.zero_allowed):
            limits = within(self.kind, self.least, self.most)
            raise QuantityError(f"found {quote(text)}; allowed: {limits}, more than 0")
        return value


_EMPIRICAL_FORM = "empirical: {file: stays.csv, column: hours, unit: h}, the unit left out where cells have it"


def _forms(name: str) -> str:
    return " or ".join(f"{name}: {{{', '.join(form)}}}" for form in LAW_FORMS[name])


def _hint_for(node: Node) -> str:
    if isinstance(node, Mapping):
        return next((hint for name, hint in _OTHER_NAMES.items() if name in node.entries), "")
    return ""
