"""Advice about money follows how the hospital is paid and pays, and is never more cylinders."""

from __future__ import annotations

import pytest
from poor_ward import POOR, study
from synthetic import hospital

from o2sim.measures.measures import summarise
from o2sim.outcome import Cause
from o2sim.questions.compare import next_steps
from o2sim.questions.compare.money_cures import cure
from o2sim.scenario.types.funds import Allotment, Funds, Supplier
from o2sim.scenario.types.laws import Law

LATE = Law("exponential", (864_000.0,))


@pytest.mark.parametrize(
    ("funds", "said"),
    [
        (Funds(), "money that comes again and again or a supplier who is paid later"),
        (
            Funds(allotment=Allotment(1, delay_s=LATE), lapses=6, approval_s=LATE),
            "a larger allotment, the same money sooner, money that does not lapse, quicker approval of orders or "
            "a supplier who is paid later",
        ),
        (
            Funds(allotment=Allotment(1), supplier=Supplier("credit", 100, stops_when_overdue=True)),
            "a larger allotment, a higher limit of what may be owed or invoices that are paid when they fall due",
        ),
    ],
)
def test_what_helps_against_no_funds(funds, said):
    """Allotment, delay, lapse, approval and terms, those that the file has."""
    found = cure(Cause.NO_FUNDS, "-", hospital(funds=funds))
    assert found == f"{said}; more cylinders do not help"


def test_broken_units_and_lost_power_may_want_money():
    """Where the purse pays for parts or fuel, money for them comes first."""
    poor = hospital(funds=Funds(pays_for=("fuel", "parts")))
    assert cure(Cause.CONCENTRATOR_DOWN, "a spare", poor) == "money for repairs, a spare"
    assert cure(Cause.NO_POWER, "a battery", poor) == "money for fuel, a battery"
    assert cure(Cause.NO_POWER, "a battery", hospital()) == "a battery"


def test_the_next_step_of_a_poor_strategy_is_money():
    """The heaviest cause is no funds; its cure is what this purse lacks."""
    found = study()
    (first, *_) = next_steps.causes(summarise(found), POOR, found.scenario.hospitals[POOR])
    assert "no funds is 100 % of what goes unserved" in first
    assert first.endswith(
        "a larger allotment or a supplier who is paid later would help; more cylinders do not help."
    )
