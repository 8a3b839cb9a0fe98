"""The desk itself: its folder, what it keeps, its engine room and its door; what every page needs of them."""

from __future__ import annotations

import datetime as dt
import json
import sys
import threading
import time
from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from typing import Any

from markupsafe import Markup
from starlette.datastructures import FormData
from starlette.requests import Request
from starlette.responses import HTMLResponse, RedirectResponse, Response

from o2sim.desk import work
from o2sim.desk.door import Door
from o2sim.desk.engine_room import EngineRoom, Job
from o2sim.desk.folder import Folder, Read
from o2sim.desk.guard import FORM, FORM_KEY
from o2sim.desk.history import Answer, History
from o2sim.desk.sent_books import SentBooks, remove
from o2sim.desk.words import moment, say, translated
from o2sim.looks.html import rendered

PACKAGE = "o2sim.desk"
PLACES = (
    ("desk", ""),
    ("today", "today"),
    ("hospital", "hospital/1"),
    ("answer", "answer"),
    ("sheets", "sheets"),
    ("earlier", "earlier"),
)
WHERE = {  # the page of each kind of work
    "answer": "answer",
    "matters": "answer/matters",
    "buy": "answer/buy",
    "power": "answer/power",
    "keep": "answer/keep",
    "report": "answer",
    "today": "today",
    "books": "records/fits",
    "match": "records/match",
}
OF_BOOKS = ("books", "match")  # of a workbook that was sent: it is gone when they end, so they do not go on
FILE, ASKED = "file", "asked"  # names of what is kept
FORMAT = 2  # of what is kept of an answer: raised where its page would no longer understand an older one
LANGUAGE = "en"


@dataclass
class Desk:
    """One desk; used says when somebody last asked for a page, end is what ends the server."""

    folder: Folder
    history: History
    room: EngineRoom
    door: Door
    use_key: Callable[[str], bool]
    sent: SentBooks
    today: Callable[[], dt.date] = dt.date.today
    clock: Callable[[], dt.time] = lambda: dt.datetime.now().time()
    used_s: float = field(default_factory=time.monotonic)
    end: Callable[[], None] = lambda: None
    lock: threading.Lock = field(default_factory=threading.Lock)  # of writing a scenario

    # --- the file that is chosen ---------------------------------------------------------------------------------

    def file(self) -> str:
        """Return the name of the file that is chosen, "" for none."""
        return self.history.kept(FILE)

    def choose(self, file: str) -> None:
        """Choose a file; "" for a new hospital."""
        self.history.keep(FILE, file)

    def read(self) -> Read | None:
        """Return the file that is chosen, as it is now; None where there is none, or it is gone."""
        file = self.file()
        return self.folder.read(file) if file else None

    # --- work ----------------------------------------------------------------------------------------------------

    def given(self, here: Read, whose: tuple[int, int], **more: Any) -> dict[str, Any]:
        """Return what a job on a file is given. whose: how many figures are their own, of how many."""
        return {
            "path": str(here.path),
            "file": here.file,
            "text_hash": here.hash,
            "store": str(self.history.runs),
            "whose": list(whose),
            **more,
        }

    def ask(self, name: str, given: Mapping[str, Any], *, behind: bool = False) -> Job | None:
        """Ask for work, and keep that it was asked for; None where other work is being done."""
        job = self.room.ask(work.known(name), dict(given), behind=behind)
        if job is not None and not behind and name not in OF_BOOKS:
            self.history.keep(ASKED, json.dumps([name, dict(given)]))
        return job

    def ended(self, job: Job) -> None:
        """Keep what came of a job; after an answer look, in the background, at worse power."""
        try:
            if job.name in OF_BOOKS:
                self._books_ended(job)
                return
            if not job.behind and job.state == "done":
                self.history.keep(ASKED, "")
            if job.found is None or job.name == "report":
                return
            found = {name: part for name, part in job.found.items() if name != "beside"}
            for name, result in ((job.name, found), *job.found.get("beside", {}).items()):
                kept = {**result, "whose": job.given["whose"], "format": FORMAT}
                self.history.keep_answer(job.given["file"], name, job.given["text_hash"], kept)
            if job.name == "answer" and job.state == "done":
                self.ask("power", job.given, behind=True)
        except Exception as error:  # the engine room goes on whatever becomes of the disk
            print(f"The answer could not be kept: {type(error).__name__}: {error}", file=sys.stderr)

    def _books_ended(self, job: Job) -> None:
        """Remove the workbook, whatever became of the work; of what was found say so among the answers."""
        remove(job.given["sent"])
        if job.found is not None and not job.found["errors"]:
            kept = {"short": job.found["short"], "complete": True, "whose": job.given["whose"], "format": FORMAT}
            self.history.keep_answer(job.given["file"], job.name, job.given["text_hash"], kept)

    def broken_off(self) -> tuple[str, dict[str, Any]] | None:
        """Return what was asked for and did not come to its end, such as by a power cut; None for nothing."""
        with suppress(ValueError):
            name, given = json.loads(self.history.kept(ASKED) or "null") or ("", {})
            if name in WHERE:
                return str(name), dict(given)
        return None

    def newest(self, asked: str, here: Read | None) -> Answer | None:
        """Return the newest answer to a question about a file."""
        found = self.history.answers(here.file, asked) if here is not None else []
        return next((each for each in found if can_be_shown(each)), None)

    # --- pages ---------------------------------------------------------------------------------------------------

    def to(self, path: str) -> Response:
        """Return what sends the browser to another page."""
        return RedirectResponse(f"{self.door.path}/{path}", 303)

    def page(self, template: str, title: str, place: str = "", status: int = 200, /, **values: Any) -> Response:
        """Return a page made of a template; place: which of the places at the top it belongs to."""
        here = self.read()
        shown = {
            "name": "" if here is None or here.scenario is None else here.scenario.name,
            "file": "" if here is None else here.file,
            "saved": "" if here is None else self.moment(here.saved),
        }
        common = {
            "language": LANGUAGE,
            "say": say,
            "translated": translated,
            "base": self.door.path,
            "key": self._key,
            "places": PLACES,
            "place": place,
            "title": title,
            "here": shown,
            "again_s": 0,
        }
        return HTMLResponse(rendered(f"pages/{template}.html", PACKAGE, **{**common, **values}), status)

    def moment(self, when: dt.datetime) -> str:
        """Return a time as it is said today."""
        return moment(when, self.today())

    def _key(self) -> Markup:
        return Markup('<input type="hidden" name="{}" value="{}">').format(FORM_KEY, self.door.form_key)


def can_be_shown(answer: Answer) -> bool:
    """Return whether the page of an answer understands what is kept of it, which another version may have made."""
    return bool(answer.result.get("format") == FORMAT)


def is_old(answer: Answer, here: Read) -> bool:
    """Return whether an answer is about another file than there is now.

    Its text alone may differ where the hospital is the same, as with comments or what may be bought; what to buy
    depends on the latter, and how much to keep carries the text.
    """
    if answer.text_hash == here.hash:
        return False
    same = here.scenario is not None and answer.result.get("scenario_hash") == here.scenario.hash
    return not same or answer.asked in ("buy", "keep")


def desk_of(request: Request) -> Desk:
    """Return the desk that a request is for."""
    found: Desk = request.app.state.desk
    return found


def form_of(request: Request) -> FormData:
    """Return the form that the guard has read."""
    found: FormData = request.scope[FORM]
    return found


def text_in(form: FormData, name: str) -> str:
    """Return a text of a form, "" where it is not there or is a file."""
    found = form.get(name)
    return found if isinstance(found, str) else ""
