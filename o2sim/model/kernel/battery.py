"""The battery: it empties in a cut, is charged when there is power to spare, and serves again."""

from __future__ import annotations

from o2sim.compiler import jit
from o2sim.compiler.jit import Record, Whole
from o2sim.model.kernel import codes
from o2sim.model.kernel.chain import RUNNING, STARTING, battery_full, generator_starts_at, generator_wanted, low_at
from o2sim.model.kernel.codes import LOG, RANK
from o2sim.model.kernel.events import call_off, schedule
from o2sim.model.kernel.generator import run_generator
from o2sim.model.kernel.layout import NONE, note
from o2sim.model.kernel.supply import credit_chain, switch_supply
from o2sim.model.rules import BATTERY


def follow_battery(k: Record) -> None:
    """Schedule the moment at which the battery, at its present rates, is empty, charged, or fit to serve again."""
    chain, battery, r = k.chain, k.chain.battery, k.rules
    if not battery.present:
        return
    chain.battery_event = call_off(k.calendar, chain.battery_event)
    if battery.drain > 0:
        seconds, step, low = battery.level // battery.drain, codes.BATTERY_EMPTY, generator_starts_at(k)
        if low != NONE and -(-(battery.level - low) // battery.drain) <= seconds:
            seconds, step = -(-(battery.level - low) // battery.drain), codes.BATTERY_LOW
        chain.battery_event = schedule(k.calendar, k.now + seconds, RANK.POWER_LOST, BATTERY, step, NONE, 0)
    elif battery.charge > 0:
        seconds = (battery_full(r) - battery.level) // battery.charge
        again = _reconnects_at(r)
        if battery.tripped and battery.level < again:
            seconds = min(seconds, -(-(again - battery.level) // battery.charge))
        due_s = k.now + seconds
        chain.battery_event = schedule(
            k.calendar, due_s, RANK.POWER_RESTORED, BATTERY, codes.BATTERY_CHARGED, NONE, 0
        )


def _reconnects_at(r: Record) -> Whole:
    return low_at(r, r.power_battery_reconnect_permille)


def battery_empty(k: Record) -> None:
    """The battery has no whole second left in it: the inverter cuts out."""
    credit_chain(k)
    note(k, LOG.BATTERY_EMPTY, -1, -1, -1)
    k.chain.seen = False
    k.chain.battery.tripped = True
    run_generator(k)
    switch_supply(k)


def battery_low(k: Record) -> None:
    """The battery is down to the charge at which the generator is called for."""
    note(k, LOG.BATTERY_LOW, -1, -1, -1)
    k.chain.seen = False
    run_generator(k)


def battery_charged(k: Record) -> None:
    """The battery is full, or in a cut has enough from the sun to serve again."""
    battery = k.chain.battery
    credit_chain(k)
    k.chain.seen = False
    if battery.tripped and battery.level >= _reconnects_at(k.rules):
        battery.tripped = False
        switch_supply(k)
    generator = k.chain.generator
    called = generator.present and (generator.status == STARTING or generator.status == RUNNING)
    if called and not generator_wanted(k):  # it was called for a low battery, and stops
        run_generator(k)
        switch_supply(k)


jit.compile_file(globals())
