"""Rules of the battery: one age for fading and for costs, and what it loses a year at the heat around it."""

from __future__ import annotations

from typing import Any

from o2sim.quantities.units import format_duration
from o2sim.scenario.building.built import Setting
from o2sim.scenario.building.values import Values
from o2sim.scenario.types.battery import at_heat
from o2sim.scenario.types.owned import AGE, OWNED

_SUCH_AS = "write fade: {per_cycle: 0.04 %, per_year: 3 %}"


def battery(_: Setting, values: Values) -> dict[str, Any]:
    """Return the age from which it fades: as stated, else that of the owned one; 0 where it never fades."""
    values.need_all()
    age_s, owned_age_s = values["age"], values[AGE]
    if values.states("age") and not values.states("fade"):
        raise values.fault("age", "age without fade", "both together", f"{_SUCH_AS}; for costs alone: owned_age")
    if age_s is not None and owned_age_s is not None and age_s != owned_age_s:
        found = f"age: {format_duration(age_s)} beside owned_age: {format_duration(owned_age_s)}"
        raise values.fault("age owned_age", found, "one age of one battery", "delete owned_age: it follows age")
    if values["fade"] is None:
        return {"age_s": 0}
    return {"age_s": age_s if age_s is not None else (owned_age_s or 0) * bool(values[OWNED])}


def fade(_: Setting, values: Values) -> dict[str, Any]:
    """Return what is lost a year at the heat around it; a fading battery loses something."""
    values.need_all()
    if not values.states("per_cycle") and not values.states("per_year"):
        raise values.fault("", "no loss in fade", "per_cycle, per_year or both", _SUCH_AS)
    return {"per_year": at_heat(values["per_year"], values["heat"])}
