"""The state of one run as records: what State, Patient, Unit, Order and the power chain hold in the reference.

Times are in s, gas in 1/60 mL, flows in mL/min, energy in mW x s, fuel in 1/3600 microlitre, as there. -1 stands
for None; events are handles of the calendar. No field may be named like a method of numpy's records (item, size).
"""

from __future__ import annotations

import typing
from dataclasses import fields

import numpy as np

from o2sim.draws.laws import LAW
from o2sim.model.kernel.events import EVENTS
from o2sim.model.kernel.packing import Packer, packer_of, record
from o2sim.model.ledger import BY_CLASS, BY_SIZE, BY_WARD, Ledger
from o2sim.model.rules import BOOK_DAYS, MAIN_BANKS
from o2sim.outcome import DAILY_COLUMNS, LENGTHS_S, SHORTFALLS_S, Cause, Root
from o2sim.scenario.types.cylinder_size import MOST_SIZES, Use
from o2sim.scenario.types.hospital import Concentrators, FlowStep, Hospital, PatientClass, Source

SOURCE_NAMES = typing.get_args(Source)  # by their number in a record
SOURCES = len(SOURCE_NAMES)
USES = len(typing.get_args(Use))
# What is given as spells or streams instead of as it stands, or plays no part in a run.
_LEFT_OUT = """costs equipment now owned patients grid_cuts grid_use grid_scale grid_first_day
grid_days grid_stated power_load_shedding power_generator_hours resupply_road_closures
 resupply_supplier_outages concentrators_listed bedside_delivery_sets cylinders_regulator_sets
 cylinders_backup_classes cylinders_sizes cylinders_use cylinders_refill cylinders_price resupply_sizes
 wards shocks funds_allotment_every_s funds_allotment_day funds_allotment_month
 funds_allotment_delay_s funds_lapses"""
RULES = Packer(Hospital, frozenset(_LEFT_OUT.split()))
CLASS = Packer(
    PatientClass,
    frozenset({"flow_ml_min", "duration_s", "season", "weaned_late_s", "surges", "recorded", "transfer"}),
)
UNIT_RULES = Packer(Concentrators, frozenset({"listed"}))  # of each group of like units
FLOW_STEP = packer_of(FlowStep).dtype
CLASS_WORD = record(("word", "u8"))  # the hash of a class's name

TIMERS = 4  # clocks that go while a unit runs: FAILURE, DRIFT, ALARM, SERVICE in rules, by their place

PATIENT = record(
    "number class_index priority transfers? needs? flowing? low?",
    "slot",  # the place of this record
    "affected? displaced? responding? transfer_due? waits? under_served?",
    "has_oximeter? unseen_losses alarm_s relative_s",
    "reduced?",  # given less than prescribed
    "piped? has_delivery? has_humidifier?",
    "joined",  # its place in the order of joining the line
    "flow_ml_min first_flow_ml_min given_ml_min second_unit second_ml_min",
    "steps_met",  # of the class's flow steps, those that change nothing counted
    "step_event arrival_s leave_s need_s unit",
    "cylinder",  # the place of the open one connected
    "flow_since_s gap_since_s cause cause_since_s",
    ("luck", "u8"),
    "cylinders losses connections served_s unserved_s supply_event",
    "task",  # NONE or what staff are asked for (staff.py)
    "task_event",  # while somebody is at it
    "transfer_event tolerance_event leave_event need_event ward",
    "short? interrupted? stocked_out? spell_since_s short_begun_s short_root short_cause short_supply_cause",
    "short_credited_s short_clock_s short_supply_s supply_over served_since_s crossing supply_crossing root_now",
    ("short_by_cause", "i8", (len(Cause),)),
    ("supply_by_cause", "i8", (len(Cause),)),
    "claim",  # NONE, a unit's number, or one of claims.FROM_STORE, FROM_WARD, REPLACEMENT
    "claimed_ml_min set_kind fetch_event",
    "fetch_for",  # JOB.CONNECT or JOB.CHANGE
    "fetched? attended_s fetched_s",
    "claimed_size",  # of the cylinder last kept for the patient
    "backup_kind",  # of the regulator set of the back-up at the bed, NONE without one
    "backup_size backup_content backup_fresh? backup_opening? backup_event units_lost",
    "before after",  # neighbours among those present, in order of number
    "on_before on_after",  # neighbours on the same cylinder, in the order in which they came
    "lost_after",  # the next of those who lost the same unit and are responded to
    "reduced_before reduced_after",  # neighbours among those on reduced flow, the last to come first
)
UNIT = record(
    "number working? on_the_move? ward",
    "group",  # whose rules hold for it; of these, what is asked for often:
    "rated_ml_min outlets watts surge_permille",
    ("word", "u8"),  # by which the draws know it
    "expected_count",  # whom staff are connecting
    "expected_ml_min drifted? low? patient_count load_ml_min",
    "running_s",  # within the horizon
    "failed renewed running_since_s",
    ("timer_set", "i8", (TIMERS,)),
    ("timer_remaining_s", "i8", (TIMERS,)),
    ("timer_event", "i8", (TIMERS,)),
    "fail_event start_event check_event service_event",
    "lives_over life_left_s fails_s",  # in ages.py
    "for_technician",  # the failure's ordinal while it waits for one
    "next_for_technician",
    "first_lost",  # of those it lost and who are responded to, by number
    "repair_price",  # of it, in hundredths, where the purse pays
)
OPEN = record(  # a regulator set in use and the cylinder on it: OpenCylinder in the reference
    "lead",  # the slot of the first in line of those on it
    "first_on last_on patient_count",
    "kind",  # of the regulator set
    "of_size",  # of the cylinder
    "number content leak_since_s gauge_error_gas found_low? looked_s run_out_s keeps_note? noted_s",
    "lost_s look_s found_by",
    "supply_event",  # the pending gauge check or run-out
    "promised? replaced?",  # in roots.py
    "backup?",
    "before after",  # neighbours among the open ones
)
SET = record(
    "low_ml_min high_ml_min owned free",
    "in_use",  # as last checked
    "smallest_first",  # the kind that comes at this place by the width of its range
    "fits",  # sizes of cylinder, a bit each
)
BANK = record(
    "number",
    "room",  # cylinders that can be connected
    "count_",  # that are
    "gas usable spent? seen? urgent? task task_event look_event",
)
BANKS = MAIN_BANKS + 1
MANIFOLD = record(
    "present? keep_gas bank_count feeding since_s",
    "patient_count",  # on outlets
    "flow_ml_min event",
    "on_banks",  # cylinders
)
PROMISE = record("what which amount")  # in roots.py
SPARE = record("most running")  # a node of the tree in bank.py
LEVEL = record("level since_s seconds room")  # seconds: address of the histogram
PURSE = record(  # Purse and Prices in the reference, in hundredths of the currency
    "buys_oxygen? buys_fuel? buys_parts? takes_fees?",
    "cash reserved ordered owed first_invoice invoice_count invoice_room fees_due lacking lacking_from",
    "was_cut? emergency_cut? fuel_waits? fuel_reserved decided_day decided_on_day opening_cash opening_owed",
    "trip carriage emergency_trip emergency_cylinder fuel",
)
INVOICE = record("due_s left")
ORDER = record(
    "slot",  # its place among the orders
    "number count arrival_s emergency? open_order? day nth delivery",
    "lacking cost_cents awaits? placed_s",
    ("counts", "i8", (MOST_SIZES,)),  # by size
    ("first_away", "i8", (MOST_SIZES,)),  # of its own cylinders among those away
    ("last_away", "i8", (MOST_SIZES,)),
)
AWAY = record("content after")  # of a cylinder sent to be filled, or gone with a patient
JOURNEY = record("on_it? number of_size kind ward flow_ml_min count_ unopened first_cell")  # of a patient sent on
QUEUE = record("at room head count_")  # of whole numbers
STORE = record(  # the cylinders of a size
    "number",
    "fleet full_gas keep_gas lost_gas leak_ml_min gauge_error_gas space least_backup",  # what is said of them
    ("unusable", "f8"),
    ("refused", "f8"),
    ("losses_per_day", "f8"),
    "underfills?",
    ("underfilled_share", "f8"),
    ("underfilled_content", LAW),
    ("word", "u8"),  # the item of their draws
    "reorder_point order_up_to emergency_below emergency_up_to",
    "full fewest_full",
    ("fills", QUEUE),  # full cylinders in the central store
    ("rack", QUEUE),  # part-used ones
    ("empties", QUEUE),
    "in_use",
    "held",  # of the cylinders in the central store
    "on_order promised away_count away_gas lost handed_over delivered losses_met",
    "on_the_way on_the_way_gas on_the_way_usable",
    "asked? emptied_now? drawn_gas booked_gas",
    ("book", "i8", (BOOK_DAYS,)),  # gas drawn in the last days, the oldest overwritten next
    "looked_at? emptied_before? wanted backed loaded brought refilled_gas coming ordinary lacking",  # of one order
    "cover_gas cover_drawn price",
    "refill billed_gas",  # hundredths for one; of a full one, where a bill goes by the gas that was filled in
    "opening_gas opening_usable closing_gas closing_usable",
    "drawn_before",  # the horizon
    *BY_SIZE,
)
WARD = record(
    "regulators regulators_free",
    "regulators_used",  # as last checked
    "most_bedside coming held",
    ("shelf", QUEUE),  # full cylinders kept there
    "going_without",  # in backup.py
    "least_flow",  # nobody of the ward on a cylinder or outlet has less, as far as is known
    "stock_outs interruptions unserved_s short_s",
)
GENERATOR = record(
    "present? permitted? dry? called? on_order? status fuel failed breakdowns remaining_s rate",
    "attempts attempts_since_s running_since_s start_event failure_event",
)
BATTERY = record("present? tripped? usable_ws level charge mains_w drain")
CHAIN = record(
    "grid_up? voltage_good?",
    "seen?",  # the rates have been worked out from what follows
    "seen_supply seen_running seen_load_w seen_solar_w seen_generator? supply solar_w unusable_since_s",
    "running load_w",
    "since_s stored drained faded fuel_used fuel_received opening_level opening_fuel battery_event",
    "fuel_event",
    ("generator", GENERATOR),
    ("battery", BATTERY),
)


def _ledger_columns() -> typing.Iterator[tuple[object, ...]]:
    lengths = {name: len(Cause) for name in ("interruptions", "unserved_s", "stock_outs_by_cause")}
    lengths |= {"longer": len(LENGTHS_S), "short_s": len(Root), "supply_over": len(SHORTFALLS_S)}
    lengths |= {"shock_short_s": len(Root)}
    for part in fields(Ledger):
        if part.name in lengths:
            yield part.name, "i8", (lengths[part.name],)
        elif part.name not in (
            "days_unserved",
            "classes",
            "wards",
            "sizes",
            "shortfall",
            *BY_CLASS,
            *BY_WARD,
            *BY_SIZE,
        ):
            yield part.name, "i8"


LEDGER = np.dtype(list(_ledger_columns()), align=True)
# Of each class: what is counted of it, and how its patients are sent on (after_s: NONE for never).
COUNTED = record("interruptions unserved_s short_s transferred")
# The device of a class: its place among the delivery sets, whether always humidified, else above which flow;
# whether there are back-ups.
DEVICE = record("place humidified? dry_above_ml_min backup?")
SENDING = record("after_s travel_s oxygen_on_board? with_cylinder? back_after_s")
LIVES = record("at count_")  # of a unit, those worked out ahead
LOG = record("time_s step what other value")
WAITING = record("priority number slot")
FLAG = record("value?")
DAY = record(("values", "i4", (len(DAILY_COLUMNS),)))  # outcome.DAILY_COLUMNS

RUN = record(
    ("rules", RULES.dtype),
    "classes",  # addresses of what does not change in a run
    "class_words sending devices",
    "counted",  # by class
    "class_count",
    "rows",  # patients to come, in order of arrival
    "row_count closures closure_count outages outage_count cuts_listed cuts_listed_count",
    "shocks shock_count",  # spells in which a storm is on
    "shocks_begun generator_gaps generator_gap_count",
    "start",  # address of what was counted
    "lives has_lives?",  # address of LIVES by unit
    "allotments allotment_count",  # the seconds at which they come
    "lapses lapse_count supplier_failures supplier_failure_count invoices",
    ("purse", PURSE),
    ("seed", "u8"),
    ("replication", "u8"),
    "now midnight_s end_s",
    "status",  # 0, or why the run stopped short (see run.py)
    "steps",
    "pause_at",  # steps after which the loop returns, to be called again
    ("calendar", EVENTS),
    "log log_room log_count",
    ("ledger", LEDGER),
    "ledger_words",  # address of the same, word by word
    "days_unserved",  # address of a flag for each day of the horizon
    "day_count daily daily_count",
    "patients",  # address of places for those present
    "patient_room patients_used patient_free first_present last_present reduced_count first_reduced",
    "open_places",  # address of places for cylinders in use
    "open_used open_free first_open opened fewest_full",
    "on_cylinder",  # patients
    "at_beds",  # back-ups not in use
    "backups_out backups_due? backup_came_back?",
    "counts_gaps?",  # Shortfall.as_before
    "short_count gap_count promises promise_count",
    "device_count",  # kinds of delivery sets of a limited number
    "delivery_free delivery_owned",  # addresses
    "humidifiers_free oximeters_free power_came?",
    "line",  # those who wait for a source, in order
    "line_count",
    "joined",  # how many have joined the line so far
    "calls",  # those for whom staff are called, in order
    "call_count scratch",
    "ranked",  # those looked at in one round of allocation
    "sharers",  # those who were on a cylinder, in line
    "gathering",  # units, then what is placed on each
    "movers",  # (who, where to)
    "busy has_store?",
    "limits_delivery?",  # there are so many humidifiers, or delivery sets of some kind
    "gathers?",
    ("source_places", "i8", (SOURCES,)),  # in the order of the strategy; one after all for none
    "has_bank? stock_came? room_made? review_pending?",
    "stores",  # address of those of each size of cylinder
    "store_count several? ward_size",
    ("sizes_for", "i8", (USES * MOST_SIZES,)),  # by use, the first choice first
    ("sizes_for_count", "i8", (USES,)),
    "journeys journey_room",  # address of places for patients on the way with cylinders
    "sets",  # address of the regulator sets
    "set_count banks",
    ("manifold", MANIFOLD),
    "wards",  # address
    "ward_count",
    "wards_of_classes",  # address
    "stocks_wards? takes_time? hands_connect? longest_change_s",
    "away",  # address of places for cylinders that are away
    "away_free away_used shelf_since_s",
    ("book", "i8", (BOOK_DAYS,)),  # gas drawn from cylinders in the last days, the oldest overwritten next
    "booked_days booked_gas",
    "mean_need",  # address of the season's, by day from the warm-up's first
    "warm_up_days units unit_count",
    "on_units",  # address of who is on which unit, in the order in which they came
    "outlet_room",  # for as many on each
    "spare",  # address of the trees of bank.py, one a ward
    "spare_width",  # leaves of one
    "levels",  # address of what is in use at once: AtOnce.NAMES
    "levels_since_s levels_covered_s units_changed? in_repair",
    "out_of_order",  # units that do not work
    "outlets_used",
    "limit_w peak_w",  # that units may draw, and for a moment
    "least_w most_w total_w",  # of one unit, and of all together
    "unit_rules",  # address
    "mixed? surges?",  # not all units give the same flow; some draw more as they start
    "most_rated_ml_min",
    "running running_w",  # units that serve somebody, and what they draw
    "technicians_free first_for_technician last_for_technician orders order_places order_room",
    "orders_used",  # places for orders that were ever used
    "orders_day orders_on_day emergencies_day emergencies_on_day",
    "last_delivery_s grid_up?",
    ("grid_holds", "i8", (2,)),
    "cut_number grid_since_s cuts",
    ("chain", CHAIN),
)
