"""The values of a section in, the frozen dataclass out; RefusedError where its keys do not fit together.

Each `_..._fits` function checks one relation between keys, notes what is wrong and returns whether it holds; it
holds its tongue where a key it needs was refused before.
"""

from __future__ import annotations

import contextlib
import datetime as dt
from collections.abc import Callable
from typing import Any, Literal

from o2sim.quantities import gas
from o2sim.scenario.building import build_bedside, register, supply
from o2sim.scenario.building.built import Setting, built
from o2sim.scenario.building.flow_steps import flow_steps
from o2sim.scenario.building.reader import Values
from o2sim.scenario.keys.fields import (
    ALLOCATION,
    CYLINDERS,
    DAY_HOURS,
    PATIENT_CLASS,
    RESUPPLY,
    SEASON,
    STAFF,
    SURGE,
    TRANSFER,
)
from o2sim.scenario.text.nodes import Listing, describe
from o2sim.scenario.text.problems import Problems, RefusedError
from o2sim.scenario.types.types import (
    YEAR_DAYS,
    Allocation,
    Cylinders,
    DayHours,
    PatientClass,
    Resupply,
    Season,
    Splitters,
    Staff,
    Surge,
    Transfer,
)

Unserved = Literal["wait", "transfer"]
GAS_PER_LITRE = 60_000  # gas is counted in 1/60 mL
# A common year, so that the factors have a mean of 1 over the default horizon; a leap year misses it by 0.1 %.
MONTH_DAYS = (31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)


def patient_class(
    problems: Problems, name: str, values: Values, if_unserved: Unserved, start: dt.date, tolerated_gap_s: int
) -> PatientClass:
    """Return a class of patients; if_unserved is the scenario's, for a class that states none of its own."""
    if not values.has(*PATIENT_CLASS.names):
        raise RefusedError
    swing = season(problems, values["season"], start) if values["season"] else None
    admissions, flow, duration = (values[key] for key in ("admissions", "flow", "duration"))
    recorded = None
    if values["register"] is None and None in (admissions, flow, duration):
        raise problems.add(
            values.node, "found `register: none`, but no admissions", "admissions, flow and duration"
        )
    if values["register"] is not None:
        _only_recorded(problems, values)
        recorded = register.of_class(problems, values["register"], name, start)
        admissions = len(recorded.arrival_s) / recorded.days
        flow, duration = (register.empirical(column) for column in (recorded.flow_ml_min, recorded.need_s))
    return PatientClass(
        name=name,
        admissions_per_day=admissions,
        hypoxaemic=values["hypoxaemic"],
        flow_ml_min=flow,
        duration_s=duration,
        priority=values["priority"],
        season=swing,
        if_unserved=values["if_unserved"] or if_unserved,
        recognised=values["recognised"],
        given_without_need=values["given_without_need"],
        weaned_late_s=values["weaned_late"],
        surges=_surges(values),
        overdispersion=values["overdispersion"],
        ward=values["ward"] or "",
        flow_steps=flow_steps(problems, values["flow_steps"], _entries(values, "flow_steps")),
        transfer=_own_transfer(problems, values, tolerated_gap_s),
        size=values["size"],
        recorded=recorded,
        delivery=values["delivery"],
    )


def _own_transfer(problems: Problems, values: Values, tolerated_gap_s: int) -> Transfer | Literal["never"] | None:
    """Return the class's own rule of sending on, None where it states none."""
    if values["transfer"] is not None:
        return transfer(problems, values["transfer"], tolerated_gap_s)
    return "never" if values.states("transfer") else None


def _only_recorded(problems: Problems, values: Values) -> None:
    """Raise RefusedError for a key that a register says already, or that shapes drawn admissions."""
    (keys,) = (replaced for stated, replaced in PATIENT_CLASS.instead if stated == "register")
    stated = [key for key in keys if values.states(key)]
    for key in stated:
        problems.add(values.at(key), f"found {key} beside a register of admissions", "one of them", "delete one")
    if stated:
        raise RefusedError


def _surges(values: Values) -> tuple[Surge, ...]:
    listed = values["surges"] or []
    if not all(each.has(*SURGE.names) for each in listed) or len(listed) < _entries(values, "surges"):
        raise RefusedError
    return tuple(Surge(each["from"], each["length"], each["multiplier"]) for each in listed)


def _entries(values: Values, name: str) -> int:
    node = values.node.entries.get(name)
    return len(node.items) if isinstance(node, Listing) else 0


def season(problems: Problems, values: Values, start: dt.date) -> Season:
    """Return a season: a peak in the year of the start with its ratio, or months scaled to a mean of 1."""
    if not values.has(*SEASON.names):
        raise RefusedError
    stated = {name for name in SEASON.names if values.states(name)}
    if stated == {"monthly_factors"}:
        factors = values["monthly_factors"]
        mean = sum(f * days for f, days in zip(factors, MONTH_DAYS, strict=True)) / YEAR_DAYS
        return Season(monthly=tuple(f / mean for f in factors))
    if stated == {"peak", "ratio"}:
        peak = values["peak"]
        return Season(dt.date(start.year, peak, 15) if isinstance(peak, int) else peak, values["ratio"])
    allowed = "either peak and ratio, or monthly_factors"
    raise problems.add(values.node, f"found {describe(values.node)}", allowed)


def cylinders(setting: Setting, values: Values) -> Cylinders:
    """Return the cylinders, with contents in 1/60 mL by the real-gas relation."""
    sets, problems = None, setting.problems
    with contextlib.suppress(RefusedError):
        sets = build_bedside.regulator_sets(setting, values)
    fits = [
        _content_fits(problems, values),
        _full_at_start_fits(problems, values),
        _checks_fit(problems, values),
    ]
    if sets is None or not all(fits) or not values.has(*CYLINDERS.names):
        raise RefusedError
    full, residual, lost = _contents(values)
    if not _pressures_fit(problems, values, full, residual, lost):
        raise RefusedError
    fleet, missed = values["fleet"], values["missed_check"]
    if missed is not None and not missed.has("day", "night"):
        raise RefusedError
    return Cylinders(
        fleet=fleet,
        full_at_start=_stated(values, "full_at_start", fleet),
        full_gas=full,
        residual_gas=residual,
        lost_gas=lost,
        regulators=sum(each.count for each in sets) if sets else _stated(values, "regulators", fleet),
        leak_ml_min=values["leak"],
        gauge_check_s=values["gauge_check"],
        change_time_s=values["change_time"],
        filling_pressure_kpa=values["filling_pressure"],
        residual_pressure_kpa=values["residual_pressure"],
        flow_lost_below_kpa=values["flow_lost_below"],
        fill_temperature_c=values["fill_temperature"],
        water_capacity_l=None if values["water_capacity"] is None else values["water_capacity"] / 1000,
        check_times_s=values["check_times"] or (),
        missed_by_day=missed["day"] if missed else 0.0,
        missed_by_night=missed["night"] if missed else 0.0,
        gauge_error_gas=round(full * values["gauge_error"] / values["filling_pressure"]),
        change_when=values["change_when"],
        left_open=values["left_open"],
        unusable=values["unusable"],
        underfilled=supply.underfilled(problems, values["underfilled"], max(residual, lost) / full),
        refused=values["refused"],
        losses_per_day=values["loss"],
        valve=values["valve"],
        regulator_sets=sets,
        splitters=None if values["splitters"] is None else built(setting, Splitters, values["splitters"]),
    )


def _stated(values: Values, name: str, otherwise: int) -> int:
    return otherwise if values[name] is None else int(values[name])


def _checks_fit(problems: Problems, values: Values) -> bool:
    """Gauges are looked at by an interval or at clock times; a watched gauge is never missed nor waited for."""
    if values.states("gauge_check") and values.states("check_times"):
        problems.add(values.at("check_times"), "found check_times and gauge_check", "one of them")
        return False
    watched = not values.states("check_times") and values.data.get("gauge_check") == 0
    for name in ("missed_check", "change_when"):
        if watched and values.states(name):
            found = f"found {name} with gauge_check 0 (watched)"
            problems.add(values.at(name), found, "a time between checks", "a watched gauge is never missed")
            return False
    return True


def allocation(values: Values) -> Allocation:
    """Return who gives way to whom."""
    if not values.has(*ALLOCATION.names):
        raise RefusedError
    return Allocation(*(values[name] for name in ALLOCATION.names))


def transfer(problems: Problems, values: Values, tolerated_gap_s: int) -> Transfer:
    """Return when patients are sent on, which is never before their gap counts as an interruption."""
    if not values.has(*TRANSFER.names):
        raise RefusedError
    if values["after"] < tolerated_gap_s:
        found = f"found {values['after']} s, shorter than the tolerated gap of {tolerated_gap_s} s"
        raise problems.add(values.at("after"), found, "at least tolerated_gap")
    return Transfer(values["after"], values["travel"], values["oxygen"])


def staff(values: Values) -> Staff:
    """Return the staff by day and by night."""
    if not values.has(*STAFF.names):
        raise RefusedError
    return Staff(values["day"], values["night"], values["connect_time"])


def day_hours(problems: Problems, values: Values) -> DayHours:
    """Return what counts as day."""
    if not values.has(*DAY_HOURS.names):
        raise RefusedError
    if values["from"] >= values["to"]:
        raise problems.add(values.at("to", "from"), "found a day that ends before it begins", "from before to")
    return DayHours(values["from"], values["to"])


def _content_fits(problems: Problems, values: Values) -> bool:
    stated = [name for name in ("water_capacity", "content") if values.states(name)]
    if not stated:
        allowed = "water_capacity such as 47 L, or content such as 6800 L"
        problems.add(values.node, "found neither water_capacity nor content", allowed)
    elif len(stated) == 2:
        problems.add(values.at("content"), "found both content and water_capacity", "one of them", "delete one")
    elif stated == ["content"] and values.states("fill_temperature"):
        hint = "a stated content holds at any temperature"
        problems.add(values.at("fill_temperature"), "found fill_temperature beside content", "one of them", hint)
    else:
        return True
    return False


def _full_at_start_fits(problems: Problems, values: Values) -> bool:
    if not values.has("full_at_start", "fleet") or values["full_at_start"] is None:
        return True
    if values["full_at_start"] <= values["fleet"]:
        return True
    found = f"found {values['full_at_start']} full cylinders in a fleet of {values['fleet']}"
    problems.add(values.at("full_at_start", "fleet"), found, "full_at_start of at most fleet")
    return False


def _contents(values: Values) -> tuple[int, int, int]:
    """Return the content (1/60 mL) when full, at the residual pressure and where flow is lost."""
    filling, temperature = values["filling_pressure"], values["fill_temperature"]
    if values["content"] is None:
        full_l = gas.content_litres(values["water_capacity"] / 1000, filling, temperature)
    else:
        full_l = values["content"] / 1000
    levels = [values["residual_pressure"], values["flow_lost_below"]]
    litres = [full_l, *(gas.content_at(gauge, full_l, filling, temperature) for gauge in levels)]
    full, residual, lost = (round(amount * GAS_PER_LITRE) for amount in litres)
    return full, residual, lost


def _pressures_fit(problems: Problems, values: Values, full: int, residual: int, lost: int) -> bool:
    for name, content in (("residual_pressure", residual), ("flow_lost_below", lost)):
        if content >= full:
            found = f"found {name} {values[name]:g} kPa, filling_pressure {values['filling_pressure']:g} kPa"
            hint = "a cylinder would be empty when full"
            problems.add(values.at(name, "filling_pressure"), found, f"{name} below filling_pressure", hint)
            return False
    return True


def resupply(problems: Problems, values: Values, fleet: int | None) -> Resupply:
    """Return the reorder rule; fleet is None where the cylinders were refused."""
    stated = values.data.get("order_up_to")
    order_up_to = fleet if stated is None else stated
    fits = [_levels_fit(problems, values, order_up_to), _order_fits(problems, values, order_up_to)]
    makers: list[Callable[[], object]] = [
        lambda: supply.spells(problems, values, "road_closures"),
        lambda: supply.spells(problems, values, "supplier_outages"),
        lambda: supply.part_delivery(values.data.get("part_delivery")),
        lambda: supply.emergency(problems, values.data.get("emergency"), _reorder_point(values, order_up_to)),
    ]
    parts: list[Any] = []
    for make in makers:  # all of them, so as to tell every problem at once
        with contextlib.suppress(RefusedError):
            parts.append(make())
    if not all(fits) or not values.has(*RESUPPLY.names) or order_up_to is None or len(parts) < len(makers):
        raise RefusedError
    closures, outages, part_delivery, emergency = parts
    return Resupply(
        review_s=values["review"],
        reorder_point=_reorder_point(values, order_up_to),
        order_up_to=order_up_to,
        lead_time_s=values["lead_time"],
        vehicle_capacity=values["vehicle_capacity"],
        minimum_order=values["minimum_order"],
        overtaking=values["overtaking"],
        road_closures=closures,
        own_cylinders=values["mode"] is True,
        part_delivery=part_delivery,
        supplier_outages=outages,
        no_delivery=values["no_delivery"] or (),
        emergency=emergency,
    )


def _reorder_point(values: Values, order_up_to: int | None) -> int:
    stated = values.data.get("reorder_point")
    return max((order_up_to or 0) - 1, 0) if stated is None else stated


def _levels_fit(problems: Problems, values: Values, order_up_to: int | None) -> bool:
    reorder_point = values.data.get("reorder_point")
    if reorder_point is None or not order_up_to or reorder_point <= order_up_to:
        return True
    found = f"found reorder_point {reorder_point}, order_up_to {order_up_to}"
    problems.add(values.at("reorder_point", "order_up_to"), found, "a reorder_point of at most order_up_to")
    return False


def _order_fits(problems: Problems, values: Values, order_up_to: int | None) -> bool:
    least = values.data.get("minimum_order", 1)
    limits = [("vehicle_capacity", values.data.get("vehicle_capacity")), ("order_up_to", order_up_to)]
    for name, limit in limits:
        if limit and least > limit:
            found = f"found minimum_order {least}, {name} {limit}"
            hint = "no order could ever be placed"
            problems.add(values.at("minimum_order", name), found, f"a minimum_order of at most {name}", hint)
            return False
    return True
