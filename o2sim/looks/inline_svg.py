"""A figure in, the text of one <svg> element for an HTML page out; the same figure gives the same text.

Several drawings stand on one page, so every id gets the drawing's own beginning; titles and descriptions are put
in for those who listen to the page, and nothing is left that names a place elsewhere.
"""

from __future__ import annotations

import io
import re
import warnings
import xml.etree.ElementTree as ET

import matplotlib as mpl
from matplotlib.backends.backend_svg import FigureCanvasSVG
from matplotlib.figure import Figure

from o2sim.looks.drawing import PLAIN

AS_TEXT = {**PLAIN, "svg.fonttype": "none"}  # letters stay letters: smaller, and a reader can search for them
_FRACTION = re.compile(r"-?[0-9]+\.[0-9]{3,}")  # of a point: a hundredth is finer than any screen
_NOT_XML = re.compile(rb"[\x00-\x08\x0b\x0c\x0e-\x1f]")  # which a name made in Python may hold
LETTERS = "DejaVu Sans, Verdana, sans-serif"  # the drawing is laid out for the first; the second is as wide
USUAL = {"stroke-linejoin": "round", "stroke-linecap": "butt"}  # which a drawing names only where it is otherwise
DROPPED = ("metadata", "style")  # what the page says once for all drawings, or nobody reads


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
        told = ET.Element(tag, {"id": f"{name}-{'title' if tag == 'title' else 'alt'}"})
        told.text = said
        root.insert(place, told)
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
