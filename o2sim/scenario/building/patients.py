"""Rules of a class of patients: what follows from several of its keys, and what does not fit together."""

from __future__ import annotations

import datetime as dt
from typing import Any

from o2sim.scenario.building import recorded as books
from o2sim.scenario.building.built import Setting, built, listed
from o2sim.scenario.building.record_rows import Register
from o2sim.scenario.building.values import Values
from o2sim.scenario.text.nodes import describe
from o2sim.scenario.types.hospital import DAY_S, YEAR_DAYS, FlowStep, PatientClass, Transfer
from o2sim.scenario.types.patients import CYLINDER

# One list of all patients of a run is held in memory; longer is better done as more replications.
MOST_PATIENTS = 5_000_000
# A common year, so that the factors have a mean of 1 over the default horizon; a leap year misses it by 0.1 %.
MONTH_DAYS = (31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)


def patient_class(setting: Setting, values: Values) -> dict[str, Any]:
    """Return what a register sums up, and what the scenario says for a class that does not say it itself."""
    values.need_all()
    own, rows = values["transfer"], values["register"]
    no_transfer = "never" if values.states("transfer") else None
    found = {
        "if_unserved": values["if_unserved"] or setting.hospital.data.get("if_unserved", "wait"),
        "flow_steps": _flow_steps(setting, values),
        "transfer": no_transfer if own is None else built(setting, Transfer, own),
        "recorded": None,
    }
    if rows is not None:
        return {**found, **_of_register(setting, values, rows)}
    if None in (values["admissions"], values["flow"], values["duration"]):
        raise values.fault("", "`register: none`, but no admissions", "admissions, flow and duration")
    return found


def _of_register(setting: Setting, values: Values, rows: Register) -> dict[str, Any]:
    """Return the recorded admissions of a class, and the rate and the laws that sum them up."""
    for key in dict(PatientClass.instead)["register"]:  # what it says already, or what shapes drawn admissions
        if values.states(key):
            values.fault(key, f"{key} beside a register of admissions", "one of them", "delete one")
    values.need_all()
    recorded = books.of_class(setting.problems, rows, values.name, setting.general)
    came = len(recorded.arrival_s) - recorded.present
    kept = slice(recorded.present if came else 0, None)  # long stays are seen more often among those present
    return {
        "recorded": recorded,
        "admissions_per_day": came / recorded.days,
        "flow_ml_min": books.empirical(recorded.flow_ml_min[kept]),
        "duration_s": books.empirical(recorded.need_s[kept]),
    }


def transfer(setting: Setting, values: Values) -> dict[str, Any]:
    """Check that patients are never sent on before their gap counts; return what oxygen there is on the way."""
    values.need_all()
    after_s, gap_s = values["after"], setting.general.tolerated_gap_s
    if after_s < gap_s:
        found = f"{after_s} s, shorter than the tolerated gap of {gap_s} s"
        raise values.fault("after", found, "at least tolerated_gap")
    with_cylinder = values["oxygen"] == CYLINDER
    if values.states("back_after") and not with_cylinder:
        found, hint = "back_after, but no cylinders go with the patient", "state oxygen: cylinder, or delete it"
        raise values.fault("back_after", found, "back_after beside oxygen: cylinder", hint)
    return {"oxygen_on_board": with_cylinder or values["oxygen"], "with_cylinder": with_cylinder}


def season(setting: Setting, values: Values) -> dict[str, Any]:
    """Return a season: a peak in the year of the start with its ratio, or months scaled to a mean of 1."""
    values.need_all()
    stated = set(values.node.entries)
    if stated == {"monthly_factors"}:
        factors = values["monthly_factors"]
        mean = sum(f * days for f, days in zip(factors, MONTH_DAYS, strict=True)) / YEAR_DAYS
        return {"monthly": tuple(f / mean for f in factors)}
    if stated == {"peak", "ratio"}:
        peak = values["peak"]
        return {"peak": dt.date(setting.general.start.year, peak, 15) if isinstance(peak, int) else peak}
    raise values.fault("", describe(values.node), "either peak and ratio, or monthly_factors")


def _flow_steps(setting: Setting, values: Values) -> tuple[FlowStep, ...]:
    """Return the steps of a flow, each later than the one before and not above it."""
    steps = listed(setting, FlowStep, values, "flow_steps")
    for before, step, each in zip(steps, steps[1:], (values["flow_steps"] or ())[1:], strict=False):
        if step.after_s <= before.after_s:
            found = f"{step.after_s} s in a step after that at {before.after_s} s"
            raise each.fault("after", found, "a later time in each step")
        if step.share > before.share:
            found = f"{100 * step.share:g} % in a step after one of {100 * before.share:g} %"
            raise each.fault("share", found, "no more than in the step before")
    return steps


def not_too_many(setting: Setting, classes: tuple[PatientClass, ...]) -> None:
    """Raise RefusedError where a run would have more patients than memory holds."""
    days = (setting.general.warm_up_s + setting.general.horizon_s) / DAY_S
    expected = sum(each.admissions_per_day * each.hypoxaemic for each in classes) * days
    if expected > MOST_PATIENTS:
        found = f"{expected:,.0f} patients on oxygen in {days:,.0f} days"
        hint = "shorten the horizon and raise the number of replications"
        raise setting.hospital.fault("patients", found, f"at most {MOST_PATIENTS:,} in one run", hint)
