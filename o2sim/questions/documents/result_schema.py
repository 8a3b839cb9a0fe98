"""The tables of measures in, the JSON Schema (2020-12) of what `--json` prints out, for programs that read it.

A reader should pass over keys it does not know: a later version may print more. Numbers are never NaN or infinite.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from o2sim.measures.measures import Difference
from o2sim.measures.names import CHANCE, HOURS
from o2sim.measures.schema import strategy_schema
from o2sim.questions.documents.scenario_schema import DIALECT
from o2sim.questions.drivers.schema import drivers_schema
from o2sim.questions.equipment.entries import Entry
from o2sim.questions.equipment.result import NeededWithCautions
from o2sim.questions.facilities.result import StudyResult
from o2sim.questions.size.result import Point, SizingResult
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
}
RECORDS: dict[type, str] = {
    Probability: "probability",
    Mean: "mean",
    Precision: "precision",
    Entry: "entry",
    Point: "point",
}
TEXT: Schema = {"type": "string"}
TRUTH: Schema = {"type": "boolean"}
NUMBER: Schema = {"type": "number"}
COUNT: Schema = {"type": "integer", "minimum": 0}
SHARE: Schema = {"type": "number", "minimum": 0, "maximum": 1}
INSIDE: Schema = {"type": "number", "exclusiveMinimum": 0, "exclusiveMaximum": 1}
HELD: dict[str, Schema] = {
    doubt.KEY: {"const": doubt.CHANCE, "description": "which doubt low and high hold, and which they do not"}
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
        "drivers": drivers_schema(_identity()),
    }
    return {name: {"description": f"Of {COMMANDS[name]}.", **schema} for name, schema in made.items()}


def _parts() -> dict[str, Schema]:
    """Return what several commands print."""
    bound = _or_null(NUMBER)
    return {
        **definitions(RECORDS),
        "ends": _object({"low": bound, "high": bound}),
        "convergence": _convergence(),
        "decision": _decision(),
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
    }
    return _object(needed, {**more, "convergence": _ref("convergence"), "decision": _ref("decision")})


def _convergence() -> Schema:
    row = _object({"replications": COUNT, "estimate": SHARE, "low": SHARE, "high": SHARE})
    said = "The chance of a stock-out after so many first replications; each interval holds for its own number."
    return _object({"confidence": INSIDE, "strategies": _map(_list(row))}, {}, said)


def _decision() -> Schema:
    money, ends = _or_null(NUMBER), _ref("ends")
    option = {
        "choices": _told(_map(TEXT), "field: what was chosen"),
        "annual_cost": money,
        "dear_year": _told(money, "one year in twenty costs more"),
        "first_year_capital": money,
        CHANCE: SHARE,
        "upper_bound": _told(SHARE, "of the chance, all options allowed for"),
        HOURS: NUMBER,
        "fill_rate": SHARE,
        "intervals": _object({"annual_cost": _or_null(ends), CHANCE: ends, HOURS: ends}),
        "dominated_by": _or_null(TEXT),
        "sure": _told(_or_null(TRUTH), "whether its mark is, all sure ones together; null without prices"),
    }
    step = {"from": TEXT, "to": TEXT, "cost_more": _ref("mean"), "hours_saved": _ref("mean"),
            "chance_less": NUMBER, "cost_per_hour_saved": money}  # fmt: skip
    pick = _object({"name": _or_null(TEXT), "among": COUNT, "not_told_apart": _list(TEXT), "within": money,
                    "why": TEXT})  # fmt: skip
    return _object(
        {
            "measure": {"enum": [CHANCE, HOURS]},
            "confidence": INSIDE,
            "currency": TEXT,
            "limits": _object({"budget": money, "capital": money, "target": money}),
            "options": _map(_object(option)),
            "frontier": _list(TEXT),
            "steps": _list(_object(step)),
            "best": pick,
            "within_budget": _or_null(pick),
            "within_target": _or_null(pick),
            "chosen": TEXT,
            "cheque": _or_null(_cheque()),
            "procurement": _list(_ref("entry")),
            "more_demand": _or_null(_more_demand()),
        }
    )


def _cheque() -> Schema:
    line = {"item": TEXT, "count": COUNT, "price": NUMBER, "life_years": _or_null(NUMBER), "salvage": NUMBER,
            "amount": NUMBER}  # fmt: skip
    again = {"year": COUNT, "items": _map(NUMBER), "amount": NUMBER}
    return _object(
        {
            "currency": TEXT,
            "first_year_capital": NUMBER,
            "purchases": _list(_object(line)),
            "recurrent_a_year": _ref("mean"),
            "recurrent_a_month": _ref("mean"),
            "first_year_in_all": NUMBER,
            "replacements": _list(_object(again)),
        }
    )


def _more_demand() -> Schema:
    return _object(
        {"factor": NUMBER, "complete": _told(TRUTH, "false where Ctrl-C cut that run short")},
        {
            "why_not": TEXT,
            "annual_cost": _or_null(NUMBER),
            "recurrent_a_year": _or_null(_ref("mean")),
            CHANCE: SHARE,
            HOURS: NUMBER,
        },
    )


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
