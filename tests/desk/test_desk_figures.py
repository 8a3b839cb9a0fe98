"""Figures of the desk are those of the commands, for the same file, seed and replications."""

import re
from pathlib import Path

import pytest
from small_ward import WARD

from o2sim.desk import work
from o2sim.desk.at_keep import with_answer
from o2sim.desk.folder import Folder
from o2sim.measures.measures import summarise
from o2sim.questions.compare import brief
from o2sim.questions.compare.short_answer import range_answer
from o2sim.questions.drivers.drivers import drivers
from o2sim.questions.drivers.settings import DriversSettings
from o2sim.questions.drivers.short_range import in_words, tried
from o2sim.questions.size.settings import SizeSettings
from o2sim.questions.size.sizing import size
from o2sim.questions.whatif.settings import WhatIfSettings
from o2sim.questions.whatif.whatif import whatif
from o2sim.runs.settings import BatchSettings
from o2sim.runs.study import run_study
from o2sim.scenario import load

FEW = 20


@pytest.fixture(scope="module")
def given(tmp_path_factory):
    """Return what a job is given, of a small ward in a folder."""
    folder = tmp_path_factory.mktemp("ward")
    (folder / "ward.yaml").write_text(WARD)
    return {"path": str(folder / "ward.yaml"), "store": str(folder / "runs.sqlite"), "replications": FEW}


def quiet(*_):
    """Hear how far a job is, and say nothing."""


def test_the_answer_is_that_of_compare(given):
    """The table to decide by has the figures of a study run by itself."""
    found = work.do("answer", given, quiet)
    scenario = load(given["path"])
    summary = summarise(run_study(scenario, settings=BatchSettings(replications=FEW, seed=work.SEED)))
    table = brief.to_decide_by(summary, next(iter(scenario.hospitals.values())).tolerated_gap_s, "USD")
    assert found["table"][0]["rows"] == table.rows
    assert (found["done"], found["of"], found["complete"]) == (FEW, FEW, True)


def test_an_answer_that_was_stopped_goes_on_to_the_same(given):
    """Stopped in the middle it says how many are done; gone on with, it is the answer of all."""
    asked = {**given, "store": given["store"].replace("runs", "stopped"), "replications": FEW + 10}

    def stop(done, _):
        if done >= 3:
            raise KeyboardInterrupt

    part = work.do("answer", asked, stop)
    assert (part["complete"], 3 <= part["done"] < FEW + 10) == (False, True)
    whole = work.do("answer", asked, quiet)
    afresh = work.do("answer", {**asked, "store": given["store"].replace("runs", "afresh")}, quiet)
    assert whole == afresh


def test_the_slider_runs_over_the_figures_of_whatif(given, monkeypatch):
    """At each length of a cut that is tried stand the measures of `o2sim whatif` there."""
    monkeypatch.setattr(work, "AT_EACH_END", FEW)
    found = work.do("power", given, quiet)
    values = ", ".join(point["value"] for point in found["points"])
    wanted = whatif(given["path"], f"{found['field']} = {values}", settings=WhatIfSettings(replications=FEW))
    assert [each["strategies"] for each in found["points"]] == [
        each["strategies"] for each in wanted.result["points"]
    ]


@pytest.fixture(scope="module")
def kept(given):
    """Return what a job finds of how many to keep, of so few replications as can show it, and the same sizing."""
    asked = {**given, "target": "20 %", "strategy": "cylinders only", "replications": 60}
    settings = SizeSettings(target="20 %", seed=work.SEED, replications=60)
    return work.do("keep", asked, quiet), size(given["path"], "cylinders only", settings=settings)


def test_the_sheets_are_those_of_size_byte_for_byte(kept, tmp_path):
    """What is opened to print is what `o2sim size --sheets` writes."""
    found, sizing = kept
    written = {path.name: path.read_text() for path in sizing.write_sheets(tmp_path)}
    assert found["sheets"] == written


def test_how_many_to_keep_is_said_shortly(kept):
    """Cylinders in all, when to order, how many there are, and that it is supply alone; one less is not enough."""
    found, sizing = kept
    fleet, rule = int(sizing.answer["cylinders.fleet"]), sizing.hospital.resupply
    first = next(line for line in found["said"] if line.startswith("Keep "))
    assert re.findall(r"\d+", first)[:4] == [
        str(each) for each in (fleet, rule.reorder_point, rule.order_up_to, 14)
    ]
    assert any("supply alone" in line for line in found["said"])
    assert [(row["fleet"], row["is_enough"]) for row in found["near"] if abs(row["fleet"] - fleet) <= 1] == [
        (fleet - 1, False), (fleet, True), (fleet + 1, True),
    ]  # fmt: skip


def test_what_is_taken_is_what_was_promised(kept, given):
    """The file with the answer in it says the hospital of the answer, and beside each figure where it comes from."""
    found, sizing = kept
    here = Folder(Path(given["path"]).parent).read("ward.yaml")
    new = with_answer(found, here, "from the desk, 28 Nov 2026")
    assert new.scenario.hospitals["cylinders only"] == sizing.hospital
    assert "from the desk, 28 Nov 2026: enough for 20 years in 100 by its answer" in new.text


@pytest.fixture(scope="module")
def unknown(given, tmp_path_factory):
    """Return what a job is given, of the ward with a figure that is not known."""
    file = tmp_path_factory.mktemp("unknown") / "ward.yaml"
    file.write_text(WARD.replace("count: 2,", "count: {low: 1, likely: 2, high: 3},"))
    return {**given, "path": str(file)}


def test_what_was_not_known_is_looked_at_one_by_one(unknown, monkeypatch):
    """A figure that is a range is named, in the words of its question, among what would change the answer."""
    monkeypatch.setattr(work, "AT_EACH_END", FEW)
    found = work.do("matters", unknown, quiet)
    assert found["complete"]
    assert in_words("concentrators.count") in str(found["rest"])
    assert "concentrators.count" not in str(found["rest"])


def test_an_answer_is_a_range_while_a_figure_is_not_known(unknown, monkeypatch):
    """The two sentences are the range over what is not known; the likely figures stand beside it."""
    monkeypatch.setattr(work, "AT_EACH_END", FEW)
    counted = []
    found = work.do("answer", unknown, lambda done, of: counted.append((done, of)))
    asked = DriversSettings(replications=FEW, seed=work.SEED)
    wanted = range_answer(tried(drivers(unknown["path"], settings=asked).answers), FEW, 60)
    assert (tuple(found["said"]), found["range"], found["complete"]) == (wanted, True, True)
    assert found["likely"][0].startswith("With ")
    assert found["beside"]["matters"]["complete"]
    assert counted == sorted(counted)
    assert counted[-1] == (4 * FEW, 4 * FEW)


def test_a_range_that_was_stopped_is_no_answer_yet(unknown, monkeypatch):
    """Stopped after the likely figures, the answer says that it is not complete."""
    monkeypatch.setattr(work, "AT_EACH_END", FEW)

    def stop(done, _):
        if done > FEW:
            raise KeyboardInterrupt

    found = work.do("answer", unknown, stop)
    assert (found["range"], found["complete"], found["done"]) == (False, False, FEW)


def test_what_to_buy_is_that_of_compare_with_options(given, monkeypatch):
    """The options of the file are compared, within the money that is there."""
    from o2sim.questions.choose.comparison import compare

    monkeypatch.setattr(work, "REPLICATIONS", FEW)
    found = work.do("buy", {**given, "capital": 4_000.0}, quiet)
    wanted = compare(given["path"], options=True, capital=4_000.0, replications=FEW, seed=work.SEED)
    assert found["chosen"] == wanted.chosen
