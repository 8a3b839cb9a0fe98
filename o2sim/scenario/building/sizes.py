"""Cylinders of several sizes: what stands outside goes into each, totals are sums; what does not fit is noted."""

from __future__ import annotations

from dataclasses import fields, replace
from typing import Any

from o2sim.quantities import gas
from o2sim.scenario.building.built import Setting, named
from o2sim.scenario.building.refused import likely
from o2sim.scenario.building.values import Values
from o2sim.scenario.keys.record import section_of
from o2sim.scenario.text.nodes import Mapping, Scalar, child_path
from o2sim.scenario.text.problems import nearest, quote
from o2sim.scenario.types.cylinder_size import CylinderSize, SizeUse
from o2sim.scenario.types.laws import law_minimum
from o2sim.scenario.types.owned import AGE, OWNED

TOTALS = ("fleet", "full_at_start")  # of all sizes together
_OF_EACH = tuple(name for name in section_of(CylinderSize).names if name not in (*TOTALS, OWNED, AGE))


def spread(root: Mapping) -> Mapping:
    """Return the tree with what is said of cylinders outside of their sizes said in each, where it says no other.

    The fleet, where left out, is the sum of those of the sizes.
    """
    stock = root.entries.get("cylinders")
    sizes = stock.entries.get("sizes") if isinstance(stock, Mapping) else None
    if not isinstance(stock, Mapping) or not isinstance(sizes, Mapping) or not sizes.entries:
        return root
    outside = {name: node for name, node in stock.entries.items() if name in _OF_EACH}
    each = {
        name: _with(outside, size) if isinstance(size, Mapping) else size for name, size in sizes.entries.items()
    }
    inside = {name: node for name, node in stock.entries.items() if name not in outside}
    for total in TOTALS:
        if total not in inside and (summed := _sum(sizes, total)) is not None:
            inside[total] = Scalar(sizes.line, child_path(stock.path, total), str(summed))
    entries = {**inside, "sizes": Mapping(sizes.line, sizes.path, each)}
    return Mapping(root.line, root.path, {**root.entries, "cylinders": Mapping(stock.line, stock.path, entries)})


def _with(outside: dict[str, Any], size: Mapping) -> Mapping:
    replaced = {name for stated, names in CylinderSize.instead if stated in size.entries for name in names}
    kept = {name: node for name, node in outside.items() if name not in replaced}
    return Mapping(size.line, size.path, {**kept, **size.entries})


def _sum(sizes: Mapping, total: str) -> int | None:
    """Return the sum of a count over the sizes, a fleet in place of what is left out; None where none says it."""
    nodes = []
    for size in sizes.entries.values():
        entries = size.entries if isinstance(size, Mapping) else {}
        nodes.append(entries.get(total, entries.get(TOTALS[0])))
    texts = [node.text for node in nodes if isinstance(node, Scalar)]
    whole = [int(text) for text in texts if text.isascii() and text.isdigit() and len(text) < 7]
    return min(sum(whole), 100_000) if whole or total == TOTALS[0] else None


def one_size(_: Setting, values: Values) -> dict[str, Any]:
    """Return the contents of a cylinder in 1/60 mL by the real-gas relation."""
    _check_content(values)
    _check_start(values)
    values.need_all()
    full, residual, lost = _contents(values)
    for name, content in (("residual_pressure", residual), ("flow_lost_below", lost)):
        if content >= full:
            found = f"{name} {values[name]:g} kPa, filling_pressure {values['filling_pressure']:g} kPa"
            hint = _pressure_meant(values, name) or "a cylinder would be empty when full"
            raise values.fault(f"{name} filling_pressure", found, f"{name} below filling_pressure", hint)
    _check_underfilled(values["underfilled"], max(residual, lost) / full)
    return {"full_gas": full, "residual_gas": residual, "lost_gas": lost}


FIRST_LISTED = "listed"  # how a size is chosen unless said otherwise, which says nothing of one type alone


def sizes_of(setting: Setting, values: Values) -> tuple[CylinderSize, ...]:
    """Return the sizes of a section cylinders, none where all are alike; totals stated must be their sums."""
    if not values.states("sizes"):
        for name in ("use", "choose"):
            if values.states(name) and values.data.get(name) != FIRST_LISTED:
                values.fault(name, f"{name}, but no sizes", "both together", "state the sizes, or delete it")
        return ()
    found = named(setting, CylinderSize, values.get("sizes"), "sizes", values)
    for name in (OWNED, AGE):
        if values.states(name):
            hint = f"say in each size how many are {OWNED}"
            values.fault(name, f"{name} beside sizes", "one or the other", hint)
    for total in TOTALS:
        stated, summed = values.data.get(total), sum(getattr(each, total) for each in found)
        if stated is not None and stated != summed:
            said = f"{total} {stated}, {summed} in all sizes together"
            values.fault(total, said, "the same", f"leave {total} out: it is then the sum")
    _check_use(values, [each.name for each in found])
    return found


def whole(values: Values, sizes: tuple[CylinderSize, ...]) -> dict[str, Any]:
    """Return what the cylinders say of one cylinder: as the first size for patients, with the totals."""
    use = values.get("use")
    first = use.get("bedside") if use is not None else None
    size = next(each for each in sizes if first is None or each.name == first[0])
    found = {each.name: getattr(size, each.name) for each in fields(CylinderSize) if each.name != "name"}
    return {**found, **{total: sum(getattr(each, total) for each in sizes) for total in TOTALS}}


def with_error(size: CylinderSize, error_kpa: float) -> CylinderSize:
    """Return a size with the error of its gauge, as content."""
    error = error_gas(size.full_gas, error_kpa, size.filling_pressure_kpa)
    return replace(size, gauge_error_gas=error)


def error_gas(full_gas: int, error_kpa: float, filling_pressure_kpa: float) -> int:
    """Return the error of a gauge as content (1/60 mL)."""
    return round(full_gas * error_kpa / filling_pressure_kpa)


def _check_use(values: Values, names: list[str]) -> None:
    """Each size for a use is one of the sizes."""
    use = values.get("use")
    if use is None:
        return
    for each in section_of(SizeUse).names:
        for name in use.data.get(each) or ():
            if name not in names:
                found, allowed = (
                    f"the size {quote(name)} is unknown",
                    f"sizes of the cylinders: {', '.join(names)}",
                )
                values.faults.append(values.problems.add(use.at(each), found, allowed, nearest(name, names)))


def _pressure_meant(values: Values, name: str) -> str:
    """Return what was probably meant by either of two pressures, an empty text where both are usual."""
    nodes = [values.node.entries.get(key) for key in ("filling_pressure", name)]
    hints = [likely(node.path, node.text, "pressure") for node in nodes if isinstance(node, Scalar)]
    return next((hint for hint in hints if hint), "")


def _check_underfilled(values: Values | None, empty_share: float) -> None:
    """Raise RefusedError unless what underfilled cylinders hold is always more than an empty one does."""
    if values is None:
        return
    values.need_all()
    lowest = law_minimum(values["content"])
    if lowest <= empty_share:
        hint = f"at {100 * empty_share:.3g} % a cylinder counts as empty; use unusable for such"
        found = f"a content that may be as low as {100 * lowest:.3g} %"
        raise values.fault("content", found, "always more than the residual pressure leaves", hint)


def _check_content(values: Values) -> None:
    stated = [name for name in ("water_capacity", "content") if values.states(name)]
    if not stated:
        allowed = "water_capacity such as 47 L, or content such as 6800 L"
        values.fault("", "neither water_capacity nor content", allowed)
    elif len(stated) == 2:
        values.fault("content", "both content and water_capacity", "one of them", "delete one")
    elif stated == ["content"] and values.states("fill_temperature"):
        hint = "a stated content holds at any temperature"
        values.fault("fill_temperature", "fill_temperature beside content", "one of them", hint)


def _check_start(values: Values) -> None:
    full, fleet = values.data.get("full_at_start"), values.data.get("fleet")
    if full is not None and fleet is not None and full > fleet:
        found = f"{full} full cylinders in a fleet of {fleet}"
        values.fault("full_at_start fleet", found, "full_at_start of at most fleet")


def _contents(values: Values) -> tuple[int, int, int]:
    """Return the content (1/60 mL) when full, at the residual pressure and where flow is lost."""
    filling, temperature = values["filling_pressure"], values["fill_temperature"]
    if values["content"] is None:
        full_l = gas.content_litres(values["water_capacity"] / 1000, filling, temperature)
    else:
        full_l = values["content"] / 1000
    levels = [values["residual_pressure"], values["flow_lost_below"]]
    litres = [full_l, *(gas.content_at(gauge, full_l, filling, temperature) for gauge in levels)]
    full, residual, lost = (round(amount * gas.GAS_PER_LITRE) for amount in litres)
    return full, residual, lost
