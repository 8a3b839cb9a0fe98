"""The result of a search for drivers in, its tables out."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

from o2sim.looks import doubt
from o2sim.looks.blocks import Table
from o2sim.looks.words import joined, money, number, percent
from o2sim.measures.names import CHANCE, COST, SUPPLY_HOURS
from o2sim.questions.drivers.regret import BY_CHANCE, BY_COST
from o2sim.questions.drivers.text import NAMES, held, rule, value_of
from o2sim.questions.drivers.tornado import middle

Result = Mapping[str, Any]
MOST_BARS = 12
MOST_NUMBERS = 5


def tornado_tables(result: Result) -> list[Table]:
    """Return a table of bars for each strategy, in order of swing of the chance (of the hours if level)."""
    return [_bars(result, name, item) for name, item in result["strategies"].items() if item["bars"][CHANCE]]


def _bars(result: Result, name: str, item: Result) -> Table:
    bars = item["bars"]
    order = CHANCE if any(bar["swing"] > 0 for bar in bars[CHANCE]) else SUPPLY_HOURS
    by = {measure: {bar["field"]: bar for bar in bars[measure]} for measure in bars}
    felt = [bar for bar in bars[order] if any(by[measure][bar["field"]]["swing"] > 0 for measure in by)]
    shown = felt[:MOST_BARS]
    rows = []
    for bar in shown:
        likely = next(each["likely"] for each in result["uncertain"] if each["field"] == bar["field"])
        cells = [_two(measure, by[measure][bar["field"]]) for measure in by]
        rows.append(
            (f"{bar['field']}\n  {bar['low']['value']} – {bar['high']['value']} (likely {likely})", *cells)
        )
    guess = item["best_guess"]
    first = ("best guess", *(_plain(measure, middle(guess[measure])) for measure in by))
    heads = {
        CHANCE: "stock-out, %", SUPPLY_HOURS: "hours unserved", COST: f"cost, {result['currency'] or 'money'}"
    }  # fmt: skip
    note = (
        f"At the low end → at the high end; below it high less low with its {percent(result['confidence'])} "
        "interval over pairs that met the same luck. * more than chance explains; ~ the likely value gives "
        "more, or "
        f"less, than either end. {held(result)} Hours: {NAMES[SUPPLY_HOURS]}.{_left(bars[order], felt, shown)}"
    )
    return Table((name, *(heads[measure] for measure in by)), (first, *rows), note)


def _left(bars: Sequence[Result], felt: Sequence[Result], shown: Sequence[Result]) -> str:
    """Return which numbers do nothing at all, and how many are not shown."""
    said = ""
    idle = [bar["field"] for bar in bars if bar not in felt]
    if idle:
        said += f" Nothing at all changes with {joined(idle)}."
    if len(felt) > len(shown):
        said += f" {len(felt) - len(shown)} with smaller swings are not shown: --csv has them."
    return said


def _plain(measure: str, value: float) -> str:
    return number(100 * value if measure == CHANCE else value)


def _two(measure: str, bar: Result) -> str:
    low, high = (_plain(measure, middle(bar[end])) for end in ("low", "high"))
    difference = bar["difference"]
    if bar["swing"] == 0:
        return f"{low} → {high}"
    mark = ("*" if bar["beyond_luck"] else "") + ("~" if bar["bends"] else "")
    factor = 100.0 if measure == CHANCE else 1.0
    told = _signed(factor * difference["mean"])
    if difference["low"] is None:
        return f"{low} → {high}\n{told} {mark}".rstrip()
    least, most = (_signed(factor * difference[end]) for end in ("low", "high"))
    return f"{low} → {high}\n{told} ({least} to {most}){mark}"


def _signed(value: float) -> str:
    sign = "+" if value > 0 else ("−" if value < 0 else "")
    return f"{sign}{number(abs(value))}"


def nested_tables(result: Result) -> list[Table]:
    """Return what is not known apart from chance, by strategy; each decision; and how the answer settled."""
    return [_spread(result), *_decisions(result), *_numbers(result), _convergence(result)]


def _spread(result: Result) -> Table:
    names = list(result["strategies"])
    rows = []
    for measure in (CHANCE, SUPPLY_HOURS, COST):
        entries = [result["strategies"][name].get(measure) for name in names]
        if any(entry is None for entry in entries):
            continue
        rows.append((NAMES[measure][0].upper() + NAMES[measure][1:], *("" for _ in names)))
        for label, key in (
            ("at the best guess", "best_guess"),
            ("over what is not known", "mean"),
            ("low end of the range", "range_low"),
            ("high end of the range", "range_high"),
        ):
            rows.append((f"  {label}", *(_with_interval(result, measure, entry[key]) for entry in entries)))
        shares = (percent(entry["not_known_share"]) for entry in entries)
        rows.append(("  not known, of a year's variance", *shares))
    rows.append(("Target met, of draws",
                 *(percent(result["strategies"][name][CHANCE]["meets_target_in"]) for name in names)))  # fmt: skip
    note = (
        f"{held(result)} The range is what unknown inputs do: it holds {percent(result['range'])} of the draws; "
        "the noise of the replications inside each draw is taken out of it (analysis of variance of draws by "
        "replications). The last line of each is the share of the variance between single years that comes from "
        "what is not known; the rest is chance."
    )
    return Table(("Apart: not known, and chance", *names), tuple(rows), note)


def _with_interval(result: Result, measure: str, entry: Result) -> str:
    value = value_of(result, measure, middle(entry))
    if entry["low"] is None:
        return value
    factor = 100.0 if measure == CHANCE else 1.0
    return f"{value} ({number(factor * entry['low'])}–{number(factor * entry['high'])})"


def _say(result: Result, by: str) -> Callable[[float], str]:
    if by == BY_CHANCE:
        return percent
    return lambda value: money(value, result["currency"] or "")


def _decisions(result: Result) -> list[Table]:
    found = []
    for item in result["decisions"]:
        say = _say(result, item["by"])
        rows = []
        for name, share in item["best_in"].items():
            if item["by"] == BY_COST:
                dearer = item["dearer_where_it_meets"][name]
                cells = [percent(item["misses_target_in"][name]), "-" if dearer is None else say(dearer)]
            else:
                regret = item["regret"][name]
                factor = 100 if item["by"] == BY_CHANCE else 1
                ends = f"{number(factor * regret['low'])}–{number(factor * regret['high'])}"
                cells = [f"{say(regret['estimate'])} ({ends})"]
            rows.append((f"{name}{' (best now)' if name == item['best_now'] else ''}", percent(share), *cells))
        heads = (
            ("misses the target in", "dearer where it meets it") if item["by"] == BY_COST else ("expected regret",)
        )
        rule_said = rule(result, item)
        note = _decision_note(result, item)
        found.append(
            Table((f"{rule_said[0].upper()}{rule_said[1:]}", "best in, of draws", *heads), tuple(rows), note)
        )
    return found


def _decision_note(result: Result, item: Result) -> str:
    if item["by"] == BY_COST:
        return (
            "Dearer than the cheapest that meets the target, a year, over the draws in which it meets it itself."
        )
    left = item.get("left_out") or []
    out = f" Left out, over the budget: {', '.join(left)}." if left else ""
    say = _say(result, item["by"])
    worth = item["perfect_information"]
    return (
        "Regret: what is lost by choosing it before knowing, a year, on average over the draws. Value of perfect "
        f"information {say(worth['estimate'])} (between {say(worth['at_least'])}, where half of the replications "
        f"choose and the other half judge, and {say(worth['at_most'])}, where all do both). "
        f"In brackets {doubt.held(result)}.{out}"
    )


def _numbers(result: Result) -> list[Table]:
    """Return the value of knowing one number alone, by the decisions that have a loss."""
    found = []
    for item in result["decisions"]:
        if item["by"] == BY_COST or item["perfect_information"]["at_most"] <= 0:
            continue
        say = _say(result, item["by"])
        rows = tuple(
            (each["field"], say(each["estimate"]), say(each["by_luck"]))
            for each in item["one_number"][:MOST_NUMBERS]
        )
        note = (
            f"By the rule “{rule(result, item)}”. What does not stand well above its second figure is not shown "
            f"to be "
            "worth anything."
        )
        found.append(Table(("Worth of knowing one number", "a year", "one that tells nothing"), rows, note))
    return found


def _convergence(result: Result) -> Table:
    names = list(result["strategies"])
    rows = []
    for each in result["convergence"]:
        cells = [
            f"{percent(told['mean'])} ({number(100 * told['range_low'])}–{number(100 * told['range_high'])})"
            for told in (each["strategies"][name] for name in names)
        ]
        worth = each["perfect_information"]
        values = [_say(result, by)(value) for by, value in worth.items()]
        rows.append((f"{each['draws']:,} × {each['replications']:,}", *cells, *values))
    heads = [
        f"knowing all: {'chance' if by == BY_CHANCE else 'money'}"
        for by in result["convergence"][0]["perfect_information"]
    ]
    note = (
        "Chance of a stock-out over what is not known, in brackets its range, which unknown inputs make: how it "
        "settled as replications, "
        "then "
        "draws, were added. Where the last rows still move, ask for more."
    )
    return Table(("Draws × replications", *names, *heads), tuple(rows), note)


def index_tables(result: Result) -> list[Table]:
    """Return the indices by strategy and measure."""
    found = []
    for name, measures in result["strategies"].items():
        for measure, entries in measures.items():
            if entries is not None:
                found.append(_indices(result, name, measure, entries[:MOST_BARS]))
    return found


def _indices(result: Result, name: str, measure: str, entries: Sequence[Result]) -> Table:
    title = f"{name}: {NAMES[measure]}"
    level = percent(result["confidence"])
    if result["method"] == "morris":
        rows = tuple(
            (each["field"], _plus_minus(each, "mu_star", measure), _plus_minus(each, "mu", measure),
             _plus_minus(each, "sigma", measure)) for each in entries
        )  # fmt: skip
        note = (
            f"mu*: mean size of the effect of the whole range (± {level}, over trajectories); mu: the same with "
            f"its "
            "sign; sigma beside mu* is large where the effect depends on the other numbers or bends. Chances in "
            f"percentage points. {held(result)}"
        )
        return Table((title, "mu*", "mu", "sigma"), rows, note)
    shares = tuple((each["field"], _plus_minus(each, "s1"), _plus_minus(each, "st")) for each in entries)
    note = (
        f"Shares of the variance of the mean over {result['replications']:,} replications: S1 by itself, ST "
        f"with all "
        f"it does together with others (± {level}, over the points). {held(result)}"
    )
    return Table((title, "S1", "ST"), shares, note)


def _plus_minus(entry: Result, key: str, measure: str = "") -> str:
    factor = 100.0 if measure == CHANCE else 1.0
    half = entry.get(f"{key}_half_width")
    value = _signed(factor * entry[key]) if entry[key] < 0 else number(factor * entry[key])
    return value if half is None else f"{value} ± {number(factor * half)}"
