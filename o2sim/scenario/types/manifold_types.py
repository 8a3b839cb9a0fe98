"""A manifold as a frozen dataclass in the units used inside, and its keys in a scenario file."""

from __future__ import annotations

from dataclasses import dataclass

from o2sim.scenario.keys.field import (
    COMMON,
    CONVENTION,
    HIGHEST_FLOW,
    HIGHEST_GAUGE,
    Field,
    Section,
    time_field,
    whole_field,
)


@dataclass(frozen=True)
class Manifold:
    """Two banks of cylinders and a reserve that feed piped outlets; gas in 1/60 mL, above gauge zero."""

    bank: int  # cylinders in each of the two banks
    outlets: int  # one patient each
    changeover_gas: int  # what stays in a cylinder of a spent bank
    changeover_pressure_kpa: float
    reserve: int = 0  # cylinders in the low-pressure reserve
    bank_change_time_s: int = 1_800
    gauge_check_s: int | None = None  # None: an alarm tells
    leak_ml_min: int = 0


MANIFOLD = Section(
    (
        whole_field("bank", "cylinders in each of the two banks", None, 1, 1_000, required=True),
        whole_field("outlets", "piped outlets with a flowmeter, one patient each", None, 1, 10_000, required=True),
        Field("changeover_pressure", "pressure", "a bank is spent at this gauge pressure", least="1 kPa",
              most=HIGHEST_GAUGE, otherwise="residual_pressure of the cylinders"),
        whole_field("reserve", "cylinders of the low-pressure reserve, if both banks are spent", "0", 0, 1_000,
                    mark=CONVENTION),
        time_field("bank_change_time", "time to put full cylinders on a spent bank or on the reserve", "30 min",
                   COMMON),
        Field("gauge_check", "duration", "time between looks that find a spent bank, from midnight, or an alarm",
              "alarm", COMMON, least="1 min", most="100 years", words=(("alarm", None),)),
        Field("leak", "flow", "lost by the pipework, day and night, as long as a bank or the reserve feeds it",
              "0 L/min", CONVENTION, most=HIGHEST_FLOW),
    )
)  # fmt: skip
