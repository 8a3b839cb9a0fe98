"""The lines of the list of equipment that no other section counts: their rules, prices and lives, in one table.

How many there are to be follows from a rule in words here and in numbers in o2sim/money/listed.py; a scenario may
state the number instead. No price is invented: where nothing was published the line says that the price is asked.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from o2sim.scenario.keys.field import ASSUMED, COMMON, Field, Section
from o2sim.scenario.keys.record import section_of
from o2sim.scenario.types.owned import Counted

Group = Literal["beside", "units", "place", "back-up", "year"]
PUBLISHED_IN = "USD"  # the currency of all published prices below
ASKED = "price asked"


@dataclass(frozen=True)
class Kind:
    """A line of the list: its key, what it is called, how many in words, and what is known of life and price.

    life: years it lasts; empty for what is used up, which is counted and paid each year. published: the price of
    one in PUBLISHED_IN, found in SOLAR_STUDY (keys/sources.py); None where none was found.
    """

    key: str
    label: str
    rule: str
    basis: str
    group: Group
    life: str = ""
    published: float | None = None

    @property
    def item(self) -> str:
        """Return the line as an item of the costs, as these are written."""
        return self.label[0].lower() + self.label[1:]

    @property
    def yearly(self) -> bool:
        """Return True for what is used up and bought each year."""
        return not self.life


KINDS: tuple[Kind, ...] = (
    Kind(
        "spanner", "Spanners or cylinder keys",
        "one for each regulator",
        COMMON, "beside", "10 years",
    ),
    Kind(
        "stand", "Cylinder stands or chains",
        "one for each cylinder that can be in use: a regulator each",
        COMMON, "beside", "10 years",
    ),
    Kind(
        "trolley", "Cylinder trolleys",
        "one for each ward",
        COMMON, "beside", "10 years",
    ),
    Kind(
        "washer", "Sealing washers",
        "four a year for each regulator",
        ASSUMED, "year",
    ),
    Kind(
        "leak_fluid", "Leak-test fluid, bottles",
        "one a year for each ward; no soap with grease or oil",
        ASSUMED, "year",
    ),
    Kind(
        "humidifier", "Humidifiers with bottle",
        "one for each patient who needs one at once, on the busiest day for 99 % of the time, where their "
        "number is not limited",
        COMMON, "beside", "3 years",
    ),
    Kind(
        "spare_humidifier", "Spare humidifier bottles",
        "one for each humidifier: one is in use while the other is cleaned",
        COMMON, "beside", "3 years",
    ),
    Kind(
        "oximeter", "Pulse oximeters",
        "one for 4 patients at once on the busiest day, for spot checks, and a spare",
        ASSUMED, "beside", "3 years", 250,
    ),
    Kind(
        "probe", "Oximeter probes",
        "two a year for each oximeter, by size of patients",
        ASSUMED, "year",
    ),
    Kind(
        "oximeter_battery", "Oximeter batteries, sets",
        "one a year for each oximeter",
        ASSUMED, "year",
    ),
    Kind(
        "tubing", "Oxygen tubing, lengths",
        "one a year for each point of use: a regulator or an outlet",
        ASSUMED, "year",
    ),
    Kind(
        "stabiliser", "Voltage stabilisers",
        "one for each unit",
        COMMON, "units", "10 years",
    ),
    Kind(
        "splitter", "Flow splitters",
        "one for each unit, with a flowmeter at each outlet",
        COMMON, "units", "5 years", 550,
    ),
    Kind(
        "gross_filter", "Gross particle filters",
        "two a year for each unit: one on while the other dries after its weekly wash",
        COMMON, "year",
    ),
    Kind(
        "internal_filter", "Internal filters",
        "one for each unit every 6 months, the short end of 6 to 12",
        COMMON, "year", "", 12.5,
    ),
    Kind(
        "analyser", "Oxygen analyser",
        "one for the facility, to check what units give at their total flow",
        COMMON, "units", "10 years", 385,
    ),
    Kind(
        "sieve_beds", "Sieve beds, sets in stock",
        "one for each five units to begin with; what is used later is in the price of a repair",
        ASSUMED, "units", "7 years", 185,
    ),
    Kind(
        "compressor_kit", "Compressor kits in stock",
        "one for each five units to begin with; what is used later is in the price of a repair",
        ASSUMED, "units", "7 years", 180,
    ),
    Kind(
        "circuit_board", "Circuit boards in stock",
        "one for each five units to begin with; what is used later is in the price of a repair",
        ASSUMED, "units", "7 years", 170,
    ),
    Kind(
        "sign", "Signs: oxygen, no smoking",
        "one for each ward and one for the store",
        COMMON, "place", "5 years",
    ),
    Kind(
        "extinguisher", "Fire extinguishers",
        "one for each ward and one for the store; the local fire code decides",
        COMMON, "place", "5 years",
    ),
    Kind(
        "bag_and_mask", "Bags with masks",
        "one for each ward and size of its patients: newborn, child, adult",
        COMMON, "place", "5 years",
    ),
    Kind(
        "suction", "Suction pumps",
        "one for each ward",
        COMMON, "place", "7 years",
    ),
    Kind(
        "back_up_cylinder", "Back-up cylinders, full",
        "one for each point of use, that is every outlet of every unit",
        COMMON, "back-up", "20 years",
    ),
    Kind(
        "back_up_regulator", "Back-up regulators",
        "one for each point of use, that is every outlet of every unit",
        COMMON, "back-up", "7 years",
    ),
    Kind(
        "back_up_flowmeter", "Flowmeters, on back-up regulators",
        "one for each back-up regulator, of a kind that fits",
        COMMON, "back-up", "7 years",
    ),
    Kind(
        "back_up_spanner", "Keys or spanners, for back-up cylinders",
        "one for each back-up regulator, of a kind that fits",
        COMMON, "back-up", "10 years",
    ),
)  # fmt: skip
BY_KEY: Mapping[str, Kind] = {kind.key: kind for kind in KINDS}


@dataclass(frozen=True)
class Stated:
    """How many of a line of the list there are to be, where the scenario says so itself."""

    key: str
    count: int


def _counted(kind: Kind) -> Field:
    """Return the key of what a scenario says of a line: of what is used up only how many a year."""
    record = section_of(Counted)
    section = Section((record.fields[0],)) if kind.yearly else record
    help_ = f"{kind.label}: {kind.rule} ({kind.basis})"
    return Field(kind.key, "section", help_, section=section, otherwise="by that rule, none owned")


COUNTS = Section(tuple(map(_counted, KINDS)))
