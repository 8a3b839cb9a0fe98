"""The cells of a table of facilities as a scenario has them, where they have decimal commas or days first."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from o2sim.scenario.building.cells import Cells
from o2sim.scenario.keys.fields import along
from o2sim.scenario.text.problems import quote
from o2sim.scenario.types.tables import Dialect

_DATES = ("date", "month or date")
_NO_NUMBERS = (
    "text",
    "word",
    "currency",
    "names",
    "purchases",
    "sources",
    "weekdays",
    "months",
    "clock",
    "clock times",
    "true or false",
)


def cells_of(dialect: Dialect, every: Iterable[str]) -> Cells:
    """Return a reader of the cells of a table; lists and mappings in brackets stay as in a scenario."""
    return Cells(dialect, every, say=_option, tell=quote)


def as_in_a_scenario(cells: Cells, keys: Sequence[str], cell: str) -> str:
    """Return the text that a scenario would have at a key. Raises CellError."""
    if cell.startswith(("{", "[")):
        return cell
    field = list(along(keys))[-1]
    kind = "" if field is None else field.kind
    if kind in _DATES:
        return cells.moment(cell)[0].date().isoformat() if cell[:1].isdigit() else cell
    return cell if kind in _NO_NUMBERS else cells.number(cell)


def _option(key: str, value: str) -> str:
    return f'--{key} "{value}"' if " " in value else f"--{key} {value}"
