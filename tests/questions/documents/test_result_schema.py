"""The schema of results against a validator of its own: real outputs pass with no key over, slips are refused."""

from __future__ import annotations

import copy
import json
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator
from scenario_texts import SMALL
from test_cli import SCENARIO, call
from test_which_to_buy import SCENARIO as OFFERS

from o2sim.questions.documents.result_schema import result_schema

SCENARIOS = Path(__file__).parents[3] / "scenarios"
BUSY = SCENARIO.replace("horizon: 28 days", "horizon: 20 days")


def closed(schema):
    """Return the schema with unknown keys refused, so that a key that is printed and not told is seen."""
    if isinstance(schema, list):
        return [closed(item) for item in schema]
    if not isinstance(schema, dict):
        return schema
    found = {key: closed(value) for key, value in schema.items()}
    if schema.get("type") == "object" and "properties" in schema:
        found["additionalProperties"] = False
    return found


def references(schema):
    """Yield the names that a schema refers to."""
    for value in schema.values() if isinstance(schema, dict) else schema:
        if isinstance(value, dict | list):
            yield from references(value)
    if isinstance(schema, dict) and "$ref" in schema:
        yield schema["$ref"].removeprefix("#/$defs/")


SCHEMA = result_schema()
STRICT = closed(SCHEMA)


def problems(result, command, schema=STRICT):
    """Return where and why a result is refused."""
    validator = Draft202012Validator({"$ref": f"#/$defs/{command}", "$defs": schema["$defs"]})
    return [(error.json_path, error.message[:200]) for error in validator.iter_errors(result)]


def printed(*arguments):
    """Return the object that a command prints."""
    shown = call(*arguments, "--json")
    assert shown.exit_code == 0, shown.stderr
    return json.loads(shown.stdout)


@pytest.fixture
def file(tmp_path):
    """Return a function that writes a scenario and returns its path."""

    def write(text):
        path = tmp_path / "scenario.yaml"
        path.write_text(text, encoding="utf-8")
        return path

    return write


def test_it_is_a_schema_of_its_dialect():
    """It is valid under the meta-schema, every reference leads somewhere, and `schema --results` prints it."""
    Draft202012Validator.check_schema(SCHEMA)
    assert set(references(SCHEMA)) == set(SCHEMA["$defs"])
    assert json.loads(call("schema", "--results").stdout) == SCHEMA
    assert json.loads(call("schema").stdout)["title"].startswith("o2sim scenario")


@pytest.mark.parametrize("path", sorted(SCENARIOS.glob("*.yaml")), ids=lambda path: path.stem)
def test_results_of_the_demos_pass(path):
    """What `compare` prints of every shipped scenario has the keys that the schema tells, and no other."""
    assert problems(printed("compare", path, "--replications", "1"), "compare") == []


def test_results_of_compare_pass(file):
    """With a precision, a convergence and a decision, stated limits or none, nothing is left untold."""
    asked = ("compare", file(OFFERS), "--options")
    for more in (
        ["--replications", "3"],
        ["--replications", "3", "--budget", "1 USD/year", "--target", "99 %"],
        ["--precision", "30 %", "--replications", "12"],
    ):
        assert problems(printed(*asked, *more), "compare") == []
    unpriced = ("run", file(SMALL), "--strategy", "cylinders only", "--replications", "1")
    assert problems(printed(*unpriced), "compare") == []


def test_results_of_size_pass(file):
    """By one batch and by a search, with an answer and without one."""
    asked = ("size", file(BUSY), "--strategy", "cylinders only", "--replications", "40")
    answers = set()
    for more in (
        ["--target", "40 %", "--range", "10..40 step 15"],
        ["--target", "8 %", "--range", "4..5"],
        ["--target", "40 %", "--vary", "cylinders.fleet = 14, 28", "--vary", "cylinders.regulators = 4, 6"],
        ["--target", "40 %", "--range", "4..10 step 3", "--causes", "any"],
    ):
        result = printed(*asked, *more)
        assert problems(result, "size") == []
        answers.add((result["method"]["name"], result["answer"] is None))
    assert {("one batch", True), ("one batch", False), ("search", True), ("search", False)} == answers


def test_results_of_whatif_pass(file):
    """With a break-even and with none, with prices and without."""
    asked = ("--replications", "4", "--vary", "patients.adults.admissions = 0.01 / day, 3 / day")
    result = printed("whatif", file(BUSY), *asked)
    assert problems(result, "whatif") == []
    assert result["break_evens"]
    bare = BUSY.replace("costs: {cylinders: {refill: 18 USD}}\n", "")
    assert problems(printed("whatif", file(bare), *asked, "--strategy", "mixed"), "whatif") == []


def test_results_of_equipment_and_study_pass(file):
    """The lists of `equipment`, and the facilities of `study`."""
    path = file(BUSY)
    assert problems(printed("equipment", path, "--replications", "2"), "equipment") == []
    assert problems(printed("study", path.parent, "--replications", "2"), "study") == []


def slips(result):
    """Yield what is wrong with a copy of a result, and the copy."""
    first = next(iter(result["strategies"]))
    for what, change in {
        "a measure is missing": lambda r: r["strategies"][first].pop("fill_rate"),
        "a chance above one": lambda r: r["strategies"][first]["stock_out_probability"].update(high=1.2),
        "a number as a text": lambda r: r.update(seed="1"),
        "no interval where one must be": lambda r: r["strategies"][first]["stock_out_probability"].pop("low"),
        "an unknown engine": lambda r: r.update(engine="fast"),
        "strategies as a list": lambda r: r.update(strategies=list(r["strategies"].values())),
        "a difference of nothing": lambda r: r["differences"][0].pop("measure"),
        "a hash that is none": lambda r: r.update(scenario_hash="xyz"),
    }.items():
        wrong = copy.deepcopy(result)
        change(wrong)
        yield what, wrong


def test_slips_are_refused(file):
    """Each of eight slips in a result is refused by the schema as it is printed, and at least by its own part."""
    result = printed("compare", file(BUSY), "--replications", "2")
    assert problems(result, "compare", SCHEMA) == []
    for what, wrong in slips(result):
        assert problems(wrong, "compare", SCHEMA), what
    assert problems({**result, "later": 1}, "compare", SCHEMA) == []  # a later version may print more
    assert problems({**result, "later": 1}, "compare") != []
    whole = Draft202012Validator(SCHEMA)
    assert whole.is_valid(result)
    assert not whole.is_valid({"scenario": "x"})


def test_results_of_records_pass(tmp_path, monkeypatch):
    """Of `fit` and `records check`, in order and not; that of `hindcast` stands in test_hindcast_command.py."""
    from made_books import PATIENT, WHOLE, book

    monkeypatch.chdir(tmp_path)
    (tmp_path / "books.xlsx").write_bytes(book(WHOLE))
    checked = printed("records", "check", "books.xlsx")
    assert problems(checked, "records_check") == []
    fitted = printed("fit", "books.xlsx", "-o", "out.yaml")
    assert problems(fitted, "fit") == []
    assert (fitted["keys"] != [], fitted["not_given"] != []) == (True, True)
    (tmp_path / "wrong.xlsx").write_bytes(book({"Patients on oxygen": [PATIENT | {"SpO2 %": 0.88}]}))
    wrong = json.loads(call("records", "check", "wrong.xlsx", "--json").stdout)
    assert (problems(wrong, "records_check"), wrong["errors"] != []) == ([], True)
    for result, name in ((checked, "fit"), (fitted, "hindcast"), (fitted, "records_check")):
        assert problems(result, name) != []
