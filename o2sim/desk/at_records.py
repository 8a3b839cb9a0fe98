"""From your books: the template to fill in, a filled workbook that is sent, what is wrong in it cell by cell."""

from __future__ import annotations

from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import UploadFile
from starlette.requests import Request
from starlette.responses import Response

from o2sim.desk import forms, uploads
from o2sim.desk.at_hospital import NEW
from o2sim.desk.books_kept import MATCH, books_of
from o2sim.desk.desk import Desk, desk_of, form_of, text_in
from o2sim.desk.folder import ENDINGS, Read
from o2sim.desk.sent_books import NAME, remove
from o2sim.desk.template_process import template_bytes
from o2sim.desk.words import say, translated
from o2sim.records.sheets_for_keys import to_fill
from o2sim.scenario.keys.questions import QUESTIONS, asked_at

WORKBOOK = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
MATCHED = "match"  # the button that lays the file against the books
MOST_UNKNOWN = 12  # keys that are named of a sheet
Problem = tuple[str, str, str]


async def records(request: Request) -> Response:
    """Show how a workbook comes to be filled, and take one."""
    return await run_in_threadpool(_records, request)


def _records(request: Request, problems: tuple[Problem, ...] = (), status: int = 422) -> Response:
    desk = desk_of(request)
    here = desk.read()
    file = "" if here is None else here.file
    values = {
        "sheets": to_record(here),
        "has_file": here is not None and here.scenario is not None,
        "is_fitted": books_of(desk.history, file) is not None,
        "is_matched": books_of(desk.history, file, MATCH) is not None,
        "problems": problems,
    }
    return desk.page("records", say("records"), "hospital", status if problems else 200, **values)


def to_record(here: Read | None) -> list[tuple[str, str]]:
    """Return which sheets to fill, each with what it is for: all that is a range in the file."""
    if here is None or here.scenario is None:
        return []
    places = dict.fromkeys(place for each in here.scenario.uncertain for place in each.places)
    found = []
    for sheet, keys in to_fill(places).items():
        said = dict.fromkeys(map(called, keys))
        more = len(said) - MOST_UNKNOWN
        words = "; ".join([*said][:MOST_UNKNOWN])
        found.append((sheet, say("records_more", said=words, count=more) if more > 0 else words))
    return found


def called(key: str) -> str:
    """Return what a key is called: the words of its question, where it is one of the twelve."""
    question = asked_at(key)
    return key if question is None else translated(question.short)


async def template(_: Request) -> Response:
    """Return the empty workbook, as a file to save."""
    content = await run_in_threadpool(template_bytes)
    return Response(content, media_type=WORKBOOK,
                    headers={"Content-Disposition": f'attachment; filename="{NAME}"'})  # fmt: skip


# --- a workbook that is sent -------------------------------------------------------------------------------------


async def read(request: Request) -> Response:
    """Take a filled workbook: it is read, fitted and matched where the long work is done."""
    upload = form_of(request).get("upload")
    if not isinstance(upload, UploadFile) or not upload.filename:
        return await run_in_threadpool(_records, request, (("upload", say("workbook_file"), say("no_workbook")),))
    content = await upload.read()
    await upload.close()
    return await run_in_threadpool(_read, request, content)


def _read(request: Request, content: bytes) -> Response:
    if not content.startswith(uploads.WORKBOOK):
        return _records(request, (("upload", say("workbook_file"), say("no_workbook")),))
    unsafe = uploads.why_unsafe(content)
    if unsafe:
        return _records(request, (("upload", say("workbook_file"), say("workbook_unsafe", why=unsafe)),))
    return take(request, content)


def take(request: Request, content: bytes) -> Response:
    """Begin the work on a workbook; where other work is being done, nothing of it is kept."""
    desk, form = desk_of(request), form_of(request)
    here = desk.read()
    if here is not None and here.scenario is None:
        return desk.to("")
    if (at_work := desk.room.at_work) is not None:
        said = say("records_busy", what=say(f"ask_{at_work.name}"))
        return _records(request, (("", say("busy"), said),), 409)
    name = "match" if text_in(form, "do") == MATCHED and here is not None else "books"
    sent = desk.sent.put(content)
    job = desk.ask(name, _given(desk, here, str(sent)))
    if job is None:
        remove(sent)
    return desk.to("run")


def _given(desk: Desk, here: Read | None, sent: str) -> dict[str, Any]:
    """Return what the work on a workbook is given: where it lies, and what its figures are written over."""
    kept = str(desk.folder.path)
    if here is not None:
        return desk.given(here, forms.whose(here.text), sent=sent, kept=kept, base_text="", name=here.file)
    drafts = desk.history.drafts("")
    text = forms.new_text(drafts, desk.today()) if drafts else ""
    return {"path": "", "file": "", "text_hash": "", "whose": [0, len(QUESTIONS)], "sent": sent, "kept": kept,
            "base_text": text, "name": f"{NEW}{ENDINGS[0]}"}  # fmt: skip


async def errors(request: Request) -> Response:
    """Show what is wrong in the workbook that was sent last, each at its cell."""
    return await run_in_threadpool(_errors, request)


def _errors(request: Request) -> Response:
    desk = desk_of(request)
    jobs = [job for name in ("books", "match") if (job := desk.room.newest(name)) is not None]
    job = max(jobs, key=lambda each: each.number, default=None)
    if job is None or job.found is None or not job.found["errors"]:
        return desk.to("records")
    found = job.found
    title = say("records_wrong", count=len(found["errors"]))
    return desk.page("book_errors", title, "hospital", 422, errors=found["errors"], cautions=found["cautions"])
