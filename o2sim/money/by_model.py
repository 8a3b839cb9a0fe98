"""What concentrators cost by model: a line each, its price, and what the run says of repairs and power.

A line of one model is called `concentrators, ten`; as an item of a year's cost all models are one.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from o2sim.outcome import Outcome
from o2sim.planning.by_model import OfModel, models_of
from o2sim.scenario.types.costs import Costs, Equipment
from o2sim.scenario.types.hospital import Concentrators
from o2sim.scenario.types.laws import law_mean
from o2sim.scenario.types.owned import Owned

THINGS, UPKEEP = "concentrators", "concentrator service"
_HEADS = (THINGS, UPKEEP)


def named(item: str, model: str) -> str:
    """Return the line of a model: `concentrators, ten`; the item alone without models."""
    return f"{item}, {model}" if model else item


def head_of(line: str) -> str:
    """Return the item of a line of one model: `concentrators` of `concentrators, ten`; else the line."""
    head = line.partition(", ")[0]
    return head if head in _HEADS else line


def model_of(line: str) -> str:
    """Return the model of a line: `ten` of `concentrators, ten`; "" for any other."""
    return line.removeprefix(head_of(line)).removeprefix(", ")


def price_of(costs: Costs, rules: Concentrators) -> Equipment:
    """Return what one unit costs: its model's price and life where stated, else those of the costs.

    At a price of its own a unit brings the same share of it at the end of its life, and who pays it, its
    installation and whether it is imported are as the costs say.
    """
    each = costs.concentrator
    price = each.price if rules.price is None else rules.price
    life_years = each.life_years if rules.life_years is None else rules.life_years
    salvage = each.salvage * price / each.price if each.price else each.salvage
    return each if rules.price is None and rules.life_years is None else replace(
        each, price=price, life_years=life_years, salvage=salvage
    )  # fmt: skip


def service_of(costs: Costs, rules: Concentrators) -> float:
    """Return what the upkeep of one unit costs a year."""
    return costs.concentrator_service_per_year if rules.service_per_year is None else rules.service_per_year


def repair_of(costs: Costs, rules: Concentrators) -> float:
    """Return what each failure of a unit costs."""
    return costs.repair if rules.repair_price is None else rules.repair_price


def unpriced(costs: Costs, units: Concentrators | None) -> Iterator[str]:
    """Yield `repairs`, or the models whose repairs have no price."""
    models = models_of(units)
    without = [model.name for model in models if not repair_of(costs, model.rules)]
    if len(without) == len(models):
        yield from ("repairs",) if models else ()
    else:
        yield from (named("repairs", name) for name in without)


def owned_of(units: Concentrators | None, line: str) -> list[Owned]:
    """Return what is there already of a model's line, by its rows; nothing for any other line."""
    name = model_of(line)
    rows = [row for model in models_of(units) if name and model.name == name for row in model.rows]
    return [Owned(line, row.count, row.age_s) for row in rows if row.owned]


def repairs(costs: Costs, units: Concentrators, outcome: Outcome) -> float:
    """Return what the failures within the horizon cost.

    Where models differ in that, failures are shared out by how often each is expected to fail: a replication
    counts them all together.
    """
    models = models_of(units)
    prices = [repair_of(costs, model.rules) for model in models]
    expected = [_failures(model, outcome) for model in models]
    weights = expected if sum(expected) else [float(model.count) for model in models]
    return outcome.concentrator_failures * _mean(prices, weights)


def _failures(model: OfModel, outcome: Outcome) -> float:
    """Return how often the units of a model are expected to fail within the horizon, by the mean of their law."""
    rules, law = model.rules, model.rules.failure_s
    if law is None:
        return 0.0
    lived_s = model.count * outcome.horizon_s
    return (_running_s(model, outcome) if rules.failure_clock == "running" else lived_s) / law_mean(law)


def on_grid_ws(units: Concentrators, outcome: Outcome) -> float:
    """Return what units took from the grid within the horizon, W x s.

    Where models differ in watts, seconds on battery or generator are shared out as the running seconds are: a
    replication counts them all together.
    """
    models = models_of(units)
    seconds = [_running_s(model, outcome) for model in models]
    on_grid_s = outcome.concentrator_running_s - outcome.off_grid_running_s
    return on_grid_s * _mean([model.rules.power_w for model in models], seconds)


def _running_s(model: OfModel, outcome: Outcome) -> float:
    by_unit = outcome.unit_running_s
    return float(sum(by_unit[number] for number in model.numbers if number < len(by_unit)))


def _mean(values: Sequence[float], weights: Sequence[float]) -> float:
    """Return the mean of values by weight: itself where all are one, as they are alike; 0 without any weight."""
    if len(set(values)) == 1:
        return values[0]
    return sum(value * weight for value, weight in zip(values, weights, strict=True)) / (sum(weights) or 1.0)
