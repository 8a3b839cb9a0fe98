"""Pages have one style, which the browser applies by its digest and lets nothing else in; all text is escaped."""

from __future__ import annotations

import hashlib
import re
import shutil
import subprocess
from base64 import b64decode
from html.parser import HTMLParser

import pytest
from jinja2 import UndefinedError
from matplotlib.figure import Figure

from o2sim.looks.blocks import Code, Part, Picture, Points, Strong, Table
from o2sim.looks.drawing import attributes
from o2sim.looks.html import rendered, report_page, result_section, sheet_page, shown_figure
from o2sim.looks.sheet_page import big, blank, cautions, heading, listed, paragraph, sign, table
from o2sim.quantities.gas import CylinderSize
from o2sim.questions.bedside.page import page
from o2sim.questions.bedside.table import Bedside, bedside_table

HARM = "<script>alert('x')</script> & \"y\" \x1b \N{RIGHT-TO-LEFT OVERRIDE}"
SHOWN = "&lt;script&gt;alert(&#39;x&#39;)&lt;/script&gt; &amp; &#34;y&#34; \N{REPLACEMENT CHARACTER} "
CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
# Presentation attributes of SVG 2, appendix F (W3C 2018), from memory: those for drawings and letters.
PRESENTATION = {
    "clip-path", "clip-rule", "fill", "fill-opacity", "fill-rule", "font-family", "font-size", "font-stretch",
    "font-style", "font-variant", "font-weight", "opacity", "shape-rendering", "stroke", "stroke-dasharray",
    "stroke-dashoffset", "stroke-linecap", "stroke-linejoin", "stroke-miterlimit", "stroke-opacity",
    "stroke-width", "text-anchor", "text-rendering",
}  # fmt: skip


def drawing():
    """Return a drawing with what ours hold: dashes, hatches, see-through areas, markers, bold and turned text."""
    figure = Figure(figsize=(3, 2))
    axes = figure.add_subplot()
    axes.plot([0, 1, 2], [1, 3, 2], "--o", solid_capstyle="round", label="a")
    axes.fill_between([0, 1, 2], [0, 1, 1], alpha=0.3)
    axes.bar([0, 1], [1, 2], hatch="//", edgecolor="black", alpha=0.5)
    axes.set_title("bold", fontweight="bold", fontstyle="italic")
    axes.set_ylabel(HARM[:8])
    axes.legend()
    return Picture("plot", HARM, HARM, HARM, figure)


def blocks():
    """Return a block of each type, with harm in every text."""
    rows = ((HARM, HARM), (" below", "5 %"), ("grey", ""))
    tables = Table((HARM, HARM), rows, HARM, grey=(2,))
    return (HARM, Strong(HARM), Points((HARM,), HARM), Code(HARM), tables, drawing())


def pages():
    """Return one page of each kind."""
    sheet = [
        paragraph(HARM, "rule"), heading(HARM), listed([HARM], ordered=True),
        table((HARM,), [(HARM, HARM)], "tight"), blank((HARM,), 2), big([(HARM, HARM)]), sign(HARM),
        cautions([HARM]),
    ]  # fmt: skip
    return {
        "report": report_page(HARM, [Part("one", HARM, blocks())], HARM),
        "sheet": sheet_page(HARM, sheet, HARM),
        "example": sheet_page(HARM, sheet, HARM, HARM),
        "bedside": page(bedside_table(Bedside(CylinderSize(water_capacity_l=47), 13_700)), HARM),
    }


def parts():
    """Return what a notebook shows: a result and a drawing."""
    return {
        "result": result_section(HARM, blocks(), HARM, HARM),
        "figure": shown_figure(drawing(), "plot-1", HARM),
    }


class Seen(HTMLParser):
    """What a page holds: tags with attributes, and the texts within each kind of tag."""

    def __init__(self, text):
        super().__init__()
        self.tags, self.texts, self.now = [], {}, ""
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        """Note a tag."""
        self.tags.append((tag, dict(attrs)))
        self.now = tag

    def handle_endtag(self, _):
        """Leave a tag."""
        self.now = ""

    def handle_data(self, data):
        """Note a text."""
        self.texts[self.now] = self.texts.get(self.now, "") + data


@pytest.mark.parametrize("kind", ["report", "sheet", "example", "bedside", "result", "figure"])
def test_all_text_is_escaped_and_no_element_has_a_style_of_its_own(kind):
    """Markup in a text shows as text, control characters and turned lines are replaced, nothing runs."""
    text = (pages() | parts())[kind]
    seen = Seen(text)
    assert {tag for tag, _ in seen.tags} & {"script", "link", "img"} == set()
    assert [attrs for _, attrs in seen.tags if {"style", "onload", "src"} & attrs.keys()] == []
    assert SHOWN in text
    assert not re.search("[\x00-\x08\x1b\u202a-\u202e]", text)
    assert "unsafe-inline" not in text


@pytest.mark.parametrize("kind", ["report", "sheet", "example", "bedside"])
def test_the_policy_names_the_digest_of_the_style_and_nothing_else(kind):
    """The digest is that of the text within the style element, taken here by the standard library alone."""
    seen = Seen(pages()[kind])
    (policy,) = [attrs["content"] for tag, attrs in seen.tags if "http-equiv" in attrs]
    (named,) = re.fullmatch(r"default-src 'none'; style-src 'sha256-([A-Za-z0-9+/=]+)'", policy).groups()
    assert b64decode(named) == hashlib.sha256(seen.texts["style"].encode()).digest()
    assert [tag for tag, _ in seen.tags].count("style") == 1


def test_every_rule_is_for_what_is_ours():
    """In a notebook the style touches nothing but our own results: each selector begins at our class."""
    found = Seen(parts()["result"]).texts["style"]
    found = re.sub(r"/\*.*?\*/", "", found, flags=re.S)
    selectors = [each.strip() for group in re.findall(r"([^{}]+)\{", found) for each in group.split(",")]
    assert len(selectors) > 20
    assert [each for each in selectors if not re.match(r"(figure)?\.o2sim\b", each)] == []


def test_a_drawing_says_its_looks_by_attributes_of_svg_2():
    """No property that browsers would not take as an attribute, and the looks that were asked for are there."""
    text = shown_figure(drawing(), "plot-1", "")
    found = {key: value for _, attrs in Seen(text).tags for key, value in attrs.items()}
    geometry = {
        "class", "d", "height", "href", "id", "lang", "patternunits", "role", "transform", "viewbox", "width", "x",
        "y", "aria-labelledby", "preserveaspectratio",
    }  # fmt: skip
    assert found.keys() - PRESENTATION - geometry == set()
    wanted = {"stroke-dasharray", "fill", "stroke", "opacity", "font-weight", "font-style", "font-size"}
    assert wanted <= found.keys()
    assert found["font-family"] == "DejaVu Sans, Verdana, sans-serif"
    assert 'width="3.0in"' in text


@pytest.mark.parametrize(
    ("style", "found"),
    [
        ("fill: #fff; stroke-width: 0.8", {"fill": "#fff", "stroke-width": "0.8"}),
        ("fill: url(#a);", {"fill": "url(#a)"}),
        ("", {}),
        (
            "font: italic bold 10px 'DejaVu Sans', 'Arial'; text-anchor: end",
            {
                "font-style": "italic",
                "font-weight": "bold",
                "font-size": "10px",
                "font-family": "DejaVu Sans, Verdana, sans-serif",
                "text-anchor": "end",
            },
        ),
    ],
)
def test_a_style_becomes_attributes(style, found):
    """Property by property; a font in one line, which is no attribute, part by part."""
    assert attributes(style) == found


def test_a_value_that_a_template_lacks_is_a_mistake():
    """A template that is given too little makes no page."""
    with pytest.raises(UndefinedError, match="'title' is undefined"):
        rendered("page_result.html", style="", contents=(), caution="", said="")


def test_a_long_word_may_be_broken_and_a_number_keeps_its_per_cent():
    """Keys go on in the next line after a full stop; figures and short words stay whole."""
    told = Table(("t", "v"), (("patients.child.admissions", "5 % of 1234567890123456"),))
    text = report_page("t", [Part("one", "One", (told,))], "")
    assert '<th scope="row">patients.<wbr>child.<wbr>admissions</th>' in text
    assert "<td>5\N{NO-BREAK SPACE}% of 1234567890123456</td>" in text


@pytest.mark.skipif(CHROMIUM is None, reason="no browser is installed")
@pytest.mark.parametrize("kind", ["report", "example"])
def test_a_browser_applies_the_style_under_the_policy(kind, tmp_path):
    """Drawn with its style a page differs from one whose digest is wrong; that one looks as without a style."""
    right = pages()[kind]
    wrong = right.replace("'sha256-", "'sha256-A")
    bare = re.sub(r"(?s)<style>.*?</style>", "", right)
    drawn = {}
    for name, text in (("right", right), ("wrong", wrong), ("bare", bare)):
        (tmp_path / f"{name}.html").write_text(text, encoding="utf-8")
        shot = tmp_path / f"{name}.png"
        asked = ("--headless", "--no-sandbox", "--disable-gpu", "--window-size=600,800", f"--screenshot={shot}")
        subprocess.run(
            [CHROMIUM, *asked, f"--user-data-dir={tmp_path / 'profile'}", (tmp_path / f"{name}.html").as_uri()],
            check=True,
            capture_output=True,
            timeout=120,
        )
        drawn[name] = shot.read_bytes()
    assert drawn["wrong"] == drawn["bare"]
    assert drawn["right"] != drawn["bare"]
