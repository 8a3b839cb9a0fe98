"""What one key of a scenario file is: its kind, limits, default and help; the tables of keys are made of these."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Literal

from o2sim.quantities import units

DAY_S = 86_400
YEAR_DAYS = 365  # a "year" in rates, lives and units; the season alone turns in 365.25 days
MOST = {  # of a kind of key, where it says no other: times keep a run finite, the rest is beyond any hospital
    "duration": "100 years", "law of duration": "100 years", "flow": "200 L/min", "law of flow": "200 L/min",
    "pressure": "40 MPa", "law of share": "100 %",
}  # fmt: skip
HIGHEST_COUNT = 100_000  # of cylinders, regulator sets, humidifiers
COMMON = "common practice"
CONVENTION = "convention of o2sim"
ASSUMED = "assumption of o2sim"

MONEY_PER: dict[str, units.Per] = {
    "money": "",
    "money a year": "year",
    "money a kWh": "kWh",
    "money a litre": "L",
}
FieldKind = Literal[
    "duration", "flow", "pressure", "volume", "temperature", "power", "share", "rate", "number",
    "energy", "length",  # these and those above: units.Kind
    "whole", "true or false", "date", "month or date", "text", "currency", "numbers", "sources",
    "law of duration", "law of flow", "law of share", "law of number",
    "money", "money a year", "money a kWh", "money a litre",
    "fuel rate", "weekdays", "months", "names", "purchases", "register", "choices", "time zone", "columns",
    "section", "named sections", "list of sections", "word", "clock", "clock times",
    "date and time", "date or time", "list of pressures", "list of durations",
]  # fmt: skip


@dataclass(frozen=True)
class Section:
    """A mapping of known keys. `instead`: keys that replace others when a strategy states them."""

    fields: tuple[Field, ...]
    instead: tuple[tuple[str, tuple[str, ...]], ...] = ()

    @cached_property
    def names(self) -> tuple[str, ...]:
        """Return the names of the keys."""
        return tuple(field.name for field in self.fields)

    def field(self, name: str) -> Field | None:
        """Return the key of this name, None for an unknown one."""
        return self._by_name.get(name)

    @cached_property
    def _by_name(self) -> dict[str, Field]:
        return {field.name: field for field in reversed(self.fields)}


@dataclass(frozen=True)
class Field:
    """One key. default is what the file would say (None: nothing stands for it unless `otherwise` says so).

    mark says where the default comes from; otherwise describes a default that follows from other keys. least and
    most are limits as one would write them. words are texts with a meaning of their own and what they stand for.
    """

    name: str
    kind: FieldKind
    help: str
    default: str | None = None
    mark: str = ""
    required: bool = False
    otherwise: str = ""
    least: str = ""
    most: str = ""
    words: tuple[tuple[str, object], ...] = ()
    section: Section | None = None
    summed: bool = False  # not needed where wards say it
    recorded: bool = False  # not needed where there is a register of admissions
    used_by: tuple[str, ...] = ()  # the sources that have a use for a section; empty for all
