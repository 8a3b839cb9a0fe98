"""Reads plain numbers and laws of plain numbers without the YAML library: tables of draws hold thousands of them.

What it takes is the same to YAML, node for node (a test compares them); all else is left to nodes.parse.
"""

from __future__ import annotations

import re

from o2sim.scenario.text.nodes import Mapping, Node, Scalar, child_path

_VALUE = "[0-9][0-9A-Za-z.%/-]*(?: [0-9A-Za-z%/][0-9A-Za-z.%/-]*)*"  # 3 h, 2.5 / day, 40 %, 2026-06-14
_PAIR = f"[a-z_]{{1,40}}: {_VALUE}"
_FLAT = f"\\{{{_PAIR}(?:, {_PAIR})*\\}}"
_NUMBER, _PAIRS = re.compile(_VALUE), re.compile(_FLAT)
_LAW = re.compile(f"\\{{([a-z_]{{1,40}}): ({_FLAT})\\}}")


def short(text: str, path: str) -> Node | None:
    """Return the node of `3 h`, `{peak: 2026-06-14, ratio: 2}`, `{gamma: {mean: 3 h, sd: 2 h}}`; else None."""
    if _NUMBER.fullmatch(text):
        return Scalar(1, path, text)
    if _PAIRS.fullmatch(text):
        pairs = [each.split(": ") for each in text[1:-1].split(", ")]
        entries: dict[str, Node] = {key: Scalar(1, child_path(path, key), value) for key, value in pairs}
        return Mapping(1, path, entries) if len(entries) == len(pairs) else None
    law = _LAW.fullmatch(text)
    inside = short(law[2], child_path(path, law[1])) if law else None
    return Mapping(1, path, {law[1]: inside}) if law and inside else None
