"""The state of one run as records: what State, Patient, Unit, Order and the power chain hold in the reference.

Times are in s, gas in 1/60 mL, flows in mL/min, energy in mW x s, fuel in 1/3600 microlitre, as there. -1 stands
for None; events are handles of the calendar. No field may be named like a method of numpy's records (item, size).
"""

from __future__ import annotations

import typing
from dataclasses import fields

import numpy as np

from o2sim.compiler import jit
from o2sim.compiler.jit import Record, Whole
from o2sim.draws.sampling import ROW
from o2sim.draws.spells import SPELL
from o2sim.model.kernel.events import EVENTS
from o2sim.model.kernel.packing import NUMBER, PAIR, Packer, packer_of
from o2sim.model.ledger import BY_CLASS, BY_WARD, Ledger
from o2sim.model.rules import BOOK_DAYS, MAIN_BANKS, STEPS
from o2sim.outcome import DAILY_COLUMNS, LENGTHS_S, Cause
from o2sim.scenario.types.types import FlowStep, Hospital, PatientClass, Source

NONE = -1
SOURCE_NAMES = typing.get_args(Source)  # by their number in a record
SOURCES = len(SOURCE_NAMES)
# What is given as spells or streams instead of as it stands, or plays no part in a run.
RULES = Packer(
    Hospital,
    frozenset(
        {
            "costs",
            "patients",
            "grid_cuts",
            "power_load_shedding",
            "power_generator_hours",
            "resupply_road_closures",
            "resupply_supplier_outages",
            "bedside_delivery_sets",
            "cylinders_regulator_sets",
            "wards",
        }
    ),
)
CLASS = Packer(
    PatientClass,
    frozenset({"flow_ml_min", "duration_s", "season", "weaned_late_s", "surges", "recorded", "transfer"}),
)
FLOW_STEP = packer_of(FlowStep).dtype
CLASS_WORD = np.dtype([("word", "u8")])  # the hash of a class's name

TIMERS = 4  # what befalls a unit by running time: FAILURE, DRIFT, ALARM, SERVICE in rules, by their place

PATIENT = np.dtype(
    [
        ("number", "i8"),
        ("class_index", "i8"),
        ("priority", "i8"),
        ("transfers", "?"),
        ("needs", "?"),
        ("flowing", "?"),
        ("low", "?"),
        ("slot", "i8"),  # the place of this record
        ("affected", "?"),
        ("displaced", "?"),
        ("responding", "?"),
        ("transfer_due", "?"),
        ("waits", "?"),
        ("under_served", "?"),
        ("reduced", "?"),  # given less than prescribed
        ("piped", "?"),
        ("has_delivery", "?"),
        ("has_humidifier", "?"),
        ("joined", "i8"),  # the line, as the how manieth
        ("flow_ml_min", "i8"),
        ("first_flow_ml_min", "i8"),
        ("given_ml_min", "i8"),
        ("second_unit", "i8"),
        ("second_ml_min", "i8"),
        ("steps_met", "i8"),  # of the class's flow steps, those that change nothing counted
        ("step_event", "i8"),
        ("arrival_s", "i8"),
        ("leave_s", "i8"),
        ("need_s", "i8"),
        ("unit", "i8"),
        ("cylinder", "i8"),  # the place of the open one connected
        ("flow_since_s", "i8"),
        ("gap_since_s", "i8"),
        ("cause", "i8"),
        ("cause_since_s", "i8"),
        ("luck", "u8"),
        ("cylinders", "i8"),
        ("served_s", "i8"),
        ("unserved_s", "i8"),
        ("supply_event", "i8"),
        ("task", "i8"),  # NONE or what staff are asked for (staff.py)
        ("task_event", "i8"),  # while somebody is at it
        ("transfer_event", "i8"),
        ("tolerance_event", "i8"),
        ("leave_event", "i8"),
        ("need_event", "i8"),
        ("ward", "i8"),
        ("claim", "i8"),  # NONE, a unit's number, or one of claims.FROM_STORE, FROM_WARD, REPLACEMENT
        ("claimed_ml_min", "i8"),
        ("set_kind", "i8"),
        ("fetch_event", "i8"),
        ("fetch_for", "i8"),  # codes.CONNECT or codes.CHANGE
        ("fetched", "?"),
        ("attended_s", "i8"),
        ("fetched_s", "i8"),
        ("before", "i8"),  # neighbours among those present, in order of number
        ("after", "i8"),
        ("on_before", "i8"),  # neighbours on the same cylinder, in the order in which they came
        ("on_after", "i8"),
        ("lost_after", "i8"),  # the next of those who lost the same unit and are responded to
        ("reduced_before", "i8"),  # neighbours among those on reduced flow, the last to come first
        ("reduced_after", "i8"),
    ],
    align=True,
)
UNIT = np.dtype(
    [
        ("number", "i8"),
        ("working", "?"),
        ("on_the_move", "?"),
        ("ward", "i8"),
        ("expected_count", "i8"),  # whom staff are connecting
        ("expected_ml_min", "i8"),
        ("drifted", "?"),
        ("low", "?"),
        ("patient_count", "i8"),
        ("load_ml_min", "i8"),
        ("running_s", "i8"),  # within the horizon
        ("failed", "i8"),
        ("renewed", "i8"),
        ("running_since_s", "i8"),
        ("timer_set", "i8", (TIMERS,)),
        ("timer_remaining_s", "i8", (TIMERS,)),
        ("timer_event", "i8", (TIMERS,)),
        ("fail_event", "i8"),
        ("start_event", "i8"),
        ("check_event", "i8"),
        ("service_event", "i8"),
        ("for_technician", "i8"),  # the failure's ordinal while it waits for one
        ("next_for_technician", "i8"),
        ("first_lost", "i8"),  # of those it lost and who are responded to, by number
    ],
    align=True,
)
OPEN = np.dtype(  # a regulator set in use and the cylinder on it: OpenCylinder in the reference
    [
        ("lead", "i8"),  # the slot of the first in line of those on it
        ("first_on", "i8"),
        ("last_on", "i8"),
        ("patient_count", "i8"),
        ("kind", "i8"),  # of the regulator set
        ("number", "i8"),
        ("content", "i8"),
        ("leak_since_s", "i8"),
        ("gauge_error_gas", "i8"),
        ("found_low", "?"),
        ("looked_s", "i8"),
        ("run_out_s", "i8"),
        ("supply_event", "i8"),  # the pending gauge check or run-out
        ("before", "i8"),  # neighbours among the open ones
        ("after", "i8"),
    ],
    align=True,
)
SET = np.dtype(
    [
        ("low_ml_min", "i8"),
        ("high_ml_min", "i8"),
        ("owned", "i8"),
        ("free", "i8"),
        ("in_use", "i8"),  # as last checked
        ("smallest_first", "i8"),  # the kind that comes at this place by the width of its range
    ]
)
BANK = np.dtype(
    [
        ("number", "i8"),
        ("room", "i8"),  # cylinders that can be connected
        ("count_", "i8"),  # that are
        ("gas", "i8"),
        ("usable", "i8"),
        ("spent", "?"),
        ("seen", "?"),
        ("urgent", "?"),
        ("task", "i8"),
        ("task_event", "i8"),
        ("look_event", "i8"),
    ],
    align=True,
)
BANKS = MAIN_BANKS + 1
MANIFOLD = np.dtype(
    [
        ("present", "?"),
        ("keep_gas", "i8"),
        ("bank_count", "i8"),
        ("feeding", "i8"),
        ("since_s", "i8"),
        ("patient_count", "i8"),  # on outlets
        ("flow_ml_min", "i8"),
        ("event", "i8"),
        ("on_banks", "i8"),  # cylinders
    ],
    align=True,
)
SPARE = np.dtype([("most", "i8"), ("running", "i8")])  # a node of the tree in spare.py
LEVEL = np.dtype(
    [("level", "i8"), ("since_s", "i8"), ("seconds", "i8"), ("room", "i8")]
)  # seconds: address of the histogram
ORDER = np.dtype(
    [
        ("number", "i8"),
        ("count", "i8"),
        ("arrival_s", "i8"),
        ("emergency", "?"),
        ("open_order", "?"),
        ("day", "i8"),
        ("nth", "i8"),
        ("delivery", "i8"),
        ("first_away", "i8"),  # of its own cylinders among those away, and the last
        ("last_away", "i8"),
    ],
    align=True,
)
AWAY = np.dtype([("content", "i8"), ("after", "i8")])
QUEUE = np.dtype([("at", "i8"), ("room", "i8"), ("head", "i8"), ("count_", "i8")], align=True)  # of whole numbers
WARD = np.dtype(
    [
        ("regulators", "i8"),
        ("regulators_free", "i8"),
        ("regulators_used", "i8"),  # as last checked
        ("most_bedside", "i8"),
        ("coming", "i8"),
        ("held", "i8"),
        ("shelf", QUEUE),  # full cylinders kept there
        ("least_flow", "i8"),  # nobody of the ward on a cylinder or outlet has less, as far as is known
        ("stock_outs", "i8"),
        ("interruptions", "i8"),
        ("unserved_s", "i8"),
    ],
    align=True,
)
GENERATOR = np.dtype(
    [
        ("present", "?"),
        ("permitted", "?"),
        ("dry", "?"),
        ("called", "?"),
        ("on_order", "?"),
        ("status", "i8"),
        ("fuel", "i8"),
        ("failed", "i8"),
        ("breakdowns", "i8"),
        ("remaining_s", "i8"),
        ("rate", "i8"),
        ("attempts", "i8"),
        ("attempts_since_s", "i8"),
        ("running_since_s", "i8"),
        ("start_event", "i8"),
        ("failure_event", "i8"),
    ],
    align=True,
)
BATTERY = np.dtype(
    [
        ("present", "?"),
        ("tripped", "?"),
        ("level", "i8"),
        ("charge", "i8"),
        ("mains_w", "i8"),
        ("drain", "i8"),
    ],
    align=True,
)
CHAIN = np.dtype(
    [
        ("watts", "i8"),
        ("grid_up", "?"),
        ("voltage_good", "?"),
        ("seen", "?"),  # the rates have been worked out from what follows
        ("seen_supply", "i8"),
        ("seen_running", "i8"),
        ("seen_solar_w", "i8"),
        ("seen_generator", "?"),
        ("supply", "i8"),
        ("solar_w", "i8"),
        ("unusable_since_s", "i8"),
        ("running", "i8"),
        ("since_s", "i8"),
        ("stored", "i8"),
        ("drained", "i8"),
        ("fuel_used", "i8"),
        ("fuel_received", "i8"),
        ("opening_level", "i8"),
        ("opening_fuel", "i8"),
        ("battery_event", "i8"),
        ("fuel_event", "i8"),
        ("generator", GENERATOR),
        ("battery", BATTERY),
    ],
    align=True,
)


def _ledger_columns() -> typing.Iterator[tuple[object, ...]]:
    lengths = {"interruptions": len(Cause), "unserved_s": len(Cause), "longer": len(LENGTHS_S)}
    for part in fields(Ledger):
        if part.name in lengths:
            yield part.name, "i8", (lengths[part.name],)
        elif part.name not in ("days_unserved", "classes", "wards", *BY_CLASS, *BY_WARD):
            yield part.name, "i8"


LEDGER = np.dtype(list(_ledger_columns()), align=True)
# Of each class: what is counted of it, and how its patients are sent on (after_s: NONE for never).
COUNTED = np.dtype([("interruptions", "i8"), ("unserved_s", "i8"), ("transferred", "i8")], align=True)
# The device of a class: its place among the delivery sets, whether it is always humidified.
DEVICE = np.dtype([("place", "i8"), ("humidified", "?")], align=True)
SENDING = np.dtype([("after_s", "i8"), ("travel_s", "i8"), ("oxygen_on_board", "?")], align=True)
LOG = np.dtype([("time_s", "i8"), ("step", "i8"), ("what", "i8"), ("other", "i8"), ("value", "i8")])
WAITING = np.dtype([("priority", "i8"), ("number", "i8"), ("slot", "i8")])
FLAG = np.dtype([("value", "?")])
DAY = np.dtype([("values", "i4", (len(DAILY_COLUMNS),))])  # outcome.DAILY_COLUMNS

RUN = np.dtype(
    [
        ("rules", RULES.dtype),
        ("classes", "i8"),  # addresses of what does not change in a run
        ("class_words", "i8"),
        ("sending", "i8"),
        ("devices", "i8"),
        ("counted", "i8"),  # by class
        ("class_count", "i8"),
        ("rows", "i8"),  # patients to come, in order of arrival
        ("row_count", "i8"),
        ("closures", "i8"),
        ("closure_count", "i8"),
        ("outages", "i8"),
        ("outage_count", "i8"),
        ("cuts_listed", "i8"),
        ("cuts_listed_count", "i8"),
        ("generator_gaps", "i8"),
        ("generator_gap_count", "i8"),
        ("seed", "u8"),
        ("replication", "u8"),
        ("now", "i8"),
        ("midnight_s", "i8"),
        ("end_s", "i8"),
        ("status", "i8"),  # 0, or why the run stopped short (see run.py)
        ("steps", "i8"),
        ("calendar", EVENTS),
        ("log", "i8"),
        ("log_room", "i8"),
        ("log_count", "i8"),
        ("ledger", LEDGER),
        ("ledger_words", "i8"),  # address of the same, word by word
        ("days_unserved", "i8"),  # address of a flag for each day of the horizon
        ("day_count", "i8"),
        ("daily", "i8"),
        ("daily_count", "i8"),
        ("patients", "i8"),  # address of places for those present
        ("patient_room", "i8"),
        ("patients_used", "i8"),
        ("patient_free", "i8"),
        ("first_present", "i8"),
        ("last_present", "i8"),
        ("reduced_count", "i8"),
        ("first_reduced", "i8"),
        ("open_places", "i8"),  # address of places for cylinders in use
        ("open_used", "i8"),
        ("open_free", "i8"),
        ("first_open", "i8"),
        ("opened", "i8"),
        ("fewest_full", "i8"),
        ("on_cylinder", "i8"),  # patients
        ("device_count", "i8"),  # kinds of delivery sets of a limited number
        ("delivery_free", "i8"),  # address
        ("delivery_owned", "i8"),
        ("humidifiers_free", "i8"),
        ("line", "i8"),  # those who wait for a source, in order
        ("line_count", "i8"),
        ("joined", "i8"),  # how many have joined the line so far
        ("calls", "i8"),  # those for whom staff are called, in order
        ("call_count", "i8"),
        ("scratch", "i8"),
        ("ranked", "i8"),  # those looked at in one round of allocation
        ("sharers", "i8"),  # those who were on a cylinder, in line
        ("gathering", "i8"),  # units, then what is placed on each
        ("movers", "i8"),  # (who, where to)
        ("busy", "i8"),
        ("has_store", "?"),
        ("limits_delivery", "?"),  # there are so many humidifiers, or delivery sets of some kind
        ("gathers", "?"),
        (
            "source_places",
            "i8",
            (SOURCES,),
        ),  # in the order of the strategy; one after all for none
        ("has_bank", "?"),
        ("stock_came", "?"),
        ("room_made", "?"),
        ("review_pending", "?"),
        ("emptied_now", "?"),
        ("full", "i8"),
        ("fills", QUEUE),
        ("rack", QUEUE),
        ("empties", QUEUE),
        ("in_use", "i8"),
        ("sets", "i8"),  # address of the regulator sets
        ("set_count", "i8"),
        ("banks", "i8"),
        ("manifold", MANIFOLD),
        ("wards", "i8"),  # address
        ("ward_count", "i8"),
        ("wards_of_classes", "i8"),  # address
        ("stocks_wards", "?"),
        ("takes_time", "?"),
        ("held", "i8"),  # of the cylinders in the central store
        ("on_order", "i8"),
        ("promised", "i8"),
        ("away", "i8"),  # address of places for own cylinders that are away
        ("away_free", "i8"),
        ("away_used", "i8"),
        ("away_count", "i8"),
        ("away_gas", "i8"),
        ("lost", "i8"),
        ("shelf_since_s", "i8"),
        ("book", "i8", (BOOK_DAYS,)),  # gas drawn from cylinders in the last days, the oldest overwritten next
        ("booked_days", "i8"),
        ("booked_gas", "i8"),
        ("mean_need", "i8"),  # address of the season's, by day from the warm-up's first
        ("warm_up_days", "i8"),
        ("units", "i8"),
        ("unit_count", "i8"),
        ("on_units", "i8"),  # address of who is on which unit, in the order in which they came
        ("outlet_room", "i8"),  # for as many on each
        ("spare", "i8"),  # address of the trees of spare.py, one a ward
        ("spare_width", "i8"),  # leaves of one
        ("levels", "i8"),  # address of what is in use at once: AtOnce.NAMES
        ("levels_since_s", "i8"),
        ("levels_covered_s", "i8"),
        ("units_changed", "?"),
        ("in_repair", "i8"),
        ("out_of_order", "i8"),  # units that do not work
        ("outlets_used", "i8"),
        ("most_running", "i8"),
        ("running", "i8"),  # units that serve somebody
        ("technicians_free", "i8"),
        ("first_for_technician", "i8"),
        ("last_for_technician", "i8"),
        ("orders", "i8"),
        ("order_places", "i8"),
        ("order_room", "i8"),
        ("orders_used", "i8"),  # places for orders that were ever used
        ("orders_day", "i8"),
        ("orders_on_day", "i8"),
        ("emergencies_day", "i8"),
        ("emergencies_on_day", "i8"),
        ("handed_over", "i8"),
        ("delivered", "i8"),
        ("losses_met", "i8"),
        ("last_delivery_s", "i8"),
        ("grid_up", "?"),
        ("grid_holds", "i8", (2,)),
        ("cut_number", "i8"),
        ("grid_since_s", "i8"),
        ("cuts", "i8"),
        ("chain", CHAIN),
        ("opening_gas", "i8"),
        ("opening_usable", "i8"),
        ("closing_gas", "i8"),
        ("closing_usable", "i8"),
    ],
    align=True,
)

STEP_NAMES = tuple(STEPS)


def note_code(step: str) -> int:
    """Return the number under which a step stands in the log."""
    return STEP_NAMES.index(step)


_class, _word, _row = (jit.records(kind) for kind in (CLASS.dtype, CLASS_WORD, ROW))
_spell, _pair, _number = jit.records(SPELL), jit.records(PAIR), jit.records(NUMBER)
_patient, _unit, _order = jit.records(PATIENT), jit.records(UNIT), jit.records(ORDER)
_away = jit.records(AWAY)
_counted, _sending, _device = jit.records(COUNTED), jit.records(SENDING), jit.records(DEVICE)
_open, _set, _bank, _level = jit.records(OPEN), jit.records(SET), jit.records(BANK), jit.records(LEVEL)
_ward, _spare = jit.records(WARD), jit.records(SPARE)
flow_step_at = jit.records(FLOW_STEP)
_log, _waiting, _flag, _day = jit.records(LOG), jit.records(WAITING), jit.records(FLAG), jit.records(DAY)


@jit.compiled
def rules(k: Record) -> Record:
    """Return the rules of the hospital."""
    return k.rules


@jit.compiled
def class_at(k: Record, place: Whole) -> Record:
    """Return a class of patients."""
    return _class(k.classes, place)


@jit.compiled
def class_word(k: Record, place: Whole) -> Whole:
    """Return the hash of a class's name."""
    return _word(k.class_words, place).word


@jit.compiled
def counted(k: Record, class_index: Whole) -> Record:
    """Return what is counted of a class."""
    return _counted(k.counted, class_index)


@jit.compiled
def sending(k: Record, p: Record) -> Record:
    """Return how a patient is sent on."""
    return _sending(k.sending, p.class_index)


@jit.compiled
def device(k: Record, p: Record) -> Record:
    """Return the device of a patient."""
    return _device(k.devices, p.class_index)


@jit.compiled
def open_at(k: Record, place: Whole) -> Record:
    """Return what is in a place for cylinders in use."""
    return _open(k.open_places, place)


@jit.compiled
def set_at(k: Record, kind: Whole) -> Record:
    """Return a kind of regulator sets."""
    return _set(k.sets, kind)


@jit.compiled
def ward_at(k: Record, number: Whole) -> Record:
    """Return a ward."""
    return _ward(k.wards, number)


@jit.compiled
def spare_at(k: Record, place: Whole) -> Record:
    """Return a node of the trees of spare.py."""
    return _spare(k.spare, place)


@jit.compiled
def bank_at(k: Record, number: Whole) -> Record:
    """Return a bank of the manifold."""
    return _bank(k.banks, number)


@jit.compiled
def level_at(k: Record, kind: Whole) -> Record:
    """Return how many of a kind are in use at once (AtOnce.NAMES)."""
    return _level(k.levels, kind)


@jit.compiled
def row_at(k: Record, number: Whole) -> Record:
    """Return a patient to come."""
    return _row(k.rows, number)


@jit.compiled
def spell_at(where: Whole, place: Whole) -> Record:
    """Return one of the spells at an address."""
    return _spell(where, place)


@jit.compiled
def number_at(where: Whole, place: Whole) -> Record:
    """Return one of the whole numbers at an address."""
    return _number(where, place)


@jit.compiled
def patient_at(k: Record, slot: Whole) -> Record:
    """Return who is in a place for patients."""
    return _patient(k.patients, slot)


@jit.compiled
def unit_at(k: Record, number: Whole) -> Record:
    """Return a concentrator."""
    return _unit(k.units, number)


@jit.compiled
def on_unit(k: Record, number: Whole, place: Whole) -> Record:
    """Return the place in which the slot of the nth patient on a unit stands."""
    return _number(k.on_units, number * k.outlet_room + place)


@jit.compiled
def order_at(k: Record, place: Whole) -> Record:
    """Return what is in a place for open orders."""
    return _order(k.order_places, place)


@jit.compiled
def away_at(k: Record, place: Whole) -> Record:
    """Return what is in a place for cylinders that are away."""
    return _away(k.away, place)


@jit.compiled
def waiting_at(where: Whole, place: Whole) -> Record:
    """Return one of a line of patients."""
    return _waiting(where, place)


@jit.compiled
def day_unserved(k: Record, day: Whole) -> None:
    """Mark a day of the horizon as one with somebody unserved."""
    if 0 <= day < k.day_count:
        _flag(k.days_unserved, day).value = True


@jit.compiled
def flag_at(where: Whole, place: Whole) -> Record:
    """Return one of the flags at an address."""
    return _flag(where, place)


@jit.compiled
def day_row(k: Record, place: Whole) -> Record:
    """Return one row of the daily table."""
    return _day(k.daily, place)


@jit.compiled
def note(k: Record, step: Whole, what: Whole, other: Whole, value: Whole) -> None:
    """Write one line of the event log, if it is kept; lines beyond its room are counted only."""
    if k.log_room > 0:
        if k.log_count < k.log_room:
            line = _log(k.log, k.log_count)
            line.time_s, line.step, line.what, line.other, line.value = k.now, step, what, other, value
        k.log_count += 1
