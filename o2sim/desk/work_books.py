"""The work on a workbook that was sent: read, fitted, matched against what was recorded; plain data are kept.

The workbook is removed as soon as it is read, and nothing of its rows goes on. What is found is kept by this
process, so that the server never holds drawings that nobody looks at.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from o2sim.desk import books_kept as kept
from o2sim.desk.engine_child import Progress
from o2sim.desk.history import History
from o2sim.desk.sent_books import remove
from o2sim.desk.shown_blocks import data_of
from o2sim.errors import O2simError

if TYPE_CHECKING:  # the process that serves pages has this module too, and stays without engine and compiler
    from o2sim.questions.fit.fitting import Base, Fit
    from o2sim.questions.fit.values import Value
    from o2sim.questions.hindcast.result import Hindcasted
    from o2sim.records.books import Records
    from o2sim.scenario.types.hospital import Scenario

SEED, REPLICATIONS = 1, 200
COUNTS_DRAWN, MOST_DRAWN = (120, 80, 50, 30, 20), 40_000  # of the stock card, and letters of their drawing
STEPS = 6  # before the recorded time is simulated: read, patients, supply, thoughts, written, drawn


@dataclass(frozen=True)
class Tell:
    """Says how far the work is, and is where it is stopped."""

    progress: Progress
    of: int

    def __call__(self, done: int) -> None:
        """Say that so many steps are done."""
        self.progress(done, self.of)


def books(given: Mapping[str, Any], progress: Progress) -> dict[str, Any]:
    """Return what became of a workbook: its errors, else in a line what it gave, which is kept.

    given: sent, where it lies; path, the file that is chosen, "" for none; base_text in its place; kept, the
    folder of what is kept; file, "" for none; name, what it is or will be called.
    """
    from o2sim.questions.fit.fitting import fitted

    tell = Tell(progress, STEPS + REPLICATIONS)
    records, wrong = _read(given["sent"], tell)
    if records is None:
        return wrong
    base = _base(given, records)
    found = fitted(_parts(records, tell), records, base, SEED)
    tell(5)
    history = History(Path(given["kept"]))
    made = {kept.MAIN: _main(found, given), **_drawn(found, given), kept.DRAWS: _draws(found)}
    tell(STEPS)
    with suppress(KeyboardInterrupt):  # what was fitted is kept; the button says that it was not matched
        made |= _matched(found.scenario, records, tell, whole=True)
    kept.keep_books(history, given["file"], {kept.MATCH: None, kept.MATCH_PAGE: None, **made})
    return {**wrong, "short": made[kept.MAIN]["short"], "scenario_hash": base.hash}


def match(given: Mapping[str, Any], progress: Progress) -> dict[str, Any]:
    """Return what became of a workbook that the chosen file is laid against; what was found is kept."""
    from o2sim.scenario import load

    tell = Tell(progress, STEPS + REPLICATIONS)
    records, wrong = _read(given["sent"], tell)
    if records is None:
        return wrong
    scenario = load(given["path"])
    made = _matched(scenario, records, tell, whole=False)
    kept.keep_books(History(Path(given["kept"])), given["file"], made)
    return {**wrong, "short": made[kept.MATCH]["said"][0], "scenario_hash": scenario.hash}


def _read(sent: str, tell: Tell) -> tuple[Records | None, dict[str, Any]]:
    """Return the records, None where something is wrong, and what is found; the workbook is removed."""
    from o2sim.records.findings import RecordsError
    from o2sim.records.reading import survey

    try:
        tell(0)
        found = survey(sent)
        records, errors, cautions = found.records, found.errors, found.cautions
    except RecordsError as error:
        records, errors, cautions = None, error.errors, error.cautions
    finally:
        remove(sent)
    said = [[_finding(each) for each in part] for part in (errors, cautions)]
    tell(1)
    return records, {"complete": True, "errors": said[0], "cautions": said[1]}


def _finding(each: Any) -> dict[str, str]:
    return {name: getattr(each, name) for name in ("sheet", "cell", "column", "found", "allowed", "write")}


def _parts(records: Records, tell: Tell) -> list[Any]:
    from o2sim.questions.fit.fitting import parts_in_turn

    found: list[Any] = []
    for step, parts in enumerate(parts_in_turn(records, SEED), 2):
        found += parts
        tell(step)
    return found


def _base(given: Mapping[str, Any], records: Records) -> Base:
    """Return what the fit is written over: the chosen file, what was typed for a new one, else o2sim's own."""
    from o2sim.questions.fit.base import OWN
    from o2sim.questions.fit.fitting import Base, base_of, own
    from o2sim.scenario.changing.override import original_of

    if given["path"]:
        return base_of(given["path"])
    if given["base_text"]:
        source = original_of(given["base_text"], OWN)
        return Base(source.scenario.name, "", source.scenario.hash, source)
    return own(records)


# --- what was fitted ---------------------------------------------------------------------------------------------


def _main(found: Fit, given: Mapping[str, Any]) -> dict[str, Any]:
    """Return the figures, in groups of what was fitted at once, which go into a file together."""
    from o2sim.questions.fit.content import provenance, rest_table, unused_points

    groups = list(_groups(found))
    keys = sum(len(each["values"]) for each in groups)
    sheets = dict.fromkeys(each["sheet"] for each in groups)
    return {
        "short": f"{keys} figures from {', '.join(sheets)}" if groups else "No book gives a figure.",
        "groups": groups,
        "cautions": list(found.cautions),
        "doubts": list(found.doubts),
        "unused": data_of([unused_points(found)] if found.unused else []),
        "rest": data_of([rest_table(found)] if found.not_given else []),
        "draws": len(found.table),
        "file": found.base.file and given["file"],
        "base": found.base.name,
        "base_text": "" if given["path"] else found.base.source.text,
        "line": provenance(found),
    }


def _groups(found: Fit) -> Iterator[dict[str, Any]]:
    """Yield what each part gave, by its place among the parts: it stays the same on all pages."""
    from o2sim.questions.fit.choosing import TIER_WORDS
    from o2sim.questions.fit.content import from_said
    from o2sim.questions.fit.head import begun

    for number, part in enumerate(found.parts):
        values = [each for each in found.values if each.part is part]
        if values:
            yield {
                "number": number,
                "name": begun(part.name),
                "sheet": part.sheet,
                "by": TIER_WORDS[part.tier],
                "from": from_said(values[0]),
                "pictures": len(part.panels),
                "values": [_value(each) for each in values],
                "levels": _levels(found, values),
            }


def _value(value: Value) -> dict[str, Any]:
    """Return a figure: where it goes, as text, what its comment says, and what it says in words."""
    from o2sim.questions.fit.choosing import field_of
    from o2sim.questions.fit.content import value_said
    from o2sim.questions.fit.writing import note_of

    question, said = _as_asked(value)
    field = field_of(value.path)
    return {
        "path": list(value.path),
        "key": value.key,
        "text": value.text,
        "note": note_of(value).removeprefix("records, "),
        "question": question,
        "said": said or value_said(value),
        "help": "" if field is None else field.help,
    }


def _as_asked(value: Value) -> tuple[str, str]:
    """Return the question of the twelve that a figure answers, "" for none, and the figure in its unit."""
    from o2sim.scenario.keys.answers import figure_of, say
    from o2sim.scenario.keys.questions import asked_as

    question = asked_as(value.key)
    if (
        question is None
        or value.whole is not None
        or len(value.numbers) != 1
        or value.numbers[0].path != value.path
    ):
        return "" if question is None else question.name, ""
    one = value.numbers[0]
    ends = [figure_of(question, f"{each:.10g} {one.unit}".strip()) for each in (one.likely, one.low, one.high)]
    known = [f"{each:.3g}" if abs(each) < 1000 else say(each) for each in ends if each is not None]
    if len(known) < len(ends):
        return question.name, ""
    spread = known[0] if known[1] == known[2] else f"{known[0]} ({known[1]}–{known[2]})"
    return question.name, f"{spread} {question.unit}"


def _levels(found: Fit, values: list[Value]) -> list[dict[str, Any]]:
    """Return the levels of the base that moved with a fleet, which go into a file with it."""
    from o2sim.questions.fit.levels import NOTE, scaled_levels
    from o2sim.scenario.changing.override import value_node
    from o2sim.scenario.changing.splice import flow
    from o2sim.scenario.text import nodes
    from o2sim.scenario.text.problems import Problems
    from o2sim.scenario.text.source import BYTE_ORDER_MARK

    raw = found.base.source.raw or found.base.source.root
    now = nodes.parse(found.text.removeprefix(BYTE_ORDER_MARK), Problems(""))
    made = []
    for path, text in scaled_levels(raw, values):
        stands = nodes.find(now, path)
        if stands is None or flow(stands) == flow(value_node(text, path[-1], "")):
            made.append({"path": list(path), "key": ".".join(path), "text": text, "note": NOTE})
    return made


def _drawn(found: Fit, given: Mapping[str, Any]) -> dict[str, Any]:
    """Return the drawings of each part as on the page of the command, and that page."""
    from o2sim.questions.fit.charts import picture
    from o2sim.questions.fit.page import page, part_said

    drawings = {
        str(number): {
            "said": part_said(part),
            "pictures": data_of(
                [picture(panel, f"fit-{number}-{place}", "") for place, panel in enumerate(part.panels)]
            ),
        }
        for number, part in enumerate(found.parts)
        if part.panels and any(each.part is part for each in found.values)
    }
    return {kept.PICTURES: drawings, kept.PAGE: page(found, given["name"])}


def _draws(found: Fit) -> dict[str, Any]:
    """Return the table of joint draws, and of each column the key that it is of."""
    keys = {head: value.key for value in found.values for head in value.columns}
    heads = list(found.table.columns)
    return {
        "heads": heads,
        "keys": [keys[head] for head in heads],
        "rows": [list(row) for row in found.table.rows],
    }


# --- does it match -----------------------------------------------------------------------------------------------


def _matched(scenario: Scenario, records: Records, tell: Tell, *, whole: bool) -> dict[str, Any]:
    """Return how a scenario matches what was recorded; whole: it is the file with all that the books gave."""
    from o2sim.questions.hindcast.hindcast import hindcast
    from o2sim.questions.hindcast.settings import HindcastSettings
    from o2sim.questions.hindcast.stays import UnfitRecordsError

    asked = HindcastSettings(replications=REPLICATIONS, seed=SEED)
    try:
        found = hindcast(scenario, records, settings=asked, progress=lambda done: tell(STEPS + done)).record
    except (UnfitRecordsError, O2simError) as error:
        return {kept.MATCH: {"whole": whole, "said": [str(error)], "is_none": True}, kept.MATCH_PAGE: None}
    return {kept.MATCH: _match(found, whole), kept.MATCH_PAGE: _match_page(found)}


def _match(found: Hindcasted, whole: bool) -> dict[str, Any]:
    from o2sim.questions.hindcast.text import content, line, small_print

    return {
        "whole": whole,
        "is_none": False,
        "said": list(found.verdict),
        "pictures": _light(found),
        "figures": data_of(content(found)),
        "limits": data_of([small_print(found)]),
        "line": line(found),
    }


def _light(found: Hindcasted) -> list[dict[str, Any]]:
    """Return the drawings, of the stock card no more of the last counts than a light page has room for."""
    from o2sim.looks.drawing import NARROW_IN
    from o2sim.questions.hindcast.charts import pictures

    for most in COUNTS_DRAWN:
        made = data_of(pictures(replace(found, stock=found.stock[-most:]), NARROW_IN))
        if len(made[0]["svg"]) <= MOST_DRAWN:
            break
    if found.stock and most < len(found.stock):
        made[0]["note"] += f" Shown are the last {most} counts."
    return made


def _match_page(found: Hindcasted) -> str:
    from o2sim.looks.drawing import NARROW_IN
    from o2sim.looks.html import report_page
    from o2sim.questions.hindcast.charts import pictures
    from o2sim.questions.hindcast.folder import FOOTER
    from o2sim.questions.hindcast.text import parts, title

    footer = f"Written by o2sim {found.ran.version}. {FOOTER}"
    return report_page(title(found), parts(found, pictures(found, NARROW_IN)), footer)
