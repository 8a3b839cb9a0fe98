"""What the manifold has given: the gas of the bank in service, the leak of the pipework."""

from __future__ import annotations

from o2sim.model.rules import MAIN_BANKS
from o2sim.model.state import State, there


def credit_manifold(state: State) -> None:
    """Bring the bank in service up to this second, and the leak of the pipework."""
    manifold = state.manifold
    if manifold is None:
        return
    seconds = state.now - manifold.since_s
    manifold.since_s = state.now
    bank = manifold.in_service
    if bank is None:
        state.ledger.manifold_dry_s += seconds
        return
    gas, leaked = seconds * manifold.drawn_ml_min, seconds * manifold.rules.leak_ml_min
    bank.gas -= gas
    bank.usable -= gas
    state.ledger.drawn(there(state.store), gas)
    state.ledger.leaked_gas += leaked
    state.ledger.pipe_leak_gas += leaked
    if bank.number >= MAIN_BANKS:
        state.ledger.reserve_s += seconds
