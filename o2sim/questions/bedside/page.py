"""The bedside table as one HTML page for an A4 sheet; it loads nothing from elsewhere."""

from __future__ import annotations

from o2sim.looks.blocks import Points
from o2sim.looks.cautions import LONG
from o2sim.looks.html import block_html, rendered, sheet_page
from o2sim.looks.sheet_page import heading, paragraph, sign
from o2sim.questions.bedside.table import BedsideTable
from o2sim.questions.bedside.text import (
    CANNOT_SERVE,
    HOW_TO_OWN,
    LOOK_NOTE,
    change_line,
    hours_colon,
    is_example,
    lasts_words,
    round_note,
    served_looks,
)
from o2sim.version import __version__

CAUTIONS = ("Fire", "Cylinders", "Patients")  # headings of LONG that matter at the bedside


def page(table: BedsideTable, title: str) -> str:
    """Return the page; whatever the user wrote is escaped, and the browser may load nothing."""
    size, void, how, room = table.about
    blocks = [
        paragraph(size),
        paragraph(void, "void"),
        paragraph(how),
        paragraph(room),
        _table(table),
        paragraph(round_note(table)),
        paragraph(LOOK_NOTE),
        sign("Checked by", "Date", "Check again by"),
        heading("Cautions"),
        paragraph(LONG["What this is"][0]),
        block_html("columns", [Points(LONG[each], each) for each in CAUTIONS]),
    ]
    footer = f"o2sim {__version__}. Check one reading of this page by hand before it is put up."
    return sheet_page(title, blocks, footer, HOW_TO_OWN if is_example(table) else "", kind="sheet bedside")


def _table(table: BedsideTable) -> str:
    looks = [look for look in served_looks(table) if look is not None]  # the others' cells reach down from above
    return rendered(
        "table.html",
        "o2sim.questions.bedside",
        table=table,
        rows=[
            (reading, [lasts_words(cell) for cell in cells])
            for reading, cells in zip(table.readings, table.minutes, strict=True)
        ],
        change=change_line(table),
        looks=[hours_colon(each) for each in looks],
        cannot_serve=CANNOT_SERVE,
    )
