"""Back-ups in a scenario: what is read, which strategies keep the stock for them, doubts, sentences, measures."""

import pytest
from scenario_texts import WHOLE

from o2sim.measures.measures import summarise
from o2sim.questions.check.rules_in_words import sentences
from o2sim.runs.study import run_study
from o2sim.scenario import loads, warnings
from o2sim.scenario.types.hospital import Backups, Law

RULE = "  backup: {for: [newborns, children], count: 4}\n"
CALM = WHOLE.replace("high: 10 L/min", "high: 5 L/min").replace("vehicle_capacity: 12", "vehicle_capacity: 30")
CALM = CALM.replace("    hypoxaemic:", "    recognised: 100 %\n    hypoxaemic:")
TEXT = CALM.replace("cylinders:\n", "cylinders:\n" + RULE, 1)
ALONE = "concentrators only"


def told(text):
    """Return what is doubtful in a text."""
    return [str(problem) for problem in warnings(loads(text))]


def test_the_rule_is_read_with_its_defaults():
    """A minute to open, changed below half, under every strategy that has cylinders or concentrators."""
    rule = Backups(("newborns", "children"), 4, Law("constant", (60.0,)), 500)
    assert {each.cylinders.backup for each in loads(TEXT).hospitals.values()} == {rule}
    law = TEXT.replace("count: 4", "count: 2, open_time: {exponential: {mean: 2 min}}, replace_below: 25 %")
    found = loads(law).hospitals["mixed"].cylinders.backup
    assert (found.count, found.open_time_s, found.replace_below_permille) == (2, Law("exponential", (120.0,)), 250)


def test_a_strategy_of_concentrators_alone_keeps_the_stock_for_them():
    """Cylinders and resupply as the mixed strategy has them; without back-ups none."""
    hospitals = loads(TEXT).hospitals
    assert hospitals[ALONE].cylinders == hospitals["mixed"].cylinders
    assert hospitals[ALONE].resupply == hospitals["mixed"].resupply is not None
    assert [each.has_backups for each in hospitals.values()] == [False, True, True]
    plain = loads(CALM).hospitals[ALONE]
    assert (plain.cylinders, plain.resupply, plain.has_backups) == (None, None, False)


def test_a_strategy_may_do_without_or_change_them():
    """`backup: none` takes cylinders from concentrators alone; a count may differ."""
    more = """  bare: {sources: [concentrator], cylinders: {backup: none}}
  many: {sources: [concentrator], cylinders: {backup: {count: 9}}}
"""
    hospitals = loads(TEXT + more).hospitals
    assert hospitals["bare"].cylinders is None
    assert hospitals["many"].cylinders.backup.count == 9


@pytest.mark.parametrize(
    ("before", "after", "parts"),
    [
        (
            "count: 4",
            "count: 400",
            ("but only 12 regulators (in concentrators only, mixed)", "but only 40 cylinders"),
        ),
        (
            "count: 4",
            "count: 4, open_time: 11 min",
            ("cylinders.backup.open_time: longer than the tolerated gap",),
        ),
        (
            "water_capacity: 47 L",
            "water_capacity: 1 L",
            ("a full cylinder lasts children", "a cut 3.04 h on average"),
        ),
    ],
)
def test_a_doubt_about_back_ups_is_said(before, after, parts):
    """More than there are regulators, an opening that takes too long, a cylinder shorter than a cut."""
    assert told(TEXT) == []
    found = " ".join(told(TEXT.replace(before, after)))
    assert [part for part in parts if part not in found] == []


def test_back_ups_without_concentrators_are_doubtful():
    """Nobody would be given one."""
    text = TEXT[: TEXT.index("strategies:")] + "strategies: {cylinders only: {sources: [cylinder]}}\n"
    assert any("cylinders.backup: back-ups, but no strategy" in each for each in told(text))


def test_check_says_who_has_one_and_where_nothing_else_is_opened():
    """A sentence for all strategies with concentrators, another for those without cylinders as a source."""
    one, other = (each for each in sentences(loads(TEXT)) if "back-up" in each or "no source" in each)
    assert one.endswith(
        "Of “newborns” and “children” on a concentrator, at most 4 have a back-up cylinder at the bed, "
        "changed at midnight below 50 % of what a full one can give."
    )
    assert other.startswith("Under “concentrators only”: Cylinders are no source here")


def test_the_share_of_losses_met_is_measured():
    """Losses of a unit and those met by a back-up, with their ratio; nothing without the rule."""
    short = TEXT.replace("horizon: 365 days", "horizon: 60 days")
    found = summarise(run_study(loads(short), replications=3))["strategies"][ALONE]
    met, losses = (found[name]["mean"] for name in ("losses_met_by_backup", "unit_losses"))
    assert 0 < met < losses
    assert found["share_of_losses_met_by_backup"]["mean"] == pytest.approx(met / losses)
    plain = summarise(run_study(loads(short.replace(RULE, "")), replications=1))["strategies"][ALONE]
    assert [plain[name] for name in ("unit_losses", "share_of_losses_met_by_backup")] == [None, None]
