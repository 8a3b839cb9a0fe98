"""Writes the text of a scenario file whole or not at all, and never over what somebody else wrote meanwhile."""

from __future__ import annotations

import hashlib
import os
import tempfile
from contextlib import suppress
from pathlib import Path

from o2sim.errors import OutputError
from o2sim.scenario.text import nodes
from o2sim.scenario.text.problems import Problems
from o2sim.scenario.text.source import BYTE_ORDER_MARK

NO_FILE = ""  # the hash of a file that is not there


class ChangedMeanwhileError(OutputError):
    """The file is not what it was when the text to be written was made of it."""


def text_hash(text: str) -> str:
    """Return the SHA-256 of a text as it stands in a file, in hex digits."""
    return hashlib.sha256(text.encode()).hexdigest()


def exact_text(path: Path) -> str:
    """Return the text of a file letter by letter: a mark at its beginning and the ends of its lines stay.

    Raises ScenarioError where it is no UTF-8 text or larger than a scenario may be, OutputError where it cannot be
    read.
    """
    try:
        with path.open("rb") as file:
            data = file.read(nodes.LARGEST_FILE + 1)
    except (OSError, ValueError) as error:  # ValueError: a NUL in the name
        raise OutputError(f"{path}: cannot be read ({getattr(error, 'strerror', None) or error})") from error
    problems = Problems(str(path))
    if len(data) > nodes.LARGEST_FILE:
        nodes.fatal(problems, 0, "the file is too large", f"at most {nodes.LARGEST_FILE // 1024} kB")
    text = nodes.decode(data, problems)
    return f"{BYTE_ORDER_MARK}{text}" if data.startswith(BYTE_ORDER_MARK.encode()) else text


def write_safely(path: Path, text: str, expected_hash: str) -> None:
    """Put a text in place of that of a file: under a temporary name, on the disk, then renamed.

    expected_hash: of the text that was read; NO_FILE for a file that must not be there yet. Raises
    ChangedMeanwhileError where another text stands there, OutputError where it cannot be written; the file is
    then as it was.
    """
    target = path.resolve()  # a link stays one
    try:
        handle, name = tempfile.mkstemp(prefix=f".{target.name}.", suffix=".part", dir=target.parent)
        draft = Path(name)
        try:
            with os.fdopen(handle, "wb") as file:
                file.write(text.encode())
                file.flush()
                os.fsync(file.fileno())
            draft.chmod(target.stat().st_mode & 0o777 if target.exists() else 0o644)
            _require(target, expected_hash)  # as late as can be
            os.replace(draft, target)
        finally:
            draft.unlink(missing_ok=True)
        _sync_folder(target.parent)
    except (OSError, ValueError) as error:
        raise OutputError(f"{path}: cannot be written ({getattr(error, 'strerror', None) or error})") from error


def _require(path: Path, expected_hash: str) -> None:
    found = hashlib.sha256(path.read_bytes()).hexdigest() if path.exists() else NO_FILE
    if found == expected_hash:
        return
    if not found:
        raise ChangedMeanwhileError(f"{path}: is no longer there; nothing was written")
    if not expected_hash:
        raise ChangedMeanwhileError(f"{path}: is there already; choose another name; nothing was written")
    raise ChangedMeanwhileError(f"{path}: was changed meanwhile; nothing was written; look at both texts")


def _sync_folder(folder: Path) -> None:
    """Have the new name on the disk, where the system lets a folder be opened (Windows does not)."""
    with suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
