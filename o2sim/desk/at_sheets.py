"""Sheets for the wall and the trolley, those of `o2sim size --sheets` byte for byte; the report; the scenario."""

from __future__ import annotations

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response

from o2sim.desk.desk import desk_of
from o2sim.desk.words import say
from o2sim.looks.html import digest

SHEETS = ("count-sheet.html", "dusk-page.html", "reorder-card.html")
NO_FRAMES = "base-uri 'none'; frame-ancestors 'none'"


async def sheets(request: Request) -> Response:
    """Show which sheets there are, and what answer they are made from."""
    return await run_in_threadpool(_sheets, request)


def _sheets(request: Request) -> Response:
    desk = desk_of(request)
    here = desk.read()
    found = desk.newest("keep", here)
    made = found.result["sheets"] if found is not None else None
    values = {
        "asked": found is not None,
        "names": [name for name in SHEETS if made and name in made],
        "made": "" if found is None else desk.moment(found.made),
        "is_old": found is not None and here is not None and found.text_hash != here.hash,
        "is_example": here is not None and here.scenario is not None and here.scenario.figures != "ours",
    }
    return desk.page("sheets", say("sheets"), "sheets", **values)


async def sheet(request: Request) -> Response:
    """Return one sheet, as it is written into a folder by the command."""
    return await run_in_threadpool(_sheet, request)


def _sheet(request: Request) -> Response:
    desk, name = desk_of(request), request.path_params["name"]
    found = desk.newest("keep", desk.read())
    page = (found.result["sheets"] or {}).get(name) if found is not None else None
    if page is None:
        return desk.to("sheets")
    return page_of_its_own(page)


def page_of_its_own(page: str, headers: dict[str, str] | None = None) -> Response:
    """Return a page that is complete in one file: only the style that is written in it applies."""
    written = page.split("<style>", 1)[1].split("</style>", 1)[0]
    policy = f"default-src 'none'; style-src '{digest(written)}'; {NO_FRAMES}"
    return Response(page, media_type="text/html", headers={"Content-Security-Policy": policy, **(headers or {})})


async def report(request: Request) -> Response:
    """Return the report that was worked out, as a file to save."""
    desk = desk_of(request)
    job = desk.room.newest("report")
    if job is None or job.found is None:
        return desk.to("answer")
    return page_of_its_own(job.found["page"], {"Content-Disposition": 'attachment; filename="report.html"'})


async def scenario(request: Request) -> Response:
    """Return the file that is chosen, letter by letter."""
    desk = desk_of(request)
    here = await run_in_threadpool(desk.read)
    if here is None:
        return desk.to("")
    name = "".join(
        letter if letter.isascii() and (letter.isalnum() or letter in "._- ") else "_" for letter in here.file
    )
    return Response(
        here.text.encode(),
        media_type="application/octet-stream",
        headers={"Content-Disposition": f'attachment; filename="{name}"'},
    )
