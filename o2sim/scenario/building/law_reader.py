"""Reads a law of chance: a quantity, a named law, or a column of a CSV file."""

from __future__ import annotations

import contextlib
from collections.abc import Sequence

from o2sim.errors import QuantityError
from o2sim.quantities import units
from o2sim.scenario.building.beside import Beside
from o2sim.scenario.building.values import read_quantity, split_message, within
from o2sim.scenario.text.nodes import Mapping, Node, Scalar, describe
from o2sim.scenario.text.problems import Problems, RefusedError, listing, nearest, quote
from o2sim.scenario.types.hospital import Law
from o2sim.scenario.types.laws import LAW_FORMS, PLAIN, make_law, wrong_parameters

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
    return _empirical(beside, inside, limits) if name == "empirical" else _named(name, inside, limits)


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


def _empirical(beside: Beside, node: Mapping, limits: _Limits) -> Law:
    """Return the law that gives each value of a column with the same chance."""
    problems, text = beside.problems, dict[str, str]()
    for key, child in node.entries.items():
        if key not in EMPIRICAL_KEYS or not isinstance(child, Scalar):
            hint = nearest(key, EMPIRICAL_KEYS)
            raise problems.add(child, f"found {quote(key)}: {describe(child)}", _EMPIRICAL_FORM, hint)
        text[key] = child.text.strip()
    if not text.get("file") or not text.get("column"):
        raise problems.add(node, f"found {describe(node)}", _EMPIRICAL_FORM)
    values = []
    for line, cell in beside.column(node, text["file"], text["column"]):
        try:
            values.append(limits.value(f"{cell} {text['unit']}" if "unit" in text else cell))
        except QuantityError as error:
            found, allowed, hint = split_message(error)
            found, hint = f"{text['file']}:{line}: {found}", hint or "or add unit: to the law"
            raise problems.add(node, found, allowed, hint) from None
    return Law("empirical", tuple(sorted(values)))


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
