"""A bedside table in, one self-contained HTML page for an A4 sheet out; it loads nothing from elsewhere."""

from __future__ import annotations

from collections.abc import Iterable
from html import escape

from o2sim.looks import own_figures
from o2sim.looks.cautions import LONG
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

STYLE = """
@page { size: A4 portrait; margin: 9mm; }
* { box-sizing: border-box; }
body { font: 9.5pt/1.22 "Liberation Sans", Arial, Helvetica, sans-serif; color: #000; background: #fff;
       max-width: 188mm; margin: 0 auto; }
h1 { font-size: 16pt; margin: 0 0 1mm; }
h2 { font-size: 11pt; margin: 2mm 0 0.5mm; }
p { margin: 0 0 1.5mm; }
.void { font-weight: bold; border: 1.5pt solid #000; padding: 1.5mm 2mm; }
table { border-collapse: collapse; width: 100%; table-layout: fixed; margin: 2mm 0;
        font-variant-numeric: tabular-nums; }
th, td { border: 0.5pt solid #555; padding: 0.5mm 1mm; text-align: right; }
thead th { background: #e6e6e6; vertical-align: bottom; }
tbody tr:nth-child(even) td { background: #f5f5f5; }
tbody tr.change td { border: 3pt solid #000; background: #fff; text-align: center; font-weight: bold;
                     font-size: 13pt; padding: 1.2mm; }
tbody tr.why td { text-align: center; font-size: 9pt; }
tbody tr.look th, tbody tr.look td { font-weight: bold; background: #e6e6e6; }
tbody tr.look td.no { font-size: 7.5pt; line-height: 1.15; text-align: center; background: #fff; padding: 0.5mm; }
.cautions { columns: 2; column-gap: 8mm; font-size: 8pt; }
h3 { font-size: 9pt; margin: 0; }
ul { margin: 0 0 1.5mm; padding-left: 5mm; }
h3 { break-after: avoid; }
li { break-inside: avoid; margin-bottom: 0.3mm; }
.sign { display: flex; gap: 8mm; margin: 3mm 0 2mm; }
.sign span { flex: 1; border-bottom: 0.7pt solid #000; padding-bottom: 4mm; }
footer { font-size: 7.5pt; margin-top: 2mm; }
* { -webkit-print-color-adjust: exact; print-color-adjust: exact; }
"""
CAUTIONS = ("Fire", "Cylinders", "Patients")  # headings of LONG that matter at the bedside


def page(table: BedsideTable, title: str) -> str:
    """Return the page; whatever the user wrote is escaped, and the browser is told to load nothing."""
    size, void, how, room = table.about
    style, top, bottom = STYLE, "", ""
    if is_example(table):
        style += own_figures.STYLE
        top, bottom = own_figures.banner(HOW_TO_OWN), own_figures.bands()
    return f"""<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'unsafe-inline'">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>{escape(title)}</title>
<style>{style}</style>
</head>
<body>
{top}
<h1>{escape(title)}</h1>
<p>{escape(size)}</p>
<p class="void">{escape(void)}</p>
<p>{escape(how)}</p>
<p>{escape(room)}</p>
{_table(table)}
<p>{escape(round_note(table))}</p>
<p>{escape(LOOK_NOTE)}</p>
<div class="sign"><span>Checked by:</span><span>Date:</span><span>Check again by:</span></div>
<h2>Cautions</h2>
<p>{escape(LONG["What this is"][0])}</p>
<div class="cautions">
{_lines(map(_cautions, CAUTIONS))}
</div>
<footer>o2sim {escape(__version__)}. Check one reading of this page by hand before it is put up.</footer>
{bottom}
</body>
</html>
"""


def _table(table: BedsideTable) -> str:
    wide = len(table.flows) + 1
    heads = _lines(f'<th scope="col">{_flow(flow)}</th>' for flow in table.flows)
    rows = _lines(
        f'<tr><th scope="row">{escape(reading)}</th>{_cells(map(lasts_words, cells))}</tr>'
        for reading, cells in zip(table.readings, table.minutes, strict=True)
    )
    looks = [look for look in served_looks(table) if look is not None]  # the others' cells reach down from above
    return f"""<table>
<thead><tr><th scope="col">gauge,<br>{escape(table.gauge_unit)}</th>
{heads}</tr></thead>
<tbody>
{rows}
<tr class="change"><td colspan="{wide}">{escape(change_line(table))}</td></tr>
<tr class="why"><td colspan="{wide}">{escape(table.change_why)}</td></tr>
<tr class="look"><th scope="row">at your round<br>below</th>{_lines(map(_round_cell, table.round_below))}</tr>
<tr class="look"><th scope="row">look<br>every</th>{_cells(hours_colon(each) for each in looks)}</tr>
</tbody>
</table>"""


def _round_cell(below: str | None) -> str:
    """Return the reading; where the size cannot serve the flow, that in words over both rows."""
    return f'<td rowspan="2" class="no">{CANNOT_SERVE}</td>' if below is None else f"<td>{escape(below)}</td>"


def _cautions(heading: str) -> str:
    points = _lines(f"<li>{escape(point)}</li>" for point in LONG[heading])
    return f"<h3>{escape(heading)}</h3>\n<ul>\n{points}\n</ul>"


def _flow(flow: str) -> str:
    figure, _, unit = flow.partition(" ")
    return f"{escape(figure)}<br>{escape(unit)}"


def _cells(texts: Iterable[str]) -> str:
    return "".join(f"<td>{escape(text)}</td>" for text in texts)


def _lines(texts: Iterable[str]) -> str:
    return "\n".join(texts)
