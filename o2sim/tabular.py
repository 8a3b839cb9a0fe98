"""Read a data frame as the cells that a scenario would have, and make a data frame of rows.

pandas is imported only when a frame is asked for, so that `import o2sim` and the command line stay quick.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from o2sim.errors import O2simError

if TYPE_CHECKING:
    import pandas as pd

LARGEST_ROWS = 1_000_000  # of a frame that is read
MISSING = ("NAType", "NaTType")  # the names of the types of what pandas has for a missing value
EXACT = 2**53  # up to here each whole number is a float


@dataclass(frozen=True)
class Rows:
    """What a data frame would say, for a process without pandas: the heads, and the cells of each row."""

    columns: tuple[str, ...]
    rows: tuple[tuple[Any, ...], ...]

    def __len__(self) -> int:
        """Return how many rows there are."""
        return len(self.rows)


def data_frame(columns: Sequence[str], rows: Iterable[Sequence[Any]]) -> pd.DataFrame:
    """Return a frame with these columns; an empty text or None in a column of numbers is a missing number."""
    import pandas as pd

    listed = [tuple(row) for row in rows]
    return pd.DataFrame({name: _typed([row[place] for row in listed]) for place, name in enumerate(columns)})


def _typed(values: list[Any]) -> list[Any]:
    """Return a column with what is missing as NaN where all the rest are numbers, else as it is."""
    known = [value for value in values if value is not None and value != ""]
    numbers = bool(known) and all(
        isinstance(value, int | float) and not isinstance(value, bool) for value in known
    )
    return [float("nan") if value is None or value == "" else value for value in values] if numbers else values


def is_frame(table: object) -> bool:
    """Return True for a data frame, without importing pandas for it."""
    return all(hasattr(table, name) for name in ("columns", "itertuples", "to_csv"))


def cells(table: Any, what: str) -> tuple[list[str], list[list[str]]]:
    """Return (columns, rows of texts) of a frame or Rows; what is missing is "". Raises O2simError for else."""
    if isinstance(table, Rows):
        return list(table.columns), [[_text(value) for value in row] for row in table.rows]
    if not is_frame(table):
        raise O2simError(f"{what}: found {type(table).__name__}; allowed: a pandas DataFrame")
    if len(table) > LARGEST_ROWS:
        raise O2simError(f"{what}: found {len(table):,} rows; allowed: at most {LARGEST_ROWS:,}")
    head = [str(column).strip() for column in table.columns]
    return head, [[_text(value) for value in row] for row in table.itertuples(index=False, name=None)]


def csv_text(table: Any, what: str) -> str:
    """Return a frame as the text of a CSV file. Raises O2simError for anything else."""
    import csv
    import io

    head, rows = cells(table, what)
    text = io.StringIO(newline="")
    writer = csv.writer(text)
    writer.writerow(head)
    writer.writerows(rows)
    return text.getvalue()


def _text(value: Any) -> str:
    """Return a cell as it would stand in a CSV file: whole numbers without a fraction, true and false in small."""
    if hasattr(value, "item") and getattr(value, "shape", None) == ():  # a number of NumPy's
        value = value.item()
    if value is None or type(value).__name__ in MISSING or (isinstance(value, float) and math.isnan(value)):
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, float) and value.is_integer() and abs(value) < EXACT:
        return str(int(value))
    return str(value).strip()
