"""What is said of the cylinder itself, once or for each size: what it holds, how many there are, what befalls."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, Literal

from o2sim.scenario.keys.field import COMMON
from o2sim.scenario.keys.record import NEEDED, Key, key, of_file, part_or_none, whole_key, worked_out
from o2sim.scenario.keys.sources import LEAKAGE
from o2sim.scenario.types.bedside import VALVES
from o2sim.scenario.types.laws import Law
from o2sim.scenario.types.owned import age_of_owned, count_owned

MOST_SIZES = 8
Use = Literal["bedside", "backup", "transfer"]  # of a size


@dataclass(frozen=True)
class Underfilled:
    """Delivered cylinders that hold less than a full one: which share of those that work, and how much of it."""

    share: float = key("share", "of the delivered cylinders that work", required=True)
    content: Law = key(  # as a share of a full one
        "law of share", "what such a cylinder holds, of a full one", required=True
    )


def _litres(ml: float) -> float:
    return ml / 1_000


@dataclass(frozen=True, kw_only=True)
class CylinderSize:
    """Cylinders of one size; gas counts are above gauge zero, in 1/60 mL.

    full_gas, residual_gas and lost_gas are the content when full, at the residual pressure and at the pressure
    where flow is lost. The pressures and the water capacity are kept for reports.
    """

    instead: ClassVar[tuple[tuple[str, tuple[str, ...]], ...]] = (
        ("content", ("water_capacity", "fill_temperature")),
        ("water_capacity", ("content",)),
    )
    water_capacity_l: float | None = key(  # None where the content was stated
        "volume", "volume of the shell", least="0.1 L", most="10000 L", otherwise="content instead",
        turned=_litres, value=NEEDED,
    )  # fmt: skip
    filling_pressure_kpa: float = key(
        "pressure", "gauge pressure of a full cylinder", "13.7 MPa", COMMON, least="100 kPa", value=NEEDED
    )
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
        "pressure", "taken off service at this gauge pressure", "800 kPa", COMMON, value=NEEDED
    )
    flow_lost_below_kpa: float = key(
        "pressure", "gauge pressure at which a set flow fades", "400 kPa", COMMON, value=NEEDED
    )
    fleet: int = whole_key("cylinders in all places together", required=True)
    owned: ClassVar[Key] = count_owned()
    owned_age: ClassVar[Key] = age_of_owned()
    full_at_start: int = whole_key("full ones when the warm-up starts", like="fleet", value=NEEDED)
    valve: str | None = key("word", "fitting of the cylinders", words=VALVES, otherwise="fits any regulator")
    leak_ml_min: int = key(
        "flow", "lost at the joints while a cylinder is open", "0.1 L/min", LEAKAGE, value=NEEDED
    )
    gauge_error_gas: int = 0  # one standard deviation of a gauge, as content
    unusable: float = key(
        "share", "of delivered cylinders, found out on opening and set aside: another change", "0 %", most="50 %"
    )
    underfilled: Underfilled | None = part_or_none(
        Underfilled, "delivered cylinders that hold less than a full one", "all are full"
    )
    refused: float = key("share", "of empties, when they are to be filled: condemned, gone from the fleet", "0 %")
    losses_per_day: float = key(
        "rate", "cylinders of the fleet that go missing, those not in use", "0 / year", name="loss",
        most="100 / day",
    )  # fmt: skip
    space: int | None = whole_key(  # None: one
        "spaces that one takes on a lorry with vehicle_space", None, 1, 1_000, otherwise="1"
    )
    refill: float | None = key("money", "price of a refill of this size", otherwise="refill in costs.cylinders")
    price: float | None = key("money", "price of a cylinder of this size", otherwise="price in costs.cylinders")
    name: str = ""  # of the size, "" where all cylinders are alike

    @property
    def kept_gas(self) -> int:
        """Return the content at or below which a cylinder counts as empty, and stays in it."""
        return max(self.residual_gas, self.lost_gas)


@dataclass(frozen=True)
class SizeUse:
    """Which sizes are for what, by name, the first choice first; empty for all in the order of the file."""

    bedside: tuple[str, ...] = key(
        "names", "sizes for patients, the first choice first", otherwise="all, in the order of the file", value=()
    )
    backup: tuple[str, ...] = key(
        "names", "sizes for back-ups at the bed, the first choice first",
        otherwise="all, in the order of the file", value=(),
    )  # fmt: skip
    transfer: tuple[str, ...] = key(
        "names", "sizes that go with patients who are sent on, the first choice first",
        otherwise="all, in the order of the file", value=(),
    )  # fmt: skip
