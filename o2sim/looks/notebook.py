"""A result in, the HTML by which a notebook shows it out: statement, tables with intervals, provenance.

It holds no script and loads nothing; all text is escaped. Colours are set, so that a dark notebook stays legible.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from o2sim.looks import (
    cautions,
)
from o2sim.looks import precision_text as precision
from o2sim.looks.blocks import Table
from o2sim.looks.inline_svg import inline_svg
from o2sim.looks.picture import Picture
from o2sim.looks.report_html import escape
from o2sim.looks.screen import provenance
from o2sim.runs.study import Study
from o2sim.shown import html

STRONG = ' class="strong"'
Block = str | Table | Sequence[str]  # a paragraph, a table, points

STYLE = """
.o2sim-result { color: #111; background: #fff; font: 14px/1.45 Arial, Helvetica, sans-serif; padding: .6rem .8rem;
  max-width: 60rem; overflow-x: auto; }
.o2sim-result p { margin: 0 0 .6rem; color: #111; }
.o2sim-result p.strong { border-left: 6px solid #0072B2; background: #eef5fa; padding: .5rem .8rem; font-size:
15px; } .o2sim-result p.note { font-size: 12.5px; color: #444; } .o2sim-result ul { margin: 0 0 .6rem;
padding-left: 1.3rem; color: #111; } .o2sim-result table { border-collapse: collapse; margin: 0 0 .6rem;
font-variant-numeric: tabular-nums;
  color: #111; background: #fff; border: 0; font-size: 13px; }
.o2sim-result caption { text-align: left; font-weight: bold; padding: .3rem 0; color: #111; }
.o2sim-result th, .o2sim-result td { border: 0; border-bottom: 1px solid #999; padding: .25rem .5rem;
  text-align: left; vertical-align: top; white-space: pre-line; background: #fff; color: #111; max-width: 28rem; }
.o2sim-result thead th, .o2sim-result thead td { background: #e6e6e6; vertical-align: bottom; }
.o2sim-result tbody th { font-weight: normal; }
.o2sim-result tr.sub th { padding-left: 1.6rem; }
.o2sim-result svg { display: block; width: 100%; height: auto; }
.o2sim-result svg * { stroke-linejoin: round; stroke-linecap: butt; }
figure.o2sim-result { margin: 0; }
.o2sim-result tr.grey th, .o2sim-result tr.grey td { color: #595959; }
"""
IN_PYTHON = (  # what texts name for the command line, and what it is here; of the rest the hyphens go
    (r"--hold-levels keeps", "hold_levels=True keeps"),
    (r"give a lower --range", "give lower values in vary"),
    (r"--csv has them", "to_frame() has them"),
    (r"all [\d,]+ are in --csv and --json", "to_frame() has all"),
    (r"--full lists", "to_frame() lists"),
    (r"--([a-z]+)\b", r"\1"),
)


def run_line(study: Study) -> str:
    """Return the line that says how to get a study again."""
    stopped = "" if study.complete else f" of {study.requested:,} (stopped)"
    return provenance(study.scenario, study.seed, precision.done(study) + stopped, study.engine)


def result_line(said: Mapping[str, Any], what: str) -> str:
    """Return the line that says how to get a result again."""
    return (
        f"o2sim {said['version']} | scenario {said['scenario_hash']} | seed {said['seed']} | {what} | "
        f"engine {said['engine']}"
    )


@html.register
def _picture(result: Picture) -> str:
    told = f"{result.title}\n{result.alt}\n{result.note}".encode()
    name = f"{result.name}-{hashlib.sha256(told).hexdigest()[:8]}"  # ids of several drawings on one page
    drawing = inline_svg(result.figure, name, result.title, result.alt)
    width = f"max-width: {result.figure.get_figwidth():.1f}in"
    return (
        f'<figure class="o2sim-result" lang="en">\n<style>{STYLE}</style>\n'
        f'<div style="{width}">{drawing}</div>\n'
        f'<figcaption class="note">{_text(result.note)}</figcaption>\n</figure>'
    )


def page(title: str, blocks: Iterable[Block], told: str, *, strong: bool = True) -> str:
    """Return a result's HTML: its title as a label, the first paragraph set off, the caution, the provenance."""
    parts = []
    for block in blocks:
        if isinstance(block, Table):
            parts.append(_table(block))
        elif isinstance(block, str):
            first, strong = strong and bool(block), strong and not block
            parts.append(f"<p{STRONG if first else ''}>{_text(block)}</p>" if block else "")
        else:
            parts.append(f"<ul>{''.join(f'<li>{_text(point)}</li>' for point in block)}</ul>" if block else "")
    inside = "\n".join(part for part in parts if part)
    caution = escape(cautions.SHORT[0])
    return (
        f'<section class="o2sim-result" lang="en" aria-label="{escape(title)}">\n<style>{STYLE}</style>\n'
        f"<p><b>{escape(title)}</b></p>\n{inside}\n"
        f'<p class="note">{caution}</p>\n<p class="note">{escape(told)}</p>\n</section>'
    )


def _text(text: str) -> str:
    for flag, here in IN_PYTHON:
        text = re.sub(rf"(?<![\w-]){flag}", here, text)
    return escape(text)


def _table(table: Table) -> str:
    heads = "".join(
        f'<th scope="col">{escape(column)}</th>' if column else "<td></td>" for column in table.columns
    )
    rows = "".join(_row(row, grey=place in table.grey) for place, row in enumerate(table.rows))
    note = f'<p class="note">{_text(table.note)}</p>' if table.note else ""
    return f"<table><thead><tr>{heads}</tr></thead>\n<tbody>{rows}</tbody></table>\n{note}"


def _row(row: Sequence[str], *, grey: bool) -> str:
    head, *cells = row
    told = "".join(f"<td>{escape(cell)}</td>" for cell in cells)
    looks = ' class="grey"' if grey else ' class="sub"' if head.startswith(" ") else ""
    return f'<tr{looks}><th scope="row">{escape(head.strip())}</th>{told}</tr>\n'
