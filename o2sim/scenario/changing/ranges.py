"""Makes numbers of a scenario file uncertain, and loads it with these at given values."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping as AnyMapping
from collections.abc import Sequence

from o2sim.errors import Problem, ScenarioError
from o2sim.scenario.building.loading import of_tree
from o2sim.scenario.building.loading import with_ranges as named_ranges
from o2sim.scenario.building.uncertain import FORM, resolved, with_texts
from o2sim.scenario.changing.fleet_levels import levels_beside, moves, said
from o2sim.scenario.changing.override import (
    Original,
    find,
    likely_root,
    places_of,
    set_at,
    split,
    value_node,
    with_levels,
)
from o2sim.scenario.text.nodes import Mapping
from o2sim.scenario.text.problems import Problems
from o2sim.scenario.types.hospital import Scenario


def with_ranges(
    source: Original, ranges: AnyMapping[str, tuple[str, str, str]], *, move_levels: bool = False
) -> Original:
    """Return the original with the fields of `ranges` (path: low, likely, high) uncertain, in all strategies.

    One that is uncertain in the file has its range replaced. move_levels: where a fleet has another likely value
    than in the file its levels move with it. Raises ScenarioError as `changed` and `loaded` do.
    """
    stated = ", ".join(f"{path} = {', '.join(texts)}" for path, texts in ranges.items())
    label = f"{source.file} with {stated}" if stated else source.file
    root = source.raw or source.root
    places: dict[str, list[str]] = {}
    for path, texts in ranges.items():
        keys = split(root, path, label)
        parts = dict(zip(FORM, (value_node(text, path, label) for text in texts), strict=True))
        for keys_there in places_of(root, keys, None):
            root = set_at(root, keys_there, Mapping(0, "", dict(parts)), label)
            node = find(root, keys_there)
            assert node is not None
            places.setdefault(path, []).append(node.path)
    uncertain = {each.path for each in resolved(root, Problems(""))[1]}
    if move_levels:
        root = with_levels(root, moves(source.root, likely_root(root), uncertain))
    likely = likely_root(root)

    def follow(there: Mapping) -> Mapping:
        return with_levels(there, moves(likely, there, uncertain)) if move_levels else there

    scenario = of_tree(root, Problems(label), source.folder, source.stem, follow)
    listed = [each for each in scenario.uncertain if not any(each.path in paths for paths in places.values())]
    found = {each.path: each for each in scenario.uncertain}
    for path, paths in places.items():
        if paths[0] not in found:
            wrong = Problem(label, 0, path, "found a field that is no number", "a field that holds one number")
            raise ScenarioError([wrong])
        listed.append(dataclasses.replace(found[paths[0]], path=path, places=tuple(paths)))
    named = dataclasses.replace(scenario, file=source.file)
    return Original(likely, source.file, source.folder, source.stem, named_ranges(named, listed), root)


def levels_of(source: Original, names: Sequence[str]) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return the levels beside an uncertain fleet of these strategies: those that move, those uncertain too."""
    return levels_beside(source.raw or source.root, _places(source), names)


def _places(source: Original) -> set[str]:
    return {place for each in source.scenario.uncertain for place in each.places}


def at_texts(source: Original, texts: AnyMapping[str, str], *, move_levels: bool = False) -> Scenario:
    """Return the scenario with these texts at the uncertain numbers of these paths, all others at the likely ones.

    move_levels: the levels of the reorder rule move with a fleet that is at another value, unless uncertain too.
    Raises ScenarioError, its place being the file and the values, where they do not go together.
    """
    stated = ", ".join(f"{path} = {text}" for path, text in texts.items())
    everywhere = {place: texts[each.path] for each in source.scenario.uncertain if each.path in texts
                  for place in each.places}  # fmt: skip
    root = with_texts(source.raw or source.root, everywhere)
    label = f"{source.file} with {stated}" if stated else source.file
    moved = moves(source.root, root, _places(source)) if move_levels else {}
    if moved:
        root, label = with_levels(root, moved), f"{label}, and with the fleet {said(moved)}"
    return dataclasses.replace(of_tree(root, Problems(label), source.folder, source.stem), file=source.file)
