"""`--draws` of compare, size, drivers and study: rows in turn, both doubts, provenance, and what is refused."""

from __future__ import annotations

import json

import numpy as np
import pytest
from joint_ward import WARD
from scipy import stats
from test_cli import call

import o2sim
from o2sim.measures.measures import summarise
from o2sim.measures.result_rows import replication_columns, replication_rows
from o2sim.runs.store_file import open_store
from o2sim.runs.study import run_study
from o2sim.runs.supply_alone import companion_of
from o2sim.scenario import load
from o2sim.statistics import doubt

ROWS = 8
HEADS = "patients.all.admissions (/day),resupply.lead_time.mean (day)"


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """Return a folder with the ward, and two tables of draws that differ in one cell."""
    place = tmp_path_factory.mktemp("draws")
    (place / "ward.yaml").write_text(WARD, encoding="utf-8")
    rows = [f"{0.5 + 0.2 * k},{3 + k % 4}" for k in range(ROWS)]
    (place / "draws.csv").write_text("\n".join([HEADS, *rows, ""]), encoding="utf-8")
    (place / "other.csv").write_text("\n".join([HEADS, *rows[:-1], "3,3", ""]), encoding="utf-8")
    (place / "places.csv").write_text("name,cylinders.fleet\nUpper,14\nLower,16\n", encoding="utf-8")
    return place


@pytest.fixture(scope="module")
def studied(folder):
    """Return a study of 20 replications over eight rows."""
    return run_study(folder / "ward.yaml", replications=20, draws=folder / "draws.csv")


def test_replication_r_is_that_of_its_row_alone(folder, studied):
    """Row r mod 8 written into the file gives the same outcome of replication r, bit for bit."""
    from o2sim.scenario.changing.override import changed, loaded, original

    source = original(folder / "ward.yaml")
    for k in (1, 11):
        row = {
            "patients.all.admissions": f"{0.5 + 0.2 * (k % 8)} /day",
            "resupply.lead_time.mean": f"{3 + k % 4} day",
        }
        alone = run_study(loaded(source, changed(source, row)), replications=k + 1)
        for name, outcomes in studied.outcomes.items():
            assert outcomes[k].unserved_s == alone.outcomes[name][k].unserved_s
            assert outcomes[k].needed_gas == alone.outcomes[name][k].needed_gas


def test_the_summary_says_what_was_met_and_holds_both_doubts(studied, folder):
    """File, hash, rows, how often each was met, and the key that says what intervals hold."""
    import hashlib

    summary = summarise(studied)
    drawn = summary["draws"]
    assert summary[doubt.KEY] == doubt.CHANCE_AND_INPUTS
    assert drawn["file_hash"] == hashlib.sha256((folder / "draws.csv").read_bytes()).hexdigest()[:16]
    met = [drawn[key] for key in ("rows", "rows_met", "fewest_of_a_row", "most_of_a_row")]
    assert met == [8, 8, 2, 3]
    assert set(drawn["split"]) == {"cylinders only", "mixed"}


def test_pieces_and_a_store_change_nothing_and_other_draws_are_kept_apart(folder, studied):
    """The same figures in pieces, from a new store and from what is in it; other draws find nothing there."""
    file, wanted = folder / "ward.yaml", summarise(studied)
    scenario = load(file)
    assert summarise(run_study(file, replications=20, draws=folder / "draws.csv", chunk_size=3)) == wanted
    with open_store(folder / "runs.o2store", "scenario", scenario) as store:
        for _ in range(2):
            kept = run_study(scenario, replications=20, draws=folder / "draws.csv", store=store)
            assert summarise(kept) == wanted
        other = run_study(scenario, replications=20, draws=folder / "other.csv", store=store)
        plain = run_study(scenario, replications=20, store=store)
    assert summarise(other)["strategies"] != wanted["strategies"]
    assert summarise(plain) == summarise(run_study(file, replications=20))
    assert "draws" not in summarise(plain)


def test_the_companion_run_meets_the_same_rows(studied):
    """With perfect handling, and as much oxygen needed in each replication."""
    companion = companion_of(studied)
    for name, outcomes in studied.outcomes.items():
        assert [each.needed_gas for each in companion.outcomes[name]] == [each.needed_gas for each in outcomes]


def test_compare_prints_rows_split_and_provenance(folder):
    """No multiple of the rows is said; so are fewer, and that one replication a row tells nothing apart."""
    ward, draws = folder / "ward.yaml", folder / "draws.csv"
    said = " ".join(call("compare", ward, "--draws", draws, "--replications", "20").stdout.split())
    assert "20 is no multiple of 8: the first 4 rows were met once more than the others." in said
    assert "Due to unknown inputs, of the variance" in said
    assert "chance in the simulation and also unknown inputs, as the draws have them" in said
    assert "not unknown inputs" not in said
    assert "(8 rows) | engine kernel" in said
    assert "o2sim size" not in said  # which takes 59 rows
    few = " ".join(call("compare", ward, "--draws", draws, "--replications", "5").stdout.split())
    assert "Only the first 5 rows were met" in few
    assert "cannot be told with fewer than two replications of a row" in few


@pytest.mark.parametrize(
    ("more", "words"),
    [
        (("--precision", "5 %"), "--draws goes without --precision"),
        (("--target", "5 %"), "--draws goes without --options, --budget, --capital and --target"),
        (("--convergence", "x.png"), "--draws goes without --convergence"),
    ],
)
def test_what_draws_do_not_go_with_is_said_before_any_work(folder, more, words):
    """A usage error on stderr, nothing on stdout."""
    done = call("compare", folder / "ward.yaml", "--draws", folder / "draws.csv", *more)
    assert (done.exit_code, done.stdout) == (2, "")
    assert words in " ".join(done.stderr.split())


def test_replications_csv_has_the_row_of_each(studied):
    """Numbered from 1, as rows below the header are."""
    assert replication_columns(studied)[-1] == "row_of_draws"
    assert [row[-1] for row in replication_rows(studied)][:10] == [1, 2, 3, 4, 5, 6, 7, 8, 1, 2]


def test_a_study_of_facilities_has_the_figures_of_compare(folder):
    """Upper is the ward as it is: chances and hours with their intervals are those of the summary."""
    done = call("study", folder / "places.csv", "--base", folder / "ward.yaml", "--draws", folder / "draws.csv",
                "--replications", "20", "--json")  # fmt: skip
    assert done.exit_code == 0
    study = json.loads(done.stdout)
    wanted = summarise(run_study(folder / "ward.yaml", replications=20, draws=folder / "draws.csv"))
    for name, found in study["facilities"][0]["strategies"].items():
        for measure in ("stock_out_probability", "unserved_patient_hours"):
            mine = {key: found[measure][key] for key in ("low", "high")}
            assert mine == pytest.approx({key: wanted["strategies"][name][measure][key] for key in mine})
    assert (study["draws"]["rows"], study[doubt.KEY]) == (8, doubt.CHANCE_AND_INPUTS)


def test_a_study_names_the_facility_at_which_draws_make_no_scenario(folder, tmp_path):
    """What is wrong at every facility stands once, without a name."""
    (tmp_path / "bad.csv").write_text("resupply.order_up_to,cylinders.count\n15,1\n10,1\n", encoding="utf-8")
    done = call("study", folder / "places.csv", "--base", folder / "ward.yaml", "--draws", tmp_path / "bad.csv")
    assert (done.exit_code, done.stdout) == (2, "")
    assert "the key 'cylinders.count' is unknown" in done.stderr
    (tmp_path / "high.csv").write_text("cylinders.full_at_start\n15\n10\n", encoding="utf-8")
    done = call("study", folder / "places.csv", "--base", folder / "ward.yaml", "--draws", tmp_path / "high.csv")
    assert "at Upper" in done.stderr
    assert "at Lower" not in done.stderr


def test_drivers_take_the_rows_in_place_of_ranges(folder):
    """Nested: each row a draw; rank correlations are scipy's, of the row means of the same replications."""
    found = o2sim.drivers(folder / "ward.yaml", method="nested", replications=6, draws=folder / "draws.csv").result
    assert (found["draws"], found["law"], found["drawn_from"]["rows"]) == (8, None, 8)
    assert [each["field"] for each in found["uncertain"]] == ["patients.all.admissions", "resupply.lead_time.mean"]
    done = call("drivers", folder / "ward.yaml", "--draws", folder / "draws.csv")
    assert (done.exit_code, done.stdout) == (1, "")
    assert "add --method nested" in done.stderr


def test_rank_correlations_are_those_of_scipy(folder):
    """Of a table of responses that is known: one column decides, the other is that with noise."""
    from o2sim.questions.drivers.joint_rows import ranks
    from o2sim.questions.drivers.points import Responses
    from o2sim.scenario.changing.joint import joint_draws
    from o2sim.scenario.changing.override import original_of

    luck = np.random.default_rng(1)
    rate = luck.random(30) + 0.5
    text = "\n".join([HEADS, *(f"{each:.4f},{3 + luck.random():.4f}" for each in rate), ""])
    (folder / "thirty.csv").write_text(text, encoding="utf-8")
    joint = joint_draws(folder / "thirty.csv", original_of(WARD))
    table = np.vstack([np.zeros(4), rate[:, None] ** 2 + 0.1 * luck.normal(size=(30, 4))])
    found = ranks(joint, Responses({"mixed": {"annual_cost": table}}), 0.95)["mixed"]["annual_cost"]
    wanted = stats.spearmanr(np.round(rate, 4), table[1:].mean(axis=1)).statistic
    assert found[0].field == "patients.all.admissions"
    assert found[0].estimate == pytest.approx(wanted)
    assert found[0].low < wanted < found[0].high


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ((), "8 rows of draws cannot show a chance of at most 5 %"),
        (("--vary", "resupply.levels"), "draws go with one field at a time"),
        (("--vary", "resupply.lead_time.mean = 1 day, 2 days"), "a column of the draws as well"),
    ],
)
def test_a_sizing_over_draws_refuses_what_they_cannot_show(folder, more, words):
    """Too few rows, pairs of levels, a field that is drawn itself: before any run."""
    done = call(
        "size", folder / "ward.yaml", "--strategy", "cylinders only", "--draws", folder / "draws.csv", *more
    )
    assert (done.exit_code, done.stdout) == (1, "")
    assert words in " ".join(done.stderr.split())


def test_a_sizing_over_draws_says_rows_range_and_provenance(folder):
    """At a target of 40 %, which eight rows can show."""
    asked = ("size", folder / "ward.yaml", "--strategy", "cylinders only", "--draws", folder / "draws.csv")
    done = call(*asked, "--target", "40 %", "--replications", "80")
    said = " ".join(done.stdout.split())
    assert done.exit_code == 0
    assert "Over 8 joint draws" in said
    assert "Were the inputs known, row by row" in said
    assert "(8 rows)" in said
    assert f"-sized.yaml --draws {folder / 'draws.csv'} --supply-alone" in said


@pytest.mark.parametrize("asked", [{"options": True}, {"budget": 20_000}, {"capital": 9}, {"target": "5 %"}])
def test_a_choice_over_draws_is_refused_before_anything_is_run(folder, monkeypatch, asked):
    """From Python as at the command: what was found, what is allowed, what shows the strategies instead."""
    from o2sim.runs import study as study_module

    monkeypatch.setattr(study_module, "run_replication", lambda *_: pytest.fail("it was run"))
    with pytest.raises(o2sim.O2simError, match=r"compare: found draws, and a choice .*; allowed: one of the two"):
        o2sim.compare(folder / "ward.yaml", draws=folder / "draws.csv", replications=4, **asked)


def test_a_comparison_over_draws_shows_the_strategies(folder, studied):
    """In a notebook cell and as a chart it is its study; whom to choose is refused, in words that lead on."""
    found = o2sim.compare(studied)
    assert found._repr_html_() == studied._repr_html_()
    assert found.chart().title == studied.chart().title
    with pytest.raises(o2sim.O2simError, match=r"summary, to_frame\('measures'\) and chart\(\) show"):
        found.to_frame()
    assert len(found.to_frame("measures")) > 0
    with pytest.raises(o2sim.O2simError, match="found draws, and a choice"):
        o2sim.compare(studied, budget=5)
