"""Which to buy, as it is told: on the terminal, as files, on the page and as JSON."""

from __future__ import annotations

import csv
import json
from dataclasses import replace

import pytest
from click.testing import CliRunner
from openpyxl import load_workbook
from synthetic import made_up_study
from test_options import priced

from o2sim.cli import main
from o2sim.looks.blocks import Strong
from o2sim.measures.measures import summarise
from o2sim.questions.choose import text as decision_text
from o2sim.questions.choose.charts import frontier
from o2sim.questions.choose.command import again
from o2sim.questions.choose.options import decide
from o2sim.questions.choose.result import Limits, MoreDemand
from o2sim.questions.choose.screen import decision_part, print_decision, stage_decision
from o2sim.questions.choose.settings import ChooseSettings
from o2sim.questions.report.chosen import Choice
from o2sim.questions.report.publish import report_bytes
from o2sim.runs.study import run_study

SCENARIO = """\
name: Two offers
horizon: 20 days
warm_up: 2 days
patients: {child: {admissions: 2 / day, flow: 1 L/min, duration: 24 h}}
cylinders: {water_capacity: 10 L, fleet: 8}
resupply: {lead_time: 2 days, review: 1 day}
costs: {cylinders: {price: 200 USD, refill: 10 USD}, transport: {trip: 50 USD}}
strategies: {cylinders only: {sources: [cylinder]}}
options: {of: cylinders only, vary: {cylinders.fleet: [8, 30]}}
"""


def asked(tmp_path, *arguments, text=SCENARIO):
    """Return what a command on the scenario gives."""
    file = tmp_path / "offers.yaml"
    file.write_text(text, encoding="utf-8")
    return CliRunner().invoke(main, [arguments[0], str(file), "--replications", "3", *arguments[1:]])


def told(study, **limits):
    """Return the sentences about a made-up study."""
    decision = decide(study, Limits(**limits))
    return decision_text.sentences(decision, 200, 365)


def test_the_choice_is_told_with_its_doubt():
    """One clearly best is told with its confidence; of two alike the other is named, with how far off it is."""
    clear = told(priced([10, 20, 40], [80, 30, 0]))
    assert clear[0].startswith(
        "Of all 3 options, “40” has the fewest runs with a supply shortfall: none seen, at USD "
    )
    assert clear[0].endswith("It is the best of these with at least 95 % confidence.")
    assert clear[-1] == "Every option met the same 200 years."
    close = told(priced([10, 20, 40], [80, 3, 2]))
    assert "do not show to be clearly different: “20”; it is at most " in close[0]
    assert close[0].endswith(" percentage points worse than the best.")


def test_limits_are_told_whether_kept_or_not():
    """A budget and a target each have a sentence; where none will do it says what comes nearest."""
    study = priced([10, 20, 40], [80, 4, 0])
    kept = told(study, budget=1e6, capital=1e6, target=0.07)
    assert kept[1].startswith("Within USD 1,000,000 a year and USD 1,000,000 to begin with, “40” has the fewest")
    assert kept[2].startswith(
        "The cheapest that is surely within a chance of a supply shortfall of 7 % is “20”: seen in 2 %"
    )
    narrow = told(study, capital=3_500.0)  # 10 at 300, and 10 fillings at 18
    assert narrow[1].startswith(
        "Within USD 3,500 to begin with, “10” has the fewest runs with a supply shortfall: 40 %"
    )
    assert narrow[1].endswith(" No other fits.")
    missed = told(study, budget=1.0, target=0.001)
    assert missed[1].startswith("Within USD 1 a year: none fits: the cheapest by the year is “10” at")
    assert missed[2].startswith(
        "For a chance of a supply shortfall of at most 0.1 %: none is surely within 0.1 %: the"
    )


def test_hours_are_told_where_chances_tell_nothing():
    """The measure is named: patient-hours, with what they may be off by."""
    said = told(made_up_study({"a": 200, "b": 199}, costs=None))[0]
    assert said.startswith(
        "Of all 2 options, “b” has the fewest unserved patient-hours: 20.9 a year. With at least"
    )
    assert "it is at most" in said
    assert said.endswith("patient-hours a year worse than the best.")


def test_the_table_greys_what_is_dominated():
    """The frontier is numbered from cheap to dear, and a dominated option names the number that beats it."""
    table = decision_text.options_table(decide(priced([10, 20, 30, 40], [80, 30, 35, 0])))
    assert [(row[0], row[-1]) for row in table.rows] == [
        ("10", "frontier 1 (sure)"),
        ("20", "frontier 2 (sure)"),
        ("40", "chosen; frontier 3 (sure)"),
        ("30", "dominated by 2"),
    ]
    assert table.grey == (3,)


def test_many_dominated_options_are_counted_not_listed():
    """Of 25 dominated options the 20 cheapest are shown, and the note counts the others."""
    table = decision_text.options_table(decide(priced(range(10, 36), [0] + [20] * 25)))
    assert len(table.rows) == 21
    assert table.note.endswith("5 more dominated options are left out here.")


def test_the_drawing_says_in_words_what_it_shows():
    """The alt text names the frontier with cost and chance; limits are drawn where they are stated."""
    decision = decide(priced([10, 20, 30, 40], [80, 30, 35, 0]), Limits(budget=9_000.0, target=0.2))
    picture = frontier(decision)
    assert picture.alt.startswith("4 options by cost, to the right, and chance of a supply shortfall, upwards.")
    assert picture.alt.endswith(
        "15 %) and 40 (USD 1,750, none seen). 3 of the 4 marks are sure."
    )  # 40 x 20.16 (annuity of 300) + 40 x 10 + 30 x 18
    labels = {text.get_text() for text in picture.figure.legends[0].get_texts()}
    assert labels == {
        "95 % interval",
        "dominated",
        "frontier, by number",
        "hollow: not sure",
        "chosen",
        "budget a year",
        "target",
    }
    (axes,) = picture.figure.axes
    assert [text.get_text() for text in axes.texts] == ["1", "2", "3", "chance of a supply shortfall, %"]
    by_hours = frontier(decide(priced([10, 20], [200, 199])))
    assert by_hours.figure.axes[0].texts[-1].get_text() == "unserved patient-hours a year"


def test_options_without_prices_are_told_without_a_frontier(tmp_path, capsys):
    """Nothing of money is told, drawn or written where there are no prices."""
    study = made_up_study({"a": 10, "b": 100}, costs=None)
    decision = decide(study)
    print_decision(study, summarise(study), decision)
    shown = capsys.readouterr().out
    assert "cheque" not in shown
    assert "2 options, 200 replications" in shown
    stage_decision(tmp_path, decision)
    assert [path.name for path in tmp_path.iterdir()] == ["options.csv"]
    assert decision_part(study, summarise(study), decision).name == "options"


def test_compare_options_prints_the_cheque_and_writes_the_files(tmp_path):
    """The terminal shows choice, cheque and list; the folder holds options, procurement and the drawing."""
    out = tmp_path / "out"
    done = asked(tmp_path, "compare", "--options", "--target", "99 %", "--out", str(out))
    assert done.exit_code == 0, done.output
    for part in ("fleet 30", "The cheque for “", "If 20 % more patients come", "What to buy for “", "2 options"):
        assert part in done.stdout
    rows = list(csv.DictReader((out / "options.csv").read_text(encoding="utf-8").splitlines()))
    assert [(row["option"], row["cylinders.fleet"]) for row in rows] == [("fleet 8", "8"), ("fleet 30", "30")]
    assert {path.name for path in out.iterdir()} >= {"procurement.csv", "frontier.svg", "manifest.json"}


def test_compare_options_as_json(tmp_path):
    """The object of `compare` with a decision in it; every number is one that JSON knows."""
    done = asked(tmp_path, "compare", "--options", "--budget", "9000 USD/year", "--json")
    result = json.loads(done.stdout, parse_constant=lambda name: pytest.fail(name))
    assert list(result["strategies"]) == ["fleet 8", "fleet 30"]
    assert result["decision"]["limits"] == {"budget": 9_000.0, "capital": None, "target": None}
    assert result["decision"]["cheque"]["first_year_capital"] in (8 * 210, 30 * 210)
    assert result["decision"]["procurement"][0]["group"] == "At once"


def test_limits_without_options_choose_among_the_strategies(tmp_path):
    """A file without options has its strategies compared, and a report has the part that says which to buy."""
    plain = SCENARIO.split("options:")[0]
    done = asked(tmp_path, "compare", "--capital", "9000 USD", text=plain)
    assert "With one option to choose from, “cylinders only” has the fewest" in " ".join(done.stdout.split())
    page = tmp_path / "page.html"
    assert asked(tmp_path, "report", "-o", str(page), "--options").exit_code == 0
    assert '<h2 id="options">Which to buy</h2>' in page.read_text(encoding="utf-8")
    book = tmp_path / "book.xlsx"
    assert asked(tmp_path, "report", "-o", str(book), "--target", "50 %").exit_code == 0
    sheets = load_workbook(book)
    assert sheets["Options"]["B2"].data_type == "n"
    assert [row[0].value for row in sheets["Cheque"]][1:3] == ["cylinders", "first filling of the cylinders"]
    assert "Regulators" in [row[0].value for row in sheets["To buy"]]


def test_a_report_stopped_at_its_options_is_written_all_the_same(tmp_path, monkeypatch):
    """Stopped after the strategies the page holds these, nothing of options, and the exit code is 130."""

    def stop(study, *_, **__):
        if len(study.hospitals) > 1:
            raise KeyboardInterrupt
        return run_study(study, *_, **__)

    monkeypatch.setattr("o2sim.runs.study.run_study", stop)
    page = tmp_path / "page.md"
    done = asked(tmp_path, "report", "-o", str(page), "--options")
    assert (done.exit_code, "the report is of the strategies" in done.stderr) == (130, True)
    assert "Which to buy" not in page.read_text(encoding="utf-8")


def test_numbered_options_are_explained():
    """An option that is only numbered is told with what it chooses; what cannot be multiplied is told too."""
    study = priced([10, 20], [80, 0])
    decision = decide(study)
    options = {f"option {name}": option for name, option in decision.options.items()}
    options["option 20"] = replace(options["option 20"], choices={"cylinders.fleet": "20"})
    numbered = replace(
        decision,
        options=options,
        frontier=("option 10", "option 20"),
        chosen="option 20",
        best=replace(decision.best, name="option 20"),
        more_demand=MoreDemand(1.2, True, "a register's patients cannot be multiplied"),
    )
    assert "Option 20: cylinders.fleet 20." in decision_text.sentences(numbered, 200, 365)
    assert list(decision_text.cheque_sentences(numbered))[1] == (
        "What 20 % more patients would cost is not known: a register's patients cannot be multiplied."
    )


@pytest.mark.parametrize(
    ("arguments", "code", "said"),
    [
        (["--budget", "9000 EUR/year"], 2, "--budget is in EUR, the prices of the scenario in USD: convert it"),
        (["--budget", "9000"], 2, "a currency is missing"),
        (["--target", "100 %"], 2, "a chance lies between 0 % and 100 %"),
        (["--options"], 1, "found no options; add a section such as"),
    ],
)
def test_what_cannot_be_asked_is_told(tmp_path, arguments, code, said):
    """Another currency, a bare number, a certain target and options that are not there are told before the run."""
    done = asked(tmp_path, "compare", *arguments, text=SCENARIO.split("options:")[0])
    assert done.exit_code == code
    assert said in " ".join(done.stderr.split())


def test_a_budget_without_prices_is_refused(tmp_path):
    """Money can limit nothing where there are no prices."""
    text = "\n".join(line for line in SCENARIO.splitlines() if not line.startswith(("costs", "options")))
    done = asked(tmp_path, "compare", "--budget", "9000 USD/year", text=text)
    assert (done.exit_code, "--budget needs prices" in done.stderr) == (2, True)


def test_the_report_shows_the_frontier_in_colours_that_can_be_read():
    """The grey of a dominated row is text that can be read: it has its class, and its colour is in the style."""
    study = priced([10, 20, 30], [80, 30, 35])
    decision = decide(study)
    part = decision_part(study, summarise(study), decision)
    choice = Choice(decision, study)
    page = report_bytes(study, summarise(study), "html", None, [part], choice=choice).decode()
    assert page.count('<tr class="grey">') == 1
    assert ".o2sim tr.grey td { color: #595959; }" in page
    assert 'id="frontier-title"' in page


def test_the_report_tells_which_to_buy_before_the_figures():
    """The question is asked, what fits the limits stands first and strong, and the command has the limits."""
    study = priced([10, 20, 30], [80, 30, 35])
    flags = again(ChooseSettings(options=True, budget=(9_000.0, "USD"), target=0.3))
    assert flags == "--options --budget '9000 USD/year' --target '30 %'"
    decision = decide(study, Limits(budget=9_000.0, target=0.3))
    part = decision_part(study, summarise(study), decision, again=flags)
    assert isinstance(part.blocks[0], Strong)
    assert part.blocks[0].text.startswith(
        "The cheapest that is surely within a chance of a supply shortfall of 30 %"
    )
    text = report_bytes(study, summarise(study), "md", None, [part], choice=Choice(decision, study)).decode()
    heads = [line for line in text.splitlines() if line.startswith("## ")]
    assert heads[:2] == ["## The question", "## The decision"]
    assert heads[5:8] == ["## The answer", "## Which to buy", "## The strategies"]
    assert "Which should be bought, for what money?" in text
    assert f"--engine {study.engine} {flags}" in text
