"""pandas in and out: what a frame says is what the result holds, and a frame does what a file would do."""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from small_ward import WARD

import o2sim
from o2sim import tabular
from o2sim.errors import O2simError, ScenarioError
from o2sim.outcome import SUPPLY_CAUSES
from o2sim.questions.choose.options import options_scenario
from o2sim.scenario.changing.facilities import read_facilities

SCENARIOS = Path(__file__).parents[2] / "scenarios"
REGISTERED = WARD.replace("admissions: 1 / day, flow: 2 L/min, duration: {exponential: {mean: 40 h}}",
                          "register: {file: admissions.csv, from: 2027-01-01, to: 2027-12-31}")  # fmt: skip


@pytest.fixture(scope="module")
def ward():
    """The ward, loaded from its text."""
    return o2sim.loads(WARD)


@pytest.fixture(scope="module")
def found(ward):
    """Its strategies compared over twelve replications."""
    return o2sim.compare(ward, replications=12, seed=3)


def test_cells_are_texts_as_a_file_would_have_them():
    """Whole numbers lose their fraction, truth is in small letters, what is missing is empty."""
    table = pd.DataFrame(
        {
            " a ": [1.0, np.nan],
            "b": [True, False],
            "c": [None, "4 h"],
            "d": [pd.NaT, pd.Timestamp("2027-02-03 04:05")],
        }
    )
    assert tabular.cells(table, "x") == (
        ["a", "b", "c", "d"], [["1", "true", "", ""], ["", "false", "4 h", "2027-02-03 04:05:00"]]
    )  # fmt: skip
    odd = pd.DataFrame(
        {"n": pd.array([7, None], dtype="Int64"), "c": pd.Categorical(["x", None]), "o": [np.array([1, 2]), 1e300]}
    )
    assert tabular.cells(odd, "x")[1] == [["7", "x", "[1 2]"], ["", "", "1e+300"]]
    assert tabular.csv_text(table[["b"]], "x") == "b\r\ntrue\r\nfalse\r\n"
    with pytest.raises(O2simError, match="x: found list; allowed: a pandas DataFrame"):
        tabular.cells([1], "x")


def test_a_column_of_numbers_stays_one_where_some_are_missing():
    """A missing number is NaN, whole numbers stay whole where none is, texts and truth stay themselves."""
    frame = tabular.data_frame(("n", "m", "t", "b"), [(1, "", "a", True), (2, 2.5, None, False)])
    assert [str(kind) for kind in frame.dtypes[["n", "m", "b"]]] == ["int64", "float64", "bool"]
    assert np.isnan(frame["m"][0])
    assert frame["t"][0] == "a"


def test_the_comparison_as_a_frame_holds_the_summary(found):
    """A row a strategy, with the ends of its intervals, money in the currency of the prices."""
    frame = found.to_frame().set_index("name")
    item = found.summary["strategies"]["mixed"]
    assert list(frame.index) == ["cylinders only", "concentrators only", "mixed"]
    assert frame.loc["mixed", "stock_out_probability_high"] == item["stock_out_probability"]["high"]
    assert frame.loc["mixed", "annual_cost (USD/year)"] == item["annual_cost"]["mean"]
    assert frame.loc["mixed", "unserved_patient_hours_low (h/year)"] == item["unserved_patient_hours"]["low"]
    assert list(frame.index[frame["chosen"]]) == [found.chosen]
    assert set(frame.index[frame["dominated_by"] == ""]) == set(found.frontier)
    differences = found.to_frame("differences")
    assert len(differences) == len(found.summary["differences"])
    assert set(differences["unit"]) == {
        "share of replications, 0 to 1", "number per 365 days", "patient-hours per 365 days", "USD per 365 days",
        "share, 0 to 1"
    }  # fmt: skip


def test_a_study_as_frames_holds_measures_replications_and_days(found):
    """The unit stands in a column or in the name; the sum over replications is the mean of the summary."""
    study = found.study
    measures = study.to_frame()
    cost = measures.query("strategy == 'mixed' and measure == 'annual_cost'").iloc[0]
    assert (cost["estimate"], cost["unit"]) == (
        found.summary["strategies"]["mixed"]["annual_cost"]["mean"], "USD per 365 days"
    )  # fmt: skip
    rows = study.to_frame("replications")
    assert rows.shape[0] == 3 * 12
    mean = rows.query("strategy == 'mixed'")["cost_per_year (USD)"].mean()
    assert mean == pytest.approx(cost["estimate"], abs=0.01)
    drawn = rows.query("strategy == 'concentrators only'")["grid_charging_kwh"]
    assert (drawn == 0).all()  # no battery is charged
    assert not [name for name in rows.columns if name.endswith(("_ws", "fuel_used"))]
    days = study.to_frame("days")
    assert days.shape[0] == 3 * 12 * 60
    settled = study.to_frame("convergence").query("strategy == 'mixed'").iloc[-1]
    chance = found.summary["strategies"]["mixed"]["stock_out_probability"]
    assert (settled["replications"], settled["estimate"], settled["high"]) == (
        12,
        chance["estimate"],
        chance["high"],
    )
    with pytest.raises(
        O2simError, match="found of='weeks'; allowed: measures, replications, convergence, costing, "
    ):
        study.to_frame("weeks")


def test_a_frame_of_options_gives_what_the_file_gives(ward):
    """The four options of the file as rows: the same hospitals and so the same outcomes."""
    table = pd.DataFrame({"cylinders.fleet": [12, 12, 14, 14], "concentrators.count": [1, 2, 1, 2]})
    of_file = o2sim.compare(ward, options=True, replications=6)
    of_table = o2sim.compare(ward, options=table, of="mixed", replications=6)
    assert of_table.study.scenario.hash == options_scenario(ward).hash == of_file.study.scenario.hash
    assert of_table.to_frame().equals(of_file.to_frame().astype(of_table.to_frame().dtypes))


def test_an_empty_cell_leaves_the_strategy_as_it_is(ward):
    """Named rows; the one without a value is the strategy itself."""
    table = pd.DataFrame({"name": ["now", "more"], "cylinders.fleet": [np.nan, 20]})
    given = o2sim.compare(ward, options=table, of="mixed", replications=4, target="20 %", budget="9000 USD/year")
    alone = o2sim.run_study(ward, strategies=["mixed"], replications=4)
    assert given.study.outcomes["now"][3].stock_outs == alone.outcomes["mixed"][3].stock_outs
    assert given.decision["options"]["now"]["choices"] == {"cylinders.fleet": "as it is"}
    assert (given.limits.target, given.limits.budget) == (0.2, 9000.0)


@pytest.mark.parametrize(
    ("table", "of", "message"),
    [
        (pd.DataFrame({"cylinders.fleet": [3]}), None, "found nothing for `of`"),
        (pd.DataFrame({"cylinders.fleet": [3]}), "mixt", "found 'mixt' for `of`"),
        (pd.DataFrame({"name": ["a"]}), "mixed", "found 1 rows under name; allowed: a row for each option"),
        (pd.DataFrame({"cylinders.fleet": []}), "mixed", "found 0 rows"),
        (pd.DataFrame({"cylinders.fleet": [3, 3]}), "mixed", "options, row 2: the same as row 1"),
        (pd.DataFrame({"cylinders.fleet": ["many"]}), "mixed", "options.row 1.cylinders.fleet: found 'many'"),
        (pd.DataFrame({"cylinders.flet": [3]}), "mixed", "the key 'flet' is unknown.*fleet"),
        (pd.DataFrame({"cylinders.fleet": ["{"]}), "mixed", "options.row 1.cylinders.fleet"),
        (
            pd.DataFrame({"name": ["a", "a"], "cylinders.fleet": [3, 4]}),
            "mixed",
            "options.row 2: found the name 'a'",
        ),
        ([{"cylinders.fleet": 3}], "mixed", "options: found list; allowed: a pandas DataFrame"),
    ],
)
def test_a_frame_of_options_that_cannot_be_used_is_refused(ward, table, of, message):
    """Where, what was found, what is allowed."""
    with pytest.raises(O2simError, match=message):
        o2sim.compare(ward, options=table, of=of, replications=1)


@pytest.mark.parametrize(
    ("asked", "message"),
    [
        ({"of": "mixed"}, "found `of` without options"),
        ({"options": True, "of": "mixed"}, "leave `of` out"),
        ({"budget": "10 EUR/year"}, "found EUR, the prices of the scenario are in USD"),
        ({"capital": -1.0}, "capital: found -1.0; allowed: an amount of money of at least 0"),
        ({"target": "120 %"}, "target: found '120 %'"),
        ({"strategies": ["mixt"]}, "no strategy is named 'mixt'; did you mean 'mixed'"),
    ],
)
def test_what_compare_cannot_do_is_refused(ward, asked, message):
    """Where, what was found, what is allowed."""
    with pytest.raises(O2simError, match=message):
        o2sim.compare(ward, replications=1, **asked)


def test_a_study_is_not_run_again(found):
    """It is taken as it is, in whole or in part; what would change it is refused."""
    part = o2sim.compare(found.study, strategies=["mixed"])
    assert part.study.outcomes["mixed"] is found.study.outcomes["mixed"]
    assert o2sim.compare(found.study).study is found.study
    for asked, message in (
        ({"replications": 3}, "found a study with replications: it is run already"),
        ({"strategies": ["x"]}, "the study has no strategy 'x'"),
        ({"options": True}, "found a study and options"),
    ):
        with pytest.raises(O2simError, match=message):
            o2sim.compare(found.study, **asked)
    with pytest.raises(O2simError, match="found int; allowed: a scenario, its file, or a study"):
        o2sim.compare(3)


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda _: o2sim.run_study(5), "found int; allowed: the path of a scenario file"),
        (lambda _: o2sim.size(5, "mixed"), "found int; allowed: a scenario, or the path of its file"),
        (lambda ward: o2sim.size(ward, "mixed", vary=pd.DataFrame({"a": [1]})), "vary: found DataFrame"),
        (lambda ward: o2sim.whatif(ward, 5), "vary: found int; allowed: texts as FIELD = 1 h, 2 h"),
        (
            lambda _: o2sim.loads(WARD, tables=5),
            "tables: found int; allowed: data frames by the names of files",
        ),
        (
            lambda _: o2sim.loads(WARD, tables={"a": 5}),
            r"tables\['a'\]: found int; allowed: a pandas DataFrame",
        ),
        (lambda _: o2sim.write_report(5, "r.html"), "found int; allowed: a study or a comparison"),
    ],
)
def test_what_a_function_cannot_take_is_refused(ward, call, message):
    """What was found and what is allowed, not an error from deep inside."""
    with pytest.raises(O2simError, match=message):
        call(ward)


def test_one_strategy_may_be_named_as_a_text(ward, found):
    """Not taken for a list of letters."""
    assert list(o2sim.run_study(ward, strategies="mixed", replications=1).outcomes) == ["mixed"]
    assert list(o2sim.compare(found.study, strategies="mixed").study.outcomes) == ["mixed"]
    asked = o2sim.whatif(ward, "cylinders.fleet = 12", strategies="mixed", replications=1)
    assert asked.result["strategies"] == ["mixed"]
    facilities = o2sim.study(pd.DataFrame({"name": ["A"]}), ward, strategies="mixed", replications=1)
    assert list(facilities.to_frame()["strategy"]) == ["mixed"]


def test_a_limit_in_money_needs_prices():
    """Without the section costs there is nothing to hold it against, and no cost in the frame."""
    unpriced = o2sim.loads(WARD[: WARD.index("costs:")] + WARD[WARD.index("strategies:") :])
    done = o2sim.compare(unpriced, replications=2)
    assert not [name for name in done.to_frame().columns if "cost" in name or "capital" in name]
    with pytest.raises(O2simError, match="budget: the scenario states no prices"):
        o2sim.compare(done.study, budget=3.0)


def test_the_curve_and_the_points_have_their_fields_as_numbers(ward):
    """A field's unit stands in the name of its column; the frame holds what the result holds."""
    sized = o2sim.size(ward, "mixed", target="30 %", vary="cylinders.fleet = 10..16 step 2", replications=40)
    curve = sized.to_frame()
    assert list(curve["cylinders.fleet"]) == [10, 12, 14, 16]
    assert list(curve["failures"]) == [point["failures"] for point in sized.curve]
    assert [str(value) for value in curve["cylinders.fleet"][curve["enough"]]] == (
        [] if sized.answer is None else [sized.answer["cylinders.fleet"]]
    )
    asked = o2sim.whatif(ward, ["power.grid.down.median = 2 h, 90 min"], replications=3, strategies=["mixed"])
    points = asked.to_frame()
    assert list(points["power.grid.down.median (h)"]) == [2.0, 1.5]
    assert (
        points["annual_cost (USD/year)"][1]
        == asked.result["points"][1]["strategies"]["mixed"]["annual_cost"]["mean"]
    )
    assert asked.to_frame("measures").shape == (len(asked.rows()), len(asked.columns))
    assert list(asked.to_frame("break-evens").columns)[:3] == ["field", "unit", "at"]


def test_a_frame_of_combinations_runs_those_and_no_others(ward):
    """Rows in their order; the same figures as the same points of the whole grid."""
    design = pd.DataFrame({"cylinders.fleet": [14, 12], "power.grid.down.median": ["4 h", "1 h"]})
    chosen = o2sim.whatif(ward, design, replications=3)
    grid = o2sim.whatif(ward, ["cylinders.fleet = 14, 12", "power.grid.down.median = 4 h, 1 h"], replications=3)
    assert [point["values"] for point in chosen.result["points"]] == [
        {"cylinders.fleet": "14", "power.grid.down.median": "4 h"},
        {"cylinders.fleet": "12", "power.grid.down.median": "1 h"},
    ]
    assert chosen.result["points"] == [grid.result["points"][0], grid.result["points"][3]]
    with pytest.raises(O2simError, match="no grid"):
        chosen.chart("heat")


@pytest.mark.parametrize(
    ("design", "message"),
    [
        (pd.DataFrame({"cylinders.fleet": []}), "found 0 rows under cylinders.fleet; allowed: a column"),
        (pd.DataFrame({"cylinders.fleet": [4, None]}), "row 2: found no value for cylinders.fleet"),
        (pd.DataFrame({"cylinders.fleet": [4, 4]}), "row 2: these values stand in row 1 already"),
        (pd.DataFrame({"cylinders.fleet": range(2001)}), "found 2,001 rows; allowed: at most 2,000"),
    ],
)
def test_a_frame_of_combinations_that_cannot_be_run_is_refused(ward, design, message):
    """Where, what was found, what is allowed."""
    with pytest.raises(O2simError, match=message):
        o2sim.whatif(ward, design, replications=1)


def test_a_frame_of_facilities_gives_what_the_csv_gives():
    """The demo province: the same scenarios, so the same hashes, and the same figures but for the place."""
    table, base = pd.read_csv(SCENARIOS / "province.csv"), o2sim.load(SCENARIOS / "health_centre.yaml")
    of_frame = o2sim.study(table, base, replications=2).to_frame()
    of_csv = o2sim.study(SCENARIOS / "province.csv", SCENARIOS / "health_centre.yaml", replications=2).to_frame()
    assert of_frame.drop(columns="place").equals(of_csv.drop(columns="place"))
    sound = read_facilities(SCENARIOS / "province.csv", SCENARIOS / "health_centre.yaml").sound
    assert list(dict.fromkeys(of_frame["scenario_hash"])) == [each.scenario.hash for each in sound]
    assert of_frame["place"][0] == "facilities table:1"


def test_facilities_that_cannot_be_run_are_told_by_their_row(ward):
    """All problems at once; skipped on request, and told."""
    table = pd.DataFrame(
        {"name": ["A", "B", "C"], "cylinders.fleet": [12, "few", 13], "patients.all.flow": "1 L/min"}
    )
    with pytest.raises(ScenarioError, match=r"facilities table:2: cylinders.fleet: found 'few'"):
        o2sim.study(table, ward, replications=1)
    done = o2sim.study(table, ward, replications=1, strategies=["mixed"], skip_bad=True)
    assert list(done.to_frame()["facility"]) == ["A", "C"]
    assert [problem.line for problem in done.left_out] == [2]
    for asked, message in (
        ((table, None), "found no base scenario"),
        ((table.iloc[:0], ward), "found a header, but no facilities"),
        (([1], ward), "facilities: found list"),
    ):
        with pytest.raises(O2simError, match=message):
            o2sim.study(*asked)
    with pytest.raises(O2simError, match="at least 1 replication"):
        o2sim.study(table, ward, replications=0)


def test_a_stopped_study_of_facilities_keeps_those_that_are_finished(ward):
    """Ctrl-C in the second: the first is told, and that something is missing; before any, it passes on."""
    table = pd.DataFrame({"name": ["A", "B"], "cylinders.fleet": [12, 13]})

    def stop_after(most):
        def progress(done):
            if done > most:
                raise KeyboardInterrupt

        return progress

    done = o2sim.study(table, ward, replications=3, progress=stop_after(3))
    assert (done.result["complete"], list(done.to_frame()["facility"].unique())) == (False, ["A"])
    assert done.to_frame().equals(o2sim.study(table.iloc[:1], ward, replications=3).to_frame())
    with pytest.raises(KeyboardInterrupt):
        o2sim.study(table, ward, replications=3, progress=stop_after(0))


def test_a_busier_year_of_the_chosen_one(found):
    """A fifth more admissions, run again with the same seed: at least as many hours unserved, and dearer."""
    more = found.more_demand()
    now = found.summary["strategies"][found.chosen]
    assert more["factor"] == 1.2
    assert more["annual_cost"] > now["annual_cost"]["mean"]
    assert more["unserved_patient_hours"] > now["unserved_patient_hours"]["mean"]


def test_a_frame_stands_for_a_register_beside_the_scenario(tmp_path):
    """The admissions of a frame give the scenario that the CSV gives; a name that nobody reads is refused."""
    table = pd.DataFrame({"arrival": [0.5, 1.25], "class": "all", "flow": [1.5, 2], "hours": [30, 4]})
    (tmp_path / "ward.yaml").write_text(REGISTERED, encoding="utf-8")
    table.to_csv(tmp_path / "admissions.csv", index=False)
    of_file = o2sim.load(tmp_path / "ward.yaml")
    of_frame = o2sim.loads(REGISTERED, tables={"admissions.csv": table})
    assert of_frame.hash == of_file.hash
    asked = o2sim.whatif(of_frame, "cylinders.fleet = 12, 13", strategies=["mixed"], replications=1)
    assert len(asked.result["points"]) == 2  # changed again, the frame is still there
    with pytest.raises(ScenarioError, match=r"the scenario names no file 'admission.csv'.*admissions.csv"):
        o2sim.loads(REGISTERED, tables={"admission.csv": table})
    with pytest.raises(ScenarioError, match="a scenario on disk, with the file beside it"):
        o2sim.loads(REGISTERED)


def test_observed_flows_and_cuts_can_be_frames_too():
    """An empirical law takes the column it names, the cut list its start and hours; files beside them stay."""
    grid = "{up: {exponential: {mean: 20 h}}, down: {lognormal: {median: 4 h, geometric_sd: 2}}}"
    flow = "{empirical: {file: flows.csv, column: flow, unit: L/min}}"
    text = WARD.replace(grid, "{file: cuts.csv, from: 2027-01-01, to: 2027-12-31}").replace(
        "flow: 2 L/min", f"flow: {flow}"
    )
    flows = pd.DataFrame({"flow": [1, 2.5]})
    cuts = pd.DataFrame({"start": ["2027-01-03 18:00"], "hours": [3.0]})
    ward = o2sim.loads(text, tables={"flows.csv": flows, "cuts.csv": cuts})
    assert ward.hospitals["mixed"].patients[0].flow_ml_min.parameters == (1000.0, 2500.0)
    assert ward.hash != o2sim.loads(text, tables={"flows.csv": flows * 2, "cuts.csv": cuts}).hash


def test_a_changed_scenario_cannot_be_changed_again(ward):
    """What was made by changing another has no text of its own; the message says what to give instead."""
    changed = options_scenario(ward)
    asked = o2sim.whatif(changed, "concentrators.count = 1, 2", replications=1)  # of the same text
    assert list(asked.result["strategies"]) == ["cylinders only", "concentrators only", "mixed"]
    from scenario_texts import with_values

    from o2sim.scenario.changing.override import original

    made = with_values(original(ward), {"cylinders.fleet": "13"})
    with pytest.raises(O2simError, match="made by changing another"):
        o2sim.size(made, "mixed")


def test_what_to_buy_and_one_replication_are_frames(ward, found):
    """A row an item with its basis; a row a step, the last one at or before the end of the run."""
    bought = o2sim.equipment(found.study, strategies=["mixed"])
    frame = bought.to_frame()
    assert set(frame["strategy"]) == {"mixed"}
    units = frame.query("item == 'Concentrators' and list == 'equipment'").iloc[0]
    assert (units["quantity"], units["basis"]) == (2, "scenario")
    worst = o2sim.trace(found.study, "mixed")
    outcomes = found.study.outcomes["mixed"]
    hours = [sum(each.unserved_s[cause] for cause in SUPPLY_CAUSES) for each in outcomes]
    assert (worst.outcome.unserved_s, hours[worst.replication]) == (
        outcomes[worst.replication].unserved_s,
        max(hours),
    )
    steps = worst.to_frame()
    assert steps["time_s"].is_monotonic_increasing
    assert steps.shape[0] == len(worst.outcome.log)
    one = o2sim.trace(ward, "mixed", replication=worst.replication, seed=3)
    assert one.outcome.log == worst.outcome.log
    with pytest.raises(O2simError, match="found replications beside a replication; allowed: seed, engine"):
        o2sim.trace(ward, "mixed", replication=1, replications=4)
