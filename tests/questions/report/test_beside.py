"""The report: what no staff could prevent beside the figures, and the headline with a key at other values."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest
from test_cli import SCENARIO, call, stop_after

import o2sim
from o2sim.looks.blocks import Table
from o2sim.questions.report.publish import write_report
from o2sim.questions.report.varied import kept_varied, table, varied
from o2sim.runs.study import run_study

RULE = "shortfall: {enough: 50 %, recovery: 5 min, counted_by: supply clock}\n"
KEY, VALUES = "cylinders.change_time", ("1 min", "10 min", "2 h")


@pytest.fixture
def path(tmp_path):
    """Write a scenario and return its path."""
    file = tmp_path / "reed.yaml"
    file.write_text(SCENARIO + RULE, encoding="utf-8")
    return file


def has_cylinders(hospital):
    """Return True where a strategy has cylinders."""
    return hospital.cylinders is not None


def test_the_report_says_what_no_staff_could_prevent(path, tmp_path):
    """A sentence under the answer, a table, and the hash of that run; from Python the same bytes."""
    out, again = tmp_path / "a.md", tmp_path / "b.md"
    assert call("report", path, "-o", out, "--replications", 6).exit_code == 0
    text = out.read_text(encoding="utf-8")
    answer = text.split("## The answer")[1].split("\n## ")[0]
    assert "If hands, eyes and the way to the store cost no time," in answer
    assert "What no staff could prevent" in text.split("## The strategies")[1].split("\n## ")[0]
    assert re.search(r"companion run \| [0-9a-f]{16}\\?\+supply", text)
    write_report(run_study(path, replications=6), again)
    assert again.read_bytes() == out.read_bytes()


def test_a_comparison_that_has_it_is_not_run_again(path, tmp_path, monkeypatch):
    """The report of a comparison with its companion run runs nothing, where no notes are kept at other shares."""
    path.write_text(path.read_text().replace("fleet: 6, ", "fleet: 6, change_when: residual, "))
    found = o2sim.compare(path, supply_alone=True, replications=4)
    stop_after(0, monkeypatch)
    assert "What no staff could prevent" in write_report(found, tmp_path / "c.md").read_text(encoding="utf-8")


def test_ctrl_c_in_the_companion_leaves_a_report(path, tmp_path, monkeypatch):
    """After 6 replications and 2 of the companion the report has both, the companion's as far as it came."""
    out = tmp_path / "a.md"
    stop_after(8, monkeypatch)
    shown = call("report", path, "-o", out, "--replications", 6)
    assert shown.exit_code == 130
    assert "The companion run (supply alone) was stopped after 2 replications; all else is whole." in shown.stderr
    assert "both are of the first 2 replications alone" in out.read_text(encoding="utf-8")


def test_a_key_at_other_values_gives_what_the_changed_file_gives(path, tmp_path):
    """Under the same luck; the file's value is not run again, and a strategy it does not concern is left out."""
    study, ran = run_study(path, replications=5), []

    def run(scenario, **options):
        ran.append(scenario)
        return run_study(scenario, **options)

    found = varied(study, KEY, VALUES, has_cylinders, run)
    assert [(each.value, each.as_in_file) for each in found.at] == [
        *zip(VALUES, (False, True, False), strict=True)
    ]
    assert len(ran) == 2
    assert len({study.scenario.hash, *(each.hash for each in ran)}) == 3
    slow = tmp_path / "slow.yaml"
    slow.write_text((SCENARIO + RULE).replace("fleet: 6, ", "fleet: 6, change_time: 2 h, "), encoding="utf-8")
    alone = o2sim.summarise(run_study(slow, replications=5))["strategies"]
    assert found.at[2].strategies == {name: alone[name] for name in ("cylinders only", "mixed")}
    assert found.at[2].strategies != found.at[0].strategies


def test_the_table_of_a_varied_key(path):
    """A row for each value, the file's marked, with the headline under each strategy."""
    (shown,) = table(varied(run_study(path, replications=5), KEY, VALUES, has_cylinders))
    assert isinstance(shown, Table)
    assert [row[0] for row in shown.rows] == ["1 min", "10 min (as in the file)", "2 h"]
    assert all("supply shortfall: " in cell and " h short" in cell for row in shown.rows for cell in row[1:])


def test_where_nothing_is_varied(path):
    """Without the key, without a strategy that it concerns, for a stopped study or one without a text."""
    study = run_study(path, replications=3)
    assert varied(study, "cylinders.no_such_key", ("1",), has_cylinders) is None
    assert varied(study, KEY, VALUES, lambda hospital: hospital.staff is not None) is None
    assert varied(replace(study, requested=9), KEY, VALUES, has_cylinders) is None
    bare = replace(study, scenario=replace(study.scenario, text=""))
    assert varied(bare, KEY, VALUES, has_cylinders) is None
    assert varied(study, "cylinders.fleet", ("no number",), has_cylinders) is None


def test_notes_kept_are_varied_only_where_changes_are_timed(path):
    """None, 80 % and all, 80 % as in a file that says nothing; one that changes at residual pressure has none."""
    found = kept_varied(run_study(path, replications=3))
    assert [(each.value, each.as_in_file) for each in found.at] == [
        ("0 %", False),
        ("80 %", True),
        ("100 %", False),
    ]
    assert list(found.at[0].strategies) == ["cylinders only", "mixed"]
    none, _, every = (each.strategies["cylinders only"]["short_patient_hours"]["mean"] for each in found.at)
    assert none > every
    path.write_text(path.read_text().replace("fleet: 6, ", "fleet: 6, change_when: residual, "))
    assert kept_varied(run_study(path, replications=2)) is None


def test_an_option_that_stands_in_no_file_is_not_varied(path):
    """A study of a strategy that the text does not hold has no such headline."""
    study = run_study(path, replications=2)
    names = ("a", "b", "c")
    hospitals = dict(zip(names, study.scenario.hospitals.values(), strict=True))
    outcomes = dict(zip(names, study.outcomes.values(), strict=True))
    renamed = replace(study, scenario=replace(study.scenario, hospitals=hospitals), outcomes=outcomes)
    assert kept_varied(renamed) is None
