"""The text that a fit writes over a base: comments, what stays letter by letter, classes, levels, draws."""

from __future__ import annotations

import re
from dataclasses import replace
from functools import cache
from pathlib import PurePath

import numpy as np
import pytest
from scenario_texts import SMALL
from toy_parts import DRAWS, admissions, all_parts, cuts, fleet, lead_time, season, spread, stays

import o2sim
from o2sim.fits.found import THOUGHT, TOTALS, Number, Part, Whole
from o2sim.questions.fit import writing
from o2sim.questions.fit.base import OWN, like_of, own_base
from o2sim.questions.fit.fitting import Base, base_of, fitted, own
from o2sim.questions.fit.head import grouped
from o2sim.records.books import CLASSES, Records
from o2sim.records.findings import Finding
from o2sim.scenario import warnings
from o2sim.scenario.changing.joint import joint_draws
from o2sim.statistics.fitting.pert import pert_quantile

RECORDS = Records(PurePath("books.xlsx"), "0123456789abcdef")
STORE = SMALL.replace(
    "  lead_time: 1 day\n", "  reorder_point: 3\n  lead_time: {gamma: {mean: 4 days, sd: 2 days}}\n"
)


@cache
def whole():
    """Return the fit of all toy parts over o2sim's own base."""
    return fitted(all_parts(), RECORDS, own(RECORDS), 1)


def over(text, parts, records=RECORDS):
    """Return the fit of parts over the text of a base."""
    scenario = o2sim.loads(text, "base.yaml")
    return fitted(parts, records, base_of(scenario), 1)


def line_of(text, key):
    """Return the only line of a text that begins with a key, or the first."""
    return next(line for line in text.splitlines() if line.strip().startswith(f"{key}:"))


def test_what_was_written_loads_and_says_the_same():
    """The text alone is the scenario, with three strategies; only what the base was doubted for is doubted."""
    found = whole()
    again = o2sim.loads(found.text)
    assert (again.hash, again.strategies) == (
        found.scenario.hash, ("cylinders only", "concentrators only", "mixed"),
    )  # fmt: skip
    assert {each.field for each in warnings(again)} <= {"patients"}


def test_each_value_says_its_book():
    """Beside each fitted key stands the book and what of it counted, and what the base said before."""
    text = whole().text
    assert line_of(text, "fleet").endswith("# records, Stock card: the newest line; before: 20 to 80, not known")
    assert line_of(text, "lead_time").split("   # ")[0].strip() == (
        "lead_time: {gamma: {mean: {low: 2.92 days, likely: 5 days, high: 7.08 days}, sd: 2 days}}"
    )
    assert "# records, Orders: 32 orders; sd as in the base; before: " in line_of(text, "lead_time")
    children = text[text.index("  children:") :]
    assert "lognormal (Akaike 4.1 before gamma), 90 % range; before: " in line_of(children, "duration")
    assert line_of(children, "peak") == (
        "      peak: july   # records, Month totals: 12 months; before: july, example hospital, invented"
    )


def test_the_rest_of_a_base_stays_letter_by_letter():
    """But for the head and the lines of fitted keys, no letter of the base is another one."""
    found = whole()
    base = own_base(RECORDS).splitlines()
    mine = [line for line in found.text.splitlines() if not line.startswith("# ")]
    fitted_lines = {
        place for place, line in enumerate(mine) if "# records, " in line or "not in the records" in line
    }
    assert len(mine) == len(base)
    assert len(fitted_lines) == 11  # nine keys, the season on two lines, the level that follows the fleet
    assert [line for place, line in enumerate(mine) if place not in fitted_lines] == [
        line for place, line in enumerate(base) if place not in fitted_lines
    ]


def test_the_ends_written_give_the_points_of_the_draws():
    """The PERT law of each range has its 5 and 95 % points where the draws have theirs, within 1 % of it."""
    uncertain = {each.path: each for each in whole().scenario.uncertain}
    for value in whole().values:
        for number in value.numbers:
            key = ".".join(number.path)
            if key not in uncertain:
                assert len(set(number.cells)) == 1
                continue
            wanted = np.quantile(number.draws, [0.05, 0.95])
            low, high = pert_quantile(*uncertain[key].numbers, [0.05, 0.95])
            assert np.abs(np.array([low, high]) - wanted).max() < 0.01 * (wanted[1] - wanted[0])


def test_the_draws_are_read_back_over_the_scenario():
    """Each row is one draw of all that varies, laws whole; what is fixed is in none."""
    found = whole()
    joint = joint_draws(found.draws, found.scenario)
    assert (joint.rows, len(found.draws.columns)) == (DRAWS, 7)
    first = joint.scenarios[0].hospitals["mixed"]
    (children,) = [each for each in first.patients if each.name == "children"]
    assert (children.duration_s.kind, joint.scenarios[1].hospitals["mixed"].patients[1].duration_s.kind) == (
        "weibull", "lognormal",
    )  # fmt: skip
    assert children.admissions_per_day == pytest.approx(spread(2.0, 0.2, 2)[0], rel=1e-4)
    assert first.cylinders.fleet == 37


def test_what_no_record_gave_is_listed_with_the_rule_first():
    """Every key of the base but those given and those of the question itself, in the result and above the text."""
    found = whole()
    keys = [key for key, _ in found.not_given]
    assert keys[:2] == ["resupply.reorder_point", "resupply.order_up_to"]
    assert {"patients.adults.flow", "power.grid.up"} & set(keys) == {"patients.adults.flow"}
    head = " ".join(line.lstrip("# ") for line in found.text.splitlines() if line.startswith("# "))
    assert "- no record of this class: patients.newborns (all), patients.adults (all)" in head
    assert "concentrators.never_repaired" in head
    assert (
        "patients.adults",
        "admissions, hypoxaemic, recognised, flow, duration",
        "no record of this class",
    ) in (grouped(found.not_given))
    assert [each.split(":")[0] for each in found.cautions[:2]] == [
        "The reorder rule is in no book",
        "No record is of the classes “newborns” and “adults”",
    ]


def test_levels_follow_a_fleet_that_they_do_not_go_with():
    """A base's reorder point above the fitted fleet becomes its share of it and is said; one that fits stays."""
    small = over(STORE, (fleet(2.0),))
    store = small.scenario.hospitals["cylinders only"]
    assert (store.cylinders.fleet, store.resupply.reorder_point) == (2, 1)  # 3 of 4 were the base's: of 2, 1.5
    assert "resupply.reorder_point: written as the base's share" in " ".join(small.cautions)
    large = over(STORE, (fleet(9.0),)).scenario.hospitals["cylinders only"]
    assert (large.cylinders.fleet, large.resupply.reorder_point) == (9, 3)


def test_levels_that_load_but_that_the_fitted_fleet_cannot_reach_follow_it():
    """21 and 28 of 30 would be doubted by `check` with 18; as shares of 18 they are not."""
    base = STORE.replace("fleet: 4", "fleet: 30")
    base = base.replace("reorder_point: 3\n", "reorder_point: 21\n  order_up_to: 28\n")
    small = over(base, (fleet(18.0),))
    store = small.scenario.hospitals["cylinders only"].resupply
    assert (store.reorder_point, store.order_up_to) == (12, 16)  # 0.6 of each, rounded down
    assert [each for each in small.cautions if "o2sim check" in each] == []


def test_the_better_tier_gives_a_key():
    """What is thought gives way to rows, said as not used; without rows it is taken."""
    both = over(STORE, (lead_time(THOUGHT, 9.0), lead_time()))
    assert [(each.key, each.part.tier) for each in both.unused] == [("resupply.lead_time.mean", THOUGHT)]
    assert both.unused[0].why == "taken from Orders (row by row)"
    assert "records, Orders" in both.text
    alone = over(STORE, (lead_time(THOUGHT, 9.0),))
    assert "records, What we think" in alone.text


def test_a_season_and_a_part_of_it_are_one_key():
    """A ratio that is thought gives way to a season fitted whole."""
    ratio = Number("patients.children.season.ratio", "", 3.0, spread(3.0))
    thought = Part("thought", "What we think", THOUGHT, "asked", (ratio,))
    found = fitted((thought, admissions(), season()), RECORDS, own(RECORDS), 1)
    assert [each.key for each in found.unused] == ["patients.children.season.ratio"]


def test_half_a_law_over_another_law_is_not_written():
    """A median cannot be put into a gamma law: the base's stays and the key is not used."""
    half = Part("lead", "What we think", THOUGHT, "asked",
                (Number("resupply.lead_time.lognormal.median", "days", 5.0, spread(5.0)),))  # fmt: skip
    found = fitted((half,), RECORDS, own(RECORDS), 1)
    assert (found.values, [each.key for each in found.unused]) == ((), ["resupply.lead_time.lognormal.median"])
    assert "the base has another law there" in found.unused[0].why


def test_a_class_that_the_base_lacks_is_added_beside_one_like_it():
    """What its records do not give is as in the like class, and each such line says so."""
    records = replace(RECORDS, classes=("neonates",))
    base = own_base(RECORDS)
    found = over(base, (admissions("neonates"),), records)
    block = found.text[found.text.index("  neonates:") : found.text.index("\ncylinders:")]
    assert line_of(block, "flow") == "    flow: 0.5 L/min   # as newborns in the base: not in the records"
    assert line_of(block, "hypoxaemic").startswith("    hypoxaemic: 100 %   # records, Patients on oxygen")
    assert [each.name for each in found.scenario.hospitals["mixed"].patients] == [*CLASSES, "neonates"]
    assert ("patients.neonates.flow", "no record gives it: as newborns in the base") in found.not_given


def test_a_class_without_admissions_is_not_added():
    """How long they stay says nothing of how many come: an example's patients are not invented."""
    records = replace(RECORDS, classes=("neonates",))
    found = over(own_base(RECORDS), (stays("neonates"),), records)
    assert "neonates:" not in found.text
    assert [each.why for each in found.unused] == [
        "the base has no such class, and the records do not give how many come"
    ]


def test_a_base_in_braces_takes_a_class():
    """Classes written in one line get another within the braces."""
    one = "patients: {child: {admissions: 1 / day, flow: 1 L/min, duration: 24 h}}\n"
    base = re.sub(r"patients:\n(?:  .*\n)+", one, SMALL, count=1)
    found = over(base, (admissions("men, old"),), replace(RECORDS, classes=("men, old",)))
    assert [each.name for each in found.scenario.hospitals["cylinders only"].patients][-1] == "men, old"


def test_the_own_base_has_the_classes_of_the_records():
    """Classes of the sheet Lists stand in o2sim's own base, each like one of its own ages; no other does."""
    records = replace(RECORDS, classes=("under fives", "mothers: all", "newborns"))
    scenario = o2sim.loads(own_base(records))
    patients = scenario.hospitals["mixed"].patients
    assert [each.name for each in patients] == ["under fives", "mothers: all", "newborns"]
    assert [each.season is not None for each in patients] == [True, False, False]
    assert like_of("boys", CLASSES) == "children"


def test_a_strategy_keeps_its_own_value():
    """A key that a strategy states is written for the others, is in no draw, and that is said."""
    base = own_base(RECORDS).replace(
        "mixed: {sources: [concentrator, cylinder]}",
        "mixed: {sources: [concentrator, cylinder], resupply: {lead_time: 2 days}}",
    )
    found = over(base, (lead_time(),))
    assert list(found.draws.columns) == []
    assert found.scenario.hospitals["mixed"].resupply.lead_time_s.kind == "constant"
    assert any("“mixed” of the base states a value of its own" in each for each in found.cautions)


def test_what_the_base_refuses_is_left_out_and_said():
    """A part with a value that does not load costs no other part."""
    wrong = Part("odd", "Orders", TOTALS, "12 orders", wholes=(Whole("resupply.no_delivery", "[someday]"),))
    found = over(STORE, (wrong, lead_time()))
    assert [(each.key, each.why.split(":")[0]) for each in found.unused] == [
        ("resupply.no_delivery", "it does not load there")
    ]
    assert [each.key for each in found.values] == ["resupply.lead_time"]


def test_what_another_key_of_the_base_refuses_is_left_out_and_said():
    """A residual pressure above the base's filling pressure goes; the rest is written."""
    wrong = Part("odd", "Orders", TOTALS, "12 orders", wholes=(Whole("cylinders.residual_pressure", "20 MPa"),))
    found = over(STORE.replace("  fleet: 4", "  fleet: 4\n  filling_pressure: 13.7 MPa"), (wrong, lead_time()))
    assert [(each.key, each.why.split(":")[0]) for each in found.unused] == [
        ("cylinders.residual_pressure", "it does not load there")
    ]
    assert [each.key for each in found.values] == ["resupply.lead_time"]


def test_draws_that_the_base_refuses_are_left_out_and_said():
    """The value stays, its column does not, the others do."""
    odd = Whole("resupply.no_delivery", "[mon]", tuple("[tue]" if k else "[someday]" for k in range(DRAWS)))
    found = over(STORE, (Part("odd", "Orders", TOTALS, "12 orders", wholes=(odd,)), lead_time()))
    assert [each for each in found.draws.columns if "no_delivery" in each] == []
    assert len(found.draws.columns) == 1
    assert any(each.startswith("resupply.no_delivery: its draws are not in") for each in found.cautions)


def test_recorded_rows_of_a_base_stay(tmp_path):
    """A base that replays recorded cuts or patients has no place for laws of them."""
    (tmp_path / "cuts.csv").write_text("start,hours\n2027-01-02 10:00,3\n", encoding="utf-8")
    text = own_base(RECORDS)
    grid = text[text.index("  grid:") : text.index("\n\nstrategies:")]
    file = tmp_path / "base.yaml"
    recorded = "  grid: {file: cuts.csv, from: 2027-01-01, to: 2027-12-31, use: replay}"
    file.write_text(text.replace(grid, recorded), encoding="utf-8")
    found = fitted((cuts(),), RECORDS, base_of(file), 1)
    assert {each.why for each in found.unused} == {"the base has recorded rows in its place (power.grid.file)"}
    assert recorded in found.text


def test_more_ranges_than_a_scenario_takes(monkeypatch):
    """Beyond as many as a scenario takes, values are written at their likely ones, and that is said."""
    monkeypatch.setattr(writing, "MOST_UNCERTAIN", 3)
    found = over(STORE, (lead_time(), replace(stays("child"), panels=()), admissions("child")))
    assert [each.path for each in found.scenario.uncertain] == [
        "patients.child.duration.lognormal.median", "patients.child.duration.lognormal.geometric_sd",
        "resupply.lead_time.gamma.mean",
    ]  # fmt: skip
    assert "    admissions: 2 / day   # records" in found.text.replace("  # records", "   # records")
    said = "patients.child.admissions: written without a range, as a scenario takes 3; its range is in the draws."
    assert said in found.cautions
    assert "patients.child.admissions (/ day)" in found.draws.columns


def test_the_seed_and_the_files_are_in_the_head():
    """Whoever opens the text sees of which records and which base it was made, and how."""
    head = whole().text[:700]
    assert f"by o2sim {o2sim.__version__}: records 0123456789abcdef, seed 1." in head
    assert f"The base is {OWN}" in head
    assert isinstance(whole().base, Base)


def test_windows_lines_and_a_mark_stay():
    """A base with carriage returns and a byte order mark is written back with both."""
    text = "\N{ZERO WIDTH NO-BREAK SPACE}" + STORE.replace("\n", "\r\n")
    found = fitted((lead_time(),), RECORDS, base_of(o2sim.loads(STORE)), 1)
    base = base_of(o2sim.loads(STORE))
    marked = fitted((lead_time(),), RECORDS, replace(base, source=replace(base.source, text=text)), 1)
    assert marked.text == "\N{ZERO WIDTH NO-BREAK SPACE}" + found.text.replace("\n", "\r\n")


def test_doubts_of_the_reading_are_kept_apart():
    """What reading the books found doubtful is no caution of a fit, and is there."""
    records = replace(RECORDS, cautions=(Finding("books.xlsx", "Orders", "A14", "", "no day of coming"),))
    found = over(STORE, (lead_time(),), records)
    assert found.doubts == ("books.xlsx, Orders, A14: no day of coming",)


SHARED = "52 of 60; 209 readings"
CHILD = "  child:\n    admissions: 1 / day\n    flow: 1 L/min\n    duration: 24 h\n"


def sharing():
    """Return a part of two keys of a class, which say in short what their class says once."""
    keys = {"patients.child.admissions": "/ day", "patients.child.hypoxaemic": "%"}
    numbers = tuple(Number(key, unit, 2.0, spread(2.0, 0.1)) for key, unit in keys.items())
    brief = dict.fromkeys(keys, "52 rows, 2026, 90 % range")
    return Part("who", "Patients on oxygen", TOTALS, SHARED, numbers, brief=brief)


def test_what_values_of_a_class_have_in_common_is_said_once():
    """At the line of the class, before its own comment, and not again by a second fit."""
    once = over(SMALL.replace("  child:\n", "  child:   # of the ward\n"), [sharing()]).text
    assert line_of(once, "child") == f"  child:   # records, Patients on oxygen: {SHARED}; of the ward"
    assert line_of(once, "admissions").endswith(
        "# records, Patients on oxygen: 52 rows, 2026, 90 % range; before: 1 / day"
    )
    assert [over(text, [sharing()]).text.count(SHARED) for text in (SMALL, once)] == [1, 1]


def test_a_class_in_one_line_says_it_beside_its_values():
    """There is no line for what they have in common."""
    line = "  child: {admissions: 1 / day, flow: 1 L/min, duration: 24 h}\n"
    text = over(SMALL.replace(CHILD, line), [sharing()]).text
    assert text.count(f"records, Patients on oxygen: {SHARED}") == 2
