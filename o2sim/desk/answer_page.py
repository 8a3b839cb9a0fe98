"""What the pages of all answers have: the newest answer about the file, whose figures it is of, if it holds."""

from __future__ import annotations

from typing import Any

from starlette.requests import Request
from starlette.responses import Response

from o2sim.desk.desk import Desk, desk_of, is_old
from o2sim.desk.folder import Read
from o2sim.desk.forms import whose
from o2sim.desk.history import Answer
from o2sim.desk.same_command import command_for
from o2sim.desk.shown_blocks import blocks_of
from o2sim.desk.words import say


def answer_page(request: Request, name: str, status: int = 200, **values: Any) -> Response:
    """Return one of these pages for the file that is chosen, with its newest answer."""
    desk = desk_of(request)
    here = desk.read()
    if here is None or here.scenario is None:
        return desk.to("")
    found = desk.newest(name, here)
    more = shown(desk, here, found)
    if found is not None:
        options = here.scenario.options is not None
        more["command"] = command_for(name, here.file, found.result, options=options)
    return desk.page(name, say(f"ask_{name}"), "answer", status, scenario=here.scenario, **{**more, **values})


def shown(desk: Desk, here: Read, found: Answer | None) -> dict[str, Any]:
    """Return what a page says of an answer, None for none: itself, when, whose figures, whether it still holds."""
    if found is None:
        return {"found": None, "mine": whose(here.text), "parts": {}, "made": "", "is_old": False}
    result, differs = found.result, is_old(found, here)
    mine = (
        tuple(result["whose"]) if differs else whose(here.text)
    )  # a comment may say since that a figure is theirs
    parts = {name: blocks_of(part) for name, part in result.items() if _is_blocks(part)}
    return {
        "found": result,
        "mine": mine,
        "parts": parts,
        "made": desk.moment(found.made),
        "is_old": differs,
        "id": found.id,
    }


def _is_blocks(part: object) -> bool:
    return isinstance(part, list) and all(isinstance(each, dict) and "kind" in each for each in part)


def is_going(desk: Desk, name: str) -> bool:
    """Return whether a kind of work is being done, in the background too."""
    job = desk.room.newest(name)
    return job is not None and not job.has_ended
