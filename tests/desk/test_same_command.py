"""The line for a terminal beside each answer gives the figures of the desk."""

import json
import shlex

import pytest
from click.testing import CliRunner
from small_ward import WARD

from o2sim.cli import main
from o2sim.desk import work
from o2sim.desk.same_command import command_for, count_words
from o2sim.questions.compare import brief
from o2sim.scenario import loads

FEW = 20
UNKNOWN = WARD.replace("count: 2,", "count: {low: 1, likely: 2, high: 3},").split("options:")[0]
OWNED = WARD.replace("fleet: 14,", "fleet: 14, owned: 5,").replace("1 / day", "3 / day")


@pytest.fixture
def asked(tmp_path, monkeypatch):
    """Give what asks the engine room a question about a text, and then the terminal, with few replications."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(work, "REPLICATIONS", FEW)
    monkeypatch.setattr(work, "AT_EACH_END", FEW)

    def ask(name, text, *more, **given):
        (tmp_path / "our ward.yaml").write_text(text)
        where = {"path": "our ward.yaml", "store": str(tmp_path / "runs.sqlite")}
        found = work.do(name, {**where, **given}, lambda *_: None)
        line = command_for(name, "our ward.yaml", found, options="options:" in text)
        done = CliRunner().invoke(main, [*shlex.split(line)[1:], *more, "--json"])
        assert done.exit_code == 0, done.output
        return found, json.loads(done.stdout)

    return ask


def test_the_line_of_the_answer(asked):
    """The table to decide by is made of the object that the command prints."""
    found, said = asked("answer", WARD)
    tolerated_s = next(iter(loads(WARD).hospitals.values())).tolerated_gap_s
    assert found["table"][0]["rows"] == brief.to_decide_by(said, tolerated_s, "USD").rows


def test_the_line_of_what_would_change_it(asked):
    """The chance at the low end and at the high end of what is not known."""
    found, said = asked("matters", UNKNOWN)
    (row,) = found["rows"]
    (bar,) = said["strategies"][found["choice"]]["bars"]["stock_out_probability"]
    assert (row["at_low"], row["at_high"]) == (bar["low"]["estimate"], bar["high"]["estimate"])


def test_the_line_of_worse_power(asked):
    """Every measure at every length of a cut."""
    found, said = asked("power", WARD)
    assert [each["strategies"] for each in found["points"]] == [each["strategies"] for each in said["points"]]


def test_the_line_of_what_to_buy(asked):
    """What a sum of money buys, less what is owned, is what the command buys with it at most to pay now."""
    found = asked("buy", OWNED)[0]
    step = found["steps"][-1]
    said = asked("buy", OWNED, "--capital", f"{step['pay_now']} USD")[1]["decision"]
    bought = [(line["item"], line["count"], line["amount"]) for line in said["cheque"]["purchases"]]
    priced = [(line["item"], line["buy"], line["amount"]) for line in step["lines"] if line["each"] is not None]
    assert (said["chosen"], bought) == (step["option"], priced)


def test_the_line_of_today(asked):
    """Each chance of each day, and what is there at the count, read out of the line again."""
    values = {
        "counted": "2026-11-28 07:05",
        "cylinders": {"full": 4, "empty": 5, "part_used": ["60 bar", "6850 kPa"]},
        "on_order": [{"ordered": "2026-11-25", "count": 3}, {"ordered": "unknown", "count": 1}],
        "on_oxygen": [{"class": "all", "count": 1, "source": "cylinder"}, {"class": "all", "count": 2}],
        "concentrators": {"working": 1},
        "grid": {"up": False},
    }
    given = {
        "values": values,
        "strategy": "mixed",
        "on": "2026-11-28",
        "card": "card.jsonl",
        "part_used": ["", ""],
    }
    found, said = asked("today", WARD, "--replications", "100", replications=100, **given)
    assert found["counts"] == said["counts"]
    kept = json.loads(found["card_line"])
    assert (found["counted_said"], kept["ordered_at_least"]) == (found["counted_said"], said["ordering"]["least"])
    assert found["said"] == said["advice"]


@pytest.mark.parametrize(
    ("values", "text"),
    [
        ({}, "counted 2026-11-28 07:05, full 4, empty 5"),
        ({"on_oxygen": []}, "counted 2026-11-28 07:05, full 4, empty 5, on oxygen nobody"),
        (
            {"on_oxygen": [{"class": "old ones", "count": 2, "source": "none"}]},
            "counted 2026-11-28 07:05, full 4, empty 5, on oxygen old ones 2 waits",
        ),
        (
            {"on_oxygen": [{"class": name, "count": 1, "source": "cylinder"} for name in ("ill", "old")]},
            "counted 2026-11-28 07:05, full 4, empty 5, on oxygen ill 1 by cylinder, on oxygen old 1 by cylinder",
        ),
        (
            {"battery": "80 %", "fuel": "35 L"},
            "counted 2026-11-28 07:05, full 4, empty 5, battery 80 %, fuel 35 L",
        ),
    ],
)
def test_a_count_as_a_line(values, text):
    """What is unknown is not in the line; it is read back as the count that it was made of."""
    count = {"counted": "2026-11-28 07:05", "cylinders": {"full": 4, "empty": 5}, **values}
    assert count_words(count) == text
    line = command_for(
        "today", "a.yaml", {"values": count, "on": "2026-11-28", "strategy": "mixed"}, options=False
    )
    assert line.startswith(f"o2sim today a.yaml --count '{text}'")


def test_a_class_that_no_line_can_hold_has_none():
    """A comma ends a part of the line."""
    count = {"counted": "2026-11-28 07:05", "cylinders": {"full": 4, "empty": 5},
             "on_oxygen": [{"class": "old, ill", "count": 1}]}  # fmt: skip
    result = {"values": count, "on": "2026-11-28", "strategy": "mixed"}
    assert command_for("today", "a.yaml", result, options=False) == ""


def test_steps_of_the_desk_have_no_line_until_they_stand_in_the_file():
    """No command has figures for what only the desk tried."""
    assert command_for("buy", "our ward.yaml", {}, options=False) == ""


def test_the_line_of_how_many_to_keep():
    """Strategy and target are those of the question."""
    line = command_for("keep", "a b.yaml", {"strategy": "cylinders only", "target": "5 %"}, options=False)
    assert line == "o2sim size 'a b.yaml' --strategy 'cylinders only' --target '5 %' --seed 1"
