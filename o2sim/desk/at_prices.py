"""The page of prices, optional and beside the twelve questions; what is owned already."""

from __future__ import annotations

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response

from o2sim.desk import price_forms
from o2sim.desk.at_hospital import Problem, file_of
from o2sim.desk.desk import Desk, desk_of, form_of, text_in
from o2sim.desk.folder import Read
from o2sim.desk.history import Draft
from o2sim.desk.words import say
from o2sim.errors import ScenarioError
from o2sim.scenario.changing.new_text import Notes, Values, change
from o2sim.scenario.changing.safe_file import NO_FILE, ChangedMeanwhileError, text_hash, write_safely
from o2sim.scenario.keys.prices import (
    CURRENCY,
    CURRENCY_HINT,
    CURRENCY_KEY,
    CURRENCY_LABEL,
    EVERY_PRICE,
    with_section,
)
from o2sim.scenario.text.desk_comment import desk_note


async def prices(request: Request) -> Response:
    """Show the page of prices."""
    return await run_in_threadpool(_prices, request)


def _prices(
    request: Request, problems: tuple[Problem, ...] = (), drafts: dict[str, Draft] | None = None, status: int = 422
) -> Response:
    desk = desk_of(request)
    here = desk.read()
    if here is not None and here.scenario is None:
        return desk.to("")
    there = price_forms.prices_there(None if here is None else here.text)
    typed = {**desk.history.drafts("" if here is None else here.file), **(drafts or {})}
    values = {
        "asked": price_forms.asked_prices(there, typed, {name: said for name, _, said in problems}),
        "currency": price_forms.currency_of(typed, there),
        "currency_name": CURRENCY,
        "currency_label": CURRENCY_LABEL,
        "currency_hint": CURRENCY_HINT,
        "currency_problem": next((said for name, _, said in problems if name == CURRENCY), ""),
        "text_hash": NO_FILE if here is None else here.hash,
        "problems": problems,
    }
    return desk.page("prices", say("prices"), "hospital", status if problems else 200, **values)


async def priced(request: Request) -> Response:
    """Take the prices into the file, which is made where there is none yet."""
    return await run_in_threadpool(_priced, request)


def _priced(request: Request) -> Response:
    desk, form = desk_of(request), form_of(request)
    drafts = price_forms.price_drafts(form)
    before = desk.read()
    for name, draft in drafts.items():
        desk.history.keep_draft("" if before is None else before.file, name, draft)
    there = price_forms.prices_there(None if before is None else before.text)
    problems = price_forms.price_problems(drafts, there)
    if problems:
        return _prices(request, tuple(problems), drafts)
    if before is not None and text_in(form, "text_hash") != before.hash:
        return _changed(request, drafts)
    here = file_of(desk)
    if here is None or here.scenario is None:
        return desk.to("")
    try:
        write_prices(desk, here, drafts)
    except ChangedMeanwhileError:
        return _changed(request, drafts)
    except ScenarioError as error:
        return _prices(request, tuple(_blamed(error)), drafts)
    desk.history.drop_drafts(here.file, list(drafts))
    return desk.to("answer/buy")


def _changed(request: Request, drafts: dict[str, Draft]) -> Response:
    """Show the page again with what was typed: the file was changed since it was made."""
    return _prices(request, (("", say("prices"), say("price_changed")),), drafts, 409)


def write_prices(desk: Desk, here: Read, drafts: dict[str, Draft]) -> None:
    """Put prices into a file, keep what it said before. Raises ScenarioError and ChangedMeanwhileError."""
    there = price_forms.prices_there(here.text)
    values, notes = price_forms.wanted(drafts, there, desk_note(desk.today()))
    if not values:
        return
    put_in = {key: value for key, value in values.items() if value is not None}
    out = len(values) - len(put_in)
    said = [say("price_put", count=len(put_in)) if put_in else "", say("price_removed", count=out) if out else ""]
    what = "; ".join(filter(None, said))
    set_values(desk, here, with_section(here.text, put_in, notes), values, notes, what)


def set_values(desk: Desk, here: Read, text: str, values: Values, notes: Notes, what: str) -> None:
    """Write a text with values set in it, or taken out, and keep the change by what it is called.

    text: that of the file, or one that has a section more. Raises ScenarioError and ChangedMeanwhileError.
    """
    still = values if text == here.text else {}
    new = change(
        text, still, desk.today(), notes=notes, file=here.file, folder=here.path.parent, stem=here.path.stem
    )
    with desk.lock:
        write_safely(here.path, new.text, here.hash)
    desk.history.keep_change(here.file, what, here.text, text_hash(new.text))


def _blamed(error: ScenarioError) -> list[Problem]:
    """Return what is wrong with a file after a change, at the prices where these can be named."""
    found = []
    for problem in error.problems:
        price = next((each for each in EVERY_PRICE if problem.field.startswith(each.key)), None)
        words = "; ".join(filter(None, (problem.found, problem.allowed and say("allowed", what=problem.allowed))))
        if price is None and problem.field in ("costs", CURRENCY_KEY):
            found.append((CURRENCY, price_forms.label_of(CURRENCY), say("price_currency_stays")))
            continue
        found.append((price.name, price.label, words) if price else ("", problem.field, words))
    return found
