"""What `o2sim size` says of a result: sentences, tables, rows for CSV."""

from __future__ import annotations

from collections.abc import Sequence

from o2sim.looks import both_doubts, doubt, unbought
from o2sim.looks.blocks import Block, Table
from o2sim.looks.words import is_year, joined, money, moved_along, number, percent, quoted, span
from o2sim.money.unbought import Unbought
from o2sim.questions.size.better_rule_text import pair_lines, rule_first
from o2sim.questions.size.by_row_text import over_draws
from o2sim.questions.size.how_sure_text import more_sentence, why_so_near
from o2sim.questions.size.limits_text import limits
from o2sim.questions.size.money_text import beside_difference, counts_money, short_of_money
from o2sim.questions.size.phrases import in_words, named_causes, runs_of
from o2sim.questions.size.result import IN_TURN, MISSING_LITRES, Point, SizingResult, Values
from o2sim.questions.size.which_run_text import (
    by_enough_sentence,
    missing_sentence,
    same_at_all,
    with_handling_sentence,
)
from o2sim.typed import as_json

CSV_COLUMNS = ("replications", "failures", "estimate", "low", "high", "status", "annual_cost")
MOST_ROWS = 24  # of the curve on the screen: all around the answer, the rest spaced out
NEAR = 4  # points beside the answer that are always shown
IN_SIMULATION = " in the simulation"  # of a status; the column says it in its head
RULES_NOTE = (
    "Rules of thumb are common practice: they know the year's mean use, not its season, nor a road that closes. "
    "They are shown to say how far they are off, not to be followed."
)


def content(result: SizingResult) -> list[Block]:
    """Return what is to be said of a sizing: the answer, the curve, the rules of thumb beside it."""
    return [*answer_lines(result), *tables(result)]


def done(result: SizingResult) -> str:
    """Return how many replications were run, for the provenance."""
    drawn = None if result.draws is None else as_json(result.draws)
    done = "" if result.complete else " asked for, not all done"
    return f"{result.ran.replications:,} replications{done}{both_doubts.done(drawn)}"


def answer_lines(result: SizingResult) -> list[str]:
    """Return the answer, how sure it is, what moves along and by which method, a sentence or two each."""
    lines = [rule_first(result), by_enough_sentence(result), _answer(result), *pair_lines(result)]
    lines += [why_so_near(result), missing_sentence(result), same_at_all(result)]
    lines += [short_of_money(result), with_handling_sentence(result), moved_along(result.levels_moved)]
    lines += [*over_draws(result), _shocks(result), _method(result), _other_causes(result)]
    lines += [_one_less(result), _next_one(result), more_sentence(result), _refused(result)]
    return [line for line in lines if line]


def _answer(result: SizingResult) -> str:
    target, days = runs_of(result.target, result.horizon_days), result.horizon_days
    want = f"somebody goes without because of {named_causes(result)} in at most {target}"
    if result.answer is None:
        if result.complete:
            return _no_answer(result, want)
        return f"Stopped too early to say which value is enough so that {want}."
    point = result.answer.point
    fresh = " fresh" if not (result.by_one_batch or result.method.name == IN_TURN) else ""
    batch = f"{point.replications:,}{fresh} replications"
    seen = f"in {point.failures:,} of {batch} it did happen" if point.failures else f"in {batch} it never did"
    cheapest = "with the fewest deliveries" if result.pairs and not result.currency else "cheapest"
    least = "least of those tried" if result.in_a_row else f"{cheapest} of those tried"
    if point.values == result.curve[0].values and result.in_a_row:
        least = "least of the range; less may be enough: give a lower --range"
    word = "year" if is_year(days) else f"run of {span(days)}"
    chance = (
        f"a chance of {percent(point.estimate)}, at most {percent(result.answer.at_most)} with that confidence"
    )
    return (
        f"Under “{result.strategy}” {in_words(point.values)} is enough in the simulation ({least}), sized on "
        "supply alone: if hands, eyes and the way to the store cost no time, then with "
        f"{percent(result.confidence)} confidence {want}; {seen}: {chance}. "
        f"{percent(result.target)} still means about one {word} in {number(1 / result.target)}."
    )


def _no_answer(result: SizingResult, want: str) -> str:
    """Return how near the values came: the one that was looked at as a whole, else the first that fails least."""
    looked_at = None if result.measured is None else result.measured.values
    least = min(result.curve, key=lambda point: point.estimate)
    best = next((point for point in result.curve if point.values == looked_at), least)
    said = (
        f"None of the values tried is shown to be enough under “{result.strategy}”, so that {want}. The best, "
        f"{in_words(best.values)}, fails in {percent(best.estimate)} of replications "
        f"({percent(best.low)} to {percent(best.high)})."
    )
    lacking = None if result.measured is None else result.measured.litres_missing
    if lacking is not None and any(point.status == MISSING_LITRES for point in result.curve):
        return (
            f"{said} Too many of the litres needed are missing: {percent(lacking.mean)} at "
            f"{in_words(best.values)}, where at most {percent(result.most_missing)} may be (--most-missing). "
            f"{limits(result)}"
        )
    if best.estimate <= result.target:
        return f"{said} That is within the target, but too few replications show it."
    return f"{said} {limits(result)}"


def _shocks(result: SizingResult) -> str:
    """Return that the runs have shocks, and what beside them has none."""
    if not result.shocks:
        return ""
    return (
        f"The runs have the shocks of the scenario ({quoted(result.shocks)}), as often and as long as it says; "
        "rules of thumb and times of delivery leave them out."
    )


def _method(result: SizingResult) -> str:
    if result.by_one_batch:
        return (
            "Method: one batch at the largest stock gives the whole curve, since a smaller one goes through the "
            "same orders until its shelf is bare; the answer is its order statistic. A bare shelf counts at once, "
            "a gap within tolerated_gap too, so it is on the safe side."
        )
    if result.method.name == IN_TURN:
        return (
            "Method: the values were tried from the largest down, each in all replications, to the first that is "
            "not "
            "shown to be enough; as that order is fixed beforehand, all together err at most as often as stated. "
            "One "
            f"batch would not do: {joined(result.method.why)}."
        )
    by_cost = "the cheapest first (by what each cost in a pilot of a few replications), "
    order = by_cost if not result.in_a_row and result.currency else ""
    if result.pairs and not result.currency:
        order = "those with the fewest deliveries first, "
    return (
        f"Method: the values were tried one after the other, {order}never by halving, and the first that passed "
        f"was confirmed on replications that took no part in the search. One batch would not do: "
        f"{joined(result.method.why)}."
    )


def _other_causes(result: SizingResult) -> str:
    """Return how often supply fails for causes that the target does not name."""
    seen = result.measured
    if seen is None:
        return ""
    rest = joined([
        f"{label} {percent(part)}"
        for label, part in seen.chance_by_cause.items()
        if label not in result.causes and part >= result.target
    ])  # fmt: skip
    return (
        f"Looked at as a whole at {in_words(seen.values)}, with supply alone ({seen.replications:,} "
        f"replications): a supply shortfall of "
        f"any cause in {percent(seen.chance_of_a_stock_out.estimate)}, an interruption because of "
        f"{named_causes(result)} in {percent(seen.chance_by_named_causes.estimate)}."
    ) + (f" Not cured by it: interruptions for {rest}." if rest else "")


def _next_one(result: SizingResult) -> str:
    found = result.next_one
    if found is None:
        return ""
    lower, cost, first = found.lowers_the_chance_by, found.cost_a_year, found.first_that_lowers
    change = f"lowers the chance by {number(100 * lower)} points" if lower else "lowers the chance by nothing seen"
    if lower < 0:
        change = f"raises the chance as estimated by {number(-100 * lower)} points"
    way = "saves" if cost is not None and cost < 0 else "costs"
    priced = "" if cost is None else f" and {way} {money(abs(cost), result.currency or '')} a year"
    later = ""
    if lower <= 0 and first is not None:
        by = number(100 * (found.which_lowers_by or 0.0))
        later = f" The first that lowers it is {in_words(first)}, by {by} points."
    lacking = beside_difference(_lacking(result, result.chosen), _lacking(result, found.to)) if priced else ""
    return f"The next step, {in_words(found.to)}, {change}{priced}{lacking}.{later}"


def _lacking(result: SizingResult, values: Values | None) -> Unbought | None:
    """Return what was not bought at values of the curve; None where nobody counts money."""
    return next((point.unbought for point in result.curve if point.values == values), None)


def _one_less(result: SizingResult) -> str:
    """Return what one step less does, of each field where several are sized."""
    if result.answer is None:
        return ""
    beside = result.neighbours
    by_field = {result.vary[0].field: beside.sides} if beside.by_field is None else beside.by_field
    less = {field: sides.one_less for field, sides in by_field.items()}
    said = joined([
        f"with {field} {point.values[field]} it fails in {point.failures:,} of {point.replications:,} "
        f"({point.status})"
        for field, point in less.items()
        if point is not None
    ])  # fmt: skip
    return f"One step less{', the rest as it is' if len(by_field) > 1 else ''}: {said}." if said else ""


def _refused(result: SizingResult) -> str:
    refused = result.refused
    if not refused:
        return ""
    return (
        f"{len(refused)} value{'s' if len(refused) > 1 else ''} left out as no scenario; the first: {refused[0]}"
    )


def tables(result: SizingResult) -> list[Table]:
    """Return the curve, and what rules of thumb say beside it."""
    return [_curve(result), *([_rules_of_thumb(result)] if result.rules_of_thumb else [])]


def _curve(result: SizingResult) -> Table:
    priced = any(point.annual_cost is not None for point in result.curve)
    columns = (
        " / ".join(short_names([each.field for each in result.vary])),
        "runs",
        "failed",
        "chance",
        f"{percent(result.confidence)} band",
        IN_SIMULATION.strip(),
        f"cost a year, {result.currency}",
    )
    rows = [
        (
            " / ".join(point.values.values()),
            f"{point.replications:,}",
            f"{point.failures:,}",
            percent(point.estimate),
            f"{percent(point.low)} to {percent(point.high)}",
            point.status.removesuffix(IN_SIMULATION) + (", the answer" if point.values == result.chosen else ""),
            "-" if point.annual_cost is None else number(point.annual_cost) + unbought.below(point.unbought),
        )
        for point in _shown(_by_cost(result), result.chosen)
    ]
    upto = None if priced else -1
    looked = "" if result.by_one_batch or result.draws is not None else ", however long it was looked at"
    note = (
        f"The curve is that of supply alone. The band is two-sided and holds for each line by itself{looked}. "
        "Band and confidence hold "
    )
    return Table(
        columns[:upto],
        tuple(row[:upto] for row in rows),
        f"{note}{doubt.holds(result.interval_holds, result.draws)}.{_of_money(result) if priced else ''}",
    )


def _of_money(result: SizingResult) -> str:
    """Return what stands below costs where money is counted, to follow a sentence."""
    return f" {unbought.NOTE}" if counts_money(result) else ""


def short_names(fields: Sequence[str]) -> list[str]:
    """Return several fields by one word each, such as fleet and concentrators, where these differ."""
    words = [field.split(".")[-2 if field.endswith(".count") else -1] for field in fields]
    return words if len(fields) > 1 and len(set(words)) == len(words) else list(fields)


def _by_cost(result: SizingResult) -> Sequence[Point]:
    """Return the curve as it is read: of one field by value, of several by cost where there are prices."""
    if result.in_a_row or any(point.annual_cost is None for point in result.curve):
        return result.curve
    return sorted(result.curve, key=lambda point: point.annual_cost or 0.0)


def _shown(curve: Sequence[Point], chosen: Values | None) -> list[Point]:
    """Return the points to show: all near the answer, the others spaced out."""
    last = len(curve) - 1
    place = next((at for at, point in enumerate(curve) if point.values == chosen), last)
    step = 1 if len(curve) <= MOST_ROWS else max(1, len(curve) // (MOST_ROWS - 2 * NEAR))
    return [point for at, point in enumerate(curve) if abs(at - place) <= NEAR or at % step == 0 or at == last]


def _rules_of_thumb(result: SizingResult) -> Table:
    answer = None if result.chosen is None else float(result.chosen[result.vary[0].field])
    rows = [
        (
            f"{rule.rule}\n  {rule.figures}",
            f"{rule.value:,}",
            "-" if answer is None else f"{rule.value - answer:+,.0f}",
            "not known" if rule.estimate is None else percent(rule.estimate),
        )
        for rule in result.rules_of_thumb
    ]
    return Table(("Rule of thumb", "value", "off by", "chance there"), tuple(rows), RULES_NOTE)


def csv_columns(result: SizingResult) -> tuple[str, ...]:
    """Return the columns of the curve as CSV."""
    return (
        *(each.field for each in result.vary),
        *CSV_COLUMNS,
        *unbought.columns(each.unbought for each in result.curve),
    )


def csv_rows(result: SizingResult) -> list[list[str | int | float]]:
    """Return the curve as CSV, a row a candidate; a cost that is not known is left empty."""
    cells = [[getattr(point, column) for column in CSV_COLUMNS] for point in result.curve]
    parts = unbought.columns(point.unbought for point in result.curve).values()
    return [
        [
            *point.values.values(),
            *("" if cell is None else cell for cell in row),
            *(getattr(point.unbought, part, "") for part in parts),
        ]
        for point, row in zip(result.curve, cells, strict=True)
    ]
