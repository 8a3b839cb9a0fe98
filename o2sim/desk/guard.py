"""Who may speak to the desk: every request passes here first, and every answer gets its policy here.

Any page open in the browser, and any other user of the computer, can send requests to 127.0.0.1. So a request
must name this computer, come from our own pages, carry the pass and, where it changes something, the form key.
"""

from __future__ import annotations

import asyncio
import hmac
from collections.abc import Callable, Iterable
from contextlib import suppress
from http import HTTPStatus
from typing import Any

from starlette.exceptions import HTTPException
from starlette.requests import ClientDisconnect, Request
from starlette.responses import HTMLResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from o2sim.desk.door import Door

COOKIE = "o2sim-desk"
FORM_KEY = "form_key"
FORM = "desk.form"  # in the scope: the form of a request, read
OPEN = "/open/"
MOST_BODY, MOST_DRAINED = 2_000_000, 20_000_000  # bytes
DRAINED_S, BODY_S = 5.0, 30.0
MOST_FIELDS, MOST_FILES, MOST_HEADERS = 60, 1, 16_384
POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'; "
    "form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
HEADERS = {
    "Content-Security-Policy": POLICY,
    "Referrer-Policy": "same-origin",  # with no-referrer the browser sends `Origin: null` with our own forms
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Cache-Control": "no-store",
}
S = HTTPStatus


class RefusedError(Exception):
    """A request that is not answered."""

    def __init__(self, status: HTTPStatus) -> None:
        """Take the status."""
        super().__init__(status.phrase)
        self.status = status


class Guard:
    """An application that lets through to another only what may speak to it."""

    def __init__(
        self, app: ASGIApp, door: Door, refused: Callable[[int], str], drained_s: float = DRAINED_S
    ) -> None:
        """Take whom to guard, the door, what makes the page of a refusal, and how long too much is read on."""
        self.app, self.door, self.refused, self.drained_s = app, door, refused, drained_s

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        send = _with_policy(send)
        try:
            headers = _headers(scope)
            self._admit(scope, headers)
            if scope["method"] == "POST":
                receive = await self._form(scope, headers, receive)
        except RefusedError as refusal:
            await HTMLResponse(self.refused(refusal.status), refusal.status)(scope, receive, send)
            return
        except ClientDisconnect:
            return
        try:
            await self.app(scope, receive, send)
        finally:
            if FORM in scope:  # a file that was sent, an empty one too, is forgotten
                await scope[FORM].close()

    def _admit(self, scope: Scope, headers: dict[str, list[bytes]]) -> None:
        """Raise RefusedError unless the sender may speak."""
        method, path = scope["method"], scope["path"]
        if not path.startswith("/"):
            raise RefusedError(S.NOT_FOUND)
        _check_host(headers.get("host", []), self.door.hosts)
        _check_lengths(headers)
        opening = path.startswith(OPEN) and method == "GET"
        if not opening:  # which comes from a page file, so from nowhere that the browser could name
            _check_site(headers, self.door.hosts)
        if path.startswith(OPEN):
            if not opening:
                raise RefusedError(S.METHOD_NOT_ALLOWED)
            return
        if not path.startswith(f"{self.door.path}/"):
            raise RefusedError(S.NOT_FOUND)
        if not _has_pass(headers.get("cookie", []), self.door.password):
            raise RefusedError(S.FORBIDDEN)
        if method not in ("GET", "HEAD", "POST"):
            raise RefusedError(S.METHOD_NOT_ALLOWED)
        if method == "POST" and not (headers.get("origin") or _site(headers) == b"same-origin"):
            raise RefusedError(S.FORBIDDEN)

    async def _form(self, scope: Scope, headers: dict[str, list[bytes]], receive: Receive) -> Receive:
        """Read the form of a request into its scope; raise RefusedError where it is too large, or not of ours."""
        body = await _body(int(headers.get("content-length", [b"0"])[0]), receive, self.drained_s)
        request = Request({**scope, "app": None}, _replayed(body))
        try:
            form = await request.form(max_files=MOST_FILES, max_fields=MOST_FIELDS)
        except HTTPException as error:
            raise RefusedError(S.BAD_REQUEST) from error
        key = form.get(FORM_KEY)
        if not isinstance(key, str) or not _same(key.encode(), self.door.form_key):
            await form.close()
            raise RefusedError(S.FORBIDDEN)
        scope[FORM] = form
        return _replayed(body)


def _headers(scope: Scope) -> dict[str, list[bytes]]:
    """Return the headers by name. Raises RefusedError where they are too long: servers let much through."""
    if sum(len(name) + len(value) + 4 for name, value in scope["headers"]) > MOST_HEADERS:
        raise RefusedError(S.REQUEST_HEADER_FIELDS_TOO_LARGE)
    found: dict[str, list[bytes]] = {}
    for name, value in scope["headers"]:
        found.setdefault(name.decode("latin-1").lower(), []).append(value)
    return found


def _check_host(given: list[bytes], hosts: Iterable[str]) -> None:
    if len(given) != 1:
        raise RefusedError(S.BAD_REQUEST)
    if given[0] not in [host.encode() for host in hosts]:  # a name that was made to lead here
        raise RefusedError(S.MISDIRECTED_REQUEST)


def _check_lengths(headers: dict[str, list[bytes]]) -> None:
    if "transfer-encoding" in headers or len(headers.get("content-length", [])) > 1:
        raise RefusedError(S.LENGTH_REQUIRED)


def _check_site(headers: dict[str, list[bytes]], hosts: Iterable[str]) -> None:
    if _site(headers) not in (b"", b"none", b"same-origin"):
        raise RefusedError(S.FORBIDDEN)
    ours = [f"http://{host}".encode() for host in hosts]
    if any(origin not in ours for origin in headers.get("origin", [])):
        raise RefusedError(S.FORBIDDEN)


def _site(headers: dict[str, list[bytes]]) -> bytes:
    return b",".join(headers.get("sec-fetch-site", []))


def _has_pass(cookies: list[bytes], password: str) -> bool:
    pairs = (pair.strip().partition(b"=") for each in cookies for pair in each.split(b";"))
    return any(name == COOKIE.encode() and _same(value, password) for name, _, value in pairs)


def _same(found: bytes, wanted: str) -> bool:
    return hmac.compare_digest(found, wanted.encode())


async def _body(length: int, receive: Receive, drained_s: float) -> bytes:
    """Return the body. Raises RefusedError where it is too large.

    It is then read on for a while: who is refused at once sees a broken connection, and not the reason.
    """
    if length > MOST_BODY:
        with suppress(TimeoutError):
            await asyncio.wait_for(_drained(min(length, MOST_DRAINED), receive), drained_s)
        raise RefusedError(S.REQUEST_ENTITY_TOO_LARGE)
    try:
        return await asyncio.wait_for(_whole(receive), BODY_S)
    except TimeoutError as error:
        raise RefusedError(S.REQUEST_TIMEOUT) from error


async def _whole(receive: Receive) -> bytes:
    found = b""
    while True:
        message = await _next(receive)
        found += bytes(message.get("body", b""))
        if not message.get("more_body", False):
            return found


async def _drained(length: int, receive: Receive) -> None:
    while length > 0:
        message = await _next(receive)
        length -= len(message.get("body", b""))
        if not message.get("more_body", False):
            return


async def _next(receive: Receive) -> Message:
    message = await receive()
    if message["type"] == "http.disconnect":
        raise ClientDisconnect
    return message


def _replayed(body: bytes) -> Receive:
    """Return what gives a body that was read already."""
    left = [{"type": "http.request", "body": body, "more_body": False}]

    async def receive() -> Any:
        return left.pop() if left else {"type": "http.disconnect"}

    return receive


def _with_policy(send: Send) -> Send:
    """Return what sends with the policy of our pages, where the answer has none of its own."""

    async def sending(message: Message) -> None:
        if message["type"] == "http.response.start":
            given = list(message.get("headers", []))
            names = {name.lower() for name, _ in given}
            more = [(name.lower().encode(), value.encode()) for name, value in HEADERS.items()]
            message = {**message, "headers": given + [pair for pair in more if pair[0] not in names]}
        await send(message)

    return sending
