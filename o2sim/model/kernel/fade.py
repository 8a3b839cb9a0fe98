"""Fade: a battery gives less with the energy it has given and with its years; looked at each midnight."""

from __future__ import annotations

import numpy as np

from o2sim.compiler.jit import Record, Whole, compile_file
from o2sim.model.kernel.battery import battery_charged
from o2sim.model.kernel.chain import battery_full
from o2sim.model.kernel.codes import LOG
from o2sim.model.kernel.layout import note
from o2sim.model.kernel.supply import credit_chain
from o2sim.model.power import MW_S_PER_W_S
from o2sim.scenario.types.battery import YEAR_S


def battery_fades(k: Record) -> None:
    """Let the battery hold what its age and its full cycles have left it; what no longer has room is cut off."""
    chain, battery, r = k.chain, k.chain.battery, k.rules
    if not battery.present or not r.has_power_battery_fade or battery.usable_ws == 0:
        return
    credit_chain(k)
    usable_ws = _faded_ws(r, k.now, chain.drained // (r.power_battery_usable_ws * MW_S_PER_W_S))
    if usable_ws == battery.usable_ws:
        return
    battery.usable_ws = usable_ws
    cut = max(0, battery.level - battery_full(k))
    battery.level -= cut
    chain.faded += cut
    k.ledger.battery_faded_mws += cut
    note(k, LOG.BATTERY_FADES, -1, usable_ws, cut)
    battery_charged(k)


def _faded_ws(r: Record, since_s: Whole, cycles: Whole) -> Whole:
    """Return what it gives now, in whole W x s; never less than half of new."""
    new_ws = r.power_battery_usable_ws
    yearly = r.power_battery_fade_per_year * (r.power_battery_age_s + since_s) / YEAR_S
    lost = r.power_battery_fade_per_cycle * cycles + yearly
    return max(new_ws - new_ws // 2, np.int64(np.rint(new_ws * (1.0 - lost))))


compile_file(globals())
