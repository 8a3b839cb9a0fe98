"""What a list of equipment gives: the object that `o2sim equipment --json` prints, declared."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from o2sim import typed
from o2sim.money.unbought import Unbought
from o2sim.questions.equipment.occupancy import Peak
from o2sim.runs.identity import Provenance
from o2sim.scenario.types.hospital import Figures

PEAK, YEAR = "simulated peak", "simulated year"
SCENARIO, COMMON, ASSUMED = "scenario", "common practice", "assumption"
EACH, EACH_YEAR = "each", "each a year"
NEED, BACK_UP = "At once", "Back-up beside the units"  # groups that others look for
BEDSIDE, UNITS, PLACE = "At the bedside", "Concentrators", "On the wards and in the store"
POWER, CONSUMABLES = "Power", "Consumables, a year"
LISTS = ("equipment", "workshop")


@dataclass(frozen=True)
class Entry:
    """One line of the list; quantity is None where it is not known.

    basis is where the number comes from, in a word; rule says how, for any strategy, and figures adds this one's.
    highest is the highest seen at once, or in a year. limited: the scenario has no more, and all were in use for
    over 1 % of the time.
    """

    group: str
    item: str
    quantity: float | None = typed.item("null where it is not known")
    unit: str = typed.item()
    basis: str = typed.item("where the number comes from")
    rule: str = typed.item()
    figures: str = ""
    highest: float | None = None
    limited: bool = typed.item("the scenario has no more, and all were in use", default=False)
    there: typed.Count | None = typed.item("of these, those there already", default=None, sometimes=True)
    due: typed.Count | None = typed.item(
        "of those there, those bought again within the first year", default=None, sometimes=True
    )

    @property
    def why(self) -> str:
        """Return how the number is made, with the figures of this strategy."""
        return "; ".join(filter(None, (self.rule, self.figures)))


def peak_entry(group: str, item: str, found: Peak, rule: str, figures: str = "", most: int | None = None) -> Entry:
    """Return a line for what is in use at once, of which the scenario has no more than `most`."""
    limited = most is not None and found.enough >= most
    return Entry(group, item, found.enough, EACH, PEAK, rule, figures, found.highest, limited)


@dataclass(frozen=True)
class Bought:
    """One line to buy: how many there are to be, and what of that is there, due for replacement, and left to buy.

    price and amount are None where nobody has stated a price; what is used up is counted and paid each year.
    """

    item: str
    quantity: typed.Count
    there: typed.Count = typed.item("there already, those that are due included")
    due: typed.Count = typed.item("there, but bought again within the first year: their life is over")
    to_buy: typed.Count = typed.item()
    unit: str = typed.item()
    price: float | None = typed.item("of one; null where the price is asked")
    amount: float | None = typed.item("less what those that are due bring")
    rented: bool = typed.item("paid by a rent instead", default=False)
    next_due: typed.Count | None = typed.item("year in which the first of those kept is replaced", default=None)

    @property
    def unpriced(self) -> bool:
        """Return True for what is to be bought at a price that nobody has stated."""
        return self.price is None and not self.rented and self.to_buy > 0


@dataclass(frozen=True)
class Lists:
    """What one strategy needs; running hours are a year's, of each unit from the first on, beside its model.

    capital is the money to begin with, the first filling of cylinders included; None without prices.
    """

    equipment: tuple[Entry, ...]
    workshop: tuple[Entry, ...]
    running_hours_by_unit: tuple[float, ...]
    to_buy: tuple[Bought, ...] = typed.item("what the scenario counts, and what is left to buy", default=())
    capital: float | None = typed.item("to begin with, first filling included", default=None)
    unpriced: tuple[str, ...] = typed.item("to buy, without a price: in no total", default=())
    model_by_unit: tuple[str, ...] | None = typed.item(
        "of each unit, where there are models", default=None, sometimes=True
    )
    unbought: Unbought | None = typed.item(
        "what was needed and not bought for want of money; only where money is counted",
        default=None,
        sometimes=True,
    )


@dataclass(frozen=True)
class Needed:
    """What each strategy needs at its peak and in the workshop's year."""

    where_from: Provenance = typed.item(flat=True)
    figures: Figures = typed.item("whose the figures of the scenario are")
    share_of_time: typed.Share = typed.item()
    strategies: Mapping[str, Lists] = typed.item()
    currency: str = typed.item("of all prices; empty without", default="")

    def entries(self) -> Iterator[tuple[str, str, Entry]]:
        """Yield (strategy, list, entry) of all lists."""
        for listed in LISTS:
            for name, strategy in self.strategies.items():
                for entry in getattr(strategy, listed):
                    yield name, listed, entry


@dataclass(frozen=True)
class NeededWithCautions:
    """The same as the command prints it."""

    needed: Needed = typed.item(flat=True)
    cautions: tuple[str, ...] = typed.item()
