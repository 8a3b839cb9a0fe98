"""What-if and drivers over a fleet: levels of the reorder rule move with it, as in a sizing, or are held."""

import csv
import json

import pytest
from click.testing import CliRunner
from scenario_texts import with_values
from test_drivers import SHORT
from test_written_answer import CALM, OWN

from o2sim.cli import main
from o2sim.errors import ScenarioError
from o2sim.questions.drivers.charts import draw
from o2sim.questions.drivers.drivers import drivers
from o2sim.questions.size.candidates import field_of
from o2sim.questions.whatif.charts import heat_map, lines
from o2sim.questions.whatif.whatif import whatif
from o2sim.runs.store_file import open_store
from o2sim.scenario import loads
from o2sim.scenario.changing.override import original_of
from o2sim.scenario.changing.ranges import at_texts, with_ranges

FLEETS = "cylinders.fleet = 20, 24, 30"
MOVED = CALM.replace("fleet: 24", "fleet: 30").replace("point: 14", "point: 20").replace("up_to: 20", "up_to: 26")
HELD = CALM.replace("fleet: 24", "fleet: 30")
BOTH = ["resupply.reorder_point", "resupply.order_up_to"]


def asked(vary, text=CALM, **more):
    """Return a what-if of two replications."""
    return whatif(original_of(text), vary, replications=2, **more)


def told(result):
    """Return what a result says of levels."""
    return result["levels"], result["levels_moved"], result["levels_varied"]


def test_levels_move_with_the_fleet_in_a_what_if_unless_held():
    """A point is the file with fleet and levels written so; held, with the fleet alone; the file at its fleet."""
    moved, held = asked(FLEETS).result, asked(FLEETS, hold_levels=True).result
    assert [point["scenario_hash"] for point in moved["points"]][1:] == [loads(CALM).hash, loads(MOVED).hash]
    assert [point["scenario_hash"] for point in held["points"]][1:] == [loads(CALM).hash, loads(HELD).hash]
    assert told(moved) == ("moved", BOTH, [])
    assert told(held) == ("held", [], [])
    sized = field_of(original_of(CALM), "mixed", ["cylinders.fleet = 30, 31"]).candidates[0]
    assert sized.hospital("mixed") == loads(MOVED).hospitals["mixed"]


def test_each_strategy_moves_its_levels_from_its_own_fleet():
    """One that states fleet and levels for itself, in part or whole, keeps its own distances; so does the file."""
    source = original_of(OWN)
    found = with_values(source, {"cylinders.fleet": "30"}, move_levels=True).hospitals
    rules = {name: (each.cylinders.full_at_start, each.resupply.reorder_point, each.resupply.order_up_to)
             for name, each in found.items() if each.cylinders}  # fmt: skip
    assert rules == {"cylinders only": (30, 20, 26), "mixed": (29, 21, 32)}
    alone = with_values(source, {"strategies.mixed.cylinders.fleet": "20"}, move_levels=True).hospitals
    assert alone["cylinders only"] == source.scenario.hospitals["cylinders only"]
    mixed = alone["mixed"]
    assert (mixed.cylinders.full_at_start, mixed.resupply.reorder_point, mixed.resupply.order_up_to) == (
        19,
        11,
        22,
    )


def test_a_fleet_that_stays_keeps_its_levels_where_those_it_shares_move():
    """The shared fleet is uncertain, a strategy's own is not: it shares the level, but does not follow it."""
    text = CALM.replace("fleet: 24", "fleet: {low: 22, likely: 24, high: 30}").replace(
        "mixed: {sources: [concentrator, cylinder]",
        "mixed: {sources: [concentrator, cylinder], cylinders: {fleet: 23}",
    )
    source = original_of(text)
    found = at_texts(source, {"cylinders.fleet": "30"}, move_levels=True).hospitals
    levels = {n: (h.resupply.reorder_point, h.resupply.order_up_to) for n, h in found.items() if h.resupply}
    assert levels == {"cylinders only": (20, 26), "mixed": (14, 20)}


@pytest.mark.parametrize(
    ("vary", "more", "said"),
    [
        (["power.grid.down = 1 h, 9 h"], {}, (None, [], [])),
        ([FLEETS, "resupply.reorder_point = 10, 12"], {}, ("moved", BOTH[1:], BOTH[:1])),
        ([FLEETS, "resupply.reorder_point = 10, 12", "resupply.order_up_to = 20"], {}, ("held", [], BOTH)),
        ([FLEETS, "resupply.reorder_point = 10, 12"], {"hold_levels": True}, ("held", [], BOTH[:1])),
        (["strategies.mixed.cylinders.fleet = 20, 22"], {"text": OWN},
         ("moved", ["cylinders.full_at_start", *BOTH], [])),
        ([FLEETS], {"strategies": ["concentrators only"]}, (None, [], [])),
        ([FLEETS], {"text": CALM.split("strategies:")[0]}, ("moved", BOTH, [])),
    ],
)  # fmt: skip
def test_what_became_of_the_levels_is_told(vary, more, said):
    """Moved, held, or nothing to move; those that are varied themselves apart."""
    assert told(asked(vary, **more).result) == said


def test_a_level_that_is_varied_itself_is_held_beside_the_fleet():
    """It has the values asked for, also where that is the file's; the other one moves."""
    points = asked(["cylinders.fleet = 30", "resupply.reorder_point = 14, 9"]).result["points"]
    moved = CALM.replace("fleet: 24", "fleet: 30").replace("up_to: 20", "up_to: 26")
    assert [point["scenario_hash"] for point in points] == [
        loads(moved).hash, loads(moved.replace("point: 14", "point: 9")).hash
    ]  # fmt: skip


def test_a_fleet_too_small_for_its_levels_is_left_out_as_in_a_sizing():
    """With the reason; where nothing else is left that is an error, and a fault of the value itself always is."""
    result = asked("cylinders.fleet = 5, 9, 24").result
    assert [point["values"]["cylinders.fleet"] for point in result["points"]] == ["24"]
    assert (result["points_asked_for"], result["complete"], len(result["refused"])) == (1, True, 2)
    assert result["refused"][0].startswith("cylinders.fleet = 5: resupply.reorder_point: ")
    assert [each.split(":")[0] for each in result["refused"]] == [
        each.split(":")[0] for each in field_of(original_of(CALM), "mixed", ["cylinders.fleet = 5, 9, 24"]).refused
    ]
    with pytest.raises(ScenarioError, match=r"and with the fleet resupply\.reorder_point = -5"):
        asked("cylinders.fleet = 5, 9")
    with pytest.raises(ScenarioError, match=r"cylinders\.fleet: found '-5'"):
        asked("cylinders.fleet = -5, 24")


def test_a_store_does_not_mix_levels_moved_and_held(tmp_path):
    """Either way, with a store that has the other way's runs in it, the result is that of a run without one."""
    with open_store(tmp_path / "runs.o2store", "whatif") as store:
        stored = [
            asked(FLEETS, hold_levels=hold, run_options={"store": store}).result for hold in (False, True, False)
        ]
    plain = [asked(FLEETS, hold_levels=hold).result for hold in (False, True, False)]
    assert stored == plain
    assert stored[0]["points"][0] != stored[1]["points"][0]


def test_levels_move_with_an_uncertain_fleet_in_drivers():
    """Points and the best guess are the file written so; a level that is uncertain too is held."""
    source = with_ranges(original_of(CALM), {"cylinders.fleet": ("20", "30", "40")}, move_levels=True)
    assert source.scenario.hospitals == loads(MOVED).hospitals
    lower = at_texts(source, {"cylinders.fleet": "24"}, move_levels=True)
    assert lower.hash == loads(CALM).hash
    ranges = {"cylinders.fleet": ("24", "30", "40"), "resupply.reorder_point": ("10", "14", "15")}
    both = with_ranges(original_of(CALM), ranges, move_levels=True)
    rule = at_texts(both, {"cylinders.fleet": "24"}, move_levels=True).hospitals["mixed"].resupply
    assert (rule.reorder_point, rule.order_up_to) == (14, 20)
    with pytest.raises(
        ScenarioError, match=r"reorder_point: found '-5'.*with cylinders\.fleet at its low value, 5"
    ):
        with_ranges(original_of(CALM), {"cylinders.fleet": ("5", "24", "30")}, move_levels=True)


@pytest.mark.parametrize(
    ("vary", "hold", "said"),
    [
        ("cylinders.fleet = 20, 24, 30", False, ("moved", BOTH, [])),
        ("cylinders.fleet = 20, 24, 30", True, ("held", [], [])),
        (["cylinders.fleet = 20, 24, 30", "resupply.reorder_point = 12, 14, 15"], False,
         ("moved", BOTH[1:], BOTH[:1])),
        ("power.grid.down = 1 h, 6 h, 9 h", False, (None, [], [])),
    ],
)  # fmt: skip
def test_drivers_say_what_became_of_the_levels(vary, hold, said):
    """In the result, the chart and the table; and the figures at the ends are those of a what-if."""
    found = drivers(original_of(SHORT), vary, replications=4, hold_levels=hold)
    assert told(found.result) == said
    assert {row[-1] for row in found.rows()} == {said[0] or ""}
    shown = "levels of the reorder rule" in draw(found.answers)._suptitle.get_text()
    assert shown == (said[0] is not None)
    if isinstance(vary, str) and said[0]:
        bar = found.result["strategies"]["cylinders only"]["bars"]["annual_cost"][0]
        ends = whatif(original_of(SHORT), "cylinders.fleet = 20, 30", replications=4, hold_levels=hold).result[
            "points"
        ]
        costs = [each["strategies"]["cylinders only"]["annual_cost"]["mean"] for each in ends]
        assert [bar["low"]["mean"], bar["high"]["mean"]] == costs


def test_commands_say_it_on_the_screen_in_json_and_in_the_table(tmp_path):
    """With --hold-levels and without."""
    ward, table = tmp_path / "ward.yaml", tmp_path / "long.csv"
    ward.write_text(CALM)
    runs = ["--replications", "2", "--strategy", "mixed"]
    moved = called("whatif", ward, "--vary", "cylinders.fleet = 9, 24, 30", "--table", table, *runs)
    assert "resupply.reorder_point and resupply.order_up_to move with the fleet by the same number" in moved
    assert "1 point is left out, since there is no such reorder rule; the first: cylinders.fleet = 9:" in moved
    assert {row["levels"] for row in csv.DictReader(table.read_text().splitlines())} == {"moved"}
    held = called("whatif", ward, "--vary", FLEETS, "--hold-levels", *runs)
    assert "The levels of the reorder rule are held while the fleet changes." in held
    both = called("whatif", ward, "--vary", FLEETS, "--vary", "resupply.reorder_point = 9, 14", *runs)
    assert "(--hold-levels keeps it). resupply.reorder_point is varied itself, so held beside it." in both
    assert (
        json.loads(called("whatif", ward, "--vary", FLEETS, "--hold-levels", "--json", *runs))["levels"] == "held"
    )
    ranges = ["--vary", "cylinders.fleet = 20, 24, 30", *runs]
    assert "move with the fleet by the same number" in called("drivers", ward, *ranges)
    assert "are held while the fleet changes" in called("drivers", ward, "--hold-levels", *ranges)
    assert json.loads(called("drivers", ward, "--json", *ranges))["levels"] == "moved"


def called(*arguments):
    """Return what a command prints, its words one space apart."""
    done = CliRunner().invoke(main, [str(each) for each in arguments])
    assert done.exit_code == 0, done.output
    return " ".join(done.stdout.split())


def test_charts_of_a_what_if_say_what_became_of_the_levels():
    """Below the title, in lines and heat maps; nothing where no fleet varies."""
    vary = ["cylinders.fleet = 24, 30", "concentrators.count = 1, 2"]
    moved, held = asked(vary).result, asked(vary, hold_levels=True).result
    for result, said in ((moved, "levels of the reorder rule moved with the fleet"), (held, "reorder rule held")):
        assert heat_map(result)._suptitle.get_text().endswith(said)
        assert said in " ".join(lines(result)._suptitle.get_text().split())
    other = asked(["power.grid.down = 1 h, 9 h", "concentrators.count = 1, 2"]).result
    assert heat_map(other)._suptitle.get_text().endswith("seed 1")
