"""A hospital's own history matches it; with other numbers it does not, and the words say which to doubt."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import drawn_hospital
import pytest

import o2sim
from o2sim.questions.hindcast.hindcast import Hindcast
from o2sim.questions.hindcast.result import NOT_YET, TRUSTED
from o2sim.records.books import Records
from o2sim.statistics import scores

WARD = """\
name: Alder Point
start: 2026-01-01
horizon: 365 days
patients:
  children:
    admissions: 0.6 / day
    flow: {triangular: {low: 0.5 L/min, mode: 1 L/min, high: 2 L/min}}
    duration: {lognormal: {median: 40 h, geometric_sd: 2}}
cylinders: {content: 3000 L, fleet: 30}
resupply:
  review: 7 days
  lead_time: {lognormal: {median: 3 days, geometric_sd: 1.5}}
  reorder_point: 20
  order_up_to: 30
strategies: {cylinders: {sources: [cylinder]}}
"""
FEW = {"replications": 100, "seed": 3}


@cache
def _records(*books: str, days: int = 150, seed: int = 5, fleet: int = 30) -> Records:
    text = WARD.replace("fleet: 30", f"fleet: {fleet}").replace("order_up_to: 30", f"order_up_to: {fleet}")
    thin = drawn_hospital.Thin(books=books)
    return drawn_hospital.drawn_records(
        text.replace("point: 20", f"point: {fleet - 4}"), days=days, seed=seed, thin=thin
    )


@cache
def _own(*books: str) -> Hindcast:
    return o2sim.hindcast(o2sim.loads(WARD), _records(*books), **FEW)


def _other(records: Records, **values: str) -> Hindcast:
    changed = WARD
    for old, new in values.values():
        changed = changed.replace(old, new)
    return o2sim.hindcast(o2sim.loads(changed), records, **FEW)


def test_its_own_history_matches():
    """Ranks are even, use is right, and it forecasts better than those who know no patients."""
    found = _own()
    (used, *_) = found.record.series
    assert found.record.trust == TRUSTED
    assert (abs(used.bias) < 0.05, used.ranks_even_by_luck > 0.01) == (True, True)
    assert used.crps_of_these < min(used.crps_of_earlier_counts, used.crps_of_last_count)


def test_the_same_again():
    """Records, scenario and seed give the same figures."""
    assert o2sim.hindcast(o2sim.loads(WARD), _records(), **FEW).result == _own().result


def test_halved_admissions_are_doubted():
    """Recorded patients are put in, so that the use matches: the scenario's own number does not."""
    found = _other(_records(), a=("0.6 / day", "0.3 / day"))
    assert "Doubt admissions of children (patients.children.admissions)" in found.verdict
    assert "but not for weeks to come" in found.verdict


def test_halved_admissions_without_a_list_are_doubted():
    """Now they are drawn: half of the use, and half of the patients at midnight, in over half a year."""
    found = _other(_records("stock", "midnights", "orders", days=200), a=("0.6 / day", "0.3 / day"))
    assert (found.record.trust, "under-forecast" in found.verdict) == (NOT_YET, True)
    assert "doubt admissions, or how long patients are on oxygen" in found.verdict


def test_doubled_flows_are_doubted():
    """Beside those written in the list."""
    found = _other(
        _records(), a=("low: 0.5 L/min, mode: 1 L/min, high: 2", "low: 1 L/min, mode: 2 L/min, high: 4")
    )
    assert "Doubt the flow of children (patients.children.flow)" in found.verdict


def test_doubled_flows_that_nobody_wrote_are_doubted():
    """The list has no flows: the use is twice what was recorded, patients at midnight agree."""
    records = _records()
    blank = replace(records, stays=tuple(replace(each, flow_ml_min=None) for each in records.stays))
    found = _other(blank, a=("low: 0.5 L/min, mode: 1 L/min, high: 2", "low: 1 L/min, mode: 2 L/min, high: 4"))
    assert (found.record.trust, "Use is over-forecast by" in found.verdict) == (NOT_YET, True)
    assert "doubt flows (patients.CLASS.flow)" in found.verdict


def test_without_a_stock_card_months_and_midnights_are_compared():
    """And nothing is said of a shelf."""
    found = _own("stays", "months", "midnights").record
    assert {each.name for each in found.series} == {
        "cylinders emptied in a month",
        "patients in need at midnight",
        "patients on cylinders at midnight",
    }
    assert (found.stock, found.totals) == ((), ())


def test_without_a_list_and_a_card_midnights_are_compared():
    """Of patients, not of cylinders."""
    found = _own("midnights")
    assert found.record.trust != NOT_YET
    assert "how many patients are on cylinders" in found.verdict


def test_concentrators_alone_have_no_shelf():
    """A strategy without cylinders is compared by its patients."""
    units = "concentrators: {count: 4, rated_flow: 5 L/min}\nstrategies: {units: {sources: [concentrator]}}"
    text = WARD.replace("strategies: {cylinders: {sources: [cylinder]}}", units)
    records = drawn_hospital.drawn_records(text, days=60, seed=2)
    found = o2sim.hindcast(o2sim.loads(text), records, **FEW).record
    assert {each.name for each in found.series} == {
        "patients in need at midnight",
        "patients on cylinders at midnight",
    }


def test_it_shows_itself():
    """A row from each count to the next, in a frame; two sentences and a table in a notebook; two drawings."""
    found = _own()
    frame = found.to_frame()
    assert (len(frame), frame["used"].sum()) == (
        len(found.record.stock),
        sum(each.used for each in found.record.stock),
    )
    assert len(found.to_frame(of="series")) == len(found.record.series)
    assert found.to_frame(of="numbers")["key"].tolist() == [each.key for each in found.record.numbers]
    assert "may be trusted" in found._repr_html_()
    assert (found.trusted, found.chart().title) == (True, "The stock card and its forecasts")
    with pytest.raises(o2sim.O2simError, match="allowed: stock, ranks"):
        found.chart(of="use")
    with pytest.raises(o2sim.O2simError, match="no stock card to draw"):
        _own("midnights").chart()


def test_too_few_replications_are_refused():
    """No bias could then be known from luck."""
    with pytest.raises(o2sim.O2simError, match="found 99; allowed: 100 to 5,000"):
        o2sim.hindcast(o2sim.loads(WARD), _records(), replications=99)


def test_records_of_another_kind_are_refused():
    """A list is no records."""
    with pytest.raises(o2sim.O2simError, match="found list; allowed: a path"):
        o2sim.hindcast(o2sim.loads(WARD), [])


def _many(fleet: int, histories: int) -> list[Hindcast]:
    books = (_records(days=365, seed=seed, fleet=fleet) for seed in range(1, histories + 1))
    return [o2sim.hindcast(o2sim.loads(WARD), each, replications=100, seed=3) for each in books]


@pytest.mark.slow
def test_ranks_of_many_histories_are_even():
    """Ample stock: a dozen histories, each count's rank within its forecast."""
    found = _many(fleet=30, histories=12)
    ranks = [each.rank for one in found for each in one.record.stock if each.rank is not None]
    assert scores.evenness(ranks).p > 0.01
    assert scores.inside(ranks, 0.9) / len(ranks) == pytest.approx(0.9, abs=0.03)


@pytest.mark.slow
def test_a_shelf_that_is_often_bare_keeps_the_totals():
    """Bare on three days in ten: use is right to 5 %; that its ranges are too narrow is said."""
    found = [each.record for each in _many(fleet=8, histories=6)]
    used = [each.series[0] for each in found]
    assert sum(each.forecast.mean for each in used) == pytest.approx(sum(each.recorded for each in used), rel=0.05)
    assert all("Where the shelf is often bare" in " ".join(each.cautions) for each in found)


@pytest.mark.slow
def test_a_true_scenario_is_seldom_doubted():
    """Once in 20 at most: four of 20 would be luck in under 2 of 100."""
    found = _many(fleet=30, histories=20) + _many(fleet=8, histories=20)
    assert sum(each.record.trust == TRUSTED for each in found[:20]) >= 17
    assert sum(each.record.trust == TRUSTED for each in found[20:]) >= 17
