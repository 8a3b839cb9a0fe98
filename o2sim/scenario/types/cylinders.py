"""The cylinders of a facility as a frozen dataclass in the units used inside, with their keys."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, Literal

from o2sim.scenario.keys.field import COMMON, CONVENTION, HIGHEST_COUNT, HIGHEST_FLOW, HIGHEST_GAUGE, NONE
from o2sim.scenario.keys.record import NEEDED, Key, key, of_file, time_key, whole_key, worked_out
from o2sim.scenario.types.bedside import VALVES, RegulatorSet, Splitters
from o2sim.scenario.types.law import Law


@dataclass(frozen=True)
class Underfilled:
    """Delivered cylinders that hold less than a full one: which share of those that work, and how much of it."""

    share: float = key("share", "of the delivered cylinders that work", required=True)
    content: Law = key(  # as a share of a full one
        "law of share", "what such a one holds, of a full one", required=True, most="100 %"
    )


def _litres(ml: float) -> float:
    return ml / 1_000


@dataclass(frozen=True, kw_only=True)
class Cylinders:
    """The cylinders of a facility, all of one type; gas counts are above gauge zero, in 1/60 mL.

    full_gas, residual_gas and lost_gas are the content when full, at the residual pressure and at the pressure
    where flow is lost. The pressures and the water capacity are kept for reports.
    """

    instead: ClassVar = (
        ("content", ("water_capacity", "fill_temperature")),
        ("water_capacity", ("content",)),
        ("check_times", ("gauge_check",)),
        ("gauge_check", ("check_times",)),
        ("regulators", ("regulator_sets",)),
        ("regulator_sets", ("regulators",)),
    )
    water_capacity_l: float | None = key(  # None where the content was stated
        "volume", "volume of the shell", least="0.1 L", most="10000 L", otherwise="content instead",
        turned=_litres, value=NEEDED,
    )  # fmt: skip
    filling_pressure_kpa: float = key(
        "pressure", "gauge pressure of a full cylinder", "13.7 MPa", COMMON, least="100 kPa", most=HIGHEST_GAUGE,
        value=NEEDED,
    )  # fmt: skip
    fill_temperature_c: float = key(
        "temperature", "temperature at which the filling pressure is read", "15 degC",
        "the temperature at which litres are counted", least="-40 degC", most="70 degC", value=NEEDED,
    )  # fmt: skip
    content: ClassVar[Key] = of_file(
        key("volume", "gas in a full cylinder, in place of water capacity and temperature",
            least="1 L", most="10000000 L", otherwise="from water_capacity")
    )  # fmt: skip
    full_gas: int = worked_out()
    residual_gas: int = worked_out()
    lost_gas: int = worked_out()
    residual_pressure_kpa: float = key(
        "pressure", "taken off service at this gauge pressure", "800 kPa", COMMON, most=HIGHEST_GAUGE, value=NEEDED
    )
    flow_lost_below_kpa: float = key(
        "pressure", "gauge pressure at which a set flow fades", "400 kPa", COMMON, most=HIGHEST_GAUGE, value=NEEDED
    )
    fleet: int = whole_key("cylinders in all places together", None, 0, HIGHEST_COUNT, required=True)
    full_at_start: int = whole_key(
        "full ones when the warm-up starts", None, 0, HIGHEST_COUNT, like="fleet", value=NEEDED
    )
    regulators: int = whole_key(
        "sets of regulator and flowmeter", None, 0, HIGHEST_COUNT, like="fleet", value=NEEDED,
        otherwise="fleet; with wards their sum",
    )  # fmt: skip
    regulator_sets: tuple[RegulatorSet, ...] = key(  # of all kinds, `regulators` together; one kind where empty
        "list of sections", "kinds of sets by flowmeter and valve, in place of regulators", of=RegulatorSet,
        otherwise="regulators, for any flow", value=(),
    )  # fmt: skip
    valve: str | None = key("word", "fitting of the cylinders", words=VALVES, otherwise="fits any regulator")
    splitters: Splitters | None = key(
        "section", "several patients on one cylinder, each at a flow of its own", of=Splitters, words=NONE,
        otherwise="one patient on a cylinder",
    )  # fmt: skip
    leak_ml_min: int = key(
        "flow", "lost at the joints while a cylinder is open", "0 L/min", CONVENTION, most=HIGHEST_FLOW,
        value=NEEDED,
    )  # fmt: skip
    gauge_check_s: int = time_key(  # 0: watched
        "time between looks at the gauges, from midnight on", "2 h", COMMON, words=(("watched", 0),), value=NEEDED
    )
    check_times_s: tuple[int, ...] = key(  # seconds of the day, in place of gauge_check_s
        "clock times", "looks at the gauges at clock times, in place of gauge_check", otherwise="gauge_check",
        value=(),
    )  # fmt: skip
    missed_check: ClassVar[Key] = of_file(
        key("section", "chance that a look at one gauge is missed", otherwise="none is missed")
    )
    missed_by_day: float = key(
        "share", "chance that a check of one gauge is not made by day", "0 %", CONVENTION, name="day",
        within="missed_check",
    )  # fmt: skip
    missed_by_night: float = key(
        "share", "the same by night", "0 %", CONVENTION, name="night", within="missed_check"
    )
    gauge_error: ClassVar[Key] = of_file(
        key("pressure", "one standard deviation of a gauge, drawn for each cylinder", "0 kPa", CONVENTION,
            most="5 MPa")
    )  # fmt: skip
    gauge_error_gas: int = 0  # the same as content
    change_when: Literal["residual", "will_not_last"] = key(
        "word",
        "when a look leads to a change: at residual pressure, or also when the cylinder will not last until the "
        "next look", "residual", COMMON,
        words=(("residual", "residual"), ("will_not_last", "will_not_last")),
    )  # fmt: skip
    left_open: float = key("share", "of cylinders taken off, the share left open until empty", "0 %", CONVENTION)
    change_time_s: int = time_key("time to change a cylinder", "10 min", COMMON, value=NEEDED)
    unusable: float = key(
        "share", "of delivered cylinders, found out on opening and set aside: another change", "0 %", CONVENTION,
        most="50 %",
    )  # fmt: skip
    underfilled: Underfilled | None = key(
        "section", "delivered cylinders that hold less than a full one", of=Underfilled, words=NONE,
        otherwise="all are full",
    )  # fmt: skip
    refused: float = key(
        "share", "of empties, when they are to be filled: condemned, gone from the fleet", "0 %", CONVENTION
    )
    losses_per_day: float = key(
        "rate", "cylinders of the fleet that go missing, those not in use", "0 / year", CONVENTION, name="loss",
        most="100 / day",
    )  # fmt: skip

    @property
    def usable_sets(self) -> tuple[RegulatorSet, ...]:
        """Return the regulator sets that fit the cylinders' valve."""
        listed = self.regulator_sets or (RegulatorSet(self.regulators),)
        return tuple(each for each in listed if each.fits(self.valve))
