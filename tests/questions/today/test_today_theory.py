"""What `o2sim.today` says, from a file to its figures, against closed forms: through the front door alone.

Of an order that has been under way for a, a share S(a + t) / S(a) is still under way t later; of one met at a
random moment (1 / mean) x the integral of S from t on (Cox, Renewal Theory, 1962, from memory). An order-up-to
level is the quantile of the use over lead time and review (Silver, Pyke & Thomas, Inventory and Production
Management in Supply Chains, from memory).
"""

from __future__ import annotations

import heapq
import math

import pytest
from scipy import integrate, stats

import o2sim
from o2sim.scenario import loads

pytestmark = pytest.mark.theory
RUNS = 1_200
FULL_LITRES = 6_049.471822903  # of 6,400 L at 13,700 kPa down to 800 kPa, as `o2sim cylinder` has it
HEAD = """\
name: Theory ward
figures: ours
start: 2027-05-03
horizon: 28 days
response_time: 0 s
"""
ROAD = (
    HEAD
    + """\
patients: {{adults: {{admissions: 0.000001 / day, flow: 1 L/min, duration: 2 days}}}}
cylinders: {{content: 6400 L, fleet: 60, leak: 0 L/min, gauge_check: watched, change_time: 0 s}}
resupply: {{review: 7 days, reorder_point: 0, order_up_to: 1, lead_time: {law}, overtaking: {overtaking}}}
strategies: {{cylinders: {{sources: [cylinder]}}}}
now: {{counted: 2027-05-13 00:00, cylinders: {{full: 7, empty: 40}}, on_oxygen: [], on_order: {orders}}}
"""
)
LAWS = {
    "{gamma: {mean: 3 days, sd: 1.5 days}}": stats.gamma(4, scale=0.75),
    "{lognormal: {median: 4 days, geometric_sd: 1.8}}": stats.lognorm(math.log(1.8), scale=4),
    "{exponential: {mean: 5 days}}": stats.expon(scale=5),
}
PLACED = {0: "2027-05-13", 2: "2027-05-11", 9: "2027-05-04", None: "unknown"}


def z(found: float, expected: float, runs: int) -> float:
    """Return how many standard errors a share of so many runs is from what is expected."""
    return (found - expected) / math.sqrt(expected * (1 - expected) / runs)


def answer(text: str, days: int, runs: int, **settings):
    """Return what is said of a scenario written down."""
    return o2sim.today(loads(text), days=days, replications=runs, on="2027-05-13", **settings).record


def road(law: str, orders: str, overtaking: str = "false"):
    """Return the shares of mornings in which the next delivery had come by each of five midnights."""
    said = answer(ROAD.format(law=law, orders=orders, overtaking=overtaking), 5, RUNS)
    return [each.delivered for each in said.by_day]


@pytest.mark.parametrize("age", PLACED, ids=str)
@pytest.mark.parametrize("law", LAWS, ids=["gamma", "lognormal", "exponential"])
def test_an_order_under_way_against_cox(law, age):
    """Placed today, two and nine days ago, and nobody knows when: the chance that it has come by each midnight."""
    known, found = LAWS[law], road(law, f"[{{ordered: {PLACED[age]}, count: 10}}]")
    expected = [
        integrate.quad(known.sf, 0, day)[0] / known.mean()
        if age is None
        else 1 - known.sf(age + day) / known.sf(age)
        for day in range(1, 6)
    ]
    assert max(abs(z(*each, RUNS)) for each in zip(found, expected, strict=True)) < 4


def test_the_first_of_two_orders_against_cox():
    """Of two that may overtake, the first to come; of two that may not, the older one."""
    law = "{gamma: {mean: 3 days, sd: 1.5 days}}"
    orders = "[{ordered: 2027-05-11, count: 10}, {ordered: 2027-05-12, count: 5}]"
    known = LAWS[law]
    for overtaking in ("false", "true"):
        out = [known.sf(2 + day) / known.sf(2) for day in range(1, 6)]
        if overtaking == "true":
            out = [each * known.sf(1 + day) / known.sf(1) for day, each in enumerate(out, 1)]
        found = road(law, orders, overtaking)
        assert max(abs(z(here, 1 - each, RUNS)) for here, each in zip(found, out, strict=True)) < 4


EACH_ONE = (
    HEAD
    + """\
patients: {{adults: {{admissions: 2.1 / day, flow: 10 L/min, duration: 34028 s}}}}
cylinders: {{content: 6000 L, fleet: {fleet}, leak: 0 L/min, gauge_check: watched, change_time: 0 s,
            regulators: 20}}
resupply:
  {{review: {review}, reorder_point: 500, order_up_to: 600, lead_time: {{gamma: {{mean: 4 days, sd: 2 days}}}}}}
strategies: {{cylinders: {{sources: [cylinder]}}}}
now: {{counted: 2027-05-13 00:00, cylinders: {{full: {full}, empty: {empty}}}, on_oxygen: [], next_review: {next}}}
"""
)
LEAD = stats.gamma(4)  # mean 4 days, sd 2 days
A_DAY = 2.1


def more_than(full: int, days: float, lead_at_most: float = math.inf) -> float:
    """Return the chance that more than so many come within some days and a lead time, cut off where it may be."""
    cut = min(lead_at_most, 40)
    within = integrate.quad(lambda t: LEAD.pdf(t) * stats.poisson.sf(full, A_DAY * (days + t)), 0, cut, limit=200)[
        0
    ]
    return within + LEAD.sf(cut) * stats.poisson.sf(full, A_DAY * (days + cut))


@pytest.mark.parametrize(("full", "expected"), [(34, 0.049682), (33, 0.063097)])
def test_stock_over_lead_time_and_a_week_against_silver_pyke_and_thomas(full, expected):
    """Each patient uses one cylinder: the chance that 12 + 22, or one less, do not last to the order in a week."""
    assert more_than(full, 7) == pytest.approx(expected, abs=1e-6)
    said = answer(EACH_ONE.format(fleet=240, full=full, empty=200, review="40 days", next="2027-05-20"), 28, RUNS)
    assert abs(z(said.by_day[-1].without_supply.estimate, expected, RUNS)) < 4
    latest = more_than(full, 7, LEAD.ppf(0.95))  # until the order after today's can be there, 19 times in 20
    nothing = next(each for each in said.ordering.tried if each.order == 0)
    assert abs(z(nothing.without_supply.estimate, latest, nothing.replications)) < 4
    assert (said.ordering.reached, said.phone) == (True, False)


def test_the_least_order_against_silver_pyke_and_thomas():
    """24 full, an order today of a constant four days, the next a week later: 24 + q must last eleven days."""
    text = EACH_ONE.format(fleet=80, full=24, empty=56, review="7 days", next="2027-05-13")
    text = text.replace("{gamma: {mean: 4 days, sd: 2 days}}", "4 days")
    found = answer(text, 14, RUNS, target=0.055).ordering
    short = [float(stats.poisson.sf(24 + order, A_DAY * 11)) for order in range(57)]
    before_the_delivery = stats.poisson.sf(24, A_DAY * 4)
    assert before_the_delivery < 1e-5
    tried = [each for each in found.tried if short[each.order] > 0.005]
    apart = [z(each.without_supply.estimate, short[each.order], each.replications) for each in tried]
    assert max(map(abs, apart)) < 4
    assert found.least == next(order for order, chance in enumerate(short) if chance <= 0.055)


BEDS = (
    HEAD
    + """\
patients: {{adults: {{admissions: 0.000001 / day, flow: 2 L/min, duration: 500 days}}}}
cylinders: {{content: 6400 L, fleet: 60, leak: 0 L/min, gauge_check: watched, change_time: 0 s}}
resupply: {{review: 100 days, reorder_point: 0, order_up_to: 1, lead_time: 3 days}}
concentrators: {{count: 2, rated_flow: 10 L/min, outlets: 1, power: 350 W}}
power:
  grid: {{up: {{exponential: {{mean: 36 h}}}}, down: {{lognormal: {{median: 2 h, geometric_sd: 2.5}}}}}}
  battery: {{usable: 2.4 kWh, charge: 350 W, inverter_efficiency: 90 %}}
strategies: {{cylinders: {{sources: [cylinder]}}, both: {{sources: [concentrator, cylinder]}}}}
now:
  counted: 2027-05-13 08:00
  next_review: 2027-07-20
  grid: {{up: false, since: 2027-05-13 07:00}}
  cylinders: {{full: {full}, empty: 5}}
  on_oxygen: {beds}
"""
)


def bed(flow: float, gauge: int) -> str:
    """Return a patient on a cylinder since the day before."""
    return f"{{class: adults, flow: {flow} L/min, begun: 2027-05-12 10:00, source: cylinder, gauge: {gauge} bar}}"


def test_who_is_dry_first_by_hand():
    """Three beds, three full: each spare goes to whoever runs out next, by the litres of `o2sim cylinder`."""
    flows, gauges = (2.0, 1.0, 0.5), (80, 40, 110)
    litres = [3_315.9314354, 1_441.7929702, 4_752.6440090]
    beds = [(gas / flow / 60, place) for place, (gas, flow) in enumerate(zip(litres, flows, strict=True))]
    hours = [own for own, _ in beds]
    heapq.heapify(beds)
    for _ in range(3):
        dry, place = heapq.heappop(beds)
        heapq.heappush(beds, (dry + FULL_LITRES / flows[place] / 60, place))
    listed = "[" + ", ".join(map(bed, flows, gauges)) + "]"
    said = answer(BEDS.format(full=3, beds=listed), 10, 100, strategy="cylinders")
    found = said.cover
    assert [each.hours for each in found.bedsides] == pytest.approx(hours, rel=1e-6)
    assert found.hours == pytest.approx((sum(litres) + 3 * FULL_LITRES) / 3.5 / 60, rel=1e-6)
    assert (found.first_dry_hours, found.changes_until_dry) == (pytest.approx(beds[0][0], rel=1e-6), 3)
    # 124.85 h from 08:00 on the 13th is 12:51 on the 18th
    assert [each.without_supply.estimate for each in said.by_day] == [0] * 5 + [1] * 5


@pytest.mark.parametrize("engine", ["kernel", "reference"])
def test_a_constant_use_by_hand(engine):
    """31 full and 7.5 L/min: litres over flow, 416.7 h; the last is opened, and the shelf bare, 13.4 h before."""
    text = BEDS.format(full=31, beds=f"[{bed(7.5, 8)}]")
    said = answer(text, 21, 100, strategy="cylinders", engine=engine)
    hours = [number * FULL_LITRES / 7.5 / 60 for number in (30, 31)]
    assert said.cover.hours == pytest.approx(hours[1], rel=1e-5)
    assert said.cover.litres / said.cover.flow_l_min / 60 == pytest.approx(said.cover.hours)
    ends = [16 + 24 * place for place in range(21)]
    assert [each.bare.estimate for each in said.by_day] == [float(end >= hours[0]) for end in ends]
    assert [each.without_supply.estimate for each in said.by_day] == [float(end >= hours[1]) for end in ends]


def test_a_battery_against_the_conditional_law_of_a_cut():
    """2.4 kWh through 90 % for two units: 3.0857 h; a cut that has lasted an hour lasts longer with 0.28093."""
    beds = "[{class: adults, flow: 2 L/min, source: concentrator, count: 2}]"
    found = answer(BEDS.format(full=3, beds=beds), 2, 100, strategy="both").cover
    cut = stats.lognorm(math.log(2.5), scale=2)
    assert found.battery_hours == pytest.approx(2.4 * 0.9 / 0.7)
    assert found.cut_outlasts_battery == pytest.approx(cut.sf(1 + 2.4 * 0.9 / 0.7) / cut.sf(1), abs=1e-9)
    assert found.cut_outlasts_battery == pytest.approx(0.28093, abs=5e-6)
