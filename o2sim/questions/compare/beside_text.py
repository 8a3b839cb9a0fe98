"""What no staff could prevent, in words: the table of the companion run, and a sentence for one strategy."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from typing import Any

from o2sim.looks import doubt
from o2sim.looks.blocks import Row, Table, by_strategy
from o2sim.looks.words import Summary, chosen_of, number, percent, percent_range, quoted, short_frequency, spread
from o2sim.measures.names import CHANCE, DEFICIT, HOURS, SHORT, STOCK_OUTS
from o2sim.measures.supply_alone import RUNS
from o2sim.measures.table import head_of

TITLE = "What no staff could prevent"
NOTE = (
    "Supply alone: the same patients, power cuts and roads, if hands, eyes and the way to the store cost no time. "
    "Handling: as in the file less supply alone; below zero where patients who went without spared the stock"
)


def tables(summary: Summary, names: Iterable[str] = ()) -> list[Table]:
    """Return the figures of each strategy as in the file, with supply alone, and handling between them.

    names: only of these.
    """
    found = summary.get("supply_alone")
    if found is None:
        return []
    items = {
        name: found["strategies"][name] for name in names or found["strategies"] if name in found["strategies"]
    }
    measures = [CHANCE, STOCK_OUTS, SHORT if _counts_short(found) else HOURS, DEFICIT]
    rows = [row for measure in measures for row in _rows(measure)]
    level = f"{100 * summary['confidence']:g} %"
    note = f"{NOTE}. Hours and counts are for 365 days; {doubt.brackets(level, summary)}.{_stopped(summary)}"
    return by_strategy(TITLE, items, rows, note, chosen_of(summary))


def _counts_short(found: Mapping[str, Any]) -> bool:
    return all(each["as_in_file"][SHORT] is not None for each in found["strategies"].values())


def _rows(measure: str) -> list[Row]:
    """Return a measure under both runs, and the difference."""

    def cell(run: str) -> Callable[[Any], str]:
        def made(item: Mapping[str, Any]) -> str:
            value = item[run][measure]
            if measure != CHANCE:
                return spread(value)
            return _points(value) if run == "handling" else percent_range(value)

        return made

    return [(head_of(measure), lambda _: ""), *((f"  {words}", cell(run)) for run, words in RUNS.items())]


def _points(difference: Mapping[str, Any]) -> str:
    """Return a difference of chances in percentage points."""
    mean, low, high = (
        None if difference[key] is None else 100 * difference[key] for key in ("mean", "low", "high")
    )
    shown = spread({"mean": mean, "low": low, "high": high})
    head, _, rest = shown.partition(" (")
    return f"{head} points ({rest}" if rest else f"{head} points"


def sentence(summary: Summary, name: str) -> str:
    """Return how much of the shortfall of a strategy no staff could prevent; "" where that was not run."""
    found = summary.get("supply_alone")
    if found is None:
        return ""
    item, measure = found["strategies"][name], SHORT if _counts_short(found) else HOURS
    left, whole = (float(item[run][measure]["mean"]) for run in ("supply_alone", "as_in_file"))
    hours = "patient-hours a year short of oxygen" if measure == SHORT else "patient-hours a year unserved"
    seen = short_frequency(item["supply_alone"][CHANCE], found["replications"], summary["horizon_days"])
    head = f"If hands, eyes and the way to the store cost no time, {quoted([name])} would still leave"
    if whole == 0 == left:
        return f"{head} no {hours}, as it does in the file.{_stopped(summary)}"
    if left == 0:
        said = f"{head} no {hours}, against {number(whole)} as in the file: all of that is handling."
    elif left < whole:
        said = (
            f"{head} {number(left)} {hours}, {percent(left / whole)} of the {number(whole)} as in the file: that "
            "no staff could prevent, and the rest is handling."
        )
    else:
        said = (
            f"{head} {number(left)} {hours}, no fewer than the {number(whole)} as in the file: quicker staff "
            "would prevent none in all, since patients who go without use no gas and so spare the stock."
        )
    return f"{said} A supply shortfall that no staff could prevent: {seen}.{_stopped(summary)}"


def _stopped(summary: Summary) -> str:
    """Return that the companion run was cut short, where it was."""
    found = summary["supply_alone"]
    if found["complete"]:
        return ""
    return f" The companion run was stopped: both are of the first {found['replications']:,} replications alone."
