"""What the facility owns already: how many of each thing and how old, with the keys that stand beside a count."""

from __future__ import annotations

from dataclasses import dataclass

from o2sim.scenario.keys.field import DAY_S, YEAR_DAYS
from o2sim.scenario.keys.record import Key, key, of_file, time_key, whole_key

ALL_NEW = "0 days"  # an age that is not stated
OWNED, AGE = "owned", "owned_age"


@dataclass(frozen=True)
class Owned:
    """So many of an item (as the items of a cost are called) are there already, each so old."""

    item: str
    count: int
    age_s: int
    size: str = ""  # of cylinders, where there are several

    @property
    def age_years(self) -> float:
        """Return how old they are in years of 365 days."""
        return self.age_s / (YEAR_DAYS * DAY_S)


def count_owned() -> Key:
    """Return the key of how many of a number of things are there already."""
    return of_file(whole_key("of these, how many are there already: they are not bought", "0"))


def one_owned() -> Key:
    """Return the key that says of a single thing that it is there already."""
    return of_file(key("true or false", "it is there already: it is not bought", "false"))


def age_of_owned() -> Key:
    """Return the key of the age of what is owned."""
    return of_file(
        time_key(
            "how old the owned ones are; replaced in the year in which their life is over", ALL_NEW,
            "convention of o2sim: as new",
        )
    )  # fmt: skip


def age_like(other: str) -> Key:
    """Return the key of the age of a single thing that is there already, where another key says the same."""
    return of_file(
        time_key(
            f"how old the owned one is, which {other} says too; replaced in the year in which its life is over",
            otherwise=f"{other}, else as new",
        )
    )


@dataclass(frozen=True)
class Counted:
    """What a scenario says of a line of the list of equipment: how many, and what is there already."""

    count: int | None = whole_key("how many there are to be", otherwise="by the rule of the line")
    owned: int = whole_key("of these, how many are there already: they are not bought", "0")
    owned_age_s: int = time_key("how old the owned ones are", ALL_NEW, "convention of o2sim: as new")
