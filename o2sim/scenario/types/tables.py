"""How a CSV file beside a scenario is written, with its keys; what is not stated is never guessed."""

from __future__ import annotations

from dataclasses import dataclass

from o2sim.scenario.keys.record import key, section_of

SEPARATORS = {"comma": ",", "semicolon": ";", "tab": "\t"}
YEAR_FIRST, DAY_FIRST, MONTH_FIRST = DATES = ("year first", "day first", "month first")
POINT, COMMA = DECIMALS = ("point", "comma")


@dataclass(frozen=True)
class Dialect:
    """How the cells of a file are written.

    time_zone_s: how far the clock of the place is ahead of UTC, None where no cell may have an offset. columns:
    the file's own names for a column, two of them where the date and the time stand apart.
    """

    separator: str = key("word", "what stands between the cells of a row", "comma", words=tuple(SEPARATORS))
    decimal: str = key("word", "how 2.5 is written in the file: 2.5 or 2,5", POINT, words=DECIMALS)
    dates: str = key(
        "word", "how 13 February is written in the file: 2027-02-13, 13.02.2027 or 02/13/2027", YEAR_FIRST,
        words=DATES,
    )  # fmt: skip
    time_zone_s: int | None = key(
        "time zone", "the fixed offset of the place; times in the file with an offset or Z are turned to it",
        otherwise="such times are refused",
    )  # fmt: skip
    columns: tuple[tuple[str, tuple[str, ...]], ...] = key(
        "columns", "the file's own names for columns, two where date and time stand apart", value=(),
        otherwise="columns are named as above",
    )  # fmt: skip


DIALECT_KEYS = section_of(Dialect).names
