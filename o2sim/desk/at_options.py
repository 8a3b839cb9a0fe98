"""What may be bought: the page on which the numbers that are tried are changed, and what becomes of it."""

from __future__ import annotations

from collections.abc import Mapping

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response

from o2sim.desk import option_forms
from o2sim.desk.at_prices import set_values
from o2sim.desk.desk import desk_of, form_of, text_in
from o2sim.desk.option_forms import FIELDS, KEEP, LONGEST, option_problem
from o2sim.desk.owned_forms import are_listed
from o2sim.desk.words import say
from o2sim.errors import ScenarioError
from o2sim.scenario.changing.safe_file import ChangedMeanwhileError

Wrong = Mapping[str, str]  # what is wrong, by the name of the field; "" for what no field has


async def options(request: Request) -> Response:
    """Show what may be bought by the file."""
    return await run_in_threadpool(_options, request)


def _options(
    request: Request, typed: Mapping[str, str] | None = None, wrong: Wrong | None = None, of: str = ""
) -> Response:
    desk = desk_of(request)
    here = desk.read()
    if here is None or here.scenario is None:
        return desk.to("")
    scenario, wrong = here.scenario, wrong or {}
    stated = scenario.options.of if scenario.options is not None else scenario.strategies[-1]
    values = {
        "fields": option_forms.option_fields(scenario, here.text, typed or {}, wrong),
        "listed": are_listed(scenario),
        "others": option_forms.other_rows(scenario, here.text),
        "keep": KEEP,
        "names": list(scenario.strategies),
        "of": of or stated,
        "text_hash": here.hash,
        "wrong": [(f"may_{name}" if name else "", say(f"may_{name}") if name else say("may"), said)
                  for name, said in wrong.items()],
    }  # fmt: skip
    return desk.page("options", say("may"), "answer", 422 if wrong else 200, **values)


async def changed(request: Request) -> Response:
    """Put into the file what may be bought."""
    return await run_in_threadpool(_changed, request)


def _changed(request: Request) -> Response:
    desk, form = desk_of(request), form_of(request)
    here = desk.read()
    if here is None or here.scenario is None:
        return desk.to("")
    typed = {name: text_in(form, f"may_{name}").strip()[:LONGEST] for name in FIELDS if f"may_{name}" in form}
    of = text_in(form, "of")
    wrong = {name: said for name, text in typed.items() if (said := option_problem(text))}
    if of not in here.scenario.strategies:
        wrong[""] = say("may_of")
    if not wrong and text_in(form, "text_hash") != here.hash:
        wrong = {"": say("price_changed")}
    if wrong:
        return _options(request, typed, wrong, of)
    kept = {row.name for row in option_forms.other_rows(here.scenario, here.text)} & set(
        map(str, form.getlist(KEEP))
    )
    values = option_forms.option_values(of, typed, kept, here.scenario, here.text)
    try:
        if values:
            set_values(desk, here, here.text, values, {}, say("may_put"))
    except ChangedMeanwhileError:
        return _options(request, typed, {"": say("price_changed")}, of)
    except ScenarioError as error:
        return _options(request, typed, _blamed(error), of)
    return desk.to("answer/buy")


def _blamed(error: ScenarioError) -> dict[str, str]:
    """Return what is wrong, by the name of the field where it can be named."""
    found: dict[str, str] = {}
    for problem in error.problems:
        name = next((name for name, key in FIELDS.items() if key in problem.field), "")
        words = "; ".join(filter(None, (problem.found, problem.allowed and say("allowed", what=problem.allowed))))
        found.setdefault(name, words if name else f"{problem.field}: {words}")
    return found
