"""Fade: a battery gives less with the energy it has given and with its years; looked at each midnight."""

from __future__ import annotations

from o2sim.model.power import MW_S_PER_W_S
from o2sim.model.state import State
from o2sim.model.steps.battery import battery_charged
from o2sim.model.steps.supply import credit_chain
from o2sim.scenario.types.battery import faded_ws


def battery_fades(state: State) -> None:
    """Let the battery hold what its age and its full cycles have left it; what no longer has room is cut off.

    Full cycles are the energy it has given since the run began, over what it gave when new from full to empty; the
    rest of one counts once it is whole. It may now be full, or charged enough to serve again.
    """
    chain, battery = state.chain, state.chain.battery
    if battery is None or battery.rules.fade is None or battery.usable_ws == 0:
        return
    credit_chain(state)
    rules = battery.rules
    cycles = chain.drained // (rules.usable_ws * MW_S_PER_W_S)
    usable_ws = faded_ws(rules.usable_ws, battery.rules.fade, rules.age_s + state.now, cycles)
    if usable_ws == battery.usable_ws:
        return
    battery.usable_ws = usable_ws
    cut = max(0, battery.level - battery.full)
    battery.level -= cut
    chain.faded += cut
    state.ledger.battery_faded_mws += cut
    state.note("battery fades", -1, usable_ws, cut)
    battery_charged(state)
