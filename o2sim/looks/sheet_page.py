"""The blocks of HTML of an A4 sheet: tables, lists, lines to fill in, large figures."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from markupsafe import Markup

from o2sim.looks.html import block_html
from o2sim.looks.html import sheet_page as page

__all__ = ["big", "blank", "boxed", "cautions", "heading", "listed", "page", "paragraph", "sign", "table"]


def paragraph(text: str, kind: str = "") -> Markup:
    """Return a paragraph of a text, of a class of the style where one is named."""
    return block_html("paragraph", text, kind)


def boxed(texts: Sequence[str], kind: str) -> Markup:
    """Return several paragraphs in one box, of a class of the style."""
    return block_html("boxed", texts, kind)


def heading(text: str) -> Markup:
    """Return a heading within the page."""
    return block_html("heading", text)


def listed(items: Iterable[str], ordered: bool = False) -> Markup:
    """Return texts as a list."""
    return block_html("listed", items, "ol" if ordered else "ul")


def table(heads: Sequence[str], rows: Iterable[Sequence[str]], kind: str = "") -> Markup:
    """Return a table; the first cell of each row is its head."""
    return block_html("sheet_table", heads, rows, kind)


def blank(heads: Sequence[str], count: int) -> Markup:
    """Return a table to fill in by hand."""
    return block_html("blank", heads, count)


def big(figures: Sequence[tuple[str, str]]) -> Markup:
    """Return figures to be read across a room, each with what it is."""
    return block_html("big", figures)


def sign(*names: str) -> Markup:
    """Return lines to fill in."""
    return block_html("sign", names)


def cautions(texts: Iterable[str]) -> Markup:
    """Return the cautions at the foot of a page."""
    return block_html("cautions", texts)
