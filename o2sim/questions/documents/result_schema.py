"""The JSON Schema (2020-12) of what `--json` prints, from the records of results, for programs that read it.

A reader should pass over keys it does not know: a later version may print more. Numbers are never NaN or infinite.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from o2sim.measures.both_doubts import BothDoubts
from o2sim.measures.costing import Costing
from o2sim.measures.measures import Difference
from o2sim.measures.schema import strategy_schema
from o2sim.measures.supply_alone import SupplyAlone
from o2sim.questions.choose.result import Decision, Ends
from o2sim.questions.documents.scenario_schema import DIALECT
from o2sim.questions.drivers.result import Found
from o2sim.questions.equipment.result import Entry, NeededWithCautions
from o2sim.questions.facilities.result import StudyResult
from o2sim.questions.fit.result import FitResult
from o2sim.questions.hindcast.result import Hindcasted
from o2sim.questions.records.result import Checked
from o2sim.questions.size.result import Point, SizingResult
from o2sim.questions.today.result import TodayResult
from o2sim.questions.today.review import Review
from o2sim.questions.whatif.result import Answers
from o2sim.runs.identity import Origin, Provenance, Ran
from o2sim.runs.precision import Precision
from o2sim.statistics import doubt
from o2sim.statistics.estimates import Mean, Probability
from o2sim.typed import Schema, definitions, schema_of
from o2sim.version import __version__

COMMANDS = {  # definition: the commands that print it with --json
    "compare": "`o2sim run` and `o2sim compare`, and summary.json of their --out",
    "size": "`o2sim size`",
    "whatif": "`o2sim whatif`",
    "drivers": "`o2sim drivers`",
    "equipment": "`o2sim equipment`",
    "study": "`o2sim study`",
    "fit": "`o2sim fit`",
    "hindcast": "`o2sim hindcast`",
    "records_check": "`o2sim records check`",
    "today": "`o2sim today`",
    "today_review": "`o2sim today --review`",
}
RECORDS: dict[type, str] = {
    Probability: "probability",
    Mean: "mean",
    Precision: "precision",
    Entry: "entry",
    Ends: "ends",
    Point: "point",
}
TEXT: Schema = {"type": "string"}
TRUTH: Schema = {"type": "boolean"}
NUMBER: Schema = {"type": "number"}
COUNT: Schema = {"type": "integer", "minimum": 0}
SHARE: Schema = {"type": "number", "minimum": 0, "maximum": 1}
INSIDE: Schema = {"type": "number", "exclusiveMinimum": 0, "exclusiveMaximum": 1}
HELD: dict[str, Schema] = {
    doubt.KEY: {
        "enum": [doubt.CHANCE, doubt.CHANCE_AND_INPUTS],
        "description": "which doubt low and high hold, and which they do not",
    }
}


def result_schema() -> Schema:
    """Return the schema as plain dicts and lists; `$defs` has one for each of COMMANDS."""
    return {
        "$schema": DIALECT,
        "title": f"o2sim results, version {__version__}",
        "description": (
            "What the commands print with --json. Each has a definition of its own to check against: "
            + "; ".join(f"#/$defs/{name} is that of {what}" for name, what in COMMANDS.items())
            + ". Counts, hours, litres and money are per 365 days unless their description says otherwise; "
            "probabilities are within the horizon. A key that is not here may come with a later version."
        ),
        "anyOf": [_ref(name) for name in COMMANDS],
        "$defs": {**_parts(), **_commands()},
    }


def _commands() -> dict[str, Schema]:
    made = {
        "compare": _compare(),
        "size": schema_of(SizingResult, RECORDS),
        "whatif": schema_of(Answers, RECORDS),
        "equipment": schema_of(NeededWithCautions, RECORDS),
        "study": schema_of(StudyResult, RECORDS),
        "drivers": schema_of(Found, RECORDS),
        "fit": schema_of(FitResult, RECORDS),
        "hindcast": schema_of(Hindcasted, RECORDS),
        "records_check": schema_of(Checked, RECORDS),
        "today": schema_of(TodayResult, RECORDS),
        "today_review": schema_of(Review, RECORDS),
    }
    return {name: {"description": f"Of {COMMANDS[name]}.", **schema} for name, schema in made.items()}


def _parts() -> dict[str, Schema]:
    """Return what several commands print."""
    return {
        **definitions(RECORDS),
        "convergence": _convergence(),
        "decision": schema_of(Decision, RECORDS),
    }


def _identity() -> dict[str, Schema]:
    """Return what tells where figures come from."""
    origin, ran = (schema_of(kind, RECORDS)["properties"] for kind in (Origin, Ran))
    return {**origin, **ran, "horizon_days": _told(NUMBER, "length of a replication")}


def _provenance() -> tuple[dict[str, Schema], dict[str, Schema]]:
    """Return what a study always tells of itself, and what it tells where it was asked for."""
    told = dict(schema_of(Provenance, RECORDS)["properties"])
    return told, {"precision": told.pop("precision")}


def _compare() -> Schema:
    told, more = _provenance()
    needed = {
        **told,
        "confidence": INSIDE,
        **HELD,
        "currency": _currency(),
        "units": _told(_map(TEXT), "measure: its unit"),
        "strategies": _told(_map(strategy_schema()), "by name, in the order of the file"),
        "differences": _list(schema_of(Difference, RECORDS)),
        "costing": _told(_map(schema_of(Costing, RECORDS)), "by strategy that has prices; means, no intervals"),
    }
    beside = {"supply_alone": schema_of(SupplyAlone, RECORDS), "draws": schema_of(BothDoubts, RECORDS)}
    return _object(needed, {**more, "convergence": _ref("convergence"), "decision": _ref("decision"), **beside})


def _convergence() -> Schema:
    row = _object({"replications": COUNT, "estimate": SHARE, "low": SHARE, "high": SHARE})
    said = "The chance of a stock-out after so many first replications; each interval holds for its own number."
    return _object({"confidence": INSIDE, "strategies": _map(_list(row))}, {}, said)


def _currency() -> Schema:
    return _told(_or_null({"type": "string", "pattern": "^[A-Z]{3}$"}), "of the prices; null without prices")


def _told(schema: Schema, description: str) -> Schema:
    return {**schema, "description": description}


def _ref(name: str) -> Schema:
    return {"$ref": f"#/$defs/{name}"}


def _or_null(schema: Schema) -> Schema:
    return {"anyOf": [schema, {"type": "null"}]}


def _list(items: Schema) -> Schema:
    return {"type": "array", "items": items}


def _map(values: Schema) -> Schema:
    """Return the schema of an object whose keys are names that the scenario gives."""
    return {"type": "object", "additionalProperties": values}


def _object(needed: dict[str, Schema], more: dict[str, Schema] | None = None, description: str = "") -> Schema:
    """Return the schema of an object with keys that are always there, and keys that may be."""
    told: Iterable[tuple[str, Any]] = [("description", description)] if description else []
    return {**dict(told), "type": "object", "properties": {**needed, **(more or {})}, "required": list(needed)}
