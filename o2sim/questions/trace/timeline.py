"""The log of one replication in, a readable timeline and CSV rows out, to see why somebody went without."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import takewhile

from o2sim.model.rules import MAIN_BANKS, STEPS
from o2sim.outcome import Cause, LogEntry
from o2sim.quantities.units import format_duration
from o2sim.scenario.types.hospital import Hospital

BEFORE_S = 6 * 3_600  # facility steps shown before a gap begins
MOST_EPISODES = 10
MOST_LINES = 40
CSV_COLUMNS = ("time_s", "time", "step", "patient_class", "item", "other", "value", "text")
SUPPLY_NAMES = ("the grid", "the generator", "the battery", "nothing")  # by model.power.Supply
FACILITY_STEPS = frozenset(step for step, (_, item, _, _) in STEPS.items() if item != "patient")


@dataclass(frozen=True)
class Gap:
    """One patient without oxygen long enough to count: when (s), how long, and the cause at the tolerance."""

    patient: int
    start_s: int
    stop_s: int
    cause: Cause


@dataclass(frozen=True)
class Episode:
    """Interruptions that overlap in time, told together."""

    gaps: tuple[Gap, ...]

    @property
    def start_s(self) -> int:
        """Return the second at which the first gap begins."""
        return min(gap.start_s for gap in self.gaps)

    @property
    def stop_s(self) -> int:
        """Return the second at which the last gap ends."""
        return max(gap.stop_s for gap in self.gaps)

    @property
    def patient_s(self) -> int:
        """Return the patient-seconds without oxygen."""
        return sum(gap.stop_s - gap.start_s for gap in self.gaps)


class Narrator:
    """Turns log entries of one hospital into dates and sentences."""

    def __init__(self, hospital: Hospital, log: Sequence[LogEntry]) -> None:
        """Take the hospital and its whole log; patients are named by class from their arrivals."""
        self.hospital = hospital
        self._zero = dt.datetime.combine(hospital.start, dt.time()) - dt.timedelta(seconds=hospital.warm_up_s)
        self._class = {
            entry.item: hospital.patients[entry.other].name
            for entry in log
            if entry.step == "patient arrives" and 0 <= entry.other < len(hospital.patients)
        }

    def when(self, time_s: int) -> str:
        """Return a time of the run as "2027-02-03 14:05:00"."""
        return (self._zero + dt.timedelta(seconds=time_s)).isoformat(sep=" ")

    def patient_class(self, entry: LogEntry) -> str:
        """Return the class of the entry's patient, or "" for a step of the facility."""
        return "" if entry.step in FACILITY_STEPS else self._class.get(entry.item, "")

    def patient(self, number: int) -> str:
        """Return "patient 12 (adults)"."""
        name = self._class.get(number)
        return f"patient {number} ({name})" if name else f"patient {number}"

    def ward(self, number: int) -> str:
        """Return "ward north"."""
        wards = self.hospital.wards
        return f"ward {wards[number].name}" if number < len(wards) else f"ward {number}"

    def sentence(self, entry: LogEntry) -> str:
        """Return one entry in words."""
        return _words(entry, self)

    def line(self, entry: LogEntry) -> str:
        """Return date, time and sentence; steps of the warm-up are marked."""
        mark = "  (warm-up)" if entry.time_s < self.hospital.warm_up_s else ""
        return f"{self.when(entry.time_s)}  {self.sentence(entry)}{mark}"


def gaps(log: Sequence[LogEntry], hospital: Hospital) -> list[Gap]:
    """Return every interruption within the horizon in order, transfers for want of supply as gaps of no length."""
    found: list[Gap] = []
    open_gaps: dict[int, tuple[int, Cause]] = {}
    for entry in log:
        inside = entry.time_s >= hospital.warm_up_s
        if entry.step == "interruption" and inside:
            open_gaps[entry.item] = (entry.value, Cause(entry.other))
        elif entry.step == "gap ends" and entry.item in open_gaps:
            start_s, cause = open_gaps.pop(entry.item)
            found.append(Gap(entry.item, start_s, entry.time_s, cause))
        elif entry.step == "patient transferred" and inside:
            found.append(Gap(entry.item, entry.time_s, entry.time_s, Cause(entry.other)))
    found += [Gap(item, start_s, hospital.end_s, cause) for item, (start_s, cause) in open_gaps.items()]
    return sorted(found, key=lambda gap: (gap.start_s, gap.patient))


def episodes(log: Sequence[LogEntry], hospital: Hospital) -> list[Episode]:
    """Return the interruptions joined where they overlap, in order of time."""
    joined: list[list[Gap]] = []
    stop_s = -1
    for gap in gaps(log, hospital):
        if joined and gap.start_s <= stop_s:
            joined[-1].append(gap)
        else:
            joined.append([gap])
        stop_s = max(stop_s, gap.stop_s) if len(joined[-1]) > 1 else gap.stop_s
    return [Episode(tuple(part)) for part in joined]


def story(hospital: Hospital, log: Sequence[LogEntry], *, full: bool = False) -> list[str]:
    """Return the timeline as lines: what led to the worst interruptions, or every step with full."""
    narrator = Narrator(hospital, log)
    if full:
        return [narrator.line(entry) for entry in log]
    told = episodes(log, hospital)
    if not told:
        return ["Nobody in need went without for longer than the tolerated gap in this replication."]
    worst = sorted(told, key=lambda episode: (-episode.patient_s, episode.start_s))[:MOST_EPISODES]
    lines: list[str] = []
    if len(worst) < len(told):
        lines = [
            f"The {len(worst)} longest of {len(told)} episodes, in order of time; --full lists every step.",
            "",
        ]
    for episode in sorted(worst, key=lambda item: item.start_s):
        lines += [*_episode_lines(told.index(episode) + 1, len(told), episode, narrator, log), ""]
    return lines[:-1]


def csv_rows(hospital: Hospital, log: Sequence[LogEntry]) -> Iterator[tuple[str | int, ...]]:
    """Yield one row of CSV_COLUMNS an entry; -1 stands for a number the step does not have."""
    narrator = Narrator(hospital, log)
    for entry in log:
        yield (
            entry.time_s,
            narrator.when(entry.time_s),
            entry.step,
            narrator.patient_class(entry),
            entry.item,
            entry.other,
            entry.value,
            narrator.sentence(entry),
        )


def _episode_lines(
    number: int, count: int, episode: Episode, narrator: Narrator, log: Sequence[LogEntry]
) -> list[str]:
    """Return a heading, then the steps that led there and those of the patients concerned."""
    people = {gap.patient for gap in episode.gaps}
    causes = sorted({gap.cause.label for gap in episode.gaps})
    longest = max(gap.stop_s - gap.start_s for gap in episode.gaps)
    who = f"{len(people)} patient{'s' if len(people) > 1 else ''}"
    head = (
        f"Episode {number} of {count}: {narrator.when(episode.start_s)} to {narrator.when(episode.stop_s)}, "
        f"{who}, longest {format_duration(longest)} ({', '.join(causes)})"
    )
    before = _last_of_each(log, episode.start_s - BEFORE_S)
    during = [
        entry
        for entry in log
        if episode.start_s - BEFORE_S <= entry.time_s <= episode.stop_s
        and (entry.step in FACILITY_STEPS or entry.item in people)
    ]
    lines = [f"  {narrator.line(entry)}" for entry in [*before, *during]]
    if len(lines) > MOST_LINES:
        rest = len(lines) - MOST_LINES
        lines = [*lines[:MOST_LINES], f"  ... and {rest} more steps; --full lists them"]
    return [head, *lines]


def _last_of_each(log: Sequence[LogEntry], time_s: int) -> list[LogEntry]:
    """Return the last order and the last delivery before a time: what the store stood on."""
    latest: dict[str, LogEntry] = {}
    for entry in takewhile(lambda item: item.time_s < time_s, log):
        if entry.step in ("order", "emergency order", "delivery"):
            latest[entry.step] = entry
    return sorted(latest.values(), key=lambda entry: entry.time_s)


def _words(entry: LogEntry, told: Narrator) -> str:
    """Return the sentence of a step; a step without words of its own is told by the table of steps."""
    for words in (_of_power, _of_orders, _of_units, _of_cylinders, _of_manifold, _of_gaps, _of_patients):
        said = words(entry, told, entry.item, entry.other, entry.value)
        if said:
            return said
    meaning, *columns = STEPS.get(entry.step, (entry.step, "item", "other", "value"))
    return f"{meaning} ({entry.item}, {entry.other}, {entry.value})" if any(columns) else meaning


def _of_power(entry: LogEntry, told: Narrator, _item: int, other: int, value: int) -> str:
    """Return the sentence of a step of the power chain, "" for any other."""
    match entry.step:
        case "power lost" | "power restored":
            return "the grid goes down" if entry.step == "power lost" else "the grid comes back"
        case "power from":
            return f"power now from: {SUPPLY_NAMES[other]}"
        case "fuel ordered":
            return f"fuel is ordered, to arrive {told.when(value)}"
        case "fuel delivered":
            return f"{value / 1_000:,.0f} L of fuel fill the tank"
    return ""


def _of_orders(entry: LogEntry, told: Narrator, item: int, other: int, value: int) -> str:
    """Return the sentence of a step of orders, deliveries and losses, "" for any other."""
    match entry.step:
        case "delivery":
            return f"order {item} is delivered: {_cylinders(other)}, {value} full now on hand"
        case "emergency order":
            return f"emergency order {item} is placed for {_cylinders(other)}, to arrive {told.when(value)}"
        case "order cut":
            return f"{_cylinders(other)} of order {item} will not come"
        case "cylinder condemned":
            return f"an empty is refused by the supplier and leaves the fleet ({item} lost so far)"
        case "cylinder lost":
            return f"a cylinder with {_litres(value)} goes missing ({item} lost so far), {other} full left"
        case "order":
            return f"order {item} is placed for {_cylinders(other)}, to arrive {told.when(value)}"
    return ""


def _of_units(entry: LogEntry, told: Narrator, item: int, other: int, value: int) -> str:
    """Return the sentence of a step of concentrators and who is on them, "" for any other."""
    match entry.step:
        case "unit fails" | "repair done":
            return f"concentrator {item} " + ("fails" if entry.step == "unit fails" else "is working again")
        case "fetch begins":
            return f"a cylinder is fetched from the store for {told.patient(item)}, there {told.when(value)}"
        case "connecting begins":
            return f"staff come to connect {told.patient(item)}"
        case "ward restocked":
            return f"{_cylinders(other)} brought to {told.ward(item)}, {value} now kept there"
        case "move begins":
            return f"concentrator {item} is taken to {told.ward(other)}"
        case "unit moved":
            return f"concentrator {item} is in place on {told.ward(other)}"
        case "unit emptied":
            return f"on battery, the {other} on concentrator {item} are moved to others: it is stopped"
        case "unit drifts low" | "unit alarms" | "analyser check" | "service begins" | "service done":
            return f"concentrator {item}: {STEPS[entry.step][0]}"
        case "unit written off":
            return f"concentrator {item} is beyond repair"
        case "on concentrator":
            return f"{told.patient(item)} is on concentrator {other}"
        case "second concentrator":
            return f"{told.patient(item)} has {value / 1_000:g} L/min more from concentrator {other}"
        case "reduced flow" | "flow lowered" | "flow raised":
            way = {"reduced flow": "is on", "flow lowered": "gives way, down to", "flow raised": "is back up to"}
            return f"{told.patient(item)} {way[entry.step]} {value / 1_000:g} L/min, on concentrator {other}"
    return ""


def _of_cylinders(entry: LogEntry, told: Narrator, item: int, other: int, value: int) -> str:
    """Return the sentence of a step of cylinders at the bedside, "" for any other."""
    match entry.step:
        case "cylinder unusable":
            return f"the cylinder opened for {told.patient(item)} gives nothing"
        case "cylinder left open":
            return f"the cylinder of {told.patient(item)} is left open and loses {_litres(value)}"
        case "on cylinder":
            return f"{told.patient(item)} is on a cylinder holding {_litres(value)}"
        case "joins cylinder":
            shared = f"shares the cylinder of {told.patient(other)} through a splitter"
            return f"{told.patient(item)} {shared}, {_litres(value)} left"
        case "cylinder opened":
            return f"a cylinder holding {_litres(value)} is taken for {told.patient(item)}, {other} full left"
        case "cylinder racked":
            return f"the cylinder of {told.patient(item)} goes to the rack with {_litres(value)}"
        case "cylinder emptied":
            return f"the cylinder of {told.patient(item)} goes to the empties with {_litres(value)}"
        case "gauge check":
            return f"gauge check: {told.patient(item)} is at residual pressure, nothing to change to"
        case "cylinder runs out":
            seen = "" if other == 1 else " unseen"
            return f"the cylinder of {told.patient(item)} runs out{seen}"
    return ""


def _of_manifold(entry: LogEntry, told: Narrator, item: int, other: int, value: int) -> str:
    """Return the sentence of a step of the manifold and its outlets, "" for any other."""
    match entry.step:
        case "on outlet":
            return f"{told.patient(item)} is on a piped outlet"
        case "bank feeds":
            return f"{bank_name(item)} feeds the outlets: {_cylinders(other)}, {_litres(value)} to give"
        case "bank spent":
            return f"{bank_name(item)} is spent"
        case "bank taken off":
            return f"the spent cylinders of {bank_name(item)} go to the empties with {_litres(value)}"
        case "bank change":
            return f"{_cylinders(other)} with {_litres(value)} are put on {bank_name(item)}"
        case "bank ready":
            return f"{bank_name(item)} is changed, {_litres(value)} to give"
        case "manifold dry":
            return f"the manifold is dry, {other} patient{'s' if other != 1 else ''} on its outlets"
    return ""


def _of_gaps(entry: LogEntry, told: Narrator, item: int, other: int, value: int) -> str:
    """Return the sentence of a step of gaps, "" for any other."""
    match entry.step:
        case "supply lost":
            return f"{told.patient(item)} loses the supply, staff respond"
        case "gap begins":
            return f"{told.patient(item)} gets nothing ({Cause(other).label})"
        case "cause changes":
            return f"{told.patient(item)} still gets nothing, now: {Cause(other).label}"
        case "gap ends":
            return f"{told.patient(item)}: the gap ends after {format_duration(value)}"
        case "interruption":
            return f"{told.patient(item)} is past the tolerated gap: an interruption ({Cause(other).label})"
    return ""


def _of_patients(entry: LogEntry, told: Narrator, item: int, other: int, value: int) -> str:
    """Return the sentence of a step of patients who come, change and go, "" for any other."""
    match entry.step:
        case "patient arrives":
            return f"{told.patient(item)} needs {value / 1_000:g} L/min"
        case "patient leaves":
            without = f", having gone without for {format_duration(value)}" if value > 0 else ""
            return f"{told.patient(item)} no longer needs oxygen{without}"
        case "need ends":
            return f"{told.patient(item)} no longer needs oxygen and is kept on it (weaned late)"
        case "displaced":
            return f"{told.patient(item)} gives up the source to {told.patient(other)} (higher priority)"
        case "patient transferred":
            return f"{told.patient(item)} is transferred on arrival ({Cause(other).label})"
        case "patient sent on":
            return f"{told.patient(item)} is sent on after waiting too long ({Cause(other).label})"
        case "flow stepped down":
            return f"{told.patient(item)} improves and needs {value / 1_000:g} L/min from now on"
    return ""


def bank_name(number: int) -> str:
    """Return "bank A", "bank B" or "the low-pressure reserve"."""
    return f"bank {'AB'[number]}" if number < MAIN_BANKS else "the low-pressure reserve"


def _cylinders(count: int) -> str:
    return f"{count} cylinder" + ("s" if count != 1 else "")


def _litres(gas: int) -> str:
    return f"{gas / 60_000:,.0f} L"
