"""Every error a user can meet: where it is, what was found, what is allowed, what to do."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

JOINERS = "\u200c\u200d"  # some scripts need them inside words


def plain(text: str, keep: str = "") -> str:
    """Return a text that is safe on a terminal: control and layout characters as escapes, but those to keep."""
    if text.isprintable():
        return text
    kept = keep + JOINERS
    return "".join(mark if mark.isprintable() or mark in kept else repr(mark)[1:-1] for mark in text)


class O2simError(Exception):
    """Base of every error o2sim raises on purpose; the message is fit to show to a user."""


class QuantityError(O2simError, ValueError):
    """A text that was to be a number with a unit, and is not."""


class InvariantError(O2simError):
    """A balance that must hold exactly did not: a defect of o2sim, never of the scenario."""


class OutputError(O2simError):
    """A result could not be written where the user asked for it."""


@dataclass(frozen=True)
class Problem:
    """One thing wrong (or doubtful) in a scenario file.

    line is 1-based, 0 where no line applies; field is a dotted path such as `cylinders.fleet`.
    """

    file: str
    line: int
    field: str
    found: str
    allowed: str
    hint: str = ""

    def __str__(self) -> str:
        """Return `file:line: field: found ...; allowed: ... (hint)`, in one line and safe on a terminal."""
        place = f"{self.file}:{self.line}" if self.line else self.file
        field = f" {self.field}:" if self.field else ""
        allowed = f"; allowed: {self.allowed}" if self.allowed else ""
        hint = f" ({self.hint})" if self.hint else ""
        return plain(f"{place}:{field} {self.found}{allowed}{hint}")


class ScenarioError(O2simError):
    """A scenario file that cannot be used; carries all its problems at once."""

    where: ClassVar[str] = "in the scenario"

    def __init__(self, problems: list[Problem]) -> None:
        """Take every problem found in one load."""
        self.problems = tuple(problems)
        count = len(self.problems)
        head = f"{count} problem{'s' if count != 1 else ''} {self.where}"
        super().__init__("\n".join([head, *(f"  {problem}" for problem in self.problems)]))


class CountError(ScenarioError):
    """A count that no run can begin from, of --count or of records; carries all its problems at once."""

    where = "in what was counted"
