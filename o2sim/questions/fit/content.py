"""What is said of a fit on the terminal, on its page and in a notebook: keys, cautions, what no record gave."""

from __future__ import annotations

import shlex
from collections.abc import Sequence
from pathlib import Path

from o2sim.errors import O2simError
from o2sim.fits.found import DRAWS
from o2sim.looks import cautions
from o2sim.looks.blocks import Block, Points, Table
from o2sim.looks.screen import Screen
from o2sim.looks.words import joined, number
from o2sim.questions.fit.choosing import TIER_WORDS
from o2sim.questions.fit.fitting import Fit
from o2sim.questions.fit.head import grouped
from o2sim.questions.fit.ranges import SHARES, with_unit
from o2sim.questions.fit.values import Value
from o2sim.records.findings import few
from o2sim.scenario.building.uncertain import FORM, is_range
from o2sim.scenario.changing.override import value_node
from o2sim.scenario.text.nodes import Listing, Mapping, Node, Scalar
from o2sim.statistics.fitting.pert import pert_quantile
from o2sim.version import __version__

RANGE = f"In brackets: 5 and 95 % points, of {DRAWS} joint draws."
HOLDS_PATIENTS = (
    "The workbook holds dates of patients: keep it as you keep the books. What was written holds none."
)
FEW_KEYS = 3  # of a book: more are counted on the terminal
COUNTED = ("Stock card", "Counts at midnight", "Month totals")  # what a hindcast is laid against
MOST_CAUTIONS = 12  # on the terminal; the page has all


def value_said(value: Value) -> str:
    """Return a value for readers, with 90 % ranges in place of the ends that are written."""
    if value.whole is None:
        names = [each.path[-1] if len(value.numbers) > 1 or value.kept else "" for each in value.numbers]
        said = [
            " ".join(filter(None, (name.replace("_", " "), _spread(each.likely, each.low, each.high, each.unit))))
            for name, each in zip(names, value.numbers, strict=True)
        ]
        law = f"{value.numbers[0].path[len(value.path)]}: " if value.numbers[0].path != value.path else ""
        return law + ", ".join(said)
    return _node_said(value_node(value.text, value.key, value.key))


def _spread(likely: float, low: float, high: float, unit: str) -> str:
    low, high = min(low, likely), max(likely, high)  # an estimate at the end of what is allowed
    figures = number(likely) if low == high else f"{number(likely)} ({number(low)}–{number(high)})"
    return with_unit(figures, unit)


def _node_said(node: Node) -> str:
    if isinstance(node, Scalar):
        return " ".join(node.text.split())
    if isinstance(node, Listing):
        return "; ".join(map(_node_said, node.items))
    if is_range(node):
        return _range_said(node)
    parts = [(name.replace("_", " "), child) for name, child in node.entries.items()]
    return ", ".join(
        f"{name}{':' if isinstance(child, Mapping) and not is_range(child) else ''} {_node_said(child)}"
        for name, child in parts
    )


def _range_said(node: Mapping) -> str:
    """Return a range by its likely value and its 90 %; as it stands where it is no plain number."""
    texts = [each.text.split(maxsplit=1) for name in FORM if isinstance(each := node.entries.get(name), Scalar)]
    try:
        low, likely, high = (float(text[0].removesuffix("%")) for text in texts)
        unit = texts[1][1] if len(texts[1]) > 1 else ""
        ends = [float(each) for each in pert_quantile(low, likely, high, SHARES)]
    except (ValueError, IndexError, O2simError):
        return " to ".join(" ".join(text) for text in texts[::2])
    return _spread(likely, ends[0], ends[1], unit)


def from_said(value: Value) -> str:
    """Return which book a value is from, and by how many rows."""
    part = value.part
    used, rows = few(part.used), few(part.rows)
    used = rows if used == rows else f"{used} of {rows}"
    return f"{part.sheet}, {used} rows" if part.rows else part.sheet


def keys_table(found: Fit) -> Table:
    """Return the table of the terminal: key, likely value with its range, book."""
    rows = tuple((each.key, value_said(each), each.part.sheet) for each in found.values)
    return Table(("Key", "Likely (range)", "From"), rows, RANGE if len(found.table) else "")


def rest_table(found: Fit) -> Table:
    """Return what no record gave, with the reason."""
    rows = tuple((section, keys, why) for section, keys, why in grouped(found.not_given))
    return Table(("Not in the records", "Keys", "Why"), rows, f"These are as in the base: {found.base.name}.")


def unused_points(found: Fit, *, brief: bool = False) -> Points:
    """Return what the books give and the scenario does not take; brief: of a book how many keys there are."""
    groups: dict[tuple[str, str, str], list[str]] = {}
    for each in found.unused:
        groups.setdefault((each.part.sheet, each.part.tier, each.why), []).append(each.key)
    said = []
    for (sheet, tier, why), keys in groups.items():
        rows = [f"{section} ({inside})" for section, inside, _ in grouped([(key, "") for key in keys])]
        many = f"{len(keys)} keys" if brief and len(keys) > FEW_KEYS else joined(rows)
        said.append(f"{sheet} ({TIER_WORDS[tier]}) also gives {many}: {why}.")
    return Points(tuple(said), "Given, and not used:")


def content(found: Fit, *, brief: bool = False) -> list[Block]:
    """Return what is to be said of a fit; brief: only the first cautions, and how many there are besides."""
    blocks: list[Block] = [keys_table(found)] if found.values else ["No book gives a key of the scenario."]
    shown = found.cautions[:MOST_CAUTIONS] if brief else found.cautions
    more = len(found.cautions) - len(shown)
    said = [*shown, *([f"And {more} more, on the page of pictures."] if more else [])]
    if found.doubts:
        count = len(found.doubts)
        said.append(
            f"Reading the books found {count} thing{'s' if count > 1 else ''} doubtful: see o2sim records check."
        )
    if said:
        blocks.append(Points(tuple(said), "Cautions:"))
    if found.unused:
        blocks.append(unused_points(found, brief=brief))
    if found.not_given:
        blocks.append(rest_table(found))
    return blocks


def lead(found: Fit) -> str:
    """Return how much of the scenario is from the records."""
    count, base = len(found.values), found.base.name
    if not count:
        return f"no key of the scenario is from the records: it is {base} as it stands."
    keys = f"{count} keys of the scenario are" if count > 1 else "one key of the scenario is"
    return f"{keys} from the records, the rest is from {base}."


def provenance(found: Fit) -> str:
    """Return the line that says how to get the same fit again."""
    return (
        f"o2sim {__version__} | records {found.records_hash} | base {found.base.hash} | "
        f"scenario {found.scenario.hash} | seed {found.seed}"
    )


def next_steps(found: Fit, files: Sequence[Path], records: Path) -> list[str]:
    """Return what to do with the files, each as a line to copy; files: the scenario first."""
    scenario, books = _shell(files[0]), _shell(records)
    over = "".join(
        f" --draws {_shell(each)} --replications {2 * DRAWS}" for each in files[1:] if each.suffix == ".csv"
    )  # two of each row, so that luck can be kept apart from what is not known
    steps = [
        f"Look at the pictures and at what no record gave, then:\no2sim check {scenario}",
        f"The answer{', with the doubt of the records in it' if over else ''}:\no2sim compare {scenario}{over}",
    ]
    if any(part.sheet in COUNTED for part in found.parts):
        steps.append(f"Does it match last year?\no2sim hindcast {scenario} {books}")
    return steps


def _shell(path: Path) -> str:
    return shlex.quote(f"./{path}" if str(path).startswith("-") else str(path))


def print_fit(found: Fit, files: Sequence[Path], records: Path) -> None:
    """Print a fit; files: the scenario, its draws and its page."""
    screen = Screen()
    screen.paragraph(f"{found.records}: {lead(found)}")
    screen.show(content(found, brief=True))
    screen.next(next_steps(found, files, records))
    screen.paragraph(HOLDS_PATIENTS, cautions.SHORT[0])
    screen.paragraph(provenance(found))
