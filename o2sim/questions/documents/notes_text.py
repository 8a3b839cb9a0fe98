"""What the notes of the folders say to a reviewer: their sections, as Markdown that names and signs cannot break.

A rule that several functions make together stands in a note (README.md) of its folder and nowhere else, so the
document takes it from there.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from importlib.resources import files

from o2sim.looks.markdown import bullets, prose, table

RULES, MODEL, DRAWS = "o2sim.model.steps", "o2sim.model", "o2sim.draws"
MEASURES, MONEY, QUANTITIES = "o2sim.measures", "o2sim.money", "o2sim.quantities"
FOR_DEVELOPERS = "For whoever changes the code"
_LINK = re.compile(r"\[([^\]]+)\]\([^)]+\)")
_EMPHASIS = re.compile(r"(\*\*[^*]+\*\*|(?<![\w*])\*\w[^*]*\*)")


def sections(package: str) -> dict[str, list[str]]:
    """Return the sections of a folder's note by title, those for developers left out; "" holds what is before."""
    text = (files(package) / "README.md").read_text(encoding="utf-8")
    first, *others = re.split(r"(?m)^## ", text)
    parts = [("", first), *(other.split("\n", 1) for other in others)]
    return {title: list(_blocks(body)) for title, body in parts if title != FOR_DEVELOPERS}


def _blocks(body: str) -> Iterator[str]:
    """Yield the paragraphs, lists and tables of a section, headings left out."""
    for block in re.split(r"\n\s*\n", body.strip()):
        if block.startswith("|"):
            heads, _, *rows = ([inline(cell) for cell in line.strip("|").split("|")] for line in block.split("\n"))
            yield table(heads, rows)
        elif block.startswith("- "):
            yield bullets(map(inline, block.removeprefix("- ").split("\n- ")))
        elif block and not block.startswith("#"):
            yield inline(block)


def inline(text: str) -> str:
    """Return text of a note in one line, escaped but for code and emphasis; of a link its words are left."""
    parts = _EMPHASIS.split(" ".join(_LINK.sub(r"\1", text).split()))
    return "".join(_emphasised(part) if place % 2 else _plain(part) for place, part in enumerate(parts))


def _emphasised(part: str) -> str:
    signs = "**" if part.startswith("**") else "*"
    return f"{signs}{prose(part.strip('*'))}{signs}"


def _plain(part: str) -> str:
    """Return an escaped part of a line with the spaces at its ends, which hold it apart from emphasis."""
    lead, trail = part[: len(part) - len(part.lstrip())], part[len(part.rstrip()) :]
    return f"{lead[:1]}{prose(part)}{trail[:1]}" if part.strip() else part[:1]
