"""Work that is asked for, followed, stopped and gone on with; the state is the server's, any page shows it."""

from __future__ import annotations

import json
import time
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from o2sim.desk import work
from o2sim.desk.desk import ASKED, OF_BOOKS, WHERE, Desk, desk_of, form_of, text_in
from o2sim.desk.engine_room import Job
from o2sim.desk.words import duration, say

AGAIN_S = 2  # a page without script asks again
BEGIN = "begin"  # what waits for a yes, by its name among what is kept


def begin(desk: Desk, name: str, given: dict[str, Any]) -> Response:
    """Ask for work and go where it is followed; where other work is being done, ask which is to be done."""
    if desk.ask(name, given) is not None:
        return desk.to("run")
    desk.history.keep(BEGIN, json.dumps([name, given]))
    return desk.to("busy")


def _current(desk: Desk) -> Job | None:
    """Return the job to show: what is at work, else the last one of no background."""
    if (job := desk.room.at_work) is not None:
        return job
    jobs = [desk.room.newest(name) for name in WHERE]
    return max(
        (job for job in jobs if job is not None and not job.behind), key=lambda job: job.number, default=None
    )


def _state(desk: Desk) -> str:
    """Return how work is called on its page: that of the job, or of what was broken off before this desk began."""
    job = _current(desk)
    if job is None:
        return "lost" if desk.broken_off() is not None else "none"
    return "ready" if job.state == "waiting" and not desk.room.is_ready else job.state


async def run(request: Request) -> Response:
    """Show how far the work is; when it is done, go to what came of it."""
    return await run_in_threadpool(_run, request)


def _run(request: Request) -> Response:
    desk = desk_of(request)
    job, state = _current(desk), _state(desk)
    if job is not None and (state == "done" or (state == "stopped" and job.found is not None)):
        wrong = job.name in OF_BOOKS and job.found["errors"]
        return desk.to("records/errors" if wrong else WHERE[job.name])
    going = state in ("ready", "waiting", "running", "stopping")
    of_books = job is not None and job.name in OF_BOOKS
    values = {
        "state": state,
        "of_books": of_books,
        "going": going,
        "error": "" if job is None else job.error,
        **_progress(job),
    }
    return desk.page("run", say(f"run_{state}"), "answer", again_s=AGAIN_S if going else 0, **values)


def _progress(job: Job | None) -> dict[str, Any]:
    """Return how far a job is, in numbers and words; no figure of the answer is in it."""
    if job is None:
        return {"done": 0, "of": 0, "said": "", "years": False}
    years = job.name in ("answer", "report", "buy")
    said = say("run_years" if years else "run_steps", done=job.done, of=job.of) if job.of else ""
    left = job.left_s(time.monotonic())
    if said and left is not None:
        said = say("run_left", said=said, left=duration(left))
    return {"done": min(job.done, job.of), "of": job.of, "said": said, "years": years}


async def state(request: Request) -> Response:
    """Return the same for the script of the page."""
    desk = desk_of(request)
    found = await run_in_threadpool(lambda: {"state": _state(desk), **_progress(_current(desk))})
    return JSONResponse(found)


async def stop(request: Request) -> Response:
    """Stop what is at work."""
    desk = desk_of(request)
    job = desk.room.at_work
    if job is not None:
        desk.room.stop(job.number)
        await run_in_threadpool(_wait, desk, job.number, 1.0)
    return desk.to("run")


def _wait(desk: Desk, number: int, most_s: float) -> None:
    """Wait until a job has ended, but not for long."""
    until = time.monotonic() + most_s
    while time.monotonic() < until and (job := desk.room.job(number)) is not None and not job.has_ended:
        time.sleep(0.02)


async def go_on(request: Request) -> Response:
    """Take up again what was stopped or broken off; what is finished is not done again."""
    desk = desk_of(request)
    last = desk.broken_off()
    if last is None:
        return desk.to("run")
    name, given = last
    here = await run_in_threadpool(desk.folder.read, str(given["file"]))
    if here is None or here.scenario is None:
        desk.history.keep(ASKED, "")
        return desk.to("")
    desk.choose(here.file)
    return await run_in_threadpool(begin, desk, name, {**given, "path": str(here.path), "text_hash": here.hash})


async def busy(request: Request) -> Response:
    """Ask whether the other work is to be stopped for this."""
    desk = desk_of(request)
    job = desk.room.at_work
    if job is None:
        return desk.to("run")
    what = say(f"ask_{job.name}")
    return desk.page(
        "busy", say("busy"), "answer", 409, what=what, done=_progress(job)["said"] or say("run_waiting")
    )


async def instead(request: Request) -> Response:
    """Stop the other work and begin what waits for it."""
    desk = desk_of(request)
    waiting = json.loads(desk.history.kept(BEGIN) or "null")
    if waiting is None or text_in(form_of(request), "do") != BEGIN:
        return desk.to("run")
    job = desk.room.at_work
    if job is not None:
        desk.room.stop(job.number)
        await run_in_threadpool(_wait, desk, job.number, 3.0)
    desk.history.keep(BEGIN, "")
    name, given = waiting
    return await run_in_threadpool(begin, desk, work.known(name), given)
