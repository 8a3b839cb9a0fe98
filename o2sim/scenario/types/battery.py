"""What a scenario says of the battery, and how it fades: with the energy it has given, and with its age."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from o2sim.scenario.keys.field import ASSUMED, COMMON, DAY_S, YEAR_DAYS
from o2sim.scenario.keys.record import Key, key, of_file, part_or_none, permille, time_key
from o2sim.scenario.keys.sources import BATTERY_CYCLES, BATTERY_HEAT, BATTERY_YEARS
from o2sim.scenario.types.owned import age_like, one_owned

YEAR_S = YEAR_DAYS * DAY_S
MILD_C, DOUBLED_C = 25.0, 8.0  # a battery ages at the stated rate at the first, twice as fast for each such step


@dataclass(frozen=True)
class Fade:
    """Shares of what a battery gave when new that it loses: with each full cycle, and a year at its heat."""

    per_cycle: float = key(
        "share", "of what it gave when new, lost with each full cycle: usable energy given once over", "0 %",
        f"no loss unless stated; 0.04 % {BATTERY_CYCLES}", most="5 %",
    )  # fmt: skip
    per_year: float = key(  # at its heat
        "share", "of what it gave when new, lost in a year at 25 degC", "0 %",
        f"no loss unless stated; 3 % {BATTERY_YEARS}", most="50 %",
    )  # fmt: skip
    heat: ClassVar[Key] = of_file(
        key("temperature", "mean of the year where it stands; per_year doubles for each 8 degC more", "25 degC",
            BATTERY_HEAT, least="0 degC", most="60 degC")
    )  # fmt: skip


def at_heat(per_year: float, heat_c: float) -> float:
    """Return the share lost in a year at a heat, from that at 25 degC."""
    return float(per_year * 2 ** ((heat_c - MILD_C) / DOUBLED_C))


def faded_ws(usable_ws: int, fade: Fade, age_s: int, cycles: int) -> int:
    """Return what a battery that gave so much when new gives now, in whole W x s; never less than half."""
    lost = fade.per_cycle * cycles + fade.per_year * age_s / YEAR_S
    return max(usable_ws - usable_ws // 2, round(usable_ws * (1.0 - lost)))


def _watt_seconds(watt_hours: float) -> int:
    return round(watt_hours * 3_600)


@dataclass(frozen=True)
class Battery:
    """A battery with its charger and inverter; usable_ws is what it gives from full to empty when new."""

    usable_ws: int = key(
        "energy", "what it gives from full to empty when new, full at first", name="usable", required=True,
        most="100 MWh", turned=_watt_seconds,
    )  # fmt: skip
    owned: ClassVar[Key] = one_owned()
    owned_age: ClassVar[Key] = age_like("age")
    charge_w: int = key("power", "the most it takes while charged", required=True, most="10 MW", turned=round)
    charge_permille: int = key(
        "share", "stored of what it takes", "85 %", "lead-acid, common practice", name="charge_efficiency",
        least="1 %", turned=permille, value=1_000,
    )  # fmt: skip
    inverter_w: int | None = key(
        "power", "the most the inverter gives", least="1 W", most="10 MW", words="no limit", turned=round,
        otherwise="no limit",
    )  # fmt: skip
    inverter_permille: int = key(
        "share", "given of what the inverter takes", "90 %", COMMON, name="inverter_efficiency", least="1 %",
        turned=permille, value=1_000,
    )  # fmt: skip
    reconnect_permille: int = key(
        "share", "once empty in a cut it serves again from this charge on", "20 %", ASSUMED, name="reconnect",
        least="1 %", turned=permille,
    )  # fmt: skip
    gather: bool = key(
        "true or false", "while it carries the units, patients are moved to as few as will do", "false"
    )
    age_s: int = time_key(
        "how old it is as the run begins, from which it fades on; needs fade", otherwise="owned_age, else new",
        value=0,
    )  # fmt: skip
    fade: Fade | None = part_or_none(
        Fade, "it gives less as it ages and is used, by midnight, down to half", "never fades"
    )
    peak_w: int | None = key(
        "power", "the most the inverter gives for a moment, as a unit with a start_surge starts", name="peak",
        least="1 W", most="10 MW", turned=round, otherwise="twice the inverter (assumption of o2sim)",
    )  # fmt: skip

    @property
    def usable_at_first_ws(self) -> int:
        """Return what it gives from full to empty as the run begins."""
        return self.usable_ws if self.fade is None else faded_ws(self.usable_ws, self.fade, self.age_s, 0)

    @property
    def start_limit_w(self) -> int | None:
        """Return what it gives for a moment, twice the inverter unless stated; None for no limit."""
        if self.peak_w is not None or self.inverter_w is None:
            return self.peak_w
        return 2 * self.inverter_w
