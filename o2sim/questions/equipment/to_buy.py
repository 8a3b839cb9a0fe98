"""List what each strategy of a scenario, or of a study of it, needs at its peak, to buy from."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

from o2sim.questions.equipment import equipment as lists
from o2sim.questions.equipment.result import Needed
from o2sim.runs.asked import study_of
from o2sim.runs.settings import Strategies
from o2sim.runs.study import Study
from o2sim.scenario.types.hospital import Scenario
from o2sim.settings import takes
from o2sim.shown import Shown, frame_of
from o2sim.typed import as_json

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True)
class ToBuy(Shown):
    """What to buy for each strategy, and the workshop's year."""

    needed: Needed = field(repr=False)
    study: Study = field(repr=False)

    @cached_property
    def result(self) -> dict[str, Any]:
        """Return the object that `o2sim equipment --json` prints, but for the cautions."""
        return dict(as_json(self.needed))

    def to_frame(self) -> pd.DataFrame:
        """Return a row for each strategy and item.

        Columns strategy, list (equipment or workshop), group, item, quantity (missing where not known), unit,
        highest (the most in use at once that was seen), limited (all there was were in use over 1 % of the time),
        basis and why: where the number comes from.
        """
        return frame_of(self)


@takes(Strategies)
def equipment(source: str | Path | Scenario | Study, *, settings: Strategies, **run_options: Any) -> ToBuy:
    """Return what each strategy needs at its peak: what to buy, what a year uses up, and the workshop's year.

    source: a scenario, its file, or a study, which is not run again. Numbers at once (regulators, flowmeters,
    units ...) are the least that are enough for 99 % of the simulated time. run_options go to run_study:
    replications, seed, engine, workers, progress. Raises O2simError.
    Source: each item says its own (simulated peak, scenario, common practice or assumed, with the rule).
    """
    study = study_of(source, settings.strategies, run_options)
    return ToBuy(lists.equipment(study), study)
