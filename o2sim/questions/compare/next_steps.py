"""What to do next, in words: by the causes that weigh most, and with the answer of a sizing."""

from __future__ import annotations

import shlex
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from o2sim.looks.assumptions import STATED, Assumption
from o2sim.looks.blocks import mean_of
from o2sim.looks.words import Summary, joined, number, percent, quoted
from o2sim.money.to_buy import things, unpriced
from o2sim.outcome import Cause
from o2sim.questions.compare import costing_text, money_cures
from o2sim.scenario.changing.splice import Block
from o2sim.scenario.types.hospital import Hospital
from o2sim.statistics.sequential import least_replications

WORTH_TELLING_H = 1.0  # patient-hours a year
ROWS_TO_SIZE = least_replications(0.05, 0.95)  # of draws, for the target that `o2sim size` has unless it is stated
MOST_CAUSES = 3
CURES: dict[Cause, str] = {  # common practice
    Cause.NO_CYLINDER: "a larger fleet, an earlier reorder point or a second way in when the road closes",
    Cause.NO_POWER: "a battery, a generator, or cylinders behind the concentrators",
    Cause.CONCENTRATOR_DOWN: "a spare unit, spare parts and quicker repair, or cylinders behind the concentrators",
    Cause.CONCENTRATORS_FULL: "another unit, or cylinders behind the concentrators",
    Cause.FLOW_TOO_HIGH: "cylinders for those who need a high flow, or two units for one patient where their "
    "makers allow it",
    Cause.CHANGEOVER: "a second cylinder with its regulator ready beside the patient",
    Cause.RAN_EMPTY_UNSEEN: "looking at the gauges more often, or changing at a higher pressure",
    Cause.NO_REGULATOR: "regulator sets that fit, or flow splitters; more gas does not help",
    Cause.WAITING_FOR_STAFF: "more staff, above all at night, to connect and change cylinders",
    Cause.NO_DELIVERY_SET: "humidifiers and delivery sets; more gas does not help",
    Cause.OUTLETS_FULL: "more outlets, or cylinders at the bedside",
    Cause.NO_FUNDS: "a larger allotment, or the same money sooner; more cylinders do not help",
}

WORTH_TELLING_SHARE = 0.1  # of all unserved hours of the strategy
REMEDIES = {
    Cause.NO_REGULATOR: (
        "a regulator that fits",
        "regulator sets with the right flowmeter and valve, or flow splitters, would cure them; more gas "
        "would not",
    ),
    Cause.NO_DELIVERY_SET: (
        "a humidifier or a delivery set",
        "more of those would cure them; more cylinders or concentrators would not",
    ),
}


def to_confirm(assumed: Iterable[Assumption]) -> list[str]:
    """Return that values without a source are to be confirmed; nothing where each has one."""
    unsourced = sum(row.origin == STATED for row in assumed)
    if not unsourced:
        return []
    values = f"{unsourced} values" if unsourced > 1 else "1 value"
    return [
        f"{values} of the scenario stand without a source (“{STATED}” in the list at the end): somebody who "
        "knows the place should confirm each, admissions, flows, lead times and power first."
    ]


def to_ask(hospital: Hospital) -> list[str]:
    """Return whom to ask for figures that only they have: the supplier, the workshop."""
    asked = []
    if hospital.cylinders is not None:
        asked.append("the supplier for the lead time of the last ten orders")
    if hospital.concentrators is not None:
        asked.append("the workshop for its repair times")
    return [f"Ask {', and '.join(asked)}."] if asked else []


def on_screen(
    summary: Summary, strategy: str, hospital: Hospital, file: str, *, brief: bool = False, written: bool = False
) -> list[str]:
    """Return what to do next with the leading strategy: its heaviest causes with their cures, then commands.

    brief: only the heaviest cause, and where all figures stand. written: a folder has them already, so that it is
    not proposed again. Over joint draws only what takes them is named.
    """
    drawn = summary.get("draws")
    over = "" if drawn is None else f" --draws {shlex.quote(drawn['file'])}"
    path, name = shlex.quote(file), shlex.quote(strategy)
    found = [*in_yard(hospital), *causes(summary, strategy, hospital)[: 1 if brief else MOST_CAUSES]]
    if hospital.cylinders is not None and hospital.resupply is not None and (drawn is None or _can_size(drawn)):
        first = hospital.cylinders.each[hospital.cylinders.places_for("bedside")[0]].name
        what, of = (f"{first} cylinders", f" --of {shlex.quote(first)}") if first else ("cylinders", "")
        found.append(f"How many {what} are enough: o2sim size {path} --strategy {name}{of}{over}")
    if not brief and drawn is None:
        found.append(f"What went wrong in the worst run: o2sim trace {path} --strategy {name} --worst")
    if drawn is None:
        found.append(f"A page to print and to hand on: o2sim report {path}")
    if brief:
        folder = "" if written else ", or with --out FOLDER"
        found.append(f"All figures, {_not_in_cost(summary, hospital)}: the same with --full{folder}")
    return found


def _can_size(drawn: Mapping[str, Any]) -> bool:
    """Return True where `o2sim size` takes these draws: enough rows for its target, none of them of the fleet."""
    held = any(f"{path}.".startswith("cylinders.fleet.") for path in drawn["columns"])
    return drawn["rows"] >= ROWS_TO_SIZE and not held


def _not_in_cost(summary: Summary, hospital: Hospital) -> str:
    """Return what stands beside all figures: cautions, and where the cost leaves something out, that it does."""
    if hospital.costs is None or not costing_text.is_short_of_some(summary):
        return "all cautions"
    lines = len(unpriced(hospital))
    return f"cautions, {lines} lines without a price" if lines else "cautions, what no cost counts"


def in_yard(hospital: Hospital) -> list[str]:
    """Return what is there already as the first step; nothing where nothing is."""
    mine = [each for each in things(hospital) if each.stock.there]
    kept = [f"{each.item} {len(each.stock.kept):,}" for each in mine if each.stock.kept]
    due = [f"{each.item} {each.stock.due:,}" for each in mine if each.stock.due]
    said = [f"Already in the yard, nothing to buy: {joined(kept)}."] if kept else []
    return said + (
        [f"In the yard, but past their life, so to be bought again at once: {joined(due)}."] if due else []
    )


@dataclass(frozen=True)
class Answer:
    """How the answer of a sizing gets into a scenario: by hand, or by the same command once more.

    Commands are ready for the shell.
    """

    file: str
    blocks: Sequence[Block]  # lines of the file that change
    of_strategy: bool  # False where the file lists none, so that sections change that all share
    again: str  # the command, without what it wrote
    copy: str  # file with the answer in it
    written: bool  # whether it is there already
    sheets: str = ""  # folder for sheets to print, empty where there are none to offer


def after_sizing(result: Summary, answer: Answer) -> list[str]:
    """Return what to do with the answer of a sizing: write all of it down, try it, hang it up.

    What follows the first line of a step is to be copied as it stands.
    """
    name, copy = f"“{result['strategy']}”", shlex.quote(answer.copy)
    where = f"under the strategy {name}" if answer.of_strategy else "in the sections that all strategies share"
    also = ", levels that moved with the fleet included" if result["levels_moved"] else ""
    seed = "" if result["seed"] == 1 else f" --seed {result['seed']}"
    drawn = result.get("draws")
    over = "" if drawn is None else f" --draws {shlex.quote(drawn['file'])}"
    compare = f"o2sim compare {copy}{seed}{over} --supply-alone"
    shows = "what it costs beside the others, and what it gives with supply alone and with handling"
    if answer.written:
        found = [f"{answer.copy} has the whole answer {where}{also}. To see {shows}:\n{compare}"]
    else:
        found = [
            f"Write the whole answer into {answer.file} {where}{also}:\n{_pasted(answer.blocks)}",
            f"Or have a copy written with all of it, and see {shows}:\n{answer.again} --write {copy}\n{compare}",
        ]
    if answer.sheets:
        found.append(
            "A count sheet, a page for the night and a reorder card to print:\n"
            f"{answer.again} --sheets {shlex.quote(answer.sheets)}"
        )
    return found


def _pasted(blocks: Sequence[Block]) -> str:
    """Return lines to paste, each lot below a comment that says where they go."""
    lines = []
    for each in blocks:
        place = f"in place of line{f's {each.first} to' if each.last > each.first else ''} {each.last}"
        lines += [f"# {f'after line {each.last}' if each.last < each.first else place}:", *each.lines]
    return "\n".join(lines)


def causes(summary: Summary, name: str, hospital: Hospital | None = None) -> list[str]:
    """Return the heaviest causes of what goes unserved under a strategy, each with what would help.

    hospital: under the strategy, so that advice about money follows how it is paid.
    """
    item = summary["strategies"][name]
    hours = {cause: mean_of(item["unserved_hours_by_cause"].get(cause.label)) for cause in CURES}
    total = sum(hours.values())
    heaviest = sorted(hours, key=lambda cause: -hours[cause])[:MOST_CAUSES]
    return [
        f"Under “{name}”, {cause.label} is {percent(hours[cause] / total)} of what goes unserved "
        f"({number(hours[cause])} patient-hours a year): "
        f"{_would_help(money_cures.cure(cause, CURES[cause], hospital))}."
        for cause in heaviest
        if hours[cause] >= WORTH_TELLING_H and hours[cause] >= 0.05 * total
    ]


def _would_help(cure: str) -> str:
    """Return that a cure would help, and behind it what would not."""
    helps, _, rest = cure.partition("; ")
    return f"{helps} would help{f'; {rest}' if rest else ''}"


def remedies(summary: Summary, names: Sequence[str]) -> str:
    """Return what would cure the hours lost for lack of equipment; an empty text where they are few."""
    return "".join(
        f" For lack of {missing}, {joined(lost)} are lost: {cure}."
        for cause, (missing, cure) in REMEDIES.items()
        if (lost := [said for name in names for said in _lost(summary, name, cause)])
    )


def _lost(summary: Summary, name: str, cause: Cause) -> Iterator[str]:
    item = summary["strategies"][name]
    hours = mean_of(item["unserved_hours_by_cause"].get(cause.label))
    if hours >= max(WORTH_TELLING_H, WORTH_TELLING_SHARE * mean_of(item["unserved_patient_hours"])):
        yield f"{number(hours)} patient-hours a year under {quoted([name])}"
