"""What the books gave: figures for the scenario, the drawings of each fit, draws, and whether it matches."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response

from o2sim.desk import books_kept as kept
from o2sim.desk.at_hospital import NEW
from o2sim.desk.at_sheets import page_of_its_own
from o2sim.desk.books_kept import books_of
from o2sim.desk.books_put import chosen_of, differing, with_figures
from o2sim.desk.desk import Desk, desk_of, form_of, text_in
from o2sim.desk.folder import Read
from o2sim.desk.same_command import books_command, draws_name
from o2sim.desk.shown_blocks import Drawing, blocks_of
from o2sim.desk.words import say, translated
from o2sim.errors import O2simError, ScenarioError
from o2sim.scenario.changing.safe_file import NO_FILE, ChangedMeanwhileError, text_hash, write_safely
from o2sim.scenario.keys.questions import BY_NAME

FIRST_CAUTIONS = 5  # the others are folded away
MOST_DRAWN = 52_000  # letters of drawings on a page of little else, and on that of the match
MOST_MATCH = 42_000
TAKE = "take"  # the name of the boxes that are ticked
HOLDS = ".holds"


def _file(desk: Desk) -> str:
    here = desk.read()
    return "" if here is None else here.file


# --- what they gave ----------------------------------------------------------------------------------------------


async def fits(request: Request) -> Response:
    """Show what each book gave, to be chosen from."""
    return await run_in_threadpool(_fits, request)


def _fits(request: Request, problems: Sequence[tuple[str, str, str]] = (), status: int = 422) -> Response:
    desk = desk_of(request)
    here = desk.read()
    file = "" if here is None else here.file
    found = books_of(desk.history, file)
    if found is None or (here is not None and here.scenario is None):
        return desk.to("records")
    differ = found["groups"] if here is None else differing(here.text, found["groups"], here.file)
    there = {each["number"] for each in found["groups"]} - {each["number"] for each in differ}
    cautions, rows = found["cautions"], [_row(each, each["number"] in there) for each in found["groups"]]
    values = {
        "found": found,
        "rows": rows,
        "is_in": bool(rows) and not differ,
        "cautions": cautions[:FIRST_CAUTIONS],
        "more_cautions": cautions[FIRST_CAUTIONS:],
        "unused": blocks_of(found["unused"]),
        "rest": blocks_of(found["rest"]),
        "text_hash": NO_FILE if here is None else here.hash,
        "command": books_command(file, found["file"], is_drawn=bool(found["draws"])),
        "match": books_of(desk.history, file, kept.MATCH),
        "problems": problems,
    }
    return desk.page("books", say("books"), "hospital", status if problems else 200, **values)


def _row(group: Mapping[str, Any], is_there: bool) -> dict[str, Any]:
    """Return a group of figures in words."""
    return {**group, "is_there": is_there, "figures": [_figure(each) for each in group["values"]]}


def _figure(each: Mapping[str, Any]) -> dict[str, str]:
    """Return a figure by the words of its question, where it answers one of the twelve, else by its key."""
    question = BY_NAME.get(each["question"])
    if question is None:
        return {"what": each["key"], "help": each["help"], "said": each["said"]}
    said = f"{each['said'].removesuffix(question.unit)}{translated(question.unit)}"
    return {"what": translated(question.label), "help": "",
            "said": said if each["said"].endswith(question.unit) else each["said"]}  # fmt: skip


async def fit(request: Request) -> Response:
    """Show the drawings of one fit, as many as one page holds."""
    return await run_in_threadpool(_fit, request)


def _fit(request: Request) -> Response:
    desk, number = desk_of(request), int(request.path_params["number"])
    main = books_of(desk.history, _file(desk))
    group = next((each for each in (main or {"groups": []})["groups"] if each["number"] == number), None)
    drawn = (books_of(desk.history, _file(desk), kept.PICTURES) or {}).get(str(number))
    if group is None or drawn is None:
        return desk.to("records/fits")
    shown, left = that_fit(blocks_of(drawn["pictures"]))
    return desk.page("book", group["name"], "hospital", group=_row(group, False), said=drawn["said"],
                     pictures=shown, left=left)  # fmt: skip


def that_fit(pictures: Sequence[Any], most: int = MOST_DRAWN) -> tuple[list[Any], int]:
    """Return the drawings that one page holds, at least the first, and how many are left out."""
    shown, letters = list[Any](), 0
    for each in pictures:
        letters += len(each.svg) if isinstance(each, Drawing) else 0
        if shown and letters > most:
            break
        shown.append(each)
    return shown, len(pictures) - len(shown)


async def page(request: Request) -> Response:
    """Return the page with all drawings, as a file to save."""
    return await run_in_threadpool(_page, request, kept.PAGE, "fits.html")


async def match_page(request: Request) -> Response:
    """Return the page that says whether it matches, as a file to save."""
    return await run_in_threadpool(_page, request, kept.MATCH_PAGE, "hindcast.html")


def _page(request: Request, part: str, name: str) -> Response:
    desk = desk_of(request)
    found = books_of(desk.history, _file(desk), part)
    if found is None:
        return desk.to("records")
    return page_of_its_own(found, {"Content-Disposition": f'attachment; filename="{name}"'})


async def draws(request: Request) -> Response:
    """Return the joint draws of what stands in the file, as a file to save beside it."""
    return await run_in_threadpool(_draws, request)


def _draws(request: Request) -> Response:
    from o2sim.looks.files import csv_bytes

    desk = desk_of(request)
    file = _file(desk)
    found, main = (books_of(desk.history, file, part) for part in (kept.DRAWS, kept.MAIN))
    if found is None or main is None or not found["heads"]:
        return desk.to("records")
    here = desk.read()
    out = set() if here is None else {
        each["key"] for group in differing(here.text, main["groups"], file) for each in group["values"]
    }  # fmt: skip
    if len(out) == sum(len(group["values"]) for group in main["groups"]):
        out = set()  # none was put in yet: those of all
    places = [place for place, key in enumerate(found["keys"]) if key not in out]
    rows = [[row[place] for place in places] for row in found["rows"]]
    content = csv_bytes([found["heads"][place] for place in places], rows)
    head = {"Content-Disposition": f'attachment; filename="{draws_name(file)}"'}
    return Response(content, media_type="text/csv", headers=head)


# --- into the scenario -------------------------------------------------------------------------------------------


async def put(request: Request) -> Response:
    """Put the figures that are ticked into the file, which is made where there is none yet."""
    return await run_in_threadpool(_put, request)


def _put(request: Request) -> Response:
    desk, form = desk_of(request), form_of(request)
    here = desk.read()
    file = "" if here is None else here.file
    found = books_of(desk.history, file)
    if found is None or (here is not None and here.scenario is None):
        return desk.to("records")
    held = [name.removesuffix(HOLDS) for name in form if name.endswith(HOLDS) and text_in(form, name) == "here"]
    groups = chosen_of(found["groups"], [*map(str, form.getlist(TAKE)), *held])
    if text_in(form, "do") == "leave":
        return desk.to("records/fits")
    if not groups:
        return _fits(request, (("", say("books_put"), say("books_none_chosen")),))
    if text_in(form, "text_hash") != (NO_FILE if here is None else here.hash):
        return _which(desk, here, groups)
    try:
        write(desk, here, groups, found["base_text"])
    except ChangedMeanwhileError:
        return _which(desk, desk.read(), groups)
    except ScenarioError as error:
        return _fits(request, [("", each.field, f"{each.found}; {each.allowed}".strip("; "))
                               for each in error.problems])  # fmt: skip
    except O2simError as error:
        return _fits(request, (("", say("books_put"), str(error)),))
    return desk.to("records/fits")


def write(desk: Desk, here: Read | None, groups: Sequence[Mapping[str, Any]], base_text: str) -> None:
    """Write figures into the file, into a first scenario where there is none; keep what it said before.

    Raises ScenarioError, ChangedMeanwhileError, and O2simError where a figure cannot be written.
    """
    path = desk.folder.free(NEW) if here is None else here.path
    before = base_text if here is None else here.text
    new = with_figures(before, groups, desk.today(), path.name, path.parent)
    count = sum(len(each["values"]) for each in groups)
    with desk.lock:
        if here is None:
            write_safely(path, before, NO_FILE)
        write_safely(path, new, text_hash(before) if here is None else here.hash)
    if here is None:
        _named(desk, path, before)
    desk.history.keep_change(path.name, say("books_put_in", count=count), before, text_hash(new))


def _named(desk: Desk, path: Path, text: str) -> None:
    """Let a new file be the one that is chosen, with all that is kept of its hospital."""
    desk.history.keep_change(path.name, say("first_written"), None, text_hash(text))
    desk.history.name_books(path.name)
    desk.history.drop_drafts("")
    desk.choose(path.name)


def _which(desk: Desk, here: Read | None, groups: Sequence[Mapping[str, Any]]) -> Response:
    """Ask which figures hold where the file was changed since the page was made."""
    if here is None or here.scenario is None:
        return desk.to("records/fits")
    rows = [{**_row(each, False), "there": [text or say("missing") for text in each["there"]]}
            for each in differing(here.text, groups, here.file)]  # fmt: skip
    if not rows:
        return desk.to("records/fits")
    return desk.page("which_books", say("which"), "hospital", 409, rows=rows, text_hash=here.hash)


# --- does it match -----------------------------------------------------------------------------------------------


async def match(request: Request) -> Response:
    """Show whether the scenario matches what was recorded."""
    return await run_in_threadpool(_match, request)


def _match(request: Request) -> Response:
    desk = desk_of(request)
    found = books_of(desk.history, _file(desk), kept.MATCH)
    if found is None:
        return desk.to("records")
    pictures, left = that_fit(blocks_of(found.get("pictures", [])), MOST_MATCH)
    blocks = {name: blocks_of(found.get(name, [])) for name in ("figures", "limits")}
    return desk.page("match", say("match"), "hospital", found=found, pictures=pictures, left=left, **blocks)
