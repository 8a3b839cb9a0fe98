"""What `o2sim records` prints: rows by sheet, what is wrong, what is doubtful, what to do next."""

from __future__ import annotations

import shlex
from pathlib import Path

from o2sim.looks import cautions
from o2sim.looks.blocks import Block, Points, Table
from o2sim.looks.screen import Screen
from o2sim.questions.records.result import Checked
from o2sim.records.findings import FEW, few
from o2sim.version import __version__

HOLDS_PATIENTS = "A filled workbook holds dates of patients: keep it as you keep the books."
MEND = "Put these right in the file, then run this command again"


def content(found: Checked) -> list[Block]:
    """Return what is to be said of records; sheets without rows are named together."""
    full = [each for each in found.sheets if each.rows or each.few]
    empty = ", ".join(each.sheet for each in found.sheets if each not in full)
    rows = tuple((each.sheet, few(FEW - 1) if each.few else f"{each.rows:,}") for each in full)
    blocks: list[Block] = (
        [Table(("Sheet", "Rows read"), rows)] if rows else ["No row could be read from any sheet."]
    )
    if empty:
        blocks.append(f"Without rows: {empty}.")
    if found.errors:
        blocks.append(
            Points(tuple(str(each) for each in found.errors), _many(len(found.errors), "To be put right"))
        )
    if found.cautions:
        blocks.append(Points(tuple(str(each) for each in found.cautions), "Doubtful, and read as it stands:"))
    return blocks


def _many(count: int, what: str) -> str:
    return f"{what} ({count:,}):"


def print_checked(found: Checked, path: Path) -> None:
    """Print what is in the records."""
    screen = Screen()
    state = "the records cannot be used yet" if found.errors else "the records are in order"
    screen.paragraph(f"{found.file}: {state}.")
    screen.show(content(found))
    if found.errors:
        screen.next([f"{MEND}:\n{_command('check', path)}"])
    screen.paragraph(HOLDS_PATIENTS, cautions.SHORT[0])
    screen.paragraph(f"o2sim {__version__} | records {found.hash}")


def print_new(path: Path) -> None:
    """Print what was written and what to do next."""
    screen = Screen()
    screen.paragraph(
        f"Written to {path}: a sheet for each book, with examples above the heads; begin with its Help."
    )
    screen.next([f"Fill in the sheets you have books for, then:\n{_command('check', path)}"])
    screen.paragraph("Nothing of who a patient is has a place in it, no name and no number.", HOLDS_PATIENTS)
    screen.paragraph(f"o2sim {__version__}")


def _command(name: str, path: Path) -> str:
    shown = f"./{path}" if str(path).startswith("-") else str(path)
    return f"o2sim records {name} {shlex.quote(shown)}"
