"""What `o2sim records check --json` prints."""

from __future__ import annotations

from dataclasses import dataclass

from o2sim.records.findings import FEW, Finding
from o2sim.records.reading import Survey
from o2sim.typed import Count, item
from o2sim.version import __version__


@dataclass(frozen=True)
class SheetRows:
    """How many rows of a sheet could be read."""

    sheet: str = item("its name in the template")
    rows: Count | None = item("rows that could be read; null where there are 1 to 4 of them")
    few: bool = item("true where there are 1 to 4 rows")


@dataclass(frozen=True)
class Checked:
    """What is in records, and what is wrong or doubtful."""

    version: str = item("of o2sim")
    file: str = item("name of the workbook or folder")
    hash: str = item("of what it holds, 16 hexadecimal digits")
    sheets: tuple[SheetRows, ...] = item("in the order of the template")
    errors: tuple[Finding, ...] = item("what must be put right before the records can be used")
    cautions: tuple[Finding, ...] = item("what is doubtful, and read as it stands")


def checked(survey: Survey) -> Checked:
    """Return the result of a reading, counts under 5 merged."""
    sheets = tuple(
        SheetRows(name, None if 0 < rows < FEW else rows, few=0 < rows < FEW) for name, rows in survey.rows.items()
    )
    return Checked(__version__, survey.file.name, survey.hash, sheets, survey.errors, survey.cautions)
