"""What the demo hospitals use, pay and own, beside what was published; the inputs were fixed before this was run.

Nothing here is tuned: a figure lies within three times or a third of what was published, or the head of its file
says that it does not, and why. `pytest -s` shows the table.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

from o2sim.draws import Draws
from o2sim.model.run import simulate
from o2sim.money.cost import annual_cost
from o2sim.outcome import Outcome
from o2sim.scenario import load
from o2sim.scenario.types.hospital import DAY_S, YEAR_DAYS, Hospital, Scenario
from o2sim.statistics.intervals import wilson

SHIPPED = {path.stem: path for path in sorted((Path(__file__).parents[2] / "scenarios").glob("*.yaml"))}
RUNS = 8
GAS_PER_LITRE = 60_000
WIDE = 3.0
A_YEAR_OF_30_BEDS = 1_700_000  # litres: Howie and others, J Glob Health 2020;10(2):020425, abstract
LARGE = 6_800  # litres in a large cylinder (UK size J, from memory)
WORKING = wilson(41, 61)  # 28 of 36 and 13 of 25: La Vincente and others 2011, abstract


@dataclass(frozen=True)
class Column:
    """A figure of a hospital, what was published, and how far it may lie from that before its file says why."""

    head: str
    low: float
    high: float
    published: str
    value: Callable[[Runs], float | None]


@dataclass(frozen=True)
class Runs:
    """A few replications of the strategies that the table needs; beds as its file states them."""

    text: str
    scenario: Scenario
    outcomes: dict[str, tuple[Outcome, ...]]

    @property
    def beds(self) -> int | None:
        """Return the beds and cots of `about`."""
        found = re.findall(r"(\d+) (?:beds|cots)", self.scenario.about)
        return sum(map(int, found)) or None

    @property
    def head(self) -> str:
        """Return the comment before the name, as one line."""
        return " ".join(self.text.split("\nname:")[0].replace("\n# ", " ").split())

    def only(self, source: str) -> str | None:
        """Return the strategy that has this source alone, that of the day where there are several."""
        named = [each for each, rules in self.scenario.hospitals.items() if rules.strategy.sources == (source,)]
        return next((each for each in named if each in ("as it is", "in the field")), next(iter(named), None))


def mean(runs: Runs, strategy: str, of: Callable[[Hospital, Outcome], float]) -> float:
    """Return the mean over replications."""
    rules = runs.scenario.hospitals[strategy]
    return sum(of(rules, each) for each in runs.outcomes[strategy]) / len(runs.outcomes[strategy])


def first(runs: Runs) -> str:
    """Return a strategy for what all have in common: as it is, else the first."""
    return next((each for each in ("as it is", "as recorded") if each in runs.outcomes), next(iter(runs.outcomes)))


def litres_a_day(runs: Runs) -> float:
    """Return the litres that patients need a day, given or not."""
    return mean(runs, first(runs), lambda _, each: each.needed_gas / GAS_PER_LITRE / (each.horizon_s / DAY_S))


def litres_a_bed_day(runs: Runs) -> float | None:
    """Return the litres that patients need a day for each bed; None where the file states no beds."""
    return litres_a_day(runs) / runs.beds if runs.beds else None


def litres_a_patient(runs: Runs) -> float:
    """Return the litres that a patient on oxygen needs."""
    days = mean(runs, first(runs), lambda _, each: each.horizon_s / DAY_S)
    return litres_a_day(runs) * days / mean(runs, first(runs), lambda _, each: each.arrivals)


def per_1000_litres(source: str) -> Callable[[Runs], float | None]:
    """Return the money for 1,000 L given by a source that is alone; None without prices or such a strategy."""

    def found(runs: Runs) -> float | None:
        name = runs.only(source)
        if name is None or runs.scenario.hospitals[name].costs is None:
            return None
        money = mean(runs, name, lambda rules, each: sum(annual_cost(rules, each).values()))
        given = mean(
            runs, name, lambda _, each: (each.cylinder_gas + each.concentrator_gas) / each.horizon_s * YEAR_DAYS
        )
        return money / (given * DAY_S / GAS_PER_LITRE / 1_000)

    return found


def share_working(runs: Runs) -> float | None:
    """Return the share of units that are not failed, over time; with concentrators alone if it can be."""
    names = [name for name, rules in runs.scenario.hospitals.items() if rules.concentrators is not None]
    if not names:
        return None
    name = runs.only("concentrator") or names[0]

    def out(_: Hospital, each: Outcome) -> float:
        return sum(units * seconds for units, seconds in enumerate(each.at_once.units_out)) / each.horizon_s

    return 1 - mean(runs, name, out) / runs.scenario.hospitals[name].concentrators.count


def refills_a_bed_year(runs: Runs) -> float | None:
    """Return the large cylinders that the need of a bed takes in a year."""
    each = litres_a_bed_day(runs)
    return None if each is None or not fleet(runs) else each * YEAR_DAYS / LARGE


def fleet(runs: Runs) -> int:
    """Return the cylinders of the first strategy that has any; 0 where none has."""
    fleets = [rules.cylinders.fleet for rules in runs.scenario.hospitals.values() if rules.cylinders]
    return fleets[0] if fleets else 0


OF_30_BEDS = A_YEAR_OF_30_BEDS / 30 / YEAR_DAYS
COLUMNS = (
    Column(
        "L a bed-day",
        OF_30_BEDS / WIDE,
        OF_30_BEDS * WIDE,
        "155 (1.7 million L a year, 30 beds)",
        litres_a_bed_day,
    ),
    Column(
        "L a patient", 3_500 / WIDE, 3_500 * WIDE, "3,500 (newborns and children, 12 hospitals)", litres_a_patient
    ),
    Column("L a day", 4_658 / WIDE, 38_000 * WIDE, "4,660; 17,000 district; 38,000 provincial", litres_a_day),
    Column("USD, cylinders", 32 / WIDE, 68 * WIDE, "32 and 68", per_1000_litres("cylinder")),
    Column(
        "USD, concentrators",
        12 / WIDE,
        15 * WIDE,
        "12 mains and battery, 15 solar",
        per_1000_litres("concentrator"),
    ),
    Column("units working", WORKING.low, WORKING.high, "28 of 36, 13 of 25: 0.67", share_working),
    Column(
        "refills a bed-year",
        OF_30_BEDS * YEAR_DAYS / LARGE / WIDE,
        OF_30_BEDS * YEAR_DAYS / LARGE * WIDE,
        "8.3 (1.7 million L a year, 30 beds)",
        refills_a_bed_year,
    ),
)
SOURCES = """\
L a bed-day, a day, USD for 1,000 L: Howie and others, J Glob Health 2020;10(2):020425
L a day: also Oxygen supplies for hospitals in Papua New Guinea, P N G Med J 2010;53:126-38
L a patient: Graham and others, EClinicalMedicine 2019;16:51-63
units working: La Vincente and others, Int J Tuberc Lung Dis 2011;15:693-9
All were read in their abstracts. No published figure was found of the cylinders that a hospital owns (fleet).
"""


@pytest.fixture(scope="module")
def hospitals() -> dict[str, Runs]:
    """Every shipped hospital, with replications of the strategies that the columns ask for."""
    found = {}
    for name, path in SHIPPED.items():
        runs = Runs(path.read_text(encoding="utf-8"), load(path), {})
        names = [runs.only("cylinder"), runs.only("concentrator"), *runs.scenario.strategies[:1]]
        names += [each for each in ("as it is", "as recorded", "mixed") if each in runs.scenario.strategies]
        units = [each for each, rules in runs.scenario.hospitals.items() if rules.concentrators is not None]
        for strategy in dict.fromkeys(each for each in [*names, *units[:1]] if each):
            runs.outcomes[strategy] = tuple(simulate(runs.scenario, strategy, Draws(1, k)) for k in range(RUNS))
        found[name] = runs
    return found


@pytest.fixture(scope="module")
def rows(hospitals) -> dict[str, dict[str, float | None]]:
    """The table: hospital, column, figure."""
    return {name: {column.head: column.value(runs) for column in COLUMNS} for name, runs in hospitals.items()}


def shown(value: float | None) -> str:
    """Return a figure as it stands in the table."""
    return (
        "-"
        if value is None
        else f"{value:,.2f}"
        if value < 1
        else f"{value:,.1f}"
        if value < 100
        else f"{value:,.0f}"
    )


def table(rows: dict[str, dict[str, float | None]], hospitals: dict[str, Runs]) -> Iterator[str]:
    """Yield the lines of the table, what was published first."""
    heads = ["", *(column.head for column in COLUMNS), "fleet"]
    yield "".join(head.rjust(20) for head in heads)
    for name, row in rows.items():
        yield "".join(
            each.rjust(20) for each in (name[:20], *map(shown, row.values()), str(fleet(hospitals[name])))
        )
    yield from (f"published, {column.head}: {column.published}" for column in COLUMNS)
    yield SOURCES


def test_the_table_is_complete(rows, hospitals):
    """All shipped hospitals are in it, each with litres, and money, units and beds where it states them."""
    print("\n" + "\n".join(table(rows, hospitals)))
    assert list(rows) == list(SHIPPED)
    for name, row in rows.items():
        runs = hospitals[name]
        assert row["L a patient"] is not None
        assert row["L a day"] is not None
        assert (row["L a bed-day"] is None) == (runs.beds is None) == (name == "field_demand")
        assert (row["units working"] is None) == ("\nconcentrators:" not in runs.text)
        priced, alone = "\ncosts:" in runs.text, runs.only("cylinder") is not None
        assert (row["USD, cylinders"] is None) == (not (priced and alone))


@pytest.mark.parametrize("name", SHIPPED)
def test_a_figure_is_within_its_range_or_its_file_says_why_not(name, rows, hospitals):
    """What the head of a file calls outside what was published is outside, and nothing else is."""
    outside = {
        column.head
        for column in COLUMNS
        if (value := rows[name][column.head]) is not None and not column.low <= value <= column.high
    }
    said = re.findall(r"Outside what was published, ([^:]+): ([^.]+\.)", hospitals[name].head)
    assert {head for head, _ in said} == outside
    assert all(len(why.split()) > 3 for _, why in said)


def test_every_unit_can_fail_and_every_adult_is_weaned(hospitals):
    """No hospital has units or generators without failures; adults' flows are turned down."""
    for name, runs in hospitals.items():
        for rules in runs.scenario.hospitals.values():
            assert rules.concentrators is None or rules.concentrators.failure_s is not None, name
            generator = rules.power.generator if rules.power else None
            if generator is not None:
                assert generator.running_failure_s is not None, name
                assert generator.start_chance < 1, name
                load_w = rules.concentrators.count * rules.concentrators.power_w + generator.base_load_w
                assert 0.3 <= load_w / generator.power_w <= 1, name
            assert all(kind.flow_steps for kind in rules.patients if re.match("adults|all|mothers", kind.name)), (
                name
            )
