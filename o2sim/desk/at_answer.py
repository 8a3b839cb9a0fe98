"""The answer, and what lies under it: what would change it, worse power, what to buy, how much to keep."""

from __future__ import annotations

import re
import shlex
from collections.abc import Mapping
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response

from o2sim.desk import work
from o2sim.desk.at_work import AGAIN_S, begin
from o2sim.desk.desk import Desk, can_be_shown, desk_of, form_of, text_in
from o2sim.desk.folder import Read
from o2sim.desk.forms import whose
from o2sim.desk.history import Answer
from o2sim.desk.shown_blocks import blocks_of
from o2sim.desk.words import say
from o2sim.errors import ScenarioError
from o2sim.looks import cautions
from o2sim.scenario import loads
from o2sim.scenario.changing.safe_file import ChangedMeanwhileError, text_hash, write_safely
from o2sim.scenario.types.hospital import Scenario

MONEY = re.compile(r"\d{1,12}|\d{1,3}(?:[ ,]\d{3}){1,4}")
TARGETS = {"1": "1 %", "5": "5 %", "10": "10 %", "20": "20 %"}  # years in 100: as size is asked
USUAL_TARGET = "10"
NOT_PRICED = "-"


def _page(request: Request, name: str, status: int = 200, **values: Any) -> Response:
    """Return one of these pages for the file that is chosen, with its newest answer."""
    desk = desk_of(request)
    here = desk.read()
    if here is None or here.scenario is None:
        return desk.to("")
    found = desk.newest(name, here)
    more = _shown(desk, here, found)
    return desk.page(name, say(f"ask_{name}"), "answer", status, scenario=here.scenario, **{**more, **values})


def _shown(desk: Desk, here: Read, found: Answer | None) -> dict[str, Any]:
    """Return what a page says of an answer, None for none: itself, when, whose figures, whether it still holds."""
    if found is None:
        return {"found": None, "mine": whose(here.text), "parts": {}, "made": "", "is_old": False}
    result = found.result
    parts = {name: blocks_of(part) for name, part in result.items() if _is_blocks(part)}
    return {
        "found": result,
        "mine": tuple(result["whose"]),
        "parts": parts,
        "made": desk.moment(found.made),
        "is_old": found.text_hash != here.hash,
        "id": found.id,
    }


def _is_blocks(part: object) -> bool:
    return isinstance(part, list) and all(isinstance(each, dict) and "kind" in each for each in part)


# --- the answer --------------------------------------------------------------------------------------------------


async def answer(request: Request) -> Response:
    """Show the newest answer, or an earlier one by its number."""
    return await run_in_threadpool(_answer, request)


def _answer(request: Request) -> Response:
    desk = desk_of(request)
    number = request.path_params.get("number")
    if number is None:
        here = desk.read()
        command = "" if here is None else _command(here.file)
        return _page(request, "answer", command=command, long=cautions.LONG, report_ready=has_report(desk, here))
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
    shown = _shown(desk, here, found)
    return desk.page("answer", say("answer"), "answer", scenario=here.scenario, command=_command(here.file),
                     long=cautions.LONG, report_ready=False, **shown)  # fmt: skip


def has_report(desk: Desk, here: Read | None) -> bool:
    """Return whether the report of a file, as it is now, was made."""
    job = desk.room.newest("report")
    return here is not None and job is not None and job.found is not None and job.given["text_hash"] == here.hash


def _command(file: str) -> str:
    return f"o2sim compare {shlex.quote(file)} --replications {work.REPLICATIONS} --seed {work.SEED}"


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
        typed = text_in(form, "capital").strip()
        capital = money_in(typed)
        if typed and capital is None:
            return _buy(request, typed, say("buy_money_bad", found=typed))
        more = {"strategy": strategy, "options": steps, "capital": capital}
    return begin(desk, name, desk.given(here, whose(here.text), **more))


async def take(request: Request) -> Response:
    """Put an answer to how much to keep into the file."""
    return await run_in_threadpool(_take, request)


def _take(request: Request) -> Response:
    desk, wanted = desk_of(request), text_in(form_of(request), "answer")
    here = desk.read()
    found = desk.newest("keep", here)
    if here is None or found is None or str(found.id) != wanted or found.text_hash != here.hash:
        return desk.to("answer/keep")
    text = found.result["text"]
    if text is None:
        return desk.to("answer/keep")
    try:
        loads(text, here.file)
        with desk.lock:
            write_safely(here.path, text, here.hash)
    except (ScenarioError, ChangedMeanwhileError):
        return desk.to("answer/keep")
    desk.history.keep_change(here.file, say("keep_take", what=taken(found.result)), here.text, text_hash(text))
    return desk.to("earlier")


def taken(result: Mapping[str, Any]) -> str:
    """Return what an answer to how much to keep would write, in words."""
    return ", ".join(f"{key} = {value}" for key, value in (result["to_write"] or {}).items())


# --- what lies under it ------------------------------------------------------------------------------------------


async def matters(request: Request) -> Response:
    """Show what would change the answer."""
    return await run_in_threadpool(_matters, request)


def _matters(request: Request) -> Response:
    going = _is_going(desk_of(request), "matters")
    return _page(request, "matters", going=going, again_s=AGAIN_S if going else 0)


def _is_going(desk: Desk, name: str) -> bool:
    """Return whether a kind of work is being done, in the background too."""
    job = desk.room.newest(name)
    return job is not None and not job.has_ended


async def keep(request: Request) -> Response:
    """Show how many cylinders to keep."""
    return await run_in_threadpool(_keep, request)


def _keep(request: Request) -> Response:
    here = desk_of(request).read()
    names = [] if here is None or here.scenario is None else sized(here.scenario)
    found = desk_of(request).newest("keep", here)
    what = "" if found is None else taken(found.result)
    return _page(request, "keep", names=names, targets=list(TARGETS), usual=USUAL_TARGET, taken=what)


def sized(scenario: Scenario) -> list[str]:
    """Return the strategies that have cylinders which are ordered again."""
    return [name for name, each in scenario.hospitals.items() if each.cylinders and each.resupply]


async def power(request: Request) -> Response:
    """Show what longer cuts would do; it is worked out in the background after each answer."""
    return await run_in_threadpool(_power, request)


def _power(request: Request) -> Response:
    desk = desk_of(request)
    going = _is_going(desk, "power")
    here = desk.read()
    found = desk.newest("power", here)
    rows = [] if found is None else power_rows(found.result)
    return _page(request, "power", rows=rows, going=going, again_s=AGAIN_S if going else 0)


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


async def buy(request: Request) -> Response:
    """Show what to buy."""
    return await run_in_threadpool(_buy, request)


def money_in(text: str) -> float | None:
    """Return an amount of money as it is typed, "6,000" or "6 000" too; None where it is none."""
    plain = MONEY.fullmatch(text)
    return None if plain is None else float(re.sub("[ ,]", "", text))


def _buy(request: Request, typed: str = "", problem: str = "") -> Response:
    here = desk_of(request).read()
    if here is None or here.scenario is None:
        return desk_of(request).to("")
    scenario = here.scenario
    names = [name for name in scenario.strategies if purchases(scenario, name)]
    priced = any(each.costs for each in scenario.hospitals.values())
    best = desk_of(request).newest("answer", here)
    usual = best.result["best"] if best is not None and best.result["best"] in names else "".join(names[-1:])
    steps = {name: said_purchases(purchases(scenario, name)) for name in names}
    currency = next((each.costs.currency for each in scenario.hospitals.values() if each.costs), "")
    return _page(request, "buy", 422 if problem else 200, names=names, priced=priced, usual=usual, steps=steps,
                 currency=currency, capital=typed, problem=problem, owned=owned(scenario),
                 own_options=scenario.options is not None)  # fmt: skip


def owned(scenario: Scenario) -> str:
    """Return what the file says is there, in words: the most of any way of supply."""
    each = scenario.hospitals.values()
    counts = {
        "cylinders": max((one.cylinders.fleet for one in each if one.cylinders), default=0),
        "regulators": max((one.cylinders.regulators or 0 for one in each if one.cylinders), default=0),
        "concentrators": max((one.concentrators.count for one in each if one.concentrators), default=0),
    }
    said = [say(f"owned_{name}", count=count) for name, count in counts.items() if count]
    return ", ".join(said) or say("owned_none")


MORE = (0.0, 0.25, 0.5, 1.0)  # of the cylinders there are
MORE_UNITS = (0, 1, 2)


def purchases(scenario: Scenario, strategy: str) -> list[dict[str, str]]:
    """Return the steps that are tried where the file states no options: more cylinders, more concentrators.

    Each is a row of an option table: what there would be in all.
    """
    hospital = scenario.hospitals.get(strategy)
    if hospital is None:
        return []
    fleets: list[int | None] = [None]
    units: list[int | None] = [None]
    if hospital.cylinders is not None:
        fleets = [round(hospital.cylinders.fleet * (1 + more)) for more in MORE]
    if hospital.concentrators is not None:
        units = [hospital.concentrators.count + more for more in MORE_UNITS]
    rows = []
    for fleet in dict.fromkeys(fleets):
        for count in units:
            row = {"cylinders.fleet": fleet, "concentrators.count": count}
            rows.append({key: str(value) for key, value in row.items() if value is not None})
    return rows if len(rows) > 1 else []


def said_purchases(rows: list[dict[str, str]]) -> str:
    """Return the values tried of each field, in words."""
    fields = {key: list(dict.fromkeys(row[key] for row in rows)) for key in rows[0]}
    return "; ".join(f"{say(f'own_{key}')} {', '.join(values)}" for key, values in fields.items())
