"""A scenario file and ranges for some of its numbers in, the same with these uncertain, or at values, out."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping as AnyMapping

from o2sim.errors import Problem, ScenarioError
from o2sim.scenario.loading import of_tree
from o2sim.scenario.loading import with_ranges as named_ranges
from o2sim.scenario.nodes import Mapping
from o2sim.scenario.override import Original, find, likely_root, places_of, set_at, split, value_node
from o2sim.scenario.problems import Problems
from o2sim.scenario.types import Scenario
from o2sim.scenario.uncertain import FORM, with_texts


def with_ranges(source: Original, ranges: AnyMapping[str, tuple[str, str, str]]) -> Original:
    """Return the original with the fields of `ranges` (path: low, likely, high) uncertain, in all strategies.

    One that is uncertain in the file has its range replaced. Raises ScenarioError as with_values does.
    """
    told = ", ".join(f"{path} = {', '.join(texts)}" for path, texts in ranges.items())
    label = f"{source.file} with {told}" if told else source.file
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
    scenario = of_tree(root, Problems(label), source.folder, source.stem)
    listed = [each for each in scenario.uncertain if not any(each.path in paths for paths in places.values())]
    found = {each.path: each for each in scenario.uncertain}
    for path, paths in places.items():
        if paths[0] not in found:
            wrong = Problem(label, 0, path, "found a field that is no number", "a field that holds one number")
            raise ScenarioError([wrong])
        listed.append(dataclasses.replace(found[paths[0]], path=path, places=tuple(paths)))
    named = dataclasses.replace(scenario, file=source.file)
    return Original(likely_root(root), source.file, source.folder, source.stem, named_ranges(named, listed), root)


def at_texts(source: Original, texts: AnyMapping[str, str]) -> Scenario:
    """Return the scenario with these texts at the uncertain numbers of these paths, all others at the likely ones.

    Raises ScenarioError, its place being the file and the values, where they do not go together.
    """
    told = ", ".join(f"{path} = {text}" for path, text in texts.items())
    everywhere = {place: texts[each.path] for each in source.scenario.uncertain if each.path in texts
                  for place in each.places}  # fmt: skip
    root = with_texts(source.raw or source.root, everywhere)
    label = f"{source.file} with {told}" if told else source.file
    return dataclasses.replace(of_tree(root, Problems(label), source.folder, source.stem), file=source.file)
