"""A title and blocks of HTML in, one self-contained page for an A4 sheet out; it loads nothing from elsewhere."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from html import escape

from o2sim.looks import own_figures

STYLE = """
@page { size: A4 portrait; margin: 8mm; }
* { box-sizing: border-box; -webkit-print-color-adjust: exact; print-color-adjust: exact; }
body { font: 9.5pt/1.22 "Liberation Sans", Arial, Helvetica, sans-serif; color: #000; background: #fff;
       max-width: 188mm; margin: 0 auto; }
h1 { font-size: 17pt; margin: 0; }
h2 { font-size: 11.5pt; margin: 2.5mm 0 1mm; }
p { margin: 0 0 1.5mm; }
.for { color: #333; margin-bottom: 2mm; }
.rule { border: 1.5pt solid #000; padding: 2mm 3mm; font-size: 11pt; }
table { border-collapse: collapse; width: 100%; font-variant-numeric: tabular-nums; margin: 1mm 0 2mm; }
th, td { border: 0.5pt solid #555; padding: 0.7mm 1.5mm; text-align: center; }
thead th { background: #e6e6e6; vertical-align: bottom; }
tbody th { text-align: left; font-weight: bold; }
table.tight th, table.tight td { padding: 0.25mm 1.5mm; }
.small { font-size: 8pt; }
table.fill td { height: 5.9mm; }
table.look td.on { background: #e6e6e6; font-weight: bold; }
.big { display: flex; gap: 4mm; margin: 3mm 0; }
.big div { flex: 1; border: 1.5pt solid #000; text-align: center; padding: 2.5mm 1mm; }
.big b { display: block; font-size: 40pt; line-height: 1.05; }
.call { border: 3pt solid #000; padding: 3mm 4mm; font-size: 14pt; font-weight: bold; margin: 3mm 0; }
ol, ul { margin: 0 0 1.5mm; padding-left: 6mm; }
li { margin-bottom: 0.5mm; }
.cautions { font-size: 8.5pt; border-top: 0.7pt solid #000; margin-top: 2mm; padding-top: 1mm;
            columns: 2; column-gap: 8mm; }
.sign { display: flex; gap: 5mm; margin: 2mm 0 1mm; }
.sign span { flex: 1; border-bottom: 0.7pt solid #000; padding-bottom: 4mm; }
footer { font-size: 7.5pt; margin-top: 2mm; color: #333; }
"""


def page(title: str, blocks: Sequence[str], footer: str, example: str = "") -> str:
    """Return the page; blocks are HTML, title and footer are texts.

    example: why the page is one and what to do; it is then marked all over.
    """
    body = "\n".join(block for block in blocks if block)
    style = STYLE
    if example:
        style += own_figures.STYLE
        body = f"{own_figures.banner(example)}\n{body}\n{own_figures.bands()}"
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
<h1>{escape(title)}</h1>
{body}
<footer>{escape(footer)}</footer>
</body>
</html>
"""


def paragraph(text: str, kind: str = "") -> str:
    """Return a paragraph of a text, of a class of the style where one is named."""
    return f'<p class="{kind}">{escape(text)}</p>' if kind else f"<p>{escape(text)}</p>"


def heading(text: str) -> str:
    """Return a heading within the page."""
    return f"<h2>{escape(text)}</h2>"


def listed(items: Iterable[str], ordered: bool = False) -> str:
    """Return texts as a list."""
    tag = "ol" if ordered else "ul"
    return f"<{tag}>{''.join(f'<li>{escape(item)}</li>' for item in items)}</{tag}>"


def table(heads: Sequence[str], rows: Iterable[Sequence[str]], kind: str = "") -> str:
    """Return a table; the first cell of each row is its head."""
    head = "".join(f'<th scope="col">{escape(text)}</th>' for text in heads)
    body = "\n".join(
        f'<tr><th scope="row">{escape(first)}</th>{"".join(f"<td>{escape(cell)}</td>" for cell in rest)}</tr>'
        for first, *rest in rows
    )
    named = f' class="{kind}"' if kind else ""
    return f"<table{named}><thead><tr>{head}</tr></thead><tbody>\n{body}\n</tbody></table>"


def blank(heads: Sequence[str], count: int) -> str:
    """Return a table to fill in by hand."""
    head = "".join(f'<th scope="col">{escape(text)}</th>' for text in heads)
    row = f"<tr>{'<td></td>' * len(heads)}</tr>"
    return f'<table class="fill"><thead><tr>{head}</tr></thead><tbody>\n{row * count}\n</tbody></table>'


def big(figures: Sequence[tuple[str, str]]) -> str:
    """Return figures to be read across a room, each with what it is."""
    boxes = "".join(f"<div><b>{escape(figure)}</b>{escape(what)}</div>" for figure, what in figures)
    return f'<div class="big">{boxes}</div>'


def sign(*names: str) -> str:
    """Return lines to fill in."""
    return f'<div class="sign">{"".join(f"<span>{escape(name)}:</span>" for name in names)}</div>'


def cautions(texts: Iterable[str]) -> str:
    """Return the cautions at the foot of a page."""
    return f'<div class="cautions">{listed(texts)}</div>'
