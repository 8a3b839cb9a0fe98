"""Prices that are typed: what may be typed, what a file says of them, and that each stands at a key there is."""

import pytest

from o2sim.scenario.keys.fields import along
from o2sim.scenario.keys.prices import PRICE_BY_NAME, PRICES, parse_price, read_amount, read_prices


@pytest.mark.parametrize("price", PRICES, ids=lambda price: price.name)
def test_each_price_is_a_key_and_says_who_knows_it(price):
    """Its key is in the table of keys, of money; a published price names where it was read."""
    *_, field = along(price.key.split("."))
    assert field.kind.startswith("money")
    assert price.known_by
    assert price.usual is None or "read in" in price.usual.source


@pytest.mark.parametrize(
    ("typed", "amount"),
    [("6000", 6000.0), ("6,000", 6000.0), ("12 500", 12500.0), ("6,00", 6.0), ("0.18", 0.18), ("6.000", None),
     ("0.180", 0.18), ("-3", None), ("ten", None), ("", None)],
)  # fmt: skip
def test_money_is_read_as_it_is_typed(typed, amount):
    """Thousands may be set apart; what could mean two amounts is refused."""
    assert read_amount(typed) == amount


def test_a_price_is_written_with_its_currency():
    """With what it is for behind it; the currency may be typed too."""
    found = [parse_price(PRICE_BY_NAME[name], text, "USD").value for name, text in
             (("price_electricity", "0,18"), ("price_service", "60 USD"), ("price_trip", "1,250"))]  # fmt: skip
    assert found == ["0.18 USD/kWh", "60 USD/year", "1250 USD"]


def test_a_file_says_its_prices():
    """Whose each is, by its comment; one in another form is named with its line."""
    text = "costs:\n  currency: USD\n  cylinders: {refill: 9 USD}\n  electricity: [1]  # a list\n"
    found = {name: (answer.whose, answer.text, answer.line) for name, answer in read_prices(text).items()}
    assert (found["currency"], found["price_refill"]) == (("ours", "USD", 2), ("file", "9", 3))
    assert (found["price_electricity"], found["price_trip"]) == (("other", "", 4), ("missing", "", 0))
