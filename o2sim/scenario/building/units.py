"""Models of concentrators and which units there are: what holds for each model, and the rows of units in order."""

from __future__ import annotations

import contextlib
from dataclasses import replace
from typing import Any

from o2sim.scenario.building.built import Setting, built, made
from o2sim.scenario.building.values import Money, Values
from o2sim.scenario.keys.record import keys_of
from o2sim.scenario.text.nodes import Listing, Mapping, Node, Scalar, child_path
from o2sim.scenario.text.problems import RefusedError, nearest, quote
from o2sim.scenario.types.laws import Law
from o2sim.scenario.types.owned import AGE, OWNED
from o2sim.scenario.types.units import MODEL, RULES, Concentrators, ModelPrices, UnitGroup, UnitRow

_RULES = tuple(field.name for field in RULES)
_HIGHEST = 1_000_000  # of a sum of counts, which is refused then


def with_units(root: Mapping) -> Mapping:
    """Return the tree with all that holds for a model in it, and the first unit's model beside them.

    The number of units, where left out, is the sum of the rows of `units`.
    """
    node = root.entries.get("concentrators")
    if not isinstance(node, Mapping):
        return root
    entries, rows = dict(node.entries), _rows(node)
    models = entries.get("models")
    if isinstance(models, Mapping):
        shared = {name: child for name, child in entries.items() if name in MODEL.names}
        whole = {name: _over(shared, child) for name, child in models.entries.items()}
        entries["models"] = Mapping(models.line, models.path, whole)
        named = rows[0].entries.get("model") if rows else None
        first = whole.get(named.text if isinstance(named, Scalar) else "", next(iter(whole.values()), None))
        if isinstance(first, Mapping):
            entries |= {name: child for name, child in first.entries.items() if name in _RULES}
    if entries.keys() & {"models", "units"} and "count" not in entries:
        entries["count"] = Scalar(node.line, child_path(node.path, "count"), str(_sum(rows)))
    changed = {**root.entries, "concentrators": Mapping(node.line, node.path, entries)}
    return Mapping(root.line, root.path, changed)


def _over(shared: dict[str, Node], model: Node) -> Node:
    if not isinstance(model, Mapping):
        return model
    return Mapping(model.line, model.path, {**shared, **model.entries})


def _rows(node: Mapping) -> list[Mapping]:
    units = node.entries.get("units")
    return [each for each in units.items if isinstance(each, Mapping)] if isinstance(units, Listing) else []


def _sum(rows: list[Mapping]) -> int:
    texts = [each.text for row in rows if isinstance(each := row.entries.get("count"), Scalar)]
    return min(sum(int(text) for text in texts if text.isascii() and text.isdigit() and len(text) < 7), _HIGHEST)


def rows_of(setting: Setting, values: Values) -> tuple[UnitGroup, ...]:
    """Return the units by rows of `units`, none where it is left out; what does not fit is noted."""
    rows: list[Values] | None = values.data.get("units")
    if rows is None:
        return ()
    _check_beside(values, rows)
    models = {name: _model(setting, each, values) for name, each in (values.data.get("models") or {}).items()}
    if not models:
        plain = replace(values, data={**values.data, "models": None, "units": None})
        models = {"": _rules(setting, plain)}
    groups: list[UnitGroup] = []
    for row in rows:
        with contextlib.suppress(RefusedError):
            groups.append(_group(setting, row, models, sum(each.count for each in groups)))
    _check_wards(setting, rows)
    if not values.sound or not all(each.sound for each in rows) or len(groups) < len(rows):
        raise RefusedError
    return tuple(groups)


def _rules(setting: Setting, values: Values, **given: Any) -> Concentrators | None:
    """Return all that holds for like units, None where it is refused."""
    with contextlib.suppress(RefusedError):
        return built(setting, Concentrators, values, count=0, **given)
    return None


def _model(setting: Setting, values: Values, above: Values) -> Concentrators | None:
    """Return all that holds for a model, with its prices, None where it is refused."""
    crew, travel = above.data.get("crew"), values.data.get("travel")
    if crew is None and travel is not None and travel != Law("constant", (0.0,)):
        values.fault("travel", "travel without crew", "both together", "write crew: 1 under concentrators")
    costs = setting.hospital.data.get("costs")
    currency = costs.data.get("currency") if isinstance(costs, Values) else None
    for money in values.data.values():
        if currency and isinstance(money, Money) and money.currency not in ("", currency):
            hint = f"convert it, or set costs.currency: {money.currency}"
            found, allowed = f"found a price in {money.currency}", f"{currency}, the currency of costs"
            values.faults.append(setting.problems.add(money.node or values.node, found, allowed, hint))
    with contextlib.suppress(RefusedError):
        prices = {
            name: made(setting, key, values) if values.states(key.field.name) else None
            for name, key in keys_of(ModelPrices).items()
        }
        return _rules(setting, values, crew=crew, **prices)
    return None


def _check_beside(values: Values, rows: list[Values]) -> None:
    """The rows are all the units there are, and say themselves which are owned."""
    if not rows:
        values.fault("units", "an empty list", "one entry at least", "such as - {count: 3}")
    for name in (OWNED, AGE):
        if values.data.get(name):
            hint = "write owned: true, and age, in the entries of units"
            values.fault(name, f"{name} beside units", "one of them", hint)
    counts: list[int] = [row.data["count"] for row in rows if row.has("count")]
    stated = values.data.get("count")
    if values.states("count") and len(counts) == len(rows) and stated is not None and sum(counts) != stated:
        found = f"count {stated}, but {sum(counts)} in units together"
        values.fault("count", found, "the same", "leave count out: it is then their sum")


def _group(setting: Setting, row: Values, models: dict[str, Concentrators | None], first: int) -> UnitGroup:
    """Return one row of units; what does not fit in it is noted."""
    name = row.data.get("model") or ""
    if name not in models and row.has("model"):
        known = [each for each in models if each]
        found = f"the model {quote(name)} is unknown" if name else "found no model"
        allowed = f"one of models: {', '.join(known)}" if known else "a section models"
        row.faults.append(setting.problems.add(row.at("model"), found, allowed, nearest(name, known)))
    found_row, rules = built(setting, UnitRow, row), models.get(name)
    if rules is None:
        raise RefusedError
    _check_row(row, found_row, rules)
    row.need_all()
    return UnitGroup(
        name, replace(rules, count=found_row.count), first, found_row.count, found_row.owned, found_row.age_s,
        found_row.working, found_row.ward,
    )  # fmt: skip


def _check_row(values: Values, row: UnitRow, rules: Concentrators) -> None:
    """No more work than there are; what waits for a repair has one to come. An age may be for the costs alone."""
    if row.working > row.count:
        values.fault("working", f"{row.working} working of {row.count}", "at most count")
    elif row.working < row.count and rules.repair_s is None:
        found = f"{row.count - row.working} of {row.count} not working, but no repair"
        hint = "state failure and repair, or leave out units that nobody will repair"
        values.fault("working", found, "with a repair", hint)


def _check_wards(setting: Setting, rows: list[Values]) -> None:
    """Units stand on wards that there are: all of them, or none and the wards say how many stand there."""
    named = [row for row in rows if row.data.get("ward")]
    wards = setting.hospital.data.get("wards")
    names = list(wards) if wards else []
    for row in named:
        if row["ward"] not in names:
            found = f"the ward {quote(row['ward'])} is unknown" if names else "found a ward, but no section wards"
            hint = nearest(row["ward"], names)
            row.faults.append(
                setting.problems.add(row.at("ward"), found, ", ".join(names) or "a section wards", hint)
            )
    for row in rows if named else ():
        if row.has("ward") and not row["ward"]:
            allowed = f"ward: one of {', '.join(names)}"
            row.faults.append(setting.problems.add(row.node, "found no ward", allowed, "or none in any entry"))
