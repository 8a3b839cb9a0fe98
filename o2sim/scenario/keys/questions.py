"""The twelve questions that a hospital is first asked, each with limits, a usual figure and a range with sources.

Who knows four of the figures gets an answer with those four: a question may be left open, and is then tried over
its range. Figures of the example hospital are invented and say so.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from o2sim.quantities.units import Kind
from o2sim.scenario.keys.field import COMMON, Field
from o2sim.scenario.keys.fields import along
from o2sim.scenario.keys.sources import CUTS_OF_FACILITIES, CUTS_OF_FIRMS, EXAMPLE
from o2sim.scenario.types.laws import LAW_FORMS

Page = Literal["Who comes", "Your cylinders", "Your supplier", "Concentrators and power"]
PAGES: tuple[Page, ...] = ("Who comes", "Your cylinders", "Your supplier", "Concentrators and power")
MONTHS = (
    "january", "february", "march", "april", "may", "june", "july", "august", "september", "october", "november",
    "december",
)  # fmt: skip
SPREAD_OF_CUTS = 2.5  # geometric standard deviation of the length of a power cut: assumed
_HALF_TO_DOUBLE = "about half and double the example: assumed"
_ASSUMED = "assumed"


@dataclass(frozen=True)
class Sourced:
    """A figure in the unit of its question, and where it comes from."""

    figure: float
    source: str


@dataclass(frozen=True)
class Question:
    """One question: words for the form, the keys it goes to, what may be typed and what is tried in its place.

    short: what it asks, within a sentence or a table. unit: the words behind the field; suffix: what makes of a
    figure a value of the file, such as " / month"; things: words typed behind a figure that say nothing.
    kind: of the quantity, None for a whole number. known_by: where the figure is found.
    """

    name: str
    short: str
    page: Page
    label: str
    hint: str
    keys: tuple[str, ...]
    unit: str
    suffix: str
    kind: Kind | None
    low: Sourced
    usual: Sourced
    high: Sourced
    least: float = 0.0
    most: float = 0.0  # 0: that of the key
    things: tuple[str, ...] = ()
    known_by: str = ""
    one: str = ""  # the unit behind a figure of 1, where that is another word

    @property
    def key(self) -> str:
        """Return the first of the keys."""
        return self.keys[0]

    @property
    def field(self) -> Field:
        """Return how the first key stands in the table of all keys."""
        found = [field for field in along(self.key.split(".")) if field is not None]
        return found[-1]

    @property
    def whole(self) -> bool:
        """Return whether only a whole number can be meant."""
        return self.kind is None

    def unit_after(self, figure: str) -> str:
        """Return the words behind a figure: cylinders, but 1 cylinder."""
        return self.one if self.one and figure == "1" else self.unit


def _admitted(who: str, hint: str, low: float, usual: float, high: float) -> Question:
    return Question(
        name=who,
        short=f"{who} admitted a month",
        page="Who comes",
        label=f"{who.capitalize()} admitted in a usual month",
        hint=hint,
        keys=(f"patients.{who}.admissions",),
        unit="a month",
        suffix=" / month",
        kind="rate",
        low=Sourced(low, _HALF_TO_DOUBLE),
        usual=Sourced(usual, EXAMPLE),
        high=Sourced(high, _HALF_TO_DOUBLE),
        things=("newborns", "children", "adults", "patients", "admissions"),
        known_by="admission register",
    )


QUESTIONS: tuple[Question, ...] = (
    _admitted("newborns", "All admissions, not only those on oxygen. From the ward register.", 20, 45, 90),
    _admitted("children", "One month to 14 years. All admissions, not only those on oxygen.", 90, 180, 360),
    _admitted("adults", "All admissions, not only those on oxygen.", 60, 120, 240),
    Question(
        "busiest", "how much busier the busiest month is", "Who comes",
        "How many times busier is the busiest month for children?",
        "Admissions in the busiest month divided by those in the quietest. 1 if all months are alike.",
        ("patients.children.season.ratio",), "times", "", "number",
        Sourced(1.2, _ASSUMED), Sourced(1.8, EXAMPLE), Sourced(3, _ASSUMED), things=("times", "x"),
        known_by="admission register, month by month",
    ),
    Question(
        "capacity", "the size of the cylinders", "Your cylinders", "Water capacity stamped on the cylinders",
        "On the shoulder, in litres. It is the volume of the shell, not the gas in it.",
        ("cylinders.water_capacity",), "litres", " L", "volume",
        Sourced(10, f"a small cylinder: {COMMON}"), Sourced(47, f"a large cylinder: {COMMON}"),
        Sourced(50, f"the largest in use: {COMMON}"), least=0.1, things=("litres", "litre", "liters", "liter"),
        known_by="stamp on the shoulder; supplier", one="litre",
    ),
    Question(
        "fleet", "the number of cylinders", "Your cylinders", "How many cylinders there are in all",
        "Full, in use, empty, and away to be filled.",
        ("cylinders.fleet",), "cylinders", "", None,
        Sourced(20, _HALF_TO_DOUBLE), Sourced(40, EXAMPLE), Sourced(80, _HALF_TO_DOUBLE), least=1,
        things=("cylinders", "cylinder"),
        known_by="stock card, and a count", one="cylinder",
    ),
    Question(
        "regulators", "the number of regulators", "Your cylinders", "Working regulators with a flowmeter",
        "Without one a full cylinder serves nobody.",
        ("cylinders.regulators",), "sets", "", None,
        Sourced(6, _HALF_TO_DOUBLE), Sourced(12, EXAMPLE), Sourced(24, _HALF_TO_DOUBLE),
        things=("sets", "set", "regulators", "regulator"),
        known_by="a round of store and wards", one="set",
    ),
    Question(
        "delivery", "days to delivery", "Your supplier", "Days from order to delivery",
        "Usually, on open roads. The order book and the delivery notes say.",
        ("resupply.lead_time.mean",), "days", " days", "duration",
        Sourced(2, _HALF_TO_DOUBLE), Sourced(4, EXAMPLE), Sourced(8, _HALF_TO_DOUBLE), least=1 / 24,
        things=("days", "day"),
        known_by="order book, delivery notes", one="day",
    ),
    Question(
        "reorder", "when you order", "Your supplier", "You order when this many full ones are left",
        "Full ones and those on order together.",
        ("resupply.reorder_point",), "full cylinders", "", None,
        Sourced(10, "a quarter of all: assumed"), Sourced(20, "half of all: assumed"),
        Sourced(30, "three quarters of all: assumed"), things=("cylinders", "cylinder", "full"),
        known_by="store keeper, stock card", one="full cylinder",
    ),
    Question(
        "units", "the number of concentrators", "Concentrators and power", "Concentrators that work today",
        "Leave out those that stand broken.",
        ("concentrators.count",), "concentrators", "", None,
        Sourced(2, _HALF_TO_DOUBLE), Sourced(4, EXAMPLE), Sourced(8, _HALF_TO_DOUBLE),
        things=("concentrators", "concentrator", "units", "unit"),
        known_by="a round of the wards; workshop: job cards", one="concentrator",
    ),
    Question(
        "cuts", "how often the power fails", "Concentrators and power", "Power cuts in a usual week",
        "0 if there are none. A list kept for a month is better than a guess.",
        ("power.grid.up.mean", "power.grid.down.median"), "a week", " / week", "rate",
        Sourced(2.4, CUTS_OF_FIRMS), Sourced(4.7, CUTS_OF_FACILITIES), Sourced(14, "two a day: assumed"), most=200,
        things=("cuts", "cut", "times"),
        known_by="a list of the cuts of a month",
    ),
    Question(
        "cut_length", "how long a power cut lasts", "Concentrators and power",
        "How long a power cut usually lasts",
        "The usual one: as many are shorter as longer.",
        ("power.grid.down.median", "power.grid.up.mean"), "hours", " h", "duration",
        Sourced(1, _ASSUMED), Sourced(2, CUTS_OF_FACILITIES), Sourced(6.7, CUTS_OF_FIRMS), least=1 / 60, most=720,
        things=("hours", "hour"),
        known_by="a list of the cuts of a month", one="hour",
    ),
)  # fmt: skip
BY_NAME = {question.name: question for question in QUESTIONS}
MONTH_KEY = "patients.children.season.peak"
MONTH_LABEL = "Which month is that?"
USUAL_MONTH = "july"  # of the example hospital, invented


KNOWN_BY = {  # who knows a figure that no question asks for, by the beginning of its key
    "patients": "register, oxygen charts",
    "cylinders": "stock card, supplier",
    "resupply": "order book, delivery notes",
    "concentrators": "workshop: job cards",
    "power": "a list of the cuts of a month",
    "costs": "bills and offers",
}
KNOWN_ELSE = "whoever does it each day"


def on_page(page: Page) -> tuple[Question, ...]:
    """Return the questions of a page, in order."""
    return tuple(question for question in QUESTIONS if question.page == page)


def asked_at(path: str) -> Question | None:
    """Return the question that a value of a file answers, by its dotted path with or without names of laws."""
    plain = ".".join(part for part in path.split(".") if part not in LAW_FORMS)
    return next((question for question in QUESTIONS if question.key == plain), None)


def asked_as(key: str) -> Question | None:
    """Return the question that a value or a law of a key answers: lead times as days, not a law's parameter.

    The time between two power cuts is not the number of cuts a week, and answers none.
    """
    parameters = {name for forms in LAW_FORMS.values() for form in forms for name in form}
    named = {question.key.removesuffix(f".{question.key.rpartition('.')[2]}"): question for question in QUESTIONS
             if question.key.rpartition(".")[2] in parameters and question.name != "cuts"}  # fmt: skip
    return asked_at(key) or named.get(key)


def known_by(path: str) -> str:
    """Return who knows a value of a file, by its dotted path, or where it is written down."""
    question = asked_at(path)
    if question is not None:
        return question.known_by
    parts = path.split(".")
    section = parts[2] if parts[0] == "strategies" and len(parts) > 2 else parts[0]
    return KNOWN_BY.get(section, KNOWN_ELSE)
