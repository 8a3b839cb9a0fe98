"""Say which to buy, in words and tables."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from textwrap import wrap

from o2sim.looks import doubt, unbought
from o2sim.looks.blocks import Table
from o2sim.looks.words import half_up, joined, money, number, percent, quoted, runs, spread
from o2sim.money.added import item_of, thing_of
from o2sim.money.unbought import Unbought
from o2sim.questions.choose.result import Cheque, Decision, MoreDemand, Option, Pick, Purchase, Step
from o2sim.questions.equipment.lines import STATED
from o2sim.questions.equipment.result import BACK_UP, NEED, PEAK, Entry
from o2sim.statistics.estimates import Mean
from o2sim.typed import as_json

MOST_DOMINATED = 20  # of the dominated options so many are shown, the cheapest first; files hold all
MOST_NAMED = 4
IN_YARD = "already in the yard"
LINE_HEADS = ("number", "each", "amount", "lasts")
IN_CHEQUE = (
    "The cheque holds what the scenario has prices for, and what others give is not in it. In no price here: {}. "
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
    count, limits = len(decision.options), decision.limits
    lead = f"Of all {count} options" if count > 1 else "With one option to choose from"
    found = [_best(decision, decision.best, lead, replications)]
    if decision.within_budget is not None:
        limited = ((limits.budget, "a year"), (limits.capital, "to begin with"))
        paid = [f"{money(limit, decision.currency)} {when}" for limit, when in limited if limit is not None]
        found.append(_best(decision, decision.within_budget, f"Within {joined(paid)}", replications))
    if decision.within_target is not None:
        found.append(_target(decision, decision.within_target))
    explained = {name: described(decision, name) for name in (decision.chosen, *decision.picked())}
    found += [f"{said[0].upper()}{said[1:]}." for name, said in explained.items() if said != name]
    return [*found, f"Every option met the same {runs(replications, horizon_days)}."]


def described(decision: Decision, name: str) -> str:
    """Return an option's name, with what it chooses where it is only numbered."""
    choices = decision.options[name].choices
    if not choices or re.fullmatch("option [0-9]+", name) is None:
        return name
    return f"{name}: {', '.join(f'{key} {choice}' for key, choice in choices.items())}"


def _best(decision: Decision, pick: Pick, lead: str, replications: int) -> str:
    if pick.name is None:
        return f"{lead}: {pick.why}."
    option, others, sure = decision.options[pick.name], pick.not_told_apart, _level(decision)
    fewest, value = "unserved patient-hours", f"{number(option.unserved_patient_hours)} a year"
    if decision.by_chance:
        fewest, value = "runs with a supply shortfall", chance_words(option.stock_out_probability)
    said = f"{lead}, {quoted([pick.name])} has the fewest {fewest}: {value}{_cost(decision, option)}."
    if not others:
        if pick.among > 1:
            return f"{said} It is the best of these with at least {sure} confidence."
        return said if len(decision.options) == 1 else f"{said} No other fits."
    named = quoted(others[:MOST_NAMED])
    if len(others) > MOST_NAMED:
        named += f" and {len(others) - MOST_NAMED} more"
    if pick.within is not None:
        by = f"{number(pick.within)} patient-hours a year"
        by = f"{number(100 * pick.within)} percentage points" if decision.by_chance else by
        named += f"; it is at most {by} worse than the best"
    return (
        f"{said} With at least {sure} confidence the best is this one or one of those that {replications:,} "
        f"replications do not show to be clearly different: {named}."
    )


def _target(decision: Decision, pick: Pick) -> str:
    target = percent(decision.limits.target or 0.0)
    if pick.name is None:
        return f"For a chance of a supply shortfall of at most {target}: {pick.why}."
    option = decision.options[pick.name]
    return (
        f"The cheapest that is surely within a chance of a supply shortfall of {target} is {quoted([pick.name])}: "
        f"seen in {_runs(option.stock_out_probability)}, and with {_level(decision)} confidence, "
        f"all options allowed for, below {percent(option.upper_bound)}{_cost(decision, option)}."
    )


def _level(decision: Decision) -> str:
    return f"{100 * decision.confidence:g} %"


def chance_words(value: float) -> str:
    """Return a share of runs, "none seen" rather than a zero that looks certain."""
    return percent(value) if value > 0 else "none seen"


def _runs(share: float) -> str:
    return f"{percent(share) if share > 0 else 'none'} of the runs"


def _cost(decision: Decision, option: Option) -> str:
    if option.annual_cost is None or option.first_year_capital is None:
        return ""
    first = money(option.first_year_capital, decision.currency)
    lacking = unbought.behind(option.unbought)
    return f", at {money(option.annual_cost, decision.currency)} a year{lacking} and {first} of purchases"


def to_show_beside(decision: Decision) -> list[str]:
    """Return whose companion runs are shown: those picked, or all strategies where none is an option."""
    if any(option.choices for option in decision.options.values()):
        return list(dict.fromkeys([*decision.picked(), decision.chosen]))
    return list(decision.options)


def options_table(decision: Decision) -> Table:
    """Return the options by rising cost: the frontier and the picks first, then the dominated ones."""
    options = decision.options
    first = {*decision.frontier, *decision.picked()}
    by_cost = sorted(options, key=lambda name: (name not in first, *options[name].rank(decision.measure)[:2]))
    shown = by_cost[: len(first) + MOST_DOMINATED]
    left = len(options) - len(shown)
    note = (
        FRONTIER_NOTE
        + _how_sure(decision)
        + HOLDS
        + _not_bought(decision)
        + _no_price(decision)
        + (f" {left} more dominated options are left out here." if left else "")
    )
    cost = f"cost a year, {unbought.HEAD}" if counts_money(decision) else "cost a year"
    heads = ("Option", cost, "purchases", "supply shortfall", "unserved h", "")
    grey = tuple(place for place, name in enumerate(shown) if options[name].dominated_by is not None)
    return Table(heads, tuple(_row(decision, name) for name in shown), note, grey)


def counts_money(decision: Decision) -> bool:
    """Return True where money may be lacking under any option."""
    return any(option.unbought is not None for option in decision.options.values())


def _not_bought(decision: Decision) -> str:
    """Return that an option may be cheap because it could not pay, and which are; "" where nobody counts money."""
    if not counts_money(decision):
        return ""
    options = decision.options
    poor = [name for name in decision.frontier if (found := options[name].unbought) and found.lacks]
    warned = f" Of the frontier {quoted(poor[:MOST_NAMED])} left some that was needed unbought." if poor else ""
    return f" Below the cost: {unbought.HEAD}. {unbought.NOTE}{warned}"


def _no_price(decision: Decision) -> str:
    count = len(decision.cheque.unpriced) if decision.cheque is not None else 0
    return f" Lines without a price are in no cost: {count} of the chosen option, named below." if count else ""


def without_price(items: Sequence[str]) -> str:
    """Return how many lines are in no total for want of a price, and what they are."""
    count = "1 line has" if len(items) == 1 else f"{len(items)} lines have"
    return f"{count} no price and {'is' if len(items) == 1 else 'are'} in no total: {'; '.join(items)}."


def _how_sure(decision: Decision) -> str:
    """Return how many of the marks are sure, and what that means; nothing without a frontier."""
    sure = [option.sure for option in decision.options.values() if option.sure is not None]
    if len(sure) < max(2, len(decision.options)):
        return ""
    return (
        f" {sum(sure)} of the {len(sure)} marks are sure: all of those together are right with "
        f"{_level(decision)} confidence. The others may change with more replications."
    )


def _row(decision: Decision, name: str) -> tuple[str, ...]:
    option = decision.options[name]
    return (
        "\n".join(wrap(described(decision, name), 30, subsequent_indent="    ")),
        *_paid(option),
        chance_words(option.stock_out_probability),
        number(option.unserved_patient_hours),
        decision.marks(name, sure=True),
    )


def _paid(option: Option) -> tuple[str, str]:
    """Return the cost a year, with what was not bought below it, and purchases."""
    year, first = (
        "-" if paid is None else number(paid) for paid in (option.annual_cost, option.first_year_capital)
    )
    return f"{year}{unbought.below(option.unbought)}", first


def steps(decision: Decision) -> list[str]:
    """Return what more money buys, from each option of the frontier to the next."""
    return [_step(decision, step) for step in decision.steps]


def yard(decision: Decision) -> list[str]:
    """Return what no option has to buy; nothing where nothing is there."""
    things = [
        f"{each.item} {each.count:,}" + (f" ({_years(each.age_years)} old)" if each.age_years else "")
        for each in decision.owned or ()
    ]
    after = "nothing to buy for these"
    if (
        due := [f"{line.item} {line.due:,}" for line in decision.cheque.purchases if line.due]
        if decision.cheque
        else []
    ):
        after += f" but for those past their life, bought again at once: {joined(due)}"
    after += ". An option that needs fewer gets nothing back for the others."
    return [f"Already in the yard: {joined(things)}: {after}"] if things else []


def _step(decision: Decision, step: Step) -> str:
    currency, options = decision.currency, decision.options
    saved = f"{_spread(step.hours_saved)} patient-hours" if step.hours_saved.mean > 0 else "no patient-hours"
    each = step.cost_per_hour_saved
    price = f", {money(each, currency)} an hour" if each is not None else ""
    lacking = _still_lacking(options[step.begins].unbought, options[step.ends].unbought)
    less = f"; the chance of a supply shortfall falls by {number(100 * step.chance_less)} points"
    return (
        f"From “{step.begins}” to “{step.ends}”: {currency} {_spread(step.cost_more)} more a year "
        f"saves {saved}{price}{less if step.chance_less > 0 else ''}{lacking}."
    )


def _still_lacking(one: Unbought | None, other: Unbought | None) -> str:
    """Return what was needed and not bought on both sides of a step; "" where all was bought."""
    said = unbought.differ(one, other)
    return f"; {said}" if said else ""


def _spread(mean: Mean) -> str:
    return spread(as_json(mean))


def cheque_tables(decision: Decision) -> list[Table]:
    """Return the first year's purchases and the replacements of the chosen option; nothing without prices."""
    paid = decision.cheque
    if paid is None:
        return []
    rows = [_line(line) for line in paid.purchases]
    heads: tuple[str, ...] = (f"To be paid at the beginning, {paid.currency}", *LINE_HEADS)
    if any(line.there for line in paid.purchases):  # what is there beside what is bought, with a line of its own
        there = [line.there or 0 for line in paid.purchases]
        rows = [(name, f"{has:,}", *rest) for (name, *rest), has in zip(rows, there, strict=True)]
        rows = [(IN_YARD, f"{sum(there):,}", "", "", "0", ""), *rows]
        heads = (heads[0], "there", "to buy", *heads[2:])
    rows.append(("in all", *[""] * (len(heads) - 4), "", f"{paid.first_year_capital:,.0f}", ""))
    backups = {entry.item for entry in decision.procurement if entry.group == BACK_UP}
    listed = bool(backups) and backups <= {STATED.get(item) for item in paid.unpriced}
    in_cheque = IN_CHEQUE.format(joined(list(paid.not_counted)))
    note = " ".join([in_cheque, *([without_price(paid.unpriced)] if paid.unpriced else [])])
    lacking = unbought.clause(decision.options[decision.chosen].unbought)
    beside = f" Beside it: {lacking}." if lacking else ""
    found = [Table(heads, tuple(rows), note + (BACK_UP_UNPRICED if listed else "") + beside), *_payers(paid)]
    again = tuple(
        (f"year {each.year}", f"{each.amount:,.0f}", _renewed(list(each.items))) for each in paid.replacements
    )
    later = (f"To be replaced within ten years, {paid.currency}", "amount", "what")
    return [*found, Table(later, again)] if again else found


def _payers(paid: Cheque) -> list[Table]:
    """Return what is bought to begin with by who pays it; nothing where the hospital pays all."""
    if paid.first_year_by_payer is None:
        return []
    rows = tuple(
        (each.payer, f"{each.amount:,.0f}", joined(list(each.items))) for each in paid.first_year_by_payer
    )
    return [Table((f"To begin with, by who pays, {paid.currency}", "amount", "what"), rows)]


def _renewed(items: Sequence[str]) -> str:
    """Return the things that are bought again, and once what comes on top of them."""
    things = [each for each in items if thing_of(each) == each]
    on_top = list(dict.fromkeys(item_of(each) for each in items if each not in things))
    return joined(things) + (f", with {joined(on_top)}" if on_top else "")


def _years(count: float) -> str:
    return f"{number(count)} year{'' if count == 1 else 's'}"


def _line(line: Purchase) -> tuple[str, ...]:
    lasts = "" if line.life_years is None else _years(line.life_years)
    return (line.item, f"{line.count:,}", number(line.price), f"{line.amount:,.0f}", lasts)


def cheque_sentences(decision: Decision) -> Iterator[str]:
    """Yield what is paid each month and year, and what more patients would cost."""
    paid, option = decision.cheque, decision.options[decision.chosen]
    if paid is not None:
        month, year, dear, spread_out = (
            money(value or 0.0, paid.currency)
            for value in (
                paid.recurrent_a_month.mean,
                paid.recurrent_a_year.mean,
                paid.recurrent_a_year.high,
                option.annual_cost,
            )
        )
        yield (
            f"The cheque for “{decision.chosen}”: {paid.currency} {paid.first_year_capital:,.0f} to begin with, "
            f"then {month} a month ({year} a year; one year in twenty takes more than {dear}). With the purchases "
            f"spread over their lives it is {spread_out} a year{unbought.behind(option.unbought)}{not_in(paid)}."
        )
    if decision.more_demand is not None:
        yield from _more_demand(decision.more_demand, option, paid)


def not_in(paid: Cheque) -> str:
    """Return how many lines no total holds."""
    count = len(paid.unpriced)
    return f"; {count} line{'' if count == 1 else 's'} without a price not counted" if count else ""


def _more_demand(more: MoreDemand, before: Option, paid: Cheque | None) -> Iterator[str]:
    growth, busier = f"{half_up(100 * (more.factor - 1))} %", more.found
    if busier is None:
        yield f"What {growth} more patients would cost is not known: {more.why_not}."
        return
    costs = ""
    if busier.recurrent_a_year is not None and paid is not None:
        rise = busier.recurrent_a_year.mean - paid.recurrent_a_year.mean
        costs = f"{money(abs(rise), paid.currency)} {'more' if rise >= 0 else 'less'} a year, "
    yield (
        f"If {growth} more patients come, with nothing bought for them: {costs}a supply shortfall in "
        f"{_runs(busier.stock_out_probability)} instead of {_runs(before.stock_out_probability)}, and "
        f"{number(busier.unserved_patient_hours)} patient-hours unserved instead of "
        f"{number(before.unserved_patient_hours)}{_still_lacking(before.unbought, busier.unbought)}."
    )


def procurement_table(decision: Decision) -> Table | None:
    """Return what to buy for the chosen option, item by item; None where it was not looked for."""
    listed = [each for each in decision.procurement if each.group != NEED]
    shared = any(each.there for each in listed)  # what is there is taken off
    rows = tuple((each.item.strip(), *_numbers(each, shared=shared), each.unit, each.rule) for each in listed)
    numbers = ("in all", "there", "to buy") if shared else ("number",)
    heads = (f"What to buy for “{decision.chosen}”", *numbers, "unit", "why so many")
    return Table(heads, rows) if decision.procurement else None


def _numbers(entry: Entry, *, shared: bool) -> tuple[str, ...]:
    """Return how many there are to be, with those there and those to buy where anything is there."""
    if entry.quantity is None:
        return ("not known", "", "") if shared else ("not known",)
    return tuple("" if each is None else number(each) for each in counts(entry, shared=shared))


def counts(entry: Entry, *, shared: bool) -> tuple[float | None, ...]:
    """Return how many there are to be; shared: also those there and those to buy, None for what the run found."""
    every, there = entry.quantity, entry.there or 0
    if not shared:
        return (every,)
    return (
        (every, None, None)
        if every is None or entry.basis == PEAK
        else (every, there, every - there + (entry.due or 0))
    )


def columns(decision: Decision) -> list[str]:
    """Return the heads of options.csv."""
    keys = next(iter(decision.options.values())).choices
    ends = (f"{key}_{end}" for key in _WITH_ENDS for end in ("low", "high"))
    return ["option", *keys, *_FIGURES, "on_frontier", "dominated_by", "sure", *ends, *_lacking(decision)]


def _lacking(decision: Decision) -> dict[str, str]:
    """Return the columns of what was not bought, with the parts they show; none where nobody counts money."""
    return unbought.columns(option.unbought for option in decision.options.values())


_FIGURES = (
    "annual_cost",
    "dear_year",
    "first_year_capital",
    "stock_out_probability",
    "upper_bound",
    "unserved_patient_hours",
    "fill_rate",
)
_WITH_ENDS = ("annual_cost", "stock_out_probability", "unserved_patient_hours")
_SURE = {None: "", True: "yes", False: "no"}


def csv_rows(decision: Decision) -> Iterator[Sequence[str | int | float]]:
    """Yield one row an option, the columns as `columns` has them."""
    for name, option in decision.options.items():
        ends = (getattr(option.intervals, key) for key in _WITH_ENDS)
        row = [
            *(name, *option.choices.values(), *(getattr(option, key) for key in _FIGURES)),
            *("yes" if name in decision.frontier else "", option.dominated_by, _SURE[option.sure]),
            *(bound for each in ends for bound in ((None, None) if each is None else (each.low, each.high))),
            *(getattr(option.unbought, key, None) for key in _lacking(decision).values()),
        ]
        yield ["" if cell is None else cell for cell in row]
