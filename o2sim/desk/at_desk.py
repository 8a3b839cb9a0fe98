"""The first page, and how one begins: with a file of the folder, with one that is read, or with none."""

from __future__ import annotations

from pathlib import PurePath

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import UploadFile
from starlette.requests import Request
from starlette.responses import Response

from o2sim.desk import uploads
from o2sim.desk.at_records import take
from o2sim.desk.desk import desk_of, form_of, text_in
from o2sim.desk.folder import ENDINGS, is_name
from o2sim.desk.forms import rows_of
from o2sim.desk.words import say
from o2sim.errors import ScenarioError
from o2sim.scenario import loads
from o2sim.scenario.changing.safe_file import NO_FILE, ChangedMeanwhileError, text_hash, write_safely


async def first(request: Request) -> Response:
    """Show what can be asked, and what lies in the folder."""
    return await run_in_threadpool(_first, request)


def _first(request: Request, problems: tuple[tuple[str, str, str], ...] = (), status: int = 200) -> Response:
    desk = desk_of(request)
    listed, more = desk.folder.listed()
    newest = {each.file: each for each in reversed(desk.history.answers(asked="answer"))}
    rows = [
        (
            each.file,
            each.name,
            f"{desk.moment(newest[each.file].made)}: {newest[each.file].result['short']}"
            if each.file in newest
            else say("none_yet"),
        )
        for each in listed
    ]
    values = {"rows": rows, "more": more, "folder": desk.folder.path.name, "problems": problems}
    gone = desk.file() if desk.file() and desk.read() is None else ""
    return desk.page("desk", say("desk"), "desk", status, gone=gone, has_file=desk.read() is not None, **values)


async def choose(request: Request) -> Response:
    """Choose a file of the list; go to its answer where there is one, else to its questions."""
    desk, file = desk_of(request), text_in(form_of(request), "file")
    here = await run_in_threadpool(desk.folder.read, file)
    if here is None:
        return _first(request, (("", file, say("file_gone", file=file)),), 422)
    if here.scenario is None:
        return _errors(request, file, ScenarioError(list(here.problems)))
    desk.choose(file)
    return desk.to("answer" if desk.newest("answer", here) else "hospital/1")


async def new(request: Request) -> Response:
    """Begin a hospital without a file."""
    desk = desk_of(request)
    desk.choose("")
    desk.history.drop_drafts("")
    desk.history.drop_books("")
    return desk.to("hospital/1")


async def read(request: Request) -> Response:
    """Read a file that was sent: show what was understood, or what is wrong with it line by line."""
    upload = form_of(request).get("upload")
    if not isinstance(upload, UploadFile) or not upload.filename:
        return await run_in_threadpool(_first, request, (("upload", say("file"), say("no_upload")),), 422)
    name = PurePath(upload.filename.replace("\\", "/")).name[:80]  # to be shown; it is never a path
    content = await upload.read()
    await upload.close()
    return await run_in_threadpool(_read, request, name, content)


def _read(request: Request, name: str, content: bytes) -> Response:
    if content.startswith(uploads.WORKBOOK) and not uploads.why_unsafe(content):
        return take(request, content)
    why = uploads.why_refused(name, content)
    if why:
        return _first(request, (("upload", name, why),), 422)
    try:
        text = uploads.text_of(content, name)
        scenario = loads(text, name)
    except ScenarioError as error:
        return _errors(request, name, error)
    stem = PurePath(name).stem
    return _understood(request, text, scenario.name, stem if is_name(stem) else "our_hospital")


def _understood(request: Request, text: str, name: str, stem: str, problem: str = "") -> Response:
    desk = desk_of(request)
    rows = rows_of(text)
    values = {"rows": rows, "found": sum(row.found for row in rows), "text": text, "stem": stem}
    status = 422 if problem else 200
    return desk.page("read", say("understood"), "desk", status, name=name, problem=problem, **values)


def _errors(request: Request, name: str, error: ScenarioError) -> Response:
    return desk_of(request).page(
        "errors", say("errors_in", count=len(error.problems), file=name), "desk", 422, problems=error.problems
    )


async def save(request: Request) -> Response:
    """Save the text of a file that was read under a new name in the folder, and choose it."""
    form = form_of(request)
    return await run_in_threadpool(_save, request, text_in(form, "text"), text_in(form, "stem").strip())


def _save(request: Request, text: str, stem: str) -> Response:
    desk, file = desk_of(request), f"{stem}{ENDINGS[0]}"
    text = text.replace("\r\n", "\n")  # as browsers send every line of a form
    try:
        name = loads(text, file).name
    except ScenarioError as error:
        return _errors(request, file, error)
    if not is_name(stem):
        return _understood(request, text, name, stem, say("name_bad", found=stem))
    try:
        write_safely(desk.folder.path / file, text, NO_FILE)
    except ChangedMeanwhileError:
        return _understood(request, text, name, stem, say("name_taken", found=file))
    desk.history.keep_change(file, say("first_written"), None, text_hash(text))
    desk.choose(file)
    return desk.to("hospital/1")


async def close(request: Request) -> Response:
    """End the desk."""
    desk = desk_of(request)
    desk.end()
    return desk.page("closed", say("closed"))
