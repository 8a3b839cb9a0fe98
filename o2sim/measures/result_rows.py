"""The rows of the CSV files of a study and its summary."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import fields
from itertools import chain, islice
from typing import Any

import numpy as np

from o2sim.money.cost import annual_cost
from o2sim.outcome import DAILY_COLUMNS, LENGTH_LABELS, SHORTFALL_LABELS, Cause, Outcome, Root
from o2sim.runs.days import with_daily
from o2sim.runs.midnights import Daily, cover
from o2sim.runs.study import Study

Cell = str | int | float
_CAUSES = tuple(cause.label for cause in Cause)
_LABELS = {  # of Outcome's tuples that are not by class
    "interruptions": _CAUSES,
    "stock_outs_by_cause": _CAUSES,
    "unserved_s": _CAUSES,
    "short_s": tuple(root.label for root in Root),
    "shock_short_s": tuple(root.label for root in Root),
    "longer": LENGTH_LABELS,
    "supply_over": SHORTFALL_LABELS,
}
_OF_SHOCKS = ("shocks", "shock_s", "shock_short_s")
DAILY_HEADS = ("strategy", "replication", "day", "date", *DAILY_COLUMNS, "days_of_cover", "hours_of_cover")


def summary_rows(summary: Mapping[str, Any]) -> Iterator[tuple[Cell, ...]]:
    """Yield (strategy, measure, part, estimate, low, high, note): the whole summary as one long table."""
    for strategy, measures in summary["strategies"].items():
        for measure, value in measures.items():
            if value is None:
                continue
            parts = {"": value} if "low" in value else value
            if measure in ("by_class", "by_ward", "by_size"):
                parts = {
                    f"{name}: {each}": item for name, inside in value.items() for each, item in inside.items()
                }
            for part, item in parts.items():
                yield (strategy, measure, part, *_estimate(item))
    for item in summary["differences"]:
        name = f"{item['to']} - {item['from']}"
        yield (name, f"difference in {item['measure']}", "", *_estimate(item))


def replication_columns(study: Study) -> list[str]:
    """Return the columns of one row a replication: hours, litres and counts within the horizon, some by class."""
    columns = outcome_columns(_classes(study), shocks=_has_shocks(study))
    drawn = [] if study.joint is None else ["row_of_draws"]
    return ["strategy", "replication", *columns, "stock_outs", "unserved_h", "cost_per_year", *drawn]


def outcome_columns(classes: Sequence[str], *, shocks: bool = True) -> list[str]:
    """Return the columns of the totals of an outcome; shocks: those of storms too."""
    found = _outcome_fields(classes, shocks)
    named = ([f"{name}: {label}" for label in labels] or [name] for name, _, labels in found)
    return list(chain.from_iterable(named))


def outcome_cells(
    outcome: Outcome, classes: Sequence[str], own: Sequence[str] | None = None, *, shocks: bool = True
) -> list[Cell]:
    """Return the totals of an outcome, as outcome_columns names them; own: its classes, if other than these.

    What is by class is empty at a class that is not its own.
    """
    own = classes if own is None else own
    cells: list[Cell] = []
    for _, field, labels in _outcome_fields(classes, shocks):
        value = getattr(outcome, field)
        if field.endswith("_by_class"):
            by_name = dict(zip(own, value, strict=False))
            cells += [_user_unit(field, by_name[name]) if name in by_name else "" for name in labels]
        else:
            cells += [_user_unit(field, part) for part in (value if labels else (value,))]
    return cells


def replication_rows(study: Study) -> Iterator[tuple[Cell, ...]]:
    """Yield one row a strategy and replication, the columns as replication_columns names them."""
    rows = None if study.joint is None else study.joint.rows
    classes, shocks = _classes(study), _has_shocks(study)
    for strategy, outcomes in study.outcomes.items():
        for outcome in outcomes[: study.replications]:
            hospital = study.scenario_of(outcome.replication).hospitals[strategy]
            row = [strategy, outcome.replication, *outcome_cells(outcome, classes, shocks=shocks)]
            unserved_h = round(sum(outcome.unserved_s) / 3_600, 6)
            cost: Cell = "" if hospital.costs is None else round(sum(annual_cost(hospital, outcome).values()), 2)
            drawn = () if rows is None else (outcome.replication % rows + 1,)
            yield (*row, outcome.stock_outs, unserved_h, cost, *drawn)


def daily_rows(study: Study) -> Iterator[tuple[Cell, ...]]:
    """Yield (strategy, replication, day, date, *DAILY_COLUMNS, days and hours of cover) at each midnight."""
    for strategy in study.outcomes:
        start = study.scenario.hospitals[strategy].start
        for outcome in islice(with_daily(study, strategy), study.replications):
            yield from days_of(strategy, start, outcome.replication, outcome.daily)


def days_of(strategy: str, start: dt.date, replication: int, daily: Daily) -> Iterator[tuple[Cell, ...]]:
    """Yield the rows of one replication, as daily_rows does; start is the first day of the horizon."""
    lasts = np.stack(cover(daily), axis=1).round(3).tolist()
    for day, state in enumerate(daily.tolist()):
        date = (start + dt.timedelta(days=day)).isoformat()
        cover_cells = ("" if x != x else x for x in lasts[day])
        yield strategy, replication, day, date, *state, *cover_cells


def _estimate(item: Mapping[str, Any]) -> tuple[Cell, ...]:
    middle = item["estimate"] if "estimate" in item else item["mean"]
    low, high = ("" if item[key] is None else item[key] for key in ("low", "high"))
    return middle, low, high, item.get("note", "")


def _classes(study: Study) -> list[str]:
    """Return the names of the classes of patients, the same under every strategy."""
    hospital = next(iter(study.scenario.hospitals.values()))
    return [kind.name for kind in hospital.patients]


def _has_shocks(study: Study) -> bool:
    return any(hospital.shocks for hospital in study.scenario.hospitals.values())


def _outcome_fields(classes: Sequence[str], shocks: bool) -> list[tuple[str, str, tuple[str, ...]]]:
    """Return (name in user units, field, labels of its parts) of every total in Outcome."""
    skipped = {"replication", "daily", "log", "unit_running_s", "at_once"}  # the last two as long as they need
    skipped |= set() if shocks else set(_OF_SHOCKS)
    found = []
    for item in fields(Outcome):
        if (
            item.name in skipped or item.name.startswith("ward_") or item.name.endswith("_by_size")
        ):  # in the summary
            continue
        name = re.sub("_m?s(?=$|_by_class)", "_h", re.sub("_gas$", "_litres", item.name))
        if item.name.endswith("_by_class"):
            found.append((name.removesuffix("_by_class"), item.name, tuple(classes)))
            continue
        found.append((name.removesuffix("_by_cause"), item.name, _LABELS.get(item.name, ())))
    return found


def _user_unit(field: str, value: int) -> Cell:
    """Return seconds as hours and 1/60 mL as litres, by the field's ending."""
    if field.removesuffix("_by_class").endswith("_s"):
        return round(value / 3_600, 6)
    if field.endswith("_ms"):
        return round(value / 3_600_000, 6)
    return round(value / 60_000, 6) if field.endswith("_gas") else value
