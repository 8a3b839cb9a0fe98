"""Port, path and pass of a desk, kept for half a day, and the links that let one browser in once.

All lies in a folder of the user's own, which nobody else can read: an open tab goes on after a power cut, and a
second `o2sim desk` for the same folder opens a window on the first.
"""

from __future__ import annotations

import hashlib
import json
import os
import secrets
import socket
import sys
import time
from contextlib import suppress
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import IO

from o2sim.errors import O2simError

LOOPBACK = "127.0.0.1"
KEPT_S = 12 * 3600
KEY_S = 120.0  # a start link is valid
LOCKED_BYTE = 1 << 20  # of the lock's file, far behind what is in it: Windows lets nobody read what is locked


@dataclass(frozen=True)
class Door:
    """Where a desk is found, and the pass that a browser must show there."""

    port: int
    path: str  # below which all pages lie, at random: cookies know no ports, but paths
    password: str

    @property
    def hosts(self) -> tuple[str, str]:
        """Return what a browser may call this computer."""
        return f"{LOOPBACK}:{self.port}", f"localhost:{self.port}"

    @property
    def form_key(self) -> str:
        """Return what every form of ours carries, and no page of others can know."""
        return hashlib.sha256(f"form {self.password}".encode()).hexdigest()

    @property
    def address(self) -> str:
        """Return the address of the first page."""
        return f"http://{LOOPBACK}:{self.port}{self.path}/"


class DoorFolder:
    """The folder with what is kept of one desk; a desk that runs holds its lock."""

    def __init__(self, place: Path, base: Path | None = None) -> None:
        """Take the folder that the desk works in; base: where such folders lie, the user's own by default."""
        name = hashlib.sha256(str(place.resolve()).encode()).hexdigest()[:16]
        self.folder = (base or _state_folder()) / name
        self.folder.mkdir(parents=True, exist_ok=True, mode=0o700)
        self.folder.chmod(0o700)
        self._lock: IO[bytes] | None = None

    @property
    def _file(self) -> Path:
        return self.folder / "door.json"

    def is_first(self) -> bool:
        """Take the lock and return True; False where another desk has it."""
        lock = (self.folder / "lock").open("ab")
        if not _locked(lock):
            lock.close()
            return False
        self._lock = lock
        return True

    def leave(self) -> None:
        """Give the lock back."""
        if self._lock is not None:
            self._lock.close()
            self._lock = None

    def kept(self) -> Door | None:
        """Return what was kept, None where there is none or it is too old."""
        with suppress(OSError, ValueError, TypeError):
            if time.time() - self._file.stat().st_mtime <= KEPT_S:
                return Door(**json.loads(self._file.read_text(encoding="utf-8")))
        return None

    def keep(self, door: Door) -> None:
        """Keep it from now on."""
        write_private(self._file, json.dumps(asdict(door)))

    def start_link(self, door: Door) -> str:
        """Return a link that lets one browser in, once, within two minutes."""
        key = secrets.token_urlsafe(32)
        write_private(self._key_file(key), "")
        return f"http://{LOOPBACK}:{door.port}/open/{key}"

    def use_key(self, key: str, now_s: float | None = None) -> bool:
        """Return whether a start key is right and not too old; it is then used up."""
        file = self._key_file(key)
        try:
            age_s = (time.time() if now_s is None else now_s) - file.stat().st_mtime
            file.unlink()  # of two that come at once, only one succeeds
        except OSError:
            return False
        return age_s <= KEY_S

    def start_page(self, link: str, sentence: str) -> Path:
        """Write a page that leads to a start link, so that the key stands in no list of processes."""
        page = self.folder / "open.html"
        head = f'<!DOCTYPE html><meta charset="utf-8"><meta http-equiv="refresh" content="0; url={link}">'
        write_private(page, f'{head}<p><a href="{link}">{sentence}</a></p>')
        return page

    def _key_file(self, key: str) -> Path:
        return self.folder / f"key-{hashlib.sha256(key.encode()).hexdigest()}"


def open_door(kept: Door | None) -> tuple[Door, socket.socket]:
    """Return the door and a socket that listens there: the one kept, where its port is free. Raises O2simError."""
    if kept is not None:
        with suppress(OSError):
            return kept, _listening(kept.port)
    try:
        found = _listening(0)
    except OSError as error:
        why = error.strerror or error
        raise O2simError(
            f"{LOOPBACK}: cannot be listened to ({why}); allow programs of this computer that"
        ) from error
    return Door(found.getsockname()[1], f"/{secrets.token_hex(8)}", secrets.token_urlsafe(32)), found


def _listening(port: int) -> socket.socket:
    listener = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    try:
        if os.name == "posix":  # elsewhere it would let another program take the port
            listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listener.bind((LOOPBACK, port))
        listener.listen(64)
    except OSError:
        listener.close()
        raise
    return listener


def write_private(path: Path, text: str) -> None:
    """Write a file that only its user can read, whole or not at all."""
    beside = path.with_name(f".{path.name}.{secrets.token_hex(4)}")
    with os.fdopen(os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "w", encoding="utf-8") as file:
        file.write(text)
    beside.replace(path)


def _state_folder() -> Path:
    if os.name == "nt":
        return Path(os.environ.get("LOCALAPPDATA") or Path.home()) / "o2sim" / "desk"
    base = os.environ.get("XDG_STATE_HOME")
    return (Path(base) if base else Path.home() / ".local" / "state") / "o2sim" / "desk"


def _locked(file: IO[bytes]) -> bool:
    """Return whether the lock of a file could be taken; it goes with the process that has it."""
    try:
        if sys.platform == "win32":
            import msvcrt

            file.seek(LOCKED_BYTE)
            msvcrt.locking(file.fileno(), msvcrt.LK_NBLCK, 1)
        else:
            import fcntl

            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        return False
    return True
