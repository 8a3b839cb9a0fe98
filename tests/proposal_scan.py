"""Every text in the sources that proposes to write something; f-strings with {} in place of values."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator

from house import package

PROPOSES = re.compile(r"\bwrite\b")


def proposals(*places: str) -> set[tuple[str, str]]:
    """Return (module, text) of all proposals in modules whose names begin so; docstrings and help are none."""
    found = set()
    for module, source in package().items():
        if module.removeprefix("o2sim.").startswith(places):
            found |= {(module.removeprefix("o2sim."), text) for text in _texts(ast.parse(source))}
    return found


def _texts(tree: ast.Module) -> Iterator[str]:
    within = {id(part) for node in ast.walk(tree) if isinstance(node, ast.JoinedStr) for part in node.values}
    docs = {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)}
    for node in ast.walk(tree):
        if isinstance(node, ast.JoinedStr):
            text = "".join(str(part.value) if isinstance(part, ast.Constant) else "{}" for part in node.values)
        elif isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in within | docs:
            text = node.value
        else:
            continue
        if PROPOSES.search(text) and not text.startswith("Also write"):
            yield text
