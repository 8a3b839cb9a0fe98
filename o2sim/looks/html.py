"""HTML of blocks: a report's page, a sheet to print, a result and a drawing in a notebook; it loads nothing.

Templates escape whatever they are given. A page's policy lets the browser apply the one style that is written in
it, known by its digest, and nothing else.
"""

from __future__ import annotations

import base64
import hashlib
import re
from collections.abc import Callable, Iterable, Sequence
from functools import cache
from importlib.resources import files
from typing import TYPE_CHECKING, Any

from jinja2 import ChoiceLoader, Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from o2sim.looks import cautions
from o2sim.looks.blocks import Block, Part, Table

if TYPE_CHECKING:
    from o2sim.looks.blocks import Picture

HERE = "o2sim.looks"
MARGINS_MM = {"report": 14, "sheet": 8, "sheet bedside": 9}  # of A4, by the page's classes
NUMBERED = {"report": " @bottom-right { content: counter(page) ' of ' counter(pages); font: 8pt Arial; }"}
BANDS = 6  # across an A4 page: whatever edge is cut off, some are left
LONG_WORD = 14  # letters
_NOT_HTML = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\ud800-\udfff\ufffe\uffff\u202a-\u202e\u2066-\u2069]")
_WORDS = re.compile(r"(\s+)")
_PIECES = re.compile(r"[^._/]{1,14}[._/]*|[._/]+")  # of a long word: a line may end after each
_LETTER = re.compile(r"[^\W\d_]")
_PERCENT = re.compile(r"(?<=\d) %")
UNBROKEN = "\N{NO-BREAK SPACE}%"


def report_page(title: str, parts: Sequence[Part], footer: str) -> str:
    """Return a report as one page, for a screen, a phone and A4."""
    return _page("page_report.html", "report", title=title, parts=parts, footer=footer)


def sheet_page(title: str, blocks: Iterable[str], footer: str, example: str = "", *, kind: str = "sheet") -> str:
    """Return a page for a sheet of A4; blocks are HTML, title and footer are texts.

    example: why the page is one and what to do; it is then marked all over. kind: its classes in the style.
    """
    marks = {"example": example, "mark": cautions.EXAMPLE, "bands": BANDS}
    return _page("page_sheet.html", kind, title=title, contents=map(Markup, blocks), footer=footer, **marks)


def result_section(title: str, blocks: Iterable[Block], caution: str, said: str) -> str:
    """Return a result as a part of a notebook's page: its title as a label, blocks, caution, provenance."""
    return rendered(
        "page_result.html", style=Markup(style("result")), title=title, contents=blocks, caution=caution, said=said
    )


def shown_figure(picture: Picture, name: str, note: str) -> str:
    """Return a drawing as a part of a notebook's page, as wide as it was made; name begins its ids."""
    drawn = _drawing(picture, name, f"{picture.figure.get_figwidth():.1f}in")
    return rendered("page_figure.html", style=Markup(style("result")), drawn=drawn, note=note)


def rendered(template: str, package: str = HERE, **values: Any) -> str:
    """Return what a template of a package makes of values; a question has its own beside its words."""
    return environment(package).get_template(template).render(**values)


def block_html(macro: str, *values: Any) -> Markup:
    """Return what a macro of page_blocks.html makes of values."""
    made: Callable[..., Markup] = getattr(environment().get_template("page_blocks.html").module, macro)
    return made(*values)


@cache
def style(kind: str) -> str:
    """Return the style of a kind of page: what holds for all, what for its classes, the margins of its paper."""
    sections = (files(HERE) / "page.css").read_text(encoding="utf-8").split("\n\n")
    named = [set(re.findall(r"\.o2sim\.(\w+)", section)) for section in sections]
    kept = [text for text, kinds in zip(sections, named, strict=True) if not kinds or kinds & set(kind.split())]
    paper = ""
    if kind in MARGINS_MM:
        paper = f"@page {{ size: A4 portrait; margin: {MARGINS_MM[kind]}mm;{NUMBERED.get(kind, '')} }}\n"
    return "\n".join(["", paper + kept[0], *kept[1:]])


@cache
def environment(package: str = HERE) -> Environment:
    """Return where the templates of a package are found, and the shared ones."""
    found = Environment(
        loader=ChoiceLoader([PackageLoader(each, ".") for each in dict.fromkeys((package, HERE))]),
        autoescape=True,
        undefined=StrictUndefined,
        finalize=_cleaned,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    found.filters |= {
        "digest": digest,
        "drawing": _drawing,
        "kind_of": lambda block: type(block).__name__,
        "lists_keys": _lists_keys,
        "soft": _soft,
    }
    return found


def digest(text: str) -> str:
    """Return the name of a text in a content security policy."""
    return f"sha256-{base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()}"


def _page(template: str, kind: str, **values: Any) -> str:
    return rendered(template, kind=kind, style=Markup(style(kind)), **values)


def _cleaned(value: Any) -> Any:
    """Return a text without what HTML cannot hold or what turns the direction of a line."""
    if not isinstance(value, str):
        return value
    kept = _NOT_HTML.sub("\N{REPLACEMENT CHARACTER}", value)
    return Markup(kept) if isinstance(value, Markup) else kept


def _soft(text: str) -> Markup:
    """Return a text whose long words, keys above all, may go on in the next line; a number keeps its per cent."""
    return Markup("").join(
        Markup("<wbr>").join(_PIECES.findall(part)) if len(part) > LONG_WORD and _LETTER.search(part) else part
        for part in _WORDS.split(_PERCENT.sub(UNBROKEN, text))
    )


def _lists_keys(table: Table) -> bool:
    """Return True for a table of the scenario's keys, which is wider than a phone."""
    return len(table.columns) > 3 and table.columns[1] == "value"


def _drawing(picture: Picture, name: str = "", width: str = "") -> Markup:
    from o2sim.looks.drawing import inline_svg

    return Markup(inline_svg(picture.figure, name or picture.name, picture.title, picture.alt, width))
