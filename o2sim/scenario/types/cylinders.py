"""The cylinders of a facility and its manifold, in the units used inside, with their keys."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from functools import cached_property
from typing import Any, ClassVar, Literal

from o2sim.scenario.keys.field import ASSUMED, COMMON
from o2sim.scenario.keys.record import (
    NEEDED,
    Key,
    key,
    lasting,
    of_file,
    part,
    part_or_none,
    permille,
    several,
    time_key,
    whole_key,
    worked_out,
)
from o2sim.scenario.types.bedside import RegulatorSet, Splitters
from o2sim.scenario.types.cylinder_size import MOST_SIZES, CylinderSize, SizeUse, Use
from o2sim.scenario.types.laws import Law
from o2sim.scenario.types.owned import age_of_owned, count_owned, one_owned
from o2sim.scenario.types.times import Time, handling_time


@dataclass(frozen=True)
class SendPartUsed:
    """Part-used cylinders that go to be filled with the empties, where an order wants more empties than there are.

    The emptiest goes first; of equals the one longest on the rack.
    """

    below_permille: int = key(
        "share", "only those with less than this share of the usable gas of a full one", "25 %", ASSUMED,
        name="below", least="1 %", turned=permille,
    )  # fmt: skip
    keep: int = whole_key(
        "part-used cylinders that stay on the rack, but for an emergency order", "4", mark=ASSUMED
    )


@dataclass(frozen=True)
class Timed:
    """A change at a time that staff note: how long before the run-out they reckon, and whether they come."""

    margin_s: int = time_key(
        "how long before the run-out that they reckon staff come to change", "10 min", ASSUMED
    )
    kept: float = key("share", "of the times noted, those at which somebody comes", "80 %", ASSUMED)


@dataclass(frozen=True)
class Backups:
    """Who has a back-up at the bed while on a concentrator: a regulator set with a cylinder, for a lost unit."""

    classes: tuple[str, ...] = key(
        "names",
        "classes of patients who are given one while they are on a concentrator",
        name="for",
        required=True,
    )
    count: int = whole_key("at beds at once, those in use included", required=True)
    open_time_s: Law = lasting(
        "time until it flows once the unit is lost; whoever is at the bed opens it", "1 min", "0 s", mark=ASSUMED,
        value=Law("constant", (60.0,)),
    )  # fmt: skip
    replace_below_permille: int = key(
        "share", "changed at midnight below this share of what a full one can give; a part-used one is brought "
        "only if it holds as much", "50 %", ASSUMED, name="replace_below", turned=permille,
    )  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class Cylinders(CylinderSize):
    """The cylinders of a facility, of one type or of several sizes, and how they are used.

    With sizes what is said of one cylinder is that of the first size for patients; fleet and full_at_start are
    those of all sizes together.
    """

    instead: ClassVar = (
        *CylinderSize.instead,
        ("check_times", ("gauge_check",)),
        ("gauge_check", ("check_times",)),
        ("regulators", ("regulator_sets",)),
        ("regulator_sets", ("regulators", "regulators_owned", "regulators_owned_age")),
    )
    regulators: int = whole_key(
        "sets of regulator and flowmeter", like="fleet", value=NEEDED, otherwise="fleet; with wards their sum"
    )
    regulators_owned: ClassVar[Key] = count_owned()
    regulators_owned_age: ClassVar[Key] = age_of_owned()
    regulator_sets: tuple[RegulatorSet, ...] = several(  # `regulators` together; one kind where empty
        RegulatorSet, "kinds of sets by flowmeter and valve, in place of regulators", "regulators, for any flow"
    )
    splitters: Splitters | None = part_or_none(
        Splitters, "several patients on one cylinder, each at a flow of its own", "one patient on a cylinder"
    )
    gauge_check_s: int = time_key(  # 0: watched
        "time between looks at the gauges, from midnight on", "2 h", COMMON, words={"watched": 0}, value=NEEDED
    )
    check_times_s: tuple[int, ...] = key(  # seconds of the day, in place of gauge_check_s
        "clock times", "looks at the gauges at clock times, in place of gauge_check", otherwise="gauge_check",
        value=(),
    )  # fmt: skip
    missed_check: ClassVar[Key] = of_file(
        key("section", "chance that a look at one gauge is missed", otherwise="none is missed")
    )
    missed_by_day: float = key(
        "share", "chance that a check of one gauge is not made by day", "0 %", name="day", within="missed_check"
    )
    missed_by_night: float = key("share", "the same by night", "0 %", name="night", within="missed_check")
    gauge_error: ClassVar[Key] = of_file(
        key("pressure",
            "one standard deviation of a gauge, drawn for each cylinder; for example 300 kPa for gauges of class "
            "2.5 on 25 MPa (their largest error, from memory, taken as two deviations)", "0 kPa", most="5 MPa")
    )  # fmt: skip
    change_when: Literal["residual", "will_not_last", "timed"] = key(
        "word",
        "when a look leads to a change: at residual pressure; also when the cylinder will not last until the next "
        "look and another one would; or at a time that staff reckon from gauge and flow, and note",
        "timed", ASSUMED, words=("residual", "will_not_last", "timed"), value="residual",
    )  # fmt: skip
    timed: Timed | None = part_or_none(Timed, "the time that staff note", "with change_when timed its defaults")
    left_open: float = key("share", "of cylinders taken off, the share left open until empty", "0 %")
    change_time_s: Time = handling_time("time to change a cylinder", "10 min", COMMON, value=NEEDED)
    rack: Literal["oldest that lasts", "emptiest that lasts", "fullest"] = key(
        "word",
        "which part-used cylinder is taken, of those that last until the next look; where none does, a full one; "
        "with change_when residual the oldest is taken whatever it holds",
        "emptiest that lasts", ASSUMED, words=("oldest that lasts", "emptiest that lasts", "fullest"),
        value="oldest that lasts",
    )  # fmt: skip
    send_part_used: SendPartUsed | None = key(
        "section", "part-used cylinders go to be filled where an order wants more empties than there are",
        of=SendPartUsed, words="never", otherwise="those below 25 %, but for the last 4", value=None,
    )  # fmt: skip
    billing: Literal["whole", "by gas"] = key(
        "word", "a refill is paid whole, or by the gas that was missing in the cylinder", "whole", COMMON,
        words=("whole", "by gas"),
    )  # fmt: skip
    backup: Backups | None = part_or_none(
        Backups, "a back-up at the bed of some patients on concentrators, under every strategy that has these",
        "nobody is given one",
    )  # fmt: skip
    sizes: tuple[CylinderSize, ...] = key(  # empty: all are alike
        "named sections", "cylinders of several sizes; what stands outside holds for all", of=CylinderSize,
        most=str(MOST_SIZES), otherwise="all are of one type", value=(),
    )  # fmt: skip
    use: SizeUse = part(SizeUse, "which sizes are for what", "all sizes for all", value=SizeUse())
    choose: Literal["listed", "smallest that lasts until the next look"] = key(
        "word",
        "which size is opened, of those with a cylinder and a set: the first listed under use, or the smallest "
        "whose next cylinder lasts until the next look, where none does the one that lasts longest",
        "listed", ASSUMED, words=("listed", "smallest that lasts until the next look"),
    )  # fmt: skip

    @cached_property
    def each(self) -> tuple[Cylinders, ...]:
        """Return the rules of the cylinders of each size, in the order of the file; these alone without sizes."""
        if not self.sizes:
            return (self,)
        return tuple(replace(self, sizes=(), use=SizeUse(), **_said_of(size)) for size in self.sizes)

    def places_for(self, use: Use) -> tuple[int, ...]:
        """Return the places in `each` of the sizes for a use, the first choice first."""
        names = [each.name for each in self.each]
        listed: tuple[str, ...] = getattr(self.use, use)
        return tuple(names.index(name) for name in listed) or tuple(range(len(names)))

    @property
    def usable_sets(self) -> tuple[RegulatorSet, ...]:
        """Return the regulator sets that fit the valve of a size."""
        listed = self.regulator_sets or (RegulatorSet(self.regulators),)
        return tuple(one for one in listed if any(one.fits(size.valve) for size in self.each))


def _said_of(size: CylinderSize) -> dict[str, Any]:
    """Return all that is said of a size, by the names of the fields."""
    return {each.name: getattr(size, each.name) for each in fields(CylinderSize)}


@dataclass(frozen=True)
class Manifold:
    """Two banks of cylinders and a reserve that feed piped outlets; gas in 1/60 mL, above gauge zero."""

    bank: int = whole_key("cylinders in each of the two banks", None, 1, 1_000, required=True)
    owned: ClassVar[Key] = one_owned()
    owned_age: ClassVar[Key] = age_of_owned()
    outlets: int = whole_key("piped outlets with a flowmeter, one patient each", None, 1, 10_000, required=True)
    changeover_gas: int = worked_out()  # what stays in a cylinder of a spent bank
    changeover_pressure_kpa: float = key(
        "pressure", "a bank is spent at this gauge pressure", least="1 kPa",
        otherwise="residual_pressure of the cylinders", value=NEEDED,
    )  # fmt: skip
    reserve: int = whole_key("cylinders of the low-pressure reserve, if both banks are spent", "0", 0, 1_000)
    bank_change_time_s: int = time_key(
        "time to put full cylinders on a spent bank or on the reserve", "30 min", COMMON
    )
    gauge_check_s: int | None = key(  # None: an alarm tells
        "duration", "time between looks that find a spent bank, from midnight, or an alarm", "alarm", COMMON,
        least="1 min", words="alarm",
    )  # fmt: skip
    leak_ml_min: int = key(
        "flow", "lost by the pipework, day and night, as long as a bank or the reserve feeds it", "0 L/min"
    )
