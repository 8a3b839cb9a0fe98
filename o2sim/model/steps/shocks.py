"""Shocks: the short seconds while a storm is on. What it does to road, power and supplier stands in the draws."""

from __future__ import annotations

from o2sim.model.state import State
from o2sim.outcome import Root


def credit_shocks(state: State, root: Root, since_s: int) -> None:
    """Credit somebody's short seconds since a second to their root, as far as a storm was on."""
    place, seconds = _begun(state), 0
    while place > 0 and state.shock_spells[place - 1][1] > since_s:
        place -= 1
        start_s, end_s = state.shock_spells[place]
        seconds += min(end_s, state.now) - max(start_s, since_s)
    state.ledger.shock_short_s[root] += seconds


def _begun(state: State) -> int:
    """Return how many spells have begun before this second; time goes forward, so most calls change nothing."""
    while state.shocks_begun < len(state.shock_spells) and state.shock_spells[state.shocks_begun][0] < state.now:
        state.shocks_begun += 1
    return state.shocks_begun
