"""The application: which page answers which address, its style and script, what is said where something fails."""

from __future__ import annotations

import sys
import time
from functools import cache
from importlib.resources import files

from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import HTMLResponse, Response
from starlette.routing import Mount, Route
from starlette.types import ASGIApp, Receive, Scope, Send

from o2sim.desk import (
    at_answer,
    at_assumed,
    at_buy,
    at_desk,
    at_earlier,
    at_fits,
    at_hospital,
    at_keep,
    at_options,
    at_prices,
    at_records,
    at_sheets,
    at_today,
    at_work,
)
from o2sim.desk.desk import LANGUAGE, PACKAGE, Desk, desk_of
from o2sim.desk.guard import COOKIE, DRAINED_S, OPEN, Guard
from o2sim.desk.words import say
from o2sim.errors import O2simError
from o2sim.looks.html import rendered

OWN = {"desk.css": "text/css", "desk.js": "text/javascript"}
GETS = (
    ("/", at_desk.first),
    ("/hospital/{number:int}", at_hospital.questions),
    ("/hospital/prices", at_prices.prices),
    ("/run", at_work.run),
    ("/state", at_work.state),
    ("/busy", at_work.busy),
    ("/answer", at_answer.answer),
    ("/answer/matters", at_answer.matters),
    ("/answer/buy", at_buy.buy),
    ("/answer/options", at_options.options),
    ("/answer/power", at_answer.power),
    ("/answer/keep", at_keep.keep),
    ("/answer/{number:int}", at_answer.answer),
    ("/today", at_today.today),
    ("/today/{number:int}", at_today.today),
    ("/today/sheet", at_today.sheet),
    ("/sheets", at_sheets.sheets),
    ("/sheets/{name}", at_sheets.sheet),
    ("/report", at_sheets.report),
    ("/scenario", at_sheets.scenario),
    ("/earlier", at_earlier.earlier),
    ("/records", at_records.records),
    ("/records/template", at_records.template),
    ("/records/errors", at_records.errors),
    ("/records/fits", at_fits.fits),
    ("/records/fits/{number:int}", at_fits.fit),
    ("/records/page", at_fits.page),
    ("/records/draws", at_fits.draws),
    ("/records/match", at_fits.match),
    ("/records/match/page", at_fits.match_page),
    ("/assumed", at_assumed.assumed),
    ("/assumed/defaults", at_assumed.defaults),
)
POSTS = (
    ("/choose", at_desk.choose),
    ("/new", at_desk.new),
    ("/read", at_desk.read),
    ("/save", at_desk.save),
    ("/close", at_desk.close),
    ("/hospital/{number:int}", at_hospital.answered),
    ("/hospital/prices", at_prices.priced),
    ("/own", at_buy.own),
    ("/answer/options", at_options.changed),
    ("/list", at_buy.purchase_list),
    ("/check", at_hospital.check),
    ("/which", at_hospital.which),
    ("/begin/{name}", at_answer.work_out),
    ("/take", at_keep.take),
    ("/today", at_today.work_out),
    ("/today/card", at_today.write_card),
    ("/records/read", at_records.read),
    ("/records/put", at_fits.put),
    ("/ours", at_sheets.ours),
    ("/stop", at_work.stop),
    ("/go-on", at_work.go_on),
    ("/instead", at_work.instead),
    ("/earlier/go-on", at_earlier.go_on),
    ("/undo", at_earlier.undo),
    ("/forget", at_earlier.forget),
)


def application(desk: Desk, drained_s: float = DRAINED_S) -> ASGIApp:
    """Return what answers the requests to a desk. drained_s: how long a message that is too large is read on."""
    pages = [
        *(Route(path, page, methods=["GET"]) for path, page in GETS),
        *(Route(path, page, methods=["POST"]) for path, page in POSTS),
        Route("/own/{name}", _own, methods=["GET"]),
    ]
    routes = [
        Route(f"{OPEN}{{key}}", _opened, methods=["GET"]),
        Mount(desk.door.path, routes=[*_merged(pages)]),
    ]
    app = Starlette(routes=routes, exception_handlers={HTTPException: _refused, O2simError: _failed, 500: _broken})
    app.state.desk = desk
    return Guard(_Noticed(app, desk), desk.door, refusal, drained_s)


def _merged(pages: list[Route]) -> list[Route]:
    """Return one route for pages that are both asked for and sent, so that other methods are refused as such."""
    found: dict[str, list[Route]] = {}
    for page in pages:
        found.setdefault(page.path, []).append(page)
    return [each[0] if len(each) == 1 else _both(*each) for each in found.values()]


def _both(get: Route, post: Route) -> Route:
    async def either(request: Request) -> Response:
        answer: Response = await (post if request.method == "POST" else get).endpoint(request)
        return answer

    return Route(get.path, either, methods=["GET", "POST"])


class _Noticed:
    """Notes when a page was last asked for: a desk that nobody uses ends after half a day."""

    def __init__(self, app: ASGIApp, desk: Desk) -> None:
        self.app, self.desk = app, desk

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if not scope["path"].endswith("/state"):
            self.desk.used_s = time.monotonic()
        await self.app(scope, receive, send)


async def _opened(request: Request) -> Response:
    """Let a browser in that has a start key: give it the pass, and a page that goes on by itself.

    No redirect: coming from a page file, the browser would not send its new cookie with it.
    """
    desk = desk_of(request)
    if not desk.use_key(request.path_params["key"]):
        return HTMLResponse(refusal(403), 403)
    page = rendered(
        "pages/opened.html", PACKAGE, say=say, language=LANGUAGE, title=say("opening"), base=desk.door.path
    )
    answer = HTMLResponse(page, headers={"Referrer-Policy": "no-referrer"})
    answer.set_cookie(COOKIE, desk.door.password, path=desk.door.path, httponly=True, samesite="strict")
    return answer


async def _own(request: Request) -> Response:
    """Return the style or the script, by their names alone."""
    name = request.path_params["name"]
    if name not in OWN:
        raise HTTPException(404)
    return Response(_content(name), media_type=OWN[name])


@cache
def _content(name: str) -> bytes:
    return (files(PACKAGE) / "own" / name).read_bytes()


def refusal(status: int, said: str = "") -> str:
    """Return the page of what was not done, and why."""
    said = said or say(f"refused_{int(status)}")
    return rendered("pages/refused.html", PACKAGE, say=say, language=LANGUAGE, title=say("refused"), said=said)


async def _refused(_: Request, error: Exception) -> Response:
    status = error.status_code if isinstance(error, HTTPException) else 500
    return HTMLResponse(refusal(status), status)


async def _failed(_: Request, error: Exception) -> Response:
    """Say what the program itself says is wrong, such as a disk that is full."""
    return HTMLResponse(refusal(500, str(error)), 500)


async def _broken(_: Request, error: Exception) -> Response:
    print(f"{type(error).__name__}: {error}", file=sys.stderr)
    return HTMLResponse(refusal(500), 500)
