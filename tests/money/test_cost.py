"""Money: the annuity against published factors, and every item of a hospital's year worked by hand."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import pytest

from o2sim.money.cheque import capital, recurrent
from o2sim.money.cost import FIXED_ITEMS, LISTED, annual_cost, equivalent_annual_cost
from o2sim.outcome import Outcome
from o2sim.scenario.types.hospital import (
    DAY_S,
    Bedside,
    ByOximeter,
    Concentrators,
    Costs,
    Cylinders,
    Equipment,
    Hospital,
    Law,
    Noticed,
    Splitters,
    Strategy,
)

LITRE = 60_000  # gas is counted in 1/60 mL
COSTS = Costs(
    currency="crowns",
    discount_rate=0.03,
    cylinder=Equipment(price=150, life_years=10),
    cylinder_rent_per_year=12,
    refill=20,
    regulator=Equipment(price=50, life_years=5, salvage=10),
    concentrator=Equipment(price=648, life_years=7),
    concentrator_service_per_year=60,
    repair=45,
    trip=80,
    transport_per_cylinder=1.5,
    electricity_per_kwh=0.18,
    consumables_per_patient=2.5,
)
CYLINDERS = Cylinders(
    fleet=40,
    full_at_start=35,
    full_gas=7_000 * LITRE,
    residual_gas=300 * LITRE,
    lost_gas=150 * LITRE,
    regulators=12,
    leak_ml_min=0,
    gauge_check_s=0,
    change_time_s=0,
    filling_pressure_kpa=13_700,
    residual_pressure_kpa=800,
    flow_lost_below_kpa=400,
    fill_temperature_c=15,
    water_capacity_l=47,
)
CONCENTRATORS = Concentrators(count=5, rated_flow_ml_min=5_000, outlets=1, power_w=350)
MIXED = Hospital(
    strategy=Strategy("mixed", ("concentrator", "cylinder")),
    start=dt.date(2027, 1, 1),
    horizon_s=365 * DAY_S,
    warm_up_s=0,
    tolerated_gap_s=600,
    response_time_s=300,
    patients=(),
    cylinders=CYLINDERS,
    concentrators=CONCENTRATORS,
    costs=COSTS,
)
YEAR = Outcome(
    replication=0,
    horizon_s=365 * DAY_S,
    patients=800,
    transferred=20,
    opening_usable_gas=35 * 6_700 * LITRE,
    closing_usable_gas=30 * 6_700 * LITRE,
    cylinders_delivered=300,
    cylinders_emptied=304,
    deliveries=30,
    concentrator_failures=3,
    concentrator_running_s=20_000 * 3_600,
)


@pytest.mark.theory
def test_equivalent_annual_cost_against_the_annuity():
    """K 1,200 over 5 years at 5 %, salvage 100, upkeep 150: 409.0723 a year (engineering economy textbooks)."""
    assert equivalent_annual_cost(1200, 5, 0.05, salvage=100, yearly=150) == pytest.approx(409.0723, abs=5e-5)


@pytest.mark.theory
@pytest.mark.parametrize(("life", "factor"), [(5, 0.21835), (7, 0.16051), (10, 0.11723)])
def test_capital_recovery_against_the_table_at_3_percent(life, factor):
    """Capital recovery factors at 3 % to the five digits of the usual table."""
    assert equivalent_annual_cost(1.0, life, 0.03) == pytest.approx(factor, abs=5e-6)


@pytest.mark.theory
@pytest.mark.parametrize(("life", "rate"), [(1, 0.4), (7, 0.03), (12, 1e-9), (40, 0.15)])
def test_equivalent_annual_cost_against_discounting_year_by_year(life, rate):
    """The level sum, paid at each year's end, is worth the price less the salvage when discounted to today."""
    level = equivalent_annual_cost(1200, life, rate, salvage=100)
    paid = sum(level / (1 + rate) ** year for year in range(1, life + 1))
    assert paid == pytest.approx(1200 - 100 / (1 + rate) ** life, rel=1e-6)


def test_equivalent_annual_cost_without_interest_is_spread_evenly():
    """At a rate of 0 the loss in value is divided by the life; a very long life costs the interest alone."""
    assert equivalent_annual_cost(1200, 5, 0.0, salvage=100, yearly=150) == 370
    assert equivalent_annual_cost(1200, 1e9, 0.05) == pytest.approx(60)


@pytest.mark.parametrize(
    ("life", "rate", "message"), [(0, 0.05, "longer than zero, not 0 years"), (5, -0.01, "negative: -0.01")]
)
def test_equivalent_annual_cost_refuses_what_cannot_be(life, rate, message):
    """A life of nought or a negative rate is an error that says what was found."""
    with pytest.raises(ValueError, match=message):
        equivalent_annual_cost(1200, life, rate)


def test_annual_cost_of_a_mixed_hospital_worked_by_hand():
    """Each item of one year: factors of the 3 % table to seven digits, the rest by multiplication."""
    assert annual_cost(MIXED, YEAR) == pytest.approx(
        {
            "cylinders": 40 * 150 * 0.1172305,
            "cylinder rent": 480,
            "regulators": 12 * (50 * 0.2183546 - 10 * 0.1883546),  # sinking fund factor, 5 years
            "refill": 6_080,  # on cylinders emptied
            "stock change": 20,  # 300 bought and five fills' worth from stock, less the 304 emptied
            "transport": 2_400 + 450,
            "concentrators": 5 * 648 * 0.1605064,
            "concentrator service": 300,
            "concentrator repair": 135,
            "electricity": 1_260,  # 7,000 kWh
            "consumables": 1_950,  # 780 treated
        },
        rel=1e-6,
    )


def test_annual_cost_scales_running_items_to_a_year_but_not_capital():
    """The same events within 73 days are five times as much a year; what is owned costs the same."""
    year, fifth = annual_cost(MIXED, YEAR), annual_cost(MIXED, replace(YEAR, horizon_s=73 * DAY_S))
    assert set(year) > FIXED_ITEMS - {
        "generator", "battery", "solar panels", "stabiliser", "oxygen monitors", "analyser", "splitters",
        "humidifiers", "oximeters", "manifold", *LISTED, "freight", "duty", "installation", "cylinder tests",
        "training", "other"}  # fmt: skip
    assert fifth == pytest.approx({k: v if k in FIXED_ITEMS else 5 * v for k, v in year.items()})


def test_oximeters_that_alarm_cost_their_annuity():
    """3 % over 3 years, factor 0.3535304 (0.03 / (1 - 1.03^-3)): four at 250 USD; bought in the first year."""
    noticed = Noticed(by_oximeter=ByOximeter(4, Law("constant", (180.0,))))
    prices = replace(MIXED.costs, oximeter=Equipment(250.0, 3.0))
    with_them, without = replace(MIXED, costs=prices, noticed=noticed), replace(MIXED, costs=prices)
    assert annual_cost(with_them, YEAR)["oximeters"] == pytest.approx(4 * 250 * 0.3535304)
    assert "oximeters" not in annual_cost(without, YEAR)
    assert capital(with_them) - capital(without) == 4 * 250


def test_splitters_and_humidifiers_cost_their_annuity_where_there_are_any():
    """3 % over 10 years, factor 0.1172305: two splitters at 60, five humidifiers at 20; none where not counted."""
    prices = replace(MIXED.costs, splitter=Equipment(60.0, 10.0), humidifier=Equipment(20.0, 10.0))
    plain = replace(MIXED, costs=prices)
    shared = replace(plain.cylinders, splitters=Splitters(2, 4))
    both = annual_cost(replace(plain, cylinders=shared, bedside=Bedside(humidifiers=5)), YEAR)
    assert both["splitters"] == pytest.approx(2 * 60 * 0.1172305)
    assert both["humidifiers"] == pytest.approx(5 * 20 * 0.1172305)
    assert {"splitters", "humidifiers"} & set(annual_cost(plain, YEAR)) == set()


def test_a_bigger_first_fill_is_not_free_gas():
    """Buying 10 fills less because the stock began 10 fills higher costs the same: the gas used is paid for."""
    gas = 10 * 6_700 * LITRE
    richer = replace(YEAR, opening_usable_gas=YEAR.opening_usable_gas + gas, cylinders_delivered=290)
    plain, rich = annual_cost(MIXED, YEAR), annual_cost(MIXED, richer)
    assert rich["refill"] == plain["refill"]
    assert rich["stock change"] == pytest.approx(plain["stock change"])
    dearer = annual_cost(MIXED, replace(YEAR, closing_usable_gas=YEAR.closing_usable_gas - gas))
    assert dearer["stock change"] - plain["stock change"] == pytest.approx(200)


def test_by_gas_a_refill_costs_what_was_missing_in_the_cylinder():
    """300 delivered for empties that held 15 fills: 285 to pay, and five from the stock at 6,700 L of 7,000."""
    by_gas = replace(MIXED, cylinders=replace(CYLINDERS, billing="by gas"))
    year = replace(YEAR, returned_gas=200_000 * LITRE, refilled_gas=105_000 * LITRE)
    found, whole = annual_cost(by_gas, year), annual_cost(MIXED, year)
    assert found["refill"] == pytest.approx(20 * 285)
    assert found["stock change"] == pytest.approx(20 * 5 * 6_700 / 7_000)
    assert {item: found[item] - whole[item] for item in found if found[item] != whole[item]}.keys() == {
        "refill",
        "stock change",
    }
    assert recurrent(MIXED, year) - recurrent(by_gas, year) == pytest.approx(20 * 15)


def test_what_is_sent_part_used_is_a_refill_like_an_emptied_one():
    """Three sent beside 301 emptied: 304 refills; together with the stock change the same money as before."""
    sent = annual_cost(MIXED, replace(YEAR, cylinders_emptied=301, cylinders_sent=3))
    assert sent == annual_cost(MIXED, YEAR)


def test_stock_is_valued_above_the_pressure_where_flow_is_lost():
    """Where flow is lost before the residual pressure, a fill is what lies above that, as in the model's stock."""
    cylinders = replace(CYLINDERS, lost_gas=500 * LITRE)
    gas = 5 * 6_500 * LITRE
    fall = replace(YEAR, opening_usable_gas=gas, closing_usable_gas=0)
    assert annual_cost(replace(MIXED, cylinders=cylinders), fall)["stock change"] == pytest.approx(20)


def test_annual_cost_charges_only_what_the_strategy_uses():
    """Cylinders alone pay nothing for concentrators, and the other way round; the patients' items stay."""
    alone = annual_cost(replace(MIXED, concentrators=None), YEAR)
    units = annual_cost(replace(MIXED, cylinders=None), YEAR)
    assert set(alone) & set(units) == {"consumables"}
    assert alone | units == annual_cost(MIXED, YEAR)
    assert "electricity" in units
    assert "refill" in alone


def test_annual_cost_leaves_out_what_has_no_price():
    """Without prices there is nothing to say; with one price, one item; a per-cylinder tariff is transport."""
    assert annual_cost(replace(MIXED, costs=None), YEAR) == {}
    assert annual_cost(replace(MIXED, costs=Costs("crowns")), YEAR) == {}
    tariff = Costs("crowns", transport_per_cylinder=2)
    assert annual_cost(replace(MIXED, costs=tariff), YEAR) == {"transport": 600}
