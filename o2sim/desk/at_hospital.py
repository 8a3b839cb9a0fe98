"""The questions about a hospital, page by page: checked, kept as they are typed, and put into the file."""

from __future__ import annotations

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData
from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from o2sim.desk import forms, price_forms
from o2sim.desk.at_work import begin
from o2sim.desk.desk import Desk, desk_of, form_of, text_in
from o2sim.desk.folder import Read
from o2sim.desk.forms import NAMES, draft_of, drafts_in, names_on, problem_of, problems_of, there_in
from o2sim.desk.history import Draft
from o2sim.desk.today_drafts import checked
from o2sim.desk.today_fields import BEGINS
from o2sim.desk.words import say, translated
from o2sim.errors import ScenarioError
from o2sim.scenario.changing.safe_file import NO_FILE, ChangedMeanwhileError, text_hash, write_safely
from o2sim.scenario.keys.answers_in_file import FROM_BOOKS
from o2sim.scenario.keys.prices import PRICE_NAMES
from o2sim.scenario.keys.questions import MONTH_LABEL, MONTHS, PAGES

NEW = "our_hospital"  # what a new file is called
WORK = "work"  # the button that works out the answer with what is there
Problem = tuple[str, str, str]  # the field, its label, what is wrong with it


async def questions(request: Request) -> Response:
    """Show a page of questions."""
    return await run_in_threadpool(_questions, request)


def _questions(
    request: Request, problems: tuple[Problem, ...] = (), drafts: dict[str, Draft] | None = None
) -> Response:
    desk, number = desk_of(request), int(request.path_params["number"])
    if not 1 <= number <= len(PAGES):
        return desk.to("hospital/1")
    here = desk.read()
    if here is not None and here.scenario is None:
        return desk.to("")
    typed = {**_typed(desk, "" if here is None else here.file), **(drafts or {})}
    wrong = {name: said for name, _, said in problems}
    there, pages = there_in(None if here is None else here.text), [*map(translated, PAGES)]
    values = {
        "asked": forms.asked(number, there, typed, wrong),
        "month": forms.month_of(there, typed),
        "months": {name: translated(name.capitalize()) for name in MONTHS},
        "month_label": translated(MONTH_LABEL),
        "month_beside": forms.MONTH_BESIDE,
        "number": number,
        "pages": len(pages),
        "heading": pages[number - 1],
        "text_hash": NO_FILE if here is None else here.hash,
        "next_said": say("next", page=pages[number]) if number < len(pages) else say("work_out"),
        "back_said": say("back_to", page=pages[number - 2]) if number > 1 else "",
        "problems": problems,
        "from_books": FROM_BOOKS,
    }
    return desk.page("hospital", pages[number - 1], "hospital", 422 if problems else 200, **values)


def _typed(desk: Desk, file: str) -> dict[str, Draft]:
    """Return what was typed for the questions of a file."""
    return {name: draft for name, draft in desk.history.drafts(file).items() if forms.is_asked(name)}


async def check(request: Request) -> Response:
    """Say what is wrong with one field as it is left, and keep what was typed."""
    return await run_in_threadpool(_check, request)


def _check(request: Request) -> Response:
    desk, form = desk_of(request), form_of(request)
    name = text_in(form, "name")
    if name.startswith(BEGINS):
        found = checked(desk, name, text_in(form, "typed"))
        return JSONResponse({"problem": found or ""}, 422 if found is None else 200)
    if not forms.is_asked(name) and name not in PRICE_NAMES:
        return JSONResponse({"problem": ""}, 422)
    draft = draft_of(text_in(form, "choice"), text_in(form, "typed"))
    here = desk.read()
    file = "" if here is None else here.file
    desk.history.keep_draft(file, name, draft)
    if forms.is_asked(name):
        return JSONResponse({"problem": problem_of(name, draft, empty_is_unknown=True)})
    there = price_forms.prices_there(None if here is None else here.text)
    currency = price_forms.currency_of(desk.history.drafts(file), there)
    return JSONResponse({"problem": price_forms.price_problem(name, draft, currency)})


async def answered(request: Request) -> Response:
    """Take a page of answers: into the file where there is one, and on to the next page or the run."""
    return await run_in_threadpool(_answered, request)


def _answered(request: Request) -> Response:
    desk, form = desk_of(request), form_of(request)
    number = int(request.path_params["number"])
    if not 1 <= number <= len(PAGES):
        return desk.to("hospital/1")
    working = text_in(form, "do") == WORK
    drafts = drafts_in(form, names_on(number))
    here = desk.read()
    file = "" if here is None else here.file
    for name, draft in drafts.items():
        desk.history.keep_draft(file, name, draft)
    there = there_in(None if here is None else here.text)
    whole = drafts if here is not None else {**_typed(desk, ""), **drafts}
    problems = problems_of(drafts, there, empty_is_unknown=working) or problems_of(
        whole, there, empty_is_unknown=True
    )
    if problems:
        return _questions(request, tuple(problems), drafts)
    if here is not None:
        stopped = _put(request, here, form, drafts)
        if stopped is not None:
            return stopped
    if not working and number < len(PAGES):
        return desk.to(f"hospital/{number + 1}")
    return _work_out(request)


def _put(request: Request, here: Read, form: FormData, drafts: dict[str, Draft]) -> Response | None:
    """Write answers into the file; return a page where that cannot be, None where it is done."""
    desk, number = desk_of(request), int(request.path_params["number"])
    if text_in(form, "text_hash") != here.hash:
        return _which(desk, here, number, drafts)
    try:
        write(desk, here, drafts)
    except ChangedMeanwhileError:
        again = desk.read()
        return _which(desk, again or here, number, drafts)
    except ScenarioError as error:
        return _questions(request, tuple(forms.blamed(error, number)), drafts)
    desk.history.drop_drafts(here.file, list(drafts))
    return None


def write(desk: Desk, here: Read, drafts: dict[str, Draft]) -> None:
    """Put figures into a file and keep what it said before. Raises ScenarioError and ChangedMeanwhileError."""
    wanted = forms.changes(here.text, drafts)
    if not wanted:
        return
    names = [each.name for each in wanted]
    new = forms.put(here.text, drafts, names, desk.today(), here.file, here.path.parent)
    with desk.lock:
        write_safely(here.path, new.text, here.hash)
    said = "; ".join(map(_said, wanted))
    desk.history.keep_change(here.file, said, here.text, text_hash(new.text))


def _said(each: forms.Change) -> str:
    if each.before == each.after:
        return say("confirmed", label=each.label, figure=each.after)
    return say("changed", label=each.label, before=each.before, after=each.after)


def _work_out(request: Request) -> Response:
    """Work out the answer; of a new hospital the file is written first, with what is there."""
    desk = desk_of(request)
    here = file_of(desk)
    if here is None or here.scenario is None:
        return desk.to("")
    return begin(desk, "answer", desk.given(here, forms.whose(here.text)))


def file_of(desk: Desk) -> Read | None:
    """Return the file that is chosen; of a new hospital it is written first, with what is there."""
    here = desk.read()
    if here is not None:
        return here
    text = forms.new_text(desk.history.drafts(""), desk.today())
    path = desk.folder.free(NEW)
    write_safely(path, text, NO_FILE)
    desk.history.keep_change(path.name, say("first_written"), None, text_hash(text))
    desk.history.drop_drafts("")
    desk.choose(path.name)
    return desk.read()


# --- two windows -------------------------------------------------------------------------------------------------


def _which(desk: Desk, here: Read, number: int, drafts: dict[str, Draft]) -> Response:
    """Ask which figures hold where the file was changed since the page was made; nothing is lost."""
    rows = [
        {"name": each.name, "label": each.label, "there": each.before, "here": each.after,
         "typed": drafts[each.name].typed, "choice": drafts[each.name].choice}
        for each in forms.changes(here.text, drafts)
    ]  # fmt: skip
    if not rows:
        return desk.to(f"hospital/{min(number + 1, len(PAGES))}")
    return desk.page("which", say("which"), "hospital", 409, rows=rows, text_hash=here.hash, number=number)


async def which(request: Request) -> Response:
    """Write the figures that were chosen."""
    return await run_in_threadpool(_chosen, request)


def _chosen(request: Request) -> Response:
    desk, form = desk_of(request), form_of(request)
    here = desk.read()
    drafts = drafts_in(form, NAMES)
    page = text_in(form, "page")
    number = int(page) if page.isdigit() and 1 <= int(page) <= len(PAGES) else 1
    if here is None or here.scenario is None:
        return desk.to("")
    desk.history.drop_drafts(here.file, list(drafts))
    if text_in(form, "do") == "save":
        held = {name: draft for name, draft in drafts.items() if text_in(form, f"{name}.holds") == "here"}
        try:
            if text_in(form, "text_hash") != here.hash:
                return _which(desk, here, number, held)
            write(desk, here, held)
        except ChangedMeanwhileError:
            return _which(desk, desk.read() or here, number, held)
        except ScenarioError as error:
            request.path_params["number"] = number
            return _questions(request, tuple(forms.blamed(error, number)), held)
    return desk.to(f"hospital/{number}")
