"""The manifold section of a scenario: what is read, warnings, `check`, timeline, measures and cost."""

import pytest

from o2sim.draws import Draws
from o2sim.measures.measures import summarise
from o2sim.measures.table import MEASURES
from o2sim.model.run import simulate
from o2sim.money.cost import annual_cost
from o2sim.quantities import gas
from o2sim.questions.check import rules_in_words as field
from o2sim.questions.compare import tables
from o2sim.questions.documents.describe import document
from o2sim.questions.equipment.equipment import equipment
from o2sim.questions.trace.timeline import story
from o2sim.runs.study import run_study
from o2sim.scenario import loads, warnings
from o2sim.scenario.text.source import source_of
from o2sim.scenario.types.hospital import Manifold

TEXT = """\
name: Piped
horizon: 30 days
warm_up: 2 days
patients:
  adults: {admissions: 2 / day, flow: 4 L/min, duration: 30 h}
cylinders: {water_capacity: 47 L, fleet: 40, regulators: 10}
resupply: {review: 1 day, lead_time: 2 days}
manifold: {bank: 5, outlets: 6, reserve: 2, leak: 0.5 L/min}
costs:
  cylinders: {price: 300 USD, refill: 15 USD}
  regulators: {price: 100 USD}
  manifold: {price: 20000 USD, life: 20 years, service: 500 USD/year}
strategies:
  piped: {sources: [manifold]}
  both: {sources: [manifold, cylinder], manifold: {gauge_check: 4 h, changeover_pressure: 1500 kPa}}
  bedside: {sources: [cylinder]}
"""


def test_the_section_is_read_with_its_defaults():
    """The changeover falls on the residual pressure, an alarm tells, a change takes half an hour."""
    hospitals = loads(TEXT).hospitals
    cylinders = hospitals["piped"].cylinders
    assert hospitals["piped"].manifold == Manifold(5, 6, cylinders.residual_gas, 800.0, 2, 1_800, None, 500)
    assert hospitals["both"].manifold.gauge_check_s == 14_400
    expected = gas.content_litres(47, 1_500, 15) * 60_000
    assert hospitals["both"].manifold.changeover_gas == pytest.approx(expected, rel=1e-6)
    assert hospitals["bedside"].manifold is None
    assert hospitals["piped"].cylinders == hospitals["bedside"].cylinders


def test_without_strategies_a_manifold_stands_before_cylinders():
    """The sections present suggest it beside cylinders only."""
    text = TEXT[: TEXT.index("strategies:")]
    sources = {name: hospital.strategy.sources for name, hospital in loads(text).hospitals.items()}
    assert sources == {"cylinders only": ("cylinder",), "manifold and cylinders": ("manifold", "cylinder")}


def test_the_changeover_may_stand_where_flow_is_lost():
    """At flow_lost_below the content is the very one at which flow is lost."""
    text = TEXT.replace("reserve: 2", "changeover_pressure: 400 kPa")
    piped = loads(text).hospitals["piped"]
    assert piped.manifold.changeover_gas == piped.cylinders.lost_gas


def test_banks_that_cannot_be_filled_and_outlets_too_few_are_told():
    """Twelve cylinders on the manifold, eight full at the start; three patients at once on two outlets."""
    text = TEXT.replace("fleet: 40", "fleet: 40, full_at_start: 8").replace("outlets: 6", "outlets: 2")
    text = text.replace("2 / day", "2.4 / day")
    found = {problem.field: problem.found for problem in warnings(loads(text)) if "manifold" in problem.field}
    assert found == {
        "manifold.bank": "12 cylinders on banks and reserve, but 8 full ones at the start (in piped, both)",
        "manifold.outlets": "2, but 3 patients are on oxygen at once on average (in piped)",
    }
    assert not [problem for problem in warnings(loads(TEXT)) if "manifold" in problem.field]


def test_the_leak_is_no_supply():
    """What the pipework loses cannot be given: a leak that takes all deliveries leaves too little."""
    text = TEXT.replace("leak: 0.5", "leak: 100")
    doubts = [problem.found for problem in warnings(loads(text)) if problem.field == "patients"]
    assert len(doubts) == 1
    assert doubts[0].endswith("L a day (in piped, both)")


def test_check_tells_the_manifold_and_what_its_pipework_loses():
    """0.5 L/min is 720 litres a day, of cylinders with 6,450 to give, or less up to a higher changeover."""
    said = field.sentences(loads(TEXT))
    assert said[0] == (
        "Under “piped”: Two banks of 5 cylinders and a reserve of 2 feed 6 outlets; "
        "an alarm shows when a bank is spent."
    )
    assert said[1] == (
        "Under “piped”: The pipework loses 720 litres a day, 0.112 cylinders, used or not; not in the need above."
    )
    assert "a look every 4 h 00 min shows" in said[2]
    plain = field.sentences(loads(TEXT.replace("reserve: 2, leak: 0.5 L/min", "reserve: 0")))
    assert plain[0].endswith("cylinders feed 6 outlets; an alarm shows when a bank is spent.")
    assert len(plain) == 2


def test_the_timeline_tells_the_manifold_in_words():
    """Without resupply everything of a manifold happens, and is told."""
    text = TEXT.replace("resupply: {review: 1 day, lead_time: 2 days}\n", "").replace("fleet: 40", "fleet: 16")
    scenario = loads(text)
    outcome = simulate(scenario, "piped", Draws(1, 0), log=True)
    told = "\n".join(story(scenario.hospitals["piped"], outcome.log, full=True))
    for words in (
        "bank A feeds the outlets: 5 cylinders, ",
        "bank B is spent",
        "the low-pressure reserve feeds the outlets: 2 cylinders, ",
        "the spent cylinders of bank A go to the empties with ",
        "4 cylinders with 27,289 L are put on bank A",
        "bank A is changed, ",
        " is on a piped outlet",
        "the manifold is dry, ",
    ):
        assert words in told, words


def test_measures_and_tables_tell_the_manifold_where_there_is_one():
    """JSON has its measures, None at the bedside; the table has rows for what happened."""
    summary = summarise(run_study(loads(TEXT), replications=2, seed=1))
    piped, bedside = (summary["strategies"][name] for name in ("piped", "bedside"))
    assert all(bedside[each.name] is None for each in MEASURES if each.needs == "manifold")
    assert piped["pipework_leak_litres"]["mean"] == pytest.approx(720 * 365, rel=1e-9)
    assert piped["outlet_patient_hours"]["mean"] > 0
    shown = {row[0]: row[1:] for table in tables.main_tables(summary) for row in table.rows}
    assert shown["Lost by the pipework, L"][2] == "-"
    assert float(shown["Bank changes of the manifold"][0].split()[0]) > 10


def test_a_manifold_costs_its_price_and_service_and_no_regulators_where_all_are_piped():
    """20,000 over 20 years at 3 % is 1,344.31 a year, and 500 of service."""
    scenario = loads(TEXT)
    costs = {
        name: annual_cost(scenario.hospitals[name], simulate(scenario, name, Draws(1, 0)))
        for name in scenario.strategies
    }
    assert costs["piped"]["manifold"] == pytest.approx(1_344.31 + 500, abs=0.01)
    assert "regulators" not in costs["piped"]
    assert costs["both"]["regulators"] == costs["bedside"]["regulators"] > 0
    assert "manifold" not in costs["bedside"]


def test_describe_tells_where_the_banks_come_from():
    """The initial conditions say that the banks are filled from the full cylinders."""
    told = document(loads(TEXT), source_of(TEXT), replications=10, seed=1, engine="reference")
    assert "piped: 40 of 40 cylinders full, banks and reserve of the manifold filled from these" in told
    assert "manifold" in told


PIPES = ("Manifold with pipework and outlets", 1)


def test_the_equipment_list_has_the_outlets_and_the_cylinders_on_the_manifold():
    """Twelve of the fleet stand on banks and reserve, ten without a reserve; none at the bedside."""
    entries = {
        reserve: equipment(run_study(loads(TEXT.replace("reserve: 2", f"reserve: {reserve}")), replications=1))
        for reserve in (0, 2)
    }
    found = {
        (reserve, name): [(entry.item, entry.quantity) for entry in item.equipment if entry.group == "Manifold"]
        for reserve, listed in entries.items()
        for name, item in listed.strategies.items()
    }
    assert found[2, "piped"] == [PIPES, ("Outlets with a flowmeter", 6), ("Cylinders on it", 12)]
    assert found[0, "both"] == [PIPES, ("Outlets with a flowmeter", 6), ("Cylinders on it", 10)]
    assert found[2, "bedside"] == []
