"""How compiled code finds what is in the memory of a run: rows of records by their place, and the log."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np

from o2sim.compiler import jit
from o2sim.compiler.jit import Record, Whole
from o2sim.draws.count_record import COMING, CONTENT, GIVEN, START, UNIT_MET
from o2sim.draws.sampling import ROW
from o2sim.draws.spells import SPELL
from o2sim.model.kernel import records
from o2sim.model.kernel.packing import NUMBER
from o2sim.model.rules import STEPS

NONE = -1
STEP_NAMES = tuple(STEPS)


def _row(kind: np.dtype[Any], rows: str) -> Callable[[Record, Whole], Record]:
    """Return a function that gives one of the rows whose address stands in the record of the run."""
    at = jit.records(kind)

    def row(k: Record, place: Whole) -> Record:
        return at(k[rows], place)

    return jit.compiled(row)


class_at = _row(records.CLASS.dtype, "classes")
class_word_at = _row(records.CLASS_WORD, "class_words")
row_at = _row(ROW, "rows")  # of the table of patients to come
counted_at = _row(records.COUNTED, "counted")  # by class
sending_at = _row(records.SENDING, "sending")  # by class
device_at = _row(records.DEVICE, "devices")  # by class
patient_at = _row(records.PATIENT, "patients")
ward_at = _row(records.WARD, "wards")
open_at = _row(records.OPEN, "open_places")
store_at = _row(records.STORE, "stores")
set_at = _row(records.SET, "sets")
bank_at = _row(records.BANK, "banks")
journey_at = _row(records.JOURNEY, "journeys")
away_at = _row(records.AWAY, "away")
order_at = _row(records.ORDER, "order_places")
unit_at = _row(records.UNIT, "units")
promise_at = _row(records.PROMISE, "promises")
spare_at = _row(records.SPARE, "spare")
level_at = _row(records.LEVEL, "levels")
day_row = _row(records.DAY, "daily")
start_at = _row(START, "start")  # one

# One of the rows at an address.
number_at, spell_at, flow_step_at = jit.records(NUMBER), jit.records(SPELL), jit.records(records.FLOW_STEP)
given_at, coming_at, unit_met_at, rack_at = (jit.records(kind) for kind in (GIVEN, COMING, UNIT_MET, CONTENT))
waiting_at, flag_at, _log = jit.records(records.WAITING), jit.records(records.FLAG), jit.records(records.LOG)


@jit.compiled
def on_unit(k: Record, number: Whole, place: Whole) -> Record:
    """Return the place in which the slot of the nth patient on a unit stands."""
    return number_at(k.on_units, number * k.outlet_room + place)


@jit.compiled
def day_unserved(k: Record, day: Whole) -> None:
    """Mark a day of the horizon as one with an interruption."""
    if 0 <= day < k.day_count:
        flag_at(k.days_unserved, day).value = True


@jit.compiled
def note(k: Record, step: Whole, what: Whole, other: Whole, value: Whole) -> None:
    """Write one line of the event log, if it is kept; lines beyond its room are counted only."""
    if k.log_room > 0:
        if k.log_count < k.log_room:
            line = _log(k.log, k.log_count)
            line.time_s, line.step, line.what, line.other, line.value = k.now, step, what, other, value
        k.log_count += 1
