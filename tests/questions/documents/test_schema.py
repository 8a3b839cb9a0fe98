"""The JSON Schema against a validator of its own: it takes what loads, refuses slips, and shows what keys mean."""

from __future__ import annotations

import json
from pathlib import Path
from typing import get_args

import pytest
from click.testing import CliRunner
from hypothesis import given
from hypothesis import strategies as st
from jsonschema import Draft202012Validator
from scenario_texts import SMALL, WHOLE
from yaml_values import typed, untyped

from o2sim import cli
from o2sim.errors import QuantityError, ScenarioError
from o2sim.quantities import units
from o2sim.questions.documents.scenario_schema import IN_PLACE, definitions, scenario_schema
from o2sim.scenario import load
from o2sim.scenario.keys.fields import FieldKind, documented

ROOT = Path(__file__).parents[3]
SCHEMA = scenario_schema()
VALIDATOR = Draft202012Validator(SCHEMA)
SHIPPED = {path.stem: path.read_text(encoding="utf-8") for path in sorted((ROOT / "scenarios").glob("*.yaml"))}
BAD_INPUT = ROOT / "tests" / "scenario" / "bad_input"
SLIPS = [  # of tests/scenario/bad_input: what an editor should underline
    "arithmetic", "bad_words", "blank_value", "class_without_name", "closures_as_text", "decimal_comma",
    "grid_as_text", "list_as_quantity", "lists_for_values", "many_strategies", "milliwatts", "misplaced_key",
    "missing_keys", "missing_units", "money", "nan_and_inf", "negative", "no_patients", "range_as_quantity",
    "season_months", "strategy_changes", "strategy_sources", "unknown_keys", "unknown_law", "unknown_units",
    "wrong_dimensions",
]  # fmt: skip
QUANTITIES = [kind for kind in get_args(units.Kind) if kind != "number"]


def of_kind(kind):
    """Return a validator of one kind of value."""
    return Draft202012Validator({"$ref": f"#/$defs/{kind.replace(' ', '_')}", "$defs": definitions()})


def problems(value):
    """Return where and why a value is refused."""
    return [(error.json_path, error.message) for error in VALIDATOR.iter_errors(value)]


def test_it_is_a_schema_of_its_dialect():
    """The schema itself is valid under the meta-schema of JSON Schema 2020-12."""
    Draft202012Validator.check_schema(SCHEMA)
    assert SCHEMA["$schema"] == "https://json-schema.org/draft/2020-12/schema"


@pytest.mark.parametrize("read", [typed, untyped])
@pytest.mark.parametrize("name", [*SHIPPED, "SMALL", "WHOLE"])
def test_scenarios_that_load_pass(name, read):
    """Every shipped scenario passes, whether its reader gives types or texts."""
    text = {**SHIPPED, "SMALL": SMALL, "WHOLE": WHOLE}[name]
    assert problems(read(text)) == []


@pytest.mark.parametrize("read", [typed, untyped])
@pytest.mark.parametrize("name", SLIPS)
def test_slips_are_refused(name, read):
    """A malformed file that loading refuses for a key, a kind or a unit is refused here too."""
    path = BAD_INPUT / f"{name}.yaml"
    with pytest.raises(ScenarioError):
        load(path)
    assert problems(read(path.read_text(encoding="utf-8"))) != []


@pytest.mark.parametrize(
    ("before", "after", "where"),
    [
        ("fleet: 4", "fleet: 4\n  flet: 5", "$.cylinders"),
        ("  lead_time: 1 day", "  review: 7 days", "$.resupply"),
        ("fleet: 4", "fleet: -4", "$.cylinders.fleet"),
        ("duration: 24 h", "duration: {gamma: {mean: 24 h}}", "$.patients.child.duration"),
        ("flow: 1 L/min", "flow: 1 kPa", "$.patients.child.flow"),
        ("sources: [cylinder]", "cylinders: {fleet: 3}", "$.strategies['cylinders only']"),
    ],
    ids=["unknown", "missing", "negative", "half a law", "wrong unit", "no sources"],
)
def test_a_slip_is_refused_at_its_place(before, after, where):
    """One slip in a file gives one error, with the path of the key."""
    assert before in SMALL
    assert [path for path, _ in problems(typed(SMALL.replace(before, after)))] == [where]


def test_every_key_is_there_with_its_help_and_default():
    """Each documented key is found by its path, and shows help and default as the table of fields has them."""
    inward = {"*": "additionalProperties", "[]": "items"}
    for path, item in documented():
        node = SCHEMA
        for part in path.replace("[]", ".[]").split("."):
            holder = next((each for each in (node, *node.get("anyOf", ())) if "type" in each), node)
            node = holder[inward[part]] if part in inward else holder["properties"][part]
        assert item.help in node["description"], path
        assert node.get("default") == item.default, path


def test_every_kind_of_value_is_known():
    """A new kind of value needs a schema of its own: none falls back to anything at all."""
    known = definitions()
    unknown = [kind for kind in get_args(FieldKind) if kind not in IN_PLACE and not known[kind.replace(" ", "_")]]
    assert unknown == []


@pytest.mark.parametrize("kind", QUANTITIES)
def test_every_spelling_of_a_unit_passes(kind):
    """What the units accept the schema accepts: each spelling, with and without spaces, and `per` for a slash."""
    validator = of_kind(kind)
    for spelling in units.spellings(kind, every=True):
        for text in (
            f"1.5 {spelling}",
            f"1.5{spelling}",
            f" 2e0  {spelling} ",
            f"1 {spelling}".replace("/", " per "),
        ):
            units.read(text, kind)
            assert validator.is_valid(text), text


@pytest.mark.parametrize("per", ["", "year", "kWh"])
def test_every_price_passes(per):
    """Prices pass in any currency and for every time or energy that is read; others are refused."""
    validator = of_kind({"": "money", "year": "money a year", "kWh": "money a kWh"}[per])
    texts = [f"1.5 USD{slash}{unit}" for unit in units.price_spellings(per) for slash in ("/", " per ", " / ")]
    for text in [*(texts or ["648 USD", "648EUR"]), "0"]:
        units.read_money(text, per)
        assert validator.is_valid(text), text
    for text in ("648", "1 usd", "1 USD/banana", "-1 USD", True):
        assert not validator.is_valid(text), text


PIECES = st.sampled_from(
    ["1", "0", "5", ".", "e", "+", "-", "−", " ", "/", "per", " per ", ",", "L", "min", "h", "kPa", "%",
     "day", "days", "degC", "°C", "W", "mL", "m3", "cubic", "metre", "nan", "bar", "kWh"]
)  # fmt: skip


@given(st.sampled_from(QUANTITIES), st.lists(PIECES, min_size=1, max_size=7).map("".join))
def test_it_never_refuses_what_is_read(kind, text):
    """Whatever text the units read as a quantity of a kind passes the schema of that kind."""
    try:
        units.read(text, kind)
    except QuantityError:
        return
    assert of_kind(kind).is_valid(text)


@pytest.mark.parametrize(
    ("kind", "good", "bad"),
    [
        ("true or false", [True, "true", "False"], ["yes", 1, ""]),
        (
            "date",
            ["2027-04-01", "1900-12-31", "2200-01-01"],
            ["1899-12-31", "2201-01-01", "2027-4-1", "2027-13-01"],
        ),
        ("month or date", ["may", "Sept", "OCTOBER", "jun", "2027-05-15"], ["ma", "mayo", 5, "13"]),
        ("number", [1.8, "1.8", 0], [-1, "-1", "1.8 L", True]),
        ("clock", ["07:00", "7:30", "23:59"], ["24:00", "7", "07:60"]),
        ("clock times", [["06:00", "22:00"]], [[], "06:00", [6]]),
        ("currency", ["USD"], ["usd", "$", 1]),
        ("text", ["a", 5, True], [["a"], {}, None]),
    ],
)
def test_plain_kinds(kind, good, bad):
    """Kinds without a unit take what loading takes, typed or as text, and refuse the like of it."""
    validator = of_kind(kind)
    assert [value for value in good if not validator.is_valid(value)] == []
    assert [value for value in bad if validator.is_valid(value)] == []


def test_patterns_are_plain_enough_for_other_languages():
    """No pattern uses what only Python knows: named groups, flags, or escapes JavaScript refuses."""
    text = json.dumps(SCHEMA)
    assert "(?P" not in text
    assert "(?i" not in text
    escapes = {text[place + 2] for place in range(len(text) - 2) if text[place : place + 2] == "\\\\"}
    assert escapes <= set("s.+")


def test_the_command_prints_it():
    """`o2sim schema` prints the schema and nothing else."""
    shown = CliRunner().invoke(cli.main, ["schema"])
    assert (shown.exit_code, json.loads(shown.stdout)) == (0, SCHEMA)
