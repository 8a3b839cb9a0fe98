"""Gives a scenario the rows of a data frame as its options.

Each row is laid over a strategy as the `options` section of a file would lay it, so that every check holds.
"""

from __future__ import annotations

import dataclasses
from typing import TYPE_CHECKING

from o2sim import tabular
from o2sim.errors import O2simError, Problem, ScenarioError
from o2sim.scenario.building.beside import MOST_SHOWN
from o2sim.scenario.building.loading import of_tree
from o2sim.scenario.building.options import AS_IT_IS, option_names
from o2sim.scenario.building.reader import LONGEST_NAME, is_name
from o2sim.scenario.changing.facilities import NAME, overlay, value_node
from o2sim.scenario.changing.override import original
from o2sim.scenario.changing.unit_rows import seen_by
from o2sim.scenario.text.nodes import Mapping, Scalar
from o2sim.scenario.text.problems import Problems, quote
from o2sim.scenario.types.hospital import Scenario

if TYPE_CHECKING:
    import pandas as pd

ALLOWED_NAME = f"a name of its own, of at most {LONGEST_NAME} printable characters"


def options_of_table(scenario: Scenario, table: pd.DataFrame | tabular.Rows, of: str | None) -> Scenario:
    """Return the scenario with the rows of a table as options of the strategy `of`.

    Raises O2simError for what is no data frame or no strategy, ScenarioError with all that is wrong in it; rows
    are counted from 1.
    """
    head, rows = tabular.cells(table, "options")
    if of not in scenario.hospitals:
        known = ", ".join(scenario.strategies)
        stated = "nothing" if of is None else quote(of)
        raise O2simError(f"compare: found {stated} for `of`; allowed: the strategy that options change: {known}")
    keys = [column for column in head if column != NAME]
    if not rows or not keys or len(set(head)) < len(head) or not all(keys):
        raise O2simError(
            f"options: found {len(rows)} rows under {', '.join(head) or 'no columns'}; allowed: a row for each "
            "option, and a column, once, for each field, such as cylinders.fleet"
        )
    first = {tuple(row): place for place, row in reversed(list(enumerate(rows, 1)))}
    again = [(place, first[tuple(row)]) for place, row in enumerate(rows, 1) if first[tuple(row)] != place]
    if again:
        said = [f"options, row {place}: the same as row {before}" for place, before in again[:MOST_SHOWN]]
        more = [f"and {len(again) - MOST_SHOWN} more"] if len(again) > MOST_SHOWN else []
        raise O2simError("\n".join([*said, *more]) + "; write each option once")
    names = _names(head, keys, rows, scenario.file)
    source = original(scenario)
    whole = seen_by(source.root, of)
    changes, wrong = dict[str, Mapping](), list[Problem]()
    for place, row in enumerate(rows, 1):
        try:
            changes[f"row {place}"] = _change(head, row, place, scenario.file, whole)
        except ScenarioError as error:
            wrong += error.problems
    if wrong:
        raise ScenarioError(wrong)
    section = Mapping(0, "options", {
        "of": Scalar(0, "options.of", of),
        "vary": Mapping(0, "options.vary", {"option": Mapping(0, "options.vary.option", {**changes})}),
    })  # fmt: skip
    root = dataclasses.replace(source.root, entries={**source.root.entries, "options": section})
    found = of_tree(root, Problems(f"{scenario.file} with a table of options"), source.folder, source.stem)
    assert found.options is not None
    cells = [[row[head.index(key)] or AS_IT_IS for key in keys] for row in rows]
    choices = {name: tuple(stated) for name, stated in zip(names, cells, strict=True)}
    hospitals = {
        name: dataclasses.replace(each, strategy=dataclasses.replace(each.strategy, name=name))
        for name, each in zip(names, found.options.hospitals.values(), strict=True)
    }
    options = dataclasses.replace(found.options, keys=tuple(keys), choices=choices, hospitals=hospitals)
    return dataclasses.replace(scenario, options=options)


def _names(head: list[str], keys: list[str], rows: list[list[str]], file: str) -> list[str]:
    """Return a name for each row: the one it has, else what it chooses, or its number where that is too long.

    Raises ScenarioError for a stated name that cannot be used.
    """
    if NAME not in head:
        return option_names(keys, [[row[head.index(key)] for key in keys] for row in rows])
    names = [row[head.index(NAME)] for row in rows]
    wrong = [
        Problem(file, 0, f"options.row {place}", f"found the name {quote(name)}", ALLOWED_NAME)
        for place, name in enumerate(names, 1)
        if not name or name in names[: place - 1] or not is_name(name)
    ]
    if wrong:
        raise ScenarioError(wrong)
    return names


def _change(head: list[str], row: list[str], place: int, file: str, whole: Mapping) -> Mapping:
    """Return the changes that a row makes of a scenario, whole."""
    change, wrong = Mapping(0, f"options.row {place}"), list[Problem]()
    for key, cell in zip(head, row, strict=True):
        if key == NAME or not cell:
            continue
        try:
            value = value_node(cell, 0, f"options.row {place}.{key}")
            change = overlay(change, [part.strip() for part in key.split(".")], value, whole)
        except ScenarioError as error:
            wrong += [dataclasses.replace(each, file=file) for each in error.problems]
    if wrong:
        raise ScenarioError(wrong)
    return change
