"""The log: a line a count, numbers only; what is broken is named; and how good the forecasts were."""

from __future__ import annotations

import datetime as dt
import json
import math
from dataclasses import replace

import pytest
from today_ward import count, patients, ward

from o2sim.errors import O2simError
from o2sim.questions.today import log
from o2sim.questions.today.log import Entry
from o2sim.questions.today.review import FEWEST, content, review
from o2sim.questions.today.today import today


@pytest.fixture(scope="module")
def found():
    """Return an answer for the ward, counted on the third of May."""
    return today(ward(), replications=100, days=4, on="2027-05-03")


def test_a_line_holds_numbers_and_no_patient(found):
    """Counts by class, the forecast by day, where it comes from; no flow, no time of anybody, no gauge."""
    said = json.loads(log.line_of(found.record, found.full))
    assert (said["o2sim_today"], said["counted"], said["counts"]["full"]) == (1, "2027-05-03T07:30", 3)
    assert said["counts"]["on_oxygen"] == {"newborns": 1, "children": 1, "adults": 1}
    assert [sum(times for _, times in law) for law in said["full"].values()] == [100] * 4
    assert {"flow", "begun", "gauge", "bedsides"} & set(log.line_of(found.record, found.full).split('"')) == set()


def test_the_same_count_replaces_and_another_is_added(found, tmp_path):
    """Twice the same count is one line; lines of others stay as they are, broken ones too."""
    path = tmp_path / "log.jsonl"
    log.add(path, found.record, found.full)
    path.write_text(path.read_text() + "broken\n")
    assert log.add(path, found.record, found.full).startswith("replaced")
    later = replace(found.record, counted="2027-05-04T07:30")
    assert log.add(path, later, found.full).startswith("added")
    lines = path.read_text().splitlines()
    assert [line[:6] for line in lines] == ["broken", '{"o2si', '{"o2si']


def test_a_file_that_is_no_log_is_left_alone(found, tmp_path):
    """Somebody's notes are not written over."""
    path = tmp_path / "notes.txt"
    path.write_text("buy keys\n")
    with pytest.raises(O2simError, match="found no line of"):
        log.add(path, found.record, found.full)
    assert path.read_text() == "buy keys\n"


BROKEN = [
    ("not json", "found no JSON"),
    ("{}", "found a line of another kind"),
    ("[1]", "found a line of another kind"),
    ('{"o2sim_today": 2}', "found a log of version 2"),
    ('{"o2sim_today": 1}', "found no 'full'"),
    ('{"o2sim_today": 1, "full": []}', "found a line of another form"),
    ('{"o2sim_today": 1, "full": {"soon": [[1, 2]]}}', "found a line of another form"),
    ('{"o2sim_today": 1, "full": {"2027-05-03": [[1.5, 2]]}}', "found 1.5; allowed: a whole number"),
    ('{"o2sim_today": 1, "full": {"2027-05-03": [[1, 0]]}}', "found a forecast of no or too many"),
    ('{"o2sim_today": 1, "full": {"2027-05-03": [[-1, 2]]}}', "found -1; allowed: a whole number"),
    ('{"o2sim_today": 1, "full": {}, "counted": "2027-05-03T07:30+02:00"}', "found a count with a time zone"),
    ('{"o2sim_today": 1, "full": {}, "counted": "2027-05-03T07:30", "scenario": "x", "counts": {"full": true}}',
     "found True; allowed: a whole number"),
    ("[" * 100_000, "skipped"),
]  # fmt: skip


@pytest.mark.parametrize(("line", "words"), BROKEN, ids=[words for _, words in BROKEN])
def test_broken_lines_are_named_and_skipped(found, tmp_path, line, words):
    """File and line, what was found; the rest is read."""
    path = tmp_path / "log.jsonl"
    path.write_text(f"{log.line_of(found.record, found.full)}\n{line}\n")
    entries, wrong = log.read(path)
    assert (len(entries), len(wrong)) == (1, 1)
    assert f"{path}:2: skipped, " in wrong[0]
    assert words in wrong[0]


def entry(day: int, full: int, law: dict[int, int], ahead: int = 3, hour: int = 7):
    """Return a count of a day of May with the same forecast for the days that follow."""
    import datetime as dt

    days = {dt.date(2027, 5, day) + dt.timedelta(days=each): law for each in range(ahead)}
    return log.Entry("Reed ward", dt.datetime(2027, 5, day, hour, 30), full, days)


def test_scores_by_hand():
    """A forecast of 4 or 6, evenly, where 5 came: |X - 5| is 1 and |X - X'|/2 is 1/2, so the score is 1/2."""
    entries = [entry(3, 8, {4: 50, 6: 50}), entry(4, 5, {5: 100}, ahead=0)]
    (ahead,) = review(entries, ()).by_days_ahead
    assert (ahead.days_ahead, ahead.pairs, ahead.crps, ahead.crps_as_today) == (1, 1, 0.5, 3)


def test_which_midnight_a_count_stands_beside():
    """Before noon the midnight before it, after noon the one after; other places' counts make no pair."""
    morning, evening = entry(4, 5, {}, 0), entry(4, 5, {}, 0, hour=18)
    first = entry(3, 8, {4: 100})
    found = review([first, morning, evening], ())
    assert [each.days_ahead for each in found.by_days_ahead] == [1, 2]
    assert review([first, replace(morning, scenario="Hill")], ()).pairs == 0


def test_too_few_pairs_say_so():
    """Under five pairs nothing is said of the forecasts."""
    found = review([entry(3, 8, {4: 100}), entry(4, 5, {4: 100})], ["x:2: skipped"])
    assert (found.pairs, found.enough) == (1, False)
    assert "too few to say" in content(found)[0].text
    assert content(found)[1].texts == ("x:2: skipped",)


def test_a_right_forecast_covers_as_often_as_it_says():
    """40 counts drawn from the very law of their forecasts: about half lie within 50 %, within four deviations."""
    from o2sim.statistics.fitting.luck import uniforms

    law = dict.fromkeys(range(20), 5)
    luck = uniforms(3, "test", 0, 400)
    entries = []
    for place, u in enumerate(luck):
        first = entry(3, 10, law)
        later = replace(entry(4, int(20 * u), {}, 0), scenario=f"{place}")
        entries += [replace(first, scenario=f"{place}"), later]
    found = review(entries, ())
    z_50 = (found.inside_50 / 400 - 0.5) / math.sqrt(0.25 / 400)
    z_90 = (found.inside_90 / 400 - 0.9) / math.sqrt(0.09 / 400)
    assert (found.pairs, found.enough, abs(z_50) < 4, abs(z_90) < 4) == (400, True, True, True)
    assert found.pairs >= FEWEST


def test_the_count_of_the_log_is_that_of_the_record(found):
    """The count in use and the forecast begin from the same three patients."""
    assert found.record.counts.on_patients == len(patients())
    assert count().cylinders.full == found.record.counts.full


def test_ten_years_of_counts_are_paired_within_the_days_of_their_forecasts():
    """A count a day for ten years, forecast three days ahead: no more than three pairs a count."""
    first = dt.datetime(2027, 5, 3, 16)
    days = [first + dt.timedelta(days=number) for number in range(3_650)]
    law = lambda day: {(day + dt.timedelta(days=ahead)).date(): {3: 100} for ahead in range(3)}  # noqa: E731
    found = review([Entry("ward", day, 3, law(day)) for day in days], ())
    assert [(each.days_ahead, each.pairs) for each in found.by_days_ahead] == [(2, 3_649), (3, 3_648)]
