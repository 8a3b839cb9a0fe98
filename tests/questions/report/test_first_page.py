"""The report's first page has five parts, and everything is about the option or strategy that was chosen."""

from __future__ import annotations

import re
import shutil
import subprocess
from dataclasses import replace
from io import BytesIO

import pytest
from openpyxl import load_workbook
from synthetic import made_up_study, small_study
from test_report_page import Page
from test_which_to_buy import SCENARIO

from o2sim.looks.workbook import WIDEST_PRINT, Sheet, workbook
from o2sim.measures.measures import summarise
from o2sim.questions.choose.first_sentence import first_sentence
from o2sim.questions.choose.options import decide, options_scenario
from o2sim.questions.choose.result import Limits
from o2sim.questions.report.chosen import Choice, about
from o2sim.questions.report.first_page import three
from o2sim.questions.report.publish import decided, report_bytes, with_companion
from o2sim.runs.study import run_study
from o2sim.scenario.building.loading import load

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
FIRST = ["question", "decision", "three", "picture", "monday"]
MARK = "fleet 30 (chosen)"


@pytest.fixture(scope="module")
def chosen_page(tmp_path_factory):
    """Return the page of a report with options, 20 replications."""
    file = tmp_path_factory.mktemp("offers") / "offers.yaml"
    file.write_text(SCENARIO, encoding="utf-8")
    scenario = load(file)
    study = run_study(scenario, replications=20)
    among = run_study(options_scenario(scenario), replications=20)
    decision = decide(among, Limits(target=0.99))
    assert decision.chosen == "fleet 30"
    more, _ = decided(among, decision)
    choice = Choice(decision, among)
    return report_bytes(study, summarise(study), "html", None, more, choice=choice).decode()


def test_the_first_page_has_its_five_parts_and_the_annex_comes_last(chosen_page):
    """Question, decision, three figures, one picture, what to do on Monday; then the rest, then the annex."""
    first, rest = chosen_page.split('<div class="body">')
    body, annex = rest.split('<div class="annex">')
    parts = [re.findall(r'<h2 id="([\w-]+)">', text) for text in (first, body, annex)]
    assert parts[0] == FIRST
    assert {"answer", "options", "strategies", "drawings", "cautions"} <= set(parts[1])
    assert parts[2] == ["figures", "costing", "assumed", "provenance"]
    assert (first.count("<svg"), first.count("<p><b>")) == (1, 3)
    assert "Prescribes nothing: local codes first. No flame, oil, grease" in first
    assert re.search(r"scenario [0-9a-f]{16} \| seed 1 \| 20 replications", first)


def test_every_table_of_strategies_and_every_drawing_is_of_the_chosen_option(chosen_page):
    """Tables with strategies as columns begin with it, and each drawing names it."""
    heads = re.findall(r"<thead><tr><th scope=\"col\"><span>item</span></th>(.*?)</tr></thead>", chosen_page)
    of_strategies = [head for head in heads if "cylinders only" in re.sub("<.*?>", "", head)]
    assert len(of_strategies) >= 4
    assert [head for head in of_strategies if not re.sub("<.*?>", "", head).startswith(MARK)] == []
    drawings = re.findall(r"(?s)<svg .*?</svg>", chosen_page)
    assert len(drawings) >= 6
    assert [each[:80] for each in drawings if "fleet 30" not in each] == []


def test_the_strategy_that_leads_is_marked_where_nothing_was_limited():
    """Without options the leading strategy stands first, with its mark, and the decision names it."""
    study = made_up_study({"cylinders only": 20, "mixed": 10})
    text = report_bytes(study, summarise(study), "md", None).decode()
    assert list(about(study, summarise(study)).study.outcomes) == ["mixed", "cylinders only"]
    assert "| To decide by | mixed (chosen) | cylinders only |" in text
    assert "Of the 2 compared “mixed” runs short least often. It leaves" in text


def test_an_option_stands_beside_the_strategies_of_the_file():
    """An option named as a strategy is keeps a name of its own; its companion run comes first in that table."""
    study = made_up_study({"a": 20, "b": 10}, replications=40)
    scenario = replace(study.scenario, hash="f" * 16)
    among = replace(study, scenario=scenario, outcomes={"a": study.outcomes["b"], "b": study.outcomes["a"]})
    alone = replace(among, outcomes={"a": among.outcomes["a"]})
    summary = with_companion(study, study)
    shown = about(study, summary, Choice(decide(among), among, alone))
    assert shown.chosen == "a (option)"
    assert list(shown.study.outcomes) == list(shown.summary["strategies"]) == ["a (option)", "a", "b"]
    assert list(shown.summary["supply_alone"]["strategies"]) == ["a (option)", "a", "b"]
    chances = {
        name: item["stock_out_probability"]["estimate"] for name, item in shown.summary["strategies"].items()
    }
    assert chances == {"a (option)": 0.25, "a": 0.5, "b": 0.25}


def test_the_three_figures_have_one_base():
    """5, 100 and 0 of 200 years and a share of patients are all said out of 100, with bounds out of 100.

    Bounds of 10 of 200 by Clopper and Pearson: 2.4 to 9.0 %, and of none 1.8 % (scipy's beta quantiles), rounded
    outwards.
    """
    rare, never = (made_up_study({"mixed": count}) for count in (10, 0))
    (supply, what, sure), _, (patients, _, _) = three(about(rare, summarise(rare))).shown
    assert (supply, what) == ("about 5 years in 100", "with a supply shortfall: no source could serve someone")
    assert sure == "2 to 10 in 100 by the 95 % interval, from 200 years"
    assert patients.endswith(" in 100") or patients == "no patient seen"
    (figure, _, sure), *_ = three(about(never, summarise(never))).shown
    assert (figure, sure) == ("no year seen", "at most 2 in 100 by the 95 % interval, from 200 years")


def test_a_target_that_none_meets_is_said_first():
    """The decision says that no option meets the target before it names the nearest."""
    study = made_up_study({"a": 50, "b": 100})
    said = first_sentence(decide(study, Limits(target=0.01)), 365)
    assert said.startswith("No option surely has a supply shortfall in at most 1 year in 100. “a” has, of all 2")


@pytest.fixture(scope="module")
def book():
    """Return the workbook of a small report."""
    study = small_study()
    return load_workbook(BytesIO(report_bytes(study, summarise(study), "xlsx", None)))


def test_the_workbook_prints_across_a4_on_few_pages(book):
    """Each sheet is A4, across, one page wide and at most four high, with its heads on each."""
    for sheet in book:
        setup = sheet.page_setup
        assert (setup.orientation, setup.paperSize, setup.fitToWidth, setup.fitToHeight) == ("landscape", 9, 1, 4)
        assert sheet.sheet_properties.pageSetUpPr.fitToPage
        assert sheet.print_title_rows == "$1:$1"
        assert sheet.print_area.startswith(f"'{sheet.title}'!$A$1:")
    footer = book["Replications"].oddFooter.left.text
    assert re.fullmatch(
        r"Replications: 18 of 18 rows and \d+ of \d+ columns are printed, the file has all", footer
    )
    assert book["Strategies"]["B2"].value == "chosen"


def test_what_would_not_fit_on_paper_is_left_out_of_the_print_and_that_is_said():
    """Of 30 columns of 12 characters those within the width are printed, and of 50 rows the 40 asked for."""
    sheet = Sheet("A & 'b'", [f"c{n}" for n in range(30)], [[1]] * 50, printed=40)
    found = load_workbook(BytesIO(workbook([sheet])))["A & 'b'"]
    assert found.print_area == "'A & ''b'''!$A$1:$U$41"
    assert found.max_row == 51
    assert WIDEST_PRINT // 12 == 21
    assert (
        found.oddFooter.left.text == "A && 'b': 40 of 50 rows and 21 of 30 columns are printed, the file has all"
    )


def test_a_table_of_more_than_two_columns_is_folded_on_a_phone(chosen_page):
    """Each cell of such a table carries the head of its column, so that it can stand in a line of its own."""
    cells = [attributes for attributes in Page(chosen_page).of("td") if "data-head" in attributes]
    assert {MARK, "cylinders only", "purchases"} <= {each["data-head"] for each in cells}
    tables = re.findall(r'(?s)<table class="([^"]*)">.*?<thead><tr>(.*?)</tr>', chosen_page)
    assert [kind for kind, head in tables if ("folds" in kind) != (head.count("<th") > 2)] == []


def pages(text, folder):
    """Return on how many pages of A4 a browser prints a page."""
    (folder / "page.html").write_text(text, encoding="utf-8")
    asked = ("--headless", "--no-sandbox", "--disable-gpu", f"--user-data-dir={folder / 'profile'}")
    out = folder / "page.pdf"
    place = (folder / "page.html").as_uri()
    subprocess.run(
        [CHROMIUM, *asked, f"--print-to-pdf={out}", place], check=True, capture_output=True, timeout=120
    )
    return len(re.findall(rb"/Type /Page\b", out.read_bytes()))


@pytest.mark.skipif(CHROMIUM is None, reason="no browser is installed")
def test_the_first_page_is_one_of_a4_and_all_before_the_annex_at_most_eight(chosen_page, tmp_path):
    """Printed by a browser, without what follows; the annex begins on a page of its own."""
    first, rest = chosen_page.split('<div class="body">')
    body, _ = rest.split('<div class="annex">')
    end = "</main></body></html>"
    assert pages(first + end, tmp_path) == 1
    whole = pages(f'{first}<div class="body">{body}{end}', tmp_path)
    assert 3 <= whole <= 8
    assert pages(f'{first}<div class="body">{body}<div class="annex"><p>x</p></div>{end}', tmp_path) == whole + 1
