"""Cylinders that go with a patient who is sent on, as many as the way takes, with a set; and come back."""

from __future__ import annotations

from o2sim.compiler.jit import Record, Whole, compile_file
from o2sim.model.kernel.claims import give_regulator, regulator_free, take_regulator
from o2sim.model.kernel.codes import LOG, RANK, STEP
from o2sim.model.kernel.events import schedule
from o2sim.model.kernel.layout import NONE, away_at, journey_at, note, sending_at, store_at
from o2sim.model.kernel.opening import note_fewest
from o2sim.model.kernel.resupply import consider_review, credit_shelf
from o2sim.model.kernel.sizes import TRANSFER, kept_back, size_for
from o2sim.model.kernel.stock import consider_emergency
from o2sim.model.kernel.store import back_from, in_store, runs_out_after_s, send_with, weigh
from o2sim.model.rules import ON_THE_WAY


def go_with_cylinders(k: Record, p: Record) -> Whole:
    """Let full cylinders and a set go with a patient; False where no size for it has as many, or no set is free.

    One and a half times what flow and leak take on the way, in cylinders that give all that a full one can. What
    is used is drawn from one after the other as they leave.
    """
    rule = sending_at(k, p.class_index)
    for place in range(k.sizes_for_count[TRANSFER]):
        s = store_at(k, size_for(k, TRANSFER, place))
        count = needed(s, p, rule.travel_s)
        spare = min(s.fills.count_, in_store(s) - kept_back(k, p))
        if 0 < count <= spare and regulator_free(k, p, s.number):
            _leave(k, p, rule, s, count)
            return True
    return False


def needed(s: Record, p: Record, travel_s: Whole) -> Whole:
    """Return how many full cylinders of a size a patient is given for the way; 0 where they give nothing."""
    usable = s.full_gas - s.lost_gas
    gas = (p.flow_ml_min + s.leak_ml_min) * travel_s
    return max(1, -(-3 * gas // (2 * usable))) if usable > 0 else 0


def _leave(k: Record, p: Record, rule: Record, s: Record, count: Whole) -> None:
    credit_shelf(k)
    place, ledger = 0, k.ledger
    while journey_at(k, place).on_it:  # as many places as cylinders
        place += 1
    journey = journey_at(k, place)
    journey.on_it, journey.number, journey.of_size, journey.ward = True, p.number, s.number, p.ward
    journey.flow_ml_min = p.flow_ml_min
    send_with(k, s, journey, count)
    gas = _draw(k, s, journey, rule.travel_s)
    weigh(k, s, journey, 1)
    journey.kind = take_regulator(k, p, s.number)
    ledger.with_cylinders += 1
    ledger.transfer_cylinders += count
    ledger.transfer_gas += gas
    s.drawn_gas += gas
    s.opened_by_size += count - journey.unopened
    ledger.cylinders_opened += count - journey.unopened
    note_fewest(k, s)
    note(k, LOG.CYLINDERS_GO_WITH_A_PATIENT, p.number, count, gas)
    due_s, item = k.now + rule.travel_s + rule.back_after_s, ON_THE_WAY + p.number
    schedule(k, due_s, RANK.DELIVERY, item, STEP.BACK_FROM_THE_WAY, place, 0)
    consider_review(k, s, False)
    consider_emergency(k)


def _draw(k: Record, s: Record, journey: Record, seconds: Whole) -> Whole:
    """Draw the flow for some seconds from the cylinders in turn; note how many stay unopened, return the gas."""
    rate, gas, cell = journey.flow_ml_min + s.leak_ml_min, 0, journey.first_cell
    journey.unopened = journey.count_
    while cell != NONE and seconds > 0:
        lasts_s = min(seconds, runs_out_after_s(away_at(k, cell).content, s, journey.flow_ml_min))
        away_at(k, cell).content -= lasts_s * rate
        seconds -= lasts_s
        gas += lasts_s * rate
        journey.unopened -= 1
        cell = away_at(k, cell).after
    return gas


def back_from_the_way(k: Record, journey: Record) -> None:
    """The cylinders and the set are back: unopened ones to the shelf, the others to the rack or the empties."""
    s, count = store_at(k, journey.of_size), journey.count_
    journey.on_it = False
    credit_shelf(k)
    empty = back_from(k, s, journey)
    give_regulator(k, journey.ward, journey.kind)
    k.ledger.cylinders_emptied += empty
    k.stock_came = True
    note(k, LOG.CYLINDERS_BACK_FROM_A_TRANSFER, journey.number, count, empty)
    if empty > 0:
        consider_review(k, s, True)
    consider_emergency(k)


compile_file(globals())
