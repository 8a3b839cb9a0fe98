"""The headline with one key of the scenario at a few values: how much hangs on a figure hard to measure."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

from o2sim.errors import ScenarioError
from o2sim.looks.blocks import Row, Table, by_strategy
from o2sim.looks.words import number, short_frequency
from o2sim.measures.measures import summarise
from o2sim.measures.names import ANY, CHANCE, HOURS, SHORT
from o2sim.runs.settings import BatchSettings
from o2sim.runs.study import Study, run_study
from o2sim.scenario.building.loading import content_hash
from o2sim.scenario.changing.override import changed, loaded, original
from o2sim.scenario.keys.fields import meaning
from o2sim.scenario.types.hospital import Hospital, Scenario

KEPT = "cylinders.timed.kept"
KEPT_VALUES = ("0 %", "80 %", "100 %")
MOST = 100  # replications of each value: two more runs of them all would make a report slow


@dataclass(frozen=True)
class At:
    """A value of the key, as written, and what happens there: measures by strategy."""

    value: str
    as_in_file: bool
    strategies: Mapping[str, Mapping[str, object]]


@dataclass(frozen=True)
class Varied:
    """The headline at each value of a key."""

    key: str
    replications: int
    horizon_days: float
    at: tuple[At, ...]


def is_timed(hospital: Hospital) -> bool:
    """Return True where cylinders are changed at a time that staff note beforehand."""
    return hospital.cylinders is not None and str(hospital.cylinders.change_when) == "timed"


def kept_varied(study: Study, run: Callable[..., Study] = run_study) -> Varied | None:
    """Return the headline where none, 80 % and all of the notes to change a cylinder in time are kept.

    None where no strategy changes by such notes.
    """
    return varied(study, KEPT, KEPT_VALUES, is_timed, run)


def varied(
    study: Study,
    key: str,
    values: Sequence[str],
    concerns: Callable[[Hospital], bool],
    run: Callable[..., Study] = run_study,
) -> Varied | None:
    """Return the headline of the strategies that a key concerns, at each value, under the same luck.

    The first replications of the study serve for the value of the file. None where there is no such key, no
    strategy that it concerns, no text to change it in, or a file that cannot have these values. Ctrl-C passes
    through.
    """
    scenario = study.scenario
    names = [name for name in study.outcomes if concerns(scenario.hospitals[name])]
    if not names or not meaning(key) or not scenario.text or not study.complete:
        return None
    try:
        names = [name for name in names if name in _at(scenario, key, values[0], [name]).hospitals]
        there = {value: _at(scenario, key, value, names) for value in values}
    except ScenarioError:
        return None
    if not names:  # options stand in no file
        return None
    count = min(MOST, study.replications)
    own = replace(study, requested=count, plan=None, outcomes={n: study.outcomes[n][:count] for n in names})
    settings = BatchSettings(replications=count, seed=study.seed, engine=study.engine)
    found = []
    for value, each in there.items():
        same = all(each.hospitals[name] == scenario.hospitals[name] for name in names)
        ran = own if same else run(each, strategies=names, settings=settings)
        if not ran.complete:
            raise KeyboardInterrupt
        found.append(At(value, same, summarise(ran)["strategies"]))
    return Varied(key, count, summarise(own)["horizon_days"], tuple(found))


def _at(scenario: Scenario, key: str, value: str, names: Sequence[str]) -> Scenario:
    """Return the scenario with the key at a value for these strategies."""
    source = original(scenario)
    read = {name: loaded(source, changed(source, {key: value}, name)).hospitals for name in names}
    hospitals = {name: found[name] for name, found in read.items() if name in found}
    return replace(scenario, hospitals=hospitals, options=None, hash=content_hash(hospitals), text="")


def table(found: Varied, chosen: str = "") -> list[Table]:
    """Return the headline by value, strategies as columns; chosen: the one that is marked."""
    by_name = {name: {each.value: each.strategies[name] for each in found.at} for name in found.at[0].strategies}

    def row(each: At) -> Row:
        def cell(item: Mapping[str, Mapping[str, dict[str, float]]]) -> str:
            there = item[each.value]
            hours, what = (there[SHORT], "short") if there[SHORT] is not None else (there[HOURS], "unserved")
            seen, any_ = (short_frequency(there[m], found.replications, found.horizon_days) for m in (CHANCE, ANY))
            return f"supply shortfall: {seen}\nany interruption: {any_}\n{number(hours['mean'])} h {what}"

        return f"{each.value}{' (as in the file)' if each.as_in_file else ''}", cell

    note = (
        f"Of the first {found.replications:,} replications, all values under the same luck; hours are "
        "patient-hours in 365 days."
    )
    head = f"{meaning(found.key)} ({found.key})"
    return by_strategy(f"{head[0].upper()}{head[1:]}", by_name, [row(each) for each in found.at], note, chosen)
