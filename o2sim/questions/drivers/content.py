"""Lay out what drives the answer as blocks: the question, what matters in words, the tables."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from o2sim.looks import cautions
from o2sim.looks.blocks import Block, Table
from o2sim.looks.screen import Screen
from o2sim.looks.words import a_point, amount, capital, end_beside, joined, number, percent
from o2sim.measures.names import BROKEN, CHANCE, COST, NOT_BOUGHT, SUPPLY_HOURS
from o2sim.questions.drivers.points import MEASURES
from o2sim.questions.drivers.regret import BY_CHANCE
from o2sim.questions.drivers.result import (
    Answers,
    Bar,
    ByCost,
    ByLoss,
    Estimate,
    Found,
    Index,
    Nested,
    OneAtATime,
    Screened,
)
from o2sim.questions.drivers.text import NAMES, asked, held, holds, rule, scaled, sentences, value_of
from o2sim.questions.drivers.tornado import matters_most
from o2sim.statistics.estimates import Mean, Probability

MOST_BARS = 12
MOST_NUMBERS = 5
LIMITS = (
    "A range is only as good as who gave it; numbers that are not marked as uncertain count as known. They are "
    "taken to be independent of each other: where two go together, the answer is less sure than this."
)

LIMITS_OF_JOINT = (
    "Draws are only as good as what they were drawn from; numbers without a column count as known. Rows hold no "
    "points "
    "at which one number moves alone: a number may owe its rank correlation to another that goes with it."
)
MOST_RANKED = 8


def content(result: Found) -> list[Block]:
    """Return what is to be said of a search for drivers."""
    joint = isinstance(result, Nested) and result.drawn_from is not None
    return [asked(result), *sentences(result), *_tables(result), LIMITS_OF_JOINT if joint else LIMITS]


def provenance(result: Answers) -> str:
    """Return the line that says how to get the same result again."""
    draws = ""
    if isinstance(result, Nested):
        joint = result.drawn_from
        draws = f"{result.draws:,} draws{'' if joint is None else f' of {joint.file_hash}'}, "
    ran = result.ran
    return (
        f"o2sim {ran.version} | scenario {result.of.scenario_hash} | seed {ran.seed} | "
        f"{result.method}, {draws}{a_point(ran.replications)} | engine {ran.engine}"
    )


def print_drivers(result: Found) -> None:
    """Print the question, what matters in words, the tables, cautions and provenance."""
    screen = Screen()
    screen.show(content(result))
    screen.paragraph(cautions.NOT_COMPARED, *cautions.SHORT[:3])
    screen.paragraph(provenance(result))


def _tables(result: Found) -> list[Table]:
    """Return bars by strategy; or spread, decisions and how they settled; or indices by strategy and measure."""
    if isinstance(result, OneAtATime):
        return [_bars(result, name) for name, item in result.strategies.items() if item.bars[CHANCE]]
    if isinstance(result, Nested):
        choices = [_choice(result, item) for item in result.decisions]
        losses = [item for item in result.decisions if isinstance(item, ByLoss)]
        numbers = [_numbers(result, item) for item in losses if item.perfect_information.at_most > 0]
        return [_spread(result), *_ranks(result), *choices, *numbers, _convergence(result)]
    return [
        _indices(result, f"{name}: {NAMES[measure]}", measure, found[:MOST_BARS])
        for name, measures in result.strategies.items()
        for measure, found in measures.items()
        if found is not None
    ]


def _bars(result: OneAtATime, name: str) -> Table:
    """Return the bars of a strategy, in order of swing of the chance (of the hours if level)."""
    item = result.strategies[name]
    _, bars = matters_most(item)
    by = {measure: {bar.field: bar for bar in found} for measure, found in item.bars.items()}
    felt = [bar for bar in bars if any(each[bar.field].swing > 0 for each in by.values())]
    first = ("best guess", *(amount(scaled(measure, item.best_guess[measure].middle)) for measure in by))
    rows = [
        (
            f"{bar.field}\n  {bar.low.value} – {bar.high.value} (likely {result.likely(bar.field)})",
            *(_two(measure, each[bar.field]) for measure, each in by.items()),
        )
        for bar in felt[:MOST_BARS]
    ]
    heads = {
        CHANCE: "supply shortfall, %", SUPPLY_HOURS: "hours unserved", COST: f"cost, {result.currency or 'money'}",
        NOT_BOUGHT: "cylinders not bought", BROKEN: "unit-hours broken",
    }  # fmt: skip
    note = (
        f"At the low end → at the high end; below it high less low with its {percent(result.confidence)} interval "
        "over pairs that met the same luck. * more than chance explains; ~ the likely value gives more, or less, "
        f"than either end. {held(result)} Hours: {NAMES[SUPPLY_HOURS]}.{_left_out(bars, felt)}"
    )
    return Table((name, *(heads[measure] for measure in by)), (first, *rows), note)


def _left_out(bars: Sequence[Bar], felt: Sequence[Bar]) -> str:
    """Return which numbers do nothing at all, and how many are not shown."""
    idle = [bar.field for bar in bars if bar not in felt]
    said = f" Nothing at all changes with {joined(idle)}." if idle else ""
    left = len(felt) - MOST_BARS
    return f"{said} {left} with smaller swings are not shown: --csv has them." if left > 0 else said


def _two(measure: str, bar: Bar) -> str:
    """Return both ends and, below them, their difference."""
    low, high = (amount(scaled(measure, end.middle)) for end in (bar.low, bar.high))
    if bar.swing == 0:
        return f"{low} → {high}"
    mark = ("*" if bar.beyond_luck else "") + ("~" if bar.bends else "")
    found = bar.difference
    said = _signed(scaled(measure, found.mean))
    if found.low is None or found.high is None:
        return f"{low} → {high}\n{said} {mark}".rstrip()
    low_end, high_end = scaled(measure, found.low), scaled(measure, found.high)
    least, most = _signed(low_end, high_end), _signed(high_end, low_end)
    return f"{low} → {high}\n{said} ({least} to {most}){mark}"


def _signed(value: float, other: float = 0.0) -> str:
    """Return a number with its sign; other: the other end, where it is one of two."""
    sign = "+" if value > 0 else ("−" if value < 0 else "")
    return f"{sign}{end_beside(value, other)}"


def _spread(result: Nested) -> Table:
    """Return what is not known apart from chance, by strategy."""
    names = list(result.strategies)
    rows: list[tuple[str, ...]] = []
    for measure in MEASURES:
        found = [item[measure] for item in result.strategies.values() if measure in item]
        if len(found) < len(names):
            continue
        rows.append((capital(NAMES[measure]), *("" for _ in names)))
        for label, key in (
            ("at the best guess", "best_guess"),
            ("over what is not known", "mean"),
            ("low end of the range", "range_low"),
            ("high end of the range", "range_high"),
        ):
            rows.append((f"  {label}", *(_with_interval(result, measure, getattr(each, key)) for each in found)))
        rows.append(("  not known, of a year's variance", *(percent(each.not_known_share) for each in found)))
    met = (percent(item[CHANCE].meets_target_in or 0.0) for item in result.strategies.values())
    note = (
        f"{held(result)} The range is what unknown inputs do: it holds {percent(result.range)} of the draws; "
        "the noise of the replications inside each draw is taken out of it (analysis of variance of draws by "
        "replications). The last line of each is the share of the variance between single years that comes from "
        "what is not known; the rest is chance."
    )
    heads = ("Apart: not known, and chance", *names)
    return Table(heads, (*rows, ("Target met, of draws", *met)), note)


def _with_interval(result: Nested, measure: str, entry: Probability | Mean | Estimate) -> str:
    value = value_of(result, measure, entry.middle)
    if entry.low is None or entry.high is None:
        return value
    low, high = (amount(scaled(measure, end)) for end in (entry.low, entry.high))
    return f"{value} ({low}{'–' if low[0].isdigit() and high[0].isdigit() else ' to '}{high})"


def _ranks(result: Nested) -> list[Table]:
    """Return how the columns of joint draws go with the chance, or the hours where the chance never varies."""
    found = []
    for name, by in (result.rank_correlations or {}).items():
        measure = next((each for each in (CHANCE, SUPPLY_HOURS, COST) if by.get(each)), None)
        if measure is None:
            continue
        rows = tuple(
            (each.field, f"{each.estimate:+.2f} ({each.low:+.2f} to {each.high:+.2f})")
            for each in by[measure][:MOST_RANKED]
        )
        note = (
            f"Spearman's rank correlation with the mean of each row, from -1 to +1, with its "
            f"{percent(result.confidence)} interval over the rows. What holds 0 is not shown to matter."
        )
        found.append(Table((f"{name}: what goes with the {NAMES[measure]}", "rank correlation"), rows, note))
    return found


def _say(result: Nested, by: str) -> Callable[[float], str]:
    return lambda value: value_of(result, CHANCE if by == BY_CHANCE else COST, value)


def _choice(result: Nested, item: ByLoss | ByCost) -> Table:
    """Return how often each strategy is the best by a rule, and what is lost by choosing it."""
    say = _say(result, item.by)
    heads: tuple[str, ...]
    cells: dict[str, tuple[str, ...]]
    if isinstance(item, ByCost):
        heads = ("misses the target in", "dearer where it meets it")
        dearer = {name: "-" if more is None else say(more) for name, more in item.dearer_where_it_meets.items()}
        cells = {name: (percent(share), dearer[name]) for name, share in item.misses_target_in.items()}
        note = (
            "Dearer than the cheapest that meets the target, a year, over the draws in which it meets it itself."
        )
    else:
        heads = ("expected regret",)
        measure = CHANCE if item.by == BY_CHANCE else COST
        cells = {name: (_with_interval(result, measure, each),) for name, each in item.regret.items()}
        note = _regret_note(result, item)
    rows = tuple(
        (f"{name}{' (best now)' if name == item.best_now else ''}", percent(share), *cells[name])
        for name, share in item.best_in.items()
    )
    return Table((capital(rule(result, item)), "best in, of draws", *heads), rows, note)


def _regret_note(result: Nested, item: ByLoss) -> str:
    out = f" Left out, over the budget: {', '.join(item.left_out)}." if item.left_out else ""
    worth = item.perfect_information
    middle, least, most = map(_say(result, item.by), (worth.estimate, worth.at_least, worth.at_most))
    return (
        "Regret: what is lost by choosing it before knowing, a year, on average over the draws. Value of perfect "
        f"information {middle} (between {least}, where half of the replications choose and the other half judge, "
        f"and {most}, where all do both). In brackets {holds(result)}.{out}"
    )


def _numbers(result: Nested, item: ByLoss) -> Table:
    """Return the value of knowing one number alone."""
    say = _say(result, item.by)
    rows = tuple((each.field, say(each.estimate), say(each.by_luck)) for each in item.one_number[:MOST_NUMBERS])
    note = (
        f"By the rule “{rule(result, item)}”. What does not stand well above its second figure is not shown to be "
        "worth anything."
    )
    return Table(("Worth of knowing one number", "a year", "one that tells nothing"), rows, note)


def _convergence(result: Nested) -> Table:
    """Return how the answer settled."""
    rows = []
    for each in result.convergence:
        cells = [
            f"{percent(at['mean'])} ({number(100 * at['range_low'])}–{number(100 * at['range_high'])})"
            for at in each.strategies.values()
        ]
        values = [_say(result, by)(value) for by, value in each.perfect_information.items()]
        rows.append((f"{each.draws:,} × {each.replications:,}", *cells, *values))
    heads = [
        f"knowing all: {'chance' if by == BY_CHANCE else 'money'}"
        for by in result.convergence[0].perfect_information
    ]
    note = (
        "Chance of a supply shortfall over what is not known, in brackets its range, by unknown inputs: how it "
        "settled as replications, then draws, were added. Where the last rows still move, ask for more."
    )
    return Table(("Draws × replications", *result.strategies, *heads), tuple(rows), note)


def _indices(result: Screened, title: str, measure: str, found: Sequence[Index]) -> Table:
    level = percent(result.confidence)
    if result.method == "morris":
        heads = {"mu*": "mu_star", "mu": "mu", "sigma": "sigma"}
        factor = scaled(measure, 1.0)
        note = (
            f"mu*: mean size of the effect of the whole range (± {level}, over trajectories); mu: the same with "
            "its sign; sigma beside mu* is large where the effect depends on the other numbers or bends. Chances "
            f"in percentage points. {held(result)}"
        )
    else:
        heads, factor = {"S1": "s1", "ST": "st"}, 1.0
        note = (
            f"Shares of the variance of the mean over {result.ran.replications:,} replications: S1 by itself, ST "
            f"with all it does together with others (± {level}, over the points). {held(result)}"
        )
    rows = tuple((each.field, *(_plus_minus(each, key, factor) for key in heads.values())) for each in found)
    return Table((title, *heads), rows, note)


def _plus_minus(entry: Index, key: str, factor: float) -> str:
    value, half = factor * getattr(entry, key), getattr(entry, f"{key}_half_width", None)
    said = _signed(value) if value < 0 else number(value)
    return said if half is None else f"{said} ± {number(factor * half)}"
