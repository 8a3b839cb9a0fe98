"""Say what a study of facilities found: blocks for terminal and notebook, rows for a CSV."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from itertools import chain, pairwise
from typing import Any

from o2sim.errors import Problem
from o2sim.looks import both_doubts, cautions, doubt, unbought
from o2sim.looks.blocks import Block, Lines, Points, Row, Table, by_strategy, mean_of
from o2sim.looks.frames import ended, numbers
from o2sim.looks.screen import Screen
from o2sim.looks.words import Summary, number, percent_range, spread
from o2sim.money.unbought import Unbought

MOST_SHOWN = 15  # facilities on the screen; all are in --csv and --json
BANDS = ((0.0, "none seen"), (0.05, "up to 5 %"), (0.2, "5 to 20 %"), (0.5, "20 to 50 %"), (1.0, "over 50 %"))
CHANCES = ("stock_out_probability", "interruption_probability")
MEANS = ("stock_outs_per_year", "unserved_patient_hours", "unserved_supply_patient_hours", "annual_cost")
CSV_COLUMNS = (
    "facility",
    "place",
    "scenario_hash",
    "strategy",
    "replications",
    "horizon_days",
    *chain.from_iterable(map(ended, (*CHANCES, *MEANS))),
    "currency",
)


def print_facilities(result: Summary) -> None:
    """Print the facilities by band of chance, the totals, the facilities worst off, and the provenance."""
    screen = Screen()
    if not result["facilities"]:
        screen.paragraph("No facility was finished; nothing to report.")
        return
    screen.show([*content(result), Lines((cautions.NOT_COMPARED, *cautions.SHORT)), provenance(result)])


def content(result: Summary, left_out: Sequence[Problem] = ()) -> list[Block]:
    """Return what is to be said of a study, as blocks; left_out: what was wrong with facilities not run."""
    found = result["facilities"]
    return [
        f"{len(found):,} of {result['facilities_requested']:,} facilities, {result['replications']:,} "
        "replications each; all strategies of a facility meet the same patients, power cuts and roads.",
        *_over_draws(result),
        *([Points(tuple(map(str, left_out[:20])), "Left out:")] if left_out else []),
        *band_tables(found),
        *total_tables(found),
        facility_table(found, result),
    ]


def _over_draws(result: Summary) -> list[str]:
    """Return which rows of joint draws every facility met; nothing without draws."""
    drawn = result.get("draws")
    return [] if drawn is None else [" ".join(both_doubts.rows_met(drawn, result["replications"]))]


def provenance(result: Summary) -> str:
    """Return the line that says how to get the same result again."""
    return (
        f"o2sim {result['version']} | {result['facilities_requested']:,} facilities {result['facilities_hash']} | "
        f"seed {result['seed']} | {result['replications']:,} replications"
        f"{both_doubts.done(result.get('draws'))} | engine {result['engine']}"
    )


def band_tables(found: Sequence[Summary]) -> list[Table]:
    """Return how many facilities lie in each band of the chance of a supply shortfall, strategies as columns."""
    rows: list[Row] = [
        (label, _counter(below, top)) for (below, _), (top, label) in pairwise([(-1.0, ""), *BANDS])
    ]
    return by_strategy("Facilities by chance of a supply shortfall", _items(found), rows)


def total_tables(found: Sequence[Summary]) -> list[Table]:
    """Return what all facilities come to together in a year, strategies as columns; money in one currency only."""
    rows: list[Row] = [
        ("Facilities", lambda items: f"{len(items):,}"),
        ("Unserved patient-hours", _total("unserved_patient_hours")),
        ("  for lack of supply", _total("unserved_supply_patient_hours")),
        ("Supply shortfalls", _total("stock_outs_per_year")),
    ]
    currencies = {item["currency"] for item in found}
    if len(currencies) == 1 and None not in currencies:
        rows.append((f"Cost, {currencies.pop()}", _total("annual_cost")))
    note = unbought.note_of_points(found)
    if note:
        rows.append((unbought.ROWS["not_bought"], lambda items: unbought.cell(_sum(items))))
        rows.append((unbought.ROWS["broken_hours"], lambda items: unbought.broken(_sum(items))))
    return by_strategy("All facilities together, in 365 days", _items(found), rows, note.strip())


def facility_table(found: Sequence[Summary], result: Summary | None = None) -> Table:
    """Return one row a facility and strategy; of many facilities those left worst off by their best strategy.

    result: the study, of which the intervals are said to hold what they hold.
    """

    def fewest_hours(item: Summary) -> float:
        return min(mean_of(each["unserved_patient_hours"]) for each in item["strategies"].values())

    shown = list(found)
    note = f"Hours and money are for 365 days; {doubt.brackets('95 %', result)}.{unbought.note_of_points(shown)}"
    if len(shown) > MOST_SHOWN:
        shown = sorted(shown, key=lambda item: (-fewest_hours(item), item["facility"]))[:MOST_SHOWN]
        note = (
            f"The {MOST_SHOWN} facilities in which even the best strategy leaves most patient-hours unserved; all "
            f"{len(found):,} are in --csv and --json. {note}"
        )
    rows: list[tuple[str, ...]] = []
    for item in shown:
        rows.append((item["facility"], "", "", f"({item['currency']})" if item["currency"] else ""))
        rows += [
            (
                f"  {name}",
                percent_range(figures["stock_out_probability"]),
                spread(figures["unserved_patient_hours"]),
                spread(figures["annual_cost"]) + unbought.below(unbought.of_json(figures)),
            )
            for name, figures in item["strategies"].items()
        ]
    columns = ("Facility", "chance of a supply shortfall", "unserved patient-hours", "cost")
    return Table(columns, tuple(rows), note)


def csv_columns(result: Summary) -> tuple[str, ...]:
    """Return the columns of the table: those of every study, and where money is counted what was not bought."""
    return (*CSV_COLUMNS, *_beside_cost(result))


def _beside_cost(result: Summary) -> dict[str, str]:
    every = (figures for item in result["facilities"] for figures in item["strategies"].values())
    return unbought.columns(map(unbought.of_json, every))


def csv_rows(result: Summary) -> Iterator[tuple[str | int | float, ...]]:
    """Yield one row a facility and strategy, columns as in csv_columns; empty where there is no number."""
    parts = _beside_cost(result).values()
    for item in result["facilities"]:
        for name, figures in item["strategies"].items():
            cells = [item["facility"], item["place"], item["scenario_hash"], name, figures["replications"]]
            measured = chain.from_iterable(numbers(figures[measure]) for measure in (*CHANCES, *MEANS))
            lacking = unbought.of_json(figures)
            beside = (getattr(lacking, part, None) for part in parts)
            cells += [item["horizon_days"], *measured, item["currency"], *beside]
            yield tuple("" if cell is None else cell for cell in cells)


def problem_lines(problems: Sequence[Problem], bad: int, most: int = 20) -> list[str]:
    """Return what to say of facilities that are left out."""
    lines = [f"{bad} facilit{'y is' if bad == 1 else 'ies are'} left out:"]
    lines += [f"  {problem}" for problem in problems[:most]]
    return lines + ([f"  and {len(problems) - most} more problems"] if len(problems) > most else [])


def _items(found: Sequence[Summary]) -> dict[str, list[Summary]]:
    """Return the figures of all facilities by strategy, in the order in which strategies are first met."""
    items: dict[str, list[Summary]] = {}
    for facility in found:
        for name, figures in facility["strategies"].items():
            items.setdefault(name, []).append(figures)
    return items


def _counter(below: float, top: float) -> Callable[[Any], str]:
    return lambda items: f"{sum(below < item['stock_out_probability']['estimate'] <= top for item in items):,}"


def _sum(items: Sequence[Summary]) -> Unbought:
    """Return what was not bought in all facilities together."""
    found = [each for item in items if (each := unbought.of_json(item)) is not None]

    def total(part: str) -> float | None:
        known = [value for each in found if (value := getattr(each, part)) is not None]
        return sum(known) if known else None

    return Unbought(total("needed"), total("not_bought"), total("broken_hours"))


def _total(measure: str) -> Callable[[Any], str]:
    return lambda items: number(sum(mean_of(item[measure]) for item in items))
