"""The table of measures, in the order in which a summary has them: units, schema and heads all come from here."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from o2sim.measures.cover import LEVELS, PARTS
from o2sim.measures.measure import (
    A_YEAR,
    GAS_PER_LITRE,
    HOUR_S,
    MONEY,
    Measure,
    litres_of,
    share_of_new,
    short_hours,
    unserved_hours,
)
from o2sim.measures.names import (
    ALL,
    ANY,
    BATTERY_LEFT,
    BROKEN,
    CHANCE,
    COST,
    DEFICIT,
    FILL,
    HOURS,
    IN_SHOCKS,
    MET,
    NEEDED,
    NOT_BOUGHT,
    SHORT,
    STOCK_OUTS,
    SUPPLY_HOURS,
)
from o2sim.money.cost import FUEL_PER_LITRE
from o2sim.outcome import CAUSE_LABELS, LENGTH_LABELS, SHORTFALL_LABELS, Root
from o2sim.scenario.types.hospital import DAY_S

CENTS = 100  # money of the purse is counted in hundredths
SHARE_OF_RUNS = "share of replications, 0 to 1"
NUMBER, CLOCK, LITRES = f"number {A_YEAR}", f"hours {A_YEAR}", f"litres {A_YEAR}"
PATIENTS, PATIENT_HOURS, PRICE = f"patients {A_YEAR}", f"patient-hours {A_YEAR}", f"{MONEY} {A_YEAR}"
CAUSES, ROOTS = tuple(CAUSE_LABELS.values()), tuple(root.label for root in Root)

OF_A_WARD = (
    Measure(STOCK_OUTS, NUMBER, "interruptions for lack of supply", "mean", "ward_stock_outs"),
    Measure("interruptions_per_year", NUMBER, "gaps longer than tolerated", "mean", "ward_interruptions"),
    Measure(HOURS, PATIENT_HOURS, "in need and given nothing", "mean", "ward_unserved_s", HOUR_S),
)
OF_A_SIZE = (
    Measure("opened", NUMBER, "cylinders opened", "mean", "opened_by_size"),
    Measure("delivered", NUMBER, "full cylinders received", "mean", "delivered_by_size"),
    Measure("lost", NUMBER, "gone from the fleet, condemned or missing", "mean", "lost_by_size"),
    Measure("litres_drawn", LITRES, "drawn, leaks included", "mean", "drawn_gas_by_size", GAS_PER_LITRE),
    Measure("empty_shelf_hours", CLOCK, "without a full cylinder on the shelf", "mean", "empty_shelf_s_by_size",
            HOUR_S),
    Measure("fewest_full", "cylinders", "fewest full ones left as one was taken, warm-up included", "mean",
            "fewest_full_by_size", yearly=False),
)  # fmt: skip
OF_A_CLASS = (
    Measure("arrivals", NUMBER, "who begin to need oxygen", "mean", "arrivals_by_class"),
    Measure("patients", PATIENTS, "in need at any time", "mean", "patients_by_class"),
    Measure("interruptions_per_year", NUMBER, "gaps longer than tolerated", "mean", "interruptions_by_class"),
    Measure(HOURS, PATIENT_HOURS, "in need and given nothing", "mean", "unserved_s_by_class", HOUR_S),
    Measure("transferred_patients", PATIENTS, "sent on to another hospital", "mean", "transferred_by_class"),
)

_WENT_WITHOUT = (
    Measure(CHANCE, SHARE_OF_RUNS, "at least one supply shortfall within the horizon", "chance",
            head="Chance of a supply shortfall"),
    Measure(ANY, SHARE_OF_RUNS, "at least one interruption of any cause within the horizon", "chance",
            head="Chance of any interruption"),
    Measure("probability_by_cause", SHARE_OF_RUNS, "at least one interruption by this cause", "chance by cause",
            parts=CAUSES),
    Measure(STOCK_OUTS, NUMBER, "interruptions for lack of supply", "count", "stock_outs",
            head="Supply shortfalls"),
    Measure("interruptions_per_year", NUMBER, "gaps longer than tolerated, all and those over a length",
            "count by length", parts=(ALL, *LENGTH_LABELS)),
    Measure("days_with_unserved", f"days {A_YEAR}", "days on which an interruption began or went on", "mean",
            "days_with_unserved", head="Days with an interruption"),
    Measure(HOURS, PATIENT_HOURS, "in need and given nothing", "mean", unserved_hours,
            head="Unserved patient-hours"),
    Measure("patients_affected", PATIENTS, "with at least one interruption within the horizon", "mean",
            "patients_affected", head="Patients affected"),
    Measure("longest_gap_hours", "hours", "the longest that one patient went without", "mean", "longest_gap_s",
            HOUR_S, yearly=False, head="Longest gap in a run, h"),
    Measure(FILL, "share, 0 to 1", "litres delivered over litres needed", "ratio", head="Fill rate"),
    Measure("empty_shelf_hours", CLOCK, "no full or part-used cylinder on the shelf", "mean", "empty_shelf_s",
            HOUR_S, needs="cylinders", head="Empty shelf, h"),
    Measure(COST, PRICE, "all items together", "money", needs="prices", head="Cost"),
    Measure("unserved_hours_by_cause", PATIENT_HOURS, "in need and given nothing, by this cause", "mean by cause",
            parts=CAUSES),
    Measure("cost_by_item", PRICE, "empty without prices", "money by item", needs="prices"),
    Measure("cost_per_patient", f"{MONEY} per patient treated", "transferred patients left out", "ratio",
            needs="prices"),
    Measure("cost_per_1000_l", f"{MONEY} per 1,000 L delivered", "all items together", "ratio", needs="prices"),
)  # fmt: skip
_PATIENTS = (
    Measure("arrivals", NUMBER, "who begin to need oxygen", "mean", "arrivals"),
    Measure("patients", PATIENTS, "in need at any time", "mean", "patients"),
    Measure("transferred_patients", PATIENTS, "sent on to another hospital", "mean", "transferred",
            head="Transferred patients"),
    Measure("transfer_travel_hours", CLOCK, "on the road to another hospital", "mean", "travel_s", HOUR_S),
    Measure("litres_needed", LITRES, "prescribed, given or not", "mean", "needed_gas", GAS_PER_LITRE),
    Measure("litres_delivered", LITRES, "given to patients in need", "mean",
            litres_of("cylinder_gas", "concentrator_gas")),
    Measure("under_served_patient_hours", PATIENT_HOURS, "given less than the prescribed flow", "mean",
            "under_served_s", HOUR_S, head="Under-served patient-hours"),
    Measure("patients_under_served", PATIENTS, "given less than the prescribed flow at any time", "mean",
            "patients_under_served", head="Patients under-served"),
    Measure("litres_missing_from_reduced_flow", LITRES, "prescribed beyond what was given", "mean", "missing_gas",
            GAS_PER_LITRE),
    Measure(SHORT, PATIENT_HOURS, "given nothing, or less than is enough", "mean", short_hours,
            needs="shortfall", head="Short patient-hours"),
    Measure("short_hours_by_root", PATIENT_HOURS,
            "by what would have helped: supply, equipment, or handling alone", "mean by part", "short_s", HOUR_S,
            needs="shortfall", parts=ROOTS),
    Measure(DEFICIT, PATIENT_HOURS,
            "in need, by the share of the prescribed flow that was not given", "mean", "deficit_ms",
            1_000 * HOUR_S, head="Oxygen deficit, patient-hours"),
    Measure("stock_outs_by_cause", NUMBER, "by the cause of most of the supply shortfall", "mean by part",
            "stock_outs_by_cause", parts=CAUSES),
    Measure("patients_with_supply_shortfall", PATIENTS,
            "by how long only supply could have helped in one spell", "mean by part", "supply_over",
            needs="shortfall", parts=SHORTFALL_LABELS),
    Measure("longest_shortfall_hours", "hours", "short hours of the longest spell of one patient", "mean",
            "longest_spell_s", HOUR_S, yearly=False, needs="shortfall", head="Longest shortfall in a run, h"),
)  # fmt: skip
_CYLINDERS = (
    Measure("cylinders_used", NUMBER, "cylinders emptied", "mean", "cylinders_emptied", needs="cylinders"),
    Measure("cylinders_changed_in_time", NUMBER, "taken off for another while they still gave their flow", "mean",
            "changed_in_time", needs="cylinders"),
    Measure("cylinders_delivered", NUMBER, "full cylinders received", "mean", "cylinders_delivered",
            needs="cylinders"),
    Measure("deliveries", NUMBER, "trips that bring cylinders", "mean", "deliveries", needs="cylinders"),
    Measure("collections", NUMBER, "trips that take own cylinders away to be filled", "mean", "collections",
            needs="cylinders", head="Trips with own cylinders out"),
    Measure("emergency_deliveries", NUMBER, "trips called in an emergency", "mean", "emergency_deliveries",
            needs="cylinders", head="Emergency deliveries"),
    Measure("cylinders_cut_from_orders", NUMBER, "ordered and not sent", "mean", "cylinders_cut",
            needs="cylinders", head="Cylinders cut from orders"),
    Measure("cylinders_sent_part_used", NUMBER, "part-used and sent to be filled", "mean", "cylinders_sent",
            needs="sending", head="Cylinders sent part-used"),
    Measure("litres_sent_part_used", LITRES, "in part-used cylinders sent to be filled", "mean", "sent_gas",
            GAS_PER_LITRE, needs="sending", head="Sent part-used, L"),
    Measure("cylinders_unusable", NUMBER, "opened and found to give nothing", "mean", "cylinders_unusable",
            needs="cylinders", head="Cylinders unusable"),
    Measure("cylinders_lost", NUMBER, "gone from the fleet, condemned or missing", "mean", "cylinders_lost",
            needs="cylinders", head="Cylinders lost from the fleet"),
)  # fmt: skip
_POWER = (
    Measure("power_cuts", NUMBER, "cuts of the grid", "mean", "power_cuts"),
    Measure("power_out_hours", CLOCK, "grid down", "mean", "power_out_s", HOUR_S),
    Measure("unrecognised_patient_hours", PATIENT_HOURS, "of need that nobody recognised; in no other figure",
            "mean", "unrecognised_s", HOUR_S),
    Measure("litres_without_need", LITRES, "given late in weaning, or without need", "mean",
            litres_of("unneeded_cylinder_gas", "unneeded_concentrator_gas")),
)  # fmt: skip
_CONCENTRATORS = (
    Measure("without_power_hours", CLOCK, "neither grid nor anything behind it", "mean", "without_power_s", HOUR_S,
            needs="concentrators", head="Hours without any power"),
    Measure("low_concentration_patient_hours", PATIENT_HOURS, "on a unit below its concentration", "mean",
            "low_concentration_s", HOUR_S, needs="concentrators", head="Low-concentration patient-hours"),
    Measure("generator_hours", CLOCK, "generator running", "mean", "generator_running_s", HOUR_S,
            needs="concentrators", head="Generator, h"),
    Measure("generator_failures", NUMBER, "to start or while running", "mean", "generator_failures",
            needs="concentrators"),
    Measure("fuel_litres", LITRES, "fuel used by the generator", "mean", "fuel_used", FUEL_PER_LITRE,
            needs="concentrators", head="Fuel, L"),
    Measure("concentrator_failures", NUMBER, "breakdowns", "mean", "concentrator_failures", needs="concentrators"),
    Measure("concentrators_written_off", NUMBER, "never repaired", "mean", "concentrators_written_off",
            needs="concentrators"),
    Measure("services", NUMBER, "preventive ones", "mean", "services", needs="concentrators"),
    Measure("unit_losses", NUMBER, "losses of the concentrator that a patient is on", "mean", "unit_losses",
            needs="backup"),
    Measure("losses_met_by_backup", NUMBER, "of these, those met by a back-up at the bed", "mean",
            "backups_opened", needs="backup"),
    Measure(MET, "share, 0 to 1", "losses of a concentrator met by a back-up over all of them", "ratio",
            needs="backup", head="Losses of a unit met by a back-up"),
    Measure("concentrators_moved", NUMBER, "to another ward", "mean", "concentrators_moved",
            needs="concentrators"),
    Measure(BATTERY_LEFT, "share of new, 0 to 1", "what the battery gives at the end over what it gave when new",
            "mean", share_of_new, needs="fade", head="Battery at the end, share of new"),
)  # fmt: skip
_COVER = (
    Measure("by_ward", NUMBER, "by name; null without named wards", "by ward", needs="wards", inside=OF_A_WARD),
    Measure("by_size", "", "by size of cylinder; null where cylinders are alike", "by size", needs="sizes",
            inside=OF_A_SIZE),
    Measure("days_of_cover", "days", "usable litres on hand over a day's use or need, at midnight", "cover",
            needs="cylinders", head="Days of cover", parts=PARTS),
    Measure("hours_of_cover", "hours", "usable litres on hand at the flow now drawn, at midnight", "cover",
            needs="cylinders", parts=PARTS),
    Measure("share_of_days_of_cover", "share of days, 0 to 1", "days that begin with less cover than this",
            "cover", needs="cylinders", parts=LEVELS),
    Measure("by_class", "", "by class of patients", "by class", inside=OF_A_CLASS),
)  # fmt: skip
_MANIFOLD = (
    Measure("outlet_patient_hours", PATIENT_HOURS, "served through outlets", "mean", "served_outlet_s", HOUR_S,
            needs="manifold"),
    Measure("bank_changes", NUMBER, "the reserve's included", "mean", "bank_changes", needs="manifold",
            head="Bank changes of the manifold"),
    Measure("reserve_hours", CLOCK, "on the low-pressure reserve", "mean", "reserve_s", HOUR_S, needs="manifold",
            head="On the low-pressure reserve, h"),
    Measure("manifold_dry_hours", CLOCK, "banks and reserve spent", "mean", "manifold_dry_s", HOUR_S,
            needs="manifold", head="Manifold dry, h"),
    Measure("pipework_leak_litres", LITRES, "lost by the pipework", "mean", "pipe_leak_gas", GAS_PER_LITRE,
            needs="manifold", head="Lost by the pipework, L"),
)  # fmt: skip
_FUNDS = (
    Measure("days_without_funds", f"days {A_YEAR}", "not even the least order could be paid for, or placed",
            "mean", "days_without_funds", needs="funds", head="Days without funds"),
    Measure("litres_not_given_for_want_of_funds", LITRES, "needed, and not given as no cylinder could be bought",
            "mean", "unfunded_gas", GAS_PER_LITRE, needs="funds", head="Needed and not bought, L"),
    Measure(NEEDED, NUMBER, "delivered, and those needed and not bought for want of funds", "mean", needs="funds",
            head="Cylinders needed"),
    Measure(NOT_BOUGHT, NUMBER, "whose usable gas was needed, and for which there was no money", "mean",
            needs="funds", head="Needed and not bought, cylinders"),
    Measure(BROKEN, f"unit-hours {A_YEAR}",
            "out of order with no repair under way, where the purse pays for parts; services and units written "
            "off are in it", "mean", needs="funds", head="Broken, no repair begun, unit-hours"),
    Measure("cylinders_not_ordered_for_want_of_funds", NUMBER,
            "wanted at a review, or in an emergency, and not ordered; one still wanted at the next counts again",
            "mean", "cylinders_not_ordered", needs="funds", head="Cylinders not ordered for want of funds"),
    Measure("orders_not_placed_for_want_of_funds", NUMBER, "looks at the stock at which nothing could be ordered",
            "mean", "orders_not_placed", needs="funds", head="Orders not placed for want of funds"),
    Measure("days_of_approval", f"days {A_YEAR}", "that all orders together waited to be approved", "mean",
            "approval_s", DAY_S, needs="funds", head="Days of approval, all orders"),
    Measure("money_allotted", PRICE, "that came into the purse", "mean", "allotted_cents", CENTS, needs="funds",
            head="Allotted"),
    Measure("fees", PRICE, "that patients paid", "mean", "fees_cents", CENTS, needs="funds", head="Fees"),
    Measure("money_lapsed", PRICE, "lost at the end of a month in which it was not spent", "mean", "lapsed_cents",
            CENTS, needs="funds", head="Money lapsed"),
    Measure("money_billed", PRICE, "for what the purse pays for", "mean", "billed_cents", CENTS, needs="funds"),
    Measure("money_paid", PRICE, "from the purse", "mean", "paid_cents", CENTS, needs="funds",
            head="Paid from the purse"),
    Measure("money_owed_at_the_end", MONEY, "to suppliers", "mean", "closing_owed_cents", CENTS, yearly=False,
            needs="funds", head="Owed at the end"),
    Measure("money_unspent_at_the_end", MONEY, "in the purse", "mean", "closing_cash_cents", CENTS, yearly=False,
            needs="funds", head="Unspent at the end"),
)  # fmt: skip

_SHOCKS = (
    Measure("shocks", NUMBER, "storms and other shocks that begin", "mean", "shocks", needs="shocks",
            head="Shocks"),
    Measure("shock_hours", CLOCK, "with at least one shock on, from its onset to the end of its longest effect",
            "mean", "shock_s", HOUR_S, needs="shocks", head="Hours with a shock on"),
    Measure(IN_SHOCKS, PATIENT_HOURS,
            "of the short hours, those while a shock was on, by what would have helped", "mean by part",
            "shock_short_s", HOUR_S, needs="shocks and shortfall", parts=ROOTS),
)  # fmt: skip

MEASURES = (
    *_WENT_WITHOUT,
    *_PATIENTS,
    *_CYLINDERS,
    *_POWER,
    *_CONCENTRATORS,
    *_COVER,
    *_MANIFOLD,
    *_SHOCKS,
    *_FUNDS,
)
OF_OTHER_QUESTIONS = (  # not in a summary, but in what a what-if, a study of drivers or of facilities gives
    Measure(SUPPLY_HOURS, PATIENT_HOURS, "in need and given nothing, for lack of supply", "mean"),
    Measure("unserved_supply_patient_hours", PATIENT_HOURS, "in need and given nothing, for lack of supply",
            "mean"),
)  # fmt: skip
NAMED: Mapping[str, Measure] = {
    **{each.name: each for each in (*MEASURES, *OF_OTHER_QUESTIONS)},
    **{f"{whole.name}.{each.name}": each for whole in MEASURES for each in whole.inside},
}
INTO_HEADS = {PATIENT_HOURS: "h/year", PRICE: f"{MONEY}/year"}  # units that a column's name leaves open


def unit_of(name: str, currency: str | None) -> str:
    """Return the unit of a measure by its name."""
    return NAMED[name].unit_in(currency)


def head_of(name: str) -> str:
    """Return how a table heads a measure."""
    return NAMED[name].head


def unit_in_head(name: str, currency: str | None = None) -> str:
    """Return ` (h/year)` or the like for a column named after a measure, "" where the name says it."""
    unit = INTO_HEADS.get(NAMED[name].unit, "").replace(MONEY, currency or "money")
    return f" ({unit})" if unit else ""


def measure_units(strategies: Mapping[str, Mapping[str, Any]], currency: str | None) -> dict[str, str]:
    """Return the unit of every measure of a summary's strategies, and of those by class and size of cylinder."""
    sizes = any(each.get("by_size") for each in strategies.values())
    classes = {name for each in strategies.values() for measures in each["by_class"].values() for name in measures}
    return {
        **{each.name: each.unit_in(currency) for each in MEASURES if each.unit},
        **{f"by_class.{each.name}": each.unit_in(currency) for each in OF_A_CLASS if each.name in classes},
        **{f"by_size.{each.name}": each.unit for each in OF_A_SIZE if sizes},
    }
