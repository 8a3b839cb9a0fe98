"""The answer, and what lies under it: what would change it, worse power, what to buy, how much to keep."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response

from o2sim.desk.answer_page import answer_page, is_going, shown
from o2sim.desk.at_keep import TARGETS, sized
from o2sim.desk.at_work import AGAIN_S, begin
from o2sim.desk.desk import Desk, can_be_shown, desk_of, form_of, text_in
from o2sim.desk.folder import Read
from o2sim.desk.forms import whose
from o2sim.desk.own_steps import purchases
from o2sim.desk.same_command import command_for
from o2sim.desk.words import say
from o2sim.looks import cautions
from o2sim.looks.words import number

# --- the answer --------------------------------------------------------------------------------------------------


async def answer(request: Request) -> Response:
    """Show the newest answer, or an earlier one by its number."""
    return await run_in_threadpool(_answer, request)


def _answer(request: Request) -> Response:
    desk = desk_of(request)
    number = request.path_params.get("number")
    if number is None:
        here = desk.read()
        return answer_page(request, "answer", long=cautions.LONG, report_ready=has_report(desk, here))
    found = desk.history.answer(number)
    here = None if found is None else desk.folder.read(found.file)
    if (
        found is None
        or here is None
        or here.scenario is None
        or found.asked != "answer"
        or not can_be_shown(found)
    ):
        return desk.to("earlier")
    desk.choose(found.file)
    command = command_for("answer", here.file, found.result, options=False)
    return desk.page("answer", say("answer"), "answer", scenario=here.scenario, command=command,
                     long=cautions.LONG, report_ready=False, **shown(desk, here, found))  # fmt: skip


def has_report(desk: Desk, here: Read | None) -> bool:
    """Return whether the report of a file, as it is now, was made."""
    job = desk.room.newest("report")
    return here is not None and job is not None and job.found is not None and job.given["text_hash"] == here.hash


async def work_out(request: Request) -> Response:
    """Work out one of these: the kind is in the address, what it is asked with in the form."""
    return await run_in_threadpool(_work_out, request, str(request.path_params["name"]))


def _work_out(request: Request, name: str) -> Response:
    desk, form = desk_of(request), form_of(request)
    here = desk.read()
    if here is None or here.scenario is None:
        return desk.to("")
    more: dict[str, Any] = {}
    if name == "keep":
        target, strategy = text_in(form, "target"), text_in(form, "strategy")
        if target not in TARGETS or strategy not in sized(here.scenario):
            return desk.to("answer/keep")
        more = {"target": TARGETS[target], "strategy": strategy}
    elif name == "buy":
        strategy = text_in(form, "strategy")
        steps = purchases(here.scenario, strategy)
        if here.scenario.options is None and not steps:
            return desk.to("answer/buy")
        more = {"strategy": strategy, "options": steps}
    return begin(desk, name, desk.given(here, whose(here.text), **more))


# --- what lies under it ------------------------------------------------------------------------------------------


async def matters(request: Request) -> Response:
    """Show what would change the answer."""
    return await run_in_threadpool(_matters, request)


def _matters(request: Request) -> Response:
    desk = desk_of(request)
    going = is_going(desk, "matters")
    found = desk.newest("matters", desk.read())
    rows = [] if found is None else [_unknown(row, found.result["choice"]) for row in found.result["rows"]]
    any_turn = found is not None and any(row["turn"] for row in found.result["rows"])
    return answer_page(
        request, "matters", rows=rows, any_turn=any_turn, going=going, again_s=AGAIN_S if going else 0
    )


def _unknown(row: Mapping[str, Any], choice: str) -> dict[str, str]:
    """Return a row of what to find out, in words."""
    turn, low, high = row["turn"], *(number(round(100 * row[end], 1)) for end in ("at_low", "at_high"))
    best = say("matters_same", name=choice)
    if turn is not None:
        best = say("matters_turn", name=turn["name"], begins=turn["begins"], tried=", ".join(turn["tried"]))
    return {
        "what": row["what"],
        "tried": say("matters_between", low=_once(row["low"], row["high"]), high=row["high"]),
        "ends": say("matters_ends", low=low, high=high, luck="" if row["beyond_luck"] else say("matters_luck")),
        "best": best,
        "known_by": row["known_by"],
        "link": "hospital/{}#{}".format(*row["question"]) if row["question"] else "",
    }


def _once(low: str, high: str) -> str:
    """Return the low end without its unit where the high end has the same."""
    number, _, unit = low.partition(" ")
    other = high.partition(" ")[2]
    return number if unit in (other, other.removesuffix("s")) else low


async def power(request: Request) -> Response:
    """Show what longer cuts would do; it is worked out in the background after each answer."""
    return await run_in_threadpool(_power, request)


def _power(request: Request) -> Response:
    desk = desk_of(request)
    going = is_going(desk, "power")
    here = desk.read()
    found = desk.newest("power", here)
    rows = [] if found is None else power_rows(found.result)
    return answer_page(request, "power", rows=rows, going=going, again_s=AGAIN_S if going else 0)


def power_rows(result: Mapping[str, Any]) -> list[dict[str, Any]]:
    """Return the rows of the table: the length of a cut, and for each strategy chance with interval, and hours."""
    found = []
    for point in result["points"]:
        cells = []
        for name in result["strategies"]:
            measures = point["strategies"][name]
            chance, hours = measures["stock_out_probability"], measures["unserved_hours_for_want_of_supply"]
            low, middle, high = (round(100 * (chance[key] or 0)) for key in ("low", "estimate", "high"))
            cells.append(
                {
                    "name": name,
                    "chance": say("power_cell", chance=middle, low=low, high=high),
                    "hours": say("power_hours", hours=f"{hours['mean']:,.0f}"),
                }
            )
        found.append({"value": point["value"], "cells": cells, "in_file": point["in_file"]})
    return found
