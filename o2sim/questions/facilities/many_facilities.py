"""Run the facilities of a data frame, a CSV or a folder from Python."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

from o2sim.errors import O2simError, Problem
from o2sim.questions.facilities.facility_study import Plan, finished, sound_facilities, study_result
from o2sim.questions.facilities.joint_tally import joints_of
from o2sim.questions.facilities.settings import FacilitySettings
from o2sim.runs.executors import Processes
from o2sim.runs.study import one_or_many, ready_engine
from o2sim.scenario.changing.facilities import facilities_of_table, read_facilities
from o2sim.scenario.types.hospital import Scenario
from o2sim.settings import takes
from o2sim.shown import Shown, frame_of

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True)
class FacilityStudy(Shown):
    """The figures of many facilities; result is the object that `o2sim study --json` prints.

    left_out: what was wrong with the facilities that could not be run, where they were to be skipped.
    """

    result: dict[str, Any]
    left_out: tuple[Problem, ...] = field(default=(), repr=False)

    def to_frame(self) -> pd.DataFrame:
        """Return a row for each facility and strategy.

        Columns facility, place, scenario_hash, strategy, replications, horizon_days, and each measure with the
        ends of its 95 % interval (_low, _high): stock_out_probability and interruption_probability (share of
        replications, 0 to 1), stock_outs_per_year, unserved_patient_hours and unserved_supply_patient_hours (in
        365 days), annual_cost (in `currency`).
        """
        return frame_of(self)


@takes(FacilitySettings)
def study(
    facilities: pd.DataFrame | str | Path,
    base: str | Path | Scenario | None = None,
    *,
    settings: FacilitySettings,
    progress: Callable[[int], None] | None = None,
) -> FacilityStudy:
    """Return the chance of a supply shortfall, unserved patient-hours and cost of many facilities.

    facilities: a data frame or a CSV with a row for each, a column `name`, and columns named by keys of the base
    scenario, such as patients.adults.admissions, whose values they override (an empty or missing cell leaves what
    the base says); or a folder of scenario files, without a base. replications are fixed beforehand, the same for
    each; decimal and dates: how the numbers and dates of the table are written; workers: the number of processes,
    None for one a core where it is worth it; draws: joint draws of uncertain numbers, a CSV file or a data frame,
    laid over each facility (see run_study). progress is given the replications done.
    Ctrl-C gives the facilities that are finished, `complete` False. Raises O2simError, and ScenarioError with the
    problems of all rows, unless skip_bad.
    Intervals are those of `summarise`.
    """
    if settings.replications < 1:
        raise O2simError(f"a study needs at least 1 replication, not {settings.replications}")
    strategies = None if settings.strategies is None else one_or_many(settings.strategies)
    dialect = settings.dialect
    if isinstance(facilities, str | Path):
        read = read_facilities(Path(facilities), Path(base) if isinstance(base, str) else base, dialect)
    else:
        read = facilities_of_table(facilities, base, dialect)
    sound, problems, _ = sound_facilities(read, strategies, settings.skip_bad)
    engine = ready_engine(sound[0].scenario, settings.engine)
    joints = joints_of(sound, settings.draws, base)
    plan = Plan(sound, settings.replications, settings.seed, engine, strategies, joints)
    found, stopped = finished(plan, Processes(settings.workers), None, progress)
    if stopped and not found:
        raise KeyboardInterrupt
    return FacilityStudy(study_result(plan, found), tuple(problems))
