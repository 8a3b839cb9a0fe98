"""The page, the words and the frame of a fit: nothing is loaded, nobody is shown, all that matters is said."""

from __future__ import annotations

import re
from dataclasses import replace
from functools import cache
from html.parser import HTMLParser
from pathlib import PurePath

import numpy as np
import pytest
from jsonschema import Draft202012Validator
from toy_parts import all_parts, lead_time, stays

from o2sim.fits.found import THOUGHT, Curve, Panel
from o2sim.questions.fit.charts import in_words, picture
from o2sim.questions.fit.content import value_said
from o2sim.questions.fit.fitting import fitted, own
from o2sim.questions.fit.page import page
from o2sim.questions.fit.result import FitResult, result
from o2sim.records.books import Records
from o2sim.records.findings import Finding
from o2sim.typed import as_json, schema_of

DOUBT = Finding("books.xlsx", "Orders", "A14", "", "no day of coming")
RECORDS = Records(PurePath("<b>books.xlsx"), "0123456789abcdef", classes=("children",), cautions=(DOUBT,))


@cache
def whole():
    """Return the fit of all toy parts, and of one that gives way."""
    return fitted((*all_parts(), lead_time(THOUGHT, 9.0)), RECORDS, own(RECORDS), 1)


class Tags(HTMLParser):
    """The tags of a page, with their attributes."""

    def __init__(self, text):
        """Read a page."""
        super().__init__()
        self.found = []
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        """Note a tag."""
        self.found.append((tag, dict(attrs)))


def test_the_page_loads_nothing_and_no_element_has_a_style():
    """No tag fetches or runs anything, links stay on the page, and names from outside are text."""
    text = page(whole(), "x.yaml")
    tags = Tags(text).found
    assert {tag for tag, _ in tags} & {"script", "img", "image", "link", "iframe", "object", "base", "b"} == set()
    assert [key for _, inside in tags for key in inside if key in ("style", "src") or key.startswith("on")] == []
    assert {inside["href"][0] for _, inside in tags if "href" in inside} == {"#"}
    assert text.count("<style") == 1
    assert "default-src 'none'" in text
    assert "&lt;b&gt;books.xlsx" in text


def test_the_page_begins_with_what_is_doubtful():
    """Cautions stand before the table, the pictures after it; the usual cautions and the provenance are there."""
    text = page(whole(), "x.yaml").replace("<wbr>", "").partition("</header>")[2]
    said = [
        "The reorder rule is in no book", "17 of 231 stays have no end", "214 of 231 rows", "What no record gave",
        "lognormal (Akaike 4.1 before gamma)", "p = 0.31, so the law is not refuted", "<svg", "no day of coming",
        "prescribes nothing", "0123456789abcdef", whole().scenario.hash,
    ]  # fmt: skip
    places = [text.find(each) for each in said]
    assert places == sorted(places)
    assert min(places) > 0


def test_a_law_that_does_not_fit_is_said_to():
    """Below 5 % the sentence beside the picture says so."""
    found = fitted((replace(stays(), test_p=0.01),), RECORDS, own(RECORDS), 1)
    assert "p = 0.01, so the law does not fit well" in page(found, "x.yaml")


def test_a_page_of_nothing():
    """Books that give nothing make a page that says so."""
    found = fitted((), Records(PurePath("books.xlsx"), "0" * 16), own(RECORDS), 1)
    text = page(found, "x.yaml")
    assert "No book gives a key of the scenario." in text
    assert "<svg" not in text


@pytest.mark.parametrize("kind", ["line", "steps", "points", "bars"])
def test_every_kind_of_curve_is_drawn_with_its_band(kind):
    """What is drawn has axes with their words, a legend, and a text for those who listen."""
    x = np.array([0.0, 1.0, 2.0])
    band = (x, x + 2)
    panel = Panel("Stays", "days", "share", (Curve(x, x + 1, "counted", kind, band), Curve(x, x, "", "line")))
    drawn = picture(panel, "fit-1-1", "a note")
    axes = drawn.figure.axes[0]
    assert (axes.get_xlabel(), drawn.title, drawn.note) == ("days", "Stays", "a note")
    assert [text.get_text() for text in drawn.figure.legends[0].get_texts()] == ["counted, with its 90 % band"]
    assert drawn.alt == ("Across: days. Up: share. Counted: from 1 at 0 to 3 at 2. A line: from 0 at 0 to 2 at 2.")


def test_a_curve_of_nothing_is_left_out():
    """Values that are none are left out of the words."""
    nothing = Curve(np.array([1.0]), np.array([np.nan]), "empty")
    assert in_words(Panel("t", "x", "y", (nothing,))) == "Across: x. Up: y."


def test_values_in_words():
    """Ranges stand as their 90 %, laws with their names, numbers with their unit once."""
    said = {each.key: value_said(each) for each in whole().values}
    assert re.fullmatch(r"2 \(1\.6\d–2\.3\d\) / day", said["patients.children.admissions"])
    assert re.fullmatch(
        r"lognormal: median 61 \([\d.]+–[\d.]+\) h, geometric sd 2.1 \([\d.]+–[\d.]+\)",
        said["patients.children.duration"],
    )
    assert said["cylinders.fleet"] == "37"
    assert said["patients.children.recognised"] == "100 %"


def test_the_frame_has_a_row_for_each_number():
    """Laws given whole have one without figures; few rows are merged."""
    frame = whole().to_frame()
    assert list(frame.columns[:6]) == ["key", "value", "likely", "low", "high", "unit"]
    lead = frame[frame.key == "resupply.lead_time.gamma.mean"].iloc[0]
    assert (lead.likely, lead.unit, lead.sheet, lead.rows) == (5.0, "days", "Orders", 32)
    assert np.isnan(lead.used)  # 3 rows
    assert frame[frame.key == "patients.children.duration"].likely.isna().all()


def test_a_notebook_shows_it():
    """Its HTML has the keys, the cautions and where it comes from."""
    shown = whole()._repr_html_()
    assert "The reorder rule is in no book" in shown
    assert whole().scenario.hash in shown
    assert "<script" not in shown


def test_the_result_has_the_schema_of_its_record():
    """What --json prints passes the JSON Schema made of the record, no key over."""
    schema = {**schema_of(FitResult, {}), "additionalProperties": False}
    printed = as_json(result(whole(), ("x.yaml",)))
    assert list(Draft202012Validator(schema).iter_errors(printed)) == []
    assert printed["not_used"] == [{
        "key": "resupply.lead_time.mean", "sheet": "What we think", "tier": "thought",
        "why": "taken from Orders (row by row)",
    }]  # fmt: skip
    (lead,) = [each for each in printed["keys"] if each["key"] == "resupply.lead_time"]
    assert (lead["used"], lead["drawn"], lead["tier"]) == (None, True, "rows")
