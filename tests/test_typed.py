"""Records as JSON and as JSON Schema, checked against a reference implementation of JSON Schema (jsonschema)."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

import jsonschema
import numpy as np
import pytest

from o2sim.typed import Count, Share, as_json, definitions, item, schema_of


@dataclass(frozen=True)
class Mean:
    """A mean with its ends."""

    mean: float
    low: float | None = None
    note: str | None = item("why there is no interval", default=None, sometimes=True)


@dataclass(frozen=True)
class Where:
    """Where figures come from."""

    seed: Count
    engine: Literal["kernel", "reference"]


@dataclass(frozen=True)
class Answer:
    """An answer with all that a result may hold."""

    where: Where = item(flat=True)
    chance: Share = item("within the horizon")
    begins: str = item("of a step", key="from")
    hours: Mapping[str, Mean] = item("by cause", unit="h", keys=("no cylinder", "no power"))
    on: tuple[str, ...] = ()
    best: Mean | None = None


NAMED = {Mean: "mean"}
FULL = Answer(
    Where(1, "kernel"), 0.25, "a", {"no cylinder": Mean(1.5, note="one only"), "no power": Mean(2.0)}, ("x",)
)
OBJECT = {
    "seed": 1,
    "engine": "kernel",
    "chance": 0.25,
    "from": "a",
    "hours": {
        "no cylinder": {"mean": 1.5, "low": None, "note": "one only"},
        "no power": {"mean": 2.0, "low": None},
    },
    "on": ["x"],
    "best": None,
}


def problems(value):
    """Return what a validator finds wrong with an object."""
    schema = {**schema_of(Answer, NAMED), "$defs": definitions(NAMED)}
    jsonschema.Draft202012Validator.check_schema(schema)
    return [error.json_path for error in jsonschema.Draft202012Validator(schema).iter_errors(value)]


def test_a_record_becomes_the_object_that_it_declares():
    """Keys stand in the order declared, flat ones among them, one left out where it has nothing to say."""
    assert as_json(FULL) == OBJECT
    assert list(as_json(FULL)) == list(OBJECT)


def test_an_object_of_a_record_passes_its_schema():
    """What as_json gives is what schema_of allows."""
    assert problems(as_json(FULL)) == []


@pytest.mark.parametrize(
    ("change", "where"),
    [
        ({"chance": 1.5}, "$.chance"),
        ({"seed": -1}, "$.seed"),
        ({"engine": "other"}, "$.engine"),
        ({"hours": {"no power": {"mean": 1.0, "low": None}}}, "$.hours"),
        ({"best": {"mean": "much", "low": None}}, "$.best"),
        ({"on": "x"}, "$.on"),
    ],
)
def test_a_wrong_object_fails_the_schema_where_it_is_wrong(change, where):
    """Limits, words, known keys and types are all in the schema."""
    assert problems({**OBJECT, **change}) == [where]


def test_a_key_that_must_be_there_is_missed():
    """Every key but those that are there only sometimes is required, those of a flat record too."""
    for key in OBJECT:
        assert problems({name: value for name, value in OBJECT.items() if name != key}) == ["$"]


def test_descriptions_hold_help_and_unit():
    """Help and unit become the description of a key."""
    found = schema_of(Answer, NAMED)["properties"]
    assert (found["hours"]["description"], found["chance"]["description"]) == ("by cause; h", "within the horizon")


@pytest.mark.parametrize("value", [math.nan, math.inf, object()])
def test_what_no_json_can_hold_is_refused(value):
    """A number that is none, or a foreign object, is an error and not a text."""
    with pytest.raises(ValueError, match="allowed in JSON"):
        as_json({"a": value})


def test_scalars_and_dates_become_plain():
    """Scalars of NumPy become Python's, dates their ISO form."""
    assert as_json([np.int64(3), np.float64(0.5), np.bool_(True), dt.date(2031, 5, 1)]) == [
        3, 0.5, True, "2031-05-01",
    ]  # fmt: skip


def test_a_type_without_json_is_refused():
    """A field of a type that no JSON holds is a mistake of the declaration."""
    with pytest.raises(TypeError, match="a result holds"):
        schema_of(complex, {})
