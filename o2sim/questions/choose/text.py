"""The decision over options in, which to buy in words and tables out."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from textwrap import wrap
from typing import Any

from o2sim.looks import doubt
from o2sim.looks.blocks import Table
from o2sim.looks.words import half_up, joined, money, number, percent, quoted, runs, spread
from o2sim.measures.names import CHANCE
from o2sim.questions.equipment.back_up import BACK_UP

Decision = Mapping[str, Any]
MOST_DOMINATED = 20  # of the dominated options so many are shown, the cheapest first; files hold all
MOST_NAMED = 4
NOT_IN_CHEQUE = (
    "The cheque holds what the scenario has prices for: not freight, taxes, installation, training or the room. "
    "Nothing is discounted and prices stay as stated."
)
FRONTIER_NOTE = (
    "On the frontier no other option is both cheaper and more reliable; a dominated one should not be bought: the "
    "one of the frontier with that number costs no more and is no worse. Purchases are the first year's, the "
    "first filling included."
)
BACK_UP_UNPRICED = (
    " Nor the back-up cylinders, regulators, flowmeters and keys on the list below: they are in no cost here."
)
MORE_MONEY = f"What more money buys (in brackets the interval: {doubt.IN_SHORT}):"
HOLDS = f" What is sure, and every confidence here, holds {doubt.CHANCE_ONLY}."


def sentences(decision: Decision, replications: int, horizon_days: float) -> list[str]:
    """Return the answers: the best, the best within a budget, the cheapest within a target."""
    count = len(decision["options"])
    lead = f"Of all {count} options" if count > 1 else "With one option to choose from"
    told = [_best(decision, decision["best"], lead, replications)]
    if decision["within_budget"] is not None:
        limits, currency = decision["limits"], decision["currency"]
        paid = [
            f"{money(limits[key], currency)} {when}"
            for key, when in (("budget", "a year"), ("capital", "to begin with"))
            if limits[key] is not None
        ]
        told.append(_best(decision, decision["within_budget"], f"Within {joined(paid)}", replications))
    if decision["within_target"] is not None:
        told.append(_target(decision))
    told += _explained(decision, [decision["chosen"], *_picks(decision)])
    told.append(f"Every option met the same {runs(replications, horizon_days)}.")
    return told


def described(decision: Decision, name: str) -> str:
    """Return an option's name, with what it chooses where it is only numbered."""
    choices = decision["options"][name]["choices"]
    if not choices or re.fullmatch("option [0-9]+", name) is None:
        return name
    return f"{name}: {', '.join(f'{key} {choice}' for key, choice in choices.items())}"


def _explained(decision: Decision, names: Sequence[str]) -> list[str]:
    """Return what numbered options are, each once."""
    told = {name: described(decision, name) for name in names}
    return [f"{said[0].upper()}{said[1:]}." for name, said in told.items() if said != name]


def _best(decision: Decision, pick: Mapping[str, Any], lead: str, replications: int) -> str:
    if pick["name"] is None:
        return f"{lead}: {pick['why']}."
    fact, others = decision["options"][pick["name"]], pick["not_told_apart"]
    sure = f"{100 * decision['confidence']:g} %"
    value = f"{_value(decision, fact)}{_cost(decision, fact)}"
    said = f"{lead}, {quoted([pick['name']])} has the fewest {_what(decision)}: {value}."
    if not others:
        if pick["among"] > 1:
            return f"{said} It is the best of these with at least {sure} confidence."
        return said if len(decision["options"]) == 1 else f"{said} No other fits."
    named = quoted(others[:MOST_NAMED]) + (
        f" and {len(others) - MOST_NAMED} more" if len(others) > MOST_NAMED else ""
    )
    within = (
        "" if pick["within"] is None else f"; it is at most {_worse(decision, pick['within'])} worse than the best"
    )
    return (
        f"{said} With at least {sure} confidence the best is it or one of those that {replications:,} "
        f"replications do not tell from it: {named}{within}."
    )


def _target(decision: Decision) -> str:
    pick, target = decision["within_target"], percent(decision["limits"]["target"])
    if pick["name"] is None:
        return f"For a chance of a stock-out of at most {target}: {pick['why']}."
    fact = decision["options"][pick["name"]]
    return (
        f"The cheapest that is surely within a chance of a stock-out of {target} is {quoted([pick['name']])}: "
        f"seen in {_runs(fact[CHANCE])}, and with {100 * decision['confidence']:g} % confidence, "
        f"all options allowed for, below {percent(fact['upper_bound'])}{_cost(decision, fact)}."
    )


def _what(decision: Decision) -> str:
    return "runs with a stock-out" if decision["measure"] == CHANCE else "unserved patient-hours"


def _value(decision: Decision, fact: Mapping[str, Any]) -> str:
    value = fact[decision["measure"]]
    return chance_words(value) if decision["measure"] == CHANCE else f"{number(value)} a year"


def chance_words(value: float) -> str:
    """Return a share of runs, "none seen" rather than a nought that looks certain."""
    return percent(value) if value > 0 else "none seen"


def _runs(share: float) -> str:
    return f"{percent(share) if share > 0 else 'none'} of the runs"


def _worse(decision: Decision, within: float) -> str:
    if decision["measure"] == CHANCE:
        return f"{number(100 * within)} percentage points"
    return f"{number(within)} patient-hours a year"


def _cost(decision: Decision, fact: Mapping[str, Any]) -> str:
    if fact["annual_cost"] is None:
        return ""
    currency = decision["currency"]
    return (
        f", at {money(fact['annual_cost'], currency)} a year and {money(fact['first_year_capital'], currency)} "
        "of purchases"
    )


def options_table(decision: Decision) -> Table:
    """Return the options by rising cost: the frontier and the picks first, then the dominated ones."""
    options, frontier = decision["options"], decision["frontier"]
    first = [name for name in options if name in frontier or name in _picks(decision)]
    rest = [name for name in options if name not in first]

    def by(name: str) -> tuple[float, float]:
        return options[name]["annual_cost"] or 0.0, options[name][decision["measure"]]

    shown = [*sorted(first, key=by), *sorted(rest, key=by)[:MOST_DOMINATED]]
    left = len(options) - len(shown)
    note = (
        FRONTIER_NOTE
        + _how_sure(decision)
        + HOLDS
        + (f" {left} more dominated options are left out here." if left else "")
    )
    heads = ("Option", "cost a year", "purchases", "stock-out", "unserved h", "")
    grey = tuple(place for place, name in enumerate(shown) if options[name]["dominated_by"] is not None)
    return Table(heads, tuple(_row(decision, name) for name in shown), note, grey)


def _how_sure(decision: Decision) -> str:
    """Return how many of the marks are sure, and what that means; nothing without a frontier."""
    sure = [fact["sure"] for fact in decision["options"].values()]
    if None in sure or len(sure) == 1:
        return ""
    return (
        f" {sum(sure)} of the {len(sure)} marks are sure: all of those together are right with "
        f"{100 * decision['confidence']:g} % confidence. The others may change with more replications."
    )


def _row(decision: Decision, name: str) -> tuple[str, ...]:
    fact = decision["options"][name]
    priced = fact["annual_cost"] is not None
    marks = ["chosen"] if name == decision["chosen"] else []
    frontier = decision["frontier"]
    sure = " (sure)" if fact["sure"] else ""
    marks += [f"frontier {frontier.index(name) + 1}{sure}"] if name in frontier else []
    if fact["dominated_by"] is not None:
        marks.append(f"dominated by {frontier.index(fact['dominated_by']) + 1}{sure}")
    return (
        "\n".join(wrap(described(decision, name), 30, subsequent_indent="    ")),
        number(fact["annual_cost"]) if priced else "-",
        number(fact["first_year_capital"]) if priced else "-",
        chance_words(fact[CHANCE]),
        number(fact["unserved_patient_hours"]),
        "; ".join(marks),
    )


def _picks(decision: Decision) -> list[str]:
    picks = (decision[key] for key in ("best", "within_budget", "within_target"))
    return [pick["name"] for pick in picks if pick is not None and pick["name"] is not None]


def steps(decision: Decision) -> list[str]:
    """Return what more money buys, from each option of the frontier to the next."""
    return [_step(decision, step) for step in decision["steps"]]


def _step(decision: Decision, step: Mapping[str, Any]) -> str:
    currency, hours = decision["currency"], step["hours_saved"]
    saved = f"saves {spread(hours)} patient-hours" if hours["mean"] > 0 else "saves no patient-hours"
    each = step["cost_per_hour_saved"]
    price = f", {money(each, currency)} an hour" if each is not None else ""
    chance = f"; the chance of a stock-out falls by {number(100 * step['chance_less'])} points"
    return (
        f"From “{step['from']}” to “{step['to']}”: {currency} {spread(step['cost_more'])} more a year "
        f"{saved}{price}{chance if step['chance_less'] > 0 else ''}."
    )


def cheque_tables(decision: Decision) -> list[Table]:
    """Return the first year's purchases and the replacements of the chosen option; nothing without prices."""
    paid = decision["cheque"]
    if paid is None:
        return []
    currency = paid["currency"]
    rows = [
        (
            line["item"],
            f"{line['count']:,}",
            number(line["price"]),
            f"{line['amount']:,.0f}",
            "" if line["life_years"] is None else f"{number(line['life_years'])} years",
        )
        for line in paid["purchases"]
    ]
    rows.append(("in all", "", "", f"{paid['first_year_capital']:,.0f}", ""))
    heads = (f"To be paid at the beginning, {currency}", "number", "each", "amount", "lasts")
    listed = any(entry["group"] == BACK_UP for entry in decision.get("procurement") or ())
    found = [Table(heads, tuple(rows), NOT_IN_CHEQUE + (BACK_UP_UNPRICED if listed else ""))]
    again = tuple(
        (f"year {each['year']}", f"{each['amount']:,.0f}", joined(list(each["items"])))
        for each in paid["replacements"]
    )
    if again:
        found.append(Table((f"To be replaced within ten years, {currency}", "amount", "what"), again))
    return found


def cheque_sentences(decision: Decision) -> Iterator[str]:
    """Yield what is paid each month and year, and what more patients would cost."""
    paid, more = decision["cheque"], decision.get("more_demand")
    if paid is not None:
        currency, month, year = paid["currency"], paid["recurrent_a_month"], paid["recurrent_a_year"]
        yield (
            f"The cheque for “{decision['chosen']}”: {currency} {paid['first_year_capital']:,.0f} to begin with, "
            f"then {money(month['mean'], currency)} a month ({money(year['mean'], currency)} a year; one year in "
            f"twenty takes more than {money(year['high'], currency)}). With the purchases spread over their lives "
            f"it is {money(decision['options'][decision['chosen']]['annual_cost'], currency)} a year."
        )
    if not more:
        return
    growth = f"{half_up(100 * (more['factor'] - 1))} %"
    if "why_not" in more:
        yield f"What {growth} more patients would cost is not told: {more['why_not']}."
        return
    costs = ""
    if more["recurrent_a_year"] is not None and paid is not None:
        rise = more["recurrent_a_year"]["mean"] - paid["recurrent_a_year"]["mean"]
        costs = f"{money(abs(rise), paid['currency'])} {'more' if rise >= 0 else 'less'} a year, "
    before = decision["options"][decision["chosen"]]
    yield (
        f"If {growth} more patients come, with nothing bought for them: {costs}a stock-out in "
        f"{_runs(more[CHANCE])} instead of {_runs(before[CHANCE])}, and "
        f"{number(more['unserved_patient_hours'])} patient-hours unserved instead of "
        f"{number(before['unserved_patient_hours'])}."
    )


def procurement_table(decision: Decision) -> Table | None:
    """Return what to buy for the chosen option, item by item; None where it was not looked for."""
    listed = decision.get("procurement")
    if not listed:
        return None
    rows = tuple(
        (entry["item"].strip(), "not known" if entry["quantity"] is None else number(entry["quantity"]),
         entry["unit"], entry["rule"])
        for entry in listed
        if entry["group"] != "At once"
    )  # fmt: skip
    return Table((f"What to buy for “{decision['chosen']}”", "number", "unit", "why so many"), rows)


def columns(decision: Decision) -> list[str]:
    """Return the heads of options.csv."""
    keys = list(next(iter(decision["options"].values()))["choices"])
    ends = [f"{key}_{end}" for key in _WITH_ENDS for end in ("low", "high")]
    return ["option", *keys, *_FIGURES, "on_frontier", "dominated_by", "sure", *ends]


_FIGURES = (
    "annual_cost",
    "dear_year",
    "first_year_capital",
    CHANCE,
    "upper_bound",
    "unserved_patient_hours",
    "fill_rate",
)
_WITH_ENDS = ("annual_cost", CHANCE, "unserved_patient_hours")


def csv_rows(decision: Decision) -> Iterator[Sequence[str | int | float]]:
    """Yield one row an option, the columns as `columns` has them."""
    for name, fact in decision["options"].items():
        figures = ["" if fact[key] is None else fact[key] for key in _FIGURES]
        yes = "yes" if name in decision["frontier"] else ""
        sure = "" if fact["sure"] is None else "yes" if fact["sure"] else "no"
        each = [fact["intervals"][key] or {"low": None, "high": None} for key in _WITH_ENDS]
        ends = ["" if item[end] is None else item[end] for item in each for end in ("low", "high")]
        yield [name, *fact["choices"].values(), *figures, yes, fact["dominated_by"] or "", sure, *ends]
