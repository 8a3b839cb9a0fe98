"""The engine room: one job at a time, stopped within a second, and nothing finished is lost."""

import os
import signal
import time

import fake_work
import pytest
from desk_server import until

from o2sim.desk.engine_room import EngineRoom


@pytest.fixture(scope="module")
def room():
    """Give a room whose child counts, sleeps, fails, hangs and dies as it is asked."""
    found = EngineRoom(fake_work.get_ready, fake_work.do)
    yield found
    found.close()


def ended(room, job, most_s=10.0):
    """Return a job when it has ended."""
    assert until(lambda: room.job(job.number).has_ended, most_s)
    return room.job(job.number)


def test_a_job_that_was_asked_for_before_the_engine_is_ready_is_done():
    """It waits, and is begun when the engine is ready: being ready writes over no state of a job."""
    room = EngineRoom(fake_work.get_ready_slowly, fake_work.do)
    try:
        job = room.ask("count", {})
        assert (job.state, room.is_ready) == ("waiting", False)
        assert (ended(room, job).state, room.is_ready) == ("done", True)
    finally:
        room.close()


def test_a_job_says_how_far_it_is_and_what_it_found(room):
    """What came of it is there at the end, with all of its steps."""
    job = ended(room, room.ask("count", {"of": 5}))
    assert (job.state, job.found["done"], job.done, job.of) == ("done", 5, 5, 5)


def test_only_one_job_is_worked_on(room):
    """A second one is not taken while the first is at work."""
    first = room.ask("count", {"of": 20, "each_s": 0.02})
    assert room.ask("count", {}) is None
    assert ended(room, first).state == "done"


def test_stop_gives_what_was_done_within_a_second(room):
    """Who is asked to stop between two steps says how far it came."""
    job = room.ask("count", {"of": 1_000, "each_s": 0.02})
    assert until(lambda: room.job(job.number).done > 2)
    began = time.monotonic()
    room.stop(job.number)
    stopped = ended(room, job)
    assert (stopped.state, stopped.found["complete"], time.monotonic() - began < 1) == ("stopped", False, True)


def test_who_does_not_stop_is_killed_and_the_room_goes_on(room):
    """A job that hears nothing is stopped after two seconds, and the next one is done by another child."""
    job = room.ask("hang", {})
    assert until(lambda: room.job(job.number).state == "running")
    began = time.monotonic()
    room.stop(job.number)
    assert room.job(job.number).state == "stopping"
    assert (ended(room, job).state, time.monotonic() - began < 3) == ("stopped", True)
    assert ended(room, room.ask("count", {})).state == "done"


def test_what_waits_is_stopped_at_once():
    """A job that was not begun yet needs no child to stop it."""
    room = EngineRoom(fake_work.get_ready_slowly, fake_work.do)
    try:
        job = room.ask("count", {})
        room.stop(job.number)
        assert room.job(job.number).state == "stopped"
    finally:
        room.close()


@pytest.mark.parametrize(("name", "said"), [("fail", "found 3; allowed: 2"), ("break", "ZeroDivisionError: by 0")])
def test_a_job_that_fails_says_why_and_the_room_goes_on(room, name, said):
    """What is wrong with the input is said as it is; of a defect its kind is said, for whoever helps."""
    job = ended(room, room.ask(name, {}))
    assert (job.state, job.error) == ("failed", said)
    assert ended(room, room.ask("count", {})).state == "done"


def test_a_child_that_is_killed_from_outside_is_known_as_lost(room):
    """After kill -9 the job is lost, known soon, and the next one is done by another child."""
    job = room.ask("count", {"of": 1_000, "each_s": 0.02})
    assert until(lambda: room.job(job.number).state == "running")
    os.kill(room.process_id, signal.SIGKILL)
    assert ended(room, job, 2.0).state == "lost"
    assert ended(room, room.ask("count", {})).state == "done"


def test_work_in_the_background_gives_way_and_goes_on(room):
    """A job that somebody asks for is done first; what ran behind is taken up again after it."""
    behind = room.ask("count", {"of": 60, "each_s": 0.02}, behind=True)
    assert until(lambda: room.job(behind.number).state == "running")
    front = room.ask("count", {})
    assert ended(room, front).state == "done"
    assert room.job(behind.number).state in ("waiting", "running")
    assert ended(room, behind).state == "done"


def test_a_child_that_dies_while_it_gets_ready_loses_what_waits():
    """A child that cannot be made ready is not begun for ever with the same job."""
    room = EngineRoom(os.abort, fake_work.do)
    try:
        job = room.ask("count", {})
        assert ended(room, job).state == "lost"
    finally:
        room.close()
