"""Rules of common shocks: what an event needs to do anything, and whom it may bring."""

from __future__ import annotations

from o2sim.scenario.building.built import Setting
from o2sim.scenario.building.patients import MOST_PATIENTS
from o2sim.scenario.building.values import Values
from o2sim.scenario.text.problems import nearest, quote
from o2sim.scenario.types.hospital import DAY_S, PatientClass, Shock
from o2sim.scenario.types.laws import law_mean

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


def check_shocks(setting: Setting) -> None:
    """Note classes nobody knows, money paid ahead where nobody keeps any, more people than memory holds."""
    values, parts = setting.hospital, setting.parts
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
    more_patients = sum(_more(setting, each) for each in parts.get("shocks", ()))
    if more_patients > MOST_PATIENTS:
        found = f"{more_patients:,.0f} more patients in a run"
        hint = "lower the rate, the multiplier or the length, or shorten the horizon"
        values.fault("shocks", found, f"at most {MOST_PATIENTS:,}", hint)


def _more(setting: Setting, shock: Shock) -> float:
    """Return the patients on oxygen that a shock brings to a run on average."""
    rule, general = shock.patients, setting.general
    if rule is None:
        return 0.0
    severity = law_mean(shock.severity) if shock.severity is not None else 1.0
    run_days = (general.warm_up_s + general.horizon_s) / DAY_S
    days = shock.rate_per_day * run_days * min(severity * law_mean(rule.length_s) / DAY_S, run_days)
    classes: tuple[PatientClass, ...] = setting.parts.get("patients", ())
    of_whom = [kind for kind in classes if not rule.classes or kind.name in rule.classes]
    return days * (rule.multiplier - 1) * sum(each.admissions_per_day * each.hypoxaemic for each in of_whom)
