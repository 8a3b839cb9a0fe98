"""The JSON Schema of what a summary has of one strategy, made from the table of measures."""

from __future__ import annotations

from collections.abc import Sequence

from o2sim.measures.measure import Measure
from o2sim.measures.table import MEASURES
from o2sim.typed import Schema

CHANCE_OF: Schema = {"$ref": "#/$defs/probability"}
MEAN: Schema = {"$ref": "#/$defs/mean"}
NULL: Schema = {"type": "null"}
EMPTY_NOT_NULL = ("money by item", "by class")  # what a hospital does not have is {} here


def strategy_schema() -> Schema:
    """Return the schema of one strategy: every measure is there, null where the hospital has no such thing."""
    return {
        "type": "object",
        "properties": {each.name: measure_schema(each) for each in MEASURES},
        "required": [each.name for each in MEASURES],
    }


def measure_schema(measure: Measure) -> Schema:
    """Return the schema of one measure, with its meaning and unit."""
    description = "; ".join(text for text in (measure.meaning, measure.unit_in(None)) if text)
    found = {**_shape(measure), "description": description}
    if measure.needs and measure.how not in EMPTY_NOT_NULL:
        return {"anyOf": [found, NULL]}
    return found


def _shape(measure: Measure) -> Schema:
    if measure.inside:
        return _map(_object([each.name for each in measure.inside], MEAN))
    one = CHANCE_OF if measure.how.startswith("chance") else MEAN
    if measure.how == "cover":  # a part may have no value
        return {**_object(measure.parts, one), "required": []}
    if measure.parts:
        return _object(measure.parts, one)
    return _map(one) if measure.how == "money by item" else one


def _object(names: Sequence[str], each: Schema) -> Schema:
    return {"type": "object", "properties": dict.fromkeys(names, each), "required": list(names)}


def _map(values: Schema) -> Schema:
    return {"type": "object", "additionalProperties": values}
