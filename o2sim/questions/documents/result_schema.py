"""The JSON Schema (2020-12) of what `--json` prints, from the records of results, for programs that read it.

A reader should pass over keys it does not know: a later version may print more. Numbers are never NaN or infinite.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from o2sim.measures.measures import Difference
from o2sim.measures.schema import strategy_schema
from o2sim.outcome import CAUSE_LABELS
from o2sim.questions.choose.result import Decision, Ends
from o2sim.questions.documents.scenario_schema import DIALECT
from o2sim.questions.drivers.result import Found
from o2sim.questions.equipment.result import Entry, NeededWithCautions
from o2sim.questions.facilities.result import StudyResult
from o2sim.questions.whatif.result import Answers
from o2sim.runs.identity import Origin, Provenance, Ran
from o2sim.runs.precision import Precision
from o2sim.scenario.types.hospital import EXAMPLE, OURS
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
    Ends: "ends",
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
        "size": _size(),
        "whatif": schema_of(Answers, RECORDS),
        "equipment": schema_of(NeededWithCautions, RECORDS),
        "study": schema_of(StudyResult, RECORDS),
        "drivers": schema_of(Found, RECORDS),
    }
    return {name: {"description": f"Of {COMMANDS[name]}.", **schema} for name, schema in made.items()}


def _parts() -> dict[str, Schema]:
    """Return what several commands print."""
    return {
        **definitions(RECORDS),
        "values": _told(_map(TEXT), "field of the scenario: its value as written"),
        "vary": _list(_object({"field": TEXT, "unit": TEXT, "values": _list(TEXT)})),
        "convergence": _convergence(),
        "decision": schema_of(Decision, RECORDS),
        "point": _point({}),
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


def _whose() -> Schema:
    return _told({"enum": [EXAMPLE, OURS]}, "whose the figures of the scenario are")


def _point(more: dict[str, Schema]) -> Schema:
    return _object(
        {
            "values": _ref("values"),
            "replications": COUNT,
            "failures": COUNT,
            "estimate": SHARE,
            "low": SHARE,
            "high": SHARE,
            "status": TEXT,
            **more,
        },
        {"annual_cost": _or_null(NUMBER)},
    )


def _card() -> Schema:
    """Return what a reorder card needs: uses in full cylinders a day, times in whole days."""
    delivery = _object(
        {
            "days": _told(COUNT, "19 in 20 deliveries come within so many, closed roads included"),
            "open_days": _told(COUNT, "the same if no road were closed"),
            "late_s": _told(NUMBER, "days before they are rounded up, in seconds"),
            "placed_in": _told(_or_null(COUNT), "month of the orders that take longest; null without a calendar"),
        }
    )
    last = "days that the cylinders are to last from the telephone call on"
    used = "19 of 20 replications never used more in so many days"
    left = "full cylinders left at which to phone; may be more than there ever are"
    return _object(
        {
            "concentrators_help": TRUTH,
            "seasonal": _told(TRUTH, "whether unaided is that of a peak"),
            "usual": _told(_or_null(NUMBER), "mean use of the replications"),
            "unaided": _told(_or_null(NUMBER), "all patients on cylinders at the season's peak mean need"),
            "cautious": _told(NUMBER, "the greater of usual and unaided"),
            "delivery": delivery,
            "emergency_delivery": _or_null(delivery),
            "phone_days": _told(COUNT, f"{last}, in the season of phone_at"),
            "most_used": _told(_or_null(NUMBER), f"{used}, in that season"),
            "phone_at": _told(COUNT, f"{left}; the greatest of phone_by_season"),
            "phone_by_season": _told(
                _list(
                    _object(
                        {
                            "months": _told(_list(COUNT), "1-12, of the calls"),
                            "days": _told(COUNT, last),
                            "most_used": _told(
                                _or_null(NUMBER), f"{used}, of days on end that begin in these months"
                            ),
                            "phone_at": _told(COUNT, left),
                        }
                    )
                ),
                "months in which closed roads make for a greater number, then the others; else one of all months",
            ),
        }
    )


def _size() -> Schema:
    answer = _point({"at_most": _told(SHARE, "bound that the chance is shown to be below, in the simulation")})
    answer["properties"]["attempts"] = COUNT
    answer["properties"]["to_write"] = _told(_ref("values"), "all that the answer sets under the strategy")
    answer["required"] = [*answer["required"], "to_write"]
    point = _or_null(_ref("point"))
    sides = {"one_less": point, "one_more": point}
    looked_at = {"values": _ref("values"), "first_replication": COUNT, "replications": COUNT,
                 "chance_by_named_causes": _ref("probability"),
                 "chance_of_a_stock_out": _ref("probability"), "chance_by_cause": _map(SHARE),
                 "annual_cost": _or_null(NUMBER), "cylinders_emptied_a_day": NUMBER,
                 "deliveries_a_year": NUMBER, "card": _or_null(_card())}  # fmt: skip
    buys = {"to": _ref("values"), "lowers_the_chance_by": NUMBER, "cost_a_year": _or_null(NUMBER),
            "first_that_lowers": _or_null(_ref("values")), "which_lowers_by": _or_null(NUMBER)}  # fmt: skip
    more = _object({"replications": COUNT, "values": _or_null(_ref("values"))})
    thumb = {"rule": TEXT, "level": NUMBER, "figures": TEXT, "value": {"type": "integer"},
             "estimate": _or_null(SHARE)}  # fmt: skip
    return _object(
        {
            **_identity(),
            "figures": _whose(),
            "strategy": TEXT,
            "target": INSIDE,
            "confidence": INSIDE,
            **HELD,
            "causes": _list({"enum": list(CAUSE_LABELS.values())}),
            "currency": _currency(),
            "vary": _ref("vary"),
            "levels_moved": _list(TEXT),
            "refused": _list(TEXT),
            "method": _object({"name": TEXT, "why": _list(TEXT)}),
            "complete": TRUTH,
            "replications_done": COUNT,
            "answer": _told(_or_null(answer), "null where no value is shown to be enough"),
            "curve": _list(_ref("point")),
            "neighbours": _object(sides, {"by_field": _map(_object(sides))}),
            "next_one": _or_null(_object(buys)),
            "more_replications": _or_null(_list(more)),
            "measured": _or_null(_object(looked_at)),
            "thumb": _list(_object(thumb)),
        }
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
