"""Options: read as a grid, compared on one frontier, chosen with a stated probability, paid with a cheque."""

from __future__ import annotations

from dataclasses import fields, replace
from pathlib import Path

import numpy as np
import pytest
from scenario_texts import SMALL
from scipy.stats import beta, binomtest
from synthetic import COSTS, hospital, made_up_study, outcome, small_study

import o2sim
from o2sim.errors import O2simError, ScenarioError
from o2sim.measures.measures import summarise
from o2sim.measures.names import CHANCE, HOURS
from o2sim.money import cheque as cheques
from o2sim.money.cost import (
    CYLINDER_RENT,
    FIXED_ITEMS,
    GENERATOR,
    MANIFOLD,
    SERVICE,
    annual_cost,
    equivalent_annual_cost,
)
from o2sim.outcome import Outcome
from o2sim.questions.choose.frontier import frontier_of
from o2sim.questions.choose.options import (
    decide,
    options_scenario,
    surely_below,
    with_more_demand,
)
from o2sim.questions.choose.result import Ends, Intervals, Limits, MoreDemand, Option, Pick
from o2sim.runs.study import run_study
from o2sim.scenario.types.hospital import Equipment, Recorded
from o2sim.statistics.selection import mcnemar_one_sided, select_best
from o2sim.typed import as_json

OPTION = Option({}, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 1.0, Intervals(None, Ends(0.0, 0.0), Ends(0.0, 0.0)))
SCENARIOS = Path(__file__).parents[3] / "scenarios"
BOTH = SMALL.replace("strategies:", "concentrators: {count: 2, rated_flow: 5 L/min}\nstrategies:") + (
    "  \noptions:\n  of: cylinders only\n  vary:\n"
)


def with_options(*rows):
    """Return the small scenario with rows of choices."""
    return o2sim.loads(BOTH + "".join(f"    {row}\n" for row in rows))


def refused(*rows):
    """Return what is said of rows of choices that cannot be used."""
    with pytest.raises(ScenarioError) as caught:
        with_options(*rows)
    return [f"{problem.field}: {problem.found}" for problem in caught.value.problems]


def test_every_combination_is_an_option_of_its_own():
    """Two keys and a row of named changes give all combinations, each a hospital; the hash is as before."""
    plain = o2sim.loads(BOTH.split("options:")[0])
    told = with_options(
        "cylinders.fleet: [3, 6]",
        "resupply.review: [1 day, 7 days]",
        "gauges: {watched: {cylinders: {gauge_check: watched}}, rounds: {cylinders: {gauge_check: 4 h}}}",
    )
    assert told.options is not None
    assert len(told.options.hospitals) == 8
    name = "fleet 6, review 1 day, gauges rounds"
    found = told.options.hospitals[name]
    assert (found.cylinders.fleet, found.resupply.review_s, found.cylinders.gauge_check_s) == (6, 86_400, 14_400)
    assert told.options.choices[name] == ("6", "1 day", "rounds")
    assert (found.strategy.name, found.strategy.sources) == (name, ("cylinder",))
    assert told.hash == plain.hash
    assert plain.options is None


def test_an_option_is_what_a_strategy_with_the_same_changes_would_be():
    """Laid over by hand as a strategy, the same change gives the same hospital but for its name."""
    by_option = with_options("cylinders.fleet: [9]", "patients.child.admissions: [2 / day]").options
    by_hand = o2sim.loads(
        SMALL.replace(
            "[cylinder]}", "[cylinder], cylinders: {fleet: 9}, patients: {child: {admissions: 2 / day}}}"
        )
    )
    (option,), (strategy,) = by_option.hospitals.values(), by_hand.hospitals.values()
    assert replace(option, strategy=strategy.strategy) == strategy


def test_an_option_goes_before_what_its_strategy_changes():
    """Where the strategy states a key itself, the option's value holds; the rest stays the strategy's."""
    text = SMALL.replace("[cylinder]}", "[cylinder], cylinders: {fleet: 9, leak: 0.2 L/min}}")
    told = o2sim.loads(f"{text}options: {{of: cylinders only, vary: {{cylinders.fleet: [5]}}}}\n")
    (found,) = told.options.hospitals.values()
    assert (found.cylinders.fleet, found.cylinders.leak_ml_min) == (5, 200)


@pytest.mark.parametrize(
    ("rows", "said"),
    [
        (["cylinder.fleet: [3]"], "options.vary.cylinder.fleet: the key 'cylinder.fleet' is unknown"),
        (["cylinders.flet: [3]"], "options.vary.cylinders.flet: the key 'cylinders.flet' is unknown"),
        (["sources: [[cylinder]]"], "options.vary.sources: the key 'sources' is unknown"),
        (["patients.adult.flow: [1 L/min]"], "options.vary.patients.adult.flow[1]: the class 'adult' is unknown"),
        (["cylinders.fleet: [3, 3]"], "options.vary.cylinders.fleet[2]: found '3' a second time"),
        (["cylinders.fleet: [3, many]"], "options.vary.cylinders.fleet[2]: found 'many'"),
        (["cylinders.fleet: 3"], "options.vary.cylinders.fleet: found '3'"),
        (["stock: {small: 3}"], "options.vary.stock.small: found '3'"),
        (["stock: {small: {cylindres: {fleet: 3}}}"], "options.vary.stock.small.cylindres: the key 'cylindres'"),
        ([f"stock: {{{'x' * 61}: {{cylinders: {{fleet: 3}}}}}}"], f"options.vary.stock.{'x' * 61}: the name"),
        (["cylinders.full_at_start: [99]"], "options.vary.cylinders.full_at_start[1]: found 99 full"),
        ([f"cylinders.fleet: {list(range(1, 202))}"], "options.vary: found 201 combinations"),
    ],
)  # fmt: skip
def test_what_cannot_be_bought_is_told_at_its_line(rows, said):
    """Unknown keys and classes, values refused or repeated, and too many combinations are problems of the file."""
    told = refused(*rows)
    assert [each for each in told if each.startswith(said)] == told[:1]


def test_an_unknown_strategy_and_missing_keys_are_refused():
    """`of` names a strategy of the file; both keys are needed; the section is a mapping."""
    for text, said in (
        ("{of: mixd, vary: {cylinders.fleet: [3]}}", "no strategy is named 'mixd'"),
        ("{of: cylinders only}", "this key is missing"),
        ("3", "found '3'"),
        ("{of: cylinders only, vary: {}}", "found an empty mapping"),
    ):
        with pytest.raises(ScenarioError, match=said):
            o2sim.loads(f"{SMALL}options: {text}\n")


def test_long_names_are_numbered():
    """Where what is chosen makes too long a name the options are numbered; what they choose stands beside."""
    told = with_options(f"stock: {{{'a' * 58}: {{cylinders: {{fleet: 3}}}}, b: {{cylinders: {{fleet: 4}}}}}}")
    assert told.options.choices == {"option 1": ("a" * 58,), "option 2": ("b",)}


def test_a_scenario_without_options_says_how_to_state_them():
    """Asking for options that are not there is an error that shows a section."""
    with pytest.raises(O2simError, match="found no options; add a section such as"):
        options_scenario(o2sim.loads(SMALL))


@pytest.mark.parametrize(("larger", "smaller"), [(0, 0), (5, 0), (9, 3), (1, 4), (40, 22)])
def test_discordant_pairs_against_scipy(larger, smaller):
    """The one-sided exact test of McNemar is a binomial test with p = 1/2 on the discordant pairs."""
    expected = 1.0 if larger + smaller == 0 else binomtest(larger, larger + smaller, 0.5, "greater").pvalue
    assert mcnemar_one_sided(larger, smaller) == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize("kind", ["chances", "means"])
def test_the_selection_keeps_its_word_over_known_truths(kind):
    """In 300 repeats, dependent options, the best is among the named ones, and within the bound, in 95 % or more.

    The allowed number of failures is 15; it is nearly 0, for Bonferroni's shares are rather too small.
    """
    generator = np.random.default_rng(20261125)
    truth = np.array([0.06, 0.08, 0.08, 0.15, 0.4])
    failures = alone = 0
    for _ in range(300):
        luck = 0.5 * generator.random((200, 1)) + 0.5 * generator.random((200, 5))  # of a year, and of an option
        if kind == "chances":
            cut = np.array([np.sqrt(p / 2) for p in truth])  # P(luck < c) = 2 c^2 for c <= 1/2
            columns = {f"o{k}": luck[:, k] < cut[k] for k in range(5)}
        else:
            columns = {f"o{k}": 10 * truth[k] + luck[:, k] - 0.5 for k in range(5)}
        picked = select_best(columns)
        failures += not (
            "o0" in (picked.best, *picked.not_told_apart)
            and truth[int(picked.best[1])] - truth[0] <= picked.within / (1 if kind == "chances" else 10) + 1e-12
        )
        alone += picked.alone
        assert "o4" not in (picked.best, *picked.not_told_apart)  # 34 points worse in 200 pairs
    assert failures <= 15
    assert (alone > 0) == (kind == "means")  # two points apart cannot be told from 200 pairs; 0.2 in means can


def test_equal_options_are_never_told_apart():
    """Options that fare alike in every replication stay beside the best, and the tie goes to the cheaper."""
    same = np.array([True, False, True, False])
    picked = select_best({"a": same, "b": same.copy()}, ties={"a": (2.0,), "b": (1.0,)})
    assert (picked.best, picked.not_told_apart, picked.alone) == ("b", ("a",), False)
    means = select_best({"a": [1.0, 2.0], "b": [1.0, 2.0]})
    assert (means.not_told_apart, means.within) == (("b",), 0.0)
    assert select_best({"a": [1.0]}).alone
    assert select_best({"a": [1.0], "b": [2.0]}).not_told_apart == ("b",)  # one pair tells nothing
    with pytest.raises(ValueError, match="same number of replications"):
        select_best({"a": [1.0], "b": [2.0, 3.0]})
    with pytest.raises(ValueError, match="between 0 and 1"):
        select_best({"a": [1.0]}, 95)


def test_the_frontier_is_what_no_other_option_beats():
    """Of 200 random sets the frontier is, by brute force, the costs and chances that none other is below."""
    generator = np.random.default_rng(7)
    for _ in range(200):
        count = int(generator.integers(1, 12))
        costs, chances = generator.integers(0, 6, count), generator.integers(0, 6, count) / 5
        options = {
            str(k): replace(OPTION, annual_cost=float(costs[k]), stock_out_probability=float(chances[k]))
            for k in range(count)
        }
        points = {(float(a), float(b)) for a, b in zip(costs, chances, strict=True)}
        best = {one for one in points if not any(a <= one[0] and b <= one[1] and (a, b) != one for a, b in points)}
        names = frontier_of(options, CHANCE)
        assert [options[name].rank(CHANCE)[:2] for name in names] == sorted(best)


def test_no_option_meets_a_target_by_luck_more_often_than_stated():
    """Of 30 options that all just miss a target of 5 %, any passes in at most 5 % of 400 scans."""
    seen = np.random.default_rng(11).binomial(200, 0.0501, (400, 30))
    passed = sum(any(surely_below(int(each), 200, 30, 0.95) <= 0.05 for each in scan) for scan in seen)
    alone = sum(any(surely_below(int(each), 200, 1, 0.95) <= 0.05 for each in scan) for scan in seen)
    assert passed <= 20
    assert alone > 100  # what scanning without allowing for it would do


def priced(fleets, stock_outs):
    """Return a made-up study of options that differ in fleet, hence in cost, and in stock-outs of 200 years."""
    study = made_up_study(dict(zip(map(str, fleets), stock_outs, strict=True)))
    hospitals = {
        name: replace(each, cylinders=replace(each.cylinders, fleet=int(name), full_at_start=int(name)))
        for name, each in study.scenario.hospitals.items()
    }
    return replace(study, scenario=replace(study.scenario, hospitals=hospitals))


def test_the_frontier_by_hand():
    """Of 10, 20, 30 and 40 cylinders with 80, 30, 35 and 0 stock-outs in 200 years, 30 is dominated by 20."""
    told = decide(priced([10, 20, 30, 40], [80, 30, 35, 0]))
    assert told.frontier == ("10", "20", "40")
    assert {name: each.dominated_by for name, each in told.options.items() if each.dominated_by} == {"30": "20"}
    assert [(step.begins, step.ends) for step in told.steps] == [("10", "20"), ("20", "40")]
    assert told.steps[0].chance_less == pytest.approx(0.25)
    assert told.steps[0].hours_saved.mean == pytest.approx(50 * 20 / 200)
    assert told.best == Pick("40", 4)


def test_a_budget_and_a_target_choose_on_the_frontier():
    """The most reliable of what can be paid; the cheapest that is surely good enough, all options allowed for."""
    study = priced([10, 20, 30, 40], [80, 4, 35, 0])
    costs = {name: each.annual_cost for name, each in decide(study).options.items()}
    paid = decide(study, Limits(budget=costs["30"] + 1))
    assert (paid.within_budget.name, paid.chosen) == ("20", "20")
    sure = decide(study, Limits(target=0.07))  # 4 of 200 seen, each of four options bounded at 1 - 0.05/4
    assert sure.options["20"].upper_bound == pytest.approx(beta.ppf(1 - 0.05 / 4, 5, 196))  # Clopper-Pearson
    assert (sure.within_target.name, sure.chosen) == ("20", "20")
    stricter = decide(study, Limits(target=0.03))
    assert stricter.within_target.name == "40"
    never = decide(study, Limits(target=0.001))
    assert never.within_target.name is None
    assert never.within_target.why.endswith("200 replications cannot show less than 2.17 %, so run more")
    assert never.chosen == "40"


def test_what_cannot_be_paid_is_told_with_what_is_cheapest():
    """A budget below every option names the cheapest two ways; without prices it is an error."""
    study = priced([10, 20], [80, 30])
    told = decide(study, Limits(budget=1.0, capital=5_000.0)).within_budget
    assert told.name is None
    assert told.why.startswith("none fits: the cheapest by the year is “10” at ")
    assert decide(study, Limits(capital=3_500.0)).within_budget.name == "10"
    with pytest.raises(O2simError, match="a budget needs prices"):
        decide(made_up_study({"a": 1, "b": 2}, costs=None), Limits(budget=1.0))


def test_where_chances_tell_nothing_hours_decide():
    """Options that run short in nearly every year are compared by their unserved patient-hours."""
    told = decide(made_up_study({"a": 200, "b": 199}))
    assert told.measure == HOURS
    unpriced = decide(made_up_study({"a": 200, "b": 100}, costs=None))
    assert (unpriced.frontier, unpriced.steps, unpriced.cheque) == ((), (), None)


def test_purchases_are_what_the_yearly_cost_spreads():
    """The annuities of the purchases and the yearly cost of owning are the same sum, for every kind of thing."""
    priced_costs = replace(
        COSTS,
        regulator=Equipment(90.0, 7.0, 5.0),
        oxygen_monitor=Equipment(50.0, 5.0),
        analyser=Equipment(300.0, 5.0),
        humidifier=Equipment(9.0, 2.0),
        cylinder_rent_per_year=0.0,
        refill=0.0,
        trip=0.0,
        electricity_per_kwh=0.0,
    )
    base = hospital(costs=priced_costs)
    whole = replace(
        base,
        concentrators=replace(base.concentrators, oxygen_monitor=True, analyser_check_s=86_400),
        bedside=replace(base.bedside, humidifiers=6),
    )
    spread = sum(
        item.count * equivalent_annual_cost(item.price, item.life_years, 0.03, salvage=item.salvage)
        for item in cheques.purchases(whole)
    )
    assert spread == pytest.approx(sum(annual_cost(whole, outcome(0)).values()))
    assert len(cheques.purchases(whole)) == 6
    assert cheques.recurrent(whole, outcome(0)) == pytest.approx(0.0, abs=1e-9)


def all_bought(rules):
    """Return a hospital that pays for its gifts: yearly cost counts them at their price, the cheque at nothing."""
    costs = rules.costs
    things = (
        {} if costs is None else {name: each for name, each in vars(costs).items() if isinstance(each, Equipment)}
    )
    own = {name: replace(each, paid_by="own") for name, each in things.items()}
    return replace(rules, costs=replace(costs, **own)) if own else rules


@pytest.mark.parametrize("path", sorted(SCENARIOS.glob("*.yaml")), ids=lambda path: path.stem)
def test_purchases_of_the_demos_are_what_their_yearly_costs_spread(path):
    """In every shipped hospital the annuities are the yearly costs of owning, service contracts left out."""
    for each in o2sim.load(path).hospitals.values():
        sizes = len(each.cylinders.each) if each.cylinders else 0
        by_size = {f.name: (0,) * sizes for f in fields(Outcome) if f.name.endswith("_by_size")}
        charged = annual_cost(each, replace(outcome(0), **by_size))
        owned = sum(amount for item, amount in charged.items() if item in FIXED_ITEMS - {CYLINDER_RENT, SERVICE})
        if charged:
            owned -= each.costs.manifold_service_per_year if MANIFOLD in charged else 0.0
            owned -= each.costs.generator_service_per_year if GENERATOR in charged else 0.0
        spread = sum(
            item.count
            * equivalent_annual_cost(item.price, item.life_years, each.costs.discount_rate, salvage=item.salvage)
            for item in cheques.purchases(all_bought(each))
        )
        assert spread == pytest.approx(owned)


def test_the_cheque_by_hand():
    """60 cylinders at 300, 5 units at 900, 60 fillings at 18; units of 7 years are bought again in year 8."""
    told = cheques.cheque(hospital(), [outcome(0, cylinders_delivered=100, deliveries=10)])
    assert told["first_year_capital"] == 60 * 300 + 5 * 900 + 60 * 18
    assert told["recurrent_a_year"]["mean"] == pytest.approx(60 * 10 + 100 * 18 + 10 * 60)  # rent, gas, trips
    assert told["recurrent_a_month"]["mean"] == pytest.approx(3_000 / 12)
    assert told["replacements"] == [{"year": 8, "items": {"concentrators": 4_500.0}, "amount": 4_500.0}]
    assert cheques.cheque(hospital(costs=None), [outcome(0)]) is None
    assert (cheques.capital(hospital(costs=None)), cheques.recurrent(hospital(costs=None), outcome(0))) == (0, 0)


def test_short_lives_come_back_more_than_once():
    """A thing of 2.5 years is bought again as years 3, 6 and 8 begin, each time less its salvage."""
    short = hospital(costs=replace(COSTS, cylinder=Equipment(), concentrator=Equipment(900.0, 2.5, 100.0)))
    found = cheques.replacements(short)
    assert [(each["year"], each["amount"]) for each in found] == [(3, 4_000.0), (6, 4_000.0), (8, 4_000.0)]


def test_more_demand_costs_more():
    """The option with a fifth more admissions costs what a study of that hospital says, which is more."""
    study = small_study()
    before = decide(study).options["mixed"]
    after = with_more_demand(study, "mixed")
    assert after.factor == 1.2
    assert after.found.annual_cost > before.annual_cost
    busier = [replace(each, admissions_per_day=1.2 * each.admissions_per_day) for each in hospital().patients]
    hospitals = {"mixed": replace(study.scenario.hospitals["mixed"], patients=tuple(busier))}
    again = run_study(replace(study.scenario, hospitals=hospitals), replications=6)
    assert (
        after.found.unserved_patient_hours
        == summarise(again)["strategies"]["mixed"]["unserved_patient_hours"]["mean"]
    )


def test_a_stopped_run_of_more_demand_loses_nothing():
    """Stopped there, the decision stands and says that the busier year was stopped."""

    def stop(*_, **__):
        raise KeyboardInterrupt

    told = with_more_demand(made_up_study({"a": 1}), "a", run=stop)
    assert as_json(told) == {"factor": 1.2, "complete": False, "why_not": "the run was stopped"}


def test_recorded_patients_are_not_multiplied():
    """Where a class comes from a register the busier year is not told, and the reason is."""
    study = made_up_study({"a": 1})
    register = Recorded("replay", 0, 1, (0,), (1_000,), (60,))
    patients = (replace(hospital().patients[0], recorded=register),)
    hospitals = {"a": replace(study.scenario.hospitals["a"], patients=patients)}
    told = with_more_demand(replace(study, scenario=replace(study.scenario, hospitals=hospitals)), "a")
    assert told == MoreDemand(1.2, True, "a register's patients cannot be multiplied")
