"""What happened under each strategy, as tables of plain text; whoever shows them chooses the looks."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from functools import reduce
from operator import getitem
from typing import Any

from o2sim.looks import doubt, unbought
from o2sim.looks.blocks import Row, Table, by_strategy, mean_of, split_hours
from o2sim.looks.words import (
    NO_INTERVAL,
    Summary,
    amount,
    chosen_of,
    is_year,
    joined,
    number,
    percent,
    percent_range,
    short_frequency,
    span,
    spread,
)
from o2sim.measures.measure import MONEY
from o2sim.measures.names import BATTERY_LEFT, IN_SHOCKS
from o2sim.measures.table import NAMED, OF_A_SIZE, head_of
from o2sim.money.to_buy import unpriced
from o2sim.outcome import LENGTH_LABELS, Cause, Root
from o2sim.questions.compare import costing_text
from o2sim.scenario.types.hospital import Hospital


def all_tables(summary: Summary, currency: str = "") -> list[Table]:
    """Return all figures: what happened, why, to whom and where, at what cost."""
    by_cause, by_class, by_ward = cause_tables(summary), class_tables(summary), ward_tables(summary)
    by_who = [*by_cause, *by_class, *by_ward, *size_tables(summary)]
    return [*main_tables(summary, currency), *by_who, *cost_tables(summary, currency)]


def main_tables(summary: Summary, currency: str = "") -> list[Table]:
    """Return the headline measures with strategies as columns, three strategies a table."""
    count, days = summary["replications"], summary["horizon_days"]
    within = "" if is_year(days) else f", {span(days)}"

    def chance(measure: str) -> Row:
        def cell(item: Mapping[str, Any]) -> str:
            return f"{percent_range(item[measure])}\n{short_frequency(item[measure], count, days)}"

        return f"{head_of(measure)}{within}", cell

    rows: list[Row] = [
        chance("stock_out_probability"),
        chance("interruption_probability"),
        _row("stock_outs_per_year"),
        *((f"Interruptions {label}", _seen_cell("interruptions_per_year", label)) for label in LENGTH_LABELS),
        _row("unserved_patient_hours"),
        ("  for lack of supply", lambda item: amount(split_hours(item)[0])),
        ("  in handling", lambda item: amount(split_hours(item)[1])),
        _row("days_with_unserved"),
        _row("patients_affected"),
        *_shortfall_rows(summary),
        *_shock_rows(summary),
        *(_row(name) for name in _WHERE_ANY if _any(summary, name)),
        _row("longest_gap_hours"),
        (f"{head_of('fill_rate')}, litres", lambda item: spread(item["fill_rate"], percent)),
        _row("empty_shelf_hours"),
        *_cover_rows(summary),
        *_battery_rows(summary),
        (f"{head_of('annual_cost')}{_in(currency)}", lambda item: _money(item["annual_cost"])),
        *unbought.rows(summary),
        *_funds_rows(summary, currency),
    ]
    level = f"{100 * summary['confidence']:g} %"
    note = (
        f"Counts, hours and money are for 365 days; {doubt.brackets(level, summary)}{_without_interval(summary)}."
    )
    if _any(summary, "transferred_patients"):
        note += " The hours of transferred patients are in none of the hours; the fill rate counts them."
    return by_strategy("What happened", summary["strategies"], rows, note, chosen_of(summary))


def cause_tables(summary: Summary) -> list[Table]:
    """Return unserved patient-hours by cause, with the number of runs in which it led to an interruption."""
    strategies, count = summary["strategies"], summary["replications"]
    rows: list[Row] = [
        (f"{cause.label} ({'supply' if cause.is_supply else 'handling'})", _cause_cell(cause.label, count))
        for cause in sorted(Cause, key=lambda item: not item.is_supply)
        if any(mean_of(item["unserved_hours_by_cause"].get(cause.label)) for item in strategies.values())
    ]
    note = "Patient-hours in 365 days; in brackets the number of runs in which the cause led to an interruption."
    return by_strategy("Why someone went without", strategies, rows, note, chosen_of(summary)) if rows else []


def class_tables(summary: Summary) -> list[Table]:
    """Return unserved patient-hours of each class with its interruptions and transfers; nothing for one class."""
    rows = _rows_by(summary, "by_class", ("interruptions_per_year",), "transferred_patients")
    note = "Patient-hours unserved in 365 days; in brackets the number of interruptions"
    note += ", then of patients transferred." if _any(summary, "transferred_patients") else "."
    if len(rows) < 2:
        return []
    return by_strategy("Who went without", summary["strategies"], rows, note, chosen_of(summary))


def ward_tables(summary: Summary) -> list[Table]:
    """Return unserved patient-hours of each ward with its shortfalls and interruptions; nothing without wards."""
    rows = _rows_by(summary, "by_ward", ("stock_outs_per_year", "interruptions_per_year"))
    note = "Patient-hours unserved in 365 days; in brackets supply shortfalls, then interruptions."
    if not rows:
        return []
    return by_strategy("Where they went without", summary["strategies"], rows, note, chosen_of(summary))


def size_tables(summary: Summary) -> list[Table]:
    """Return what was used of each size of cylinder, and how low it got; nothing where cylinders are alike."""

    def cell(name: str, measure: str) -> Callable[[Any], str]:
        return lambda item: _of_size(item, name, measure)

    items = summary["strategies"].values()
    names = dict.fromkeys(name for item in items for name in item.get("by_size") or {})
    counted = [each for each in OF_A_SIZE if each.name != "lost" or _any_lost(summary)]
    rows: list[Row] = [
        (f"{name}: {_HEADS[each.name]}", cell(name, each.name)) for name in names for each in counted
    ]
    note = "Means; counts, litres and hours of 365 days, the fewest full ones of a run with its warm-up."
    return (
        by_strategy("By size of cylinder", summary["strategies"], rows, note, chosen_of(summary)) if rows else []
    )


_HEADS = {
    "opened": "opened", "delivered": "delivered", "lost": "lost from the fleet", "litres_drawn": "litres drawn",
    "empty_shelf_hours": "none full on the shelf, h", "fewest_full": "fewest full ones",
}  # fmt: skip


def _of_size(item: Mapping[str, Any], name: str, measure: str) -> str:
    found = (item.get("by_size") or {}).get(name)
    return "-" if found is None else number(mean_of(found[measure]))


def _any_lost(summary: Summary) -> bool:
    sizes = [each for item in summary["strategies"].values() for each in (item.get("by_size") or {}).values()]
    return any(mean_of(each["lost"]) > 0 for each in sizes)


def _rows_by(summary: Summary, part: str, counted: Sequence[str], if_any: str = "") -> list[Row]:
    """Return a row for each class or ward of any strategy: hours, and in brackets what is counted of it."""

    def row(name: str) -> Row:
        def cell(item: Mapping[str, Any]) -> str:
            found = (item[part] or {}).get(name)
            if found is None:  # this strategy names no such class or ward
                return "-"
            more = [if_any] if if_any and mean_of(found[if_any]) else []
            hours, *counts = (amount(mean_of(found[each])) for each in ("unserved_patient_hours", *counted, *more))
            return f"{hours} h ({', '.join(counts)})"

        return name, cell

    items = summary["strategies"].values()
    return [row(name) for name in dict.fromkeys(name for item in items for name in item.get(part) or {})]


def cost_tables(summary: Summary, currency: str = "") -> list[Table]:
    """Return the yearly cost by item, and per patient and per 1,000 L; nothing where no prices are stated."""
    strategies = {name: item for name, item in summary["strategies"].items() if item["annual_cost"] is not None}
    names = dict.fromkeys(name for item in strategies.values() for name in item["cost_by_item"])
    rows: list[Row] = [
        *((name, _cost_cell(name)) for name in names),
        ("in all", lambda item: number(mean_of(item["annual_cost"]))),
        *unbought.rows(summary),
        ("per patient treated", lambda item: _money(item["cost_per_patient"])),
        ("per 1,000 L delivered", lambda item: _money(item["cost_per_1000_l"])),
    ]
    if not strategies:
        return []
    note = " ".join(costing_text.not_counted(summary)) + unbought.note(summary)
    return by_strategy(f"Cost a year{_in(currency)}", strategies, rows, note, chosen_of(summary))


def without_price(hospitals: Mapping[str, Hospital]) -> list[str]:
    """Return what no cost holds for want of a price, counted and named; nothing without prices."""
    found = {name: unpriced(hospital) for name, hospital in hospitals.items() if hospital.costs is not None}
    counts = [f"{len(items)} under “{name}”" for name, items in found.items() if items]
    if not counts:
        return []
    named = "; ".join(dict.fromkeys(item for items in found.values() for item in items))
    return [f"In no cost here, for want of a price: {joined(counts)} ({named})."]


def _in(currency: str) -> str:
    return f", {currency}" if currency else ""


def _seen_cell(*keys: str) -> Callable[[Any], str]:
    """Return the cell of a mean with its interval; "none seen" rather than a zero that looks certain."""

    def cell(item: Any) -> str:
        interval = reduce(getitem, keys, item)
        if interval is None or interval["mean"] != 0:
            return spread(interval)
        if interval["high"] is None:
            return "none seen"
        return f"none seen (to {amount(interval['high'])})" if interval["high"] > 0 else "0"

    return cell


def _money(interval: Mapping[str, Any] | None) -> str:
    """Return an amount with its interval; nothing to pay is a plain 0, as it is known and not merely unseen."""
    return "0" if interval is not None and interval["mean"] == 0 == (interval["high"] or 0) else spread(interval)


_WHERE_ANY = (  # measures shown only where there are any
    "under_served_patient_hours",
    "patients_under_served",
    "transferred_patients",
    "low_concentration_patient_hours",
    "without_power_hours",
    "generator_hours",
    "fuel_litres",
    "collections",
    "emergency_deliveries",
    "cylinders_cut_from_orders",
    "cylinders_sent_part_used",
    "litres_sent_part_used",
    "cylinders_unusable",
    "cylinders_lost",
    "bank_changes",
    "pipework_leak_litres",
    "reserve_hours",
    "manifold_dry_hours",
)


_OF_FUNDS = (  # below the cost, where there are any
    "litres_not_given_for_want_of_funds",
    "days_without_funds",
    "cylinders_not_ordered_for_want_of_funds",
    "orders_not_placed_for_want_of_funds",
    "days_of_approval",
    "money_allotted",
    "fees",
    "money_paid",
    "money_lapsed",
    "money_owed_at_the_end",
    "money_unspent_at_the_end",
)


def _funds_rows(summary: Summary, currency: str) -> list[Row]:
    """Return the rows of the purse, those that come to something."""
    there = [NAMED[name] for name in _OF_FUNDS if _any(summary, name)]
    money = {each.name: _in(currency) if each.unit.startswith(MONEY) else "" for each in there}
    return [(f"{each.head}{money[each.name]}", _seen_cell(each.name)) for each in there]


def _any(summary: Summary, measure: str) -> bool:
    """Return True where a measure is above zero under any strategy."""
    return any(mean_of(item.get(measure)) > 0 for item in summary["strategies"].values())


def _row(measure: str) -> Row:
    """Return the row of a measure as the table of measures heads it."""
    return head_of(measure), _seen_cell(measure)


def _shortfall_rows(summary: Summary) -> list[Row]:
    """Return the short hours by what would have helped, where the scenario says when somebody counts as short."""
    if not _any(summary, "short_patient_hours"):
        return []
    return [
        _row("short_patient_hours"),
        *_by_root("short_hours_by_root"),
        _row("longest_shortfall_hours"),
        _row("oxygen_deficit_patient_hours"),
    ]


def _by_root(measure: str, more: str = "") -> list[Row]:
    """Return short hours by what would have helped."""
    by_root = zip(("for lack of supply", "for lack of equipment", "in handling"), Root, strict=True)
    return [(f"  {words}{more}", _seen_cell(measure, root.label)) for words, root in by_root]


def _shock_rows(summary: Summary) -> list[Row]:
    """Return how often there was a shock, for how long, and who was short in it, where the scenario has shocks."""
    items = summary["strategies"].values()
    if all(item["shocks"] is None for item in items):
        return []
    in_shocks = _by_root(IN_SHOCKS, ", in a shock") if any(item[IN_SHOCKS] for item in items) else []
    return [_row("shocks"), _row("shock_hours"), *in_shocks]


def _cover_rows(summary: Summary) -> list[Row]:
    """Return how low the stock gets, where there are cylinders."""

    def cell(measure: str, part: str, show: Callable[[float], str]) -> Callable[[Any], str]:
        return lambda item: spread((item.get(measure) or {}).get(part), show)

    rows = [
        (f"{head_of('days_of_cover')}, lowest", cell("days_of_cover", "lowest", number)),
        ("  under 3 days, of days", cell("share_of_days_of_cover", "under 3 days", percent)),
    ]
    return rows if any(item.get("days_of_cover") for item in summary["strategies"].values()) else []


def _battery_rows(summary: Summary) -> list[Row]:
    """Return what the battery still gives at the end, where one fades."""
    if not _any(summary, BATTERY_LEFT):
        return []
    return [(head_of(BATTERY_LEFT), lambda item: spread(item.get(BATTERY_LEFT), percent))]


def _without_interval(summary: Summary) -> str:
    """Return why there may be no interval, where one of the headline measures has none."""
    shown = ("stock_outs_per_year", "unserved_patient_hours", "patients_affected", "fill_rate", "annual_cost")
    values = [item[measure] for item in summary["strategies"].values() for measure in shown]
    if all(value is None or value["low"] is not None for value in values):
        return ""
    why = "one run shows no spread" if summary["replications"] == 1 else "all runs are alike, or nothing was seen"
    return f" ({NO_INTERVAL} where {why})"


def _cause_cell(label: str, count: int) -> Callable[[Any], str]:
    def cell(item: Mapping[str, Any]) -> str:
        hours = mean_of(item["unserved_hours_by_cause"].get(label))
        seen = round(item["probability_by_cause"][label]["estimate"] * count)
        return f"{amount(hours)} h ({seen:,} of {count:,})" if hours or seen else "-"

    return cell


def _cost_cell(name: str) -> Callable[[Any], str]:
    return lambda item: number(mean_of(item["cost_by_item"][name])) if name in item["cost_by_item"] else "-"
