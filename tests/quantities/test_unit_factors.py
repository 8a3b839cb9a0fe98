"""Factors that o2sim knows without asking pint, against pint."""

from fractions import Fraction
from pathlib import Path

from o2sim import load
from o2sim.quantities import units
from o2sim.quantities.unit_factors import KNOWN


def test_factors_against_pint() -> None:
    """Each factor is the one that pint finds in exact fractions."""
    quantity = units._registry().Quantity
    wrong = {
        pair: found
        for pair, found in KNOWN.items()
        if Fraction(quantity(Fraction(1), pair[0]).to(pair[1]).magnitude) != found
    }
    assert wrong == {}
    assert KNOWN["liter/minute", "milliliter/minute"] == 1_000


def test_a_scenario_in_common_units_never_asks_pint(monkeypatch) -> None:
    """Units that the shipped hospitals use are known: a command would take a third of a second longer."""

    def asked() -> None:
        raise AssertionError("pint was asked")

    monkeypatch.setattr(units, "_registry", asked)
    units._factor.cache_clear()
    found = load(Path(__file__).parents[2] / "scenarios" / "district_hospital.yaml")
    assert found.hospitals["mixed"].concentrators.rated_flow_ml_min == 5_000
