"""What the author of a scenario file wrote: the tree of its values as texts, and the comment beside each."""

from __future__ import annotations

from collections.abc import Mapping as AnyMapping
from dataclasses import dataclass
from pathlib import Path

from o2sim.scenario.text import nodes
from o2sim.scenario.text.nodes import Listing, Mapping, Node, Scalar
from o2sim.scenario.text.problems import Problems

BYTE_ORDER_MARK = "\N{ZERO WIDTH NO-BREAK SPACE}"  # with which some editors begin a file


@dataclass(frozen=True)
class Source:
    """The tree of a file; comments by the line they stand on, beside a value; head: those above the first key."""

    root: Mapping
    comments: AnyMapping[int, str]
    head: tuple[str, ...]

    def comment(self, node: Node) -> str:
        """Return the comment on the line of a node's key, an empty text where there is none."""
        return self.comments.get(node.line, "")


def source(path: str | Path) -> Source:
    """Return the source of a file that loads; raise ScenarioError where there is no such tree."""
    return source_of(Path(path).read_text(encoding="utf-8-sig"), str(path))


def source_of(text: str, file: str = "<text>") -> Source:
    """Return the source of a text that loads."""
    root = nodes.parse(text, Problems(file))
    lines = text.splitlines()
    first = min((node.line for node in nodes.walk(root) if node.path), default=1)
    beside = {line: comment_in(said) for line, said in enumerate(lines, 1) if not said.lstrip().startswith("#")}
    head = tuple(said.lstrip("# ").rstrip() for said in lines[: first - 1] if said.startswith("#"))
    return Source(root, {line: said for line, said in beside.items() if said}, head)


def comment_in(line: str) -> str:
    """Return the comment of one line of YAML: what follows a `#` at a space and outside quotes."""
    quote, before = "", " "
    for place, letter in enumerate(line):
        if quote:
            quote = "" if letter == quote and before != "\\" else quote
        elif letter in "'\"" and before in " [{,":
            quote = letter
        elif letter == "#" and before in " \t":
            return line[place + 1 :].strip()
        before = letter
    return ""


def flat(node: Node) -> str:
    """Return a value in one line as it might be written: `lognormal: {median: 60 h, geometric_sd: 2.2}`."""
    if isinstance(node, Scalar):
        return " ".join(node.text.split())
    if isinstance(node, Listing):
        return f"[{', '.join(map(_bracketed, node.items))}]"
    return ", ".join(f"{key}: {_bracketed(child)}" for key, child in node.entries.items())


def _bracketed(node: Node) -> str:
    return f"{{{flat(node)}}}" if isinstance(node, Mapping) else flat(node)
