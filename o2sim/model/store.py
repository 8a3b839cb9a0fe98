"""The cylinders of a size: full, part-used, in use, on a manifold, empty, away, lost; promised to orders."""

from __future__ import annotations

import datetime as dt
from collections import deque
from dataclasses import dataclass, field
from typing import Any

from o2sim.draws import Series
from o2sim.draws.count_record import ON_CYLINDER, Start
from o2sim.model.rules import BOOK_DAYS, keep_gas, runs_out_after_s
from o2sim.scenario.types.hospital import Cylinders, SendPartUsed


@dataclass(slots=True, eq=False)
class Order:
    """An open order; (day, nth order of its kind on that day) names it under every strategy."""

    number: int
    counts: list[int]  # cylinders still to come, by size
    arrival_s: int
    emergency: bool
    day: dt.date
    nth: int
    delivery: Any = field(default=None, repr=False)  # the pending event

    @property
    def count(self) -> int:
        """Return the cylinders still to come, of all sizes."""
        return sum(self.counts)


class CylinderStore:
    """Counts and contents (1/60 mL) of the finite fleet of a size; part-used cylinders are used first."""

    def __init__(self, cylinders: Cylinders, number: int = 0, counts_above_permille: int | None = None) -> None:
        """Start with full_at_start full cylinders, the rest of the fleet empty at residual content.

        number: the place of the size in Cylinders.each.
        counts_above_permille: part-used cylinders with more than this count as one in the position; None: none do.
        """
        self.rules, self.number = cylinders, number
        self.counts_above_permille = counts_above_permille
        self.full = cylinders.full_at_start
        self.fills: deque[int] = deque([cylinders.full_gas] * cylinders.full_at_start)  # what the full ones hold
        self.rack: deque[int] = deque()
        self.empties: deque[int] = deque([keep_gas(cylinders)] * (cylinders.fleet - cylinders.full_at_start))
        self.in_use = 0  # those at beds as a back-up included
        self.on_manifold = 0
        self.on_order = 0  # each backed by one empty, at the door or away
        self.promised = 0  # of those, the empties at the door
        self.away: dict[int, list[int]] = {}  # contents of the own cylinders sent with each order
        self.lost = 0
        self.bedside: list[deque[int]] = []  # full ones kept on the wards, by ward
        self.held = 0  # of those in the central store, the ones somebody is fetching
        self.on_the_way: dict[int, list[int]] = {}  # contents of those gone with a patient, by patient
        self.fewest_full = self.full  # the warm-up included
        self.handed_over = 0  # empties so far, the warm-up included
        self.delivered = 0  # full cylinders so far
        self.losses: Series | None = None
        self.losses_met = 0
        self.asked = self.emptied_now = False  # for a continuous review; one was emptied since the last
        self.drawn_gas = 0  # by patients and leaks
        self.book: deque[int] = deque(maxlen=BOOK_DAYS)  # of it, by day
        self.booked_gas = 0

    def count(self, start: Start) -> None:
        """Begin with the cylinders counted; those on patients follow as these are taken up."""
        self.full, self.lost = start["full"], start["lost"]
        self.fills = deque([self.rules.full_gas] * self.full)
        self.rack = deque(int(each["value"]) for each in start.rack)
        self.empties = deque([keep_gas(self.rules)] * start["empties"])
        self.in_use = sum(int(each["source"]) == ON_CYLINDER for each in start.given)
        self.fewest_full = self.full
        self.handed_over, self.delivered, self.losses_met = (
            start[name] for name in ("handed_over", "delivered", "losses_met")
        )

    @property
    def usable(self) -> int:
        """Return the number of full and part-used cylinders on hand."""
        return self.full + len(self.rack)

    @property
    def in_store(self) -> int:
        """Return the full and part-used cylinders in the central store that nobody is fetching."""
        return len(self.fills) + len(self.rack) - self.held

    @property
    def position(self) -> int:
        """Return the inventory position: full and on order, and part-used ones that count as full."""
        return self.full + self.on_order + self._count_as_full()

    @property
    def unpromised_empties(self) -> int:
        """Return the empties that back no open order."""
        return len(self.empties) - self.promised

    @property
    def away_count(self) -> int:
        """Return the own cylinders that are away to be filled."""
        return sum(len(batch) for batch in self.away.values())

    @property
    def on_the_way_count(self) -> int:
        """Return the cylinders that are gone with patients."""
        return sum(len(batch) for batch in self.on_the_way.values())

    @property
    def gas_on_hand(self) -> int:
        """Return the gas in all cylinders that are not in use, those away with what they left with."""
        wards = sum(sum(shelf) for shelf in self.bedside)
        with_patients = sum(sum(batch) for batch in self.on_the_way.values())
        return sum(self.fills) + sum(self.rack) + self.gas_in_empties + wards + with_patients

    @property
    def gas_in_empties(self) -> int:
        """Return the gas in the empties at the door and away."""
        return sum(self.empties) + sum(sum(batch) for batch in self.away.values())

    @property
    def usable_on_hand(self) -> int:
        """Return the part of that gas above the residual content, empties left out."""
        keep = keep_gas(self.rules)
        held = (self.fills, *self.bedside, *self.on_the_way.values())
        usable = sum(max(0, content - keep) for shelf in held for content in shelf)
        return usable + sum(self.rack) - keep * len(self.rack)

    def best_content(self, enough: int = 0) -> int:
        """Return the content of the cylinder `open` would take, 0 where none is usable."""
        place = self._rack_place(enough)
        if place is not None:
            return self.rack[place]
        return self.rules.full_gas if self.fills else 0

    def open(self, enough: int = 0) -> int:
        """Take a cylinder into use and return its content: part-used before full, if it holds enough."""
        self.in_use += 1
        place = self._rack_place(enough)
        if place is not None:
            content = self.rack[place]
            del self.rack[place]
            return content
        self.full -= 1
        return self.fills.popleft()

    def take_backup(self, least: int) -> tuple[int, bool] | None:
        """Take the emptiest part-used cylinder with so much, else a full one; return content and whether full.

        None where there is neither. Of part-used ones with the same content it is the one longest on the rack.
        """
        fit = [place for place, content in enumerate(self.rack) if content >= least]
        if not fit and not self.fills:
            return None
        self.in_use += 1
        if not fit:
            self.full -= 1
            return self.fills.popleft(), True
        place = min(fit, key=lambda place: self.rack[place])
        content = self.rack[place]
        del self.rack[place]
        return content, False

    def put_back_full(self, content: int) -> None:
        """Put a full cylinder that nobody has opened back into the store, to be the next."""
        self.in_use -= 1
        self.full += 1
        self.fills.appendleft(content)

    def stock_ward(self, ward: int, count: int) -> None:
        """Bring full cylinders from the central store to a ward, as far as there are any."""
        for _ in range(min(count, len(self.fills))):
            self.bedside[ward].append(self.fills.popleft())

    def open_on_ward(self, ward: int) -> int:
        """Take a cylinder kept on a ward into use and return its content."""
        self.in_use += 1
        self.full -= 1
        return self.bedside[ward].popleft()

    def _rack_place(self, enough: int) -> int | None:
        """Return the part-used cylinder to take of those that hold enough; where none does, a full one (None).

        Without a full one it is the fullest. Of equals the one longest on the rack.
        """
        fit = [place for place, content in enumerate(self.rack) if content >= enough]
        if not fit and not self.fills:
            fit = list(range(len(self.rack)))
            return max(fit, key=lambda place: self.rack[place], default=None)
        if self.rules.rack == "oldest that lasts":
            return next(iter(fit), None)
        best = min if self.rules.rack == "emptiest that lasts" else max
        return best(fit, key=lambda place: self.rack[place], default=None)

    def close_book(self) -> None:
        """Write down what was drawn in the day that ends."""
        self.book.append(self.drawn_gas - self.booked_gas)
        self.booked_gas = self.drawn_gas

    def _count_as_full(self) -> int:
        """Return the part-used cylinders that count as one in the inventory position."""
        share = self.counts_above_permille
        if share is None:
            return 0
        keep = keep_gas(self.rules)
        return sum(1_000 * (each - keep) > share * (self.rules.full_gas - keep) for each in self.rack)

    def to_send(self, rule: SendPartUsed, keep: int) -> list[int]:
        """Return the contents of part-used cylinders that may be sent to be filled, the emptiest first.

        So many stay as are to be kept, or as somebody is fetching.
        """
        keep_in = keep_gas(self.rules)
        limit = rule.below_permille * (self.rules.full_gas - keep_in)
        low = sorted(each for each in self.rack if 1_000 * (each - keep_in) < limit)
        return low[: max(0, len(self.rack) - max(keep, self.held))]

    def send_part_used(self, content: int) -> None:
        """Put a part-used cylinder with this content, of equals the one longest on the rack, with the empties."""
        self.rack.remove(content)
        self.empties.append(content)

    def put_back(self, content: int, flow_ml_min: int, error_gas: int = 0, *, first: bool = False) -> bool:
        """Take a cylinder off a patient; return True if it went to the rack, False if it is empty.

        first: it goes to the head of the rack.

        One that could not serve the flow it comes from for another second is empty whatever its remainder: on the
        rack it would be opened and run out without end.
        """
        self.in_use -= 1
        part_used = (
            content > keep_gas(self.rules) + max(0, error_gas)
            and runs_out_after_s(content, self.rules, flow_ml_min) > 0
        )
        if part_used and first:
            self.rack.appendleft(content)
        else:
            (self.rack if part_used else self.empties).append(content)
        return part_used

    def send_with(self, patient: int, count: int) -> list[int]:
        """Let full cylinders go with a patient, the oldest first; return what they hold, to be changed."""
        self.full -= count
        self.on_the_way[patient] = [self.fills.popleft() for _ in range(count)]
        return self.on_the_way[patient]

    def back_from(self, patient: int, flow_ml_min: int, unopened: int) -> int:
        """Take back what went with a patient, the last of them unopened; return how many are empty."""
        batch = self.on_the_way.pop(patient)
        opened = batch[: len(batch) - unopened]
        self.full += unopened
        self.fills.extend(batch[len(opened) :])
        self.in_use += len(opened)
        return sum(not self.put_back(content, flow_ml_min) for content in opened)

    def put_on_manifold(self, count: int) -> list[int]:
        """Take full cylinders for a bank of the manifold, the oldest first, and return their contents."""
        self.full -= count
        self.on_manifold += count
        return [self.fills.popleft() for _ in range(count)]

    def take_from_manifold(self, contents: list[int]) -> None:
        """Put the cylinders of a spent bank with the empties."""
        self.on_manifold -= len(contents)
        self.empties.extend(contents)

    def promise(self, count: int) -> None:
        """Put `count` empties at the door down for an order."""
        self.on_order += count
        self.promised += count

    def send_away(self, order: int, count: int) -> None:
        """Send `count` empties off with an order, to be filled."""
        self.on_order += count
        self.away[order] = [self.empties.popleft() for _ in range(count)]

    def call_off(self, count: int) -> None:
        """Free `count` empties at the door of their promise."""
        self.on_order -= count
        self.promised -= count

    def hand_over(self, order: int, count: int) -> list[int]:
        """Return the contents of an order's empties as the supplier takes them: those at the door, or away."""
        if order in self.away:
            self.on_order -= count
            return self.away.pop(order)
        self.call_off(count)
        return [self.empties.popleft() for _ in range(count)]

    def take_back(self, contents: list[int]) -> None:
        """Put empties that were not filled back at the door, the oldest first."""
        self.empties.extendleft(reversed(contents))

    def receive(self, fills: list[int]) -> None:
        """Put delivered cylinders on the shelf."""
        self.full += len(fills)
        self.fills.extend(fills)

    def lose(self, place: int) -> int | None:
        """Lose one of the full, part-used and free empty cylinders, by its place among them; return its gas."""
        for group in (self.fills, self.rack, self.empties):
            count = self.unpromised_empties if group is self.empties else len(group)
            if place < count:
                content = group[place]
                del group[place]
                self.full -= group is self.fills
                self.lost += 1
                return content
            place -= count
        return None

    @property
    def can_be_lost(self) -> int:
        """Return how many cylinders stand about: full, part-used and free empty ones, not those on the wards."""
        return len(self.fills) + len(self.rack) + self.unpromised_empties

    def counts_balance(self) -> bool:
        """Return True if every cylinder of the fleet is in exactly one place, or lost."""
        connected = self.in_use + self.on_manifold
        places = self.full + len(self.rack) + connected + len(self.empties) + self.away_count + self.lost
        places += self.on_the_way_count
        backed = self.on_order == self.promised + self.away_count
        return (
            places == self.rules.fleet
            and len(self.fills) + sum(len(shelf) for shelf in self.bedside) == self.full
            and backed
            and min(self.full, self.in_use, self.unpromised_empties) >= 0
        )
