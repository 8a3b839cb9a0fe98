"""Shows a benchmark's rows as a table of Markdown, and keeps it between two marks of README.md when asked.

Run: pytest -m benchmark -s -n 0 tests/benchmarks        (add O2SIM_TABLES=1 to write them to README.md)
"""

from __future__ import annotations

import os
import re
from pathlib import Path

NOTES = Path(__file__).with_name("README.md")


def show(capsys, name: str, heads: tuple[str, ...], rows: list[tuple[object, ...]]) -> None:
    """Print a table; with O2SIM_TABLES set, put it in place of the one of that name in README.md."""
    lines = [_row(heads), _row("---" for _ in heads), *(_row(row) for row in rows)]
    with capsys.disabled():
        print("\n" + "\n".join(lines))
    if not os.environ.get("O2SIM_TABLES"):
        return
    text = NOTES.read_text(encoding="utf-8")
    block = f"<!-- measured: {name} -->\n" + "\n".join(lines) + "\n<!-- end -->"
    pattern = re.compile(rf"<!-- measured: {re.escape(name)} -->.*?<!-- end -->", re.DOTALL)
    assert pattern.search(text), f"{NOTES} has no place for {name!r}"
    NOTES.write_text(pattern.sub(lambda _: block, text), encoding="utf-8")


def _row(cells) -> str:
    return "| " + " | ".join(str(cell) for cell in cells) + " |"
