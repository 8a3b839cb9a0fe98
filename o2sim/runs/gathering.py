"""Put what comes back in the order of replications, and go on to the next only where every strategy has it.

So a batch that is cut short is made of whole replications, and nothing that was added up has to be taken back.
Pieces that come early wait; of a store one chunk at a time is read.
"""

from __future__ import annotations

import signal
import threading
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace

from o2sim.outcome import Outcome
from o2sim.runs.midnights import Daily, Nights, nights_of
from o2sim.runs.outcomes import Gathered, Outcomes
from o2sim.runs.run_store import RunStore, Stored
from o2sim.scenario.types.hospital import Hospital

OnDaily = Callable[[str, int, Daily], None]  # strategy, replication, its daily counts


@dataclass(frozen=True)
class Days:
    """What becomes of daily counts when they have been added up: kept, given to somebody, or dropped."""

    keep: bool = False
    on_each: OnDaily | None = None

    @property
    def wanted(self) -> bool:
        """Return True where they are to come with each outcome."""
        return self.keep or self.on_each is not None

    def kept(self, strategy: str, replication: int, nights: Nights) -> Nights:
        """Give the daily counts of a replication to whoever wants them; return what is kept."""
        if self.on_each is not None and nights.daily is not None:
            self.on_each(strategy, replication, nights.daily)
        return nights if self.keep else replace(nights, daily=None)


DROPPED = Days()


@dataclass(frozen=True)
class Reduced:
    """An outcome without daily counts, and what is kept of these."""

    outcome: Outcome
    nights: Nights


def reduced(outcome: Outcome, hospital: Hospital, daily: bool = False) -> Reduced:
    """Return what is kept of an outcome; daily: its daily counts too, beside it."""
    nights = nights_of(outcome.daily, hospital.cylinders is not None, daily)
    return Reduced(replace(outcome, daily=outcome.daily[:0].copy()), nights)


class Gathering:
    """The outcomes of a batch, strategy by strategy, all of the same replications from 0 on."""

    def __init__(
        self,
        hospitals: Mapping[str, Hospital],
        stored: Mapping[str, Sequence[Stored]],
        store: RunStore | None,
        days: Days,
    ) -> None:
        """Take each strategy's hospital, what of it is in the store already, and what becomes of daily counts."""
        self._hospitals, self._store, self._days = hospitals, store, days
        self._early: dict[str, dict[int, Reduced]] = {name: {} for name in hospitals}
        self._stored = {
            name: {k: each for each in stored.get(name, ()) for k in each.numbers} for name in hospitals
        }
        self._gathered = {name: Gathered() for name in hospitals}
        self.whole = 0

    def take(self, found: Mapping[str, Iterable[Reduced]]) -> None:
        """Take a piece, by strategy, and go on as far as every strategy has come."""
        with undisturbed():
            for name, many in found.items():
                self._early[name] |= {each.outcome.replication: each for each in many}
            self.go_on()

    def go_on(self) -> None:
        """Add up the replications that every strategy has, in their order."""
        with undisturbed():
            while all(self._has(name, self.whole) for name in self._gathered):
                for name, gathered in self._gathered.items():
                    each = self._early[name].pop(self.whole)
                    gathered.add(each.outcome, self._days.kept(name, self.whole, each.nights))
                self.whole += 1

    def _has(self, name: str, number: int) -> bool:
        """Return True where a replication is at hand; its chunk is read where it is in the store."""
        early = self._early[name]
        stored = self._stored[name].pop(number, None)
        if stored is not None and number not in early and self._store is not None:
            for outcome in self._store.read(stored):
                if outcome.replication in stored.numbers:
                    early[outcome.replication] = reduced(outcome, self._hospitals[name], self._days.wanted)
                    self._stored[name].pop(outcome.replication, None)
        return number in early

    def outcomes(self) -> dict[str, Outcomes]:
        """Return the whole replications by strategy; nothing can be taken after it."""
        return {name: gathered.whole() for name, gathered in self._gathered.items()}


@contextmanager
def undisturbed() -> Iterator[None]:
    """Let Ctrl-C wait until what is inside is done, so that nothing is added by half."""
    before = signal.getsignal(signal.SIGINT)
    if threading.current_thread() is not threading.main_thread() or not callable(before):
        yield
        return
    heard: list[int] = []
    signal.signal(signal.SIGINT, lambda number, _frame: heard.append(number))
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)
    if heard:
        before(heard[0], None)
