"""The workbook that was sent, for as long as nobody has read it: one private file, then no trace of it.

It lies in the folder of the door, which nobody else can read, and not in that of the hospitals. Who reads it
removes it; the desk removes it too when the work ends in whatever way, and what a desk left that was killed goes
as the next one begins.
"""

from __future__ import annotations

import os
import shutil
import tempfile
from pathlib import Path

PREFIX = "sent-"
NAME = "records.xlsx"  # whatever it was called: a name may be that of a patient


class SentBooks:
    """Where workbooks lie that were sent."""

    def __init__(self, folder: Path) -> None:
        """Take a folder that nobody else can read; what an earlier desk left there is removed."""
        self.folder = folder
        self.clear()

    def put(self, content: bytes) -> Path:
        """Write a workbook, readable by its user alone, and return where."""
        path = Path(tempfile.mkdtemp(prefix=PREFIX, dir=self.folder)) / NAME
        with os.fdopen(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as file:
            file.write(content)
        return path

    def clear(self) -> None:
        """Remove all of them."""
        for each in self.folder.glob(f"{PREFIX}*"):
            shutil.rmtree(each, ignore_errors=True)


def remove(path: str | Path) -> None:
    """Remove a workbook that was sent, where it is still there."""
    folder = Path(path).parent
    if folder.name.startswith(PREFIX):
        shutil.rmtree(folder, ignore_errors=True)
