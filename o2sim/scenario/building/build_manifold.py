"""The values of the manifold section in, the frozen Manifold out; RefusedError where the cylinders do not fit."""

from __future__ import annotations

from o2sim.quantities import gas
from o2sim.scenario.building.reader import Values
from o2sim.scenario.text.problems import Problems, RefusedError
from o2sim.scenario.types.manifold_types import MANIFOLD, Manifold
from o2sim.scenario.types.types import Cylinders

GAS_PER_LITRE = 60_000


def manifold(problems: Problems, values: Values, cylinders: Cylinders | None) -> Manifold:
    """Return the manifold; cylinders are those it takes, None where they are missing or refused."""
    if cylinders is None or not values.has(*MANIFOLD.names):
        raise RefusedError
    gauge = values["changeover_pressure"]
    lowest, highest = cylinders.flow_lost_below_kpa, cylinders.filling_pressure_kpa
    if gauge is None:
        gauge = max(cylinders.residual_pressure_kpa, lowest)
    elif not lowest <= gauge < highest:
        found = f"found {gauge:g} kPa, cylinders from {lowest:g} kPa (flow_lost_below) to {highest:g} kPa (full)"
        raise problems.add(values.at("changeover_pressure"), found, "a pressure between them")
    return Manifold(
        bank=values["bank"],
        outlets=values["outlets"],
        changeover_gas=_content_at(cylinders, gauge),
        changeover_pressure_kpa=gauge,
        reserve=values["reserve"],
        bank_change_time_s=values["bank_change_time"],
        gauge_check_s=values["gauge_check"],
        leak_ml_min=values["leak"],
    )


def _content_at(cylinders: Cylinders, gauge_kpa: float) -> int:
    """Return the content (1/60 mL) of a cylinder at a gauge pressure, by the relation its other contents have."""
    for kpa, content in (
        (cylinders.residual_pressure_kpa, cylinders.residual_gas),
        (cylinders.flow_lost_below_kpa, cylinders.lost_gas),
    ):
        if gauge_kpa == kpa:
            return content
    full_l = cylinders.full_gas / GAS_PER_LITRE
    litres = gas.content_at(gauge_kpa, full_l, cylinders.filling_pressure_kpa, cylinders.fill_temperature_c)
    return round(litres * GAS_PER_LITRE)
