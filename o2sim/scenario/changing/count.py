"""Lays a count that stands in no scenario file over one: that of the option --count, or of a workbook of records.

A count replaces the section `now` of the file whole. It goes through the loader as if it stood there; what is
wrong with it is said at the place it came from.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
from collections.abc import Mapping as AnyMapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from o2sim.errors import CountError, O2simError, Problem, ScenarioError
from o2sim.scenario.building.beside import Given
from o2sim.scenario.building.loading import of_tree, text_of, with_ranges
from o2sim.scenario.building.uncertain import resolved
from o2sim.scenario.changing.removing import removed, without
from o2sim.scenario.changing.splice import flow, spliced
from o2sim.scenario.text import nodes
from o2sim.scenario.text.nodes import Listing, Mapping, Node, Scalar
from o2sim.scenario.text.problems import Problems
from o2sim.scenario.types.hospital import Scenario

SECTION, OPTIONS = "now", "options"
LONGEST_PATH = 300  # of a key with all above it
_ALLOWED = "texts, numbers, dates, lists and mappings, as under `now:` in a scenario file"


@dataclass(frozen=True)
class Counted:
    """A count, and where it came from.

    values: what would stand under `now:` in a file. places: where each part of it stands in `file`, by dotted key
    such as now.cylinders.full or now.on_order[1]; what has no place of its own has that of the key above it.
    """

    values: AnyMapping[str, Any]
    file: str = ""
    places: AnyMapping[str, str] = field(default_factory=dict)


def with_now(source: str | Path | Scenario, now: Counted | AnyMapping[str, Any]) -> Scenario:
    """Return a scenario that begins from a count, whatever `now` it has itself, without what may be bought.

    A count is of what is there: a smaller fleet that may be bought would refuse it, and so would the low end of a
    fleet that is not known. What is uncertain is read at its likely value alone, and stays uncertain.

    source: the path of a file, or what load or loads gave. Raises ScenarioError where it cannot be used (a
    CountError where the count is all that is wrong), O2simError for a scenario made by changing another.
    """
    counted = now if isinstance(now, Counted) else Counted(now)
    text, file, beside, stem = _parts(source)
    problems, node = Problems(file), node_of(counted.values, SECTION)
    root = nodes.parse(text, problems)
    if OPTIONS in root.entries:
        text, root = removed(text, [OPTIONS]).text, without(root, [OPTIONS])
    whole = nodes.put(root, [SECTION], node)
    likely, ranges = resolved(whole, problems)
    try:
        scenario = of_tree(likely, problems, beside, stem)
    except ScenarioError as error:
        raise _at_their_places(error, counted) from None
    if ranges:
        scenario = with_ranges(dataclasses.replace(scenario, tree=whole), ranges)
    return dataclasses.replace(scenario, text=text_with_now(text, counted), beside=beside)


def text_with_now(text: str, now: Counted | AnyMapping[str, Any]) -> str:
    """Return the text of a scenario file that loads with a count as its section `now`, all else letter by letter.

    Raises O2simError where it cannot be written there.
    """
    node = node_of(now.values if isinstance(now, Counted) else now, SECTION)
    new = spliced(text, {(SECTION,): node})
    there = nodes.parse(new.lstrip("\ufeff"), Problems("")).entries.get(SECTION)
    if there is None or flow(there) != flow(node):
        raise O2simError("the count cannot be written into the text of this scenario; add its section now by hand")
    return new


def node_of(value: object, path: str) -> Node:
    """Return a value as it would stand in a file. Raises O2simError for what cannot stand there."""
    if len(path) > LONGEST_PATH:
        raise O2simError(f"{path[:60]}...: nested too deeply; allowed: {_ALLOWED}")
    if isinstance(value, AnyMapping):
        wrong = next((key for key in value if not isinstance(key, str)), None)
        if wrong is not None:
            raise O2simError(f"{path}: found the key {wrong!r}; allowed: a text")
        return Mapping(0, path, {key: node_of(each, nodes.child_path(path, key)) for key, each in value.items()})
    if isinstance(value, list | tuple):
        return Listing(0, path, [node_of(each, f"{path}[{place}]") for place, each in enumerate(value, 1)])
    return Scalar(0, path, _text(value, path))


def _text(value: object, path: str) -> str:
    if isinstance(value, str):
        return value
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, dt.datetime):
        return f"{value:%Y-%m-%d %H:%M:%S}" if value.second else f"{value:%Y-%m-%d %H:%M}"
    if isinstance(value, dt.date):
        return value.isoformat()
    if isinstance(value, int | float):
        return f"{value:.12g}"
    raise O2simError(f"{path}: found {type(value).__name__}; allowed: {_ALLOWED}")


def _parts(source: str | Path | Scenario) -> tuple[str, str, Given | Path | None, str]:
    """Return text, name, where files beside it lie and the name where it says none."""
    if isinstance(source, Scenario):
        if not source.text:
            hint = "lay the count over the file, or over what load or loads gave"
            raise O2simError(f"{source.file}: this scenario was made by changing another; {hint}")
        return source.text, source.file, source.beside, source.name
    if not isinstance(source, str | Path):
        raise O2simError(f"found {type(source).__name__}; allowed: a scenario, or the path of its file")
    file = Path(source)
    return text_of(file, Problems(str(source))), str(source), file.parent, file.stem


def _at_their_places(error: ScenarioError, counted: Counted) -> ScenarioError:
    """Return the error with each problem of the count at the place it came from."""
    of_count = [_is_of_count(problem) for problem in error.problems]
    moved = [
        _moved(problem, counted) if ours else problem
        for problem, ours in zip(error.problems, of_count, strict=True)
    ]
    return CountError(moved) if all(of_count) else ScenarioError(moved)


def _is_of_count(problem: Problem) -> bool:
    return problem.field == SECTION or problem.field.startswith((f"{SECTION}.", f"{SECTION}["))


def _moved(problem: Problem, counted: Counted) -> Problem:
    """Return a problem at the place of its key, or of the nearest key above that has one."""
    key = problem.field
    while key and key not in counted.places:
        key = key[: max(key.rfind("."), key.rfind("["), 0)]
    place = counted.places.get(key, problem.field)
    return dataclasses.replace(problem, file=counted.file or problem.file, field=place)
