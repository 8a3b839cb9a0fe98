"""`o2sim drivers` as a user meets it: words, tables, charts, JSON, stores, and what it refuses."""

import csv
import json
from dataclasses import replace
from importlib.util import find_spec

import pytest
from click.testing import CliRunner
from test_drivers import CHANCE, PATHS, SHORT, UNSURE
from test_result_schema import problems

from o2sim.cli import main
from o2sim.looks.drawing import save
from o2sim.measures.names import SUPPLY_HOURS
from o2sim.questions.drivers import charts as drivers_charts
from o2sim.questions.drivers import text as drivers_text
from o2sim.questions.drivers.content import print_drivers
from o2sim.questions.drivers.drivers import drivers
from o2sim.scenario.changing.override import original_of

METHODS = ["one-at-a-time", "nested", "morris", "sobol"]
KEEP = 20  # replications


@pytest.fixture(scope="module")
def results():
    """Return a result by method, of a scenario with prices."""
    pytest.importorskip("SALib")
    few = {"one-at-a-time": (KEEP, None), "nested": (KEEP, 8), "morris": (4, 3), "sobol": (4, 4)}
    return {
        method: drivers(original_of(UNSURE), method=method, replications=few[method][0], samples=few[method][1],
                        worth=4000.0) for method in METHODS
    }  # fmt: skip


@pytest.fixture
def ward(tmp_path):
    """Return a scenario file with uncertain numbers."""
    path = tmp_path / "ward.yaml"
    path.write_text(UNSURE)
    return path


def run(*arguments):
    """Return what a call gives."""
    return CliRunner().invoke(main, ["drivers", *map(str, arguments)])


def told(result, capsys):
    """Return what is printed of a result, in one line."""
    print_drivers(result.answers)
    return " ".join(capsys.readouterr().out.split())


def test_the_answer_stands_first_in_words(ward, tmp_path):
    """What matters most, by strategy, with the chances at its ends; the table; provenance; files."""
    chart, table = tmp_path / "tornado.svg", tmp_path / "bars.csv"
    done = run(ward, "--replications", KEEP, "--workers", 1, "--chart", chart, "--csv", table)
    assert done.exit_code == 0, done.output
    plain = " ".join(done.stdout.split())
    assert plain.startswith("What drives the answer? 4 numbers are uncertain.")
    for said in (
        "What matters most under “cylinders only”: ", "the best guess", "→", "* more than chance explains",
        "seed 1 | one-at-a-time, 20 replications a point", "A range is only as good as who gave it",
    ):  # fmt: skip
        assert said in plain
    assert "this takes the likely" not in done.stderr
    assert "<svg" in chart.read_text()
    rows = list(csv.DictReader(table.read_text().splitlines()))
    assert {row["method"] for row in rows} == {"one-at-a-time"}
    assert {row["field"] for row in rows} == {"", *PATHS}


def test_json_is_one_object_with_its_provenance(ward):
    """Nothing else on stdout; a field of the command line is among the uncertain ones."""
    done = run(ward, "--json", "--replications", 2, "--strategy", "mixed", "--vary",
               "cylinders.fleet = 22, 24, 30",
               "--seed", 7)  # fmt: skip
    result = json.loads(done.stdout)
    assert {"version", "scenario_hash", "seed", "replications", "engine", "units"} <= result.keys()
    assert (result["seed"], result["method"], list(result["strategies"])) == (7, "one-at-a-time", ["mixed"])
    assert [each["field"] for each in result["uncertain"]] == [*PATHS, "cylinders.fleet"]


def test_a_nested_run_says_best_guess_range_and_chance_apart(results, capsys):
    """Years in 100 at the best guess, between so many and so many given what is not known; who is best."""
    plain = told(results["nested"], capsys)
    for said in (
        "at the best guess; between", "given what we do not know",
        "By the rule “lowest chance of a supply shortfall”",
        "By the rule “cheapest with a supply shortfall in at most 5 %”",
        "USD 4,000 for a year with a supply shortfall",
        "not known, of a year's variance", "Draws × replications", "8 × 20", "nested, 8 draws, 20 replications",
        "PERT",
    ):  # fmt: skip
        assert said in plain


@pytest.mark.parametrize("method", METHODS)
def test_results_pass_the_schema_of_results(results, method):
    """Every key that is printed is told, and none is missing."""
    assert problems(json.loads(json.dumps(results[method].result)), "drivers") == []


@pytest.mark.parametrize(("method", "heads"), [("morris", "mu* mu sigma"), ("sobol", "S1 ST")])
def test_indices_are_told_with_their_half_widths(results, capsys, method, heads):
    """A table for each strategy and measure."""
    plain = told(results[method], capsys)
    assert heads in plain
    assert "±" in plain
    assert "most under “" in plain or "too few points were run" in plain


@pytest.mark.parametrize(
    ("method", "measure"),
    [
        ("one-at-a-time", "chance"),
        ("nested", "cost"),
        ("nested", "chance"),
        ("morris", "hours"),
        ("sobol", "chance"),
    ],
)
def test_charts_are_the_same_bytes_each_time(results, method, measure, tmp_path):
    """Every method can be drawn, whatever the measure."""
    drawn = []
    for name in ("a.svg", "b.svg"):
        save(drivers_charts.draw(results[method].answers, measure), tmp_path / name)
        drawn.append((tmp_path / name).read_bytes())
    assert drawn[0] == drawn[1]
    assert drawn[0].count(b"<path") > 20


def test_the_low_end_is_hatched_and_both_ends_are_labelled(results):
    """Told apart without colour: hatch, and the value at each end."""
    figure = drivers_charts.draw(results["one-at-a-time"].answers, "hours")
    panel = figure.axes[0]
    assert {patch.get_hatch() for patch in panel.patches} == {"////", None}
    assert {"0.3 / day", "3 / day"} <= {text.get_text() for text in panel.texts}


def test_without_prices_there_is_no_cost_to_draw(tmp_path):
    """Told before the work on the command line, and by the drawing itself."""
    text = UNSURE[: UNSURE.index("costs:")] + UNSURE[UNSURE.index("strategies:") :]
    file = tmp_path / "plain.yaml"
    file.write_text(text)
    done = run(file, "--chart", tmp_path / "x.png", "--measure", "cost")
    assert (done.exit_code, "states no prices" in done.stderr) == (2, True)
    result = drivers(file, replications=2, strategies=["mixed"]).answers
    assert "annual_cost" not in result.strategies["mixed"].bars
    with pytest.raises(Exception, match="no prices"):
        drivers_charts.draw(result, "cost")


def test_where_nothing_moves_it_says_so(tmp_path, capsys):
    """A price alone moves no chance; a strategy at 100 % whatever the numbers is told by its hours."""
    text = SHORT.replace("refill: 10 USD", "refill: {low: 5 USD, likely: 10 USD, high: 30 USD}")
    result = drivers(original_of(text), replications=4)
    plain = told(result, capsys)
    assert "no number moves the patient-hours" in plain
    panel = drivers_charts.draw(result.answers).axes[0]
    assert any("the same at every end" in each.get_text() for each in panel.texts)
    if find_spec("SALib"):
        morris = drivers(original_of(text), method="morris", samples=2, replications=2)
        assert "nothing varies" in told(morris, capsys)
    nested = drivers(original_of(text), method="nested", samples=4, replications=4)
    assert "whatever the numbers within their ranges" in told(nested, capsys)
    assert "Whatever the numbers turn out to be, that choice stands" in told(nested, capsys)


def test_many_numbers_are_cut_on_the_screen_and_named_when_idle(results, monkeypatch, capsys):
    """What is not shown is counted; what does nothing at all is named."""
    from o2sim.questions.drivers import content

    monkeypatch.setattr(content, "MOST_BARS", 1)
    plain = told(results["one-at-a-time"], capsys)
    assert "with smaller swings are not shown: --csv has them." in plain
    assert "Nothing at all changes with power.grid.down." in plain


def test_a_sentence_counts_what_does_not_matter(results):
    """One bar beyond luck, one within it, none at all."""
    answers = results["one-at-a-time"].answers
    found = answers.strategies["mixed"].bars[CHANCE]

    def said(sure, bars=found):
        """Return the sentence where the first bars are beyond luck."""
        bars = tuple(
            replace(bar, beyond_luck=place < sure, swing=0.5 - place / 10) for place, bar in enumerate(bars)
        )
        mixed = replace(answers.strategies["mixed"], bars={CHANCE: bars, SUPPLY_HOURS: ()})
        return drivers_text.sentences(replace(answers, strategies={"mixed": mixed}))[0]

    assert f"Next comes {found[1].field}." in said(2)
    assert "What the 2 others do is no more than chance explains." in said(2)
    assert "Next come " in said(3)
    assert "What the other one does is no more" in said(3)
    assert "stopped before any number had both its ends" in said(0, ())


def test_a_stopped_run_says_so_and_leaves_with_130(ward, tmp_path, monkeypatch):
    """What was done is told; with the store it goes on."""
    from o2sim.questions.whatif import point_runs

    real, calls = point_runs.run_replication, []

    def stopping(*arguments):
        calls.append(1)
        if len(calls) > 11:
            raise KeyboardInterrupt
        return real(*arguments)

    monkeypatch.setattr(point_runs, "run_replication", stopping)
    done = run(ward, "--replications", 2, "--store", tmp_path / "d.o2store", "--workers", 1)
    assert done.exit_code == 130
    assert "Stopped: only what was done is shown." in " ".join(done.stdout.split())
    monkeypatch.setattr(point_runs, "run_replication", real)
    assert run(ward, "--replications", 2, "--store", tmp_path / "d.o2store").exit_code == 0
    shown = CliRunner().invoke(main, ["runs", str(tmp_path / "d.o2store")])
    assert "mixed" in shown.stdout


def test_a_store_of_another_kind_is_refused(ward, tmp_path):
    """A store belongs to one kind of work."""
    store = tmp_path / "w.o2store"
    made = CliRunner().invoke(main, ["whatif", str(ward), "--vary", "concentrators.count = 2", "--replications",
                                     "1",
                                     "--store", str(store)])  # fmt: skip
    assert made.exit_code == 0, made.output
    done = run(ward, "--store", store)
    assert (done.exit_code, "the points of a what-if" in done.stderr) == (1, True)


@pytest.mark.parametrize(
    ("arguments", "code", "said"),
    [
        (["--strategy", "mixd"], 2, "Did you mean 'mixed'?"),
        (["--chart", "x.pdf"], 2, "write a name that ends in .png or .svg"),
        (["--target", "nonsense"], 1, "target"),
        (["--method", "guess"], 2, "one-at-a-time"),
        (["--samples", "1"], 2, "samples"),
        (["--vary", "cylinders.fleet = 1, 2"], 1, "low, likely and high"),
        (["--vary", "cylinders.fleet = {low: 1, likely: 2, high: 3}"], 1, "low, likely and high with commas"),
        (["--vary", "cylinders.fleet = 3, 2, 1"], 2, "low <= likely <= high"),
    ],
)
def test_what_is_refused_leaves_with_its_code(ward, arguments, code, said):
    """Messages on stderr, nothing on stdout, no traceback."""
    done = run(ward, *arguments)
    assert (done.exit_code, done.stdout) == (code, "")
    assert said in done.stderr


def test_a_scenario_without_ranges_is_told_how_to_write_them(tmp_path):
    """And a file that is there already is not written over."""
    file = tmp_path / "plain.yaml"
    file.write_text(SHORT)
    done = run(file)
    assert (done.exit_code, "{low: 1 h, likely: 2 h, high: 6 h}" in done.stderr) == (1, True)
    done = run(file, "--csv", file)
    assert "is there already" in done.stderr


def test_a_chance_that_is_the_same_in_every_draw_is_drawn_without_a_legend(results):
    """Where no strategy's chance moves, nothing is plotted below, and nothing is said about an empty legend."""
    answers = results["nested"].answers
    level = {name: {"mean": 1.0, "range_low": 1.0, "range_high": 1.0} for name in answers.strategies}
    still = replace(answers, convergence=tuple(replace(row, strategies=level) for row in answers.convergence))
    assert [panel.get_legend() for panel in drivers_charts.draw(still).axes if not panel.lines] == [None]
