"""What money for purchases this year buys, step by step: at each amount the choice of `o2sim compare --capital`.

Only amounts that some option takes are steps; between two of them nothing else can be bought.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from o2sim.looks import unbought
from o2sim.money.cheque import FIRST_FILL
from o2sim.money.payers import PaidBy
from o2sim.money.to_buy import things
from o2sim.questions.choose.options import decide
from o2sim.questions.choose.purchase_list import Line
from o2sim.questions.choose.result import Cheque, Decision, Ends, Limits
from o2sim.runs.study import Study
from o2sim.scenario.types.hospital import Hospital


@dataclass(frozen=True)
class MoneyStep:
    """What is bought with so much money, and what it gives.

    pay_now: of purchases, in the currency; a_year: with the purchases spread over their lives. is_clear: surely
    other than the last step that was so; True for the first.
    """

    option: str
    pay_now: float
    a_year: float
    chance: float
    interval: Ends
    unserved_hours: float
    is_clear: bool
    choices: Mapping[str, str]
    lines: tuple[Line, ...]
    not_bought: str = ""  # for want of money, in words
    payers: tuple[tuple[str, float], ...] = ()  # who pays how much to begin with, where others pay for some


def money_steps(study: Study, confidence: float = 0.95) -> list[MoneyStep]:
    """Return the steps by rising money; nothing without prices. Raises O2simError as decide does."""
    options = decide(study, confidence=confidence).options.values()
    amounts = sorted({each.first_year_capital for each in options if each.first_year_capital is not None})
    found: list[MoneyStep] = []
    for amount in amounts:
        decision = decide(study, Limits(capital=amount), confidence)
        pick = decision.within_budget
        if pick is None or pick.name is None or (found and found[-1].option == pick.name):
            continue
        clear = next((each.option for each in reversed(found) if each.is_clear), "")
        alike = clear in pick.not_told_apart
        found.append(_step(study, decision, pick.name, is_clear=not alike))
    return found


def _step(study: Study, decision: Decision, name: str, *, is_clear: bool) -> MoneyStep:
    option, hospital = decision.options[name], study.scenario.hospitals[name]
    assert option.first_year_capital is not None
    return MoneyStep(
        name,
        option.first_year_capital,
        option.annual_cost or 0.0,
        option.stock_out_probability,
        option.intervals.stock_out_probability,
        option.unserved_patient_hours,
        is_clear,
        option.choices,
        tuple(purchase_lines(hospital, decision.cheque)),
        unbought.clause(option.unbought),
        tuple((each.payer, each.amount) for each in _payers(decision.cheque)),
    )


def _payers(cheque: Cheque | None) -> tuple[PaidBy, ...]:
    return () if cheque is None else cheque.first_year_by_payer or ()


def purchase_lines(hospital: Hospital, cheque: Cheque | None) -> list[Line]:
    """Return what is bought to begin with, less what is owned: lines of the cheque, then those without a price."""
    whole = {thing.item: thing.count for thing in things(hospital)}
    priced = [] if cheque is None else cheque.purchases
    found = [
        Line(
            each.item,
            None if each.item.startswith(FIRST_FILL) else whole.get(each.item, each.count),
            each.there or 0,
            each.count,
            each.price,
            each.amount,
        )
        for each in priced
    ]
    ask = [
        Line(thing.item, thing.count, thing.stock.there, thing.stock.bought, None, None)
        for thing in things(hospital)
        if thing.unpriced
    ]
    return [*found, *ask]
