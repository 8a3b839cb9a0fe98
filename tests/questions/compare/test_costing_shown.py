"""The costing where it is shown: screen, page, workbook, files and frames say the same, and it adds up again."""

from __future__ import annotations

import csv
from io import BytesIO

import pytest
from openpyxl import load_workbook
from small_ward import WARD

from o2sim.looks.blocks import Table
from o2sim.measures import costing
from o2sim.measures.measures import summarise
from o2sim.money.cost import ITEMS
from o2sim.questions.compare import costing_text
from o2sim.questions.compare.results_folder import write_results
from o2sim.questions.compare.tables import cost_tables
from o2sim.questions.report.charts import COST_GROUPS
from o2sim.questions.report.publish import report_bytes
from o2sim.runs.study import run_study
from o2sim.scenario import loads

KEYS = """costs:
  price_year: 2026
  freight: 10 %
  staff: {wage: 300 USD/month, look: 1 min, connect: 10 min}
  training: {price: 40 USD, persons: 6}
  other: {guard: {yearly: 600 USD/year}, food: {yearly: 90 USD/year, paid_by: families}}
"""
COSTED = WARD.replace("costs:\n", KEYS).replace("price: 648 USD", "paid_by: donor, price: 648 USD")


@pytest.fixture(scope="module")
def study():
    """Return the small ward with costs as an economist states them, run three times."""
    return run_study(loads(COSTED), replications=3, workers=1)


@pytest.fixture(scope="module")
def summary(study):
    """Return what `compare --json` prints of it."""
    return summarise(study)


def test_the_lines_add_up_to_every_total(summary):
    """Capital and recurrent, economic and cash, each year, and what five years are worth, added again by hand."""
    for name, found in summary["costing"].items():
        economic, cash = found["economic"][0], found["financial"]
        by_kind = {
            kind: [line for line in found["lines"] if line["kind"] == kind] for kind in ("capital", "recurrent")
        }
        for kind, some in by_kind.items():
            assert sum(line["economic"] for line in some) == pytest.approx(economic[kind])
            years = [sum(line["cash"][year] for line in some) for year in range(5)]
            assert years == pytest.approx([each[kind] for each in cash["by_year"]])
        assert economic["total"] == pytest.approx(summary["strategies"][name]["annual_cost"]["mean"])
        assert economic["per_patient"] == pytest.approx(summary["strategies"][name]["cost_per_patient"]["mean"])
        assert economic["per_1000_l"] == pytest.approx(summary["strategies"][name]["cost_per_1000_l"]["mean"])
        assert cash["total"] == pytest.approx(sum(each["total"] for each in cash["by_year"]))
        at_6 = sum(
            each["capital"] / 1.06 ** (each["year"] - 1) + each["recurrent"] / 1.06 ** each["year"]
            for each in cash["by_year"]
        )
        assert {each["discount_rate"]: each["amount"] for each in cash["present_values"]}[0.06] == pytest.approx(
            at_6
        )


def test_rates_stand_side_by_side(summary):
    """At 0, 3 and 6 % beside the stated 3 %: only capital changes, and more is charged at a higher rate."""
    found = summary["costing"]["mixed"]["economic"]
    assert [each["discount_rate"] for each in found] == [0.03, 0.0, 0.03, 0.06]
    assert found[1]["capital"] < found[2]["capital"] < found[3]["capital"]
    assert len({each["recurrent"] for each in found}) == 1


def test_what_is_not_counted_stands_beside_each_total(summary):
    """The table of yearly cost and that of the costing both name it under the total."""
    tables = [
        *cost_tables(summary, "USD"),
        *(each for each in costing_text.blocks(summary) if isinstance(each, Table)),
    ]
    noted = [each.note for each in tables if "duty" in each.note]
    assert len(noted) == 2
    assert "time to clean filters" in noted[0]


def test_the_words_say_whose_costs_of_which_year(summary):
    """Year, rate and perspective stand first; what families pay is left out and named, with hours of staff."""
    said = str(costing_text.blocks(summary))
    assert "Costs in USD of 2026, discounted at 3 % a year. Perspective: health service" in said
    assert "other: food 90 (families)" in said
    assert "looking at gauges" in said


def test_page_and_workbook_have_every_line(study, summary):
    """The page has a table of lines for each strategy; the workbook the same lines as numbers."""
    page = report_bytes(study, summary, "html", None).decode()
    assert page.count("freight: cylinders") == 2  # of the two strategies with cylinders
    book = load_workbook(BytesIO(report_bytes(study, summary, "xlsx", None)))
    rows = [tuple(cell.value for cell in row) for row in book["Cost lines"].iter_rows(min_row=2)]
    assert rows == [pytest.approx(row) for row in costing.line_rows(summary["costing"])]
    assert book["Costing"].max_row == 1 + len(list(costing.total_rows(summary["costing"])))


def test_files_and_frames_have_every_line(study, summary, tmp_path):
    """costing-lines.csv and the frame hold the same lines; costing.csv the totals and what is not counted."""
    write_results(tmp_path, study, summary)
    with (tmp_path / "costing-lines.csv").open(encoding="utf-8") as file:
        lines = list(csv.DictReader(file))
    frame = study.to_frame("cost lines")
    assert [line["item"] for line in lines] == list(frame["item"])
    assert sum(float(line["cash, year 1"]) for line in lines) == pytest.approx(frame["cash, year 1 (USD)"].sum())
    totals = study.to_frame("costing")
    left = totals[totals["view"] == "left out, a year"]["amount (USD, or h)"]
    assert list(left) == [90.0] * 3
    assert "not counted,duty" in (tmp_path / "costing.csv").read_text(encoding="utf-8")


def test_without_prices_there_is_no_costing():
    """No prices, no costing: nothing is said, and the workbook has no sheet of it."""
    free = WARD[: WARD.index("costs:")] + WARD[WARD.index("strategies:") :]
    study = run_study(loads(free), replications=1, workers=1)
    found = summarise(study)
    book = load_workbook(BytesIO(report_bytes(study, found, "xlsx", None)))
    assert not {"Costing", "Cost lines"} & set(book.sheetnames)
    assert found["costing"] == {}
    assert costing_text.blocks(found) == []
    assert not costing_text.is_short_of_some(found)


def test_every_item_has_a_colour_in_the_drawing():
    """An item in no group would be missing in the bars of the report."""
    assert set(ITEMS) - {item for _, _, items in COST_GROUPS.values() for item in items} == set()
