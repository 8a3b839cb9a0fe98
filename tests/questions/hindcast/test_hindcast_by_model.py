"""A hindcast of a hospital with several models of concentrators: the list of units does not tell them apart."""

from __future__ import annotations

from small_books import TEXT, books, clock, day, weekly

from o2sim.questions.hindcast.inputs import checks
from o2sim.questions.hindcast.replay import replay
from o2sim.records.rows import Place
from o2sim.records.supply_rows import JobCard, Unit
from o2sim.scenario import loads

PLAIN = "concentrators: {count: 1, rated_flow: 5 L/min}\n"
MODELS = """concentrators:
  repair: {exponential: {mean: 4 days}}
  models:
    five: {rated_flow: 5 L/min, failure: {exponential: {mean: 1000 h}}}
    ten: {rated_flow: 10 L/min, failure: {exponential: {mean: 2000 h}}}
  units: [{model: five, count: 1}, {model: ten, count: 1}]
"""
LISTED = "concentrators: {rated_flow: 5 L/min, UNITS failure: {exponential: {mean: 1000 h}}, repair: 4 days}\n"
ALIKE = LISTED.replace("UNITS", "units: [{count: 1, owned: true, age: 90 h}, {count: 1}],")
OUT = (JobCard(4, 1, clock(3, 6), back=clock(5, 10)),)
UNITS = (Unit(4, 1, in_use_now=True), Unit(5, 2, in_use_now=True))


def replayed(concentrators: str):
    """Return the replay of two units of the books by a scenario with these concentrators."""
    hospital = loads(TEXT.replace(PLAIN, concentrators)).hospitals["both"]
    return replay(hospital, books(stock=weekly(5, 5), units=UNITS, job_cards=OUT))


def test_units_of_several_models_are_drawn_and_it_is_said_why():
    """They fail as the scenario says; the sentence names the reason."""
    found = replayed(MODELS)
    assert found.units is None
    assert ("Concentrators fail as the scenario says: they are of several models, and the list of units does not "
            "say of which each is.") in found.said  # fmt: skip


def test_like_units_of_several_rows_are_those_of_the_list():
    """Rows and ages give way to the list and its job cards, as a plain count does."""
    found, plain = replayed(ALIKE), replayed(LISTED.replace("UNITS", "count: 2,"))
    assert found.units is not None
    assert found.of(1, 0).concentrators == plain.of(1, 0).concentrators


def test_of_several_models_only_their_number_is_compared():
    """The books' failures are of no model by itself; two units by the file, two in the books."""
    cards = tuple(JobCard(4, 1, clock(30 * n, 6), 400.0 * n + 400, clock(30 * n + 4, 6)) for n in range(20))
    listed = tuple(Unit(4 + n, n + 1, day(0), 0.0, 5_000.0, True) for n in range(3))
    records = books(
        stays=(), units=listed, job_cards=cards, places=(Place(4, kept_from=day(0), kept_to=day(399)),)
    )
    texts = (TEXT.replace(PLAIN, each) for each in (MODELS, MODELS.replace("2000 h", "1000 h")))
    found = [
        [each.key for each in checks(loads(text).hospitals["both"], records) if "concentrators" in each.key]
        for text in texts
    ]
    assert found[0] == ["concentrators.count"]
    assert found[1] == ["concentrators.count", "concentrators.failure", "concentrators.repair"]
