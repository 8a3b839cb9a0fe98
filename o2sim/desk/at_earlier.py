"""What was answered and changed before; undoing a change; forgetting all that is kept of a hospital."""

from __future__ import annotations

from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response

from o2sim.desk.at_buy import lead
from o2sim.desk.at_work import begin
from o2sim.desk.desk import ASKED, WHERE, Desk, can_be_shown, desk_of, form_of, is_old, text_in
from o2sim.desk.folder import Read
from o2sim.desk.history import Answer, Change
from o2sim.desk.stock_card import card_name, hash_there, put_back, text_there
from o2sim.desk.words import say
from o2sim.scenario.changing.safe_file import ChangedMeanwhileError, text_hash

# what an answer was asked with, beside its file
GONE_ON_WITH = ("target", "strategy", "options", "values", "on", "card", "part_used")


async def earlier(request: Request) -> Response:
    """Show the answers and the changes of the file that is chosen, newest first."""
    return await run_in_threadpool(_earlier, request)


def _earlier(request: Request, said: str = "", status: int = 200) -> Response:
    desk = desk_of(request)
    here = desk.read()
    file = "" if here is None else here.file
    answers = [_row(desk, each, here) for each in desk.history.answers(file)]
    changes = [
        {"id": each.id, "when": desk.moment(each.made), "what": each.what, "can_undo": _can_undo(desk, each)}
        for each in (_changes(desk, file) if file else [])
    ]
    broken = desk.broken_off()
    return desk.page("earlier", say("earlier"), "earlier", status, answers=answers, changes=changes, said=said,
                     forget=file, goes_on=say(f"ask_{broken[0]}") if broken is not None else "")  # fmt: skip


def _row(desk: Desk, each: Answer, here: Read | None) -> dict[str, Any]:
    result = each.result
    short = lead(result) if each.asked == "buy" and can_be_shown(each) else result.get("short", "")
    if each.asked == "power" and can_be_shown(each) and result["points"]:
        first, last = (result["points"][end]["value"] for end in (0, -1))
        short = say("power_short", first=first, last=last)
    if result.get("complete") is False and "of" in result:
        stopped = say("stopped_short", done=result["done"], of=result["of"])
        short = f"{short} ({stopped})"
    return {
        "when": desk.moment(each.made),
        "asked": say(f"ask_{each.asked}"),
        "file": each.file,
        "short": short,
        "can_be_shown": can_be_shown(each),
        "path": f"{each.asked}/{each.id}" if each.asked in ("answer", "today") else WHERE[each.asked],
        "is_old": here is not None and is_old(each, here),
        "stopped": result.get("complete") is False,
        "id": each.id,
    }


def _changes(desk: Desk, file: str) -> list[Change]:
    """Return the changes of a file and of its stock card, newest first."""
    found = [*desk.history.changes(file), *desk.history.changes(card_name(file))]
    return sorted(found, key=lambda each: each.id, reverse=True)


def _can_undo(desk: Desk, change: Change) -> bool:
    """Return whether a change was not undone, and what it changed stands as it left it."""
    if change.before is None or change.undone:
        return False
    return change.after_hash == hash_there(desk.folder.path / change.file)


async def undo(request: Request) -> Response:
    """Put back the text from before a change, as a new change."""
    return await run_in_threadpool(_undo, request)


def _undo(request: Request) -> Response:
    desk, wanted = desk_of(request), text_in(form_of(request), "change")
    here = desk.read()
    change = next((each for each in _changes(desk, desk.file()) if str(each.id) == wanted), None)
    if here is None or change is None or change.before is None:
        return desk.to("earlier")
    if not _can_undo(desk, change):
        return _earlier(request, say("cannot_undo"), 409)
    path = desk.folder.path / change.file
    try:
        with desk.lock:
            before = text_there(path)
            put_back(path, change.before, change.after_hash)
    except ChangedMeanwhileError:
        return _earlier(request, say("cannot_undo"), 409)
    desk.history.mark_undone(change.id)
    undone = say("undone", what=change.what)
    desk.history.keep_change(change.file, undone, before, text_hash(change.before))
    return _earlier(request, undone)


async def go_on(request: Request) -> Response:
    """Go on with an answer that was stopped: what is finished is taken from the store."""
    desk, wanted = desk_of(request), text_in(form_of(request), "answer")
    found = await run_in_threadpool(desk.history.answer, int(wanted)) if wanted.isdigit() else None
    here = None if found is None else await run_in_threadpool(desk.folder.read, found.file)
    if found is None or here is None or here.scenario is None:
        return desk.to("earlier")
    desk.choose(here.file)
    more = {key: found.result[key] for key in GONE_ON_WITH if key in found.result}
    given = desk.given(here, (found.result["whose"][0], found.result["whose"][1]), **more)
    return await run_in_threadpool(begin, desk, found.asked, given)


async def forget(request: Request) -> Response:
    """Ask, then forget all that is kept of the file that is chosen."""
    return await run_in_threadpool(_forget, request)


def _forget(request: Request) -> Response:
    desk, form = desk_of(request), form_of(request)
    file = desk.file()
    if not file:
        return desk.to("earlier")
    if text_in(form, "sure") != file:
        return desk.page("forget", say("forget"), "earlier", file=file)
    desk.room.drop(lambda job: bool(job.given["file"] == file))
    if desk.room.at_work is None:
        desk.sent.clear()
    for name in (card_name(file), file):
        desk.history.forget(name)
    desk.history.keep(ASKED, "")
    desk.history.keep("begin", "")
    desk.choose("")
    return _earlier(request, say("forgotten", file=file))
