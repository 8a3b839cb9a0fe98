"""Today: what was counted, what it leads to, the sheet to hang up, and the stock card."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData
from starlette.requests import Request
from starlette.responses import Response

from o2sim.desk import stock_card
from o2sim.desk.answer_page import shown
from o2sim.desk.at_sheets import page_of_its_own
from o2sim.desk.at_work import begin
from o2sim.desk.desk import Desk, can_be_shown, desk_of, form_of, text_in
from o2sim.desk.folder import Read
from o2sim.desk.forms import whose
from o2sim.desk.history import Answer
from o2sim.desk.same_command import command_for
from o2sim.desk.today_answer import assumed, day_words, figures, missing
from o2sim.desk.today_count import Problem, count_of, problems_of, strategy_of
from o2sim.desk.today_drafts import LONGEST, keep_typed, moment, typed_today, why_none
from o2sim.desk.today_fields import GAUGE, PART_USED, STRATEGY, fields_of, parts
from o2sim.desk.words import say
from o2sim.errors import O2simError
from o2sim.scenario.changing.safe_file import ChangedMeanwhileError, text_hash
from o2sim.scenario.types.hospital import Scenario

ASKED = "today"


async def today(request: Request) -> Response:
    """Show the form of today's count, and what came of the last one; or an earlier answer by its number."""
    return await run_in_threadpool(_today, request)


def _today(
    request: Request, problems: tuple[Problem, ...] = (), typed: Mapping[str, str] | None = None, said: str = ""
) -> Response:
    desk = desk_of(request)
    number = request.path_params.get("number")
    if number is not None:
        return _earlier(desk, int(number))
    here = desk.read()
    if here is None or here.scenario is None or why_none(here.scenario):
        why = say("today_no_file") if here is None or here.scenario is None else why_none(here.scenario)
        return _page(desk, 200, why=why, has_file=here is not None and here.scenario is not None)
    typed = typed_today(desk, here.file) if typed is None else typed
    found = desk.newest(ASKED, here)
    is_todays = found is not None and found.result["on"] == desk.today().isoformat()
    last = "" if found is None or is_todays else _last(found)
    values = {
        "form": parts(here.scenario),
        "typed": {STRATEGY: strategy_of(here.scenario, typed), **typed},
        "wrong": {name: each for name, _, each in problems},
        "problems": problems,
        "last": last,
        "said": said,
        **_card(desk, here, found if is_todays else None),
        **_found(desk, here, found if is_todays else None),
    }
    return _page(desk, 422 if problems else 409 if said else 200, **values)


def _page(desk: Desk, status: int, day: str = "", **values: Any) -> Response:
    heading = say("today_of_day", day=day) if day else say("today_heading", day=day_words(desk.today()))
    usual: dict[str, Any] = {
        "card": None,
        "why": "",
        "form": [],
        "found": None,
        "problems": (),
        "said": "",
        "last": "",
        "other_day": day,
    }
    return desk.page("today", heading, "today", status, **{**usual, "heading": heading, **values})


def _last(found: Answer) -> str:
    day = dt.date.fromisoformat(found.result["on"])
    return say("today_earlier_day", day=day_words(day), short=found.result["short"])


def _found(desk: Desk, here: Read, found: Answer | None) -> dict[str, Any]:
    """Return what the page says of an answer."""
    values = shown(desk, here, found)
    if found is None:
        return {**values, "blocks": values.pop("parts")}
    result = found.result
    likely = [say("at_likely_said")] if here.scenario is not None and here.scenario.uncertain else []
    command = command_for(ASKED, here.file, result, options=False)
    return {
        **values,
        "blocks": values.pop("parts"),
        "figures": figures(result["figures"]),
        "doubts": [*missing(result), *result["unknown"], *assumed(result), *likely],
        "command": command,
    }


def _earlier(desk: Desk, number: int) -> Response:
    """Show what an earlier count led to; where it is the newest of today, the page of today."""
    found = desk.history.answer(number)
    here = None if found is None else desk.folder.read(found.file)
    if found is None or here is None or here.scenario is None or found.asked != ASKED or not can_be_shown(found):
        return desk.to("earlier")
    desk.choose(found.file)
    day = day_words(dt.date.fromisoformat(found.result["on"]))
    return _page(desk, 200, day=day, card=None, **_found(desk, here, found))


# --- the count ---------------------------------------------------------------------------------------------------


async def work_out(request: Request) -> Response:
    """Take the count and work out what it leads to."""
    return await run_in_threadpool(_work_out, request)


def _work_out(request: Request) -> Response:
    desk, form = desk_of(request), form_of(request)
    here = desk.read()
    if here is None or here.scenario is None or why_none(here.scenario):
        return desk.to("today")
    typed = _typed(here.scenario, form)
    keep_typed(desk, here.file, typed)
    now = moment(desk)
    problems = problems_of(here.scenario, typed, now)
    if problems:
        return _today(request, tuple(problems), typed)
    asked = {
        "values": dict(count_of(here.scenario, typed, now).values),
        "strategy": strategy_of(here.scenario, typed),
        "on": desk.today().isoformat(),
        "card": str(card_of(desk, here.file)),
        "part_used": [typed.get(PART_USED, ""), typed.get(GAUGE, "")],
    }
    return begin(desk, ASKED, desk.given(here, whose(here.text), **asked))


def _typed(scenario: Scenario, form: FormData) -> dict[str, str]:
    return {name: text_in(form, name).strip()[:LONGEST] for name in fields_of(parts(scenario))}


# --- the sheet, and the stock card -------------------------------------------------------------------------------


async def sheet(request: Request) -> Response:
    """Return the sheet “Oxygen today” of the newest count, as the command writes it."""
    return await run_in_threadpool(_sheet, request)


def _sheet(request: Request) -> Response:
    desk = desk_of(request)
    found = desk.newest(ASKED, desk.read())
    return desk.to("today") if found is None else page_of_its_own(found.result["sheet"])


def card_of(desk: Desk, file: str) -> Path:
    """Return where the stock card of a file lies."""
    return desk.folder.path / stock_card.card_name(file)


def _card(desk: Desk, here: Read, found: Answer | None) -> dict[str, Any]:
    """Return what the page says of the stock card."""
    path = card_of(desk, here.file)
    try:
        lines = stock_card.lines_there(path)
    except O2simError:  # said when it is to be written
        lines = []
    rows, wrong = stock_card.rows(lines)
    change = next(iter(desk.history.changes(path.name)), None)
    stands = found is not None and found.result["card_line"] in lines
    can_undo = change is not None and not change.undone and change.after_hash == stock_card.hash_there(path)
    card = {
        "name": path.name,
        "rows": rows[: stock_card.SHOWN],
        "more": max(0, len(rows) - stock_card.SHOWN),
        "wrong": wrong,
        "stands": stands,
        "undo": change.id if stands and can_undo and change is not None else 0,
    }
    return {"card": card}


async def write_card(request: Request) -> Response:
    """Write the newest count, with its forecast, into the stock card."""
    return await run_in_threadpool(_write_card, request)


def _write_card(request: Request) -> Response:
    desk, wanted = desk_of(request), text_in(form_of(request), "answer")
    here = desk.read()
    found = desk.newest(ASKED, here)
    if here is None or found is None or str(found.id) != wanted:
        return desk.to("today")
    path = card_of(desk, here.file)
    try:
        with desk.lock:
            before, after, replaced = stock_card.put(path, found.result["card_line"])
    except ChangedMeanwhileError:
        return _today(request, said=say("card_changed", name=path.name))
    except O2simError as error:
        return _today(request, said=str(error))
    when = found.result["counted"].replace("T", " ")
    what = say("card_replaced", when=when) if replaced else say("card_put", when=when)
    if before != after:
        desk.history.keep_change(path.name, what, before, text_hash(after))
    return desk.to("today#card")
