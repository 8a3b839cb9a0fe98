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
        hint = "say with supplier for how long no order is taken up"
        raise values.fault("prepaid_lost", "prepaid_lost without supplier", "both together", hint)


def check_shocks(values: Values, parts: dict[str, Any]) -> None:
    """Note classes that nobody knows, and money paid ahead where nobody keeps any."""
    known = [kind.name for kind in parts.get("patients", ())]
    for section in (values.data.get("shocks") or {}).values():
        if section.data.get("prepaid_lost") and parts.get("funds") is None and not values.states("funds"):
            hint = "leave prepaid_lost out: without funds nothing is paid ahead"
            found = section.fault("prepaid_lost", "prepaid_lost without funds", "both together", hint)
            values.faults.append(found)
        more = section.data.get("patients")
        for name in (more.data.get("classes") or ()) if more is not None and known else ():
            if name not in known:
                said, allowed = f"the class {quote(name)} is unknown", f"classes: {', '.join(known)}"
                values.faults.append(values.problems.add(more.at("classes"), said, allowed, nearest(name, known)))
