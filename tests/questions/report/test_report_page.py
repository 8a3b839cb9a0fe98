"""The report: one page that loads nothing, says what others wrote as they wrote it, and is the same every time."""

from __future__ import annotations

import re
import zipfile
from dataclasses import replace
from html.parser import HTMLParser
from io import BytesIO
from itertools import pairwise

import pytest
from click.testing import CliRunner
from markdown_it import MarkdownIt
from openpyxl import load_workbook
from scenario_texts import SMALL
from synthetic import made_up_study, scenario, small_study

from o2sim.cli import main
from o2sim.errors import O2simError, OutputError
from o2sim.looks.blocks import Strong
from o2sim.looks.drawing import inline_svg
from o2sim.looks.html import style
from o2sim.looks.workbook import LONGEST_CELL, Sheet, workbook
from o2sim.measures.measures import summarise
from o2sim.questions.report import text as report_text
from o2sim.questions.report.charts import chances
from o2sim.questions.report.chosen import about
from o2sim.questions.report.publish import report_bytes, write_report
from o2sim.runs.study import Study
from o2sim.scenario.text.source import source_of

HOSTILE = [
    "<script>alert(1)</script>",
    "=cmd|' /C calc'!A0",
    "\"><img src=x onerror=y> & 'z'",
    "x" * 60,
    "$a_b$ `c` [d](http://e) | f",
]
VOID = ("meta", "br", "wbr", "img", "link", "input")


class Page(HTMLParser):
    """A page as a browser's parser meets it: tags with attributes, text, and what was left open."""

    def __init__(self, text):
        """Read a page."""
        super().__init__()
        self.tags, self.open, self.text = [], [], []
        self.feed(text)
        self.close()

    def handle_starttag(self, tag, attrs):
        """Note a tag."""
        self.tags.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag, attrs):
        """Note a tag that ends at once."""
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag):
        """Close a tag, which must be the last one opened."""
        assert self.open.pop() == tag

    def handle_data(self, data):
        """Note text."""
        self.text.append(data)

    def of(self, *names):
        """Return the attributes of all tags of these names."""
        return [attributes for tag, attributes in self.tags if tag in names]


def parts_of(study):
    """Return the parts of the report of a study, without drawings."""
    return report_text.parts(about(study, summarise(study)), [], None)


def hostile_study():
    """Return a short study whose scenario's every name is meant to do harm."""
    base = small_study(days=70, replications=4)
    names = dict(zip(base.outcomes, HOSTILE, strict=False))
    hospitals = {
        names[old]: replace(hospital, strategy=replace(hospital.strategy, name=names[old]))
        for old, hospital in base.scenario.hospitals.items()
    }
    told = replace(base.scenario, name=HOSTILE[3], about=HOSTILE[4] + "\x1b[31m\x00", hospitals=hospitals)
    return Study(told, 1, "reference", 4, {names[old]: outcomes for old, outcomes in base.outcomes.items()})


@pytest.fixture(scope="module")
def page():
    """Return the page of the hostile study, parsed, with its text."""
    study = hostile_study()
    text = report_bytes(study, summarise(study), "html", source_of(SMALL)).decode()
    return Page(text), text


def test_the_page_loads_nothing_and_runs_nothing(page):
    """No tag or style fetches or runs anything, every link stays on the page, and the browser is told so."""
    parsed, text = page
    assert not {tag for tag, _ in parsed.tags} & {"script", "img", "image", "link", "iframe", "object", "base"}
    attributes = [item for _, inside in parsed.tags for item in inside.items()]
    assert [key for key, _ in attributes if key.startswith("on") or key == "src"] == []
    assert {value[0] for key, value in attributes if key in ("href", "xlink:href")} == {"#"}
    assert "@import" not in text
    assert set(re.findall(r"url\((.)", text)) == {"#"}
    assert "default-src 'none'" in parsed.of("meta")[1]["content"]


def test_no_drawing_has_a_style_of_its_own(page):
    """A policy without inline styles leaves every drawing as it is: its looks are attributes."""
    parsed, text = page
    assert len(parsed.of("svg")) >= 4
    assert [attributes for _, attributes in parsed.tags if "style" in attributes] == []
    assert text.count("<style") == 1  # that of the page


def test_what_others_wrote_shows_as_they_wrote_it(page):
    """Names stand on the page letter by letter; control characters are shown as replaced."""
    parsed, text = page
    shown = "".join(parsed.text)
    for name in (*HOSTILE[:3], HOSTILE[3], HOSTILE[4]):
        assert name in shown
    assert "\N{REPLACEMENT CHARACTER}[31m" in shown
    assert not re.search("[\x00-\x08\x1b]", text)


def test_the_page_can_be_heard_and_steered_by_keyboard(page):
    """Headings do not skip a level, drawings have titles and alt texts, heads a scope, ids are unique."""
    parsed, _ = page
    levels = [int(tag[1]) for tag, _ in parsed.tags if re.fullmatch("h[1-6]", tag)]
    assert levels[0] == 1
    assert all(after <= before + 1 for before, after in pairwise(levels))
    ids = [attributes["id"] for _, attributes in parsed.tags if "id" in attributes]
    assert len(ids) == len(set(ids))
    drawings = parsed.of("svg")
    assert 4 <= len(drawings) <= 6
    assert all(drawing["role"] == "img" for drawing in drawings)
    named = [name for _, inside in parsed.tags for name in inside.get("aria-labelledby", "").split()]
    linked = [inside["href"][1:] for _, inside in parsed.tags if inside.get("href", "").startswith("#")]
    assert {*named, *linked} <= set(ids)
    assert {head.get("scope") for head in parsed.of("th")} == {"col", "row"}
    assert parsed.of("html")[0]["lang"] == "en"
    assert parsed.open == []


def test_a_control_character_in_a_drawing_is_replaced():
    """A name that only Python can give, with a NUL, does not break the drawing."""
    study = made_up_study({"a\0b": 3}, replications=10)
    assert "a?b" in inline_svg(chances(summarise(study)).figure, "chances", "title", "alt")


def luminance(colour):
    """Return the relative luminance of #rrggbb (WCAG 2.1, definition of relative luminance, W3C 2018)."""
    parts = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    red, green, blue = (c / 12.92 if c <= 0.03928 else ((c + 0.055) / 1.055) ** 2.4 for c in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def test_text_stands_out_from_its_ground_against_wcag():
    """Every text colour has a contrast of at least 4.5 to 1 on every ground (WCAG 2.1, criterion 1.4.3)."""

    def colours(name):
        found = re.findall(rf"[ {{]{name}: (#[0-9a-f]+)\b", style("report"))
        return {each if len(each) == 7 else "#" + "".join(2 * digit for digit in each[1:]) for each in found}

    texts, grounds = colours("color"), colours("background")
    assert len(texts) >= 3
    assert len(grounds) >= 4
    worst = min((luminance(ground) + 0.05) / (luminance(text) + 0.05) for text in texts for ground in grounds)
    assert worst >= 4.5


@pytest.mark.parametrize("kind", ["html", "xlsx", "md"])
def test_the_same_study_gives_the_same_bytes(kind):
    """Two reports of one study are equal to the byte."""
    study = small_study(days=70, replications=4)
    one, other = (report_bytes(study, summarise(study), kind, None) for _ in range(2))
    assert one == other


def test_the_answer_comes_first_and_agrees_with_the_table():
    """The page says the natural frequency of the answer again in its table, and where the figures come from."""
    study = made_up_study({"cylinders only": 20, "mixed": 10})
    text = report_bytes(study, summarise(study), "md", None).decode()
    heads = ("The question", "The decision", "The answer", "Annex: where this")
    places = [text.index(f"## {head}") for head in heads]
    assert places == sorted(places)
    assert "“mixed” runs short least often: 5 in 100 years (2 to 9)" in text
    assert (
        "| Supply shortfall (no source could serve) | 5 in 100 years; 5 % (2.42–9) | 10 in 100 years; 10 %" in text
    )
    assert "o2sim report misty.yaml --replications 200 --seed 1 --engine reference" in text


@pytest.mark.parametrize(
    ("figures", "words"), [("example", "an example: order and buy nothing by them."), ("ours", "hospital's own.")]
)
def test_the_question_says_whose_the_figures_are(figures, words):
    """Whoever decides by the report sees at its beginning whether it is of the hospital's own figures."""
    study = small_study()
    study = replace(study, scenario=replace(study.scenario, figures=figures))
    found = parts_of(study)
    assert found[0].name == "question"
    assert str(found[0].blocks[-1]).endswith(words)


def test_a_stopped_run_says_so_before_its_decision():
    """A report of fewer replications than were asked for says so under the decision's heading."""
    parts = {part.name: part for part in parts_of(replace(small_study(), requested=40))}
    assert parts["decision"].blocks[0] == Strong(
        "The run was stopped after 6 of 40 replications; this report holds only those."
    )


def test_a_study_without_prices_or_seasons_has_fewer_drawings():
    """Where there is no money and less than two months, only chances, hours and stock are drawn."""
    study = made_up_study({"mixed": 3}, replications=10, days=28, costs=None)
    parsed = Page(report_bytes(study, summarise(study), "html", None).decode())
    assert [each["aria-labelledby"].split("-")[0] for each in parsed.of("svg")] == ["chances", "hours", "stock"]


def test_the_markdown_holds_no_markup_of_others():
    """A reader of Markdown finds no HTML and no link in it, and the names as texts."""
    study = hostile_study()
    text = report_bytes(study, summarise(study), "md", source_of(SMALL)).decode()
    tokens = MarkdownIt("commonmark").enable("table").parse(text)
    kinds = {token.type for token in tokens} | {c.type for token in tokens for c in token.children or ()}
    assert not kinds & {"html_block", "html_inline", "link_open", "image"}
    shown = "".join(child.content for token in tokens for child in token.children or ())
    assert all(name in shown for name in HOSTILE[:3])


def test_the_workbook_holds_numbers_and_no_formula():
    """Read by another library: figures are numbers, a name that begins like a formula is a text that stays one."""
    study = hostile_study()
    summary = summarise(study)
    book = load_workbook(BytesIO(report_bytes(study, summary, "xlsx", source_of(SMALL))))
    cells = [cell for sheet in book for row in sheet.iter_rows() for cell in row]
    assert {cell.data_type for cell in cells} <= {"s", "n", "inlineStr"}
    (name,) = [row[0] for row in book["Strategies"].iter_rows(min_row=2) if str(row[0].value).startswith("=")]
    assert (name.value, name.data_type, name.quotePrefix) == (HOSTILE[1], "s", True)
    heads = [cell.value for cell in book["Strategies"][1]]
    row = [cell.value for cell in book["Strategies"][4]]
    item = summary["strategies"][row[0]]
    told = dict(zip(heads, row, strict=True))
    assert told["unserved patient-hours a year"] == pytest.approx(
        item["unserved_patient_hours"]["mean"], rel=1e-15
    )
    assert told["chance of a supply shortfall, high"] == pytest.approx(
        item["stock_out_probability"]["high"], rel=1e-15
    )
    assert book.sheetnames == [
        "Answer", "Strategies", "Causes", "Costs", "Cost lines", "Costing", "All measures", "Replications",
        "Assumptions", "Where from",
    ]  # fmt: skip


def test_cells_of_every_kind_come_back():
    """Texts with what XML cannot hold, long ones, numbers, and what is no number."""
    rows = [
        ("a\x00b <&> \"'", 1.5, 7),
        ("b", None, float("nan")),
        (" two\n lines ", -2.0, True),
        ("y" * 40_000,),
    ]
    sheet = load_workbook(BytesIO(workbook([Sheet("one & two", [f"c{n}" for n in range(30)], rows)])))["one & two"]
    assert [cell.value for cell in sheet[2]][:3] == ["a\N{REPLACEMENT CHARACTER}b <&> \"'", 1.5, 7]
    assert [cell.value for cell in sheet[3]][:3] == ["b", None, None]
    assert [cell.value for cell in sheet[4]][:3] == [" two\n lines ", -2, "True"]
    assert len(sheet[5][0].value) == LONGEST_CELL
    assert (sheet["AA1"].value, sheet["AD1"].value) == ("c26", "c29")


def test_an_underscore_escape_in_a_text_is_escaped_against_ecma_376():
    """A text that looks like the format's own escape would be shown as "A" (ECMA-376 part 1, 22.9.2.19)."""
    packed = zipfile.ZipFile(BytesIO(workbook([Sheet("a", ("b",), [("_x0041_",)])])))
    assert ">_x005F_x0041_</t>" in packed.read("xl/worksheets/sheet1.xml").decode()


def test_a_file_that_is_there_is_kept(tmp_path):
    """write_report refuses to overwrite, does so when told to, and refuses a format it does not know."""
    study = small_study()
    place = write_report(study, tmp_path / "answer.md")
    assert place.read_text(encoding="utf-8").startswith("# Oxygen for Misty Ridge\n")
    with pytest.raises(OutputError, match="is there already"):
        write_report(study, place)
    assert write_report(study, place, overwrite=True) == place
    with pytest.raises(O2simError, match="found the format 'pdf'; allowed: html, xlsx, md"):
        write_report(study, tmp_path / "x", format="pdf")
    with pytest.raises(OutputError, match="found no folder"):
        write_report(study, tmp_path / "none" / "x.html")


def test_the_command_writes_the_page_with_the_assumptions(tmp_path):
    """`o2sim report` lists the file's keys with their sources; again with --force it writes the same bytes."""
    file, out = tmp_path / "here.yaml", tmp_path / "out.html"
    file.write_text(SMALL, encoding="utf-8")
    asked = ["report", str(file), "-o", str(out), "--replications", "2"]
    done = CliRunner().invoke(main, asked)
    assert (done.exit_code, done.stdout) == (0, "")
    first = out.read_bytes()
    assert b"cylinders.fleet" in first.replace(b"<wbr>", b"")
    assert str(tmp_path).encode() not in first  # no path of a machine
    refused = CliRunner().invoke(main, asked)
    assert (refused.exit_code, "overwrite it with --force" in refused.stderr) == (1, True)
    assert CliRunner().invoke(main, [*asked, "--force"]).exit_code == 0
    assert out.read_bytes() == first


@pytest.mark.parametrize(
    ("out", "said"),
    [("report.pdf", "end the name in .html, .xlsx or .md"), ("none/report.html", "there is no folder")],
)
def test_a_place_that_will_not_do_is_told_before_the_work(tmp_path, out, said):
    """A wrong ending and a missing folder are wrong usage."""
    done = CliRunner().invoke(main, ["report", str(tmp_path / "x.yaml"), "-o", str(tmp_path / out)])
    assert done.exit_code == 2
    assert said in " ".join(done.stderr.split())


def test_the_assumptions_are_left_out_where_the_file_has_gone():
    """A scenario made in Python has no file; the page says that its keys are not listed."""
    study = Study(scenario(), 1, "reference", 1, {"mixed": small_study().outcomes["mixed"][:1]})
    parts = {part.name: part for part in parts_of(study)}
    assert "The file could not be read again, so its keys are not listed." in parts["assumed"].blocks


def test_cautions_stand_under_their_headings_and_keys_may_be_broken():
    """The page groups the cautions, a long key may go on in the next line, a number keeps its sign of percent."""
    study = small_study(days=70, replications=4)
    text = report_bytes(study, summarise(study), "html", source_of(SMALL)).decode()
    assert "<h3>Fire</h3>\n<ul>\n<li>No smoking, flame or spark near oxygen.</li>" in text
    assert re.search(r'<th scope="row">patients\.<wbr>\w+\.<wbr>admissions</th>', text)
    assert re.search(r"<span>[^<]*\d\u00a0% \(", text)
    assert "### Fire" in report_bytes(study, summarise(study), "md", None).decode()


def test_few_replications_are_called_luck():
    """An answer from fewer than 30 replications says so; from 30 on it does not."""
    few, enough = (made_up_study({"mixed": 1}, replications=count) for count in (1, 30))
    said = report_bytes(few, summarise(few), "md", None).decode()
    assert "Only one replication was run, so much of this is luck: run 200 or more" in said
    assert "luck" not in report_bytes(enough, summarise(enough), "md", None).decode()
