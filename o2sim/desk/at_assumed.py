"""What is assumed, and from where: each value of the file and each default with its source, as in `describe`."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response

from o2sim.desk.desk import desk_of
from o2sim.desk.own_figures import own_name
from o2sim.desk.words import say
from o2sim.looks.assumptions import Assumption, assumptions, changes
from o2sim.scenario.keys.prices import EVERY_PRICE, OF_PURSE
from o2sim.scenario.keys.questions import PAGES, asked_at
from o2sim.scenario.text.source import BYTE_ORDER_MARK, source_of

NOT_STATED = ("default", "left out")  # how the origin of what the file does not say begins
PRICE_KEYS = tuple(price.key for price in EVERY_PRICE)
IF_STATED = tuple(price.key for price in OF_PURSE)  # asked for only where the file states them


@dataclass(frozen=True)
class Row:
    """One value: what it is, what stands there, where that comes from, and the page where it can be changed."""

    what: str
    meaning: str
    value: str
    origin: str
    link: str


@dataclass(frozen=True)
class Part:
    """A section of the file: what it states, and what is left to its default."""

    name: str
    stated: tuple[Row, ...]
    defaults: tuple[Row, ...]


async def assumed(request: Request) -> Response:
    """Show what is assumed of the file that is chosen."""
    return await run_in_threadpool(_assumed, request, defaults=False)


async def defaults(request: Request) -> Response:
    """Show what the file does not state, with what is taken in its place."""
    return await run_in_threadpool(_assumed, request, defaults=True)


def _assumed(request: Request, *, defaults: bool) -> Response:
    desk = desk_of(request)
    here = desk.read()
    if here is None or here.scenario is None:
        return desk.to("")
    parts = parts_of(here.text)
    count = sum(len(part.defaults) for part in parts)
    return desk.page("assumed", say("assumed"), "hospital", parts=parts, defaults=defaults, count=count)


def parts_of(text: str) -> list[Part]:
    """Return every assumption of a file by its section, then what each way of supply changes."""
    source = source_of(text.removeprefix(BYTE_ORDER_MARK), "<text>")
    found = [_part(name or say("assumed_whole"), rows) for name, rows in assumptions(source).items()]
    own = [_part(say("assumed_strategy", name=name), rows, name) for name, rows in changes(source).items()]
    return [part for part in (*found, *own) if part.stated or part.defaults]


def _part(name: str, rows: Iterable[Assumption], strategy: str = "") -> Part:
    said = [(row.origin.startswith(NOT_STATED), _row(row, strategy)) for row in rows if not row.is_heading]
    stated, defaults = (tuple(row for is_default, row in said if is_default is which) for which in (False, True))
    return Part(name, stated, defaults)


def _row(row: Assumption, strategy: str) -> Row:
    """Return a value in words: the names on the way to it, without the section that it stands in."""
    path = row.path.removeprefix(f"strategies.{strategy}.") if strategy else row.path
    names = path.split(".")
    what = ": ".join(name.replace("_", " ") for name in (names[1:] or names))
    return Row(
        what, row.meaning, row.value, row.origin or say("assumed_no_source"), _link(path, strategy, row.origin)
    )


def _link(path: str, strategy: str, origin: str) -> str:
    """Return where a value can be changed at the desk, "" for nowhere."""
    if path in IF_STATED and origin.startswith(NOT_STATED):
        return ""
    if path in PRICE_KEYS and not strategy:
        return "hospital/prices"
    question = asked_at(path)
    if question is None:
        return ""
    name = own_name(question.name, strategy) if strategy else question.name
    return f"hospital/{PAGES.index(question.page) + 1}#{name}"
