"""Will it last until the lorry comes, and what is to be ordered today?"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING

from o2sim.errors import O2simError
from o2sim.looks import cautions
from o2sim.quantities.units import share as read_share
from o2sim.questions.today import advice, forecast, order, purse, tonight
from o2sim.questions.today.asked import Asked
from o2sim.questions.today.count import Given, counted_scenario
from o2sim.questions.today.moment import day_meant, horizon_s, now_of
from o2sim.questions.today.result import (
    TodayResult,
)
from o2sim.questions.today.runs import Progress, Runs, Seen
from o2sim.questions.today.settings import FEWEST, FEWEST_DAYS, MOST_DAYS, TodaySettings
from o2sim.questions.today.there import counts_of, cover_of
from o2sim.questions.today.try_orders import ordering_of
from o2sim.questions.today.unknown import unknown
from o2sim.runs.asked import chosen_strategy, scenario_of
from o2sim.runs.identity import Origin, Ran
from o2sim.runs.study import ready_engine
from o2sim.scenario.types.hospital import Hospital, Scenario
from o2sim.settings import takes
from o2sim.shown import Shown, chart_of, frame_of
from o2sim.typed import as_json
from o2sim.version import __version__

if TYPE_CHECKING:
    import pandas as pd

    from o2sim.shown import Chart

AS_IF = "An order is looked at as if placed at the count, in place of what the rule would order that day."
METHOD = (
    "Chances are shares of simulated mornings like this, from the count on; intervals (95 %) hold chance alone, "
    "not whether the scenario is right.",
    "A bare shelf has no full and no usable part-used cylinder. Somebody goes without where it lasts longer than "
    "the tolerated gap, which is no safe time.",
)


@dataclass(frozen=True)
class Today(Shown):
    """Whether it lasts until the lorry comes, and what to order today."""

    scenario: Scenario = field(repr=False)
    record: TodayResult = field(repr=False)
    full: Mapping[str, Mapping[int, int]] = field(
        repr=False, default_factory=dict
    )  # by day: cylinders, replications

    @property
    def advice(self) -> str:
        """Return two sentences: what to order, and whether to phone."""
        return " ".join(self.record.advice)

    @property
    def result(self) -> dict[str, object]:
        """Return the object that `o2sim today --json` prints."""
        found: dict[str, object] = as_json(self.record)
        return found

    def to_frame(self, of: str = "days") -> pd.DataFrame:
        """Return the forecast as a data frame, a row a day, or `of="orders"`: a row for each order tried.

        Columns of the days: day, chances (0 to 1) that by its end the shelf was bare, somebody went without, or
        did so for want of supply, each with its interval (_low, _high); the share in which the delivery had come;
        full cylinders that 5, 25, 50, 75 and 95 % do not exceed.
        """
        return frame_of(self, of=of)

    def chart(self) -> Chart:
        """Return a drawing of the full cylinders at each midnight, and of when the next delivery comes."""
        return chart_of(self)


@takes(TodaySettings)
def today(
    scenario: str | Path | Scenario,
    now: Given | None = None,
    *,
    settings: TodaySettings,
    progress: Progress | None = None,
) -> Today:
    """Return whether what was counted lasts until the lorry comes, and what to order today.

    scenario: itself or its file. now: the count, as the text of --count, as a mapping like the section `now` of a
    file, or what read_records gave; None: that of the scenario. progress is called with the number of replications
    done. Ctrl-C leaves the forecast, without what was not worked out. Raises ScenarioError, RecordsError, and
    O2simError where nothing is counted, the strategy has no cylinders, or a setting is out of its limits.
    """
    target = _checked(settings)
    source = counted_scenario(scenario_of(scenario), now, settings.on)
    name, why = chosen_strategy(source, settings.strategy)
    hospital = source.hospitals[name]
    counted = now_of(hospital)
    if hospital.cylinders is None or counted.cylinders is None:
        having = [each for each, one in source.hospitals.items() if one.cylinders is not None]
        other = f"allowed: one that has, such as {having[0]!r}" if having else "nor has any other"
        raise O2simError(f"strategy {name!r} has no cylinders: no shelf to last, nothing to order; {other}")
    day = day_meant(counted, settings.on, dt.date.today())
    if (day - counted.counted.date()).days >= settings.days:
        raise O2simError(
            f"on: found {day}, {settings.days} days or more after the count; allowed: before then, or more days"
        )
    engine = ready_engine(source, settings.engine)
    runs = Runs(source, settings.seed, engine, progress)
    asked = Asked(hospital, settings, target, runs)
    base = runs(hospital, horizon_s(hospital, settings.days), settings.replications, keeps_part=True)
    ran = Ran(__version__, engine, settings.seed, base.replications)
    found = _forecast(source, asked, base, ran, (why, day))
    full = _full(hospital, base)
    if base.replications < settings.replications:
        return Today(source, found, full)
    return Today(source, _rest(asked, base, found), full)


def _checked(settings: TodaySettings) -> float:
    """Return the target as a share. Raises O2simError for a setting out of its limits."""
    if not FEWEST_DAYS <= settings.days <= MOST_DAYS:
        raise O2simError(f"days: found {settings.days}; allowed: {FEWEST_DAYS} to {MOST_DAYS}")
    if settings.replications < FEWEST:
        raise O2simError(f"replications: found {settings.replications}; allowed: {FEWEST} or more")
    return read_share(settings.target, "target")


def _forecast(source: Scenario, asked: Asked, base: Seen, ran: Ran, chosen: tuple[str, dt.date]) -> TodayResult:
    """Return the result as far as the forecast goes, without orders and what else may happen."""
    hospital, settings, (why, day) = asked.hospital, asked.settings, chosen
    counts = counts_of(hospital)
    return TodayResult(
        of=Origin(source.name, source.hash),
        ran=ran,
        figures=source.figures,
        strategy=hospital.strategy.name,
        why_strategy=why,
        counted=order.day_of(now_of(hospital).counted),
        on=day.isoformat(),
        days=settings.days,
        target=asked.target,
        advice=(),
        phone=None,
        unknown=unknown(hospital, counts.accounted, day),
        counts=counts,
        cover=cover_of(hospital, base),
        by_day=forecast.by_day(hospital, base, day),
        next_delivery=forecast.next_delivery(hospital, base, settings.days),
        ordering=None,
        night=None,
        if_so=(),
        searched=asked.few,
        complete=False,
        notes=METHOD,
        cautions=tuple(cautions.SHORT),
    )


def _full(hospital: Hospital, base: Seen) -> dict[str, dict[int, int]]:
    """Return how many replications had how many full cylinders at the midnight that ends each day."""
    import numpy as np

    full, first = forecast.ending(base, "full", hospital), now_of(hospital).counted.date()
    found = {}
    for place in range(full.shape[1]):
        numbers, times = np.unique(full[:, place], return_counts=True)
        day = (first + dt.timedelta(days=place)).isoformat()
        found[day] = dict(zip(numbers.tolist(), times.tolist(), strict=True))
    return found


def _rest(asked: Asked, base: Seen, found: TodayResult) -> TodayResult:
    """Return the result with orders and what else may happen; with what is done, where Ctrl-C comes."""
    try:
        found = _with_order(asked, base, found)
        found = tonight.with_night(asked, found)
        return replace(tonight.with_children(asked, base, found), complete=True)
    except KeyboardInterrupt:
        return found


def _with_order(asked: Asked, base: Seen, found: TodayResult) -> TodayResult:
    resupply = asked.hospital.resupply
    if resupply is None:
        return replace(
            found, notes=(*found.notes, "The scenario has no resupply: there is nothing to order from.")
        )
    made = ordering_of(asked, resupply, base)
    phone = advice.must_phone(made.before_delivery, made.reached, asked.target)
    many = asked.settings.replications
    said = advice.order_sentence(made, asked.target), advice.phone_sentence(made, phone, asked.target, found.on)
    notes = (
        *found.notes,
        AS_IF,
        *purse.notes(asked.hospital),
        f"Orders are first tried with {asked.few:,} replications; the least order and one fewer with {many:,}.",
    )
    return replace(found, ordering=made, phone=phone, advice=said, notes=notes)
