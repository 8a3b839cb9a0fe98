"""What is kept of the books of a hospital: figures, drawings, draws, pages. Never the workbook, nor a row of it.

Each part lies by itself, since the pages with drawings are large and most pages take only the figures.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

from o2sim.desk.history import BOOKS, History, kept_of_books

MAIN, PICTURES, PAGE, DRAWS, MATCH, MATCH_PAGE = BOOKS
FORMAT = 1  # raised where the pages would no longer understand what is kept


def keep_books(history: History, file: str, parts: Mapping[str, Any]) -> None:
    """Keep parts of what the books of a file gave; file: "" for a hospital that has none yet."""
    for part, value in parts.items():
        history.keep(kept_of_books(part, file), json.dumps({"format": FORMAT, "value": value}))


def books_of(history: History, file: str, part: str = MAIN) -> Any:
    """Return a part of what is kept, None where there is nothing."""
    found = json.loads(history.kept(kept_of_books(part, file)) or "null")
    return found["value"] if found is not None and found["format"] == FORMAT else None
