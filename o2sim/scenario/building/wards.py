"""The wards of a scenario in, built and checked against totals and classes, out.

Totals that the file leaves out are the sums of the wards; those it states must agree.
"""

from __future__ import annotations

from typing import Any

from o2sim.scenario.building.built import Setting, named
from o2sim.scenario.building.values import Values
from o2sim.scenario.text.nodes import Mapping, Scalar, child_path
from o2sim.scenario.text.problems import Problems, RefusedError, nearest, quote
from o2sim.scenario.types.wards import AT_HAND, Ward

_TOTALS = (("concentrators", "count", "concentrators"), ("cylinders", "regulators", "regulators"))


def with_sums(root: Mapping, base: Mapping | None = None) -> Mapping:
    """Return the tree with concentrators.count and cylinders.regulators, where left out, summed over the wards.

    base: the scenario, whose wards are summed where a strategy shares everything (`wards: none`).
    """
    wards = root.entries.get("wards")
    if not isinstance(wards, Mapping) and base is not None:
        wards = base.entries.get("wards")
    if not isinstance(wards, Mapping):
        return root
    entries = dict(root.entries)
    for section, total, key in _TOTALS:
        node = entries.get(section)
        stated = isinstance(node, Mapping) and (total in node.entries or "regulator_sets" in node.entries)
        if isinstance(node, Mapping) and not stated:
            summed = Scalar(node.line, child_path(node.path, total), str(_sum(wards, key)))
            entries[section] = Mapping(node.line, node.path, {**node.entries, total: summed})
    return Mapping(root.line, root.path, entries)


def _sum(wards: Mapping, key: str) -> int:
    stated = [each.entries.get(key) for each in wards.entries.values() if isinstance(each, Mapping)]
    texts = [node.text for node in stated if isinstance(node, Scalar)]
    return min(sum(int(text) for text in texts if text.isascii() and text.isdigit() and len(text) < 7), 100_000)


def wards(setting: Setting, found: dict[str, Values]) -> tuple[Ward, ...]:
    """Return the wards in the order of the file, without what the strategy has no use for."""
    problems, values = setting.problems, setting.hospital
    node = values.at("wards")
    units, stock = setting.parts.get("concentrators"), setting.parts.get("cylinders")
    unused = {} if units else {"concentrators": 0}
    unused |= {} if stock else {"regulators": 0, "bedside_cylinders": 0}
    built_ones = named(setting, Ward, found, "wards", **unused)
    fits = [
        _total_fits(
            setting, "concentrators", "count", sum(w.concentrators for w in built_ones), units and units.count
        ),
        _total_fits(
            setting, "cylinders", "regulators", sum(w.regulators for w in built_ones), stock and stock.regulators
        ),
    ]
    bedside = sum(ward.bedside_cylinders for ward in built_ones)
    if stock and bedside > stock.fleet:
        found_text = f"found {bedside} bedside cylinders in a fleet of {stock.fleet}"
        raise problems.add(node, found_text, "together at most the fleet")
    if not all(fits):
        raise RefusedError
    return built_ones


def _total_fits(setting: Setting, section: str, key: str, summed: int, total: int | None) -> bool:
    if total is None or summed == total:
        return True
    what = "concentrators" if key == "count" else key
    found = f"found {summed} {what} in all wards, {section}.{key} {total}"
    node = setting.hospital.at("wards")
    setting.problems.add(node, found, "the same", f"leave {section}.{key} out: it is then the sum")
    return False


def classes_fit(problems: Problems, values: Values, parts: dict[str, Any]) -> bool:
    """Return True if each class lies in a ward that there is; without wards no class names one."""
    names = [ward.name for ward in parts.get("wards", ())]
    given_up = values.states("wards") and values.data.get("wards") is None
    if given_up or ("wards" not in parts and values.states("wards")):
        return True  # `none`, or refused before
    fits = True
    for kind in parts.get("patients", ()):
        if kind.ward == "" and names:
            problems.add(_class_node(values, kind.name), "found no ward", f"ward: one of {', '.join(names)}")
        elif kind.ward not in names and kind.ward:
            found = f"the ward {quote(kind.ward)} is unknown" if names else "found a ward, but no section wards"
            allowed = ", ".join(names) or "a section wards"
            problems.add(_class_node(values, kind.name), found, allowed, nearest(kind.ward, names))
        else:
            continue
        fits = False
    return fits


def go_together(problems: Problems, values: Values, parts: dict[str, Any]) -> bool:
    """Return True unless wards, or times to fetch or connect, stand beside what the model has no rule for."""
    stock, access, staff = parts.get("cylinders"), parts.get("store"), parts.get("staff")
    slow = [("store", "times to fetch")] if access and access != AT_HAND else []
    slow += [("staff", "connect_time")] if staff and staff.connect_s else []
    apart = [("wards", "wards")] if parts.get("wards") else []
    clashes = [
        ("manifold", "manifold", apart + slow if parts.get("manifold") else []),
        ("cylinders", "splitters", slow if stock and stock.splitters else []),
        ("cylinders", "regulator_sets", apart if stock and stock.regulator_sets else []),
    ]
    for section, what, others in clashes:
        for _, other in others:
            problems.add(values.at(section), f"found {what} together with {other}", "one or the other")
    return not any(others for *_, others in clashes)


def _class_node(values: Values, name: str) -> Any:
    """Return the node of a class's ward, or that of the class."""
    classes = values.node.entries["patients"]
    assert isinstance(classes, Mapping)
    each = classes.entries[name]
    return each.entries.get("ward", each) if isinstance(each, Mapping) else each
