"""What to buy: what is owned, what is tried, what it costs."""

from __future__ import annotations

import re

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response

from o2sim.desk.answer_page import answer_page
from o2sim.desk.desk import desk_of
from o2sim.desk.words import say
from o2sim.scenario.types.hospital import Scenario

MONEY = re.compile(r"\d{1,12}|\d{1,3}(?:[ ,]\d{3}){1,4}")


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
    usual = "".join(names[-1:])
    if best is not None and best.result["best"] in names:
        usual = best.result["best"]
    steps = {name: said_purchases(purchases(scenario, name)) for name in names}
    currency = next((each.costs.currency for each in scenario.hospitals.values() if each.costs), "")
    return answer_page(request, "buy", 422 if problem else 200, names=names, priced=priced, usual=usual, steps=steps,
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
