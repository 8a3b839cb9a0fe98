"""The values of all sections in, what a Hospital is made of out; what does not fit between sections is noted."""

from __future__ import annotations

from dataclasses import fields
from typing import Any

from o2sim.scenario.building import (
    bedside,
    cylinders,
    patients,
    power,
    prices,
    resupply,
    wards,
)
from o2sim.scenario.building.built import Rule, Setting, made
from o2sim.scenario.building.reader import Reader
from o2sim.scenario.building.values import Values
from o2sim.scenario.keys.record import Key, keys_of
from o2sim.scenario.text.problems import Problems, RefusedError
from o2sim.scenario.types.hospital import (
    Bedside,
    Concentrators,
    Costs,
    Cylinders,
    DayHours,
    General,
    Generator,
    Hospital,
    Manifold,
    PatientClass,
    Power,
    RegulatorSet,
    Resupply,
    RoadClosure,
    Season,
    Solar,
    Transfer,
)


def _day_hours(setting: Setting, values: Values) -> dict[str, Any]:
    """Check that the day ends after it begins."""
    values.need_all()
    if values["from"] >= values["to"]:
        found = "found a day that ends before it begins"
        raise setting.problems.add(values.at("to", "from"), found, "from before to")
    return {}


RULES: dict[type, Rule] = {
    PatientClass: patients.patient_class,
    Season: patients.season,
    Transfer: patients.transfer,
    Cylinders: cylinders.cylinders,
    RegulatorSet: bedside.regulator_set,
    Bedside: bedside.bedside,
    Manifold: cylinders.manifold,
    Resupply: resupply.resupply,
    RoadClosure: resupply.road_closure,
    Concentrators: power.concentrators,
    Power: power.power,
    Generator: power.generator,
    Solar: power.solar,
    DayHours: _day_hours,
    Costs: prices.costs,
}


def parts(reader: Reader, values: Values, general: General) -> dict[str, Any] | None:
    """Return the built sections by their names in a Hospital, None where one is refused."""
    setting = Setting(reader, general, RULES, values)
    keys, found = keys_of(Hospital), setting.parts
    complete = _grid(setting)
    for name in (each.name for each in fields(Hospital) if each.name in keys):
        if values.data.get(keys[name].field.name) is None:  # left out, or refused before
            continue
        try:
            found[name] = _part(setting, name, keys[name])
        except RefusedError:
            complete = False
    fits = [
        wards.classes_fit(reader.problems, values, found),
        wards.go_together(reader.problems, values, found),
        _starter_fits(reader.problems, values, found),
    ]
    return found if complete and all(fits) else None


def _part(setting: Setting, name: str, key: Key) -> Any:
    if name == "wards":
        return wards.wards(setting, setting.hospital["wards"])
    found = made(setting, key, setting.hospital)
    if name == "patients":
        patients.not_too_many(setting, found)
    return None if found == Power() else found  # which is nothing but the grid


def _grid(setting: Setting) -> bool:
    """Put the grid among the parts; return False where it is refused."""
    found = setting.hospital.data.get("power")
    try:
        setting.parts["grid"] = None if found is None else power.grid(setting, found)
    except RefusedError:
        return False
    return True


def _starter_fits(problems: Problems, values: Values, parts: dict[str, Any]) -> bool:
    """Return True unless staff are to start the generator and there are none."""
    generator = parts["power"].generator if parts.get("power") else None
    if generator is None or not generator.started_by_staff or values.data.get("staff") or not values.has("staff"):
        return True
    problems.add(values.at("power"), "found a generator started by staff, but no section staff", "both together")
    return False
