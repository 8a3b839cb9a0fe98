"""Colours, fonts and sizes that all drawings share, and how one is written to a file or into an HTML page.

On a page several drawings stand together, so every id begins with the name of its drawing; titles and descriptions
are put in for those who listen to the page, and nothing is left that names a place elsewhere.
"""

from __future__ import annotations

import io
import re
import warnings
import xml.etree.ElementTree as ET
from pathlib import Path
from typing import Any

import matplotlib as mpl
import matplotlib.dates
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.backends.backend_svg import FigureCanvasSVG
from matplotlib.figure import Figure

from o2sim.looks.files import write_bytes

BLUE, ORANGE, GREEN, RED, SKY, PURPLE, YELLOW, BLACK = (
    "#0072B2",
    "#E69F00",
    "#009E73",
    "#D55E00",
    "#56B4E9",
    "#CC79A7",
    "#F0E442",
    "#000000",
)
GREY = "#666666"
PLAIN: Any = {"text.parse_math": False, "svg.hashsalt": "o2sim"}  # a $ in a name is a $; ids do not vary
WIDTH_IN = 8.0
DPI = 150
NARROW_IN = 4.4  # on a phone the smallest letters then have 9 to 10 pixels
SMALL = 8.5
AS_TEXT = {**PLAIN, "svg.fonttype": "none"}  # letters stay letters: smaller, and a reader can search for them
_FRACTION = re.compile(r"-?[0-9]+\.[0-9]{3,}")  # of a point: a hundredth is finer than any screen
_NOT_XML = re.compile(rb"[\x00-\x08\x0b\x0c\x0e-\x1f]")  # which a name made in Python may hold
LETTERS = "DejaVu Sans, Verdana, sans-serif"  # the drawing is laid out for the first; the second is as wide
USUAL = {"stroke-linejoin": "round", "stroke-linecap": "butt"}  # which a drawing names only where it is otherwise
DROPPED = ("metadata", "style")  # what the page says once for all drawings, or nobody reads


def save(figure: Figure, path: Path) -> None:
    """Write a figure as PNG or SVG by the path's suffix; the same figure gives the same bytes."""
    FigureCanvasAgg(figure)
    drawn = io.BytesIO()  # so that no half of a picture is left where it cannot be drawn or written
    with mpl.rc_context(PLAIN), warnings.catch_warnings():
        warnings.filterwarnings("ignore", "Glyph .* missing from font")  # a box is drawn in its place
        if path.suffix.lower() == ".svg":
            figure.savefig(drawn, format="svg", metadata={"Date": None})
        else:
            figure.savefig(drawn, format="png", dpi=DPI, metadata={"Software": None})
    write_bytes(path, drawn.getvalue())


def clipped(text: str, most: int) -> str:
    """Return a text of at most so many letters, cut where it is longer."""
    return text if len(text) <= most else f"{text[: most - 4].rstrip()} ..."


def narrow_figure(height_in: float) -> tuple[Figure, Axes]:
    """Return an empty drawing as wide as a phone can show."""
    figure = Figure(figsize=(NARROW_IN, height_in), layout="constrained")
    axes = figure.add_subplot()
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    return figure, axes


def above(axes: Axes, text: str) -> None:
    """Write what the upright axis measures above it, along the line."""
    axes.annotate(text, (0, 1), (0, 6), "axes fraction", "offset points", size=9)


def inline_svg(figure: Figure, name: str, title: str, alt: str, width: str = "") -> str:
    """Return the drawing; name, of letters, digits and hyphens, is the beginning of its ids on the page.

    width: how wide it is, such as 4.4in, where the page's style leaves that to the drawing.
    """
    FigureCanvasSVG(figure)
    page = io.BytesIO()
    with mpl.rc_context(AS_TEXT), warnings.catch_warnings():
        warnings.filterwarnings("ignore", "Glyph .* missing from font")
        figure.savefig(page, format="svg", metadata={"Date": None})
    root = ET.fromstring(_NOT_XML.sub(b"?", page.getvalue()))
    _bare(root)
    _rename(root, name)
    for key in ("width", "height", "version"):
        root.attrib.pop(key, None)
    root.attrib.update({"role": "img", "aria-labelledby": f"{name}-title {name}-alt", **USUAL})
    if width:
        root.set("width", width)
    for place, (tag, said) in enumerate((("title", title), ("desc", alt))):
        element = ET.Element(tag, {"id": f"{name}-{'title' if tag == 'title' else 'alt'}"})
        element.text = said
        root.insert(place, element)
    return ET.tostring(root, encoding="unicode")


def _bare(element: ET.Element) -> None:
    """Drop the namespaces, which HTML knows by itself, and the parts that are DROPPED."""
    element.tag = element.tag.rpartition("}")[2]
    for key in list(element.attrib):
        if "}" in key:
            element.attrib[key.rpartition("}")[2]] = element.attrib.pop(key)
    element.attrib.update(attributes(element.attrib.pop("style", "")))
    for child in list(element):
        _bare(child)
        if child.tag in DROPPED:
            element.remove(child)


def attributes(style: str) -> dict[str, str]:
    """Return an element's style as attributes, since a page's policy lets no element have a style of its own."""
    found: dict[str, str] = {}
    for declared in filter(None, map(str.strip, style.split(";"))):
        key, _, value = map(str.strip, declared.partition(":"))
        found |= _font(value) if key == "font" else {key: value}
    if "font-family" in found:
        found["font-family"] = LETTERS
    return found


def _font(value: str) -> dict[str, str]:
    """Return a font in one line, as some versions of Matplotlib write it, part by part."""
    before, size, family = re.split(r"([\d.]+px)", value, maxsplit=1)
    found = {"font-size": size, "font-family": family}
    for part in before.split():
        found["font-style" if part in ("italic", "oblique") else "font-weight"] = part
    return found


def _rename(root: ET.Element, name: str) -> None:
    """Put the name before every id and wherever one is used."""
    for element in root.iter():
        for key, value in element.attrib.items():
            if key == "id":
                element.attrib[key] = f"{name}-{value}"
            elif key == "href" and value.startswith("#"):
                element.attrib[key] = f"#{name}-{value[1:]}"
            elif key in ("d", "transform", "x", "y"):
                element.attrib[key] = _FRACTION.sub(lambda found: f"{float(found[0]):.2f}", value)
            elif "url(#" in value:
                element.attrib[key] = re.sub(r"url\(#", f"url(#{name}-", value)
