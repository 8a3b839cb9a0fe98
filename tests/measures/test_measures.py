"""The object `compare --json` prints: keys, units, intervals and notes, on outcomes made by hand."""

from __future__ import annotations

import datetime as dt
import json
from dataclasses import replace
from math import log, sqrt

import numpy as np
import pytest
from scipy import stats

import o2sim
from o2sim.measures.measures import batch_in_words, summarise
from o2sim.measures.replications import replication_table
from o2sim.measures.table import unit_of
from o2sim.outcome import CAUSE_LABELS, LENGTH_LABELS, Cause, Outcome
from o2sim.runs.study import Study, run_study
from o2sim.scenario.types.hospital import (
    DAY_S,
    Battery,
    Concentrators,
    Costs,
    Cylinders,
    Equipment,
    Fade,
    Grid,
    Hospital,
    Law,
    PatientClass,
    Power,
    Scenario,
    SendPartUsed,
    Strategy,
)
from o2sim.statistics.intervals import newcombe_paired

YEAR_S = 365 * DAY_S
ONE = Law("constant", (1.0,))
LITRE = 60_000
KWH = 3_600_000
COSTS = Costs("crowns", discount_rate=0.0, cylinder=Equipment(price=100, life_years=10), refill=20, trip=50)
CYLINDERS = Cylinders(
    fleet=10,
    full_at_start=10,
    full_gas=7_000 * LITRE,
    residual_gas=0,
    lost_gas=0,
    regulators=5,
    leak_ml_min=0,
    gauge_check_s=0,
    change_time_s=0,
    filling_pressure_kpa=13_700,
    residual_pressure_kpa=0,
    flow_lost_below_kpa=0,
    fill_temperature_c=15,
    water_capacity_l=None,
)
ALONE = Hospital(
    strategy=Strategy("cylinders only", ("cylinder",)),
    start=dt.date(2027, 1, 1),
    horizon_s=YEAR_S,
    warm_up_s=0,
    tolerated_gap_s=600,
    response_time_s=0,
    patients=(),
    cylinders=CYLINDERS,
    costs=COSTS,
)
UNITS = replace(
    ALONE,
    strategy=Strategy("concentrators only", ("concentrator",)),
    cylinders=None,
    concentrators=Concentrators(count=1, rated_flow_ml_min=5_000, outlets=1, power_w=350),
)


def by_cause(**counts):
    """Return counts as an Outcome's tuple, named by cause."""
    return tuple(counts.get(cause.name.lower(), 0) for cause in Cause)


def study(*batches, hospitals=(ALONE, UNITS), requested=None):
    """Return a study of hand-made outcomes, one batch for each hospital."""
    named = {h.strategy.name: h for h in hospitals[: len(batches)]}
    scenario = Scenario("Quiet Bay", "", "quiet-bay.yaml", "0123456789abcdef", named)
    outcomes = dict(zip(named, (list(batch) for batch in batches), strict=True))
    return Study(scenario, 7, "reference", requested or len(batches[0]), outcomes)


def outcome(replication=0, **fields):
    """Return a year's outcome with these fields."""
    return Outcome(**{"replication": replication, "horizon_s": YEAR_S, **fields})


def only(found, measure):
    """Return one measure of the first strategy."""
    return next(iter(found["strategies"].values()))[measure]


def mean_and_bounds(entry):
    """Return (mean, low, high) of an entry."""
    return entry["mean"], entry["low"], entry["high"]


BAD_YEAR = outcome(
    1,
    interruptions=by_cause(no_power=2, changeover=1),
    stock_outs_by_cause=by_cause(no_power=2),
    longer=(3, 2, 1, 0),
    unserved_s=by_cause(no_power=36_000, changeover=3_600),
    days_with_unserved=2,
    longest_gap_s=30_000,
    patients=50,
    patients_affected=3,
    transferred=10,
    needed_gas=1_000 * LITRE,
    cylinder_gas=600 * LITRE,
    concentrator_gas=200 * LITRE,
    opening_usable_gas=70_000 * LITRE,
    closing_usable_gas=63_000 * LITRE,
    cylinders_delivered=8,
    cylinders_emptied=9,
    deliveries=2,
    empty_shelf_s=7_200,
    power_cuts=5,
    under_served_s=18_000,
    patients_under_served=4,
    missing_gas=60 * LITRE,
)
GOOD_YEAR = outcome(patients=30, needed_gas=600 * LITRE, cylinder_gas=600 * LITRE)


def test_summary_has_the_contracted_keys_in_order():
    """The top level, the strategies and the differences carry the names the command line promises."""
    found = summarise(study([GOOD_YEAR, BAD_YEAR], [GOOD_YEAR, BAD_YEAR], requested=5))
    strategies, differences = found.pop("strategies"), found.pop("differences")
    assert list(found.pop("costing")) == list(strategies)
    assert list(found.pop("units")) == [
        name for name in strategies["cylinders only"] if name not in ("by_class", "by_size")
    ]
    assert found == {
        "scenario": "Quiet Bay",
        "scenario_hash": "0123456789abcdef",
        "version": o2sim.__version__,
        "engine": "reference",
        "seed": 7,
        "replications": 2,
        "replications_requested": 5,
        "complete": False,
        "horizon_days": 365,
        "per_days": 365,
        "confidence": 0.95,
        "interval_holds": "chance in the simulation",
        "currency": "crowns",
    }
    assert list(strategies) == ["cylinders only", "concentrators only"]
    contracted = (
        "stock_out_probability interruption_probability probability_by_cause stock_outs_per_year"
        " interruptions_per_year days_with_unserved unserved_patient_hours patients_affected longest_gap_hours"
        " fill_rate empty_shelf_hours annual_cost unserved_hours_by_cause cost_by_item"
    )
    assert list(strategies["cylinders only"])[:14] == contracted.split()
    assert {(d["from"], d["to"]) for d in differences} == {("cylinders only", "concentrators only")}


def test_probabilities_are_shares_of_replications_with_clopper_pearson():
    """One year in two with a stock-out is 0.5 with scipy's exact interval; by cause, every label in order."""
    found = summarise(study([GOOD_YEAR, BAD_YEAR]), confidence=0.9)
    exact = stats.binomtest(1, 2).proportion_ci(0.9)
    half = pytest.approx({"estimate": 0.5, "low": exact.low, "high": exact.high, "confidence": 0.9})
    assert only(found, "stock_out_probability") == half
    assert only(found, "interruption_probability") == half
    causes = only(found, "probability_by_cause")
    assert list(causes) == list(CAUSE_LABELS.values())
    assert [label for label, entry in causes.items() if entry["estimate"] > 0] == ["changeover", "no power"]


def test_an_interruption_by_handling_is_no_stock_out():
    """Slow staff interrupt a patient without the supply having failed."""
    slow = outcome(interruptions=by_cause(changeover=1, no_regulator=2))
    found = summarise(study([slow]))
    assert only(found, "stock_out_probability")["estimate"] == 0
    assert only(found, "interruption_probability")["estimate"] == 1
    assert only(found, "stock_outs_per_year")["mean"] == 0
    assert only(found, "interruptions_per_year")["all"]["mean"] == 3


@pytest.mark.parametrize(
    ("measure", "mean"),
    [
        ("stock_outs_per_year", 1),
        ("days_with_unserved", 1),
        ("unserved_patient_hours", 5.5),
        ("patients_affected", 1.5),
        ("longest_gap_hours", 30_000 / 3_600 / 2),
        ("fill_rate", 1_400 / 1_600),
        ("empty_shelf_hours", 1),
        ("annual_cost", 100 + (160 + 20 + 100) / 2),
        ("cost_per_patient", 2 * (100 + 140) / (30 + 40)),
        ("cost_per_1000_l", 2 * (100 + 140) / 1.4),
        ("patients", 40),
        ("transferred_patients", 5),
        ("litres_needed", 800),
        ("litres_delivered", 700),
        ("cylinders_used", 4.5),
        ("cylinders_delivered", 4),
        ("deliveries", 1),
        ("power_cuts", 2.5),
        ("under_served_patient_hours", 2.5),
        ("patients_under_served", 2),
        ("litres_missing_from_reduced_flow", 30),
    ],
)
def test_means_of_a_good_and_a_bad_year_worked_by_hand(measure, mean):
    """Each mean over two years, in hours, litres and crowns; the bounds hold it and respect nought and one."""
    entry = only(summarise(study([GOOD_YEAR, BAD_YEAR])), measure)
    found, low, high = mean_and_bounds(entry)
    assert found == pytest.approx(mean)
    assert low < mean < high
    assert measure.endswith("cost") or "cost" in measure or low >= 0
    assert measure != "fill_rate" or high <= 1


def test_means_by_length_cause_and_item_worked_by_hand():
    """Dicts of means keep their labels and halve the bad year's figures."""
    found = summarise(study([GOOD_YEAR, BAD_YEAR]))
    lengths = {label: entry["mean"] for label, entry in only(found, "interruptions_per_year").items()}
    assert lengths == dict(zip(("all", *LENGTH_LABELS), (1.5, 1.5, 1, 0.5, 0), strict=True))
    hours = {label: entry["mean"] for label, entry in only(found, "unserved_hours_by_cause").items()}
    assert list(hours) == list(CAUSE_LABELS.values())
    assert (hours["no power"], hours["changeover"], sum(hours.values())) == (5, 0.5, 5.5)
    items = {item: entry["mean"] for item, entry in only(found, "cost_by_item").items()}
    assert items == {"cylinders": 100, "refill": 90, "stock change": 0, "transport": 50}


def test_interval_of_a_mean_against_scipy_stats():
    """Unserved hours over five years carry scipy's t interval, cut off at nought."""
    hours = [0, 10, 20, 0, 5]
    years = [outcome(k, unserved_s=by_cause(no_cylinder=h * 3_600)) for k, h in enumerate(hours)]
    low, high = stats.t.interval(0.95, 4, np.mean(hours), stats.sem(hours))
    assert low < 0
    found = only(summarise(study(years)), "unserved_patient_hours")
    assert mean_and_bounds(found) == pytest.approx((7, 0, high))


def test_a_horizon_of_73_days_is_scaled_to_a_year():
    """Counts and hours are five times as much a year; probabilities, gaps and the fill rate are as they were."""
    year = summarise(study([GOOD_YEAR, BAD_YEAR]))
    horizon = replace(ALONE, horizon_s=73 * DAY_S)
    outcomes = [replace(o, horizon_s=73 * DAY_S) for o in (GOOD_YEAR, BAD_YEAR)]
    fifth = summarise(study(outcomes, hospitals=(horizon,)))
    assert fifth["horizon_days"] == 73
    for measure in ("stock_outs_per_year", "unserved_patient_hours", "empty_shelf_hours", "litres_needed"):
        assert only(fifth, measure)["mean"] == pytest.approx(5 * only(year, measure)["mean"])
    for measure in ("stock_out_probability", "longest_gap_hours", "fill_rate"):
        assert only(fifth, measure) == pytest.approx(only(year, measure))


def test_none_seen_is_told_with_its_upper_bound():
    """In 200 calm years the chance may still be 1.49 % (1 - 0.05^(1/200)), and no mean has a width of nought."""
    calm = summarise(study([replace(GOOD_YEAR, replication=k) for k in range(200)]))
    probability = only(calm, "stock_out_probability")
    assert (probability["estimate"], probability["low"]) == (0, 0)
    assert probability["high"] == pytest.approx(1 - 0.025 ** (1 / 200))
    assert probability["note"] == "none seen in 200 years: below 1.49 % (95 %, one-sided)"
    assert only(calm, "stock_outs_per_year") == {
        "mean": 0,
        "low": 0,
        "high": pytest.approx(3.689 / 200, abs=1e-5),  # Garwood 1936: half the 97.5 % point of chi-squared, 2 df
        "note": "none seen in 200 years: the chance of any is below 1.49 % (95 %, one-sided)",
    }


def test_values_all_alike_have_no_interval_but_fixed_costs_are_exact():
    """Thirty patients in both years show no spread; capital is known without a run and has no chance in it."""
    found = summarise(study([GOOD_YEAR, replace(GOOD_YEAR, replication=1)]))
    alike = {"mean": 30, "low": None, "high": None, "note": "the same in all 2 years"}
    assert only(found, "patients") == alike
    assert only(found, "cost_by_item")["cylinders"] == {"mean": 100, "low": 100, "high": 100}
    capital = replace(ALONE, costs=replace(COSTS, refill=0, trip=0))
    owned = summarise(study([GOOD_YEAR, BAD_YEAR], hospitals=(capital,)))
    assert only(owned, "annual_cost") == {"mean": 100, "low": 100, "high": 100}


def test_one_replication_gives_means_without_intervals():
    """A single year has means, no bounds, and the reason; JSON never meets a nan."""
    found = summarise(study([BAD_YEAR], [GOOD_YEAR]))
    note = "one replication gives no interval"
    assert only(found, "stock_outs_per_year") == {"mean": 2, "low": None, "high": None, "note": note}
    assert only(found, "fill_rate") == {"mean": 0.8, "low": None, "high": None, "note": note}
    assert json.loads(json.dumps(found, allow_nan=False)) == found


def test_numbers_are_plain_and_finite():
    """Every number is a Python float, int or bool, so that any JSON writer takes it."""

    def leaves(value):
        return (
            [leaf for v in value for leaf in leaves(v)]
            if isinstance(value, list)
            else (leaves(list(value.values())) if isinstance(value, dict) else [value])
        )

    found = leaves(summarise(study([GOOD_YEAR, BAD_YEAR], [BAD_YEAR, GOOD_YEAR])))
    assert {type(leaf) for leaf in found} == {float, int, bool, str, type(None)}
    assert all(abs(leaf) < 1e9 for leaf in found if type(leaf) is float)


def test_what_a_strategy_does_not_have_is_none():
    """Without cylinders there is no shelf, without prices no cost, without patients no cost of one."""
    found = summarise(study([outcome()], hospitals=(replace(UNITS, costs=None),)))
    absent = ("empty_shelf_hours", "cylinders_used", "deliveries", "annual_cost")
    assert [only(found, measure) for measure in absent] == [None] * 4
    assert only(found, "cost_by_item") == {}
    nobody = summarise(study([outcome()], [outcome()]))
    assert only(nobody, "cost_per_patient") is None
    assert only(nobody, "cost_per_1000_l") is None
    fill_rate = {"mean": 1.0, "low": None, "high": None, "note": "no oxygen was needed"}
    assert only(nobody, "fill_rate") == fill_rate
    assert "fill_rate" not in [d["measure"] for d in nobody["differences"]]


def differences(found):
    """Return the differences of a summary by measure."""
    return {entry["measure"]: entry for entry in found["differences"]}


def test_differences_are_later_less_earlier_over_the_same_replications():
    """Pairs of years: Newcombe's interval for the probability, scipy's paired t for the hours."""
    rng = np.random.default_rng(5)
    hours = rng.integers(0, 4, (2, 30)) * np.array([[3], [1]])
    batches = [
        [
            outcome(
                k,
                unserved_s=by_cause(no_power=int(h) * 3_600),
                interruptions=(one := by_cause(no_power=int(h > 0))),
                stock_outs_by_cause=one,
            )
            for k, h in enumerate(row)
        ]
        for row in hours
    ]
    found = differences(summarise(study(*batches)))
    a, b = hours > 0
    cells = (int((a & b).sum()), int((a & ~b).sum()), int((~a & b).sum()), int((~a & ~b).sum()))
    newcombe = newcombe_paired(*cells)
    assert mean_and_bounds(found["stock_out_probability"]) == pytest.approx(
        (b.mean() - a.mean(), newcombe.low, newcombe.high)
    )
    low, high = stats.ttest_rel(hours[1], hours[0]).confidence_interval()
    expected = (hours[1].mean() - hours[0].mean(), low, high)
    assert mean_and_bounds(found["unserved_patient_hours"]) == pytest.approx(expected)
    assert (found["annual_cost"]["from"], found["annual_cost"]["to"]) == ("cylinders only", "concentrators only")


def test_differences_run_over_every_pair_in_the_order_of_the_file():
    """Three strategies make three pairs; cost is compared only where both have prices."""
    free = replace(UNITS, strategy=Strategy("free units", ("concentrator",)), costs=None)
    found = summarise(study(*[[GOOD_YEAR, BAD_YEAR]] * 3, hospitals=(ALONE, free, UNITS)))
    names = [(d["from"], d["to"]) for d in found["differences"] if d["measure"] == "fill_rate"]
    first, second, third = "cylinders only", "free units", "concentrators only"
    assert names == [(first, second), (first, third), (second, third)]
    costed = [(d["from"], d["to"]) for d in found["differences"] if d["measure"] == "annual_cost"]
    assert costed == [(first, third)]


def test_difference_in_fill_rate_is_that_of_the_two_ratios():
    """Litres over litres for each strategy, not a mean of yearly rates; no spread means no bounds."""
    short = [replace(o, cylinder_gas=o.cylinder_gas // 2) for o in (GOOD_YEAR, BAD_YEAR)]
    found = differences(summarise(study([GOOD_YEAR, BAD_YEAR], short)))
    assert found["fill_rate"]["mean"] == pytest.approx((300 + 500) / 1_600 - 1_400 / 1_600)
    same = differences(summarise(study([GOOD_YEAR, BAD_YEAR], [GOOD_YEAR, BAD_YEAR])))
    assert same["fill_rate"]["mean"] == 0
    assert (same["fill_rate"]["low"], same["fill_rate"]["note"]) == (None, "the same in all 2 years")
    assert same["stock_out_probability"]["low"] < 0 < same["stock_out_probability"]["high"]


def test_replication_table_keeps_one_value_a_replication():
    """The columns behind the means, for tables and charts: shape (n,), in the order of the replications."""
    table = replication_table(ALONE, [GOOD_YEAR, BAD_YEAR])
    assert table.stock_out.tolist() == [False, True]
    assert table.values["unserved_patient_hours"].tolist() == [0, 11]
    assert table.values["patients_treated"].tolist() == [30, 40]
    assert table.cost.tolist() == [100, 100 + 160 + 20 + 100]
    assert {column.shape for column in table.values.values()} == {(2,)}
    assert replication_table(replace(ALONE, costs=None), [GOOD_YEAR]).cost is None


@pytest.mark.parametrize(
    ("batch", "words"),
    [
        ((1, YEAR_S), "1 year"),
        ((200, YEAR_S), "200 years"),
        ((200, 364 * DAY_S), "200 replications of 364 days"),
        ((1, DAY_S // 2), "1 replication of 0.5 days"),
    ],
)
def test_batch_in_words(batch, words):
    """Years are named only where the horizon is one."""
    assert batch_in_words(*batch) == words


def dark_day(p, gap_s=600):
    """Return a scenario of one day without power in which a stock-out has chance p.

    Any patient still there after the tolerated gap is one, so the chance of none is exp(-rate x (day - gap)), the
    Poisson law.
    """
    adults = PatientClass(
        name="adults",
        admissions_per_day=-log(1 - p) * DAY_S / (DAY_S - gap_s),
        hypoxaemic=1.0,
        flow_ml_min=Law("constant", (1_000,)),
        duration_s=Law("constant", (DAY_S,)),
    )
    dark = replace(UNITS, horizon_s=DAY_S, patients=(adults,), grid=Grid(never_on=True), costs=None)
    return Scenario("Dark Day", "", "dark-day.yaml", "0" * 16, {"dark": dark})


def coverage_of_the_tool(studies, replications, seed, p=0.05):
    """Return z of the share of studies whose stock-out interval holds p, against scipy's exact coverage."""
    scenario, hits = dark_day(p), 0
    for number in range(studies):
        found = summarise(run_study(scenario, replications=replications, seed=seed + number))
        entry = only(found, "stock_out_probability")
        hits += entry["low"] <= p <= entry["high"]
    counts = np.arange(replications + 1)
    ends = [stats.binomtest(int(k), replications).proportion_ci(0.95) for k in counts]
    covers = np.array([end.low <= p <= end.high for end in ends])
    exact = stats.binom.pmf(counts, replications, p)[covers].sum()
    return (hits / studies - exact) / sqrt(exact * (1 - exact) / studies)


@pytest.mark.theory
def test_coverage_of_whole_studies_against_exact_coverage():
    """Of 150 studies of 30 replications run through the model, as many hold the truth as the binomial says."""
    assert abs(coverage_of_the_tool(studies=150, replications=30, seed=1_000)) < 4


@pytest.mark.slow
@pytest.mark.theory
def test_coverage_of_whole_studies_against_exact_coverage_in_a_large_sample():
    """The same for 2,000 studies of 50 replications."""
    assert abs(coverage_of_the_tool(studies=2_000, replications=50, seed=50_000)) < 4


def test_measures_by_class_worked_by_hand():
    """Two years of two classes: means of each measure, children apart from adults."""
    kinds = tuple(PatientClass(name, 1.0, 1.0, ONE, ONE) for name in ("children", "adults"))
    years = [
        outcome(k, arrivals_by_class=(3, 5), patients_by_class=(4, 5), interruptions_by_class=(k, 0),
                unserved_s_by_class=(7_200 * k, 1_800), transferred_by_class=(0, 2 * k))
        for k in range(2)
    ]  # fmt: skip
    found = only(summarise(study(years, hospitals=(replace(ALONE, patients=kinds),))), "by_class")
    means = {name: {measure: entry["mean"] for measure, entry in each.items()} for name, each in found.items()}
    assert means == {
        "children": {"arrivals": 3, "patients": 4, "interruptions_per_year": 0.5, "unserved_patient_hours": 1,
                     "transferred_patients": 0},
        "adults": {"arrivals": 5, "patients": 5, "interruptions_per_year": 0, "unserved_patient_hours": 0.5,
                   "transferred_patients": 1},
    }  # fmt: skip


@pytest.mark.parametrize(
    ("measure", "unit"),
    [
        ("stock_out_probability", "share of replications, 0 to 1"),
        ("probability_by_cause", "share of replications, 0 to 1"),
        ("stock_outs_per_year", "number per 365 days"),
        ("interruptions_per_year", "number per 365 days"),
        ("days_with_unserved", "days per 365 days"),
        ("unserved_patient_hours", "patient-hours per 365 days"),
        ("unserved_hours_by_cause", "patient-hours per 365 days"),
        ("longest_gap_hours", "hours"),
        ("fill_rate", "share, 0 to 1"),
        ("empty_shelf_hours", "hours per 365 days"),
        ("annual_cost", "crowns per 365 days"),
        ("cost_per_patient", "crowns per patient treated"),
        ("cost_per_1000_l", "crowns per 1,000 L delivered"),
        ("litres_needed", "litres per 365 days"),
        ("transferred_patients", "patients per 365 days"),
        ("transfer_travel_hours", "hours per 365 days"),
        ("low_concentration_patient_hours", "patient-hours per 365 days"),
        ("share_of_days_of_cover", "share of days, 0 to 1"),
        ("by_class.unserved_patient_hours", "patient-hours per 365 days"),
    ],
)
def test_the_unit_of_a_measure(measure, unit):
    """Each kind of measure by its name."""
    assert unit_of(measure, "crowns") == unit


def test_what_is_sent_part_used_is_counted_where_the_scenario_sends_any():
    """Four cylinders with 600 L in a year; without the rule there is no such figure."""
    sending = replace(ALONE, cylinders=replace(CYLINDERS, send_part_used=SendPartUsed()))
    year = Outcome(replication=0, horizon_s=YEAR_S, cylinders_sent=4, sent_gas=600 * LITRE)
    found, plain = (replication_table(each, [year]).values for each in (sending, ALONE))
    names = ("cylinders_sent_part_used", "litres_sent_part_used")
    assert [found[name].tolist() for name in names] == [[4.0], [600.0]]
    assert [name for name in names if name in plain] == []


def test_what_a_battery_still_gives_is_a_share_of_new_where_it_fades():
    """2.4 kWh of 3 kWh; a battery that never fades, and a hospital without units, have no such figure."""
    battery = Battery(3 * KWH, 600, fade=Fade(per_cycle=0.0004))
    fading = replace(UNITS, power=Power(battery=battery))
    year = Outcome(replication=0, horizon_s=YEAR_S, battery_usable_ws=2_400 * 3_600, battery_new_ws=3 * KWH)
    assert replication_table(fading, [year]).values["battery_at_the_end"].tolist() == [0.8]
    lasting = replace(UNITS, power=Power(battery=replace(battery, fade=None)))
    for plain in (lasting, replace(fading, concentrators=None)):
        assert "battery_at_the_end" not in replication_table(plain, [year]).values
