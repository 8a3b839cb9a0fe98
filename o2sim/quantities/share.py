"""A share as written, such as 5 %, read as a number."""

from __future__ import annotations

from typing import TYPE_CHECKING

from o2sim.errors import O2simError, QuantityError
from o2sim.quantities.units import read

if TYPE_CHECKING:
    pass


def share(value: float | str, name: str) -> float:
    """Return a share between 0 and 1 (both excluded) from a number or a text such as `5 %`; raise O2simError."""
    try:
        number = read(value, "share") if isinstance(value, str) else float(value)
    except QuantityError as error:
        raise O2simError(f"{name}: {error}") from error
    if not 0 < number < 1:
        raise O2simError(f"{name}: found {value!r}; allowed: a share above 0 and below 1, such as 5 %")
    return number
