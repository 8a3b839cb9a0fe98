"""Lay out a what-if as blocks: the question, every point, where the best strategy changes; print them."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from typing import Any

from o2sim.looks import cautions, doubt, unbought
from o2sim.looks.blocks import COLUMNS_AT_ONCE, Block, Table
from o2sim.looks.figures import chance_range, estimate, hours_range, quantities, quantity
from o2sim.looks.screen import Screen, provenance
from o2sim.looks.words import a_point, beside_fleet, for_readers, is_year, joined, money, percent, span
from o2sim.measures.names import CHANCE, COST, SUPPLY_HOURS
from o2sim.questions.whatif import apart_text
from o2sim.questions.whatif.break_even import BY_COST, BY_COST_IN_TARGET, BY_HOURS
from o2sim.scenario.types.hospital import Scenario

Result = Mapping[str, Any]
MOST_ROWS = 36  # points on the screen
MORE = 4  # times the replications: intervals half as wide
DRAWINGS = {"--heat": 2, "--lines": 1}  # how many fields each needs
PLACES = {"--heat": "MAP.png", "--lines": "LINES.png"}
DRAWN = {  # by the word on the command line: measure, what is said beside the axis
    "chance": (CHANCE, "chance of a supply shortfall"),
    "hours": (SUPPLY_HOURS, "patient-hours a year unserved for lack of supply"),
    "cost": (COST, "cost a year"),
}


def content(result: Result) -> list[Block]:
    """Return what is to be said of a what-if, what was asked first."""
    tables = [*best_tables(result), *apart_text.tables(result)]
    return [asked(result), *tables, no_break_even(result), *break_even_tables(result)]


def done(result: Result) -> str:
    """Return how many replications were run, for the provenance."""
    return a_point(result["replications"])


def print_whatif(scenario: Scenario, result: Result, written: Collection[str] = ()) -> None:
    """Print every point, where the best strategy changes, cautions and provenance.

    written: options by which it is also written, such as --lines: they are not proposed again.
    """
    screen = Screen()
    screen.show(content(result))
    screen.next(next_steps(result, written))
    screen.paragraph(cautions.NOT_COMPARED, *cautions.SHORT[:3])
    screen.paragraph(provenance(scenario, result["seed"], done(result), result["engine"]))


def asked(result: Result) -> str:
    """Return the question, and how much of it is answered."""
    fields = joined([f"{each['field']} ({', '.join(each['values'])})" for each in result["vary"]])
    done = len(result["points"])
    stopped = "" if result["complete"] else f" Stopped: {done} of {result['points_asked_for']} points are shown."
    counted = f"{done} point" if done == 1 else f"{done} points"
    said = f"What if {fields}? {counted}, all strategies meeting the same luck at each of them.{stopped}"
    return " ".join(each for each in (said, beside_fleet(result), _refused(result)) if each)


def _refused(result: Result) -> str:
    refused = result["refused"]
    if not refused:
        return ""
    points = "1 point is" if len(refused) == 1 else f"{len(refused)} points are"
    return f"{points} left out, since there is no such reorder rule; the first: {refused[0]}."


def break_even_tables(result: Result) -> list[Table]:
    """Return the table of break-evens: by what, where, who is best on either side, and how sure that is."""
    if not result["break_evens"]:
        return []
    sure = percent(result["confidence"])
    note = (
        "A change lies straight between two values that were run; range and “seen in” come from 400 bootstrap "
        f"samples of the replications: {doubt.held(result)}. One that is seen in fewer than {sure} is not sure."
        f"{unbought.note_of_points(result['points'])}"
    )
    heads = ("Best strategy changes at", f"{sure} range", "seen in", "below it", "above it")
    return [Table(heads, tuple(_break_even(result, change) for change in result["break_evens"]), note)]


def _break_even(result: Result, change: Result) -> tuple[str, ...]:
    unit = change["unit"]
    others = "".join(f"\n  with {path} = {text}" for path, text in change["at"].items())
    where = f"{change['field']} {quantity(change['value'], unit)}{others}\n  by {_criterion(result, change['by'])}"
    spread = "-" if change["low"] is None else quantities(change["low"], change["high"], unit)
    sure = "" if change["seen_in"] >= result["confidence"] else "\nnot sure"
    return where, spread, f"{percent(change['seen_in'])}{sure}", _who(change["from"]), _who(change["to"])


def _who(name: str | None) -> str:
    return "none" if name is None else name


def _criterion(result: Result, by: str) -> str:
    budget = result["budget"]
    within = "" if budget is None else f", of those for at most {money(budget, result['currency'] or '')} a year"
    known = {
        BY_COST_IN_TARGET: f"cost, of those with a supply shortfall in at most {percent(result['target'])}",
        BY_COST: "cost, whatever the reliability",
        BY_HOURS: f"hours unserved for lack of supply{within}",
    }
    return known.get(by, f"{for_readers(by)}{within}")


def next_steps(result: Result, written: Collection[str] = ()) -> list[str]:
    """Return what to do with the answer: find out what it depends on, or that not; draw what is not drawn yet."""
    found = []
    sure = [change for change in result["break_evens"] if change["seen_in"] >= result["confidence"]]
    for change in sure[:1]:
        sides = joined([f"“{_who(name)}”" for name in (change["from"], change["to"])])
        found.append(
            f"Find out on which side of {quantity(change['value'], change['unit'])} your place lies "
            f"({change['field']}): that decides between {sides}."
        )
    whole = result["complete"] and len(result["strategies"]) > 1 and len(result["points"]) > 1
    if whole and not sure:
        found.append(_undecided(result))
    drawn = [each for each, needs in DRAWINGS.items() if needs <= len(result["vary"]) and each not in written]
    if drawn and len(result["points"]) > 1:
        found.append(f"Draw it: the same command with {' or '.join(f'{each} {PLACES[each]}' for each in drawn)}.")
    left = len(result["points"]) - MOST_ROWS
    if left > 0 and "--table" not in written:
        found.append("All points with their intervals: the same command with --table FILE.csv.")
    return found


def _undecided(result: Result) -> str:
    """Return what to do where no change of the best strategy is sure."""
    leaders = [leader for point in result["clear"]["leaders"] for leader in point["by"].values()]
    if not result["break_evens"] and not any(leader["no_clear_difference"] for leader in leaders):
        return "The choice does not depend on what was varied here: vary what else is uncertain."
    more = f"{MORE * result['replications']:,}".replace(",", "")
    return (
        f"Luck may be what separates some strategies here: the same command with --replications {more} says more."
    )


def no_break_even(result: Result) -> str:
    """Return that nothing changes, an empty text where something does."""
    if result["break_evens"]:
        return ""
    if len(result["strategies"]) < 2:
        return "One strategy alone has no break-even."
    if all(len(each["values"]) < 2 for each in result["vary"]):
        return "One value alone has no break-even."
    if not result["complete"]:
        count = len(result["points"])
        ran = (
            "At the one point that was run there is"
            if count == 1
            else f"Among the {count} points that were run is"
        )
        return f"{ran} no break-even; the others were not run, so there may be some."
    return "The best strategy is the same at all values, whether by chance, by hours or by cost: no break-even."


def best_tables(result: Result) -> list[Table]:
    """Return the chance of a supply shortfall by point and strategy, hours and cost beside it."""
    names = list(result["strategies"])
    return [_table(result, names[at : at + COLUMNS_AT_ONCE]) for at in range(0, len(names), COLUMNS_AT_ONCE)]


def _table(result: Result, names: Sequence[str]) -> Table:
    heads = " /\n".join(each["field"] for each in result["vary"])
    shown = result["points"][:MOST_ROWS]
    rows = tuple(
        (" / ".join(point["values"].values()), *(_cell(result, point, name) for name in names)) for point in shown
    )
    left = len(result["points"]) - len(shown)
    days = result["horizon_days"]
    within = "a year" if is_year(days) else span(days)
    note = (
        f"Chance of a supply shortfall within {within}; below, patient-hours a year unserved for lack of "
        f"supply, and the cost a year. In brackets the {percent(result['confidence'])} interval of each by itself "
        f"({doubt.held(result)}); * meets the target of {percent(result['target'])} as estimated."
        f"{unbought.note_of_points(result['points'])}"
    )
    more = (
        f" {left} more points are not shown: they are in the tables that --table and --json give." if left else ""
    )
    return Table((heads, *names), rows, note + more)


def _cell(result: Result, point: Result, name: str) -> str:
    item = point["strategies"][name]
    mark = " *" if item[CHANCE]["estimate"] <= result["target"] else ""
    cost = item[COST]
    priced = "" if cost is None else f"\n{result['currency'] or ''} {estimate(cost)}".replace("\n ", "\n")
    lacking = unbought.below(unbought.of_item(item)) if priced else ""
    return f"{chance_range(item[CHANCE])}{mark}\n{hours_range(item[SUPPLY_HOURS])}{priced}{lacking}"
