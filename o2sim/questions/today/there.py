"""What is there at the count, and how long it lasts if nothing changes, as the result has it."""

from __future__ import annotations

from o2sim.planning.by_model import highest_load_w
from o2sim.quantities.gas import GAS_PER_LITRE
from o2sim.questions.today import cover
from o2sim.questions.today.forecast import drawn_flow
from o2sim.questions.today.moment import now_of
from o2sim.questions.today.order import on_order
from o2sim.questions.today.result import Bedside, Counts, Cover
from o2sim.questions.today.runs import Seen
from o2sim.scenario.checks.of_count import accounted
from o2sim.scenario.types.hospital import Hospital


def counts_of(hospital: Hospital) -> Counts:
    """Return what was counted, as numbers only."""
    now, stock = now_of(hospital), now_of(hospital).cylinders
    assert stock is not None  # see today
    assert hospital.cylinders is not None
    in_use = None if now.on_oxygen is None else sum(each.source == "cylinder" for each in now.on_oxygen)
    on_oxygen: dict[str, int] | None = None
    if now.on_oxygen is not None:
        on_oxygen = {
            kind.name: sum(each.class_index == place for each in now.on_oxygen)
            for place, kind in enumerate(hospital.patients)
        }
    counted, fleet = accounted(hospital)
    return Counts(
        stock.full, len(stock.part_used), stock.empty, in_use, on_order(hospital), on_oxygen, counted,
        fleet,
    )  # fmt: skip


def cover_of(hospital: Hospital, base: Seen) -> Cover:
    """Return how long what is there lasts; at the forecast's mean flow, where nobody counted who is on oxygen."""
    now, cylinders = now_of(hospital), hospital.cylinders
    assert cylinders is not None  # see today
    assert now.cylinders is not None
    beds, spare = cover.bedsides(hospital), cover.spares(now.cylinders, cylinders)
    in_use = sum(each.gas for each in beds)
    flow = sum(each.flow_ml_min for each in beds)
    origin = "in part assumed" if any(each.assumed for each in beds) else "counted"
    if now.on_oxygen is None:
        flow, origin = drawn_flow(base), "mean of the forecast at the first midnight"
    gas, shared = in_use + sum(spare), cover.shared_out(beds, spare)
    battery_h, outlasted = _battery(hospital)
    dry = shared.first_dry
    return Cover(
        litres=gas / GAS_PER_LITRE,
        litres_in_use=in_use / GAS_PER_LITRE,
        flow_l_min=flow / 1_000,
        flow_from=origin,
        hours=cover.pooled_s(gas, flow) / 3_600 if flow > 0 else None,
        bedsides=tuple(
            Bedside(each.of_class, each.flow_ml_min / 1_000, each.lasts_s / 3_600, each.assumed)
            for each in beds
            if each.flow_ml_min > 0 and each.gas > 0
        ),
        changes_until_dry=len(shared.changes),
        first_dry_hours=None if dry is None else dry.second / 3_600,
        first_dry_class="" if dry is None else beds[dry.bedside].of_class,
        stranded_litres=shared.stranded_gas / GAS_PER_LITRE,
        battery_hours=battery_h,
        cut_outlasts_battery=outlasted,
    )


def _battery(hospital: Hospital) -> tuple[float | None, float | None]:
    """Return the hours that the battery carries the units in use, and the chance that a cut lasts longer.

    Of several models those of the most watts are taken to be in use: the safe side.
    """
    battery = hospital.power.battery if hospital.power else None
    units, now, grid = hospital.concentrators, now_of(hospital), hospital.grid
    load_w = highest_load_w(units, cover.units_running(hospital))
    if battery is None or units is None or load_w <= 0:
        return None, None
    charge = 1_000 if now.battery_permille is None else now.battery_permille
    hours = cover.battery_hours(battery.usable_at_first_ws, charge, battery.inverter_permille, load_w)
    if grid is None or grid.down_s is None:
        return hours, None
    is_off = now.grid is not None and now.grid.up is False
    lasted_s = now.grid.age_s if is_off and now.grid is not None else 0
    return hours, cover.outlasts(grid.down_s, lasted_s, hours * 3_600)
