"""The settings of a study of many facilities, for `o2sim study` and for the function of that name."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from o2sim.errors import O2simError
from o2sim.runs import settings as shared
from o2sim.settings import setting

if TYPE_CHECKING:
    import pandas as pd

    from o2sim.scenario.types.tables import Dialect

# The words of o2sim.scenario.types.tables, which --help must not load; a test compares them.
DECIMALS = ("point", "comma")
DATES = ("year first", "day first", "month first")


@dataclass(frozen=True)
class FacilitySettings:
    """How each facility is run."""

    strategies: Sequence[str] | None = shared.strategies()
    replications: int = shared.replications(
        100, "How many times to run the horizon of each facility, fixed beforehand."
    )
    seed: int = shared.seed()
    engine: str = shared.engine()
    workers: int | None = shared.workers()
    draws: str | Path | pd.DataFrame | None = shared.draws()
    skip_bad: bool = setting(False, "Leave out facilities that cannot be run, and say which.")
    decimal: str = setting(DECIMALS[0], "How 2.5 is written in the table: 2.5 or 2,5.", choices=DECIMALS)
    dates: str = setting(
        DATES[0],
        "How 13 February is written in the table: 2027-02-13, 13.02.2027 or 02/13/2027.",
        choices=DATES,
    )

    @property
    def dialect(self) -> Dialect:
        """Return how the table is written. Raises O2simError."""
        from o2sim.scenario.text.problems import listing
        from o2sim.scenario.types.tables import Dialect

        for name, found, allowed in (("decimal", self.decimal, DECIMALS), ("dates", self.dates, DATES)):
            if found not in allowed:
                raise O2simError(f"{name}: found {found!r}; allowed: {listing(allowed)}")
        return Dialect(decimal=self.decimal, dates=self.dates)
