"""How many cylinders to keep: the answer in short, what lies beside it, and taking it into the scenario."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response

from o2sim.desk.answer_page import answer_page
from o2sim.desk.desk import desk_of, form_of, is_old, text_in
from o2sim.desk.folder import Read
from o2sim.desk.words import say
from o2sim.errors import ScenarioError
from o2sim.scenario.changing.new_text import NewText, change
from o2sim.scenario.changing.safe_file import ChangedMeanwhileError, text_hash, write_safely
from o2sim.scenario.text.desk_comment import desk_note
from o2sim.scenario.types.hospital import Scenario

TARGETS = {"1": "1 %", "5": "5 %", "10": "10 %", "20": "20 %"}  # years in 100: as size is asked
USUAL_TARGET = "10"


async def keep(request: Request) -> Response:
    """Show how many cylinders to keep."""
    return await run_in_threadpool(_keep, request)


def _keep(request: Request, problem: str = "") -> Response:
    here = desk_of(request).read()
    names = [] if here is None or here.scenario is None else sized(here.scenario)
    by_size = here is not None and here.scenario is not None and in_sizes(here.scenario)
    values = {
        "names": names,
        "by_size": by_size,
        "targets": list(TARGETS),
        "usual": USUAL_TARGET,
        "problem": problem,
    }
    return answer_page(request, "keep", 409 if problem else 200, **values)


def sized(scenario: Scenario) -> list[str]:
    """Return the strategies that have cylinders, of one size, which are ordered again."""
    stocks = {name: each.cylinders for name, each in scenario.hospitals.items() if each.resupply}
    return [name for name, stock in stocks.items() if stock is not None and not stock.sizes]


def in_sizes(scenario: Scenario) -> bool:
    """Return True where a strategy has cylinders of several sizes: these are sized one by one, by the command."""
    return any(each.cylinders is not None and each.cylinders.sizes for each in scenario.hospitals.values())


async def take(request: Request) -> Response:
    """Put an answer to how much to keep into the file."""
    return await run_in_threadpool(_take, request)


def _take(request: Request) -> Response:
    desk, wanted = desk_of(request), text_in(form_of(request), "answer")
    here = desk.read()
    found = desk.newest("keep", here)
    if here is None or found is None or str(found.id) != wanted or found.result["text"] is None:
        return desk.to("answer/keep")
    if is_old(found, here):
        return _keep(request, say("keep_not_taken"))
    try:
        new = with_answer(found.result, here, desk_note(desk.today()))
        with desk.lock:
            write_safely(here.path, new.text, here.hash)
    except (ScenarioError, ChangedMeanwhileError):
        return _keep(request, say("keep_not_taken"))
    said = say("keep_taken", fleet=found.result["fleet"], strategy=found.result["strategy"])
    desk.history.keep_change(here.file, said, here.text, text_hash(new.text))
    return desk.to("answer")


def with_answer(result: Mapping[str, Any], here: Read, note: str) -> NewText:
    """Return the file with an answer under its strategy, each figure with a comment that says where it comes from.

    Raises ScenarioError where it would not say what the answer was worked out for.
    """
    years = result["target"].removesuffix(" %")
    values = {f"strategies.{result['strategy']}.{key}": value for key, value in result["to_write"].items()}
    notes = dict.fromkeys(values, say("keep_note", note=note, years=years))
    folder, stem, today = here.path.parent, here.path.stem, here.saved.date()
    try:
        found = change(here.text, values, today, notes=notes, file=here.file, folder=folder, stem=stem)
    except ScenarioError:  # a form in which the comment has no place: as the command writes it
        return change(result["text"], {}, today, file=here.file, folder=folder, stem=stem)
    promised = change(result["text"], {}, today, file=here.file, folder=folder, stem=stem)
    return found if dict(found.scenario.hospitals) == dict(promised.scenario.hospitals) else promised
