"""What a scenario says of its patients, with the keys: classes, seasons, surges, registers, sending on."""

from __future__ import annotations

import datetime as dt
from bisect import bisect_left
from dataclasses import dataclass
from typing import ClassVar, Literal

from o2sim.scenario.keys.field import ASSUMED
from o2sim.scenario.keys.record import (
    NEEDED,
    Key,
    key,
    lasting,
    of_file,
    part_or_none,
    several,
    time_key,
    whole_key,
    worked_out,
)
from o2sim.scenario.types.bedside import DEVICES
from o2sim.scenario.types.laws import Law
from o2sim.scenario.types.period import REPLAY, USES, Use, kept
from o2sim.scenario.types.tables import DIALECT_KEYS, Dialect

Unserved = Literal["wait", "transfer"]
CYLINDER = "cylinder"  # the oxygen on the way of who is sent on
IF_UNSERVED = ("wait", "transfer")
SIZES = ("preterm", "newborn", "infant", "child", "adult")


@dataclass(frozen=True)
class Season:
    """Factors on the yearly mean rate: a cosine (peak date, peak over trough) or twelve monthly steps.

    Exactly one of the two forms is set. monthly holds the factors as loaded, already day-weighted to mean 1.
    """

    instead: ClassVar = (
        ("monthly_factors", ("peak", "ratio")),
        ("peak", ("monthly_factors",)),
        ("ratio", ("monthly_factors",)),
    )
    peak: dt.date | None = key("month or date", "when admissions are highest; a month means its 15th")
    ratio: float = key(
        "number", "admissions at the peak over those at the trough", least="1", most="1000", value=1.0
    )
    monthly: tuple[float, ...] = key(
        "numbers", "twelve factors from January on, scaled to a mean of 1 by day", name="monthly_factors", value=()
    )


@dataclass(frozen=True)
class Surge:
    """Admissions multiplied (more than 1) for a time, from midnight of a date on."""

    start: dt.date = key("date", "first day", name="from", required=True)
    length_s: Law = lasting("how long it lasts", least="", required=True)
    multiplier: float = key("number", "of admissions", required=True, least="1", most="1000")


@dataclass(frozen=True)
class Recorded:
    """Admissions of one class from a register; one entry a patient, in order of arrival.

    The book was kept for `days` days, day first_day of the horizon (from 0, may be negative) the first of them;
    stated: as the file says, else from the first row to the last. arrival_s counts from midnight of that first
    day; it is negative for patients present when the book begins, who are in no rate and on no resampled day.
    """

    instead: ClassVar = (
        ("file", ("from", "to", *DIALECT_KEYS)),
    )  # another file has a period and a writing of its own
    file: ClassVar[Key] = of_file(
        key("text", "a CSV file with columns arrival, class, flow (L/min) and hours", required=True)
    )
    written: ClassVar = Dialect
    kept_from: ClassVar[Key] = of_file(kept("from", "first day on which the register was kept"))
    kept_to: ClassVar[Key] = of_file(kept("to", "last day on which it was kept, days without admissions included"))
    use: Use = key(
        "word", "admissions as they were, whole recorded days drawn at random, or the days outside the period as "
        "those of the same date in the latest recorded year", REPLAY, words=USES, value=NEEDED,
    )  # fmt: skip
    first_day: int = worked_out()
    days: int = worked_out()
    arrival_s: tuple[int, ...] = worked_out()
    flow_ml_min: tuple[int, ...] = worked_out()
    need_s: tuple[int, ...] = worked_out()
    stated: bool = worked_out(default=True)

    @property
    def present(self) -> int:
        """Return how many were present when the book begins: the first of the lists."""
        return bisect_left(self.arrival_s, 0)


@dataclass(frozen=True)
class FlowStep:
    """From after_s of the stay on, the flow is this share (0-1) of the first."""

    after_s: int = time_key("from when on, since oxygen was begun", required=True, least="1 s")
    share: float = key("share", "of the first flow", required=True, least="1 %")


@dataclass(frozen=True)
class Transfer:
    """Patients unserved for after_s are sent on; without oxygen on board they are unserved on the way as well.

    with_cylinder: cylinders and a regulator set of the place go with them, back back_after_s after the way.
    """

    after_s: int = time_key("sent on when unserved for so long, at least the tolerated gap", required=True)
    travel_s: int = time_key("time on the way", required=True)
    oxygen_on_board: bool = key(
        "word", "what there is on the way: the vehicle's own, none, or cylinders of the place, without which the "
        "patient stays", "on board", name="oxygen", words={"on board": True, "none": False, "cylinder": CYLINDER},
    )  # fmt: skip
    with_cylinder: bool = False
    back_after_s: int = time_key(
        "how long after the way the cylinders are back, where they go with the patient", "2 h", ASSUMED
    )


@dataclass(frozen=True)
class PatientClass:
    """One class of patients needing oxygen.

    admissions_per_day is the yearly mean of all admissions of the class; times hypoxaemic (a share, 0-1)
    it is the rate of those who need oxygen. flow is in mL/min, duration in s.
    """

    instead: ClassVar = (
        ("register", ("admissions", "flow", "duration", "hypoxaemic", "given_without_need", "season", "surges",
                      "overdispersion", "flow_steps")),
        ("admissions", ("register",)),
    )  # fmt: skip
    name: str
    admissions_per_day: float = key(
        "rate", "all admissions of the class, the yearly mean", name="admissions", required=True,
        most="10000 / day", recorded=True,
    )  # fmt: skip
    hypoxaemic: float = key("share", "the share of them that needs oxygen", "100 %", value=NEEDED)
    flow_ml_min: Law = key("law of flow", "prescribed flow of one patient", required=True, recorded=True)
    duration_s: Law = lasting("time on oxygen", least="", required=True, recorded=True)
    priority: int = whole_key("1 is served first; a modelling order, not triage", "1", 1, 9)
    ward: str = key(  # empty where no wards are named
        "text", "where they lie; needed where wards are named", otherwise="no wards", value=""
    )
    if_unserved: Unserved = key(
        "word", "what a patient who cannot be served on arrival does", words=IF_UNSERVED, value="wait",
        otherwise="if_unserved of the scenario",
    )  # fmt: skip
    recognised: float = key(
        "share",
        "of those in need, the share found and given oxygen; clinical signs predict need poorly, so where nobody "
        "has counted it is for example {low: 50 %, likely: 75 %, high: 95 %} (assumed)",
        "100 %", "state your own; an assumption of o2sim",
    )  # fmt: skip
    given_without_need: float = key("share", "of the others, the share given oxygen all the same", "0 %")
    weaned_late_s: Law | None = lasting(
        "how much longer than needed oxygen is given", least="0 s", words="never",
        otherwise="weaned when the need ends",
    )  # fmt: skip
    season: Season | None = part_or_none(Season, "how admissions swing over the year", "no season")
    surges: tuple[Surge, ...] = several(Surge, "times with more admissions", "no surges")
    overdispersion: float = key(  # 1 is Poisson
        "number", "variance over mean of the number of admissions a day", "1", "Poisson", least="1", most="1000"
    )
    flow_steps: tuple[FlowStep, ...] = several(  # in order of time, none above the one before
        FlowStep, "how the flow is turned down as a patient improves", "the flow stays as it is"
    )
    transfer: Transfer | Literal["never"] | None = part_or_none(  # None: as the hospital's
        Transfer, "those of the class who wait too long are sent on", "transfer of the scenario"
    )
    recorded: Recorded | None = key(  # in place of rate, season, flow and duration, which then sum it up
        "register", "recorded patients on oxygen, in place of admissions, flow and duration", name="register",
        of=Recorded, words="none", otherwise="admissions are drawn",
    )  # fmt: skip
    size: str | None = key(
        "word", "of prongs, catheters and masks, for `o2sim equipment`", words=SIZES,
        otherwise="the list names the class instead",
    )  # fmt: skip
    delivery: str | None = key(
        "word", "how oxygen is given; counts where humidifiers or delivery sets are limited", words=DEVICES,
        otherwise="limited by nothing",
    )  # fmt: skip
