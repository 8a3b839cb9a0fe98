"""Find the least or cheapest stock that meets a target with a stated confidence.

Two methods. One batch of replications gives the whole curve where a larger stock changes no order (one_batch);
else candidates are scanned and the first that passes is confirmed on fresh replications (search). The result is
declared in result.py, the same for both.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from functools import partial
from itertools import chain
from pathlib import Path
from typing import TYPE_CHECKING, Any

from o2sim.errors import O2simError
from o2sim.outcome import CAUSE_LABELS, SUPPLY_CAUSES, Cause
from o2sim.quantities.units import share
from o2sim.questions.size.better_rule import best_pair, better_rule, compared, worth_a_look
from o2sim.questions.size.by_rows import by_rows, check_rows
from o2sim.questions.size.candidate_runs import nothing
from o2sim.questions.size.candidates import Candidate, Field, Question, field_of
from o2sim.questions.size.one_batch import by_one_batch, why_not
from o2sim.questions.size.one_size import is_of_no_bed, require_one_size
from o2sim.questions.size.own_range import range_of
from o2sim.questions.size.result import (
    IN_TURN,
    ONE_BATCH,
    SEARCH,
    Asked,
    Found,
    Method,
    Sized,
    SizingResult,
    Values,
)
from o2sim.questions.size.search import by_search
from o2sim.questions.size.settings import BATCH, SEARCHED, SizeSettings
from o2sim.runs.executors import Crew, Processes
from o2sim.runs.identity import Origin, Ran
from o2sim.runs.study import ready_engine
from o2sim.scenario.changing.fleet_levels import FLEET
from o2sim.scenario.changing.handling import with_perfect_handling
from o2sim.scenario.changing.joint import joint_draws
from o2sim.scenario.changing.level_pairs import LEVELS_TOGETHER
from o2sim.scenario.changing.levers import read_lever
from o2sim.scenario.changing.override import Original, original
from o2sim.scenario.changing.splice import written
from o2sim.scenario.types.hospital import DAY_S, Hospital, Scenario
from o2sim.settings import takes
from o2sim.shown import Chart, Shown, chart_of, copy_of, frame_of, sheets_of
from o2sim.statistics import doubt
from o2sim.statistics.sequential import least_replications
from o2sim.typed import as_json
from o2sim.version import __version__

if TYPE_CHECKING:
    import pandas as pd

TIMES_LEAST = 4  # as many replications as could show a target to be met at all, where it is rare


@dataclass(frozen=True)
class Sizing(Shown):
    """The answer to a sizing question; result is the object that `o2sim size --json` prints."""

    result: dict[str, Any]
    record: SizingResult = field(repr=False)  # the same, by attributes
    source: Original = field(repr=False)
    candidate: Candidate = field(repr=False)  # the answer, else the better pair of levels, else the largest

    @property
    def hospital(self) -> Hospital:
        """Return the hospital at the answer, else at the largest candidate."""
        return self.candidate.hospital(self.record.strategy)

    @property
    def answer(self) -> dict[str, str] | None:
        """Return the values that meet the target, None where none of the candidates does."""
        return None if self.record.chosen is None else dict(self.record.chosen)

    @property
    def curve(self) -> list[dict[str, Any]]:
        """Return the points of the curve, in the order of the candidates."""
        return list(self.result["curve"])

    def to_frame(self) -> pd.DataFrame:
        """Return the curve as a data frame, a row a candidate.

        A column for each field that is sized, its unit in its name (cylinders.fleet, power.battery.usable (kWh)),
        replications, failures, estimate with low and high (the chance within the horizon, 0 to 1), status, enough
        (True at the answer), and annual_cost in the currency where there are prices.
        """
        return frame_of(self)

    def chart(self) -> Chart:
        """Return the curve with its band, the target, the answer and the rules of thumb; of one field only.

        Raises O2simError where several fields were sized at once.
        """
        return chart_of(self)

    def write_sheets(self, folder: str | Path) -> list[Path]:
        """Write three sheets to print, one page each, into a folder; return their paths.

        A count sheet for the store, a dusk page for the night, a reorder card for the wall. Raises O2simError
        without cylinders or without an answer, OutputError where the folder cannot be written.
        """
        return sheets_of(self, Path(folder))

    def scenario_text(self) -> str:
        """Return the text of the scenario with the whole answer under the strategy, all else as it was.

        Raises O2simError where no value is enough.
        """
        if not self.record.can_be_written:
            raise O2simError("size: no value is enough, so that there is no answer to write into the scenario")
        return written(self.source, self.candidate.there, self.candidate.scenario)

    def write_scenario(self, path: str | Path, *, force: bool = False) -> Path:
        """Write a copy of the scenario with the whole answer in it, comments kept; return its path.

        Raises O2simError where no value is enough, OutputError for a file that is there already (force: write over
        it), cannot be written, or would not find the files that the scenario names.
        """
        return copy_of(self, Path(path), force)


@takes(SizeSettings)
def size(
    source: str | Path | Scenario | Original,
    strategy: str,
    *,
    settings: SizeSettings,
    progress: Callable[[int, int], None] | None = None,
    crew: Crew | None = None,
) -> Sizing:
    """Return the least (one field) or cheapest (several) of the candidates with P(failure) <= target.

    Sized is the companion run, in which hands, eyes and the way to the store cost no time; what the answer gives
    with handling as in the file stands beside it.

    source: a scenario, its file, or what override.original made of it. target and confidence: shares, 0-1, or
    texts such as "5 %". vary: fields as `cylinders.fleet`, or with values, `cylinders.fleet = 40..60`; without
    values half to twice what the file says. causes: whose interruptions count as failure within the horizon, by
    label; by default "no cylinder" where cylinders are sized, else all of supply. replications: how many one
    candidate gets at most, and again afresh. most_missing: the largest share of the litres needed that may not be
    delivered. hold_levels: the levels of the reorder rule stay where the fleet
    changes. draws: joint draws of uncertain numbers (a CSV file or a data frame; see run_study), over which the
    chance then is: the answer holds over unknown inputs and chance together. workers and crew are those of
    run_study; neither changes a result. progress is given the number done and of how many. Ctrl-C gives what is
    done, `complete` False. Raises O2simError.

    Source: an order statistic of one batch where that is exact, else a test valid at every look (Ville 1939,
    Robbins 1970, from memory) and fresh replications; see one_batch.py and o2sim/statistics/sequential.py.
    """
    kept = source if isinstance(source, Original) else original(source)
    if any(each.now is not None for each in kept.scenario.hospitals.values()):
        raise O2simError(
            "now: found a count; how much is enough is asked of usual years: take the section out, or ask "
            "`o2sim today` about the coming days"
        )
    if strategy not in kept.scenario.hospitals:
        raise O2simError(f"no strategy is named {strategy!r}; known: {', '.join(kept.scenario.strategies)}")
    vary, replications = settings.vary, settings.replications
    if not isinstance(vary, Sequence):
        raise O2simError(f"vary: found {type(vary).__name__}; allowed: fields such as cylinders.fleet = 40..60")
    texts = [vary] if isinstance(vary, str) else list(vary)
    hospital = kept.scenario.hospitals[strategy]
    paths = [read_lever(text)[0] for text in texts]
    require_one_size(hospital, paths)
    question = Question(
        kept,
        strategy,
        share(settings.target, "target"),
        share(settings.confidence, "confidence"),
        _causes(settings.causes, hospital, paths),
        replications or BATCH,
        settings.seed,
        ready_engine(kept.scenario, settings.engine),
        share(settings.most_missing, "most_missing"),
        None if settings.draws is None else joint_draws(settings.draws, kept),
        settings.hold_levels,
    )
    least = least_replications(question.target, question.confidence)
    if replications is not None and replications < least:
        raise O2simError(
            f"size: {replications} replications cannot show a chance of at most {100 * question.target:g} % "
            "with a "
            f"confidence of {100 * question.confidence:g} %; it takes at least {least}"
        )
    if question.joint is not None:
        check_rows(question, paths)
    with crew or Processes(settings.workers) as crew:
        over = _field(question, texts, settings.hold_levels, crew)
        reasons = _why_not(question, over)
        if replications is None:
            usual = SEARCHED if reasons else BATCH
            count, rows = max(usual, TIMES_LEAST * least), question.rows or 1
            question = replace(question, replications=-(-count // rows) * rows)  # each row as often
        method = by_search if reasons else by_one_batch
        if question.joint is not None:
            method = partial(by_rows, one_batch=not reasons)
        found = _with_better_rule(question, over, method(question, over, crew, progress or nothing), crew)
    shocks = tuple(shock.name for shock in question.hospital.shocks) or None
    record = SizingResult(**vars(_asked(question, over, reasons)), **vars(found), shocks=shocks)
    return Sizing(as_json(record), record, kept, _shown(over, found))


def _field(question: Question, texts: Sequence[str], hold: bool, crew: Crew) -> Field:
    """Return the candidates; every stock, as far as is needed, where the range is ours and one batch gives it."""
    source, strategy = question.source, question.strategy
    whole = None
    if list(texts) == [FLEET] and source.scenario.hospitals[strategy].cylinders is not None:
        over = field_of(source, strategy, texts, hold, whole=_as_stated(question))
        if not _why_not(question, over):
            whole = range_of(question, crew)
    return field_of(source, strategy, texts, hold, whole)


def _why_not(question: Question, over: Field) -> tuple[str, ...]:
    """Return why one batch cannot give the curve, of the file or at any row of joint draws."""
    joint, strategy = question.joint, question.strategy
    rows = [question.hospital] if joint is None else [each.hospitals[strategy] for each in joint.scenarios]
    found = (why_not(with_perfect_handling(each), over, question.causes) for each in rows)
    return tuple(dict.fromkeys(chain.from_iterable(found)))


def _as_stated(question: Question) -> tuple[int, int]:
    cylinders = question.hospital.cylinders
    assert cylinders is not None
    return cylinders.fleet, cylinders.fleet


def _with_better_rule(question: Question, over: Field, found: Found, crew: Crew) -> Found:
    """Return what was found with the other levels of the reorder rule beside it, where they may save buying.

    Not over joint draws: McNemar's test, which compares two pairs of levels, knows no rows.
    """
    if question.joint is not None:
        return found
    try:
        if over.pairs and found.complete:
            pair = best_pair(over.candidates, found)
            rule = None if pair is None else compared(question, crew, pair, 2 * question.replications)
        elif worth_a_look(question.hospital, [each.path for each in over.levers], found):
            rule = better_rule(question, crew)
        else:
            return found
    except KeyboardInterrupt:
        return replace(found, complete=False)
    return replace(found, better_rule=rule)


def _shown(over: Field, found: Found) -> Candidate:
    """Return the answer; without one the better pair where one was found, else the largest candidate."""
    values: Values = over.candidates[-1].values
    if found.answer is not None:
        values = found.answer.point.values
    elif over.pairs and found.better_rule is not None and found.better_rule.is_better:
        values = {LEVELS_TOGETHER: found.better_rule.other.levels}
    return next(each for each in over.candidates if each.values == values)


def read_causes(names: Sequence[Cause | str]) -> tuple[Cause, ...]:
    """Return causes by their labels; `supply` and `any` stand for many. Raises O2simError for an unknown one."""
    by_label = {label: cause for cause, label in CAUSE_LABELS.items()}
    found: set[Cause] = set()
    for name in names:
        if isinstance(name, Cause):
            found.add(name)
        elif name.strip() in ("supply", "any"):
            found |= set(SUPPLY_CAUSES if name.strip() == "supply" else Cause)
        elif name.strip() in by_label:
            found.add(by_label[name.strip()])
        else:
            raise O2simError(f"causes: found {name!r}; allowed: supply, any, {', '.join(by_label)}")
    return tuple(sorted(found))


def _causes(named: Sequence[Cause | str] | None, hospital: Hospital, paths: Sequence[str]) -> tuple[Cause, ...]:
    if named:
        return read_causes(named)
    stock = hospital.cylinders
    cylinders = stock is not None and all(path.split(".")[0] in ("cylinders", "resupply") for path in paths)
    if stock is None or not cylinders or any(is_of_no_bed(stock, path) for path in paths):
        return tuple(sorted(SUPPLY_CAUSES))
    return (Cause.NO_CYLINDER,) if hospital.funds is None else (Cause.NO_CYLINDER, Cause.NO_FUNDS)


def _asked(question: Question, over: Field, reasons: tuple[str, ...]) -> Asked:
    scenario, hospital = question.source.scenario, question.source.scenario.hospitals[question.strategy]
    return Asked(
        of=Origin(scenario.name, scenario.hash),
        figures=scenario.figures,
        ran=Ran(__version__, question.engine, question.seed, question.replications),
        horizon_days=hospital.horizon_s / DAY_S,
        strategy=question.strategy,
        target=question.target,
        confidence=question.confidence,
        interval_holds=doubt.CHANCE if question.joint is None else doubt.CHANCE_AND_INPUTS,
        causes=tuple(cause.label for cause in question.causes),
        currency=hospital.costs.currency if hospital.costs else None,
        vary=tuple(Sized(each.path, each.unit, each.values) for each in over.levers),
        levels_moved=over.moved,
        refused=over.refused,
        method=Method(_method(question, reasons), reasons),
        sized_on="supply alone",
        enough=hospital.shortfall.enough_permille / 1_000,
        most_missing=question.most_missing,
    )


def _method(question: Question, reasons: tuple[str, ...]) -> str:
    if not reasons:
        return ONE_BATCH
    return SEARCH if question.joint is None else IN_TURN
