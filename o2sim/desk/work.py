"""What the engine room does: each question of the desk, put to the function that answers it; plain data come out.

Nothing is computed here. What is given names the file; the figures are those of `o2sim compare`, `drivers`,
`whatif`, `size` and `report` for the same file, seed and replications.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import asdict
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from o2sim.desk import work_books
from o2sim.desk.engine_child import Progress
from o2sim.desk.shown_blocks import data_of
from o2sim.desk.work_keep import kept
from o2sim.desk.work_matters import driven
from o2sim.desk.work_today import of_today
from o2sim.errors import O2simError, ScenarioError
from o2sim.scenario import load
from o2sim.scenario.types.hospital import Scenario

if TYPE_CHECKING:  # the process that serves pages has this module too, and stays without engine and compiler
    from o2sim.questions.drivers.drivers import Drivers
    from o2sim.runs.study import Study

REPLICATIONS, SEED = 200, 1
AT_EACH_END = 100  # replications of each end of an unknown figure, and of each length of a cut
CUTS_H = ("0.5 h", "1 h", "2 h", "4 h", "8 h", "12 h", "24 h")
DOWN = "power.grid.down"
MIDDLES = ("median", "mean")  # of the laws of a cut's length


def get_ready() -> None:
    """Load what the work takes, and compile the engine where that has to be."""
    from o2sim.looks import drawing  # noqa: F401
    from o2sim.questions.documents.starter import starter
    from o2sim.runs.study import ready_engine
    from o2sim.scenario import loads

    ready_engine(loads(starter()), "kernel")


def do(name: str, given: Mapping[str, Any], progress: Progress) -> dict[str, Any]:
    """Return what a job finds, as plain data. Raises O2simError, and KeyboardInterrupt where nothing was done."""
    if name in OF_BOOKS:
        return OF_BOOKS[name](given, progress)
    work = WORK[name]
    scenario = load(given["path"])
    return {"scenario_hash": scenario.hash, **work(scenario, given, progress)}


def _batch(scenario: Scenario, given: Mapping[str, Any], progress: Progress, **more: Any) -> Study:
    """Return a study as it is asked for, taking from the store of the folder what is there."""
    from o2sim.runs.settings import BatchSettings
    from o2sim.runs.store_file import open_store
    from o2sim.runs.study import run_study

    count = int(given.get("replications", REPLICATIONS))
    settings = BatchSettings(replications=count, seed=int(given.get("seed", SEED)))
    tell = partial(_of, progress, count)
    with open_store(Path(given["store"]), "study") as store:
        return run_study(scenario, settings=settings, progress=tell, store=store, workers=1, **more)


def _of(progress: Progress, count: int, done: int) -> None:
    progress(done, count)


def _ran(study: Study) -> dict[str, Any]:
    """Return what makes a study come out the same again."""
    from o2sim.version import __version__

    return {
        "complete": study.complete,
        "done": study.replications,
        "of": study.requested,
        "seed": study.seed,
        "engine": study.engine,
        "version": __version__,
    }


# --- how often will someone go without ---------------------------------------------------------------------------


def _answer(scenario: Scenario, given: Mapping[str, Any], progress: Progress) -> dict[str, Any]:
    from o2sim.measures.measures import summarise
    from o2sim.questions.compare import brief, headline
    from o2sim.questions.compare.short_answer import short_answer
    from o2sim.questions.report.charts import chances

    tell = _shared(progress, scenario, int(given.get("replications", REPLICATIONS)))
    study = _batch(scenario, given, tell)
    summary = summarise(study)
    names = list(summary["strategies"])
    hospital = scenario.hospitals[names[0]]
    currency = hospital.costs.currency if hospital.costs else ""
    best = headline.leading_strategy(summary)
    decide_by = brief.to_decide_by(summary, hospital.tolerated_gap_s, currency)
    one_by_one = _one_by_one(scenario, study, tell)
    over = None if one_by_one is None else _range(one_by_one)
    return {
        **_ran(study),
        "complete": study.complete and (over is not None or not scenario.uncertain),
        "said": list(over or short_answer(summary)),
        "likely": list(short_answer(summary)) if scenario.uncertain else [],
        "range": over is not None,
        "best": best,
        "short": f"{best}: {decide_by.rows[names.index(best)][1]}",
        "picture": data_of([chances(summary, names)]),
        "table": data_of([decide_by]),
        "more": data_of([*brief.why(summary), headline.answer(summary, currency)]),
        "priced": bool(currency),
        "beside": {}
        if one_by_one is None
        else {"matters": driven(one_by_one, scenario, _still(scenario, tell), AT_EACH_END)},
    }


def _shared(progress: Progress, scenario: Scenario, count: int) -> Progress:
    """Return progress that counts the years of the answer, then those of each end of what is not known."""
    ends = AT_EACH_END * (2 * len(scenario.uncertain) + 1) if scenario.uncertain else 0
    begun = 0

    def tell(done: int, of: int) -> None:
        nonlocal begun
        begun = begun if of == count else count
        progress(min(begun + done, count + ends), count + ends)

    return tell


def _one_by_one(scenario: Scenario, study: Study, progress: Progress) -> Drivers | None:
    """Return each unknown figure at its ends; None where all is known, or it was stopped before the end."""
    from o2sim.questions.drivers.drivers import drivers
    from o2sim.questions.drivers.settings import DriversSettings

    if not scenario.uncertain or not study.complete:
        return None
    asked = DriversSettings(replications=AT_EACH_END, seed=study.seed)
    try:
        found = drivers(scenario, settings=asked, progress=progress)
    except KeyboardInterrupt:
        return None
    return found if found.result["complete"] else None


def _range(found: Drivers) -> tuple[str, str]:
    """Return the answer over what is not known."""
    from o2sim.questions.compare.short_answer import range_answer
    from o2sim.questions.drivers.result import OneAtATime
    from o2sim.questions.drivers.short_range import tried

    assert isinstance(found.answers, OneAtATime)
    return range_answer(tried(found.answers), AT_EACH_END, found.answers.horizon_days)


# --- what would change it ----------------------------------------------------------------------------------------


def _matters(scenario: Scenario, _: Mapping[str, Any], progress: Progress) -> dict[str, Any]:
    from o2sim.questions.drivers.drivers import drivers
    from o2sim.questions.drivers.settings import DriversSettings

    asked = DriversSettings(replications=AT_EACH_END, seed=SEED)
    return driven(
        drivers(scenario, settings=asked, progress=progress), scenario, _still(scenario, progress), AT_EACH_END
    )


def _still(scenario: Scenario, progress: Progress) -> Progress:
    """Return progress for work whose size is not known beforehand: all else is done, and it can be stopped."""
    ends = AT_EACH_END * (2 * len(scenario.uncertain) + 1)
    return lambda *_: progress(ends, ends)


# --- if the power gets worse -------------------------------------------------------------------------------------


def cuts_tried(scenario: Scenario) -> tuple[str, list[str], str] | None:
    """Return the field of the length of a usual cut, the lengths that are tried, that of the file ("": several).

    None where the file has no such field.
    """
    from o2sim.quantities.units import read
    from o2sim.scenario.changing.override import original, stated

    source = original(scenario)
    for middle in MIDDLES:
        field = f"{DOWN}.{middle}"
        try:
            found = {stated(source, field, name) for name in scenario.strategies} - {None}
        except ScenarioError:  # the cuts follow another law, or there are none
            continue
        if found:
            own = found.pop() if len(found) == 1 else None
            lengths = {read(text, "duration"): text for text in (*CUTS_H, *([own] if own else []))}
            return field, [lengths[each] for each in sorted(lengths)], own or ""
    return None


def _power(scenario: Scenario, _: Mapping[str, Any], progress: Progress) -> dict[str, Any]:
    from o2sim.questions.whatif.settings import WhatIfSettings
    from o2sim.questions.whatif.whatif import whatif

    tried = cuts_tried(scenario)
    if tried is None:
        return {"complete": True, "field": None, "points": [], "strategies": []}
    field, lengths, own = tried
    asked = WhatIfSettings(replications=AT_EACH_END, seed=SEED)
    found = whatif(scenario, f"{field} = {', '.join(lengths)}", settings=asked, progress=progress)
    result = found.result
    return {
        "complete": result["complete"],
        "field": field,
        "replications": result["replications"],
        "seed": result["seed"],
        "strategies": result["strategies"],
        "points": [
            {
                "value": point["values"][field],
                "in_file": point["values"][field] == own,
                "strategies": point["strategies"],
            }
            for point in result["points"]
        ],
    }


# --- what to buy -------------------------------------------------------------------------------------------------


def _buy(scenario: Scenario, given: Mapping[str, Any], progress: Progress) -> dict[str, Any]:
    from o2sim.questions.choose.comparison import compare
    from o2sim.questions.choose.money_steps import money_steps
    from o2sim.questions.choose.options import currency_of
    from o2sim.questions.choose.settings import CompareSettings

    asked = CompareSettings(options=_options(scenario, given))
    batch = {"replications": REPLICATIONS, "seed": SEED, "progress": partial(_of, progress, REPLICATIONS)}
    of = None if scenario.options is not None else given["strategy"]
    found = compare(scenario, settings=asked, of=of, workers=1, **batch)
    steps = money_steps(found.study)
    return {
        **_ran(found.study),
        "strategy": given.get("strategy"),
        "options": given.get("options"),
        "currency": currency_of(found.study.scenario.hospitals.values()),
        "horizon_days": found.summary["horizon_days"],
        "steps": [asdict(each) for each in steps],
    }


def _options(scenario: Scenario, given: Mapping[str, Any]) -> Any:
    """Return the options of the file, else the steps that were listed on the page."""
    if scenario.options is not None:
        return True
    from o2sim.tabular import Rows

    heads = tuple(dict.fromkeys(key for row in given["options"] for key in row))
    return Rows(heads, tuple(tuple(row.get(key) for key in heads) for row in given["options"]))


# --- the report --------------------------------------------------------------------------------------------------


def _report(scenario: Scenario, given: Mapping[str, Any], progress: Progress) -> dict[str, Any]:
    from o2sim.questions.report.publish import report_bytes, source_of, with_companion
    from o2sim.questions.report.varied import kept_varied
    from o2sim.runs.study import run_study
    from o2sim.runs.supply_alone import companion_of

    def run(*args: Any, **more: Any) -> Study:
        return run_study(*args, **{**more, "progress": partial(_of, progress, REPLICATIONS), "workers": 1})

    study = _batch(scenario, given, progress)
    if not study.complete:
        raise KeyboardInterrupt
    summary = with_companion(study, companion_of(study, run))
    page = report_bytes(study, summary, "html", source_of(scenario), varied=kept_varied(study, run))
    return {**_ran(study), "page": page.decode()}


WORK: Mapping[str, Callable[[Scenario, Mapping[str, Any], Progress], dict[str, Any]]] = {
    "answer": _answer,
    "matters": _matters,
    "buy": _buy,
    "power": _power,
    "keep": partial(kept, seed=SEED),
    "report": _report,
    "today": partial(of_today, seed=SEED),
}
OF_BOOKS: Mapping[str, Callable[[Mapping[str, Any], Progress], dict[str, Any]]] = {
    "books": work_books.books,
    "match": work_books.match,
}


def known(name: str) -> str:
    """Return the name of a job. Raises O2simError for one that is none."""
    if name not in WORK and name not in OF_BOOKS:
        raise O2simError(f"work: found {name!r}; allowed: {', '.join((*WORK, *OF_BOOKS))}")
    return name
