"""The period of a register and of a record of cuts: what is asked for, what is refused, what is doubtful."""

from __future__ import annotations

import io

import pandas as pd
import pytest

from o2sim.errors import ScenarioError
from o2sim.questions.check.rules_in_words import sentences
from o2sim.scenario import load, loads
from o2sim.scenario.checks.checks import warnings
from o2sim.scenario.checks.demand import concentrator_litres_a_day
from o2sim.scenario.types.hospital import Scenario

DAY_S = 86_400
ROWS = """arrival,class,flow,hours
2026-12-30 12:00,adults,2,60
2027-01-02 06:00,adults,1,24
2027-01-05 06:00,adults,4,24
2027-01-19 06:00,children,1,24
"""
CUTS = "start,end\n2026-12-31 22:00,2027-01-01 02:00\n2027-01-03 18:00,2027-01-03 21:00\n2027-01-20 12:00,\n"
TEXT = """start: 2027-01-01
horizon: 20 days
patients: {adults: {register: {file: r.csv, KEPT}}, children: {register: {file: r.csv, KEPT}}}
concentrators: {count: 3, rated_flow: 5 L/min}
power: {grid: {file: c.csv, KEPT}}
"""
KEPT = "from: 2027-01-01, to: 2027-01-20"


def loaded(folder, kept: str = KEPT, text: str = TEXT, rows: str = ROWS, cuts: str = CUTS) -> Scenario:
    """Return a scenario with a register and a record of cuts beside it."""
    (folder / "r.csv").write_text(rows)
    (folder / "c.csv").write_text(cuts)
    (folder / "s.yaml").write_text(text.replace("KEPT", kept))
    return load(folder / "s.yaml")


def refused(folder, **what: str) -> list[tuple[str, str, str]]:
    """Return (field, what was found, hint) of each problem of a scenario."""
    with pytest.raises(ScenarioError) as error:
        loaded(folder, **what)
    return [(problem.field, problem.found, problem.hint) for problem in error.value.problems]


def test_a_period_that_is_left_out_is_asked_for_with_the_days_of_the_rows(tmp_path) -> None:
    """Both days of each record, each with the day to check against the book."""
    found = refused(tmp_path, kept="use: replay")
    fields = {field for field, said, _ in found if said == "this key is missing"}
    grid, adults, children = "power.grid", "patients.adults.register", "patients.children.register"
    assert fields == {f"{each}.{key}" for each in (grid, adults, children) for key in ("from", "to")}
    hints = {field: hint for field, _, hint in found}
    assert "perhaps `from: 2026-12-30`" in hints[f"{adults}.from"]
    assert "perhaps `to: 2027-01-19`" in hints[f"{adults}.to"]
    assert "perhaps `to: 2027-01-20`" in hints[f"{grid}.to"]


def test_one_day_of_a_resampled_period_asks_for_the_other(tmp_path) -> None:
    """Both or neither; with neither the rows say it, and the check says so."""
    found = refused(tmp_path, kept="use: resample, from: 2026-12-30")
    assert [field.rpartition(".")[2] for field, _, _ in found] == ["to", "to", "to"]
    scenario = loaded(tmp_path, "use: resample")
    (hospital,) = scenario.hospitals.values()
    adults, children = hospital.patients
    assert (adults.recorded.first_day, adults.recorded.days, adults.admissions_per_day) == (-2, 21, 3 / 21)
    assert (children.recorded.days, children.admissions_per_day) == (21, 1 / 21)
    told = {problem.field: problem.found for problem in warnings(scenario)}
    assert "2026-12-30 to 2027-01-19" in told["patients.adults.register"]
    assert "2026-12-31 to 2027-01-20" in told["power.grid"]
    kept = warnings(loaded(tmp_path, f"use: resample, {KEPT}"))
    assert not {"patients.adults.register", "power.grid"} & {problem.field for problem in kept}


def test_a_rate_is_that_of_the_days_kept_without_those_present(tmp_path) -> None:
    """Two adults in twenty days; an adult there from before is left out, of the law of stays too."""
    (hospital,) = loaded(tmp_path).hospitals.values()
    adults = hospital.patients[0]
    assert (adults.admissions_per_day, adults.recorded.present) == (2 / 20, 1)
    assert adults.flow_ml_min.parameters == (1_000.0, 4_000.0)


@pytest.mark.parametrize(
    ("top", "days", "spans"),
    [
        ("start: 2027-01-01\nhorizon: 365 days", 345, "2027-01-21 to 2027-12-31"),
        ("start: 2026-12-25\nhorizon: 20 days", 7, "2026-12-25 to 2026-12-31"),
        ("start: 2026-12-31\nhorizon: 22 days", 2, "2026-12-31 to 2026-12-31 and 2027-01-21 to 2027-01-21"),
        ("start: 2027-01-01\nhorizon: 481 h", 1, "2027-01-21 to 2027-01-21"),
    ],
)
def test_a_horizon_that_is_not_covered_is_refused(tmp_path, top: str, days: int, spans: str) -> None:
    """With the days that are missing, and the three remedies."""
    text = TEXT.replace("start: 2027-01-01\nhorizon: 20 days", top)
    for field, found, hint in refused(tmp_path, text=text):
        assert field.rpartition(".")[2] == ("from" if "2026" in spans else "to")
        assert f"{days} days of the horizon not covered" in found.replace("1 day of", "1 days of")
        assert f"({spans})" in found
        assert all(remedy in hint for remedy in ("shorten", "use: resample", "use: repeat by year"))
    loaded(tmp_path, f"use: resample, {KEPT}", text)


def test_a_warm_up_that_is_not_covered_is_doubtful(tmp_path) -> None:
    """Legal, but the ward is empty then."""
    late = TEXT.replace("horizon: 20 days", "horizon: 10 days\nwarm_up: 30 h")
    told = {problem.field: problem.found for problem in warnings(loaded(tmp_path, text=late))}
    for field, what in (
        ("patients.adults.register.from", "the ward is empty"),
        ("power.grid.from", "the grid is up"),
    ):
        assert what in told[field]
        assert "2 days of the warm-up" in told[field]
    inside = late.replace("start: 2027-01-01", "start: 2027-01-03")
    assert not [each for each in warnings(loaded(tmp_path, text=inside)) if each.field.endswith("from")]


def test_a_record_of_less_than_a_year_is_not_repeated(tmp_path) -> None:
    """Said with the day to which it would have to go on."""
    (grid, *_) = [each for each in refused(tmp_path, kept=f"use: repeat by year, {KEPT}") if "grid" in each[0]]
    assert grid[1] == "found 20 days, less than a whole year, from 2027-01-01 to 2027-01-20"
    year = "use: repeat by year, from: 2026-12-31, to: 2027-12-30"
    assert loaded(tmp_path, year).hospitals["concentrators only"].patients[0].recorded.days == 365
    assert len(refused(tmp_path, kept=year.replace("12-30", "12-29"))) == 3


def test_rows_outside_the_period_are_listed_once(tmp_path) -> None:
    """All of them up to ten, and how many more; a stay or a cut that reaches into the period is none of them."""
    late = "".join(f"2027-02-{day:02},adults,1,24\n" for day in range(1, 14))
    rows = f"{ROWS}2026-12-20,adults,1,24\n2026-12-31,children,1,24\n{late}"
    cuts = CUTS + "2026-12-31 20:00,2027-01-01 00:00\n2027-01-21,2027-01-22\n"
    found = [said for _, said, _ in refused(tmp_path, rows=rows, cuts=cuts)]
    early = "before the first day of the register, and a stay that ends before it"
    assert f"r.csv:6: found 2026-12-20, {early}" in found
    assert f"r.csv:7: found 2026-12-31, {early}" in found
    assert "r.csv:8: found 2027-02-01, after the last day of the register" in found
    assert "r.csv: 5 more rows lie outside the period" in found
    assert "c.csv:6: found 2027-01-21, after the last day of the record of cuts" in found
    assert len(found) == len(set(found)) == 13


def test_a_period_that_ends_before_it_begins_and_keys_without_a_file(tmp_path) -> None:
    """Each at its key."""
    found = refused(tmp_path, kept="from: 2027-02-01, to: 2027-01-20")
    assert {said for _, said, _ in found} == {"found 2027-01-20, before from (2027-02-01)"}
    text = TEXT.replace("file: c.csv, KEPT", "up: 10 h, down: 1 h, scale: 2")
    assert refused(tmp_path, text=text)[0][:2] == ("power.grid.scale", "found scale, but no file")
    text = TEXT.replace("file: c.csv, KEPT", "file: c.csv, KEPT, scale: 0")
    assert refused(tmp_path, text=text)[0][0] == "power.grid.scale"


def test_recorded_cuts_are_clipped_scaled_and_joined(tmp_path) -> None:
    """The part inside counts, an open one lasts to the end of the record; twice as long, two that meet are one."""
    cuts = CUTS + "2027-01-03 23:30,2027-01-03 23:50\n"
    (hospital,) = loaded(tmp_path, cuts=cuts).hospitals.values()
    hour = 3_600
    day_3, day_20 = 2 * DAY_S, 19 * DAY_S
    short = (day_3 + 47 * 1_800, day_3 + 47 * 1_800 + 1_200)
    assert hospital.grid.cuts == (
        (0, 2 * hour), (day_3 + 18 * hour, day_3 + 21 * hour), short, (day_20 + 12 * hour, day_20 + 24 * hour)
    )  # fmt: skip
    (twice,) = loaded(
        tmp_path, f"{KEPT}, scale: 2", TEXT.replace("r.csv, KEPT", f"r.csv, {KEPT}"), cuts=cuts
    ).hospitals.values()
    assert twice.grid.cuts == (
        (0, 4 * hour), (day_3 + 18 * hour, day_3 + 24 * hour + 600), (day_20 + 12 * hour, day_20 + 36 * hour)
    )  # fmt: skip


def test_words_and_checks_use_the_records_own_share_of_power(tmp_path) -> None:
    """2 + 3 + 12 hours of 480 without power."""
    scenario = loaded(tmp_path, f"use: resample, {KEPT}", TEXT.replace("20 days", "100 days"))
    (hospital,) = scenario.hospitals.values()
    share = 1 - 17 / 480
    assert concentrator_litres_a_day(hospital) == pytest.approx(3 * 5 * 1_440 * share)
    said = " ".join(sentences(scenario))
    assert "3 cuts of the grid, 2027-01-01 to 2027-01-20, are recorded: whole recorded days are drawn" in said
    assert "the grid is up 96.5 % of that time" in said
    assert "a register of 2 in 20 days, and 1 present when it begins, 2027-01-01 to 2027-01-20" in said


def test_frames_have_periods_as_files_do(tmp_path) -> None:
    """The same scenario comes of data frames; an end that is missing is an open cut."""
    rows = pd.read_csv(io.StringIO(ROWS))
    cuts = pd.DataFrame(
        {"start": ["2026-12-31 22:00", "2027-01-03 18:00", "2027-01-20 12:00"],
         "end": ["2027-01-01 02:00", "2027-01-03 21:00", None]}
    )  # fmt: skip
    found = loads(TEXT.replace("KEPT", KEPT), tables={"r.csv": rows, "c.csv": cuts})
    assert found.hash == loaded(tmp_path).hash


def test_a_strategy_may_use_the_record_otherwise(tmp_path) -> None:
    """Its changes are laid over the section, key by key; drawn cuts take the place of all of it."""
    strategies = """strategies:
  drawn days: {sources: [concentrator], patients: {adults: {register: {use: resample}}}, power: {grid: {scale: 2}}}
  drawn cuts: {sources: [concentrator], power: {grid: {up: 20 h, down: 2 h}}}
"""
    hospitals = loaded(tmp_path, text=TEXT + strategies).hospitals
    days, cuts = hospitals["drawn days"], hospitals["drawn cuts"]
    assert (days.patients[0].recorded.use, days.patients[1].recorded.use) == ("resample", "replay")
    assert days.grid.scale == 2
    assert (cuts.grid.cuts, cuts.grid.up_s.parameters) == ((), (72_000.0,))
