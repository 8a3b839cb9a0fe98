"""What is in the yard already, and what that leaves to be bought."""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil

from o2sim.money.by_model import model_of, owned_of
from o2sim.scenario.types.hospital import Hospital, Owned

NEARLY = 1e-9  # years: a life that ends as a year begins


@dataclass(frozen=True)
class Stock:
    """Of the things that there are to be: those kept, each with its age in years, those due, those bought.

    due: owned, but their life is over in the first year: they are bought again with the rest, and counted in it.
    """

    kept: tuple[float, ...] = ()
    due: int = 0
    bought: int = 0

    @property
    def there(self) -> int:
        """Return how many are there already and in use, those that are due included."""
        return len(self.kept) + self.due


def stock(hospital: Hospital, item: str, count: int, life_years: float) -> Stock:
    """Return what is there of `count` things of an item, and what is bought; the youngest are kept first."""
    of_model = owned_of(hospital.concentrators, item) if model_of(item) else None
    mine = [each for each in hospital.owned if _line(each) == item] if of_model is None else of_model
    if not mine:
        return Stock(bought=count)
    ages = sorted(age for each in mine for age in [each.age_years] * each.count)[:count]
    kept = tuple(age for age in ages if first_due(age, life_years) > 1)
    return Stock(kept, len(ages) - len(kept), count - len(kept))


def _line(mine: Owned) -> str:
    """Return the line that something owned is of; cylinders of several sizes have one for each."""
    return f"{mine.item}: {mine.size}" if mine.size else mine.item


def first_due(age_years: float, life_years: float) -> int:
    """Return in which year from now a thing so old is replaced: that in which its life is over, 1 the first."""
    return int(max(0.0, life_years - age_years) + NEARLY) + 1


def years_due(age_years: float, life_years: float, years: int) -> list[int]:
    """Return the years from the second to the last in which a kept thing is replaced, again and again."""
    turns = range(ceil(years / life_years) + 1)
    found = [int(life_years - age_years + turn * life_years + NEARLY) + 1 for turn in turns]
    return [year for year in found if year <= years]
