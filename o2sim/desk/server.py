"""Starts a desk and serves it on this computer alone, until it is closed, stopped, or unused for half a day."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from pathlib import Path

import uvicorn

from o2sim.desk import work
from o2sim.desk.app import application
from o2sim.desk.desk import Desk
from o2sim.desk.door import KEPT_S, DoorFolder, open_door
from o2sim.desk.engine_room import EngineRoom, Job
from o2sim.desk.folder import Folder
from o2sim.desk.history import History
from o2sim.desk.sent_books import SentBooks

MOST_CONNECTIONS = 40
LOOKED_EACH_S = 60.0


def serve(place: Path, file: str, door_folder: DoorFolder, opened: Callable[[str], None]) -> None:
    """Serve the desk of a folder until it ends. file: to begin with; opened: is given the start link."""
    door, listener = open_door(door_folder.kept())
    door_folder.keep(door)
    desk: Desk | None = None
    sent = SentBooks(door_folder.folder)

    def ended(job: Job) -> None:
        if desk is not None:
            desk.ended(job)

    room = EngineRoom(work.get_ready, work.do, ended)
    try:
        desk = Desk(Folder(place), History(place), room, door, door_folder.use_key, sent)
        if file:
            desk.choose(file)
        server = uvicorn.Server(config(desk))
        desk.end = lambda: setattr(server, "should_exit", True)
        threading.Thread(target=_end_unused, args=(desk,), daemon=True).start()
        opened(door_folder.start_link(door))
        server.run(sockets=[listener])
    finally:
        door_folder.keep(door)  # from now on half a day
        room.close()
        sent.clear()
        listener.close()


def config(desk: Desk, **more: float) -> uvicorn.Config:
    """Return how the server is run: it trusts no proxy, knows no socket that stays open, and says no name."""
    return uvicorn.Config(
        application(desk, **more),
        http="h11",
        ws="none",
        lifespan="off",
        loop="asyncio",
        proxy_headers=False,
        server_header=False,
        access_log=False,
        log_level="critical",  # what fails is said in one line, and on the page
        limit_concurrency=MOST_CONNECTIONS,
        timeout_graceful_shutdown=1,
    )


def _end_unused(desk: Desk) -> None:
    while time.monotonic() - desk.used_s < KEPT_S:
        time.sleep(LOOKED_EACH_S)
    desk.end()
