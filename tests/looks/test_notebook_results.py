"""How results show themselves in a notebook: escaped, accessible, with statement and provenance."""

import re
from html.parser import HTMLParser

import pandas as pd
import pytest
from small_ward import WARD

import o2sim
from o2sim.errors import O2simError
from o2sim.shown import html_of

HOSTILE = '<script>alert("x")</script>&'
KINDS = ("scenario", "study", "comparison", "options", "size", "whatif", "equipment", "trace", "facilities")
CHARTS = (
    "chances",
    "hours",
    "costs",
    "trade",
    "stock",
    "season",
    "convergence",
    "frontier",
    "curve",
    "lines",
    "heat",
)


@pytest.fixture(scope="module")
def results():
    """One result of each kind, all of a ward whose names mean harm."""
    text = WARD.replace("name: Small ward", f"name: '{HOSTILE}'\nabout: '{HOSTILE}'").replace(
        "  mixed:", f"  '{HOSTILE}': {{sources: [concentrator, cylinder]}}\n  mixed:"
    )
    ward = o2sim.loads(text)
    found = o2sim.compare(ward, replications=8)
    facilities = pd.DataFrame({"name": [HOSTILE, "B"], "cylinders.fleet": [13, "few"]})
    return {
        "scenario": ward,
        "study": found.study,
        "comparison": found,
        "options": o2sim.compare(ward, options=True, replications=5, target="5 %"),
        "size": o2sim.size(ward, HOSTILE, target="40 %", vary="cylinders.fleet = 8..10", replications=12),
        "whatif": o2sim.whatif(
            ward, ["cylinders.fleet = 12, 14", "power.grid.down.median = 1 h, 9 h"], replications=3
        ),
        "equipment": o2sim.equipment(found.study),
        "trace": o2sim.trace(found.study, HOSTILE),
        "facilities": o2sim.study(facilities, ward, replications=2, skip_bad=True),
    }


@pytest.fixture(scope="module")
def charts(results):
    """One drawing of each kind."""
    study, asked = results["study"], results["whatif"]
    return {
        **{of: study.chart(of) for of in CHARTS[:7]},
        "frontier": results["options"].chart(),
        "curve": results["size"].chart(),
        "lines": o2sim.whatif(results["scenario"], "cylinders.fleet = 12, 14", replications=3).chart(
            measure="hours"
        ),
        "heat": asked.chart("heat"),
    }


class Reader(HTMLParser):
    """Collects elements, what they would load, and those left open."""

    def __init__(self, text):
        super().__init__()
        self.tags, self.loads, self.open = [], [], []
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        """Note an element."""
        self.tags.append((tag, dict(attrs)))
        self.open.append(tag)
        inside = ("#", "data:image/png;base64,")  # a place on the page, a picture within it
        self.loads += [v for k, v in attrs if k in ("src", "href") and not (v or "").startswith(inside)]
        assert not [k for k, _ in attrs if k.startswith("on")]

    def handle_startendtag(self, tag, attrs):
        """Note an element without content."""
        self.handle_starttag(tag, attrs)
        self.open.pop()

    def handle_endtag(self, tag):
        """Close an element, which must be the last one opened."""
        assert self.open.pop() == tag


@pytest.mark.parametrize("kind", KINDS)
def test_a_result_is_escaped_and_loads_nothing(results, kind):
    """A hostile name shows as text; no script, nothing from elsewhere, every element closed."""
    shown = results[kind]._repr_html_()
    read = Reader(shown)
    assert "&lt;script&gt;alert(&#34;x&#34;)&lt;/script&gt;&amp;" in shown
    assert (read.loads, read.open) == ([], [])
    assert {tag for tag, _ in read.tags} <= {
        "section", "style", "p", "b", "ul", "li", "table", "thead", "tbody", "tr", "th", "td"
    }  # fmt: skip
    assert "@import" not in shown
    assert "url(" not in shown


@pytest.mark.parametrize("kind", KINDS)
def test_a_result_has_a_label_headers_with_scope_and_provenance(results, kind):
    """Told to those who listen: what it is, in which column and row a cell is; the last line tells the source."""
    shown = results[kind]._repr_html_()
    read = Reader(shown)
    (section,) = [found for tag, found in read.tags if tag == "section"]
    assert section["aria-label"]
    assert section["lang"] == "en"
    assert {found.get("scope") for tag, found in read.tags if tag == "th"} <= {"col", "row"}
    assert ("table", {}) in read.tags or kind == "trace"
    last = re.findall(r"<p[^>]*>(.*?)</p>", shown, re.S)[-1]
    assert last.startswith(f"o2sim {o2sim.__version__} | ")
    if kind != "scenario":
        assert "seed 1 | " in last


def test_a_statement_comes_first_with_natural_frequencies(results):
    """What is set off is a sentence; chances are told as so many of the runs, with their range."""
    for kind in ("study", "comparison", "options", "size", "whatif", "facilities"):
        assert results[kind]._repr_html_().count('<p class="strong">') == 1
    assert re.search(r"\d of 8 runs of 60 days", results["study"]._repr_html_())
    assert re.search(r"a supply shortfall from .* of 3 runs of 60 days", results["whatif"]._repr_html_())
    assert "enough in the simulation" in results["size"]._repr_html_()


def test_texts_for_the_command_line_are_told_for_python(results):
    """No result names an option of a command."""
    for kind in KINDS:
        assert (
            re.findall(r"(?<![-!])--[a-z]+", re.sub(r"<style>.*?</style>", "", results[kind]._repr_html_())) == []
        )


def test_a_frame_of_many_options_says_what_it_leaves_out(results):
    """Forty rows; the rest is said to be in the frame."""
    table = pd.DataFrame({"cylinders.fleet": range(12, 54)})
    many = o2sim.compare(results["scenario"], options=table, of="cylinders only", replications=1)
    shown = many._repr_html_()
    assert "2 more are not shown: to_frame() has them all." in shown
    assert shown.count('<th scope="row">') == 40


@pytest.mark.parametrize("kind", CHARTS)
def test_a_drawing_is_told_in_words_and_loads_nothing(charts, kind, tmp_path):
    """Title and description inside the drawing, ids of its own; it can be saved."""
    shown = charts[kind]._repr_html_()
    read = Reader(shown)
    assert (read.loads, read.open) == ([], [])
    assert "script" not in {tag for tag, _ in read.tags}
    drawing = next(found for tag, found in read.tags if tag == "svg")
    title, said = drawing["aria-labelledby"].split()
    assert f'id="{title}"' in shown
    assert re.search(rf'<desc id="{said}">[^<]{{40,}}</desc>', shown)
    assert charts[kind].save(tmp_path / "drawing.svg").read_text(encoding="utf-8").startswith("<?xml")


def test_two_drawings_on_one_page_share_no_id(charts):
    """Clipping refers to ids: one id twice would cut the second drawing by the first one's frame."""
    ids = [set(re.findall(r'\bid="([^"]+)"', charts[kind]._repr_html_())) for kind in CHARTS]
    assert sum(map(len, ids)) == len(set.union(*ids))


def test_what_cannot_be_drawn_is_refused(results):
    """Where, what was found, what is allowed."""
    study, bare = results["study"], o2sim.loads(WARD[: WARD.index("costs:")] + WARD[WARD.index("strategies:") :])
    unpriced = o2sim.compare(bare, replications=1)
    short = o2sim.run_study(o2sim.loads(WARD.replace("60 days", "20 days")), replications=1)
    for draw, message in (
        (lambda: study.chart("pie"), "found of='pie'; allowed: chances, hours"),
        (lambda: study.chart("stock", "x"), "no strategy is named 'x'"),
        (lambda: study.chart("stock", "concentrators only"), "has no cylinders"),
        (lambda: unpriced.study.chart("costs"), "no prices, so there are no costs"),
        (lambda: unpriced.chart(), "no prices"),
        (lambda: short.chart("season"), "over two months to a year; the horizon is shorter"),
        (lambda: results["whatif"].chart("pie"), "found of='pie', measure='chance'"),
    ):
        with pytest.raises(O2simError, match=message):
            draw()


def test_the_sheets_are_written_from_a_notebook(results, tmp_path):
    """Three pages into a folder that need not be there."""
    written = results["size"].write_sheets(tmp_path / "sheets")
    assert [path.name for path in written] == ["count-sheet.html", "dusk-page.html", "reorder-card.html"]
    assert all(path.is_file() for path in written)


def test_what_is_no_result_shows_as_text():
    """Whoever calls the function with something else gets its plain form, escaped."""
    assert html_of("<b>") == "<p>&#x27;&lt;b&gt;&#x27;</p>"


def test_the_report_of_a_comparison_says_which_to_buy(results, tmp_path):
    """The page says which to buy and lists it in the annex; the workbook has the options as a sheet."""
    found = results["options"]
    page = o2sim.write_report(found, tmp_path / "report.html").read_text(encoding="utf-8")
    alone = o2sim.write_report(found.study, tmp_path / "alone.html").read_text(encoding="utf-8")
    assert page.count("<h2") == alone.count("<h2") + 2
    assert '<h2 id="options">Which to buy</h2>' in page
    assert '<h2 id="to-buy">Annex: what to buy</h2>' in page
    assert f"“{found.chosen}”" in page
    assert o2sim.write_report(found, tmp_path / "report.xlsx").stat().st_size > 5_000
