"""What to buy: what is owned, what is tried, what each sum of money buys, and the list of it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response

from o2sim.desk.answer_page import answer_page
from o2sim.desk.at_prices import set_values
from o2sim.desk.at_sheets import page_of_its_own
from o2sim.desk.desk import desk_of, form_of, is_old, text_in
from o2sim.desk.forms import whose
from o2sim.desk.option_forms import said_options
from o2sim.desk.owned_forms import KINDS, owned_problem, owned_rows, owned_values, said_owned
from o2sim.desk.words import counted, say
from o2sim.errors import ScenarioError
from o2sim.looks.words import is_year, joined, number, span
from o2sim.questions.choose.purchase_list import Head, Line, lines_of, list_csv, list_page
from o2sim.scenario.changing.safe_file import ChangedMeanwhileError
from o2sim.scenario.text.desk_comment import desk_note
from o2sim.scenario.types.hospital import Scenario

MOST_NAMED = 4  # things named of a step; the list has all
FIRST_FILL = "first filling of the cylinders"


async def buy(request: Request) -> Response:
    """Show what to buy."""
    return await run_in_threadpool(_buy, request)


def _buy(
    request: Request, typed: Mapping[str, str] | None = None, wrong: Mapping[str, str] | None = None
) -> Response:
    desk = desk_of(request)
    here = desk.read()
    if here is None or here.scenario is None:
        return desk.to("")
    scenario, found = here.scenario, desk.newest("buy", here)
    names = [name for name in scenario.strategies if purchases(scenario, name)]
    best = desk.newest("answer", here)
    usual = "".join(names[-1:])
    if best is not None and best.result["best"] in names:
        usual = best.result["best"]
    values = {
        "names": names,
        "priced": any(each.costs for each in scenario.hospitals.values()),
        "usual": usual,
        "tried": {name: said_purchases(purchases(scenario, name)) for name in names},
        "owned": said_owned(scenario),
        "rows": owned_rows(scenario, here.text, typed or {}, wrong or {}),
        "wrong": [(f"owned_{name}" if name else "", say(f"own_{name}" if name else "buy_owned"), said)
                  for name, said in (wrong or {}).items()],
        "own_options": said_options(scenario),
        "text_hash": here.hash,
        "is_draft": is_draft(scenario, here.text),
        "steps": [] if found is None else step_rows(found.result),
        "lead": "" if found is None else lead(found.result),
        "without": "" if found is None else without_price(found.result),
        "runs": "" if found is None else runs_word(found.result),
    }  # fmt: skip
    return answer_page(request, "buy", 422 if wrong else 200, **values)


def is_draft(scenario: Scenario, text: str) -> bool:
    """Return whether a figure that decides is an example or not known."""
    mine, of = whose(text)
    return mine < of or bool(scenario.uncertain)


# --- what is owned -----------------------------------------------------------------------------------------------


async def own(request: Request) -> Response:
    """Put into the file how many of its things are there already."""
    return await run_in_threadpool(_own, request)


def _own(request: Request) -> Response:
    desk, form = desk_of(request), form_of(request)
    here = desk.read()
    if here is None or here.scenario is None:
        return desk.to("")
    typed = {kind.name: text_in(form, f"owned_{kind.name}").strip()[:30] for kind in KINDS}
    every = text_in(form, "do") == "all"
    wrong = {} if every else {name: said for name, text in typed.items() if (said := owned_problem(text))}
    if wrong:
        return _buy(request, typed, wrong)
    if text_in(form, "text_hash") != here.hash:
        return _buy(request, typed, {"": say("price_changed")})
    values = owned_values(owned_rows(here.scenario, here.text, {}, {}), typed, here.text, every=every)
    try:
        if values:
            notes = dict.fromkeys(values, desk_note(desk.today()))
            set_values(desk, here, here.text, values, notes, say("owned_put", count=len(values)))
    except ChangedMeanwhileError:
        return _buy(request, typed, {"": say("price_changed")})
    except ScenarioError as error:
        return _buy(request, typed, _blamed(error))
    return desk.to("answer/buy")


def _blamed(error: ScenarioError) -> dict[str, str]:
    """Return what is wrong with the numbers owned, by the name of the field where it can be named."""
    found = {}
    for problem in error.problems:
        kind = next((each.name for each in KINDS if problem.field.endswith(each.owned_key)), "")
        found[kind] = "; ".join(
            filter(None, (problem.found, problem.allowed and say("allowed", what=problem.allowed)))
        )
    return found


# --- what each sum of money buys ---------------------------------------------------------------------------------


def runs_word(result: Mapping[str, Any]) -> str:
    """Return "years", or what the replications are in place of years."""
    days = result["horizon_days"]
    return "years" if is_year(days) else f"runs of {span(days)}"


def best_step(result: Mapping[str, Any]) -> int:
    """Return the last step that made a clear difference."""
    return max((place for place, step in enumerate(result["steps"]) if step["is_clear"]), default=0)


def step_rows(result: Mapping[str, Any]) -> list[dict[str, Any]]:
    """Return the rows of the table: what is paid, bought, what it costs a year and gives, how sure that is."""
    rows, best = [], best_step(result)
    for place, step in enumerate(result["steps"]):
        low, high = (step["interval"][end] for end in ("low", "high"))
        band = "" if low is None else say("buy_band", low=_in_100(low), high=_in_100(high))
        sure = say("buy_clear") if step["is_clear"] else say("buy_alike")
        rows.append({
            "pay": say("buy_sum", currency=result["currency"], sum=f"{step['pay_now']:,.0f}"),
            "buy": bought(step),
            "in_all": in_all(step),
            "year": f"{step['a_year']:,.0f}",
            "seen": say("buy_seen", seen=_in_100(step["chance"]), band=band),
            "hours": say("buy_hours", hours=f"{step['unserved_hours']:,.0f}"),
            "sure": sure if place else say("buy_first"),
            "is_best": place == best,
        })  # fmt: skip
    return rows


def _in_100(share: float) -> str:
    return number(round(100 * share, 1))


def bought(step: Mapping[str, Any]) -> str:
    """Return what a step buys, in words: the things that have a price."""
    named = [counted(line.buy, line.item) for line in _to_buy(step) if line.each is not None]
    found = named[:MOST_NAMED]
    if len(named) > MOST_NAMED:
        found.append(say("buy_more", count=len(named) - MOST_NAMED))
    return joined(found) or say("buy_nothing")


def _to_buy(step: Mapping[str, Any]) -> list[Line]:
    return [line for line in lines_of(step["lines"]) if line.buy and line.item != FIRST_FILL]


def without_price(result: Mapping[str, Any]) -> str:
    """Return how many lines of the lists have no price, "" where all have one: said once for all steps."""
    counts = {sum(line.each is None for line in _to_buy(step)) for step in result["steps"]}
    most = max(counts, default=0)
    if not most:
        return ""
    return say("buy_without", count=most) if len(counts) == 1 else say("buy_without_most", count=most)


def in_all(step: Mapping[str, Any]) -> str:
    """Return how many there would be in all, in words."""
    known = {f"own_{key}": value for key, value in step["choices"].items()}
    keys = ("own_cylinders.fleet", "own_concentrators.count")
    return ", ".join(f"{say(key)} {known[key]}" for key in keys if key in known)


def lead(result: Mapping[str, Any]) -> str:
    """Return the answer in short: what money buys as long as it makes a clear difference."""
    steps, best = result["steps"], best_step(result)
    if not steps:
        return say("buy_no_steps")
    step, first, runs = steps[best], steps[0], runs_word(result)
    money = say("buy_sum", currency=result["currency"], sum=f"{step['pay_now']:,.0f}")
    said = say("buy_lead", money=money, buy=bought(step), seen=_in_100(step["chance"]), runs=runs)
    if best:
        before = say("buy_sum", currency=result["currency"], sum=f"{first['pay_now']:,.0f}")
        said = f"{said} {say('buy_lead_before', money=before, seen=_in_100(first['chance']))}"
    return said if best == len(steps) - 1 else f"{said} {say('buy_lead_after')}"


# --- the list ----------------------------------------------------------------------------------------------------


async def purchase_list(request: Request) -> Response:
    """Return the list of a step: a page, or a table for a spreadsheet."""
    return await run_in_threadpool(_list, request)


def _list(request: Request) -> Response:
    desk, form = desk_of(request), form_of(request)
    here, step = desk.read(), text_in(form, "step")
    found = desk.newest("buy", here)
    if here is None or here.scenario is None or found is None:
        return desk.to("answer/buy")
    steps = found.result["steps"]
    if not (step.isascii() and step.isdigit() and int(step) < len(steps)):
        return desk.to("answer/buy")
    chosen, result = steps[int(step)], found.result
    lines: list[Line] = [line for line in lines_of(chosen["lines"]) if line.buy or line.there]
    mine, of = whose(here.text)
    why = say("list_draft", rest=of - mine, of=of) if is_draft(here.scenario, here.text) else ""
    old = say("changed_since", when=desk.moment(found.made)) if is_old(found, here) else ""
    head = Head(
        say("list_of", name=here.scenario.name, option=result["strategy"] or chosen["option"],
            in_all=in_all(chosen)),
        result["currency"], " ".join(filter(None, (why, old))),
        say("run_line", version=result["version"], hash=result["scenario_hash"], seed=result["seed"],
            done=result["done"], engine=result["engine"]),
    )  # fmt: skip
    name = f"purchase-list{'-draft' if head.draft else ''}"
    if text_in(form, "as") == "csv":
        headers = {"Content-Disposition": f'attachment; filename="{name}.csv"'}
        return Response(list_csv(lines, head).encode("utf-8-sig"), media_type="text/csv", headers=headers)
    headers = {"Content-Disposition": f'attachment; filename="{name}.html"'}
    return page_of_its_own(list_page(lines, head), headers)


# --- what is tried -----------------------------------------------------------------------------------------------


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
    if hospital.cylinders is not None and not hospital.cylinders.sizes:  # of several sizes: by the file's options
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
