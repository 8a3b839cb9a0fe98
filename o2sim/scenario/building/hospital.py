"""Builds all parts of a Hospital; what does not fit between sections is noted.

Totals that a file with wards leaves out are the sums of the wards; those it states must agree.
"""

from __future__ import annotations

from dataclasses import fields, replace
from typing import Any

from o2sim.scenario.building import battery, costing, cylinders, funds, patients, power, resupply, sizes
from o2sim.scenario.building.built import Rule, Setting, made, named
from o2sim.scenario.building.owned import lines_stated, owned
from o2sim.scenario.building.reader import Reader
from o2sim.scenario.building.shocks import check_shocks, shock
from o2sim.scenario.building.units import with_units
from o2sim.scenario.building.values import Values
from o2sim.scenario.keys.record import keys_of
from o2sim.scenario.text.nodes import Mapping, Scalar, child_path
from o2sim.scenario.text.problems import RefusedError, nearest, quote
from o2sim.scenario.types import hospital as types
from o2sim.scenario.types.costing import OtherCost, StaffTime
from o2sim.scenario.types.hospital import Concentrators, General, Hospital, Ward
from o2sim.scenario.types.patients import CYLINDER
from o2sim.scenario.types.times import AS_BY_DAY, takes_any
from o2sim.scenario.types.wards import AT_HAND

_TOTALS = (("concentrators", "count", "concentrators"), ("cylinders", "regulators", "regulators"))


def _day_hours(_: Setting, values: Values) -> dict[str, Any]:
    """Check that the day ends after it begins."""
    values.need_all()
    if values["from"] >= values["to"]:
        raise values.fault("to from", "a day that ends before it begins", "from before to")
    return {}


RULES: dict[type, Rule] = {
    types.PatientClass: patients.patient_class,
    types.Season: patients.season,
    types.Transfer: patients.transfer,
    types.Cylinders: cylinders.cylinders,
    types.CylinderSize: sizes.one_size,
    types.RegulatorSet: cylinders.regulator_set,
    types.Bedside: cylinders.bedside,
    types.Manifold: cylinders.manifold,
    types.Resupply: resupply.resupply,
    types.RoadClosure: resupply.road_closure,
    types.Concentrators: power.concentrators,
    types.Power: power.power,
    types.Generator: power.generator,
    types.Solar: power.solar,
    types.Battery: battery.battery,
    types.Fade: battery.fade,
    types.DayHours: _day_hours,
    types.Shock: shock,
    types.Costs: costing.costs,
    types.Allotment: funds.allotment,
    types.Supplier: funds.supplier,
    StaffTime: costing.staff_time,
    OtherCost: costing.other_cost,
}


def parts(reader: Reader, values: Values, general: General) -> dict[str, Any]:
    """Return the built sections by their names in a Hospital; values are sound only where none is refused."""
    setting = Setting(reader, general, RULES, values)
    for name in ("grid", *(each.name for each in fields(Hospital) if each.name in keys_of(Hospital))):
        try:
            found = _part(setting, name)
        except RefusedError as error:
            values.faults.append(error)
            continue
        if found is not None:
            setting.parts[name] = found
    _check_wards_of_classes(values, setting.parts)
    _check_backups(values, setting.parts)
    check_shocks(setting)
    _check_cylinders_sent(values, setting.parts)
    _check_together(values, setting.parts)
    _check_starter(values, setting.parts)
    funds.check_funds(setting)
    if found := owned(setting):
        setting.parts["owned"] = found
    return setting.parts


def _part(setting: Setting, name: str) -> Any:
    """Return a part of a Hospital, None for one that is left out, refused before or nothing but the grid."""
    values, key = setting.hospital, keys_of(Hospital).get(name)
    section = values.data.get(key.field.name if key else "power")
    if section is None or key is None:
        return None if section is None else power.grid(setting, section)
    if name == "wards":
        return _wards(setting, section)
    if name == "equipment":
        return lines_stated(section)
    found = made(setting, key, values)
    if name == "patients":
        patients.not_too_many(setting, found)
    return None if found == types.Power() else found


def with_sums(root: Mapping, base: Mapping | None = None) -> Mapping:
    """Return the tree with concentrators.count and cylinders.regulators, where left out, summed over the wards.

    Before that, with all that holds for each model of concentrators, and the number of units listed; and with what
    is said outside of several sizes of cylinders said in each. base: the scenario, whose wards are summed where a
    strategy shares everything (`wards: none`).
    """
    root = sizes.spread(with_units(root))
    wards = root.entries.get("wards")
    if not isinstance(wards, Mapping) and base is not None:
        wards = base.entries.get("wards")
    if not isinstance(wards, Mapping):
        return root
    entries = dict(root.entries)
    for section, total, key in _TOTALS:
        node = entries.get(section)
        if isinstance(node, Mapping) and not {total, "regulator_sets"} & set(node.entries):
            summed = Scalar(node.line, child_path(node.path, total), str(_sum(wards, key)))
            entries[section] = Mapping(node.line, node.path, {**node.entries, total: summed})
    return Mapping(root.line, root.path, entries)


def _sum(wards: Mapping, key: str) -> int:
    stated = [each.entries.get(key) for each in wards.entries.values() if isinstance(each, Mapping)]
    texts = [node.text for node in stated if isinstance(node, Scalar)]
    return min(sum(int(text) for text in texts if text.isascii() and text.isdigit() and len(text) < 7), 100_000)


def _wards(setting: Setting, sections: dict[str, Values]) -> tuple[Ward, ...]:
    """Return the wards in the order of the file, without what the strategy has no use for."""
    units, stock = setting.parts.get("concentrators"), setting.parts.get("cylinders")
    unused = {} if units else {"concentrators": 0}
    unused |= {} if stock else {"regulators": 0, "bedside_cylinders": 0}
    found = named(setting, Ward, sections, "wards", setting.hospital, **unused)
    faults: list[RefusedError] = []
    if units is not None and any(group.ward for group in units.groups):
        found = tuple(_with_units_listed(units, ward, sections[ward.name], faults) for ward in found)
    for section, total, key in _TOTALS:
        summed = sum(getattr(ward, key) for ward in found)
        stated = getattr(setting.parts.get(section), total, None)
        if stated is not None and summed != stated:
            said, hint = f"{summed} {key} in all wards, {section}.{total} {stated}", f"leave {section}.{total} out"
            faults.append(setting.hospital.fault("wards", said, "the same", f"{hint}: it is then the sum"))
    bedside = sum(ward.bedside_cylinders for ward in found)
    first = stock.each[stock.places_for("bedside")[0]] if stock else None
    if first and bedside > first.fleet:
        said = f"{bedside} bedside cylinders in a fleet of {first.fleet}{first.name and f' {first.name}'}"
        faults.append(setting.hospital.fault("wards", said, "together at most the fleet"))
    if faults:
        raise faults[0]
    return found


def _with_units_listed(units: Concentrators, ward: Ward, values: Values, faults: list[RefusedError]) -> Ward:
    """Return a ward with the units that are listed as standing there; it may say the same number."""
    count = sum(group.count for group in units.groups if group.ward == ward.name)
    if values.states("concentrators") and ward.concentrators != count:
        found, hint = f"{ward.concentrators} concentrators, {count} in concentrators.units", "leave it out here"
        faults.append(values.fault("concentrators", found, "the same", hint))
    return replace(ward, concentrators=count)


def _check_wards_of_classes(values: Values, parts: dict[str, Any]) -> None:
    """Each class lies in a ward that there is; without wards no class names one."""
    if "wards" not in parts and values.states("wards"):
        return  # `none`, or refused before
    names = [ward.name for ward in parts.get("wards", ())]
    for kind in parts.get("patients", ()):
        if (kind.ward in names) if names else kind.ward == "":
            continue
        found = f"the ward {quote(kind.ward)} is unknown" if names else "found a ward, but no section wards"
        allowed, hint = ", ".join(names) or "a section wards", nearest(kind.ward, names)
        if not kind.ward:
            found, allowed, hint = "found no ward", f"ward: one of {allowed}", ""
        place = values["patients"][kind.name].at("ward")
        values.faults.append(values.problems.add(place, found, allowed, hint))


def _check_backups(values: Values, parts: dict[str, Any]) -> None:
    """Back-ups are for classes that there are."""
    stock = parts.get("cylinders")
    if stock is None or stock.backup is None or "patients" not in parts:
        return
    names = [kind.name for kind in parts["patients"]]
    for name in stock.backup.classes:
        if name not in names:
            found, allowed = f"the class {quote(name)} is unknown", f"classes of the scenario: {', '.join(names)}"
            place = values["cylinders"]["backup"].at("for")
            values.faults.append(values.problems.add(place, found, allowed, nearest(name, names)))


def _check_cylinders_sent(values: Values, parts: dict[str, Any]) -> None:
    """Cylinders that go with patients who are sent on are those of the place."""
    if "cylinders" in parts or values.states("cylinders"):
        return
    found, hint = "oxygen: cylinder, but no section cylinders", "or state oxygen: on board"
    for section in (values, *(values.data.get("patients") or {}).values()):
        rule = section.data.get("transfer")
        if isinstance(rule, Values) and rule.data.get("oxygen") == CYLINDER:
            rule.fault("oxygen", found, "both together", hint)


def _check_together(values: Values, parts: dict[str, Any]) -> None:
    """Wards, and times to fetch or connect, do not stand beside what the model has no rule for."""
    stock, access, staff = (parts.get(name) for name in ("cylinders", "store", "staff"))
    slow = ["times to fetch"] if access and access != AT_HAND else []
    night = parts.get("night", AS_BY_DAY)
    slow += ["connect_time"] if staff and takes_any(staff.connect_s, night.connect_s) else []
    apart = ["wards"] if parts.get("wards") else []
    clashes = [
        ("manifold", "manifold", apart + slow if parts.get("manifold") else []),
        ("cylinders", "splitters", slow if stock and stock.splitters else []),
        ("cylinders", "regulator_sets", apart if stock and stock.regulator_sets else []),
    ]
    if stock and stock.sizes and parts.get("manifold"):
        found, hint = "sizes together with a manifold", "a bank takes cylinders of one size"
        values.fault("cylinders", found, "one or the other", hint)
    for section, what, others in clashes:
        for other in others:
            values.fault(section, f"{what} together with {other}", "one or the other")


def _check_starter(values: Values, parts: dict[str, Any]) -> None:
    """Staff who are to start the generator have to be there."""
    generator = parts["power"].generator if parts.get("power") else None
    by_staff = generator is not None and generator.started_by_staff
    if by_staff and values.has("staff") and not values["staff"]:
        values.fault("power", "a generator started by staff, but no section staff", "both together")
