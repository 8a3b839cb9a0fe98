"""The steps that are tried where a file states no options: more cylinders, more concentrators, of each model."""

from __future__ import annotations

from collections.abc import Iterator

from o2sim.desk.words import say
from o2sim.planning.by_model import models_of
from o2sim.scenario.changing.override import original
from o2sim.scenario.changing.unit_rows import COUNT, MODELS, ROWS, SECTION, model_names
from o2sim.scenario.types.hospital import Concentrators, Scenario

MORE = (0.0, 0.25, 0.5, 1.0)  # of the cylinders there are
MORE_UNITS = (0, 1, 2)
MOST_MODELS = 4  # of which more are tried
FLEET, UNITS = "cylinders.fleet", "concentrators.count"
_OF_MODEL = f"{SECTION}.{ROWS}."


def purchases(scenario: Scenario, strategy: str) -> list[dict[str, str]]:
    """Return the steps that are tried: more cylinders, more concentrators, one model at a time.

    Each is a row of an option table: what there would be in all; of a model, how many are bought.
    """
    hospital = scenario.hospitals.get(strategy)
    if hospital is None:
        return []
    stock = hospital.cylinders  # of several sizes: by the file's options
    fleet = None if stock is None or stock.sizes else stock.fleet
    fleets = [{}] if fleet is None else [{FLEET: str(round(fleet * (1 + more)))} for more in MORE]
    rows = [
        {**cylinders, **units}
        for place, cylinders in enumerate(fleets)
        if cylinders not in fleets[:place]
        for units in _units(scenario, strategy, hospital.concentrators)
    ]
    return rows if len(rows) > 1 else []


def _units(scenario: Scenario, strategy: str, units: Concentrators | None) -> Iterator[dict[str, str]]:
    """Yield the cells of concentrators: as many as there are, then more; of models one after another."""
    if units is None or (units.listed and not (models := _models(scenario, strategy))):
        yield {}
    elif not units.listed:
        yield from ({UNITS: str(units.count + more)} for more in MORE_UNITS)
    else:
        there = {model.name: sum(row.count for row in model.rows if not row.owned) for model in models_of(units)}
        now = {name: there.get(name, 0) for name in models}
        yield {_path(name): str(count) for name, count in now.items()}
        for more_of in models:
            for more in MORE_UNITS[1:]:
                yield {_path(name): str(count + more * (name == more_of)) for name, count in now.items()}


def _models(scenario: Scenario, strategy: str) -> list[str]:
    """Return the models of the file that a column of a table can name; none where one has several bought rows."""
    names = model_names(original(scenario).root, ["strategies", strategy, SECTION, MODELS])
    units = scenario.hospitals[strategy].concentrators
    bought = [row.model for row in units.groups if not row.owned] if units is not None else []
    return [name for name in names if "." not in name and bought.count(name) < 2][:MOST_MODELS]


def _path(model: str) -> str:
    return f"{_OF_MODEL}{model}.{COUNT}"


def said_purchases(rows: list[dict[str, str]]) -> str:
    """Return the values tried of each field, in words."""
    fields = {key: list(dict.fromkeys(row[key] for row in rows)) for key in rows[0]}
    return "; ".join(f"{field_said(key)} {', '.join(values)}" for key, values in fields.items())


def field_said(key: str) -> str:
    """Return what a field of the steps is called, "" for one of a file's own options."""
    if key in (FLEET, UNITS):
        return say(f"own_{key}")
    inner = key.removeprefix(_OF_MODEL).removesuffix(f".{COUNT}")
    return say("own_units", model=inner) if key.startswith(_OF_MODEL) else ""
