"""Loading: how many cylinders of each size an order holds where the lorry, or anything else, is short."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction

from o2sim.model.rules import keep_gas
from o2sim.model.state import State
from o2sim.model.store import CylinderStore

MayTake = Callable[[Sequence[int], int], bool]


@dataclass(frozen=True, slots=True)
class Lorry:
    """What one trip can carry: so many cylinders, or so many spaces; None for no limit."""

    cylinders: int | None
    spaces: int | None

    def carries(self, state: State, counts: Sequence[int]) -> bool:
        """Return True if so many cylinders of each size fit on it."""
        if self.cylinders is not None and sum(counts) > self.cylinders:
            return False
        taken = sum(count * space_of(store) for count, store in zip(counts, state.stores, strict=True))
        return self.spaces is None or taken <= self.spaces


def space_of(store: CylinderStore) -> int:
    """Return the spaces that a cylinder of a size takes on a lorry."""
    return store.rules.space or 1


def load(state: State, wanted: Sequence[int], lorry: Lorry, may_take: MayTake | None = None) -> list[int]:
    """Return how many of what is wanted of each size an order holds.

    One cylinder at a time for the size with the fewest days of cover, in ties the first in the file, until nothing
    fits. may_take says of a load whether one more of a size may be taken; nothing said, anything may.
    """
    if may_take is None and lorry.carries(state, wanted):
        return list(wanted)
    loaded = [0] * len(wanted)
    while True:
        fit = [
            size
            for size in range(len(wanted))
            if loaded[size] < wanted[size]
            and has_room(state, loaded, size, lorry)
            and (may_take is None or may_take(loaded, size))
        ]
        if not fit:
            return loaded
        loaded[min(fit, key=lambda size: _cover(state, state.stores[size], loaded[size]))] += 1


def has_room(state: State, loaded: Sequence[int], size: int, lorry: Lorry) -> bool:
    """Return True if one more cylinder of a size fits on a lorry."""
    more = [count + (place == size) for place, count in enumerate(loaded)]
    return lorry.carries(state, more)


def _cover(state: State, store: CylinderStore, loaded: int) -> tuple[bool, Fraction]:
    """Return for how long the cylinders of a size last, those on order and loaded included; by the stock book.

    Of a size of which nothing was drawn in the days of the book they last for ever.
    """
    usable = max(0, store.rules.full_gas - keep_gas(store.rules))
    gas = on_hand(state, store) + (store.on_order + loaded) * usable
    drawn = sum(store.book)
    return (drawn == 0, Fraction(gas, drawn) if drawn else Fraction(0))


def on_hand(state: State, store: CylinderStore) -> int:
    """Return the gas above residual content in cylinders of a size at this second, those in use included."""
    keep = keep_gas(store.rules)
    in_use = [each.gas_left(state.now) for each in state.open_cylinders.values() if each.store is store]
    at_beds = [patient.backup.content for patient in state.backups.values() if patient.backup is not None
               and patient.backup.store is store]  # fmt: skip
    return store.usable_on_hand + sum(max(0, content - keep) for content in (*in_use, *at_beds))
