"""The order of events at one instant, the names of the steps, and the arithmetic both engines share."""

from __future__ import annotations

from enum import IntEnum

from o2sim.draws import Flows
from o2sim.scenario.types.hospital import DAY_S, Cylinders


class Rank(IntEnum):
    """Which event goes first at one instant; within a rank the lower item number does.

    Items are patient, unit and order numbers; at the bedside (timers, checks, run-outs) priority comes first.

    What a step creates for the same instant runs at that instant, by rank among those still pending.
    """

    DAY_BEGINS = 0  # the count of the day before anything happens on it
    POWER_RESTORED = 1
    DELIVERY = 2
    REPAIR_DONE = 3
    PATIENT_LEAVES = 4
    SHIFT_CHANGES = 5
    TIMER_ENDS = 6  # staff have finished a change or a response
    PATIENT_ARRIVES = 7
    GAUGE_CHECK = 8
    CYLINDER_RUNS_OUT = 9
    FLOW_STEPS_DOWN = 10  # after the looks and run-outs of this instant, which are those of the flow so far
    UNIT_FAILS = 11
    POWER_LOST = 12
    CYLINDER_LOST = 13
    REVIEW = 14
    TOLERANCE_CROSSED = 15  # late: a gap that ends at this instant has not exceeded the tolerated gap
    SUPPLY_CROSSED = 16  # the supply clock of a spell: a stock-out comes directly after its interruption
    TRANSFER_DUE = 17  # last: nobody is sent on who is served at this instant


# Steps that count and move nothing: how long a gap is tolerated does not decide who gets what, and when.
COUNTED = (Rank.TOLERANCE_CROSSED, Rank.SUPPLY_CROSSED)
BOOK_DAYS = 7  # that the stock book looks back
GAS_PER_LITRE = 60_000  # gas is counted in 1/60 mL
MOST_COUNTED = 2**31 - 1  # of a figure in the daily count

# Items of power events: which part of the grid, or what behind it.
DRAWN, LISTED, VOLTAGE, BATTERY, GENERATOR, SOLAR, HOURS = range(7)
GENERATOR_FIRST = (0, -1)  # place of starting it among the jobs of staff: before all others
URGENT, LAST = 0, 10  # place of a bank change among the jobs of staff: patients have priorities 1 to 9
MAIN_BANKS = 2  # of a manifold; those after them are the reserve
MOST_MISSED = 1_000  # looks missed in a row; beyond that the next one is made
WORKSHOP = 1 << 33  # item of a generator's repairs and fuel deliveries: after those of units and cylinders
SUN_STEP_S = 3_600

# Items of a unit's own events at one instant: its number plus one of these.
FAILURE, DRIFT, ALARM, SERVICE, MOVING = (kind << 20 for kind in range(5))
BY_LOOK, BY_NOTE, BY_OXIMETER, BY_RELATIVE = range(4)  # who finds an empty cylinder; in ties the first
STORE_OPENS = 1  # item among the changes of shift
BACKUP_OPENS = 1 << 31  # item of a back-up among the timers, plus the patient's: after those of staff
ON_THE_WAY = 1 << 35  # item of cylinders back from a transfer, plus the patient's number: last of the deliveries
PORTER = 1 << 34  # item of what is brought to a ward, plus its number: after all deliveries
FULL_PERMILLE, LOW_PERMILLE = 930, 820  # oxygen of a unit in order; low below 82 %: WHO-UNICEF 2019, from memory

_GAS = "content in 1/60 mL"
STEPS = {  # step: what it says, and what item, other and value stand for in a LogEntry
    "power restored": ("the grid comes back", "", "", ""),
    "power lost": ("the grid goes down", "", "", ""),
    "delivery": ("cylinders arrive, empties go back", "order", "cylinders", "full cylinders after"),
    "order": ("an order is placed", "order", "cylinders", "second at which it will arrive"),
    "emergency order": ("an emergency order is placed", "order", "cylinders", "second at which it will arrive"),
    "order cut": ("part of an order is cancelled", "order", "cylinders", ""),
    "cylinder sent part-used": (
        "a part-used cylinder goes to the empties, to be filled",
        "part-used after",
        "empties after",
        _GAS,
    ),
    "cylinder condemned": ("an empty is refused and leaves the fleet", "number lost so far", "", _GAS),
    "cylinder lost": ("a cylinder goes missing", "number lost so far", "full cylinders after", _GAS),
    "cylinder unusable": ("an opened cylinder gives nothing", "patient", "", _GAS),
    "fetch begins": ("a cylinder is fetched from the store", "patient", "", "second at which it is there"),
    "ward restocked": ("full cylinders come to a ward from the store", "ward", "cylinders", "then on the ward"),
    "move begins": ("an idle concentrator is taken to another ward", "unit", "ward", ""),
    "unit moved": ("a concentrator is in place on another ward", "unit", "ward", ""),
    "connecting begins": ("staff connect a patient who waited", "patient", "", ""),
    "repair done": ("a concentrator is working again", "unit", "", ""),
    "unit fails": ("a concentrator fails", "unit", "patients on it", ""),
    "unit written off": ("a failed concentrator is never repaired", "unit", "", ""),
    "unit drifts low": ("a concentrator falls below 82 % oxygen", "unit", "patients on it", ""),
    "unit alarms": ("an oxygen monitor alarms, the unit is taken out", "unit", "patients on it", ""),
    "analyser check": (
        "low oxygen is found with an analyser, the unit is taken out",
        "unit",
        "patients on it",
        "",
    ),
    "service begins": ("a concentrator is taken for preventive service", "unit", "patients on it", ""),
    "service done": ("a serviced concentrator is back", "unit", "", ""),
    "unit emptied": ("on battery, patients are moved to fewer units", "unit", "patients moved", ""),
    "voltage lost": ("the voltage of the grid becomes unusable", "", "", ""),
    "voltage restored": ("the voltage of the grid is usable again", "", "", ""),
    "power from": (
        "another source carries the units",
        "",
        "source: 0 grid, 1 generator, 2 battery, 3 none",
        "source before",
    ),
    "battery empty": ("the battery has given what it holds", "", "", ""),
    "battery low": ("the battery is so low that the generator is called for", "", "", ""),
    "generator runs": ("the generator gives power", "", "", ""),
    "generator stops": ("the generator is stopped", "", "", ""),
    "generator does not start": ("the generator fails to start", "", "", ""),
    "generator fails": ("the generator breaks down while running", "", "", ""),
    "generator repaired": ("the generator is in order again", "", "", ""),
    "fuel ordered": ("fuel is ordered", "", "", "second at which it will arrive"),
    "fuel delivered": ("the tank is filled", "", "", "mL of fuel"),
    "fuel runs out": ("the tank is empty, the generator stops", "", "", ""),
    "patient arrives": ("a patient needs oxygen", "patient", "class", "flow in mL/min"),
    "patient leaves": ("a patient no longer needs oxygen", "patient", "", "unserved seconds of the stay"),
    "need ends": ("weaning is late: oxygen is given on", "patient", "", ""),
    "flow stepped down": ("a patient improves and needs less", "patient", "", "flow in mL/min"),
    "displaced": ("a higher priority takes the source of a lower one", "patient", "by patient", ""),
    "patient transferred": ("not served on arrival, sent elsewhere", "patient", "cause", ""),
    "cylinders go with a patient": (
        "cylinders and a regulator set go with a patient who is sent on",
        "patient",
        "cylinders",
        "gas drawn on the way in 1/60 mL",
    ),
    "cylinders back from a transfer": (
        "cylinders and the set that went with a patient are back",
        "patient",
        "cylinders",
        "of these, empty ones",
    ),
    "patient sent on": ("unserved for too long, sent elsewhere", "patient", "cause", ""),
    "on concentrator": ("a patient is connected to a concentrator", "patient", "unit", ""),
    "second concentrator": ("a second concentrator gives the rest of a flow", "patient", "unit", "mL/min of it"),
    "reduced flow": ("a patient is given less than prescribed", "patient", "unit", "flow given in mL/min"),
    "flow lowered": ("one on reduced flow gives way to another", "patient", "unit", "flow given in mL/min"),
    "flow raised": ("one on reduced flow is given more", "patient", "unit", "flow given in mL/min"),
    "on cylinder": ("a patient's cylinder begins to flow", "patient", "", _GAS),
    "cylinder opened": ("a cylinder is taken for a patient", "patient", "full cylinders after", _GAS),
    "joins cylinder": ("a patient shares an open cylinder through a splitter", "patient", "with patient", _GAS),
    "cylinder racked": ("a part-used cylinder goes to the rack", "patient", "part-used after", _GAS),
    "cylinder left open": ("a part-used cylinder empties itself", "patient", "", _GAS),
    "back-up brought": (
        "a cylinder with a regulator is put at the bed of a patient on a concentrator",
        "patient",
        "full cylinders after",
        _GAS,
    ),
    "back-up opened": ("the back-up at the bed is opened", "patient", "", _GAS),
    "back-up closed": ("a patient is served otherwise again, the back-up stays at the bed", "patient", "", _GAS),
    "back-up changed": (
        "a used back-up at the bed is changed from the store",
        "patient",
        "full cylinders after",
        _GAS,
    ),
    "back-up taken back": (
        "a patient leaves, the back-up goes to the store",
        "patient",
        "full cylinders after",
        _GAS,
    ),
    "cylinder emptied": ("a cylinder goes to the empties", "patient", "empties after", _GAS),
    "on outlet": ("a patient is connected to a piped outlet", "patient", "patients on outlets after", ""),
    "bank feeds": ("a bank, or the reserve, takes over", "bank", "cylinders", "gas it can give in 1/60 mL"),
    "bank spent": ("a bank is at the changeover pressure", "bank", "cylinders", _GAS),
    "bank taken off": ("spent cylinders go to the empties", "bank", "empties after", _GAS),
    "bank change": ("full cylinders are put on a bank", "bank", "cylinders", _GAS),
    "bank ready": ("a bank is changed", "bank", "cylinders", "gas it can give in 1/60 mL"),
    "manifold dry": ("banks and reserve are spent, all outlets fail", "", "patients on outlets", ""),
    "gauge check": ("residual pressure found, nothing to change to", "patient", "", _GAS),
    "noted time": ("staff come to change a cylinder at the time they noted", "patient", "", _GAS),
    "cylinder runs out": ("flow is lost", "patient", "1 if known, 0 if unseen", _GAS),
    "found empty": (
        "a cylinder without flow is found before the next look",
        "patient",
        "1 at a noted time, 2 by an oximeter, 3 by a relative",
        "seconds since flow was lost",
    ),
    "oximeter on": ("a patient is given an oximeter that alarms", "patient", "oximeters left", ""),
    "supply lost": ("a patient's supply is lost, staff respond", "patient", "", ""),
    "gap begins": ("a patient in need gets nothing", "patient", "cause", ""),
    "cause changes": ("the reason of a gap changes", "patient", "cause", ""),
    "gap ends": ("a patient is served again or leaves", "patient", "cause", "seconds without oxygen"),
    "falls short": ("a patient gets too little from now on", "patient", "root", "seconds short in this spell"),
    "root changes": ("what would help a patient who is short changes", "patient", "root", ""),
    "no longer short": ("a patient gets enough again, or leaves", "patient", "", "seconds short in this spell"),
    "interruption": (
        "a patient is short for longer than the tolerated gap",
        "patient",
        "cause",
        "second it began",
    ),
    "stock-out": ("for longer than that only supply could have helped", "patient", "cause", "second it began"),
}


def keep_gas(cylinders: Cylinders) -> int:
    """Return the content (1/60 mL) above which a cylinder counts as part-used, at or below it as empty."""
    return cylinders.kept_gas


def backup_gas(cylinders: Cylinders, permille: int) -> int:
    """Return the content (1/60 mL) of a cylinder that holds a share of what a full one can give."""
    keep = keep_gas(cylinders)
    return keep - (-permille * max(0, cylinders.full_gas - keep) // 1_000)


def size_share(cylinders: Cylinders, level: int, size: int) -> int:
    """Return what a level of all cylinders is for a size: its share by the fleets, rounded up."""
    sizes = cylinders.each
    return level if len(sizes) == 1 or cylinders.fleet == 0 else -(-level * sizes[size].fleet // cylinders.fleet)


def gas_needed(flows: Flows, from_s: int, to_s: int) -> int:
    """Return the gas (1/60 mL) of a need between two seconds of a stay, by its flows (see PatientTable.flows)."""
    gas = 0
    for place, (start_s, flow) in enumerate(flows):
        end_s = flows[place + 1][0] if place + 1 < len(flows) else to_s
        gas += flow * max(0, min(end_s, to_s) - max(start_s, from_s))
    return gas


def runs_out_after_s(content: int, cylinders: Cylinders, flow_ml_min: int) -> int:
    """Return the whole seconds a cylinder serves a flow before flow is lost; the remainder stays in it."""
    return max(0, content - cylinders.lost_gas) // (flow_ml_min + cylinders.leak_ml_min)


def residual_after_s(content: int, cylinders: Cylinders, flow_ml_min: int, error_gas: int = 0) -> int:
    """Return the seconds until the gauge is read at or below residual pressure; never after the run-out.

    A gauge that reads low (error_gas above 0) shows residual pressure while that much more is left.
    """
    rate = flow_ml_min + cylinders.leak_ml_min
    to_residual = -(-max(0, content - keep_gas(cylinders) - error_gas) // rate)
    return min(to_residual, runs_out_after_s(content, cylinders, flow_ml_min))


def next_look_s(now_s: int, cylinders: Cylinders, midnight_s: int) -> int:
    """Return the first gauge check at or after now: at clock times, or at multiples of the interval from midnight.

    An interval of 0 means watched: every second is a check.
    """
    if cylinders.check_times_s:
        day, second = divmod(now_s - midnight_s, DAY_S)
        later = [time_s for time_s in cylinders.check_times_s if time_s >= second]
        return midnight_s + day * DAY_S + (later[0] if later else DAY_S + cylinders.check_times_s[0])
    if cylinders.gauge_check_s == 0:
        return now_s
    return next_multiple_s(now_s, cylinders.gauge_check_s, midnight_s)


def next_multiple_s(now_s: int, interval_s: int, midnight_s: int) -> int:
    """Return the first second at or after now that is a multiple of an interval from midnight."""
    return now_s + (midnight_s - now_s) % interval_s


def last_look_s(now_s: int, cylinders: Cylinders, midnight_s: int) -> int:
    """Return the last gauge check at or before now."""
    if cylinders.check_times_s:
        day, second = divmod(now_s - midnight_s, DAY_S)
        before = [time_s for time_s in cylinders.check_times_s if time_s <= second]
        return midnight_s + day * DAY_S + (before[-1] if before else cylinders.check_times_s[-1] - DAY_S)
    if cylinders.gauge_check_s == 0:
        return now_s
    return now_s - (now_s - midnight_s) % cylinders.gauge_check_s


def is_watched(cylinders: Cylinders) -> bool:
    """Return True if somebody always sees the gauge."""
    return cylinders.gauge_check_s == 0 and not cylinders.check_times_s


def alarm_after_s(falls_s: int, alarm_permille: int) -> int:
    """Return the running time after which a unit that takes falls_s from 93 to 82 % stands at the alarm level."""
    return falls_s * (FULL_PERMILLE - alarm_permille) // (FULL_PERMILLE - LOW_PERMILLE)
