"""Data frames of results: the unit stands in each column's name, where the name does not say it."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from typing import TYPE_CHECKING, Any

from o2sim.errors import O2simError
from o2sim.scenario.changing.levers import Lever

if TYPE_CHECKING:
    import pandas as pd

ENDS = ("low", "high")


def chosen(of: str, makers: Mapping[str, Callable[[], pd.DataFrame]]) -> pd.DataFrame:
    """Return the data frame asked for. Raises O2simError for one that is not made."""
    if of not in makers:
        raise O2simError(f"to_frame: found of={of!r}; allowed: {', '.join(makers)}")
    return makers[of]()


def asked_lever(asked: Mapping[str, Any]) -> Lever:
    """Return a field of a result with its values as numbers in its unit."""
    from o2sim.scenario.changing.levers import design

    ((lever,), _) = design([asked["field"]], [[text] for text in asked["values"]])
    return lever


def value_of(lever: Lever, text: str) -> float | str:
    """Return a value as a number in the field's unit, as a text where it is none."""
    if lever.numbers is None:
        return text
    number = lever.numbers[lever.values.index(text)]
    return int(number) if number.is_integer() else number


def ended(name: str, unit: str = "") -> list[str]:
    """Return the columns of an estimate and of its ends, with the unit."""
    return [f"{name}{end}{unit}" for end in ("", "_low", "_high")]


def numbers(item: Mapping[str, Any] | None) -> Iterator[float | None]:
    """Yield the middle of an estimate and its ends; None where there is no number."""
    if item is None:
        yield from (None, None, None)
        return
    yield item["estimate"] if "estimate" in item else item["mean"]
    yield from (item[end] for end in ENDS)
