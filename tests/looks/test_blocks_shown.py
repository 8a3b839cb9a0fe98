"""One list of blocks looks the same in substance on a terminal, in Markdown, on a page and in a notebook."""

from __future__ import annotations

import io
import re

from matplotlib.figure import Figure
from rich.console import Console

from o2sim.looks.blocks import Code, Figures, Lines, Part, Picture, Points, Strong, Table
from o2sim.looks.html import report_page
from o2sim.looks.markdown import document
from o2sim.looks.notebook import page
from o2sim.looks.screen import Screen

BLOCKS = [
    "one",
    "",
    Strong("two"),
    Lines(("three", "", "four")),
    Points(("five", "six"), "Head"),
    Points(("seven",)),
    Code("o2sim check x.yaml"),
    Table(("Table", "value"), (("row", "8"),), "note"),
]
DRAWN = Picture("plot", "Title", "what it shows", "below", Figure())


def test_the_terminal_prints_blocks_as_paragraphs_points_and_tables():
    """An empty text prints nothing, lines stand together, points have dashes; a drawing is put in words."""
    screen, out = Screen(), io.StringIO()
    screen.console = Console(file=out, width=100, markup=False, highlight=False, emoji=False)
    screen.show([*BLOCKS[:7], DRAWN])
    assert out.getvalue() == (
        "one\n\ntwo\n\nthree\nfour\n\nHead\n  - five\n  - six\n\n  - seven\n\no2sim check x.yaml\n\n"
        "what it shows\n\n"
    )


def test_a_table_of_the_blocks_stands_with_its_note_on_the_terminal():
    """Head, row and note, in this order."""
    screen, out = Screen(), io.StringIO()
    screen.console = Console(file=out, width=100, markup=False, highlight=False, emoji=False)
    screen.show(BLOCKS[7:])
    assert re.search(r"(?s)Table +value.*row +8.*\nnote\n\n$", out.getvalue())


def test_figures_stand_with_what_they_are_of_and_how_sure_they_are():
    """The same three texts in one line on the terminal, in a list in Markdown, in a box of the page."""
    figures = Figures((("about 5 years in 100", "run short", "2 to 9"),))
    screen, out = Screen(), io.StringIO()
    screen.console = Console(file=out, width=100, markup=False, highlight=False, emoji=False)
    screen.show([figures])
    assert out.getvalue() == "  - about 5 years in 100 run short (2 to 9)\n\n"
    part = Part("a", "A", (figures,), place="first")
    assert "- **about 5 years in 100** run short (2 to 9)\n" in document("t", [part])
    shown = report_page("t", [part], "")
    assert '<p><b>about 5 years in 100</b> run short <span class="note">(2 to 9)</span></p>' in shown


def test_markdown_and_page_hold_every_text():
    """Lines become paragraphs, the empty one none."""
    parts = [Part("a", "A", tuple(block for block in BLOCKS if block))]
    written = document("t", parts)
    assert "\n\nthree\n\nfour\n\n" in written
    shown = report_page("t", parts, "")
    assert re.findall(r"<p>(.*?)</p>", shown) == ["one", "three", "four"]
    assert "<h3>Head</h3>\n<ul>\n<li>five</li>\n<li>six</li>\n</ul>" in shown


def test_a_notebook_sets_off_the_first_paragraph_and_has_no_heading_of_its_own():
    """The head of points is a paragraph, a drawing keeps its title; empty blocks leave nothing."""
    shown = page("t", [*BLOCKS, ("give a lower --range", "ten"), (), DRAWN], "said")
    assert re.findall(r"<p( class=\"strong\")?>([^<]*)</p>", shown) == [
        (' class="strong"', "one"),
        (' class="strong"', "two"),
        ("", "three"),
        ("", "four"),
        ("", "Head"),
    ]
    assert re.findall(r"<li>(.*?)</li>", shown) == ["five", "six", "seven", "give lower values in vary", "ten"]
    assert "<code>o2sim check x.yaml</code>" in shown
    assert shown.count("<svg") == 1
    assert re.findall(r"<h3>(.*?)</h3>", shown) == ["Title"]
