"""The result of a sizing in, the words and tables of `o2sim size` out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from o2sim.looks import doubt
from o2sim.looks.blocks import Table
from o2sim.looks.words import is_year, joined, money, moved_along, number, percent, quoted, span
from o2sim.outcome import SUPPLY_CAUSES, Cause
from o2sim.questions.size.limits_text import limits

Result = Mapping[str, Any]
CSV_COLUMNS = ("replications", "failures", "estimate", "low", "high", "status", "annual_cost")
MOST_ROWS = 24  # of the curve on the screen: all around the answer, the rest spaced out
NEAR = 4  # points beside the answer that are always shown
ONE_BATCH = "one batch"
IN_SIMULATION = " in the simulation"  # of a status; the column says it in its head
THUMB_NOTE = (
    "Rules of thumb are common practice: they know the year's mean use, not its season, nor a road that "
    "closes. They "
    "are shown to say how far they are off, not to be followed."
)


def told(values: Mapping[str, str]) -> str:
    """Return values as `cylinders.fleet 44 and concentrators.count 5`."""
    return joined([f"{path} {text}" for path, text in values.items()])


def runs_of(share: float, days: float) -> str:
    """Return a share as `5 in 100 years`, or of runs of the horizon."""
    size = 100 if share >= 0.01 else 1_000
    return f"{number(share * size)} in {size:,} " + ("years" if is_year(days) else f"runs of {span(days)}")


def answer_lines(result: Result) -> list[str]:
    """Return the answer, how sure it is, what moves along and by which method, a sentence or two each."""
    lines = [_answer(result), _moved(result), _method(result), _other_causes(result)]
    lines += [_one_less(result), _next_one(result)]
    return [line for line in [*lines, _more(result), _refused(result)] if line]


def named_causes(result: Result) -> str:
    """Return the causes that the target counts: by name, unless they are all, or all of supply."""
    causes = set(result["causes"])
    if causes == {cause.label for cause in Cause}:
        return "any cause"
    if causes == {cause.label for cause in SUPPLY_CAUSES}:
        return "any cause of a stock-out"
    return quoted(result["causes"])


def _answer(result: Result) -> str:
    target, days = runs_of(result["target"], result["horizon_days"]), result["horizon_days"]
    want = f"somebody goes without because of {named_causes(result)} in at most {target}"
    found = result["answer"]
    if not result["complete"] and found is None:
        return f"Stopped too early to say which value is enough so that {want}."
    if found is None:
        return _no_answer(result, want)
    n, count = found["replications"], found["failures"]
    fresh = "" if result["method"]["name"] == ONE_BATCH else " fresh"
    seen = (
        f"in {count:,} of {n:,}{fresh} replications it did happen"
        if count
        else f"in {n:,}{fresh} replications it never did"
    )
    least = "least of those tried" if len(found["values"]) == 1 else "cheapest of those tried"
    if result["curve"] and found["values"] == result["curve"][0]["values"] and len(found["values"]) == 1:
        least = "least of the range; less may be enough: give a lower --range"
    return (
        f"Under “{result['strategy']}” {told(found['values'])} is enough in the simulation ({least}): with "
        f"{percent(result['confidence'])} confidence {want}; {seen}: a chance of {percent(found['estimate'])}, at "
        f"most {percent(found['at_most'])} with that confidence. "
        f"{_plain_target(result['target'], days)}"
    )


def _plain_target(target: float, days: float) -> str:
    every = 1 / target
    word = "year" if is_year(days) else f"run of {span(days)}"
    return f"{percent(target)} still means about one {word} in {number(every)}."


def _no_answer(result: Result, want: str) -> str:
    best = _best(result)
    said = (
        f"None of the values tried is shown to be enough under “{result['strategy']}”, so that {want}. The best, "
        f"{told(best['values'])}, fails in {percent(best['estimate'])} of replications "
        f"({percent(best['low'])} to {percent(best['high'])})."
    )
    if best["estimate"] <= result["target"]:
        return f"{said} That is within the target, but too few replications show it: give more --replications."
    return f"{said} {limits(result)}"


def _best(result: Result) -> Result:
    """Return the point that was looked at as a whole, else the first that fails least often."""
    looked_at = (result["measured"] or {}).get("values")
    least = min(result["curve"], key=lambda point: point["estimate"])
    return next((point for point in result["curve"] if point["values"] == looked_at), least)


def _moved(result: Result) -> str:
    return moved_along(result["levels_moved"])


def _method(result: Result) -> str:
    if result["method"]["name"] == ONE_BATCH:
        return (
            "Method: one batch at the largest stock gives the whole curve, since a smaller one goes through "
            "the same "
            "orders until its shelf is bare; the answer is its order statistic. A bare shelf counts at once, "
            "a gap "
            "within tolerated_gap too, so it is on the safe side."
        )
    why = joined(result["method"]["why"])
    by_cost = "the cheapest first (by what each cost in a pilot of a few replications), "
    order = by_cost if len(result["vary"]) > 1 and result["currency"] else ""
    return (
        f"Method: the values were tried one after the other, {order}never by halving, and the first that passed "
        f"was confirmed on replications that took no part in the search. One batch would not do: {why}."
    )


def _other_causes(result: Result) -> str:
    """Return how often supply fails for causes that the target does not name."""
    measured = result["measured"]
    if measured is None:
        return ""
    all_supply, named = measured["chance_of_a_stock_out"], measured["chance_by_named_causes"]
    others = {
        label: part
        for label, part in measured["chance_by_cause"].items()
        if label not in result["causes"] and part >= result["target"]
    }
    rest = joined([f"{label} {percent(part)}" for label, part in others.items()])
    said = (
        f"Looked at as a whole at {told(measured['values'])} ({measured['replications']:,} replications): a "
        "stock-out "
        f"of any cause in {percent(all_supply['estimate'])}, an interruption because of {named_causes(result)} in "
        f"{percent(named['estimate'])}."
    )
    return f"{said} Not cured by it: interruptions for {rest}." if rest else said


def _next_one(result: Result) -> str:
    found = result["next_one"]
    if found is None:
        return ""
    lower = found["lowers_the_chance_by"]
    change = (
        f"lowers the chance by {number(100 * lower)} points" if lower > 0 else "lowers the chance by nothing seen"
    )
    if lower < 0:
        change = f"raises the chance as estimated by {number(-100 * lower)} points"
    cost = found["cost_a_year"]
    way = "saves" if cost is not None and cost < 0 else "costs"
    priced = "" if cost is None else f" and {way} {money(abs(cost), result['currency'] or '')} a year"
    first = found.get("first_that_lowers")
    later = ""
    if lower <= 0 and first is not None:
        later = f" The first that lowers it is {told(first)}, by {number(100 * found['which_lowers_by'])} points."
    return f"The next step, {told(found['to'])}, {change}{priced}.{later}"


def _one_less(result: Result) -> str:
    """Return what one step less does, of each field where several are sized."""
    if result["answer"] is None:
        return ""
    sides = result["neighbours"]
    by_field = sides.get("by_field", {result["vary"][0]["field"]: sides})
    said = []
    for field, side in by_field.items():
        less = side["one_less"]
        if less is not None:
            failed = f"{less['failures']:,} of {less['replications']:,}"
            said.append(f"with {field} {less['values'][field]} it fails in {failed} ({less['status']})")
    rest = ", the rest as it is" if len(by_field) > 1 else ""
    return f"One step less{rest}: {joined(said)}." if said else ""


def _more(result: Result) -> str:
    found = result["more_replications"]
    if not found:
        return ""
    known = [item for item in found if item["values"] is not None]
    if not known:
        most = found[-1]["replications"]
        return f"With {most:,} replications it would still be none, if the curve is as estimated."
    here = None if result["answer"] is None else result["answer"]["values"]
    if all(item["values"] == here for item in known):
        most = known[-1]["replications"]
        return f"More replications (up to {most:,}) would buy nothing, if the curve is as estimated."
    buys = joined([f"{item['replications']:,} would show it of {told(item['values'])}" for item in known])
    return f"“Enough” is what this number of replications can show: if the curve is as estimated, {buys}."


def _refused(result: Result) -> str:
    refused = result["refused"]
    if not refused:
        return ""
    return (
        f"{len(refused)} value{'s' if len(refused) > 1 else ''} left out as no scenario; the first: {refused[0]}"
    )


def tables(result: Result) -> list[Table]:
    """Return the curve, and what rules of thumb say beside it."""
    return [table for table in (_curve(result), _thumb(result)) if table is not None]


def _curve(result: Result) -> Table:
    priced = any(point.get("annual_cost") is not None for point in result["curve"])
    head = [each["field"] for each in result["vary"]]
    columns: tuple[str, ...] = (
        " / ".join(short_names(head)),
        "runs",
        "failed",
        "chance",
        f"{percent(result['confidence'])} band",
        IN_SIMULATION.strip(),
    )
    chosen = None if result["answer"] is None else result["answer"]["values"]
    rows = []
    for point in _shown(_by_cost(result), chosen):
        mark = ", the answer" if point["values"] == chosen else ""
        cells = (
            " / ".join(point["values"].values()),
            f"{point['replications']:,}",
            f"{point['failures']:,}",
            percent(point["estimate"]),
            f"{percent(point['low'])} to {percent(point['high'])}",
            point["status"].removesuffix(IN_SIMULATION) + mark,
        )
        cost = point.get("annual_cost")
        rows.append((*cells, number(cost) if cost is not None else "-") if priced else cells)
    note = "The band is two-sided and holds for each line by itself" + (
        "." if result["method"]["name"] == ONE_BATCH else ", however long it was looked at."
    )
    note += f" Band and confidence hold {doubt.held(result)}."
    if priced:
        columns = (*columns, f"cost a year, {result['currency']}")
    return Table(columns, tuple(rows), note)


def short_names(fields: Sequence[str]) -> list[str]:
    """Return several fields by one word each, such as fleet and concentrators, where these differ."""
    words = [field.split(".")[-2 if field.endswith(".count") else -1] for field in fields]
    return words if len(fields) > 1 and len(set(words)) == len(words) else list(fields)


def _by_cost(result: Result) -> list[Result]:
    """Return the curve as it is read: of one field by value, of several by cost where there are prices."""
    curve = list(result["curve"])
    if len(result["vary"]) == 1 or any(point.get("annual_cost") is None for point in curve):
        return curve
    return sorted(curve, key=lambda point: point["annual_cost"])


def _shown(curve: Sequence[Result], chosen: Mapping[str, str] | None) -> list[Result]:
    """Return the points to show: all near the answer, the others spaced out."""
    if len(curve) <= MOST_ROWS:
        return list(curve)
    place = next((at for at, point in enumerate(curve) if point["values"] == chosen), len(curve) - 1)
    step = max(1, len(curve) // (MOST_ROWS - 2 * NEAR))
    return [
        point
        for at, point in enumerate(curve)
        if abs(at - place) <= NEAR or at % step == 0 or at == len(curve) - 1
    ]


def _thumb(result: Result) -> Table | None:
    if not result["thumb"]:
        return None
    field = result["vary"][0]["field"]
    answer = None if result["answer"] is None else float(result["answer"]["values"][field])
    rows = []
    for rule in result["thumb"]:
        off = "-" if answer is None else f"{rule['value'] - answer:+,.0f}"
        chance = "not known" if rule["estimate"] is None else percent(rule["estimate"])
        rows.append((f"{rule['rule']}\n  {rule['figures']}", f"{rule['value']:,}", off, chance))
    return Table(("Rule of thumb", "value", "off by", "chance there"), tuple(rows), THUMB_NOTE)


def csv_columns(result: Result) -> tuple[str, ...]:
    """Return the columns of the curve as CSV."""
    return (*(each["field"] for each in result["vary"]), *CSV_COLUMNS)


def csv_rows(result: Result) -> list[list[str | int | float]]:
    """Return the curve as CSV, a row a candidate."""
    rows = []
    for point in result["curve"]:
        rest = [point.get(column) for column in CSV_COLUMNS]
        rows.append([*point["values"].values(), *("" if cell is None else cell for cell in rest)])
    return rows
