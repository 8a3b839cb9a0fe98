"""Nothing in, the JSON Schema of what `o2sim drivers --json` prints out; its parts are those of result_schema."""

from __future__ import annotations

from o2sim.scenario.changing.fleet_levels import Levels
from o2sim.statistics import doubt
from o2sim.typed import Schema, schema_of

TEXT: Schema = {"type": "string"}
NUMBER: Schema = {"type": "number"}
TRUTH: Schema = {"type": "boolean"}
COUNT: Schema = {"type": "integer", "minimum": 0}
SHARE: Schema = {"type": "number", "minimum": 0, "maximum": 1}
CHANCE, HOURS, COST = "stock_out_probability", "unserved_hours_for_want_of_supply", "annual_cost"
PROBABILITY: Schema = {"$ref": "#/$defs/probability"}
MEAN: Schema = {"$ref": "#/$defs/mean"}
MEASURES = ((CHANCE, PROBABILITY), (HOURS, MEAN), (COST, MEAN))


def drivers_schema(identity: Schema) -> Schema:
    """Return the schema; identity: the keys that tell where figures come from."""
    shared = {
        **identity,
        "complete": {**TRUTH, "description": "false where Ctrl-C cut it short"},
        "target": SHARE,
        "budget": _or_null(NUMBER),
        "worth": _or_null(NUMBER),
        "confidence": SHARE,
        "currency": _or_null(TEXT),
        "units": _map(TEXT),
        "uncertain": _list(
            _object({"field": TEXT, "low": TEXT, "likely": TEXT, "high": TEXT, "places": _list(TEXT)})
        ),
        **schema_of(Levels, {})["properties"],
    }
    drawn = {"law": {"enum": ["pert", "triangular", "uniform"]}, "samples": COUNT}
    return {
        "anyOf": [
            _object({**shared, **_held(doubt.CHANCE), "method": {"const": "one-at-a-time"},
                     "strategies": _map(_tornado())}),
            _object({**shared, **drawn, **_nested(), **_held(doubt.CHANCE_AND_INPUTS),
                     "method": {"const": "nested"}}),
            *(_object({**shared, **drawn, **_held(doubt.POINTS), "method": {"const": method}, "points": COUNT,
                       "strategies": _map(_some({key: _or_null(_list(index)) for key, _ in MEASURES}))})
              for method, index in (("morris", _morris()), ("sobol", _sobol()))),
        ]
    }  # fmt: skip


def _held(said: str) -> dict[str, Schema]:
    told = "which doubt low and high, or half-widths, hold; those of best_guess always chance alone"
    return {doubt.KEY: {"const": said, "description": told}}


def _tornado() -> Schema:
    def bars() -> Schema:
        end = _object({"value": TEXT, "low": _or_null(NUMBER), "high": _or_null(NUMBER)},
                      {"estimate": SHARE, "mean": NUMBER, "confidence": SHARE, "note": TEXT})  # fmt: skip
        return _list(
            _object(
                {"field": TEXT, "low": end, "high": end, "swing": NUMBER, "difference": MEAN, "beyond_luck": TRUTH,
                 "bends": TRUTH},
            )
        )  # fmt: skip

    return _object(
        {
            "best_guess": _some(dict(MEASURES)),
            "bars": _some({measure: bars() for measure, _ in MEASURES}),
        }
    )


def _interval() -> Schema:
    return _object({"estimate": NUMBER, "low": NUMBER, "high": NUMBER})


def _nested() -> dict[str, Schema]:
    def told(guess: Schema) -> Schema:
        return _object(
            {"best_guess": guess, "chance_sd": NUMBER, "not_known_share": SHARE,
             **dict.fromkeys(("mean", "range_low", "range_high", "not_known_sd"), _interval())},
            {"meets_target_in": SHARE},
        )  # fmt: skip

    settled = _object({"mean": NUMBER, "range_low": NUMBER, "range_high": NUMBER})
    return {
        "draws": COUNT,
        "range": SHARE,
        "strategies": _map(_some({measure: told(guess) for measure, guess in MEASURES})),
        "decisions": _list(_decision()),
        "convergence": _list(
            _object({"draws": COUNT, "replications": COUNT, "strategies": _map(settled),
                     "perfect_information": _map(NUMBER)})
        ),
    }  # fmt: skip


def _decision() -> Schema:
    perfect = {**dict.fromkeys(("estimate", "low", "high", "at_least", "at_most"), NUMBER)}
    return _object(
        {"by": TEXT, "unit": {"enum": ["share", "money"]}, "best_now": TEXT, "best_in": _map(SHARE)},
        {
            "left_out": _list(TEXT),
            "regret": _map(_interval()),
            "perfect_information": _object(perfect),
            "one_number": _list(_object({"field": TEXT, "estimate": NUMBER, "by_luck": NUMBER})),
            "misses_target_in": _map(SHARE),
            "dearer_where_it_meets": _map(_or_null(NUMBER)),
            "none_meets_in": SHARE,
        },
    )


def _morris() -> Schema:
    return _object({"field": TEXT, **dict.fromkeys(("mu_star", "mu_star_half_width", "mu", "sigma"), NUMBER)})


def _sobol() -> Schema:
    return _object({"field": TEXT, **dict.fromkeys(("s1", "s1_half_width", "st", "st_half_width"), NUMBER)})


def _some(properties: Schema) -> Schema:
    """Return an object of measures; cost is there only where the scenario states prices."""
    return _object({key: value for key, value in properties.items() if key != COST}, {COST: properties[COST]})


def _object(needed: Schema, more: Schema | None = None) -> Schema:
    return {"type": "object", "properties": {**needed, **(more or {})}, "required": list(needed)}


def _map(value: Schema) -> Schema:
    return {"type": "object", "additionalProperties": value}


def _list(item: Schema) -> Schema:
    return {"type": "array", "items": item}


def _or_null(schema: Schema) -> Schema:
    return {"anyOf": [schema, {"type": "null"}]}
