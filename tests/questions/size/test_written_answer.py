"""The answer of a sizing in a copy of the scenario: all of it, all else as it was; it does what was promised."""

import dataclasses
import re
import shlex
import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner
from scenario_texts import with_values
from test_sizing import WARD

from o2sim import scenario
from o2sim.cli import main
from o2sim.errors import O2simError, OutputError
from o2sim.questions.size.sizing import size
from o2sim.runs.study import costs_of, run_study
from o2sim.runs.supply_alone import supply_alone
from o2sim.scenario.changing.override import changed, loaded, original, original_of
from o2sim.scenario.changing.splice import written

SHIPPED = sorted((Path(__file__).parents[3] / "scenarios").glob("*.yaml"))
CALM = WARD.replace("horizon: 60", "horizon: 20").replace("warm_up: 7", "warm_up: 2")
OWN = CALM.replace(
    "  mixed: {sources: [concentrator, cylinder]}",
    "  mixed:   # two ways\n    sources: [concentrator, cylinder]\n"
    "    cylinders: {fleet: 18, full_at_start: 17}   # fewer\n    resupply:\n      reorder_point: 9   # own\n",
)
NO_STRATEGIES = CALM.split("strategies:")[0]
PIPED = CALM.replace("costs:", "manifold: {bank: 2, outlets: 8}\ncosts:").replace(
    "  mixed: {sources: [concentrator, cylinder]}", "  mixed: {sources: [manifold, cylinder]}"
)
WARDS = (
    CALM.replace("{admissions: 1", "{ward: a, admissions: 1")
    .replace(
        "costs:", "wards: {a: {concentrators: 1, regulators: 9}, b: {concentrators: 1, regulators: 4}}\ncosts:"
    )
    .replace("regulators: 20, ", "")
    .replace("{count: 2, ", "{")
)
FLEET = "cylinders.fleet = 20..44 step 8"


@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: path.stem)
def test_a_copy_of_a_shipped_scenario_says_the_same_but_for_the_answer(path, tmp_path):
    """Under each strategy: it loads, is what the values make of the file, warns no more, and has all comments."""
    for other in path.parent.glob("*.csv"):
        shutil.copy(other, tmp_path)
    source, copy = original(path), tmp_path / path.name
    before = path.read_text(encoding="utf-8")
    for name, hospital in source.scenario.hospitals.items():
        values = _changes(hospital)
        there = changed(source, values, name, move_levels=True)
        copy.write_text(written(source, there, loaded(source, there)), encoding="utf-8")
        found = scenario.load(copy)
        assert found.hospitals == with_values(source, values, name, move_levels=True).hospitals
        assert found.hospitals[name] != hospital
        assert [w.field for w in scenario.warnings(found)] == [w.field for w in scenario.warnings(source.scenario)]
        assert re.findall(r"#.*", copy.read_text(encoding="utf-8")) == re.findall(r"#.*", before)


def _changes(hospital):
    """Return another power of the units and seven cylinders more, of the first model and the first size."""
    units, stock, values = hospital.concentrators, hospital.cylinders, {}
    if units is not None:
        model = units.groups[0].model
        values[f"concentrators.models.{model}.power" if model else "concentrators.power"] = "333 W"
    if stock is not None:
        size = next(each for each in stock.each if each.fleet)
        values[f"cylinders.{f'sizes.{size.name}.' if size.name else ''}fleet"] = str(size.fleet + 7)
    return values


@pytest.mark.parametrize(
    ("text", "strategy", "asked", "to_write"),
    [
        (CALM, "mixed", {"vary": FLEET}, {"cylinders.fleet", "resupply.reorder_point", "resupply.order_up_to"}),
        (CALM, "cylinders only", {"vary": FLEET, "causes": ["supply"]},
         {"cylinders.fleet", "resupply.reorder_point", "resupply.order_up_to"}),
        (OWN, "mixed", {"vary": FLEET}, {"cylinders.fleet", "cylinders.full_at_start", "resupply.reorder_point",
                                         "resupply.order_up_to"}),
        (CALM, "mixed", {"vary": FLEET, "hold_levels": True}, {"cylinders.fleet"}),
        (CALM, "concentrators only", {"vary": "concentrators.count = 4, 8", "causes": ["concentrators full"]},
         {"concentrators.count"}),
        (CALM, "cylinders only", {"vary": "cylinders.regulators = 12, 20", "causes": ["no regulator"]},
         {"cylinders.regulators"}),
        (CALM, "mixed", {"vary": [FLEET, "resupply.reorder_point = 30, 32"]},
         {"cylinders.fleet", "resupply.reorder_point", "resupply.order_up_to"}),
        (CALM, "mixed", {"vary": ["concentrators.count = 3, 6", "resupply.lead_time.mean = 1..3 days"]},
         {"concentrators.count", "resupply.lead_time"}),
        (NO_STRATEGIES, "cylinders only", {"vary": FLEET},
         {"cylinders.fleet", "resupply.reorder_point", "resupply.order_up_to"}),
        (PIPED, "mixed", {"vary": FLEET}, {"cylinders.fleet", "resupply.reorder_point", "resupply.order_up_to"}),
        (WARDS, "mixed", {"vary": FLEET}, {"cylinders.fleet", "resupply.reorder_point", "resupply.order_up_to"}),
    ],
)  # fmt: skip
def test_what_was_promised_is_what_the_copy_does(text, strategy, asked, to_write, tmp_path):
    """The replications that were looked at, run from the copy with supply alone and as it is: chances, money."""
    loose = {"target": 0.6, "confidence": 0.6, "most_missing": 0.999}
    found = size(original_of(text), strategy, replications=24, seed=3, **loose, **asked)
    assert found.result["answer"] is not None
    assert found.result["answer"]["to_write"].keys() == to_write
    looked_at = found.result["measured"]
    first, count = looked_at["first_replication"], looked_at["replications"]
    copy = scenario.load(found.write_scenario(tmp_path / "copy.yaml"))
    for ran, seen in ((copy, found.result["with_handling"]), (supply_alone(copy), looked_at)):
        study = run_study(ran, strategies=[strategy], replications=first + count, seed=3)
        outcomes = study.outcomes[strategy][first:]
        assert sum(o.stock_outs > 0 for o in outcomes) / count == seen["chance_of_a_stock_out"]["estimate"]
    assert sum(costs_of(copy, strategy, outcomes)) / count == pytest.approx(looked_at["annual_cost"], rel=1e-12)
    days = outcomes[0].horizon_s / 86_400
    assert sum(o.cylinders_emptied for o in outcomes) / (count * days) == looked_at["cylinders_emptied_a_day"]


def test_the_fleet_alone_is_not_the_answer():
    """Without the levels that moved with it the same fleet is another hospital, so they are all to be written."""
    found = size(
        original_of(CALM), "mixed", replications=24, target=0.6, confidence=0.6, vary="cylinders.fleet = 44"
    )
    alone = with_values(original_of(CALM), found.answer, "mixed").hospitals["mixed"]
    whole = with_values(original_of(CALM), found.result["answer"]["to_write"], "mixed").hospitals["mixed"]
    assert found.result["answer"]["to_write"] == {
        "cylinders.fleet": "44", "resupply.reorder_point": "34", "resupply.order_up_to": "40"
    }  # fmt: skip
    assert (alone == found.hospital, whole == found.hospital) == (False, True)


def test_without_an_answer_or_a_text_nothing_is_written(tmp_path):
    """Each says why; a file that is there stays, unless that is forced."""
    none = size(original_of(CALM), "cylinders only", replications=59, vary="cylinders.fleet = 15, 16")
    with pytest.raises(O2simError, match="no value is enough"):
        none.write_scenario(tmp_path / "copy.yaml")
    found = size(
        original_of(CALM), "mixed", replications=24, target=0.6, confidence=0.6, vary="cylinders.fleet = 44"
    )
    (tmp_path / "copy.yaml").write_text("mine")
    with pytest.raises(OutputError, match="is there already"):
        found.write_scenario(tmp_path / "copy.yaml")
    found.write_scenario(tmp_path / "copy.yaml", force=True)
    assert scenario.load(tmp_path / "copy.yaml").hospitals["mixed"] == found.hospital
    there = changed(original_of(CALM), {"cylinders.fleet": "9"}, "mixed")
    with pytest.raises(O2simError, match="would not say the same"):
        written(original_of(CALM), there, original_of(CALM).scenario)


def test_a_copy_begins_and_ends_its_lines_as_the_file_does(tmp_path):
    """A mark at the beginning and ends of lines as some editors write them stay, byte by byte."""
    ward = tmp_path / "ward.yaml"
    ward.write_bytes(b"\xef\xbb\xbf" + CALM.encode().replace(b"\n", b"\r\n"))
    found = size(ward, "mixed", replications=24, target=0.6, confidence=0.6, vary="cylinders.fleet = 44")
    added = b", cylinders: {fleet: 44}, resupply: {reorder_point: 34, order_up_to: 40}"
    old = b"mixed: {sources: [concentrator, cylinder]"
    copy = found.write_scenario(tmp_path / "copy.yaml")
    assert copy.read_bytes() == ward.read_bytes().replace(old, old + added)
    assert scenario.load(copy).hospitals["mixed"] == found.hospital
    there = found.candidate.there
    with pytest.raises(O2simError, match="no text of this scenario"):
        written(dataclasses.replace(found.source, text=""), there, found.candidate.scenario)


def test_a_copy_lies_where_its_files_are_found(tmp_path):
    """A scenario that names a file beside it is not copied to where that is missing, and this is said first."""
    here, there = tmp_path / "here", tmp_path / "there"
    here.mkdir()
    there.mkdir()
    (here / "stays.csv").write_text("hours\n30\n50\n")
    text = CALM.replace("{exponential: {mean: 40 h}}", "{empirical: {file: stays.csv, column: hours, unit: h}}")
    (here / "ward.yaml").write_text(text)
    asked = ["size", here / "ward.yaml", "--strategy", "mixed", "--range", "44", "--replications", 59]
    refused = called(*asked, "--write", there / "copy.yaml")
    assert (refused.exit_code, "would miss the files it names" in refused.stderr) == (1, True)
    assert list(there.iterdir()) == []


def called(*arguments):
    """Return what a call of the command gives."""
    return CliRunner().invoke(main, [str(each) for each in arguments])


def test_every_command_that_is_printed_can_be_run(tmp_path, monkeypatch):
    """In the order in which they stand; the copy is the file with the printed lines in the place they name."""
    monkeypatch.chdir(tmp_path)
    ward = tmp_path / "my ward.yaml"
    ward.write_text(OWN.replace("mixed:   #", '"mixed & more":   #'), encoding="utf-8")
    done = called("size", ward.name, "--strategy", "mixed & more", "--range", "44, 52", "--replications", 59,
                  "--seed", 4, "--csv", "curve.csv")  # fmt: skip
    assert done.exit_code == 0, done.output
    shown = done.stdout.splitlines()
    commands = [line for line in shown if line.startswith("o2sim ")][:3]
    made = [
        called(*shlex.split(line)[1:], *(["--replications", 2] if " compare " in line else []))
        for line in commands
    ]
    assert [each.exit_code for each in made] == [0, 0, 0], [each.output for each in made]
    assert [shlex.split(line)[1] for line in commands] == ["size", "compare", "size"]
    assert "has the whole answer under the strategy “mixed & more”" in " ".join(made[0].stdout.split())
    assert (tmp_path / "sheets").is_dir()
    copy = (tmp_path / "my ward-sized.yaml").read_text(encoding="utf-8")
    assert pasted(ward.read_text(encoding="utf-8"), shown) == copy
    again = called("size", ward.name, "--strategy", "mixed & more", "--range", "44", "--replications", 59)
    assert "'my ward-sized-2.yaml'" in again.stdout


def pasted(text, shown):
    """Return a text with the lines of a screen in the places that it names."""
    lines, lots = text.splitlines(), []
    for line in shown:
        place = re.fullmatch(r"# (after line|in place of lines?) (\d+)(?: to (\d+))?:", line)
        if place:
            first, last = int(place[2]), int(place[3] or place[2])
            lots.append((last, last, []) if place[1] == "after line" else (first - 1, last, []))
        elif line.startswith("  - ") or not lots:
            lots = lots and [*lots, (len(lines), len(lines), [])]
        else:
            lots[-1][2].append(line)
    for first, last, new in reversed([lot for lot in lots if lot[0] < len(lines)]):
        lines[first:last] = new
    return "\n".join(lines) + "\n"


def test_a_copy_is_written_by_the_command_and_not_over_what_is_there(tmp_path):
    """Refused before any work; the scenario itself with --force alone; said where there is no answer."""
    ward, copy = tmp_path / "ward.yaml", tmp_path / "copy.yaml"
    ward.write_text(CALM, encoding="utf-8")
    asked = ["size", ward, "--strategy", "cylinders only", "--replications", 59, "--range"]
    assert called(*asked, "60", "--write", copy, "--json").stderr == f"written to {copy}\n"
    for taken in (copy, ward):
        before = taken.read_text(encoding="utf-8")
        refused = called(*asked, "60", "--write", taken)
        assert (refused.exit_code, refused.stdout, taken.read_text(encoding="utf-8")) == (1, "", before)
    none = called(*asked, "15", "--write", tmp_path / "none.yaml")
    assert (none.exit_code, (tmp_path / "none.yaml").exists()) == (0, False)
    assert "no value is enough" in none.stderr
    assert called(*asked, "60", "--write", ward, "--force").exit_code == 0
    assert ward.read_text(encoding="utf-8") == copy.read_text(encoding="utf-8")
