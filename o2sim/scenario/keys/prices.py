"""The prices that a hospital is asked for on a page of its own, with who knows each; what a file says of them.

None has to be answered: without prices an answer speaks of oxygen only, and a thing without one is in no total.
No price is offered but where one was published, and that in its own currency alone.
"""

from __future__ import annotations

import re
from collections.abc import Mapping as AnyMapping
from dataclasses import dataclass

from o2sim.errors import QuantityError
from o2sim.quantities.units import Per, read_money
from o2sim.scenario.keys.answers import Answer, Typed
from o2sim.scenario.keys.questions import Sourced
from o2sim.scenario.keys.sources import SOLAR_STUDY
from o2sim.scenario.text.desk_comment import is_from_desk
from o2sim.scenario.text.nodes import Scalar, find
from o2sim.scenario.text.source import BYTE_ORDER_MARK, Source, source_of

CURRENCY = "currency"  # the name under which the currency stands among the answers
CURRENCY_KEY = "costs.currency"
CURRENCY_LABEL = "Currency of all prices"
CURRENCY_HINT = "Its three capital letters, such as USD. All prices are in it."
PUBLISHED_IN = "USD"
MOST = 1e9
_CAPITALS = re.compile(r"[A-Z]{3}")
_AMOUNT = re.compile(r"(?P<whole>\d{1,3}(?:[ ,]\d{3})+|\d+)(?:\.(?P<part>\d+)|,(?P<cents>\d{1,2}))?")
_UNCLEAR = re.compile(r"[1-9]\d{0,2}\.\d{3}")  # thousands or decimals
_LONGEST = 30  # characters of what was typed that are repeated


@dataclass(frozen=True)
class Price:
    """One price: words for the form, its key, what it is for, who knows it, and one that was published, if any."""

    name: str
    label: str
    hint: str
    key: str
    known_by: str
    per: Per = ""
    usual: Sourced | None = None  # in PUBLISHED_IN

    @property
    def suffix(self) -> str:
        """Return what stands behind the currency in a file, such as "/kWh"."""
        return f"/{self.per}" if self.per else ""


PRICES: tuple[Price, ...] = (
    Price("price_cylinder", "One cylinder, bought", "Empty, without regulator.", "costs.cylinders.price",
          "ask your supplier for an offer"),
    Price("price_refill", "One cylinder filled", "What the supplier takes to fill one.", "costs.cylinders.refill",
          "the supplier's bills"),
    Price("price_trip", "One delivery", "The trip, however many cylinders it brings. 0 if it is in the filling.",
          "costs.transport.trip", "the carrier's bills"),
    Price("price_regulator", "One regulator with a flowmeter", "Bought new.", "costs.regulators.price",
          "ask your supplier for an offer"),
    Price("price_concentrator", "One concentrator", "Bought new, without freight and duty.",
          "costs.concentrators.price", "ask for an offer", usual=Sourced(648, SOLAR_STUDY)),
    Price("price_service", "Service of one concentrator, a year", "Filters, parts, visits of the technician.",
          "costs.concentrators.service", "workshop: its book of bills", per="year"),
    Price("price_electricity", "One kWh of electricity", "From the grid.", "costs.electricity",
          "the electricity bill", per="kWh"),
)  # fmt: skip
OF_PURSE: tuple[Price, ...] = (  # shown where the file states them: not every hospital has a purse of its own
    Price("money_opening", "Money in the purse to begin with", "For what the purse pays, such as gas.",
          "funds.opening", "whoever keeps the accounts"),
    Price("money_allotment", "Money that comes each time", "The allotment, as often as the file says.",
          "funds.allotment.amount", "whoever keeps the accounts"),
    Price("money_limit", "What may be owed to the supplier", "Together with what is on order.",
          "funds.supplier.limit", "the supplier"),
)  # fmt: skip
EVERY_PRICE = (*PRICES, *OF_PURSE)
PRICE_BY_NAME = {price.name: price for price in EVERY_PRICE}
PRICE_NAMES = (CURRENCY, *PRICE_BY_NAME)


def currency_wrong(text: str) -> str:
    """Return what is wrong with a currency, "" for nothing."""
    return (
        "" if _CAPITALS.fullmatch(text) else f"Found “{_short(text)}”. Write three capital letters, such as USD."
    )


def read_amount(text: str) -> float | None:
    """Return an amount as it is typed: "6000", "6,000", "6 000", "0.18" or "0,18"; None for none, or for two."""
    found = _AMOUNT.fullmatch(text.strip())
    if found is None or _UNCLEAR.fullmatch(text.strip()):
        return None
    amount = float(f"{re.sub('[ ,]', '', found['whole'])}.{found['part'] or found['cents'] or 0}")
    return amount if amount <= MOST else None


def parse_price(price: Price, text: str, currency: str) -> Typed:
    """Return what a text says to a price: the amount, the value as in a file, or what is wrong with it."""
    typed = " ".join(text.split())
    amount = read_amount(typed.removesuffix(currency).removeprefix(currency) if currency else typed)
    if amount is None:
        return Typed(problem=f"Found “{_short(typed)}”. Write an amount alone, such as 240 or 0.18.")
    return Typed(amount, f"{say_amount(amount)} {currency}{price.suffix}")


def say_amount(amount: float) -> str:
    """Return an amount as one would type it, no digit of it lost."""
    return f"{amount:.12g}"


def _short(text: str) -> str:
    return text if len(text) <= _LONGEST else f"{text[: _LONGEST - 3]}..."


def read_prices(text: str, file: str = "<text>") -> dict[str, Answer]:
    """Return what a file says of the currency and of each price, by name; "other" where no field can show it.

    Raises ScenarioError where the text is no plain YAML.
    """
    said = source_of(text.removeprefix(BYTE_ORDER_MARK), file)
    found = {price.name: _answer(said, price) for price in EVERY_PRICE}
    node = find(said.root, tuple(CURRENCY_KEY.split(".")))
    currency = Answer("ours", node.text, node.line) if isinstance(node, Scalar) else Answer("missing")
    return {CURRENCY: currency, **found}


def _answer(said: Source, price: Price) -> Answer:
    node, comment = find(said.root, tuple(price.key.split("."))), ""
    if node is None:
        return Answer("missing")
    comment = said.comment(node)
    try:
        amount, _ = read_money(node.text if isinstance(node, Scalar) else "", price.per)
    except QuantityError:
        return Answer("other", line=node.line, note=f"{price.key} stands in another form")
    ours = is_from_desk(comment, price.key.rpartition(".")[2])
    usual = price.usual is not None and comment.startswith(price.usual.source)
    return Answer("ours" if ours else "usual" if usual else "file", say_amount(amount), node.line, comment)


def price_values(typed: AnyMapping[str, str], currency: str) -> dict[str, str]:
    """Return the values to set in a file, by dotted key, for what was typed; the currency first."""
    parsed = {PRICE_BY_NAME[name]: text for name, text in typed.items()}
    return {CURRENCY_KEY: currency} | {p.key: parse_price(p, text, currency).value for p, text in parsed.items()}


def with_section(text: str, values: AnyMapping[str, str], notes: AnyMapping[str, str]) -> str:
    """Return a text that has no section costs with one at its end, a line for each price; else the text as it is.

    values and notes: by dotted key. Raises ScenarioError where the text is no plain YAML.
    """
    if "costs" in source_of(text.removeprefix(BYTE_ORDER_MARK), "<text>").root.entries:
        return text
    newline = "\r\n" if "\r\n" in text else "\n"
    lines, above = ["costs:"], ""
    for key in sorted(values, key=lambda each: (each.count(".") > 1, each.rpartition(".")[0])):
        _, *sections, name = key.split(".")
        if sections and sections[0] != above:
            above = sections[0]
            lines.append(f"  {above}:")
        lines.append(f"{'    ' if sections else '  '}{name}: {values[key]}  # {notes[key]}")
    return text + ("" if text.endswith("\n") else newline) + newline + newline.join(lines) + newline
