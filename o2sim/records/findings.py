"""What is wrong with records, or doubtful: each at its cell, with what was found, what is allowed, what to write.

A message quotes dates, numbers and words of our own lists only: the books hold patients.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass

from o2sim.errors import O2simError, plain

MOST_ALIKE = 20  # of one column: nobody reads more
FEW = 5  # a count of patients below it is not written out


@dataclass(frozen=True)
class Finding:
    """One thing wrong or doubtful. cell: as F14 or `rows 40 and 41`, empty for the sheet or file as a whole."""

    file: str
    sheet: str
    cell: str
    column: str
    found: str
    allowed: str = ""
    write: str = ""

    def __str__(self) -> str:
        """Return it in one line, safe on a terminal."""
        where = ", ".join(part for part in (self.file, self.sheet, self.cell) if part)
        head = f" ({self.column})" if self.column else ""
        mark = "" if self.found.endswith("?") else ";"
        allowed = f"{mark} allowed: {self.allowed}" if self.allowed else ""
        write = f" - {self.write}" if self.write else ""
        return plain(f"{where}{head}: {self.found}{allowed}{write}")


class RecordsError(O2simError):
    """Records that cannot be used; carries all that is wrong, and what is doubtful besides."""

    def __init__(self, errors: Iterable[Finding], cautions: Iterable[Finding] = ()) -> None:
        """Take every finding of one reading."""
        self.errors, self.cautions = tuple(errors), tuple(cautions)
        count = len(self.errors)
        head = f"{count} problem{'s' if count != 1 else ''} in the records"
        super().__init__("\n".join([head, *(f"  {each}" for each in self.errors)]))


class Findings:
    """Collects what is wrong and what is doubtful; of one column only the first are written out, with a count."""

    def __init__(self, file: str) -> None:
        """Take the name of the file as the user knows it."""
        self.file = file
        self._errors: list[Finding] = []
        self._cautions: list[Finding] = []
        self._more: Counter[tuple[str, str, bool]] = Counter()

    def wrong(self, sheet: str, cell: str, column: str, found: str, allowed: str = "", write: str = "") -> None:
        """Note an error."""
        self._note(self._errors, Finding(self.file, sheet, cell, column, found, allowed, write), doubtful=False)

    def doubt(self, sheet: str, cell: str, column: str, found: str, write: str = "") -> None:
        """Note a caution."""
        self._note(self._cautions, Finding(self.file, sheet, cell, column, found, "", write), doubtful=True)

    def _note(self, noted: list[Finding], finding: Finding, *, doubtful: bool) -> None:
        key = (finding.sheet, finding.column, doubtful)
        self._more[key] += 1
        if self._more[key] <= MOST_ALIKE:
            noted.append(finding)

    def _all(self, noted: list[Finding], *, doubtful: bool) -> tuple[Finding, ...]:
        """Return those written out, and for each column how many there are besides."""
        more = [
            Finding(self.file, sheet, "", column, f"{count - MOST_ALIKE} more like these, not listed")
            for (sheet, column, kind), count in self._more.items()
            if kind == doubtful and count > MOST_ALIKE
        ]
        return (*noted, *more)

    @property
    def errors(self) -> tuple[Finding, ...]:
        """Return what is wrong so far."""
        return self._all(self._errors, doubtful=False)

    @property
    def cautions(self) -> tuple[Finding, ...]:
        """Return what is doubtful so far."""
        return self._all(self._cautions, doubtful=True)

    def stop(self) -> None:
        """Raise RecordsError where anything is wrong."""
        if self._errors:
            raise RecordsError(self.errors, self.cautions)


def few(count: int) -> str:
    """Return a count of patients, the small ones merged."""
    return f"under {FEW}" if 0 < count < FEW else f"{count:,}"
