"""Perfect handling: a hospital in which hands, eyes and the way to the store cost no time.

What is short there no staff could have prevented: it depends on no parameter of handling.
"""

from __future__ import annotations

from dataclasses import replace

from o2sim.scenario.types.hospital import Cylinders, Hospital, Manifold, Power
from o2sim.scenario.types.laws import Law
from o2sim.scenario.types.times import AS_BY_DAY
from o2sim.scenario.types.wards import AT_HAND

AT_ONCE = Law("constant", (0.0,))


def with_perfect_handling(hospital: Hospital) -> Hospital:
    """Return a hospital with response, changes, connecting, fetching and moving at no time, and gauges watched.

    Back-ups flow at once. The start of a generator, transport and repairs take as long as before; patients and
    supply are the same.
    """
    cylinders, manifold, power = hospital.cylinders, hospital.manifold, hospital.power
    return replace(
        hospital,
        response_time_s=0,
        night=AS_BY_DAY,
        staff=None,
        noticed=None,
        store=AT_HAND,
        moving_s=None if hospital.moving_s is None else 0,
        cylinders=None if cylinders is None else _watched(cylinders),
        manifold=None if manifold is None else _at_once(manifold),
        power=None if power is None else _started_by_itself(power),
    )


def _watched(cylinders: Cylinders) -> Cylinders:
    return replace(
        cylinders,
        change_time_s=0,
        change_when="residual",
        timed=None,
        gauge_check_s=0,
        check_times_s=(),
        missed_by_day=0.0,
        missed_by_night=0.0,
        gauge_error_gas=0,
        sizes=tuple(replace(size, gauge_error_gas=0) for size in cylinders.sizes),
        rack="emptiest that lasts",  # so that as few as may be stand about part-used
        backup=None if cylinders.backup is None else replace(cylinders.backup, open_time_s=AT_ONCE),
    )


def _at_once(manifold: Manifold) -> Manifold:
    return replace(manifold, bank_change_time_s=0, gauge_check_s=None)


def _started_by_itself(power: Power) -> Power:
    """Return power whose generator waits for nobody, but takes as long to start."""
    if power.generator is None or not power.generator.started_by_staff:
        return power
    return replace(power, generator=replace(power.generator, started_by_staff=False))
