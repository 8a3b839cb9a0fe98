"""Rules of common shocks: what an event needs to do anything, and whom it may bring."""

from __future__ import annotations

from typing import Any

from o2sim.scenario.building.built import Setting
from o2sim.scenario.building.values import Values
from o2sim.scenario.text.problems import nearest, quote

_EFFECTS = "one at least of road, power, supplier, patients and prepaid_lost"


def shock(_: Setting, values: Values) -> None:
    """Check that a shock does something, and that only a supplier who fails takes money with him."""
    values.need_all()
    laws = ("road", "power", "supplier", "patients")
    if not values["prepaid_lost"] and all(values[name] is None for name in laws):
        raise values.fault("", "a shock that changes nothing", _EFFECTS, "for example road: 7 days")
    if values["prepaid_lost"] and values["supplier"] is None:
        allowed = "both together"
        raise values.fault("prepaid_lost", "prepaid_lost without supplier", allowed, "write supplier: 90 days")


def check_shocks(values: Values, parts: dict[str, Any]) -> None:
    """Note classes that nobody knows, and money paid ahead where nobody keeps any."""
    if "shocks" not in parts:
        return
    names = [kind.name for kind in parts.get("patients", ())]
    for each in parts["shocks"]:
        section = values["shocks"][each.name]
        if each.prepaid_lost and parts.get("funds") is None:
            allowed = "both together"
            hint = "leave prepaid_lost out: without funds nothing is paid ahead"
            section.fault("prepaid_lost", "prepaid_lost without funds", allowed, hint)
            values.faults.append(section.faults[-1])
        for name in each.patients.classes if each.patients is not None and names else ():
            if name not in names:
                found, allowed = f"the class {quote(name)} is unknown", f"classes: {', '.join(names)}"
                place = section["patients"].at("classes")
                values.faults.append(values.problems.add(place, found, allowed, nearest(name, names)))
