"""Sheets for the wall and the trolley, those of `o2sim size --sheets` byte for byte; the report; the scenario."""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Mapping
from contextlib import suppress
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response

from o2sim.desk.at_prices import set_values
from o2sim.desk.desk import Desk, desk_of, is_old
from o2sim.desk.forms import whose
from o2sim.desk.history import printed_name
from o2sim.desk.words import say
from o2sim.errors import ScenarioError
from o2sim.looks.html import digest
from o2sim.scenario.changing.safe_file import ChangedMeanwhileError
from o2sim.scenario.text.desk_comment import desk_note
from o2sim.scenario.types.hospital import OURS

SHEETS = ("count-sheet.html", "dusk-page.html", "reorder-card.html")
FOOT = re.compile(r"<footer>.*?</footer>", re.DOTALL)  # seed, version and hash differ without the figures
NO_FRAMES = "base-uri 'none'; frame-ancestors 'none'"


async def sheets(request: Request) -> Response:
    """Show which sheets there are, what answer they are made from, and which of those printed are out of date."""
    return await run_in_threadpool(_sheets, request)


def _sheets(request: Request) -> Response:
    desk = desk_of(request)
    here = desk.read()
    found = desk.newest("keep", here)
    made = found.result["sheets"] if found is not None else None
    mine, of = (0, 1) if here is None else whose(here.text)
    is_example = here is not None and here.scenario is not None and here.scenario.figures != OURS
    uncertain = here is None or here.scenario is None or bool(here.scenario.uncertain)
    values = {
        "asked": found is not None,
        "names": [name for name in SHEETS if made and name in made],
        "made": "" if found is None else desk.moment(found.made),
        "is_old": found is not None and here is not None and is_old(found, here),
        "is_example": is_example,
        "may_be_ours": is_example and mine == of and not uncertain,
        "out_of_date": [] if found is None else out_of_date(found.result, _printed(desk, found.file)),
    }
    return desk.page("sheets", say("sheets"), "sheets", **values)


def _printed(desk: Desk, file: str) -> dict[str, dict[str, Any]]:
    """Return what each sheet said when it was last opened to print."""
    return dict(json.loads(desk.history.kept(printed_name(file)) or "{}"))


def printed_now(result: Mapping[str, Any], name: str) -> dict[str, Any]:
    """Return what a sheet says: the number one acts by, whether it is an example, and all of it but its foot."""
    said = FOOT.sub("", result["sheets"][name])
    digest = hashlib.sha256(said.encode()).hexdigest()
    return {"acts_by": result["acts_by"].get(name, ""), "is_example": result["is_example"], "digest": digest}


def out_of_date(result: Mapping[str, Any], printed: Mapping[str, Mapping[str, Any]]) -> list[tuple[str, str]]:
    """Return which of the sheets that were printed say something else now, by name, and in words what."""
    found = []
    for name in (each for each in SHEETS if each in printed and each in (result["sheets"] or {})):
        then, now, sheet = printed[name], printed_now(result, name), say(f"sheet_{name}")
        if then["digest"] == now["digest"]:
            continue
        if then["is_example"] or now["is_example"]:
            said = say("sheet_example_then") if not now["is_example"] else say("sheet_example_now")
        elif then["acts_by"] != now["acts_by"]:
            said = say("sheet_number", then=then["acts_by"], now=now["acts_by"])
        else:
            said = say("sheet_other")
        found.append((name, say("sheet_changed", sheet=sheet, what=said)))
    return found


async def ours(request: Request) -> Response:
    """Write into the file that all figures are the hospital's own, where each of the twelve is."""
    return await run_in_threadpool(_ours, request)


def _ours(request: Request) -> Response:
    desk = desk_of(request)
    here = desk.read()
    if here is None or here.scenario is None:
        return desk.to("")
    mine, of = whose(here.text)
    if mine < of or here.scenario.uncertain:
        return desk.to("sheets")
    values = {"figures": str(OURS)}
    with suppress(ScenarioError, ChangedMeanwhileError):
        notes = dict.fromkeys(values, desk_note(desk.today()))
        set_values(desk, here, here.text, values, notes, say("ours_put"))
    return desk.to("answer/keep")


async def sheet(request: Request) -> Response:
    """Return one sheet, as it is written into a folder by the command."""
    return await run_in_threadpool(_sheet, request)


def _sheet(request: Request) -> Response:
    desk, name = desk_of(request), request.path_params["name"]
    found = desk.newest("keep", desk.read())
    page = (found.result["sheets"] or {}).get(name) if found is not None else None
    if found is None or page is None:
        return desk.to("sheets")
    kept = {**_printed(desk, found.file), name: printed_now(found.result, name)}
    desk.history.keep(printed_name(found.file), json.dumps(kept))
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
