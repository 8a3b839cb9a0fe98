"""Cylinders that go missing from the fleet."""

from __future__ import annotations

from o2sim.model.rules import Rank
from o2sim.model.state import State, there
from o2sim.model.steps.emergency import consider_emergency
from o2sim.model.steps.resupply import consider_review, credit_shelf


def begin_losses(state: State) -> None:
    """Schedule the first loss, where cylinders go missing."""
    cylinders = state.rules.cylinders
    if cylinders is not None and cylinders.losses_per_day > 0:
        state.losses = state.draws.losses(cylinders)
        _next_loss(state)


def _next_loss(state: State) -> None:
    assert state.losses is not None
    due_s = state.now + state.losses[state.losses_met]
    state.clock.at(due_s, Rank.CYLINDER_LOST, 0, cylinder_lost)


def cylinder_lost(state: State) -> None:
    """A cylinder that stands about goes missing: full, part-used or empty alike; none in use or promised."""
    store = there(state.store)
    credit_shelf(state)
    place = int(state.draws.draw("lost cylinder", 0, state.losses_met) * store.can_be_lost)
    content = store.lose(place)
    if content is not None:
        state.ledger.cylinders_lost += 1
        state.ledger.returned_gas += content
        state.note("cylinder lost", store.lost, store.full, content)
        consider_review(state)
        consider_emergency(state)
    state.losses_met += 1
    _next_loss(state)
