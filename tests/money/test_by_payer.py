"""First-year purchases by who pays them: gifts at their price, the first filling the hospital's own."""

from __future__ import annotations

from dataclasses import replace

import pytest
from synthetic import COSTS, hospital

from o2sim.money.cheque import FIRST_FILL, capital, first_year_by_payer


def given(**changes):
    """Return the hospital whose concentrators a donor gives."""
    unit = replace(COSTS.concentrator, paid_by="donor")
    return hospital(costs=replace(COSTS, concentrator=unit), **changes)


def test_what_a_donor_gives_stands_beside_what_the_hospital_pays():
    """60 cylinders of 300 USD and their gas are its own, five units of 900 USD a gift."""
    own, donor = first_year_by_payer(given())
    assert (own.payer, own.amount, own.items) == ("own", 60 * 300 + 60 * 18, (FIRST_FILL, "cylinders"))
    assert (donor.payer, donor.amount, donor.items) == ("donor", 4_500, ("concentrators",))


def test_the_hospital_s_own_part_is_the_cheque():
    """Nobody pays twice: own purchases are the capital of the cheque."""
    assert first_year_by_payer(given())[0].amount == pytest.approx(capital(given()))


@pytest.mark.parametrize("costs", [None, COSTS])
def test_nothing_is_said_where_the_hospital_pays_all(costs):
    """Without prices, or without gifts."""
    assert first_year_by_payer(hospital(costs=costs)) is None
