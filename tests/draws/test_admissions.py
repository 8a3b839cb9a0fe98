"""Admissions in the field: registers, surges and overdispersed days, against counts and closed forms."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest

from o2sim.draws import Draws
from o2sim.errors import ScenarioError
from o2sim.scenario import load, loads
from o2sim.scenario.types.hospital import Hospital

REGISTER = """arrival,class,flow,hours
2027-01-01 06:00,children,1,10
2027-01-03,children,0.5 L/min,5
2027-01-02 12:30,adults,2,100
2027-01-02 12:30,adults,4,1
"""
KEPT = "{file: admissions.csv, from: 2027-01-01, to: 2027-01-10}"
REST = "cylinders: {content: 6800 L, fleet: 4}\nstrategies: {only: {sources: [cylinder]}}\n"
DAY_S = 86_400


def from_file(folder, classes: str, register: str = REGISTER, top: str = "horizon: 10 days") -> Hospital:
    """Return the hospital of a scenario with classes of patients and a register beside it."""
    (folder / "admissions.csv").write_text(register)
    (folder / "scenario.yaml").write_text(f"{top}\npatients: {classes}\n{REST}")
    return load(folder / "scenario.yaml").hospitals["only"]


def drawn(classes: str, horizon: str) -> Hospital:
    """Return a hospital with drawn admissions."""
    return loads(f"horizon: {horizon}\npatients: {classes}\n{REST}").hospitals["only"]


def rows(hospital: Hospital, replication: int = 0) -> list[tuple[int, ...]]:
    """Return (class, arrival, flow, need) of every patient of one replication."""
    table = Draws(1, replication).patients(hospital)
    return list(zip(table.class_index, table.arrival_s, table.flow_ml_min, table.need_s, strict=True))


def test_a_register_is_replayed_as_it_was(tmp_path) -> None:
    """Every row comes at its time, in every replication; times count from the start of the warm-up."""
    classes = f"{{children: {{register: {KEPT}}}, adults: {{register: {KEPT}}}}}"
    hospital = from_file(tmp_path, classes, top="horizon: 10 days\nwarm_up: 1 day")
    expected = [
        (0, DAY_S + 6 * 3_600, 1_000, 36_000),
        (1, 2 * DAY_S + 45_000, 2_000, 360_000),
        (1, 2 * DAY_S + 45_000, 4_000, 3_600),
        (0, 3 * DAY_S, 500, 18_000),
    ]
    assert rows(hospital) == rows(hospital, 7) == expected
    assert hospital.patients[1].admissions_per_day == 2 / 10  # two in the ten days of the register


def test_days_since_the_start_and_rows_outside_the_run(tmp_path) -> None:
    """Numbers count days from midnight of the start; who comes after the run does not count."""
    register = "arrival,class,flow,hours\n0.5,all,1,1\n9.75,all,1,1\n10,all,1,1\n"
    kept = KEPT.replace("01-10", "01-11")
    hospital = from_file(tmp_path, f"{{all: {{register: {kept}}}}}", register)
    assert [row[1] for row in rows(hospital)] == [DAY_S // 2, 39 * DAY_S // 4]


def test_resampled_days_come_whole_and_alike_for_all_classes(tmp_path) -> None:
    """Each day of the run is one of the three recorded ones, with all its rows; each as likely (|z| < 4)."""
    file = "{file: admissions.csv, use: resample}"
    hospital = from_file(
        tmp_path, f"{{children: {{register: {file}}}, adults: {{register: {file}}}}}", top="horizon: 3000 days"
    )
    days: dict[int, list[tuple[int, ...]]] = {day: [] for day in range(3_000)}
    for kind, arrival, flow, _ in rows(hospital):
        days[arrival // DAY_S].append((kind, arrival % DAY_S, flow))
    kinds = [((0, 21_600, 1_000),), ((1, 45_000, 2_000), (1, 45_000, 4_000)), ((0, 0, 500),)]
    counts = [sum(tuple(day) == kind for day in days.values()) for kind in kinds]
    assert sum(counts) == 3_000
    assert max(abs(count - 1_000) for count in counts) < 4 * (3_000 * 2 / 9) ** 0.5
    table = Draws(1, 0).patients(hospital)
    assert len(set(zip(table.class_index, table.ordinal, strict=True))) == len(table)


BAD = {
    "2027-01-32,all,1,1": "admissions.csv:2: arrival: found '2027-01-32': no such day",
    "1.5,all,fast,1": "admissions.csv:2: flow: found a text of 4 characters",
    "1.5,all,1,0": "admissions.csv:2: hours: found '0'; allowed: from 1 s",
    "1.5,all,1 h,1": "admissions.csv:2: flow: found '1 h'",
    "1.5,other,1,1": "no admissions of class 'all', but 1 other word in its column class; allowed: rows whose",
    "1.5,all,1,1\n2027-01-02,all,1,1": "found dates and numbers of days",
    "99999,all,1,1": "an arrival a hundred years from the start",
}


@pytest.mark.parametrize("row", BAD)
def test_a_register_that_cannot_be_used_is_refused(row: str, tmp_path) -> None:
    """Each fault with the line of the CSV file."""
    with pytest.raises(ScenarioError, match=BAD[row]):
        from_file(tmp_path, f"{{all: {{register: {KEPT}}}}}", f"arrival,class,flow,hours\n{row}\n")


@pytest.mark.parametrize(
    ("keys", "found"),
    [
        ("file: ../admissions.csv", "lies elsewhere"),
        ("file: none.csv", "found no file"),
        ("file: admissions.csv, use: again", "replay, resample or repeat by year"),
    ],
)
def test_a_register_obeys_the_rules_of_files(keys: str, found: str, tmp_path) -> None:
    """Nothing outside the folder is opened, and what the register says is not said twice."""
    with pytest.raises(ScenarioError, match=found):
        from_file(tmp_path, f"{{all: {{register: {{{keys}}}}}}}")


def test_what_a_register_says_is_not_said_twice(tmp_path) -> None:
    """Flow, season and the rest beside a register are refused, each by name."""
    with pytest.raises(ScenarioError) as error:
        from_file(tmp_path, "{children: {register: {file: admissions.csv}, flow: 1 L/min, hypoxaemic: 20 %}}")
    said = [problem.found for problem in error.value.problems]
    assert said == [f"found {key} beside a register of admissions" for key in ("flow", "hypoxaemic")]


def test_a_surge_adds_patients_and_leaves_the_others_alone() -> None:
    """Tripled for ten days: twice the rate more in them (Poisson, |z| < 4), nobody else moves."""
    plain = "{all: {admissions: 20 / day, flow: {uniform: {low: 1 L/min, high: 2 L/min}}, duration: 1 h"
    surge = ", surges: [{from: 2027-02-01, length: 10 days, multiplier: 3}]"
    calm, busy = (rows(drawn(plain + extra + "}}", "100 days")) for extra in ("", surge))
    more = sorted(set(busy) - set(calm))
    first_s = (dt.date(2027, 2, 1) - dt.date(2027, 1, 1)).days * DAY_S
    assert set(calm) <= set(busy)
    assert all(first_s <= row[1] < first_s + 10 * DAY_S for row in more)
    assert abs(len(more) - 400) < 4 * 400**0.5


@pytest.mark.parametrize("season", ["", ", season: {peak: july, ratio: 3}"])
def test_overdispersed_days_against_the_negative_binomial(season: str) -> None:
    """The daily count has variance d times its mean (Greenwood and Yule 1920), the mean is kept, |z| < 4."""
    text = f"{{all: {{admissions: 5 / day, overdispersion: 2.5, flow: 1 L/min, duration: 1 h{season}}}}}"
    days, plain = (
        np.bincount([row[1] // DAY_S for row in rows(drawn(each, "5844 days"))], minlength=5_844)
        for each in (text, text.replace("2.5", "1"))
    )
    assert abs(days.mean() - 5) < 4 * (12.5 / 5_844) ** 0.5
    if not season:
        fourth = (days - 5.0) ** 2
        assert abs(fourth.mean() - 12.5) < 4 * fourth.std() / 5_844**0.5
    else:
        assert days.var() - plain.var() == pytest.approx(7.5, abs=4 * 0.35)  # the season's swing is in both
