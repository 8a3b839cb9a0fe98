"""The reference engine: run a hospital with its draws to the State at the end of the run. SimPy keeps the time.

The readable statement of the rules: the steps stand in model/steps by their trade names, run in the order of
`rules.Rank`, and `settle` runs after every step that may move something.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import simpy

from o2sim.draws import Draws
from o2sim.model.rules import COUNTED, Rank
from o2sim.model.state import State
from o2sim.model.steps.allocation import settle
from o2sim.model.steps.claims import begin_store_days
from o2sim.model.steps.days import day_begins, finish
from o2sim.model.steps.from_count import begin_from_count
from o2sim.model.steps.levels import count_levels
from o2sim.model.steps.manifold import begin_manifold
from o2sim.model.steps.patients import next_arrival
from o2sim.model.steps.power import begin_power
from o2sim.model.steps.repairs import begin_units
from o2sim.model.steps.resupply import begin_reviews
from o2sim.model.steps.staff import begin_shifts
from o2sim.model.steps.stock import begin_losses
from o2sim.scenario.types.hospital import DAY_S, Hospital

_ITEMS = 1 << 40  # more than the items within one rank


class _Step(simpy.Event):
    """An event at a set second that goes by rank and item: SimPy's own order among equals is that of creation."""

    def __init__(
        self, env: simpy.Environment, time_s: int, rank: Rank, item: int, run: Callable[[], None]
    ) -> None:
        super().__init__(env)
        self._ok, self._value = True, None
        self.callbacks.append(lambda _: run())
        priority = rank * _ITEMS + item + 1  # SimPy takes any whole number; 0 is its own URGENT
        env.schedule(self, priority=priority, delay=time_s - env.now)  # type: ignore[arg-type]

    def cancel(self) -> None:
        """Make the event pass without effect, if it has not passed."""
        if self.callbacks is not None:
            self.callbacks.clear()


class SimpyClock:
    """The model's Clock on a SimPy environment."""

    def __init__(self) -> None:
        """Start at second 0."""
        self.env = simpy.Environment()
        self.events = 0
        self.state: State | None = None

    @property
    def now(self) -> int:
        """Return the current second."""
        return int(self.env.now)

    def at(self, time_s: int, rank: Rank, item: int, step: Callable[..., None], *args: Any) -> _Step:
        """Schedule step(state, *args), and `settle` after it unless it only counts."""

        def run() -> None:
            self.events += 1
            step(self.state, *args)
            if rank not in COUNTED:
                settle(self.state)  # type: ignore[arg-type]

        return _Step(self.env, time_s, rank, item, run)


def begin_reference(hospital: Hospital, draws: Draws, log: bool = False) -> tuple[SimpyClock, State]:
    """Return the clock and the state of a run that is about to begin: what comes first is scheduled."""
    clock = SimpyClock()
    state = clock.state = State(hospital, draws, clock, log)
    clock.at(state.midnight_s % DAY_S, Rank.DAY_BEGINS, 0, day_begins)
    begin_power(state)
    if state.start is None:
        next_arrival(state, 0)
        begin_units(state)
    else:
        begin_from_count(state)
    begin_manifold(state)
    begin_reviews(state)
    begin_shifts(state)
    begin_store_days(state)
    begin_losses(state)
    count_levels(state)
    return clock, state


def run_reference(hospital: Hospital, draws: Draws, log: bool = False) -> tuple[State, int]:
    """Run one replication; return the state at the end of the horizon and the number of steps.

    What falls on the last instant of the horizon does not happen. Raises InvariantError if a balance breaks.
    """
    clock, state = begin_reference(hospital, draws, log)
    clock.env.run(until=hospital.end_s)
    finish(state)
    return state, clock.events
