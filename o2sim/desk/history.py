"""What the desk keeps beside the scenarios: answers, changes, drafts, which file is chosen; one SQLite file.

Each write is one transaction, so that a power cut loses nothing that was shown as kept. Finished replications lie
in a store of runs beside it, made by `o2sim.runs`.
"""

from __future__ import annotations

import datetime as dt
import json
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from o2sim.version import __version__

FILE, RUNS = "o2sim-desk.sqlite", f"o2sim-desk-runs-{__version__}.sqlite"
WAIT_S = 10.0
BOOKS = ("main", "pictures", "page", "draws", "match", "match page")  # parts of what the books of a file gave
TABLES = """
CREATE TABLE IF NOT EXISTS answers (
    id INTEGER PRIMARY KEY, made TEXT NOT NULL, file TEXT NOT NULL, asked TEXT NOT NULL, text_hash TEXT NOT NULL,
    result TEXT NOT NULL);
CREATE TABLE IF NOT EXISTS changes (
    id INTEGER PRIMARY KEY, made TEXT NOT NULL, file TEXT NOT NULL, what TEXT NOT NULL, before TEXT,
    after_hash TEXT NOT NULL, undone INTEGER NOT NULL DEFAULT 0);
CREATE TABLE IF NOT EXISTS drafts (
    file TEXT NOT NULL, question TEXT NOT NULL, choice TEXT NOT NULL, typed TEXT NOT NULL,
    PRIMARY KEY (file, question));
CREATE TABLE IF NOT EXISTS kept (name TEXT PRIMARY KEY, value TEXT NOT NULL);
"""


@dataclass(frozen=True)
class Answer:
    """An answer that was worked out: when, of which file and text, to what question, and what it says."""

    id: int
    made: dt.datetime
    file: str
    asked: str
    text_hash: str
    result: dict[str, Any] = field(repr=False)


@dataclass(frozen=True)
class Change:
    """A change of a file at the desk; before: its whole text then, None where it was made here."""

    id: int
    made: dt.datetime
    file: str
    what: str
    before: str | None = field(repr=False)
    after_hash: str
    undone: bool


@dataclass(frozen=True)
class Draft:
    """What was typed for a question and which of the choices was taken ("" for none)."""

    choice: str = ""
    typed: str = ""


class History:
    """The file; a connection for each use, so that any thread may."""

    def __init__(self, folder: Path) -> None:
        """Take the folder that the desk works in; nothing is written yet."""
        self.path, self.runs = folder / FILE, folder / RUNS

    @contextmanager
    def _open(self) -> Iterator[sqlite3.Connection]:
        connection = sqlite3.connect(self.path, timeout=WAIT_S)
        try:
            connection.execute("PRAGMA secure_delete = ON")  # what is forgotten is not left in free pages
            connection.executescript(TABLES)
            with connection:
                yield connection
        finally:
            connection.close()

    # --- answers -------------------------------------------------------------------------------------------------

    def keep_answer(self, file: str, asked: str, text_hash: str, result: dict[str, Any]) -> int:
        """Keep an answer and return its number."""
        with self._open() as db:
            row = (_now(), file, asked, text_hash, json.dumps(result))
            found = db.execute(
                "INSERT INTO answers (made, file, asked, text_hash, result) VALUES (?, ?, ?, ?, ?)", row
            )
            return int(found.lastrowid or 0)

    def answers(self, file: str = "", asked: str = "", most: int = 50) -> list[Answer]:
        """Return the answers, newest first; of a file and to a question where they are named."""
        query = (
            "SELECT id, made, file, asked, text_hash, result FROM answers WHERE (? = '' OR file = ?) AND "
            "(? = '' OR asked = ?) ORDER BY id DESC LIMIT ?"
        )
        with self._open() as db:
            return [_answer(row) for row in db.execute(query, (file, file, asked, asked, most))]

    def answer(self, number: int) -> Answer | None:
        """Return one answer."""
        with self._open() as db:
            query = "SELECT id, made, file, asked, text_hash, result FROM answers WHERE id = ?"
            row = db.execute(query, (number,)).fetchone()
        return None if row is None else _answer(row)

    # --- changes -------------------------------------------------------------------------------------------------

    def keep_change(self, file: str, what: str, before: str | None, after_hash: str) -> None:
        """Keep what was changed, and the text before it."""
        with self._open() as db:
            row = (_now(), file, what, before, after_hash)
            db.execute("INSERT INTO changes (made, file, what, before, after_hash) VALUES (?, ?, ?, ?, ?)", row)

    def changes(self, file: str, most: int = 50) -> list[Change]:
        """Return the changes of a file, newest first."""
        query = (
            "SELECT id, made, file, what, before, after_hash, undone FROM changes WHERE file = ? "
            "ORDER BY id DESC LIMIT ?"
        )
        with self._open() as db:
            rows = db.execute(query, (file, most)).fetchall()
        return [
            Change(number, _time(made), name, what, before, after, bool(undone))
            for number, made, name, what, before, after, undone in rows
        ]

    def mark_undone(self, number: int) -> None:
        """Say of a change that it was undone."""
        with self._open() as db:
            db.execute("UPDATE changes SET undone = 1 WHERE id = ?", (number,))

    # --- drafts, and what is chosen ------------------------------------------------------------------------------

    def keep_draft(self, file: str, question: str, draft: Draft) -> None:
        """Keep what was typed for a question of a file ("" for one that is not written yet)."""
        with self._open() as db:
            db.execute("INSERT OR REPLACE INTO drafts VALUES (?, ?, ?, ?)",
                       (file, question, draft.choice, draft.typed))  # fmt: skip

    def drafts(self, file: str) -> dict[str, Draft]:
        """Return what was typed, by question."""
        with self._open() as db:
            rows = db.execute("SELECT question, choice, typed FROM drafts WHERE file = ?", (file,)).fetchall()
        return {question: Draft(choice, typed) for question, choice, typed in rows}

    def drop_drafts(self, file: str, questions: list[str] | None = None) -> None:
        """Forget what was typed of a file, of some questions or of all: it stands in the file now."""
        with self._open() as db:
            if questions is None:
                db.execute("DELETE FROM drafts WHERE file = ?", (file,))
            else:
                db.executemany(
                    "DELETE FROM drafts WHERE file = ? AND question = ?", [(file, q) for q in questions]
                )

    def keep(self, name: str, value: str) -> None:
        """Keep a value by its name, such as which file is chosen."""
        with self._open() as db:
            db.execute("INSERT OR REPLACE INTO kept VALUES (?, ?)", (name, value))

    def kept(self, name: str) -> str:
        """Return a value, "" where there is none."""
        with self._open() as db:
            row = db.execute("SELECT value FROM kept WHERE name = ?", (name,)).fetchone()
        return "" if row is None else str(row[0])

    def forget(self, file: str) -> None:
        """Remove all that is kept of a file, and all finished replications: others are simply run again."""
        with self._open() as db:
            for table in ("answers", "changes", "drafts"):
                db.execute(f"DELETE FROM {table} WHERE file = ?", (file,))
            db.execute("DELETE FROM kept WHERE name = ?", (printed_name(file),))
        self.drop_books(file)
        for name in (
            self.runs,
            *(self.runs.with_name(self.runs.name + end) for end in ("-wal", "-shm", "-journal")),
        ):
            name.unlink(missing_ok=True)

    def drop_books(self, file: str) -> None:
        """Forget what the books of a file gave."""
        with self._open() as db:
            db.executemany("DELETE FROM kept WHERE name = ?", [(kept_of_books(part, file),) for part in BOOKS])

    def name_books(self, file: str) -> None:
        """Give what the books of a new hospital gave, and the answers of it, to the file that it has now."""
        with self._open() as db:
            for part in BOOKS:
                names = (kept_of_books(part, file), kept_of_books(part, ""))
                db.execute("DELETE FROM kept WHERE name = ?", names[:1])
                db.execute("UPDATE kept SET name = ? WHERE name = ?", names)
            db.execute("UPDATE answers SET file = ? WHERE file = ''", (file,))


def kept_of_books(part: str, file: str) -> str:
    """Return under what name a part of what the books of a file gave is kept."""
    return f"books, {part} {file}"


def printed_name(file: str) -> str:
    """Return under what name it is kept which sheets of a file were opened to print."""
    return f"printed {file}"


def _now() -> str:
    return dt.datetime.now().isoformat(timespec="seconds")


def _time(text: str) -> dt.datetime:
    return dt.datetime.fromisoformat(text)


def _answer(row: tuple[Any, ...]) -> Answer:
    number, made, file, asked, text_hash, result = row
    return Answer(number, _time(made), file, asked, text_hash, json.loads(result))
