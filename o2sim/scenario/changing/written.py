"""A scenario file and changes for one strategy in, the text of the file with these changes out."""

from __future__ import annotations

from pathlib import Path

from o2sim.errors import O2simError, OutputError, ScenarioError
from o2sim.scenario.building.loading import of_tree
from o2sim.scenario.changing.fleet_levels import STRATEGIES
from o2sim.scenario.changing.override import Changed, Original
from o2sim.scenario.changing.splice import flow, spliced
from o2sim.scenario.text import nodes
from o2sim.scenario.text.problems import Problems
from o2sim.scenario.text.source import BYTE_ORDER_MARK
from o2sim.scenario.types.hospital import Scenario


def as_keys(there: Changed, strategy: str) -> dict[str, str]:
    """Return all that is set, levels included: keys as they stand under the strategy, texts of their values."""
    own = (STRATEGIES, strategy)
    return {".".join(k[2:] if k[:2] == own else k): flow(node) for k, node in there.values.items()}


def written(source: Original, there: Changed, wanted: Scenario) -> str:
    """Return the text of the file with the changes in it, all else as it was.

    wanted: what the text has to be: every hospital is compared, so that what is written is what was promised.
    Raises O2simError where there is no such text.
    """
    if not source.text:
        raise O2simError(f"{source.file}: there is no text of this scenario to write the answer into")
    text = spliced(source.text, there.values)
    label = f"{source.file} with the answer written into it"
    found = of_tree(_parsed(text, label), Problems(label), source.folder, source.stem)
    if dict(found.hospitals) != dict(wanted.hospitals):
        raise O2simError(f"{label}: it would not say the same; write the values by hand")
    return text


def require_readable_in(source: Original, folder: Path) -> None:
    """Raise OutputError where a copy of the file in a folder would not find the files that it names."""
    if not isinstance(source.folder, Path) or not source.text or folder.resolve() == source.folder.resolve():
        return
    try:
        of_tree(_parsed(source.text, source.file), Problems(source.file), folder, source.stem)
    except ScenarioError as error:
        raise OutputError(
            f"{folder}: a copy of {source.file} there would miss the files it names; write it into "
            f"{source.folder}, or copy these too ({error.problems[0].found})"
        ) from error


def _parsed(text: str, label: str) -> nodes.Mapping:
    return nodes.parse(text.removeprefix(BYTE_ORDER_MARK), Problems(label))
