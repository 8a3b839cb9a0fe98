"""The section `funds`: what is read, what is taken where it is left out, and what is doubtful in it."""

from __future__ import annotations

from scenario_texts import WHOLE
from slip_texts import CALM, with_value

from o2sim.scenario import loads, warnings
from o2sim.scenario.types.hospital import Allotment, Fees, Funds, Law, Supplier

FUNDS = """
funds:
  opening: 600.50 USD
  allotment: {amount: 900 USD, every: year, month: july, day: 5, delay: 10 days}
  lapses: june
  fees: {amount: 2 USD, paid_by: 60 %}
  pays_for: [fuel, oxygen]
  approval: 5 days
  supplier: {terms: credit, limit: 2000 USD, due: 60 days, stops_when_overdue: true}
"""
DAY = 86_400


def funds_of(text: str, strategy: str = "mixed") -> Funds | None:
    """Return the purse under a strategy."""
    return loads(text).hospitals[strategy].funds


def said(text: str) -> list[tuple[str, str]]:
    """Return field and what was found of each doubt about the purse."""
    return [(each.field, each.found) for each in warnings(loads(text)) if each.field.startswith("funds")]


def test_a_whole_section_is_read_in_hundredths_and_seconds() -> None:
    """Money is whole hundredths, a month its number, a law in seconds."""
    days = Law("constant", (5.0 * DAY,))
    assert funds_of(WHOLE + FUNDS) == Funds(
        60_050,
        Allotment(90_000, "year", 5, 7, Law("constant", (10.0 * DAY,))),
        6,
        Fees(200, 0.6),
        ("fuel", "oxygen"),
        days,
        Supplier("credit", 200_000, 60 * DAY, stops_when_overdue=True),
    )


def test_what_is_left_out_is_a_purse_without_friction() -> None:
    """Prepaid, at once, for oxygen alone, and nothing lapses; a strategy may have no purse at all."""
    plain = WHOLE + "funds: {allotment: {amount: 900 USD}}\n"
    assert funds_of(plain) == Funds(0, Allotment(90_000, "month", 1))
    assert funds_of(with_value("strategies.mixed.funds", "none", plain)) is None


def test_a_file_without_a_purse_keeps_its_hash() -> None:
    """`funds: none` is what a file without the section says."""
    assert loads(WHOLE + "funds: none\n").hash == loads(WHOLE).hash != loads(WHOLE + FUNDS).hash


def test_an_empty_purse_is_doubted() -> None:
    """Nothing is in it and nothing comes."""
    assert said(with_value("funds", "{pays_for: [oxygen]}", CALM)) == [
        ("funds", "nothing is in it and nothing comes")
    ]


def test_a_limit_below_the_least_order_is_doubted() -> None:
    """One cylinder and its trip cost more than may be owed."""
    found = said(with_value("funds", "{opening: 9000 USD, supplier: {terms: credit, limit: 5 USD}}", CALM))
    assert [field for field, _ in found] == ["funds.supplier.limit"]


def test_money_for_less_than_the_mean_need_is_doubted() -> None:
    """One dollar a year does not buy the gas of a hospital; a million does."""
    little, enough = (
        said(with_value("funds", f"{{allotment: {{amount: {amount} USD, every: year}}}}", CALM))
        for amount in ("1", "1000000")
    )
    assert ({field for field, _ in little}, enough) == ({"funds"}, [])
