"""Compare the strategies or options of a scenario, or of a study of it, and say which to buy."""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property, partial
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from o2sim.errors import O2simError
from o2sim.measures.measures import summarise
from o2sim.measures.supply_alone import SupplyAlone, beside
from o2sim.quantities.units import Per, read_money, share
from o2sim.questions.choose.options import (
    currency_of,
    decide,
    options_scenario,
    procurement,
    refuse_draws,
    with_more_demand,
)
from o2sim.questions.choose.result import Decision, Limits
from o2sim.questions.choose.settings import CompareSettings
from o2sim.runs.asked import scenario_of, study_of
from o2sim.runs.study import Study, run_study
from o2sim.runs.supply_alone import companion_of
from o2sim.scenario.changing.option_table import options_of_table
from o2sim.scenario.types.hospital import Scenario
from o2sim.settings import takes
from o2sim.shown import Chart, Shown, chart_of, frame_of
from o2sim.statistics.estimator import Summary
from o2sim.tabular import Rows
from o2sim.typed import as_json

if TYPE_CHECKING:
    import pandas as pd

WHO = (
    "workers",
    "crew",
    "store",
    "chunk_size",
    "progress",
)  # of the options of a run, who does it and what is kept


@dataclass(frozen=True)
class Comparison(Shown):
    """Strategies, or options, that met the same patients, power cuts and roads; and which of them to buy.

    study holds the outcomes, limits what was asked for. summary is the object that `o2sim compare --json` prints,
    decision its part of that name: see `o2sim.questions.choose.result.Decision`. companion is the run with perfect
    handling, None where it was not asked for.
    """

    study: Study = field(repr=False)
    limits: Limits
    confidence: float = 0.95
    companion: Study | None = field(default=None, repr=False)

    @cached_property
    def summary(self) -> Summary:
        """Return every measure of every strategy with its interval, and the paired differences."""
        found = summarise(self.study, self.confidence)
        return found if self.supply_alone is None else {**found, "supply_alone": as_json(self.supply_alone)}

    @cached_property
    def supply_alone(self) -> SupplyAlone | None:
        """Return what no staff could prevent, by strategy; None where the companion run was not asked for."""
        return None if self.companion is None else beside(self.study, self.companion, self.confidence)

    @cached_property
    def decided(self) -> Decision:
        """Return which to buy, as a record."""
        found = decide(self.study, self.limits, self.confidence)
        return dataclasses.replace(found, procurement=procurement(self.study, found.chosen))

    @cached_property
    def decision(self) -> dict[str, Any]:
        """Return which to buy: options, frontier, steps, best, within_budget, within_target, chosen, cheque."""
        return {key: value for key, value in as_json(self.decided).items() if key != "more_demand"}

    @property
    def chosen(self) -> str:
        """Return the name of the strategy or option to go on with."""
        return self.decided.chosen

    @property
    def frontier(self) -> tuple[str, ...]:
        """Return the names that no other dominates, by rising cost; nothing without prices."""
        return self.decided.frontier

    def more_demand(self, factor: float = 1.2) -> dict[str, Any]:
        """Return what becomes of the chosen one if admissions rise by a factor, run again with the same seed.

        {factor, complete, annual_cost, recurrent_a_year (money), stock_out_probability (0 to 1),
        unserved_patient_hours (a year)}; {factor, complete, why_not} where it cannot be known.
        """
        return dict(as_json(with_more_demand(self.study, self.chosen, factor)))

    def to_frame(
        self, of: Literal["options", "differences", "measures", "supply alone"] = "options"
    ) -> pd.DataFrame:
        """Return the comparison as a data frame.

        options: a row for each strategy or option, in their order, what it chooses (of options), then measures
        with the ends of their intervals: stock_out_probability (share of replications, 0 to 1),
        unserved_patient_hours (a year), annual_cost and first_year_capital in the currency of the prices, and
        dominated_by and chosen. differences: a row for each pair and measure. measures: the long table of
        Study.to_frame. supply alone: a row for each strategy, run (as in the file, supply alone, handling) and
        measure; O2simError where that was not run.
        """
        return frame_of(self, of=of)

    def chart(self) -> Chart:
        """Return cost a year against reliability: frontier numbered, dominated ones grey, the chosen one ringed.

        study.chart draws the rest. Raises O2simError without prices.
        """
        return chart_of(self)


@takes(CompareSettings)
def compare(
    source: str | Path | Scenario | Study,
    *,
    settings: CompareSettings,
    of: str | None = None,
    confidence: float | str = 0.95,
    **run_options: Any,
) -> Comparison:
    """Return strategies, or options, side by side under the same luck, and which of them to buy.

    source: a scenario, its file, or a study, which is not run again. strategies: some of them by name (default:
    all). options: True for those of the section `options` of the file, or a data frame of them: a row an option, a
    column for each field that they set (dotted, such as cylinders.fleet; cells as in the file, 40 or "3 kWh";
    empty where `of`, the strategy they change, is left as it is), and `name`, if they are to have names. budget
    (money a year) and capital (money in the first year), numbers in the currency of the prices or texts such as
    "20000 USD/year" and "60000 USD"; target, the highest chance of a stock-out within the horizon (a share, or "5
    %"). supply_alone: also make the companion run, of perfect handling: what no staff could prevent. confidence:
    a share. run_options go to run_study: replications, precision, seed, engine, workers, progress. Ctrl-C gives
    what is done. Raises O2simError; ScenarioError with all that is wrong with the options.
    Source: the best and those not clearly different from it are a subset selection (Gupta 1965), chances compared
    by discordant pairs (McNemar 1947); both from memory, see statistics/selection.py.
    """
    if settings.options is not False or (settings.budget, settings.capital, settings.target) != (None,) * 3:
        refuse_draws(source.joint if isinstance(source, Study) else run_options.get("draws"))
    study = study_of(*_asked(source, settings.strategies, settings.options, of), run_options)
    limits = Limits(
        budget=_money(settings.budget, "budget", "year", study),
        capital=_money(settings.capital, "capital", "", study),
        target=None if settings.target is None else share(settings.target, "target"),
    )
    who = {name: run_options[name] for name in WHO if name in run_options}
    companion = companion_of(study, partial(run_study, **who)) if settings.supply_alone else None
    return Comparison(study, limits, share(confidence, "confidence"), companion)


def _asked(
    source: str | Path | Scenario | Study,
    strategies: Sequence[str] | None,
    options: bool | pd.DataFrame | Rows,
    of: str | None,
) -> tuple[str | Path | Scenario | Study, Sequence[str] | None]:
    """Return what is to be run: with options the scenario whose strategies they are."""
    if options is False:
        if of is not None:
            raise O2simError("compare: found `of` without options; it is the strategy that options change")
        return source, strategies
    if isinstance(source, Study):
        raise O2simError("compare: found a study and options; allowed: the scenario, whose options are to be run")
    scenario = scenario_of(source)
    if options is not True:
        scenario = options_of_table(scenario, options, of)
    elif of is not None:
        raise O2simError("compare: the options of the file say themselves what they change; leave `of` out")
    return options_scenario(scenario), strategies


def _money(value: float | str | None, name: str, per: Per, study: Study) -> float | None:
    """Return a limit as a number in the currency of the prices."""
    if value is None:
        return None
    known = currency_of(study.scenario.hospitals[each] for each in study.outcomes)
    if not known:
        raise O2simError(f"{name}: the scenario states no prices; add a section costs, or leave the {name} out")
    amount, currency = read_money(value, per) if isinstance(value, str) else (float(value), "")
    if currency not in ("", known):
        raise O2simError(f"{name}: found {currency}, the prices of the scenario are in {known}: convert it")
    if not 0 <= amount < float("inf"):
        raise O2simError(f"{name}: found {value!r}; allowed: an amount of money of at least 0")
    return amount
