"""What people think: ranges as stated, draws by the PERT law, a mean in the law of the base, records beside."""

import numpy as np
import pytest
from scenario_texts import WHOLE
from scipy import stats
from supply_books import books, loads, orders, written

from o2sim.fits.found import THOUGHT, Number, Part
from o2sim.fits.supply.orders import order_parts
from o2sim.fits.thoughts import beside, drawn, law_values, placed, read_law_text, thought_parts
from o2sim.records.supply_rows import Thought
from o2sim.scenario.changing.override import original_of

LEAD = Thought(2, "resupply.lead_time.mean", "3 days", "5 days", "14 days", "asked")


def parts_of(*rows):
    """Return the parts of some thoughts."""
    return thought_parts(books(thoughts=rows), 1)


def test_a_thought_keeps_its_ends():
    """The ends stand as they were stated, and draws follow the PERT law of scipy's beta between them."""
    (part,) = parts_of(LEAD)
    assert written(part, LEAD.number) == "{low: 3 days, likely: 5 days, high: 14 days}"
    assert part.tier == THOUGHT
    values = np.array([float(text.removesuffix(" days")) for text in part.wholes[0].draws])
    law = stats.beta(1 + 4 * 2 / 11, 1 + 4 * 9 / 11, 3, 11)
    assert np.quantile(values, [0.05, 0.5, 0.95]) == pytest.approx(law.ppf([0.05, 0.5, 0.95]), rel=0.02)
    assert values.mean() == pytest.approx((3 + 4 * 5 + 14) / 6, rel=0.005)
    assert loads(part).resupply.lead_time_s.kind == "gamma"


def test_thoughts_of_two_keys_are_drawn_apart():
    """Two keys have nothing to do with each other, and a seed gives the same draws again."""
    one, other = (drawn(0, 1, 2, 1, key) for key in ("a", "b"))
    assert abs(np.corrcoef(one, other)[0, 1]) < 0.2
    assert drawn(0, 1, 2, 1, "a").tolist() == one.tolist()


@pytest.mark.parametrize(
    ("key", "low", "likely", "high"),
    [
        ("patients.adults.hypoxaemic", "5 %", "9 %", "15 %"),
        ("patients.children.admissions", "6 / day", "8 / day", "11 / day"),
        ("cylinders.fleet", "38", "40", "44"),
        ("power.grid.down.geometric_sd", "2", "2.5", "3"),
        ("cylinders.leak", "0.05 L/min", "100 mL/min", "0.3 L/min"),
        ("resupply.lead_time.mean", "72 h", "4 days", "1 week"),
    ],
)
def test_thoughts_of_all_kinds_load(key, low, likely, high):
    """Shares, rates, whole numbers, plain numbers and mixed units: written and drawn, all fit a scenario."""
    (part,) = parts_of(Thought(2, key, low, likely, high, "guess"))
    assert loads(part, 50)


def test_a_thought_without_width():
    """Three times the same is the number itself, without draws; the last row of a key counts."""
    parts = parts_of(LEAD, Thought(3, LEAD.number, "4 days", "4 days", "4 days"))
    assert [(part.wholes[0].text, part.wholes[0].draws) for part in parts] == [("4 days", ())]


def test_a_mean_goes_to_the_laws_own_parameter():
    """A range for a whole law is one of its mean: gamma has one, lognormal by its median becomes exponential."""
    (part,) = parts_of(Thought(2, "resupply.lead_time", "3 days", "5 days", "14 days"))
    gamma = placed(part, "{gamma: {mean: 4 days, sd: 2 days}}")
    assert gamma.wholes[0].key == "resupply.lead_time.gamma.mean"
    plain = placed(part, "{lognormal: {median: 4 days, geometric_sd: 2}}")
    assert plain.wholes[0].text == "{exponential: {mean: {low: 3 days, likely: 5 days, high: 14 days}}}"
    assert "has none" in plain.cautions[-1]
    assert placed(part, "4 days") == part
    assert loads(gamma)
    assert loads(plain)
    (named,) = parts_of(LEAD)
    assert placed(named, "{gamma: {mean: 4 days, sd: 2 days}}") == named
    assert original_of(WHOLE).scenario


def test_records_win_and_the_difference_is_said():
    """A lead time of a month was thought, records say 2 to 7 days: they do not meet; near ones do."""
    records = order_parts(books(orders=orders([(10 * k, 10 * k + 2 + k % 6) for k in range(36)])), 1)
    far, near = (
        Thought(2, LEAD.number, *ends)
        for ends in (("20 days", "30 days", "40 days"), ("2 days", "3 days", "9 days"))
    )
    assert "they do not meet; the records are taken" in beside(parts_of(far), records)[0].cautions[0]
    note = beside(parts_of(near), records)[0].cautions[0]
    assert note.startswith("resupply.lead_time.mean: people think 2 days to 9 days, records say mean 4.")
    assert "both meet" in note
    other = parts_of(Thought(2, "cylinders.fleet", "38", "40", "44"))
    assert beside(other, records) == other


def test_numbers_beside_thoughts():
    """A share of records in % meets one thought of in %, or does not."""
    key = "concentrators.never_repaired"
    given = Part("x", "Job cards", "rows", "", numbers=(Number(key, "%", 20, np.linspace(10, 30, 200)),))
    thought = parts_of(Thought(2, key, "40 %", "50 %", "60 %"))
    assert "records say 11 to 29 % (90 % range): they do not meet" in beside(thought, (given,))[0].cautions[0]


def test_laws_in_texts_are_read_back():
    """Texts of laws give their means and medians in the unit of the first, ranges at their likely value."""
    texts = ["{exponential: {mean: 4 days}}", "{lognormal: {median: 4 days, geometric_sd: 2}}", "4 days"]
    assert law_values(texts, "mean") == pytest.approx([4, 4 * np.exp(np.log(2) ** 2 / 2)])
    assert law_values(texts, "median") == pytest.approx([4 * np.log(2), 4])
    assert law_values(texts, "geometric_sd") == pytest.approx([2])
    ranged = "{exponential: {mean: {low: 3 days, likely: 5 days, high: 9 days}}}"
    assert read_law_text(ranged).parameters == (5 * 86_400,)
    assert read_law_text("{uniform: {low: 1 h, high: 2 h}}") is None
    assert law_values(["10 %"], "mean").tolist() == []
