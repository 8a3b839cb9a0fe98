"""The log of one replication as a readable timeline and as rows of CSV, to see why someone went without."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import takewhile

from o2sim.looks.blocks import Points
from o2sim.model.rules import BY_NOTE, BY_OXIMETER, BY_RELATIVE, MAIN_BANKS, STEPS
from o2sim.outcome import Cause, LogEntry, Root
from o2sim.quantities.units import format_duration
from o2sim.scenario.types.hospital import Hospital

BEFORE_S = 6 * 3_600  # facility steps shown before a gap begins
MOST_EPISODES = 10
MOST_LINES = 40
CSV_COLUMNS = ("time_s", "time", "step", "patient_class", "item", "other", "value", "text")
SUPPLY_NAMES = ("the grid", "the generator", "the battery", "nothing")  # by model.power.Supply
FINDERS = {  # who find an empty cylinder
    BY_NOTE: "staff come at the time they noted and find",
    BY_OXIMETER: "an oximeter alarms: staff find",
    BY_RELATIVE: "a relative calls staff, who find",
}
MONEY_THAT = {1: "an allotment comes", 2: "the fees of the day come"}
FACILITY_STEPS = frozenset(step for step, (_, item, _, _) in STEPS.items() if item != "patient")
SENTENCES = {  # step: its sentence, in which WORDS stand in braces; any other step has that of the table of steps
    "power lost": "the grid goes down",
    "power restored": "the grid comes back",
    "power from": "power now from: {supply}",
    "fuel ordered": "fuel is ordered, to arrive {when}",
    "fuel delivered": "{fuel} L of fuel fill the tank",
    "delivery": "order {item} is delivered: {cylinders}, {value} full now on hand",
    "order": "order {item} is placed for {cylinders}, to arrive {when}",
    "emergency order": "emergency order {item} is placed for {cylinders}, to arrive {when}",
    "order cut": "{cylinders} of order {item} will not come",
    "order lacks money": "the money is too little for order {item}: {cylinders} are not ordered, {value} are",
    "order awaits approval": "order {item} for {cylinders} is decided, to be approved {when}",
    "money comes": "{money_that} into the purse, {money} in it now",
    "money lapses": "{money} that was not spent is lost",
    "repair lacks money": "the money is too little to repair {unit}",
    "cylinder sent part-used": "a part-used cylinder with {litres} goes to be filled, {item} part-used left",
    "cylinder condemned": "an empty is refused by the supplier and leaves the fleet ({item} lost so far)",
    "cylinder lost": "a cylinder with {litres} goes missing ({item} lost so far), {other} full left",
    "unit fails": "{unit} fails",
    "repair done": "{unit} is working again",
    "fetch begins": "a cylinder is fetched from the store for {patient}, there {when}",
    "connecting begins": "staff come to connect {patient}",
    "ward restocked": "{cylinders} brought to {ward}, {value} now kept there",
    "move begins": "{unit} is taken to {other_ward}",
    "unit moved": "{unit} is in place on {other_ward}",
    "battery fades": "the battery gives less than before: {kwh} from full to empty",
    "unit emptied": "on battery, the {other} on {unit} are moved to others: it is stopped",
    "unit written off": "{unit} is beyond repair",
    "on concentrator": "{patient} is on {other_unit}",
    "second concentrator": "{patient} has {flow} more from {other_unit}",
    "reduced flow": "{patient} is on {flow}, on {other_unit}",
    "flow lowered": "{patient} gives way, down to {flow}, on {other_unit}",
    "flow raised": "{patient} is back up to {flow}, on {other_unit}",
    "cylinder unusable": "the cylinder opened for {patient} gives nothing",
    "cylinder left open": "the cylinder of {patient} is left open and loses {litres}",
    "on cylinder": "{patient} is on a cylinder holding {litres}",
    "joins cylinder": "{patient} shares the cylinder of {other_patient} through a splitter, {litres} left",
    "cylinder opened": "a cylinder holding {litres} is taken for {patient}, {other} full left",
    "back-up brought": "a back-up holding {litres} is put at the bed of {patient}, {other} full left",
    "back-up opened": "the back-up at the bed of {patient} is opened, holding {litres}",
    "back-up closed": "the back-up of {patient} is closed with {litres} and stays at the bed",
    "back-up changed": "the back-up at the bed of {patient} is changed for {litres}, {other} full left",
    "back-up taken back": "the back-up of {patient} goes back to the store with {litres}, {other} full there",
    "cylinder racked": "the cylinder of {patient} goes to the rack with {litres}",
    "cylinder emptied": "the cylinder of {patient} goes to the empties with {litres}",
    "gauge check": "gauge check: {patient} is at residual pressure, nothing to change to",
    "noted time": "staff come at the time they noted to change the cylinder of {patient}, {litres} left",
    "cylinder runs out": "the cylinder of {patient} runs out{unseen}",
    "found empty": "{finder} that the cylinder of {patient} is empty, after {duration}",
    "oximeter on": "{patient} is given an oximeter that alarms, {other} left",
    "on outlet": "{patient} is on a piped outlet",
    "bank feeds": "{bank} feeds the outlets: {cylinders}, {litres} to give",
    "bank spent": "{bank} is spent",
    "bank taken off": "the spent cylinders of {bank} go to the empties with {litres}",
    "bank change": "{cylinders} with {litres} are put on {bank}",
    "bank ready": "{bank} is changed, {litres} to give",
    "manifold dry": "the manifold is dry, {patients} on its outlets",
    "supply lost": "{patient} loses the supply, staff respond",
    "gap begins": "{patient} gets nothing ({cause})",
    "cause changes": "{patient} still gets nothing, now: {cause}",
    "gap ends": "{patient}: the gap ends after {duration}",
    "falls short": "{patient} is short of oxygen; what would help: {root}",
    "root changes": "{patient} is still short; what would help now: {root}",
    "no longer short": "{patient} is no longer short, after {duration} in all of this spell",
    "interruption": "{patient} is past the tolerated gap: an interruption ({cause})",
    "stock-out": "{patient}: for longer than that only supply could have helped: a supply shortfall ({cause})",
    "patient arrives": "{patient} needs {flow}",
    "patient leaves": "{patient} no longer needs oxygen{gone_without}",
    "need ends": "{patient} no longer needs oxygen and is kept on it (weaned late)",
    "displaced": "{patient} gives up the source to {other_patient} (higher priority)",
    "patient transferred": "{patient} is transferred on arrival ({cause})",
    "patient sent on": "{patient} is sent on after waiting too long ({cause})",
    "cylinders go with a patient": "{cylinders} and a regulator set go with {patient}, {litres} used on the way",
    "cylinders back from a transfer": "{cylinders} that went with {patient} are back, {value} of them empty",
    "flow stepped down": "{patient} improves and needs {flow} from now on",
}
SENTENCES |= {
    step: f"{{unit}}: {STEPS[step][0]}"
    for step in ("unit drifts low", "unit alarms", "analyser check", "service begins", "service done")
}
WORDS: dict[str, Callable[[Narrator, LogEntry], str]] = {
    "item": lambda _, entry: str(entry.item),
    "other": lambda _, entry: str(entry.other),
    "money": lambda narrator, entry: narrator.money(entry.value),
    "money_that": lambda _, entry: MONEY_THAT.get(entry.item, f"money of kind {entry.item} comes"),
    "value": lambda _, entry: str(entry.value),
    "patient": lambda narrator, entry: narrator.patient(entry.item),
    "other_patient": lambda narrator, entry: narrator.patient(entry.other),
    "unit": lambda narrator, entry: narrator.unit(entry.item),
    "other_unit": lambda narrator, entry: narrator.unit(entry.other),
    "ward": lambda narrator, entry: narrator.ward(entry.item),
    "other_ward": lambda narrator, entry: narrator.ward(entry.other),
    "when": lambda narrator, entry: narrator.when(entry.value),
    "supply": lambda _, entry: SUPPLY_NAMES[entry.other],
    "cause": lambda _, entry: Cause(entry.other).label,
    "root": lambda _, entry: Root(entry.other).words,
    "bank": lambda _, entry: f"bank {'AB'[entry.item]}" if entry.item < MAIN_BANKS else "the low-pressure reserve",
    "cylinders": lambda _, entry: _count(entry.other, "cylinder"),
    "patients": lambda _, entry: _count(entry.other, "patient"),
    "litres": lambda _, entry: f"{entry.value / 60_000:,.0f} L",
    "fuel": lambda _, entry: f"{entry.value / 1_000:,.0f}",
    "flow": lambda _, entry: f"{entry.value / 1_000:g} L/min",
    "kwh": lambda _, entry: f"{entry.other / 3_600_000:,.3f} kWh",
    "duration": lambda _, entry: format_duration(entry.value),
    "gone_without": lambda _, entry: (
        f", having gone without for {format_duration(entry.value)}" if entry.value > 0 else ""
    ),
    "finder": lambda _, entry: FINDERS[entry.other],
    "unseen": lambda _, entry: "" if entry.other == 1 else " unseen",
}


@dataclass(frozen=True)
class Words:
    """The words of one entry of the log, each made when its sentence has it."""

    narrator: Narrator
    entry: LogEntry

    def __getitem__(self, name: str) -> str:
        """Return what stands for a name in braces."""
        return WORDS[name](self.narrator, self.entry)


@dataclass(frozen=True)
class Gap:
    """One patient without oxygen long enough to count: when (s), how long, and the cause at the tolerance."""

    patient: int
    start_s: int
    stop_s: int
    cause: Cause


@dataclass(frozen=True)
class Episode:
    """Interruptions that overlap in time."""

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
    """The log of one hospital in dates and sentences."""

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
        return f"patient {number}" + (f" ({self._class[number]})" if number in self._class else "")

    def unit(self, number: int) -> str:
        """Return "concentrator 3", with the name of its model where there are models."""
        units = self.hospital.concentrators
        model = units.group_of(number).model if units is not None and 0 <= number < units.count else ""
        return f"concentrator {number}" + (f" ({model})" if model else "")

    def money(self, cents: int) -> str:
        """Return "USD 1,250.00", in the currency of the costs."""
        currency = self.hospital.costs.currency if self.hospital.costs is not None else ""
        return f"{currency} {cents / 100:,.2f}".strip()

    def ward(self, number: int) -> str:
        """Return "ward north"."""
        wards = self.hospital.wards
        return f"ward {wards[number].name}" if number < len(wards) else f"ward {number}"

    def sentence(self, entry: LogEntry) -> str:
        """Return one entry in words; one whose step has no sentence by the table of steps."""
        if entry.step in SENTENCES:
            return SENTENCES[entry.step].format_map(Words(self, entry))
        meaning, *columns = STEPS.get(entry.step, (entry.step, "item", "other", "value"))
        return f"{meaning} ({entry.item}, {entry.other}, {entry.value})" if any(columns) else meaning

    def line(self, entry: LogEntry) -> str:
        """Return date, time and sentence; steps of the warm-up are marked."""
        mark = "  (warm-up)" if entry.time_s < self.hospital.warm_up_s else ""
        return f"{self.when(entry.time_s)}  {self.sentence(entry)}{mark}"


def gaps(log: Sequence[LogEntry], hospital: Hospital) -> list[Gap]:
    """Return every interruption within the horizon in order, transfers for lack of supply as gaps of no length."""
    found: list[Gap] = []
    open_gaps: dict[int, tuple[int, Cause]] = {}
    ends = "gap ends" if hospital.shortfall.as_before else "no longer short"
    for entry in log:
        inside = entry.time_s >= hospital.warm_up_s
        if entry.step == "interruption" and inside:
            open_gaps[entry.item] = (entry.value, Cause(entry.other))
        elif entry.step == ends and entry.item in open_gaps:
            start_s, cause = open_gaps.pop(entry.item)
            found.append(Gap(entry.item, start_s, entry.time_s, cause))
        elif entry.step == "patient transferred" and inside:
            open_gaps.pop(entry.item, None)  # who is turned away counts at once
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
        stop_s = max(stop_s, gap.stop_s)
    return [Episode(tuple(part)) for part in joined]


def content(hospital: Hospital, log: Sequence[LogEntry]) -> list[str | Points]:
    """Return what led to the worst interruptions: for each episode a heading and its steps."""
    narrator, found = Narrator(hospital, log), episodes(log, hospital)
    if not found:
        return ["Nobody in need went without for longer than the tolerated gap in this replication."]
    longest = sorted(found, key=lambda episode: (-episode.patient_s, episode.start_s))[:MOST_EPISODES]
    left_out = f"The {len(longest)} longest of {len(found)} episodes, in order of time; --full lists every step."
    return [
        *([left_out] if len(longest) < len(found) else []),
        *(
            _steps(f"Episode {number} of {len(found)}", episode, narrator, log)
            for number, episode in enumerate(found, 1)
            if episode in longest
        ),
    ]


def story(hospital: Hospital, log: Sequence[LogEntry], *, full: bool = False) -> list[str]:
    """Return the timeline as lines: what led to the worst interruptions, or every step with full."""
    if full:
        return list(map(Narrator(hospital, log).line, log))
    lines: list[str] = []
    for block in content(hospital, log):
        shown = [block] if isinstance(block, str) else [block.heading, *(f"  {text}" for text in block.texts)]
        lines += ["", *shown] if lines else shown
    return lines


def csv_rows(hospital: Hospital, log: Sequence[LogEntry]) -> Iterator[tuple[str | int, ...]]:
    """Yield one row of CSV_COLUMNS an entry; -1 stands for a number the step does not have."""
    narrator = Narrator(hospital, log)
    for entry in log:
        said = narrator.patient_class(entry), entry.item, entry.other, entry.value, narrator.sentence(entry)
        yield entry.time_s, narrator.when(entry.time_s), entry.step, *said


def _steps(name: str, episode: Episode, narrator: Narrator, log: Sequence[LogEntry]) -> Points:
    """Return the steps that led to an episode and those of the patients concerned, under a heading."""
    people = {gap.patient for gap in episode.gaps}
    causes = sorted({gap.cause.label for gap in episode.gaps})
    longest = max(gap.stop_s - gap.start_s for gap in episode.gaps)
    heading = (
        f"{name}: {narrator.when(episode.start_s)} to {narrator.when(episode.stop_s)}, "
        f"{_count(len(people), 'patient')}, longest {format_duration(longest)} ({', '.join(causes)})"
    )
    began_s = episode.start_s - BEFORE_S
    lines = [narrator.line(entry) for entry in _last_of_each(log, began_s)]
    lines += [
        narrator.line(entry)
        for entry in log
        if began_s <= entry.time_s <= episode.stop_s and (entry.step in FACILITY_STEPS or entry.item in people)
    ]
    rest = len(lines) - MOST_LINES
    more = [f"... and {rest} more steps; --full lists them"] if rest > 0 else []
    return Points((*lines[:MOST_LINES], *more), heading)


def _last_of_each(log: Sequence[LogEntry], time_s: int) -> list[LogEntry]:
    """Return the last order and the last delivery before a time: what the store stood on."""
    before = takewhile(lambda entry: entry.time_s < time_s, log)
    latest = {entry.step: entry for entry in before if entry.step in ("order", "emergency order", "delivery")}
    return sorted(latest.values(), key=lambda entry: entry.time_s)


def _count(count: int, what: str) -> str:
    return f"{count} {what}" + ("s" if count != 1 else "")
