"""The settings of a comparison, for `o2sim compare` and `o2sim report` and for the function of that name."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from o2sim.runs.settings import Strategies
from o2sim.settings import setting
from o2sim.tabular import Rows

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True)
class ChooseSettings:
    """Whether options are compared, and the limits within which one is chosen.

    On the command line a limit of money is read as (amount, currency) and the target as a share.
    """

    options: bool | pd.DataFrame | Rows = setting(False, "Compare the options of the file: which to buy.")
    budget: float | str | None = setting(None, 'For a year, such as "20000 USD/year".', reads="money a year")
    capital: float | str | None = setting(
        None, 'For the first year\'s purchases, such as "60000 USD".', reads="money"
    )
    target: float | str | None = setting(
        None, 'The highest chance of a supply shortfall, such as "5 %".', reads="share"
    )


@dataclass(frozen=True)
class CompareSettings(ChooseSettings, Strategies):
    """Which strategies or options, the limits, and whether what no staff could prevent is to be shown beside."""

    supply_alone: bool = setting(
        False,
        "Also run it as if hands, eyes and the way to the store cost no time: what no staff could prevent.",
    )
