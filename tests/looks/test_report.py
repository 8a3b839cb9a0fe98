"""Words, tables, cautions, timelines and files, on studies and logs made by hand."""

from __future__ import annotations

import csv
import json
import re
from dataclasses import replace

import pytest
from synthetic import CYLINDERS, HOUR_S, hospital, made_up_study, small_study

from o2sim.errors import OutputError
from o2sim.looks import cautions, files, words
from o2sim.measures.measures import summarise
from o2sim.model.rules import STEPS
from o2sim.outcome import Cause, LogEntry
from o2sim.planning.figures import planning_figures
from o2sim.quantities.gas import CylinderSize, cylinder_lasts
from o2sim.questions.check import text as planner
from o2sim.questions.compare import headline, results_folder, tables
from o2sim.questions.trace import timeline
from o2sim.scenario.types.hospital import DAY_S, Shortfall

TWO = {"cylinders only": 80, "mixed": 10}


def chance(estimate, low, high):
    """Return a probability as the summary holds it."""
    return {"estimate": estimate, "low": low, "high": high, "confidence": 0.95}


def mean(value, low=None, high=None):
    """Return a mean as the summary holds it."""
    return {"mean": value, "low": low, "high": high}


# words


@pytest.mark.parametrize(
    ("value", "text"),
    [(0, "0"), (0.01234, "0.0123"), (4.567, "4.57"), (12_345, "12,300"), (-99.96, "-100"), (2, "2"),
     (float("nan"), "unknown"), (999.6, "1,000")],
)  # fmt: skip
def test_number_keeps_three_figures(value, text):
    """Numbers for people have three significant figures and commas between thousands."""
    assert words.number(value) == text


def test_percent_never_turns_rare_into_never():
    """A share that is neither nought nor one is never shown as 0 % or 100 %."""
    shown = {
        0.0: "0 %",
        1e-9: "under 0.0001 %",
        0.0001: "0.01 %",
        0.05: "5 %",
        0.985: "98.5 %",
        0.99983: "99.983 %",
        0.995: "99.5 %",
        1 - 1e-9: "over 99.9999 %",
        1.0: "100 %",
    }
    assert {share: words.percent(share) for share in shown} == shown


def test_frequency_in_a_hundred_years():
    """A probability is told as a natural frequency with its range."""
    said = words.frequency(chance(0.05, 0.0242, 0.0904), 200, 365)
    assert said == "5 in 100 years (2 to 9)"


def test_frequency_rounds_halves_up():
    """17 of 200 years are 8.5 in 100 and told as 9, as people round."""
    assert words.short_frequency(chance(17 / 200, 0.05, 0.13), 200, 365) == "9 in 100 years"
    assert [words.half_up(value) for value in (0.5, 1.5, 2.4999, 0.145 * 100)] == [1, 2, 2, 15]


def test_frequency_of_something_rare_goes_to_thousands():
    """Below 1 in 100 it is told in 1,000, and so is what is nearly always; never nought and never all."""
    assert words.frequency(chance(0.004, 0.001, 0.0102), 1_000, 365) == "4 in 1,000 years (1 to 10)"
    assert words.short_frequency(chance(0.996, 0.99, 0.999), 1_000, 365) == "996 in 1,000 years"
    assert words.short_frequency(chance(0.0003, 0.0001, 0.001), 10_000, 365) == "fewer than 1 in 1,000 years"
    assert words.short_frequency(chance(0.9998, 0.999, 1.0), 10_000, 365) == "more than 999 in 1,000 years"


def test_frequency_with_the_denominator_of_its_sentence():
    """A common chance beside a rare one is told out of as many, so that both can be compared."""
    assert words.short_frequency(chance(0.4, 0.3, 0.5), 1_000, 365, 1_000) == "400 in 1,000 years"


@pytest.mark.parametrize(
    ("seen", "said"),
    [
        (chance(2 / 3, 0.0943, 0.9916), "2 of 3 years (chance 9 to 99 %)"),
        (chance(0.0, 0.0, 0.7076), "none seen in 3 years (chance up to 71 %)"),
        (chance(1.0, 0.2924, 1.0), "every one of 3 years (chance at least 29 %)"),
    ],
    ids=["some", "none", "all"],
)
def test_few_runs_are_told_as_they_were_counted(seen, said):
    """Below a hundred runs nothing is scaled to a hundred: 2 of 3 years, with its range as a chance.

    The bounds are Clopper and Pearson's (scipy's beta quantiles): 0.0943-0.9916 for 2 of 3, 0.025^(1/3) = 0.2924.
    """
    assert words.frequency(seen, 3, 365) == said


def test_frequency_of_nothing_seen_keeps_the_upper_bound():
    """Nothing seen in 200 years is said with how often it could still be, rounded up.

    The bound of 1.83 % is Clopper and Pearson's two-sided 95 %: 1 - 0.025^(1/200).
    """
    upper = 1 - 0.025 ** (1 / 200)
    said = words.frequency(chance(0.0, 0.0, upper), 200, 365)
    assert said == "none seen in 200 years (could be up to 2 in 100)"
    rarer = words.frequency(chance(0.0, 0.0, 1 - 0.025 ** (1 / 2_000)), 2_000, 365)
    assert rarer == "none seen in 2,000 years (could be up to 2 in 1,000)"


def test_frequency_of_always_keeps_the_lower_bound():
    """Seen in every run is not certain either."""
    said = words.frequency(chance(1.0, 0.025 ** (1 / 200), 1.0), 200, 366)
    assert said == "every one of 200 years (could be as few as 98 in 100)"


def test_frequency_without_bounds_says_so():
    """A chance of which the bounds are unknown is told without them, and says that."""
    assert words.frequency(chance(0.0, None, None), 200, 365) == "none seen in 200 years (no interval)"
    assert words.percent_range(chance(0.05, None, None)) == "5 % (no interval)"


def test_frequency_speaks_of_years_only_where_they_are():
    """A horizon of 28 days is told as runs of 28 days."""
    assert words.frequency(chance(0.25, 0.1, 0.4), 100, 28) == "25 in 100 runs of 28 days (10 to 40)"
    assert words.short_frequency(chance(0.0, 0.0, 0.2), 1, 28) == "none seen in 1 run of 28 days"
    assert words.short_frequency(chance(1.0, 0.9, 1.0), 100, 364) == "all 100 years"


def test_one_run_is_not_told_in_the_plural():
    """A single replication, or a horizon of a day, is told in the singular."""
    always = chance(1.0, 0.025, 1.0)
    assert words.frequency(always, 1, 30) == "the only run of 30 days (chance at least 2 %)"
    assert words.short_frequency(always, 1, 365) == "the only year"


@pytest.mark.parametrize(
    ("days", "said"),
    [(365, "a year"), (730, "2 years"), (731, "2 years"), (3_650, "10 years"), (1, "1 day"), (28, "28 days"),
     (0.0625, "90 min"), (1.5, "36 h"), (0.1875, "4 h 30 min"), (0.5, "12 h"), (1_234, "1,234 days"),
     (2.5, "2.5 days")],
)  # fmt: skip
def test_horizon_in_words(days, said):
    """A horizon is told in the unit that fits, never rounded."""
    assert words.span(days) == said


def test_spread_of_a_mean():
    """A mean is shown with its interval, without one where there is none, and a dash where nothing applies."""
    assert words.spread(mean(12.34, 10.0, 14.0)) == "12.3 (10–14)"
    assert words.spread(mean(-5.0, -20.0, 10.0)) == "-5 (-20 to 10)"
    assert words.spread(mean(7.0)) == "7 (no interval)"
    assert words.spread(mean(7.0, 7.0, 7.0)) == "7"
    assert words.spread(None) == "-"
    assert words.spread(mean(0.9, 0.85, 0.95), words.percent) == "90 % (85–95)"
    assert words.percent_range(chance(0.0, 0.0, 1e-9)) == "0 % (0 to under 0.0001)"


def test_joined_names():
    """Names are joined as people do."""
    assert [words.joined(list(names)) for names in ("a", "ab", "abc")] == ["a", "a and b", "a, b and c"]


def test_hours_and_minutes_are_rounded_down():
    """A duration for the bedside never promises a minute too many."""
    assert words.hours_minutes(77_579) == "21 h 32 min"


def test_stock_out_is_defined_with_the_tolerated_gap():
    """The note says the tolerated gap and that it is no safe time."""
    anew = hospital(shortfall=Shortfall(500, 300, "supply clock"))
    for note in (words.stock_out_note(hospital()), words.stock_out_note(anew)):
        assert "longer than 10 min" in note
        assert "not a safe time" in note
    assert "less than 50 % of the prescribed flow" in words.stock_out_note(anew)


def changed(summary, strategy, **measures):
    """Return the summary with some measures of one strategy replaced."""
    summary["strategies"][strategy] |= measures
    return summary


def test_answer_names_the_best_strategy_and_its_price():
    """The answer is two sentences: how often, and at what cost, with the hours split.

    By hand: 60 cylinders at 20.16 a year (300 over 20 years at 3 %) and 10 rent, 30.5 refills at 18: 2,359.
    """
    said = headline.answer(summarise(made_up_study({"cylinders only": 20, "mixed": 10})), "USD")
    assert said == (
        "“mixed” runs short least often: 5 in 100 years (2 to 9), with any interruption in 5 in 100 years, "
        "against supply shortfalls in 10 in 100 years under “cylinders only”. It leaves 2 patient-hours a year "
        "unserved (1 for lack of supply, 1 in handling) and costs about USD 2,360 a year, the least of those "
        "compared."
    )


def test_answer_where_another_strategy_is_cheaper():
    """A cheaper strategy is named with what it leaves unserved, with its unit."""
    summary = changed(summarise(made_up_study({"a": 20, "b": 10})), "a", annual_cost=mean(0.0))
    said = headline.answer(summary, "USD")
    assert said.endswith("; the cheapest, “a”, costs USD 0 a year and leaves 3 patient-hours a year unserved.")


def test_answer_where_all_cost_the_same():
    """Where every strategy costs nothing none is called the cheapest."""
    free = changed(summarise(made_up_study({"a": 20, "b": 10})), "a", annual_cost=mean(0.0))
    said = headline.answer(changed(free, "b", annual_cost=mean(0.0)), "USD")
    assert said.endswith("in handling) and costs USD 0 a year.")


def test_answer_without_prices():
    """Where the scenario, or one of its strategies, states no prices the answer says so."""
    said = headline.answer(summarise(made_up_study({"a": 11, "b": 10}, costs=None)))
    assert said.endswith("; the scenario states no prices, so cost is not compared.")
    half = changed(summarise(made_up_study({"a": 11, "b": 10})), "b", annual_cost=None)
    assert headline.answer(half).endswith("; not all strategies have prices, so cost is not compared.")


def test_answer_counts_those_who_were_sent_away():
    """Where patients are transferred, the answer says how many and where their hours are."""
    summary = changed(summarise(made_up_study({"a": 20, "b": 10})), "b", transferred_patients=mean(12.0))
    said = headline.answer(summary, "USD")
    assert "in handling), has 12 patients a year transferred and costs about" in said
    assert said.endswith(" The hours of transferred patients are in none of these; the fill rate counts them.")


def test_answer_tells_those_given_a_part_of_their_flow():
    """Patient-hours on reduced flow stand beside the unserved ones, in the answer and in the table."""
    summary = changed(summarise(made_up_study({"a": 20, "b": 10})), "b", under_served_patient_hours=mean(12.0))
    assert "in handling), under-serves 12 more and costs about" in headline.answer(summary, "USD")
    rows = [row for table in tables.main_tables(summary) for row in table.rows]
    assert [row[0] for row in rows if "nder-served" in row[0]] == ["Under-served patient-hours"]


def test_answer_of_one_strategy():
    """One strategy alone is not compared with anything."""
    said = headline.answer(summarise(made_up_study({"mixed": 10})), "USD")
    assert said.startswith(
        "Supply shortfalls under “mixed”: 5 in 100 years (2 to 9); any interruption in 5 in 100 years. It leaves "
    )
    assert said.endswith("a year.")


def test_answer_where_the_chance_does_not_tell_strategies_apart():
    """Where the chance is the same everywhere the unserved hours decide, if they can."""
    summary = summarise(made_up_study({"a": 200, "b": 200}))
    assert "under each. “a” has any interruption in all 200 years." in headline.answer(summary)
    said = headline.answer(changed(summary, "b", unserved_patient_hours=mean(15.0)))
    assert said.startswith(
        "The chance of a supply shortfall is the same under “b” and “a”: every one of 200 years ("
    )
    assert "“b” leaves the fewest patient-hours unserved of these, with any interruption in all 200 years." in said


def test_answer_does_not_crown_a_strategy_that_serves_nobody():
    """No stock-outs but 8,720 hours unserved in handling is not best: both strategies are named, hours split."""
    summary = changed(
        summarise(made_up_study({"mixed": 20, "noreg": 0})),
        "noreg",
        unserved_patient_hours=mean(8_720.0),
        unserved_hours_by_cause={"no regulator": mean(8_720.0)},
        interruption_probability=chance(1.0, 0.98, 1.0),
        fill_rate=mean(0.004),
    )
    said = headline.answer(summary, "USD")
    assert said.startswith(
        "Supply shortfalls and patient-hours point to different strategies. “noreg” runs short least often: none "
        "seen "
        "in 200 years (could be up to 2 in 100); yet it has any interruption in all 200 years, leaves 8,720 "
        "patient-hours a year unserved (0 for lack of supply, 8,720 in handling), delivers only 0.4 % of the "
        "litres needed and costs about USD "
    )
    assert (
        " “mixed” runs short in 10 in 100 years, has any interruption in 10 in 100 years, leaves 3 patient-hours "
        "a year unserved (2 for lack of supply, 1 in handling) and costs about USD "
    ) in said


def test_answer_tells_one_denominator_in_a_sentence():
    """A rare chance beside a common one has both told out of 1,000."""
    said = headline.answer(summarise(made_up_study({"a": 8, "b": 3}, replications=400)))
    assert "3 in 100" not in said
    assert "“b” runs short least often: 8 in 1,000 years (2 to 22), with any interruption in 8 in 1,000" in said
    assert "against supply shortfalls in 20 in 1,000 years under “a”" in said


def test_a_rival_delivers_more_or_leaves_far_fewer_hours():
    """Another strategy is a rival by half the hours or by the fill rate, but not by sending patients away."""
    study = made_up_study({"a": 20, "b": 10})
    assert headline.rival_of(summarise(study), "b") == ""
    fewer = changed(summarise(study), "a", unserved_patient_hours=mean(0.9))
    assert headline.rival_of(fewer, "b") == "a"
    assert headline.rival_of(changed(fewer, "a", fill_rate=mean(0.6)), "b") == ""
    assert headline.rival_of(changed(summarise(study), "b", fill_rate=mean(0.9)), "b") == "a"
    small = changed(changed(summarise(study), "a", unserved_patient_hours=mean(0.1)), "b",
                    unserved_patient_hours=mean(0.4))  # fmt: skip
    assert headline.rival_of(small, "b") == ""


def test_answer_without_prices_names_both_strategies_too():
    """Where stock-outs and hours disagree and there are no prices, the last sentence says so."""
    summary = changed(summarise(made_up_study({"a": 20, "b": 10}, costs=None)), "b", fill_rate=mean(0.5))
    said = headline.answer(summary)
    assert said.endswith("in handling); the scenario states no prices, so cost is not compared.")


def test_answer_where_no_strategy_meets_the_need():
    """Where all deliver too little the best by stock-outs is told as the best of a bad lot."""
    summary = summarise(made_up_study({"a": 20, "b": 10}))
    for name in "ab":
        changed(summary, name, fill_rate=mean(0.7))
    said = headline.answer(summary)
    assert said.startswith("No strategy compared meets the need. “b” runs short least often: ")
    assert ", delivers only 70 % of the litres needed and costs" in said


def test_answer_admits_that_the_runs_do_not_settle_it():
    """A paired difference that includes nought, or has no bounds, is said to be unsure."""
    summary = summarise(made_up_study({"a": 11, "b": 10, "c": 150}))
    said = headline.answer(summary)
    assert "“b” runs short least often" in said
    assert "under “c” (too few runs to be sure against “a”)." in said
    for item in summary["differences"]:
        item["low"] = item["high"] = None
    assert "(too few runs to be sure against “a” and “c”)" in headline.answer(summary)
    summary["differences"] = []
    assert "too few runs" not in headline.answer(summary)


def test_answer_where_nothing_went_unserved():
    """No unserved hours are told in words, without a split of nothing."""
    summary = summarise(made_up_study({"a": 20, "b": 10}))
    for name in "ab":
        changed(summary, name, unserved_patient_hours=mean(0.0))
    assert " It leaves no patient-hours a year unserved and costs about" in headline.answer(summary)


def test_difference_in_words():
    """A difference says its size and direction, or that it is not clear, or that every run agrees."""
    assert words.difference({"measure": "stock_outs_per_year", **mean(-5.0, -8.0, -2.0)}) == (
        "supply shortfalls a year 5 lower (2 to 8)"
    )
    assert words.difference({"measure": "fill_rate", **mean(0.05, 0.02, 0.08)}) == (
        "fill rate 5 percentage points higher (2 to 8)"
    )
    assert words.difference({"measure": "annual_cost", **mean(5.0, -2.0, 8.0)}) == (
        "cost a year not clearly different (-2 to +8)"
    )
    assert (
        words.difference({"measure": "new_thing", **mean(0.0)}) == "new thing the same in every run (no interval)"
    )
    assert words.difference({"measure": "annual_cost", **mean(7.0)}) == "cost a year 7 higher (no interval)"


def test_differences_are_turned_towards_the_best():
    """Whichever way a difference was taken, it is told as the best against the other."""
    summary = summarise(made_up_study({"mixed": 10, "cylinders only": 80}))
    ((heading, said),) = words.differences(summary, "mixed")
    assert heading == "“mixed” compared with “cylinders only”"
    assert said[0].startswith("chance of a supply shortfall 35 percentage points lower (")
    assert said[1].startswith("supply shortfalls a year 0.35 lower (")


def test_difference_without_bounds_is_turned_too():
    """A difference that is the same in every run keeps its direction when turned."""
    summary = {"differences": [{"from": "b", "to": "a", "measure": "annual_cost", **mean(7.0)}]}
    assert words.differences(summary, "b") == [("“b” compared with “a”", ["cost a year 7 lower (no interval)"])]


# tables


def cells(shown, heading):
    """Return the cells of the row with this heading."""
    return next(row[1:] for row in shown.rows if row[0] == heading)


def test_main_table_shows_the_summary():
    """The main table shows each strategy's chance, size and cost under its name."""
    (shown,) = tables.main_tables(summarise(made_up_study(TWO)), "USD")
    assert shown.columns == ("What happened", "cylinders only", "mixed")
    assert cells(shown, "Chance of a supply shortfall")[1] == "5 % (2.42–9)\n5 in 100 years"
    assert cells(shown, "Supply shortfalls") == ("0.4 (0.332–0.468)", "0.05 (0.0195–0.0805)")
    assert cells(shown, "  for lack of supply") == ("8", "1")
    assert cells(shown, "  in handling") == ("1", "1")
    assert cells(shown, "Cost, USD")[1].startswith("2,360 (")


def test_main_table_of_many_strategies_is_cut_in_blocks():
    """Five strategies make a block of three and one of two, the note under the last."""
    study = made_up_study(dict.fromkeys("abcde", 1), replications=4)
    first, second = tables.main_tables(summarise(study))
    assert first.columns[1:] == ("a", "b", "c")
    assert second.columns[1:] == ("d", "e")
    assert (first.note, bool(second.note)) == ("", True)


def test_main_table_names_a_horizon_that_is_not_a_year():
    """A chance within 28 days is not passed off as one within a year."""
    (shown,) = tables.main_tables(summarise(made_up_study({"a": 1}, replications=4, days=28)))
    assert shown.rows[0][0] == "Chance of a supply shortfall, 28 days"
    assert shown.rows[0][1].endswith("1 of 4 runs of 28 days")


def test_transfers_are_shown_where_there_are_any():
    """The row of transferred patients appears only when somebody was transferred."""
    study = made_up_study({"a": 1}, replications=4)
    moved = [replace(item, transferred=3) for item in study.outcomes["a"]]
    with_moves = replace(study, outcomes={"a": moved})
    (shown,) = tables.main_tables(summarise(with_moves))
    assert cells(shown, "Transferred patients") == ("3 (no interval)",)
    assert shown.note.endswith("of transferred patients are in none of the hours; the fill rate counts them.")
    heads = [row[0] for row in tables.main_tables(summarise(study))[0].rows]
    assert "Transferred patients" not in heads


def test_class_table_tells_who_went_without():
    """Hours, interruptions and transfers of each of two classes; no table for one class, or none counted."""
    study = made_up_study({"a": 1}, replications=4)
    split = {
        "arrivals_by_class": (1, 1),
        "patients_by_class": (1, 1),
        "interruptions_by_class": (3, 0),
        "unserved_s_by_class": (7_200, 1_800),
        "transferred_by_class": (0, 2),
        "transferred": 2,
    }
    counted = [replace(item, **split) for item in study.outcomes["a"]]
    (shown,) = tables.class_tables(summarise(replace(study, outcomes={"a": counted})))
    assert [row[1] for row in shown.rows] == ["2 h (3)", "0.5 h (0, 2)"]
    assert shown.note.endswith("number of interruptions, then of patients transferred.")
    assert tables.class_tables(summarise(study)) == []


def test_ward_table_tells_where_they_went_without():
    """One ward of two has all the hours; a strategy that shares everything has none to tell apart."""
    hours, none = {"mean": 12.0}, {"mean": 0.0}
    north = {"unserved_patient_hours": hours, "stock_outs_per_year": none, "interruptions_per_year": {"mean": 3.0}}
    south = {"unserved_patient_hours": none, "stock_outs_per_year": none, "interruptions_per_year": none}
    strategies = {"apart": {"by_ward": {"north": north, "south": south}}, "as one": {"by_ward": None}}
    (shown,) = tables.ward_tables({"strategies": strategies})
    assert shown.columns == ("Where they went without", "apart", "as one")
    assert shown.rows == (("north", "12 h (0, 3)", "-"), ("south", "0 h (0, 0)", "-"))
    assert tables.ward_tables({"strategies": {"as one": {"by_ward": None}}}) == []


def test_cause_table_tells_supply_from_handling():
    """Each cause seen has a row with its kind, its hours and the number of runs it interrupted."""
    (shown,) = tables.cause_tables(summarise(made_up_study({**TWO, "ample": 0})))
    assert [row[0] for row in shown.rows] == ["no cylinder (supply)", "changeover (handling)"]
    assert cells(shown, "no cylinder (supply)") == ("8 h (80 of 200)", "1 h (10 of 200)", "-")
    assert cells(shown, "changeover (handling)") == ("1 h (0 of 200)",) * 3


def test_cause_table_is_empty_where_everybody_was_served():
    """Where nobody went without there is nothing to explain."""
    study = made_up_study({"a": 0}, replications=3)
    served = [replace(item, unserved_s=(0,) * len(Cause)) for item in study.outcomes["a"]]
    assert tables.cause_tables(summarise(replace(study, outcomes={"a": served}))) == []


def test_nothing_seen_is_not_shown_as_a_certain_nought():
    """A measure of which nothing was seen is told so in the table; -ln(0.025) / 200 is 0.0184 (Garwood 1936)."""
    (shown,) = tables.main_tables(summarise(made_up_study({"ample": 0})))
    assert cells(shown, "Supply shortfalls") == ("none seen (to 0.0184)",)
    assert cells(shown, "Patients affected") == ("none seen",)


def test_nothing_seen_is_told_with_its_bound_where_there_is_one():
    """Where the summary has an upper bound for what was never seen, the table shows it."""
    summary = changed(summarise(made_up_study({"a": 0})), "a", stock_outs_per_year=mean(0.0, 0.0, 0.0183))
    changed(summary, "a", patients_affected=mean(0.0, 0.0, 0.0))
    (shown,) = tables.main_tables(summary)
    assert cells(shown, "Supply shortfalls") == ("none seen (to 0.0183)",)
    assert cells(shown, "Patients affected") == ("0",)


def test_nothing_to_pay_is_a_nought():
    """A cost of nought is known, not merely unseen: 0, whether or not the summary gives it bounds."""
    summary = summarise(made_up_study({"a": 1, "b": 1, "c": 1}))
    for name, cost in {"a": mean(0.0), "b": mean(0.0, 0.0, 0.0), "c": None}.items():
        changed(summary, name, annual_cost=cost, cost_per_patient=cost)
    assert cells(tables.main_tables(summary, "USD")[0], "Cost, USD") == ("0", "0", "-")
    assert cells(tables.cost_tables(summary)[0], "per patient treated") == ("0", "0")


def test_table_says_why_there_is_no_interval():
    """Means without bounds say so, and the note below the table says why."""
    (one,) = tables.main_tables(summarise(made_up_study({"a": 1}, replications=1)))
    assert cells(one, "Supply shortfalls") == ("1 (no interval)",)
    assert one.note.endswith("not unknown inputs (no interval where one run shows no spread).")
    (alike,) = tables.main_tables(summarise(made_up_study({"a": 3}, replications=3)))
    assert "(no interval where all runs are alike, or nothing was seen)" in alike.note
    full = summarise(made_up_study({"a": 1}, replications=3))
    for item in full["strategies"]["a"].values():
        if "mean" in (item or {}):
            item |= {"low": 0.0, "high": 99.0}
    assert "no interval" not in tables.main_tables(full)[0].note


def test_cost_table_adds_up():
    """The items of the cost table add up to the cost of the year."""
    summary = summarise(made_up_study(TWO))
    (shown,) = tables.cost_tables(summary, "USD")
    item = summary["strategies"]["mixed"]
    assert sum(part["mean"] for part in item["cost_by_item"].values()) == pytest.approx(
        item["annual_cost"]["mean"]
    )
    assert cells(shown, "in all")[1] == words.number(item["annual_cost"]["mean"])
    assert cells(shown, "refill")[1] == words.number(item["cost_by_item"]["refill"]["mean"])


def test_cost_table_leaves_out_what_a_strategy_does_not_buy():
    """An item that only another strategy pays for is a dash; without prices there is no table."""
    summary = summarise(made_up_study(TWO))
    del summary["strategies"]["mixed"]["cost_by_item"]["refill"]
    assert cells(tables.cost_tables(summary)[0], "refill")[1] == "-"
    assert tables.cost_tables(summarise(made_up_study(TWO, costs=None))) == []


# the planner's tables and sentences


def figures_of(**hospitals):
    """Return the planning figures of hospitals by strategy."""
    return {name: planning_figures(item) for name, item in hospitals.items()}


def test_need_table_of_a_hospital_with_a_season():
    """The need has a column for the mean and one for the day of the peak; strategies that agree share a table."""
    (shown,) = planner.need_tables(figures_of(mixed=hospital(), bare=hospital(concentrators=None)))
    assert shown.columns == ("The need", "yearly mean", "peak, 17 May")
    assert cells(shown, "patients on oxygen: children") == ("2.8", "3.6")
    assert cells(shown, "litres a day") == ("21,200", "22,500")


def test_need_without_season_and_cylinders():
    """Without a season there is one column, without cylinders nothing is said of them."""
    plain = tuple(replace(item, season=None) for item in hospital().patients)
    figures = figures_of(mixed=hospital(patients=plain, cylinders=None, resupply=None, concentrators=None))
    (shown,) = planner.need_tables(figures)
    assert shown.columns == ("The need", "yearly mean")
    assert planner.duration_tables(figures) == []
    assert planner.sentences(figures)[1:] == ["", ""]


def test_strategies_with_other_patients_or_cylinders_have_tables_of_their_own():
    """Where a strategy changes the patients or the cylinders, its need and durations stand apart, named."""
    fewer = hospital(patients=hospital().patients[:1], cylinders=replace(CYLINDERS, leak_ml_min=0))
    figures = figures_of(mixed=hospital(), fewer=fewer)
    assert [shown.columns[0] for shown in planner.need_tables(figures)] == [
        "The need under “mixed”",
        "The need under “fewer”",
    ]
    assert [shown.columns[0] for shown in planner.duration_tables(figures)] == [
        "One full cylinder lasts, “mixed”",
        "One full cylinder lasts, “fewer”",
    ]
    assert planner.sentences(figures)[1].startswith("Under “fewer”: On average 2.8 patients")


def test_planner_sentences_say_need_cover_and_grid():
    """The sentences give patients, litres, days of cover, concentrators and the grid."""
    need, cover, units = planner.sentences(figures_of(mixed=hospital()))
    assert need.startswith("On average 4.95 patients are on oxygen at once and need 21,200 litres a day; 1 % of")
    assert cover.endswith("all 60 of “mixed”, full, would last 16.5 days.")
    assert units.startswith("The 5 concentrators of “mixed” give 25 L/min, 20.3 on average after breakdowns, ")
    assert units.endswith("the grid is up 92.2 % of the time.")


def test_one_concentrator_is_told_in_the_singular():
    """One unit is a concentrator, not concentrators."""
    one = hospital(concentrators=replace(hospital().concentrators, count=1))
    assert planner.sentences(figures_of(mixed=one))[2].startswith("The 1 concentrator of “mixed” gives 5 L/min, ")


def test_supply_table_leaves_dashes_for_what_is_not_there():
    """A strategy without cylinders or concentrators shows dashes in their rows."""
    bare = planning_figures(hospital(cylinders=None, resupply=None, concentrators=None))
    (shown,) = planner.supply_tables({"mixed": planning_figures(hospital()), "bare": bare})
    assert cells(shown, "cylinders in the fleet") == ("60", "-")
    assert cells(shown, "  rated flow together, L/min") == ("25", "-")
    assert cells(shown, "  share in order, long run") == ("81.4 %", "-")


def test_duration_table_rounds_down():
    """One full cylinder at 5 L/min and a leak of 0.1: 6,460 L / 5.1 is 21 h 6.67 min, shown as 21 h 06 min."""
    (shown,) = planner.duration_tables(figures_of(mixed=hospital()))
    assert cells(shown, "5 L/min") == ("21 h 06 min", "21 h 40 min")


def test_cylinder_sentences_against_a_handbook():
    """An E cylinder from 2,000 to 200 psi at 4 L/min lasts 126 min (respiratory-care handbooks, from memory)."""
    psi = 6.894757293168361
    lasts = cylinder_lasts(
        CylinderSize(us_factor_l_per_psi=0.28), 2_000 * psi, 4.0, residual_kpa=200 * psi, flow_lost_kpa=0.0
    )
    said = planner.cylinder_sentences(lasts, 4_000.0, 200 * psi, 0.0)
    assert said[1] == "At 4 L/min change it within 2 h 06 min: it is then at 1,380 kPa."
    assert said[2] == "At 4 L/min flow is lost after 2 h 20 min, at 0 kPa."


def test_cylinder_at_residual_is_to_be_changed_now():
    """At or below the residual pressure the only advice is to change it."""
    lasts = cylinder_lasts(CylinderSize(water_capacity_l=47.0), 700.0, 5.0)
    assert planner.cylinder_sentences(lasts, 5_000.0, 800.0, 400.0)[1].startswith("Change it now")


def test_cylinder_is_told_in_the_unit_of_its_reading():
    """Pressures come back in the reading's unit: 800 kPa are 116 psi and 400 kPa 58 psi (6.894757 kPa a psi)."""
    lasts = cylinder_lasts(CylinderSize(us_factor_l_per_psi=0.28), 1_800 * 6.894757, 4.0)
    said = planner.cylinder_sentences(lasts, 4_000.0, 800.0, 400.0, ("psi", 6.894757))
    assert said[1].endswith("it is then at 116 psi.")
    assert said[2].endswith(", at 58 psi.")


def test_cylinder_that_has_no_minute_left_is_lost_now():
    """No time left is "now", never 0 h 00 min, whether the pressure is reached or a few seconds away."""
    size = CylinderSize(us_factor_l_per_psi=0.28)
    empty = planner.cylinder_sentences(cylinder_lasts(size, 300.0, 5.0), 5_000.0, 800.0, 400.0)
    assert empty[2] == "At 5 L/min flow is lost now, at 400 kPa or below."
    nearly = planner.cylinder_sentences(cylinder_lasts(size, 801.0, 5.0), 5_000.0, 800.0, 400.0)
    assert nearly[1] == "Change it now: it is at 800 kPa within a minute."


# cautions


def test_screen_cautions_cover_fire_and_oximetry():
    """The lines under a comparison have one on fire and secured cylinders and one on oximetry, in 100 columns."""
    (fire,) = [line for line in cautions.SHORT if line.startswith("Fire")]
    assert all(word in fire for word in ("flame", "oil", "grease", "secured"))
    (flow,) = [line for line in cautions.SHORT if "oximetry" in line]
    assert "preterm" in flow
    assert max(map(len, cautions.SHORT)) <= 100


def test_cautions_say_what_they_must():
    """The long form covers fire, fittings, back-up, pulse oximetry and what was not compared."""
    text = cautions.long_text()
    for needed in (
        "oil or grease",
        "never force",
        "back-up cylinder",
        "oximetry",
        "carbon monoxide",
        "liquid oxygen",
    ):
        assert needed.replace("never force", "force a fitting") in text
    assert "never withdraw oxygen" in " ".join(cautions.SHORT)
    assert "liquid oxygen" in cautions.NOT_COMPARED


# timeline

MIDNIGHT = 28 * DAY_S
GAP_LOG = (
    LogEntry(3 * DAY_S, "order", 1, 20, 8 * DAY_S),
    LogEntry(8 * DAY_S, "delivery", 1, 20, 40),
    LogEntry(MIDNIGHT, "patient arrives", 7, 1, 5_000),
    LogEntry(MIDNIGHT + HOUR_S, "power lost"),
    LogEntry(MIDNIGHT + 2 * HOUR_S, "gap begins", 7, Cause.NO_CYLINDER),
    LogEntry(MIDNIGHT + 2 * HOUR_S + 600, "interruption", 7, Cause.NO_CYLINDER, MIDNIGHT + 2 * HOUR_S),
    LogEntry(MIDNIGHT + 5 * HOUR_S, "gap ends", 7, Cause.NO_CYLINDER, 3 * HOUR_S),
    LogEntry(MIDNIGHT + 6 * HOUR_S, "patient leaves", 7, -1, 3 * HOUR_S),
)


def test_story_tells_what_led_to_an_interruption():
    """The story has the last order and delivery, what the facility met, and the patient's own steps."""
    assert timeline.story(hospital(), GAP_LOG) == [
        "Episode 1 of 1: 2027-01-01 02:00:00 to 2027-01-01 05:00:00, 1 patient, longest 3 h 00 min (no cylinder)",
        "  2026-12-07 00:00:00  order 1 is placed for 20 cylinders, to arrive 2026-12-12 00:00:00  (warm-up)",
        "  2026-12-12 00:00:00  order 1 is delivered: 20 cylinders, 40 full now on hand  (warm-up)",
        "  2027-01-01 00:00:00  patient 7 (adults) needs 5 L/min",
        "  2027-01-01 01:00:00  the grid goes down",
        "  2027-01-01 02:00:00  patient 7 (adults) gets nothing (no cylinder)",
        "  2027-01-01 02:10:00  patient 7 (adults) is past the tolerated gap: an interruption (no cylinder)",
        "  2027-01-01 05:00:00  patient 7 (adults): the gap ends after 3 h 00 min",
    ]


def test_full_story_has_every_step():
    """With full the timeline has one line a step."""
    lines = timeline.story(hospital(), GAP_LOG, full=True)
    assert len(lines) == len(GAP_LOG)
    assert lines[-1].endswith("patient 7 (adults) no longer needs oxygen, having gone without for 3 h 00 min")


def test_story_of_a_good_year():
    """Where nothing went wrong the story says so."""
    assert timeline.story(hospital(), GAP_LOG[:4]) == [
        "Nobody in need went without for longer than the tolerated gap in this replication."
    ]


def test_overlapping_gaps_are_one_episode():
    """Gaps that overlap are told together; one that starts later, and one the horizon cuts, stand apart."""
    log = (
        LogEntry(MIDNIGHT + 1_000, "interruption", 1, Cause.NO_POWER, MIDNIGHT),
        LogEntry(MIDNIGHT + 2_000, "interruption", 2, Cause.NO_POWER, MIDNIGHT + 900),
        LogEntry(MIDNIGHT + 9_000, "gap ends", 1, Cause.NO_POWER, 9_000),
        LogEntry(MIDNIGHT + 9_500, "gap ends", 2, Cause.NO_POWER, 8_600),
        LogEntry(MIDNIGHT + 20_000, "interruption", 3, Cause.NO_CYLINDER, MIDNIGHT + 19_000),
        LogEntry(MIDNIGHT - 50, "interruption", 4, Cause.NO_CYLINDER, MIDNIGHT - 700),
    )
    found = timeline.episodes(log, hospital())
    assert [[gap.patient for gap in item.gaps] for item in found] == [[1, 2], [3]]
    assert found[0].patient_s == 9_000 + 8_600
    assert found[1].stop_s == hospital().end_s


def test_a_short_gap_inside_a_long_one_does_not_end_the_episode():
    """An episode lasts until its longest gap ends, whatever ends before."""
    log = (
        LogEntry(MIDNIGHT + 900, "interruption", 1, Cause.NO_POWER, MIDNIGHT),
        LogEntry(MIDNIGHT + 1_900, "interruption", 2, Cause.NO_POWER, MIDNIGHT + 1_000),
        LogEntry(MIDNIGHT + 2_000, "gap ends", 2, Cause.NO_POWER, 1_000),
        LogEntry(MIDNIGHT + 5_000, "interruption", 3, Cause.NO_POWER, MIDNIGHT + 4_000),
        LogEntry(MIDNIGHT + 6_000, "gap ends", 3, Cause.NO_POWER, 2_000),
        LogEntry(MIDNIGHT + 9_000, "gap ends", 1, Cause.NO_POWER, 9_000),
    )
    (episode,) = timeline.episodes(log, hospital())
    assert (episode.start_s, episode.stop_s) == (MIDNIGHT, MIDNIGHT + 9_000)


def test_transfer_is_an_episode_of_no_length():
    """A patient transferred for want of supply is told as well."""
    log = (LogEntry(MIDNIGHT + 60, "patient transferred", 9, Cause.CONCENTRATORS_FULL),)
    (line, told) = timeline.story(hospital(), log)
    assert line.endswith("1 patient, longest 0 s (concentrators full)")
    assert told.endswith("patient 9 is transferred on arrival (concentrators full)")


def test_only_the_longest_episodes_are_told():
    """Of twelve episodes the ten longest are told, in order of time, and the rest are counted."""
    log = []
    for day in range(12):
        start = MIDNIGHT + day * DAY_S
        log.append(LogEntry(start + 600, "interruption", day, Cause.NO_CYLINDER, start))
        log.append(LogEntry(start + 3_600 - 60 * day, "gap ends", day, Cause.NO_CYLINDER, 3_600 - 60 * day))
    lines = timeline.story(hospital(), log)
    heads = [line.split(":")[0] for line in lines if line.startswith("Episode")]
    assert lines[0].startswith("The 10 longest of 12 episodes")
    assert heads == [f"Episode {number} of 12" for number in range(1, 11)]


def test_long_episodes_are_cut():
    """An episode of a hundred steps is cut short, with a word on how to see the rest."""
    steps = [LogEntry(MIDNIGHT + 700 + k, "cause changes", 1, Cause.NO_POWER) for k in range(100)]
    log = [LogEntry(MIDNIGHT + 600, "interruption", 1, Cause.NO_POWER, MIDNIGHT), *steps]
    lines = timeline.story(hospital(), log)
    assert len(lines) == 1 + timeline.MOST_LINES + 1
    assert lines[-1] == "  ... and 61 more steps; --full lists them"


@pytest.mark.parametrize("step", STEPS)
def test_every_step_has_a_sentence_of_its_own(step):
    """No step of the model falls back to the bare table of steps."""
    said = timeline.Narrator(hospital(), ()).sentence(LogEntry(MIDNIGHT, step, 3, 1, 6_000))
    assert "(3, 1, 6000)" not in said
    if STEPS[step][1] == "bank":
        assert "the low-pressure reserve" in said
    elif STEPS[step][1]:
        assert re.search(r"\b3\b", said)


def test_unknown_step_is_told_plainly():
    """A step that nobody wrote a sentence for is still shown."""
    assert timeline.Narrator(hospital(), ()).sentence(LogEntry(0, "new step", 1, 2, 3)) == "new step (1, 2, 3)"


def test_csv_rows_of_a_log():
    """Each entry is a row with its time, its patient's class and its sentence."""
    rows = list(timeline.csv_rows(hospital(), GAP_LOG))
    assert rows[2] == (
        MIDNIGHT,
        "2027-01-01 00:00:00",
        "patient arrives",
        "adults",
        7,
        1,
        5_000,
        "patient 7 (adults) needs 5 L/min",
    )
    assert rows[3][3] == ""
    assert len(rows[0]) == len(timeline.CSV_COLUMNS)


# files


def read_csv(path):
    """Return the rows of a CSV file as dicts."""
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


COMMAND = ["o2sim", "compare", "misty.yaml"]


@pytest.fixture(scope="module")
def results(tmp_path_factory):
    """Write the results of a small real study once; return (folder, study, summary, paths)."""
    study = small_study()
    summary = summarise(study)
    folder = tmp_path_factory.mktemp("results") / "new" / "folder"
    return (
        folder,
        study,
        summary,
        results_folder.write_results(folder, study, summary, COMMAND, daily=results_folder.daily_of(study)),
    )


def test_results_folder_holds_what_its_manifest_lists(results):
    """The manifest lists every file with its digest and says how to get them again."""
    folder, study, _, paths = results
    manifest = json.loads((folder / "manifest.json").read_text(encoding="utf-8"))
    assert {path.name for path in folder.iterdir()} == {*manifest["files"], "manifest.json"}
    assert paths[-1] == folder / "manifest.json"
    assert manifest["files"]["summary.csv"] == results_folder._sha256(folder / "summary.csv")
    assert manifest["command"] == ["o2sim", "compare", "misty.yaml"]
    assert (manifest["seed"], manifest["replications"]) == (study.seed, study.replications)


def test_summary_json_is_the_summary(results):
    """What is written as JSON reads back as the summary."""
    folder, _, summary, _ = results
    assert json.loads((folder / "summary.json").read_text(encoding="utf-8")) == summary


def test_summary_csv_is_the_summary_as_a_long_table(results):
    """Every probability and mean of the summary is a row, with blanks where there is no bound."""
    folder, _, summary, _ = results
    rows = {(row["strategy"], row["measure"], row["part"]): row for row in read_csv(folder / "summary.csv")}
    told = summary["strategies"]["mixed"]
    assert (
        float(rows["mixed", "unserved_hours_by_cause", "no cylinder"]["estimate"])
        == (told["unserved_hours_by_cause"]["no cylinder"]["mean"])
    )
    low = rows["mixed", "stock_out_probability", ""]["low"]
    assert float(low) == told["stock_out_probability"]["low"]
    by_class = told["by_class"]["adults"]["unserved_patient_hours"]["mean"]
    assert float(rows["mixed", "by_class", "adults: unserved_patient_hours"]["estimate"]) == by_class > 0
    assert ("concentrators only", "empty_shelf_hours", "") not in rows
    assert ("concentrators only", "days_of_cover", "lowest") not in rows
    assert ("mixed - cylinders only", "difference in fill_rate", "") in rows


def test_replications_csv_is_in_hours_and_litres(results):
    """A row a strategy and replication, times in hours and gas in litres."""
    folder, study, _, _ = results
    rows = read_csv(folder / "replications.csv")
    first, outcome = rows[0], study.outcomes["cylinders only"][0]
    assert len(rows) == 3 * study.replications
    assert float(first["horizon_h"]) == 56 * 24
    assert float(first["cylinder_litres"]) == pytest.approx(outcome.cylinder_gas / 60_000, abs=1e-6)
    assert float(first["unserved_h: no cylinder"]) == pytest.approx(
        outcome.unserved_s[Cause.NO_CYLINDER] / 3_600, abs=1e-6
    )
    assert int(first["longer: over 1 h"]) == outcome.longer[1]
    assert float(first["unserved_h: adults"]) == pytest.approx(outcome.unserved_s_by_class[1] / 3_600, abs=1e-6)
    assert int(first["arrivals: children"]) == outcome.arrivals_by_class[0] > 0


def test_daily_csv_has_a_row_a_day(results):
    """The state at each midnight, with its date."""
    folder, study, _, _ = results
    rows = read_csv(folder / "daily.csv")
    assert len(rows) == 3 * study.replications * 56
    assert (rows[31]["day"], rows[31]["date"]) == ("31", "2027-02-01")
    assert int(rows[31]["full"]) == study.outcomes["cylinders only"][0].daily[31, 0]
    use, need = int(rows[31]["used_7_days_litres"]) / 7, int(rows[31]["mean_need_litres"])
    assert float(rows[31]["days_of_cover"]) == round(int(rows[31]["usable_litres"]) / max(use, need), 3)
    assert {row["days_of_cover"] for row in rows if row["strategy"] == "concentrators only"} == {""}


def test_charts_are_written_for_strategies_with_cylinders(results):
    """There is a stock chart for each strategy that has cylinders, and the three comparisons."""
    names = {path.stem for path in results[0].glob("*.svg")}
    assert names == {
        "stock-cylinders-only",
        "stock-mixed",
        "stock-out-probability",
        "unserved-hours",
        "unserved-by-cause",
    }
    assert {path.stem for path in results[0].glob("*.png")} == names


def test_results_are_the_same_bytes_again(results, tmp_path):
    """The same study written twice gives the same manifest, digests and all."""
    folder, study, summary, _ = results
    results_folder.write_results(tmp_path, study, summary, COMMAND, daily=results_folder.daily_of(study))
    assert (tmp_path / "manifest.json").read_bytes() == (folder / "manifest.json").read_bytes()


def test_own_results_are_replaced_and_old_ones_dropped(tmp_path):
    """Writing a study of other strategies over an earlier one leaves none of its files behind."""
    for strategies in ({"first": 1}, {"second": 1}):
        study = made_up_study(strategies, replications=3, days=30)
        results_folder.write_results(tmp_path, study, summarise(study))
    names = {path.name for path in tmp_path.iterdir()}
    assert "stock-second.png" in names
    assert "stock-first.png" not in names


@pytest.mark.parametrize("manifest", [None, "not json", "[]", '{"written_by": "o2sim"}', '{"written_by": "x"}'])
def test_foreign_files_are_not_overwritten(tmp_path, manifest):
    """A file that o2sim did not write stays as it is, and the error names it."""
    (tmp_path / "summary.csv").write_text("mine", encoding="utf-8")
    if manifest is not None:
        (tmp_path / "manifest.json").write_text(manifest, encoding="utf-8")
    study = made_up_study({"a": 1}, replications=3, days=30)
    with pytest.raises(OutputError, match=r"summary\.csv.* would be overwritten"):
        results_folder.write_results(tmp_path, study, summarise(study))
    with pytest.raises(OutputError, match=r"summary\.csv.* would be overwritten"):
        results_folder.require_writable(tmp_path)
    assert (tmp_path / "summary.csv").read_text(encoding="utf-8") == "mine"
    assert not list(tmp_path.glob(".o2sim-*"))


def test_a_changed_result_is_not_overwritten(tmp_path):
    """A result that somebody has edited since counts as theirs."""
    study = made_up_study({"a": 1}, replications=3, days=30)
    results_folder.write_results(tmp_path, study, summarise(study))
    with (tmp_path / "replications.csv").open("a", encoding="utf-8") as file:
        file.write("a note\n")
    with pytest.raises(OutputError, match=r"replications\.csv would be overwritten"):
        results_folder.write_results(tmp_path, study, summarise(study))


def test_a_file_where_the_folder_should_be(tmp_path):
    """A path that is a file gives an error that names it."""
    place = tmp_path / "taken"
    place.write_text("", encoding="utf-8")
    with pytest.raises(OutputError, match="taken: found a file; allowed"):
        results_folder.require_writable(place)


def test_a_disk_that_fills_up_leaves_no_half_result(tmp_path, monkeypatch):
    """Where writing fails half way, the folder is left as it was."""

    def full_disk(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(results_folder, "_write_manifest", full_disk)
    study = made_up_study({"a": 1}, replications=3, days=30)
    with pytest.raises(OutputError, match="No space left"):
        results_folder.write_results(tmp_path, study, summarise(study))
    assert list(tmp_path.iterdir()) == []


def test_csv_cells_that_a_spreadsheet_would_run_are_text(tmp_path):
    """Names that begin like a formula get an apostrophe (OWASP on CSV injection, from memory); numbers stay."""
    names = ["=1+1", "+a", "-2+3", "@sum", "\t=1", "plain", "-5", "-1e3", "酸素"]
    files.write_csv(tmp_path / "out.csv", ("=head", "value"), [(name, -3) for name in names])
    with (tmp_path / "out.csv").open(encoding="utf-8", newline="") as file:
        head, *rows = csv.reader(file)
    assert head == ["'=head", "value"]
    assert [row[0] for row in rows] == ["'=1+1", "'+a", "'-2+3", "'@sum", "'\t=1", "plain", "-5", "-1e3", "酸素"]
    assert {row[1] for row in rows} == {"-3"}


def test_write_csv_leaves_nothing_half_written(tmp_path):
    """A CSV that cannot be written raises OutputError and leaves no draft."""

    def rows():
        yield (1, 2)
        raise OSError(28, "No space left on device")

    with pytest.raises(OutputError, match=r"out\.csv: cannot be written \(No space left"):
        files.write_csv(tmp_path / "out.csv", ("a", "b"), rows())
    with pytest.raises(OutputError, match="cannot be written"):
        files.write_csv(tmp_path / "missing" / "out.csv", ("a", "b"), [])
    assert list(tmp_path.iterdir()) == []


def test_names_of_strategies_become_safe_file_names():
    """A strategy's name loses everything that a file system may mind; two that clash get different charts."""
    assert [files.slug(name) for name in ("Mixed, 5 units", "../x", "酸素")] == ["mixed-5-units", "x", "strategy"]


def test_two_strategies_with_one_slug_get_two_charts(tmp_path):
    """Names that differ only in signs do not overwrite each other's chart."""
    study = made_up_study({"a b": 1, "a-b": 1}, replications=3, days=30)
    names = {path.name for path in results_folder.write_results(tmp_path, study, summarise(study))}
    assert {"stock-a-b.png", "stock-a-b-2.png"} <= names
