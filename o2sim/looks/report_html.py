"""The parts of a report in, one self-contained HTML page out, for a screen, a phone and A4; it loads nothing."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from html import escape as _escape

from o2sim.looks.blocks import Block, Code, Part, Points, Strong, Table
from o2sim.looks.inline_svg import inline_svg
from o2sim.looks.picture import Picture
from o2sim.version import __version__

STYLE = """
@page { size: A4 portrait; margin: 14mm; }
* { box-sizing: border-box; }
html { -webkit-text-size-adjust: 100%; }
body { font: 16px/1.45 "Liberation Sans", Arial, Helvetica, sans-serif; color: #111; background: #fff;
       max-width: 46rem; margin: 0 auto; padding: 0 1rem 2rem; overflow-wrap: anywhere; }
h1 { font-size: 1.7rem; line-height: 1.2; margin: 1.2rem 0 .3rem; }
h2 { font-size: 1.25rem; margin: 2rem 0 .5rem; border-bottom: 2px solid #0072B2; padding-bottom: .15rem; }
p { margin: 0 0 .7rem; }
.strong { font-size: 1.1rem; border-left: 6px solid #0072B2; background: #eef5fa; padding: .7rem .9rem; }
nav { font-size: .9rem; }
nav ul { list-style: none; padding: 0; display: flex; flex-wrap: wrap; gap: .2rem 1rem; }
a { color: #004f7c; }
a:focus, .scroll:focus { outline: 3px solid #E69F00; outline-offset: 2px; }
ul { padding-left: 1.3rem; }
li { margin-bottom: .35rem; }
.scroll { overflow-x: auto; margin: 0 0 1rem; }
table { border-collapse: collapse; width: 100%; font-size: .86rem; font-variant-numeric: tabular-nums; }
caption { text-align: left; font-weight: bold; padding: .3rem 0; }
th, td { border-bottom: 1px solid #999; padding: .3rem .45rem; text-align: left; vertical-align: top;
         overflow-wrap: break-word; }
td { white-space: pre-line; }
thead th { background: #e6e6e6; vertical-align: bottom; }
tbody th { font-weight: normal; }
tbody tr.sub th { padding-left: 1.3rem; }
tbody tr.grey { color: #595959; }
tbody tr:nth-child(even) { background: #f6f6f6; }
.keys { min-width: 34rem; }
.keys th:first-child, .keys td:first-child { width: 24%; }
.note { font-size: .86rem; color: #444; }
code { display: block; background: #f0f0f0; border: 1px solid #bbb; padding: .5rem .7rem;
       font: .85rem/1.4 "Liberation Mono", Consolas, monospace; }
figure { margin: 0 0 1.6rem; break-inside: avoid; }
h3 { font-size: 1rem; margin: 0 0 .2rem; }
figure svg { display: block; width: 100%; max-width: 30rem; height: auto; }
svg * { stroke-linejoin: round; stroke-linecap: butt; }
footer { font-size: .8rem; color: #444; margin-top: 2rem; border-top: 1px solid #999; padding-top: .5rem; }
@media (max-width: 30rem) { table { font-size: .78rem; } th, td { padding: .25rem .3rem; } }
@media print {
  body { font-size: 10pt; max-width: none; padding: 0; }
  nav { display: none; }
  h1 { margin-top: 0; }
  h2, h3 { break-after: avoid; }
  h2 { margin-top: 5mm; }
  .scroll { overflow: visible; }
  .keys { min-width: 0; }
  table { font-size: 8.5pt; }
  .keys { font-size: 7.5pt; line-height: 1.25; }
  .keys th, .keys td { padding: .1rem .3rem; }
  caption, thead { break-after: avoid; }
  tbody tr:first-child { break-before: avoid; }
  thead { display: table-header-group; }
  tr, li { break-inside: avoid; }
  figure { margin-bottom: 5mm; }
  figure svg { max-width: 112mm; }
  * { -webkit-print-color-adjust: exact; print-color-adjust: exact; }
}
"""
_NOT_HTML = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\ud800-\udfff\ufffe\uffff\u202a-\u202e\u2066-\u2069]")


_WORDS = re.compile(r"(\s+)")
_PIECES = re.compile(r"[^._/]{1,14}[._/]*|[._/]+")  # of a long word: a line may end after each
_LETTER = re.compile(r"[^\W\d_]")
_PERCENT = re.compile(r"(?<=\d) %")
LONG_WORD = 14  # letters
UNBROKEN = "\N{NO-BREAK SPACE}%"


def escape(text: str) -> str:
    """Return a text that shows as it is, without what HTML cannot hold or what turns the direction of a line."""
    return _escape(_NOT_HTML.sub("\N{REPLACEMENT CHARACTER}", text))


def _soft(text: str) -> str:
    """Return an escaped text whose long words, keys above all, may go on in the next line."""
    return "".join(
        "<wbr>".join(escape(piece) for piece in _PIECES.findall(part))
        if len(part) > LONG_WORD and _LETTER.search(part)
        else escape(part)
        for part in _WORDS.split(text)
    )


def page(title: str, parts: Sequence[Part]) -> str:
    """Return the page."""
    links = "".join(f'<li><a href="#{part.name}">{escape(part.title)}</a></li>' for part in parts)
    return f"""<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'unsafe-inline'">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="color-scheme" content="light">
<title>{escape(title)}</title>
<style>{STYLE}</style>
</head>
<body>
<header>
<h1>{escape(title)}</h1>
<nav aria-label="Parts of this report"><ul>{links}</ul></nav>
</header>
<main>
{_lines(map(_part, parts))}
</main>
<footer>Written by o2sim {escape(__version__)}. It plans supply and prescribes nothing.</footer>
</body>
</html>
"""


def _part(part: Part) -> str:
    inside = _lines(_block(part, place, block) for place, block in enumerate(part.blocks))
    return (
        f'<section aria-labelledby="{part.name}">\n<h2 id="{part.name}">{escape(part.title)}</h2>\n'
        f"{inside}\n</section>"
    )


def _block(part: Part, place: int, block: Block) -> str:
    if isinstance(block, Strong):
        return f'<p class="strong">{escape(block.text)}</p>'
    if isinstance(block, Points):
        head = f"<h3>{escape(block.heading)}</h3>\n" if block.heading else ""
        return f"{head}<ul>\n{_lines(f'<li>{escape(text)}</li>' for text in block.texts)}\n</ul>"
    if isinstance(block, Code):
        return f"<code>{escape(block.text)}</code>"
    if isinstance(block, Picture):
        return _figure(block)
    if isinstance(block, Table):
        return _table(block, f"{part.name}-{place}")
    return f"<p>{escape(block)}</p>"


def _figure(picture: Picture) -> str:
    drawing = inline_svg(picture.figure, picture.name, picture.title, picture.alt)
    return (
        f"<figure>\n<h3>{escape(picture.title)}</h3>\n{drawing}\n"
        f'<figcaption class="note">{escape(picture.note)}</figcaption>\n</figure>'
    )


def _table(table: Table, name: str) -> str:
    heading, *columns = table.columns
    heads = "".join(f'<th scope="col">{_soft(column) or "note"}</th>' for column in columns)
    rows = _lines(_row(row, grey=place in table.grey) for place, row in enumerate(table.rows))
    note = f'\n<p class="note">{escape(table.note)}</p>' if table.note else ""
    wide = ' class="keys"' if len(table.columns) > 3 and table.columns[1] == "value" else ""
    return (
        f'<div class="scroll" role="region" tabindex="0" aria-labelledby="{name}">\n<table{wide}>\n'
        f'<caption id="{name}">{escape(heading)}</caption>\n'
        f'<thead><tr><th scope="col"><span>item</span></th>{heads}</tr></thead>\n'
        f"<tbody>\n{rows}\n</tbody>\n</table>\n</div>{note}"
    )


def _row(row: Sequence[str], *, grey: bool) -> str:
    head, *cells = row
    told = "".join(f"<td>{_PERCENT.sub(UNBROKEN, _soft(cell))}</td>" for cell in cells)
    below = ' class="grey"' if grey else ' class="sub"' if head.startswith(" ") else ""
    return f'<tr{below}><th scope="row">{_soft(head.strip())}</th>{told}</tr>'


def _lines(texts: Iterable[str]) -> str:
    return "\n".join(texts)
