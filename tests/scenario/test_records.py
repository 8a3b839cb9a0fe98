"""Records that declare their keys: the table made of one, and one made of a file."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

import pytest
from scenario_texts import SMALL

from o2sim.errors import ScenarioError
from o2sim.scenario import loads
from o2sim.scenario.keys.fields import STRATEGY, TOP
from o2sim.scenario.keys.record import (
    Key,
    key,
    keys_of,
    of_file,
    permille,
    section_of,
    time_key,
    whole_key,
    worked_out,
)
from o2sim.scenario.types.hospital import Allocation, Battery, DayHours, Hospital, StoreAccess


@dataclass(frozen=True)
class Lamp:
    """A record with a key of every sort."""

    instead: ClassVar = (("candles", ("power",)),)
    candles: ClassVar[Key] = of_file(whole_key("in place of a lamp", None, 0, 9))
    power_w: float = key("power", "drawn", required=True)
    rest_s: int = time_key("off for so long", "2 min")
    longest_rest_s: int = time_key("the longest", like="rest")
    tariff: ClassVar[Key] = of_file(key("section", "what it costs"))
    day_permille: int = key("share", "by day", "50 %", name="day", within="tariff", turned=permille)
    heat: float = worked_out(default=0.0)


def test_the_table_of_a_record_has_its_keys_in_the_order_of_the_class():
    """A key is a field's name without its unit; those within a section stand in it, what is worked out nowhere."""
    table = section_of(Lamp)
    assert table.names == ("candles", "power", "rest", "longest_rest", "tariff")
    assert table.fields[4].section.names == ("day",)
    assert table.instead == Lamp.instead
    assert table.fields[3].otherwise == "rest"


def test_the_default_in_the_code_is_that_of_the_file():
    """A text is read once: 2 min are 120 s, and 50 % turned into thousandths 500; a needed key has none."""
    lamp = Lamp(60.0)
    assert (lamp.rest_s, lamp.day_permille, lamp.longest_rest_s) == (120, 500, None)
    with pytest.raises(TypeError, match="power_w"):
        Lamp()


@pytest.mark.parametrize(
    ("name", "record"),
    [("allocation", Allocation), ("day_hours", DayHours), ("store", StoreAccess)],
)
def test_a_section_that_says_nothing_is_what_is_left_out(name, record):
    """An empty section gives the record as the code makes it, as it is where the section is left out."""
    (said,) = loads(f"{SMALL}{name}: {{}}\n").hospitals.values()
    (left_out,) = loads(SMALL).hospitals.values()
    assert getattr(said, name) == record() == getattr(left_out, name)


def test_every_key_of_a_strategy_is_declared_by_a_hospital():
    """The table of what a strategy may change is that of the record Hospital, and part of the whole table."""
    declared = [each.field.name for each in keys_of(Hospital).values()]
    assert list(STRATEGY.names) == ["sources", *declared]
    assert set(declared) < set(TOP.names)


def test_a_key_takes_the_value_of_the_one_it_is_like():
    """Left out, the delay at night is that of the day; stated, it is its own."""
    text = f"{SMALL}power: {{generator: {{start_delay: 3 min}}}}\n"
    (same,) = loads(text).hospitals.values()
    (own,) = loads(text.replace("3 min", "3 min, night_delay: 4 min")).hospitals.values()
    assert same.power.generator.night_delay_s == 180
    assert own.power.generator.night_delay_s == 240


def test_what_a_section_holds_may_differ_from_what_the_code_leaves_out():
    """Efficiencies are 85 and 90 % where a battery is stated in a file, and whole where the code makes one."""
    (hospital,) = loads(f"{SMALL}power: {{battery: {{usable: 1 kWh, charge: 500 W}}}}\n").hospitals.values()
    assert hospital.power.battery == Battery(3_600_000, 500, 850, None, 900, 200)
    assert Battery(3_600_000, 500) == Battery(3_600_000, 500, 1_000, None, 1_000, 200)


@pytest.mark.parametrize(
    ("words", "expected"),
    [
        ("", ()),
        ("never", (("never", None),)),
        (("wait", "leave"), (("wait", "wait"), ("leave", "leave"))),
        ({"watched": 0, "no": False}, (("watched", 0), ("no", False))),
    ],
)
def test_words_stand_for_nothing_for_themselves_or_for_a_value(words, expected):
    """One word stands for None, several for themselves, pairs for what they name."""
    assert of_file(key("word", "some", words=words)).field.words == expected


def test_a_key_that_needs_another_is_refused_alone():
    """The other key is named, with the hint of the record."""
    text = SMALL + "power: {solar: {peak: 1 kW}}\nconcentrators: {count: 1, rated_flow: 5 L/min}\n"
    text = text.replace("cylinders only: {sources: [cylinder]}", "units only: {sources: [concentrator]}")
    with pytest.raises(ScenarioError) as refused:
        loads(text)
    (problem,) = refused.value.problems
    assert (problem.field, problem.found) == ("power.solar", "found solar without battery")
    assert problem.hint.startswith("panels work through the battery's inverter")
