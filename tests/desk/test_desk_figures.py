"""Figures of the desk are those of the commands, for the same file, seed and replications."""

import csv
import json
import re
from pathlib import Path

import pytest
from small_ward import WARD

from o2sim.desk import work
from o2sim.desk.at_keep import with_answer
from o2sim.desk.folder import Folder
from o2sim.measures.measures import summarise
from o2sim.questions.choose.comparison import compare
from o2sim.questions.choose.purchase_list import Head, lines_of, list_csv, list_page, total
from o2sim.questions.compare import brief
from o2sim.questions.compare.short_answer import range_answer
from o2sim.questions.drivers.drivers import drivers
from o2sim.questions.drivers.settings import DriversSettings
from o2sim.questions.drivers.short_range import in_words, tried
from o2sim.questions.size.content import content
from o2sim.questions.size.settings import SizeSettings
from o2sim.questions.size.sizing import size
from o2sim.questions.whatif.settings import WhatIfSettings
from o2sim.questions.whatif.whatif import whatif
from o2sim.runs.settings import BatchSettings
from o2sim.runs.study import run_study
from o2sim.scenario import load
from o2sim.scenario.keys.questions import BY_NAME

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
    """The file with the answer says the hospital of the answer, and beside each figure where it comes from."""
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
    (row,) = found["rows"]
    assert (row["what"], row["low"], row["high"]) == (
        in_words("concentrators.count"),
        "1 concentrator",
        "3 concentrators",
    )
    assert (row["known_by"], row["question"]) == (BY_NAME["units"].known_by, [4, "units"])
    assert "concentrators.count" not in json.dumps(found)


def test_from_where_on_another_way_of_supply_is_best(given, tmp_path, monkeypatch):
    """With one unit cylinders serve better, with six the units do: the turn is where a what-if says so."""
    monkeypatch.setattr(work, "AT_EACH_END", FEW)
    file = tmp_path / "ward.yaml"
    text = WARD.replace("count: 2,", "count: {low: 1, likely: 6, high: 8},").replace("1 / day", "0.5 / day")
    text = text[: text.index("\npower: ")] + "\npower: {grid: always}\n" + text[text.index("costs:") :]
    file.write_text(text.replace("  mixed: {sources: [concentrator, cylinder]}\n", "").partition("options:")[0])
    found = work.do("matters", {**given, "path": str(file)}, quiet)
    (row,) = found["rows"]
    turn, tried = row["turn"], [int(each.split()[0]) for each in row["turn"]["tried"]]
    assert (found["choice"], turn["name"], tried) == ("concentrators only", "cylinders only", [5, 4, 2, 1])
    wanted = whatif(file, "concentrators.count = 5, 4, 2, 1", settings=WhatIfSettings(replications=FEW)).result
    worse = [
        point["strategies"]["concentrators only"]["stock_out_probability"]["estimate"]
        > point["strategies"]["cylinders only"]["stock_out_probability"]["estimate"]
        for point in wanted["points"]
    ]
    assert turn["begins"] == f"{tried[worse.index(True)]} concentrators"
    assert worse == sorted(worse)


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


@pytest.fixture(scope="module")
def bought(given, tmp_path_factory):
    """Return what a job finds of what to buy for a ward that owns some of it, and the text of its file."""
    file = tmp_path_factory.mktemp("owned") / "ward.yaml"
    text = WARD.replace("fleet: 14,", "fleet: 14, owned: 5,").replace("count: 2,", "count: 2, owned: 1,")
    file.write_text(text.replace("1 / day", "3 / day"))
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(work, "REPLICATIONS", FEW)
        return work.do("buy", {**given, "path": str(file)}, quiet), file


def test_each_sum_of_money_buys_what_compare_says(bought):
    """The choice and its purchases are those of `o2sim compare --options --capital`, less what is owned.

    With one less of the currency it is another choice, or none.
    """
    found, file = bought
    assert len(found["steps"]) > 1
    for step in found["steps"]:
        wanted = compare(file, options=True, capital=step["pay_now"], replications=FEW, seed=work.SEED).decided
        assert (step["option"], step["pay_now"]) == (wanted.chosen, wanted.cheque.first_year_capital)
        priced = [(line["item"], line["buy"]) for line in step["lines"] if line["each"] is not None]
        assert priced == [(each.item, each.count) for each in wanted.cheque.purchases]
        less = compare(file, options=True, capital=step["pay_now"] - 1, replications=FEW, seed=work.SEED).decided
        assert less.within_budget.name != step["option"]


def test_what_is_owned_is_not_bought(bought):
    """Of a line so many are bought as there are to be less those there: by hand, 5 cylinders and 1 unit there."""
    found, _ = bought
    for step in found["steps"]:
        lines = {line["item"]: line for line in step["lines"]}
        fleet, units = (int(step["choices"][key]) for key in ("cylinders.fleet", "concentrators.count"))
        assert (lines["cylinders"]["buy"], lines["cylinders"]["there"]) == (fleet - 5, 5)
        assert lines["concentrators"]["buy"] == units - 1


def test_the_purchase_list_adds_up(bought):
    """Its total is what is to be paid now; a thing without a price says so; a draft says so first."""
    step = bought[0]["steps"][0]
    lines = lines_of(step["lines"])
    draft, final = Head("of", "USD", "DRAFT: 9 unknown", "footer"), Head("of", "USD", "", "footer")
    assert total(lines) == pytest.approx(step["pay_now"])
    rows = list(csv.reader(list_csv(lines, final).splitlines()))
    assert float(rows[-1][5]) == pytest.approx(step["pay_now"])
    assert {row[4] for row in rows if row[0] == "regulators"} == {"ask for a price"}
    assert list_csv(lines, draft).startswith("Draft purchase list")
    assert ["Draft purchase list" in list_page(lines, head) for head in (draft, final)] == [True, False]


def test_how_many_to_keep_names_no_option_and_no_key(kept):
    """What was counted is said in words; the line for a terminal stands apart."""
    found, sizing = kept
    assert "(--most-missing)" in " ".join(each for each in content(sizing.record) if isinstance(each, str))
    assert re.findall(r"--[a-z]\S*|\b(?:cylinders|resupply)\.\w+", json.dumps(found["more"])) == []
