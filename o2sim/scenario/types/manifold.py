"""A manifold as a frozen dataclass in the units used inside, with its keys in a scenario file."""

from __future__ import annotations

from dataclasses import dataclass

from o2sim.scenario.keys.field import COMMON, CONVENTION, HIGHEST_FLOW, HIGHEST_GAUGE
from o2sim.scenario.keys.record import NEEDED, key, time_key, whole_key, worked_out


@dataclass(frozen=True)
class Manifold:
    """Two banks of cylinders and a reserve that feed piped outlets; gas in 1/60 mL, above gauge zero."""

    bank: int = whole_key("cylinders in each of the two banks", None, 1, 1_000, required=True)
    outlets: int = whole_key("piped outlets with a flowmeter, one patient each", None, 1, 10_000, required=True)
    changeover_gas: int = worked_out()  # what stays in a cylinder of a spent bank
    changeover_pressure_kpa: float = key(
        "pressure", "a bank is spent at this gauge pressure", least="1 kPa", most=HIGHEST_GAUGE,
        otherwise="residual_pressure of the cylinders", value=NEEDED,
    )  # fmt: skip
    reserve: int = whole_key(
        "cylinders of the low-pressure reserve, if both banks are spent", "0", 0, 1_000, CONVENTION
    )
    bank_change_time_s: int = time_key(
        "time to put full cylinders on a spent bank or on the reserve", "30 min", COMMON
    )
    gauge_check_s: int | None = key(  # None: an alarm tells
        "duration", "time between looks that find a spent bank, from midnight, or an alarm", "alarm", COMMON,
        least="1 min", most="100 years", words=(("alarm", None),),
    )  # fmt: skip
    leak_ml_min: int = key(
        "flow", "lost by the pipework, day and night, as long as a bank or the reserve feeds it", "0 L/min",
        CONVENTION, most=HIGHEST_FLOW,
    )  # fmt: skip
