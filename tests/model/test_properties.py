"""Random small hospitals under every strategy: balances, a settled allocation, totals that follow from the log."""

from collections import Counter
from dataclasses import replace

import numpy as np
from build import DAY, run
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from random_hospitals import audited, gaps_in_log, hospitals, settled

from o2sim.draws import Draws
from o2sim.model.rules import STEPS
from o2sim.outcome import DAILY_COLUMNS, LENGTHS_S, Cause, LogEntry, Outcome, Root
from o2sim.scenario.types.hospital import Hospital, Shortfall

SEEDS = st.integers(0, 10_000)
ENDS_SHORT = {"no longer short", "root changes"}
CASES = settings(max_examples=120, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))


def guarded(rules: Hospital, draws: Draws) -> Outcome:
    """A hospital and draws in, the outcome out; fails where the clock stands still."""
    with audited():
        return run(rules, draws)


@CASES
@given(rules=hospitals(), seed=SEEDS)
def test_settle_is_a_fixpoint_and_leaves_no_source_idle(rules: Hospital, seed: int) -> None:
    """After every step: a second settle changes nothing, and nobody waits who could be served."""
    with audited(settled):
        run(rules, Draws(seed, 0))


@CASES
@given(rules=hospitals(), seed=SEEDS)
def test_every_second_of_need_is_served_unserved_or_transferred(rules: Hospital, seed: int) -> None:
    """Need is recomputed from the draws alone; gas, seconds and cylinders balance exactly."""
    draws = Draws(seed, 0)
    outcome, table = guarded(rules, draws), draws.patients(rules)
    stays = np.array(table.arrival_s, dtype=np.int64), np.array(table.duration_s, dtype=np.int64)
    inside = np.minimum(stays[0] + stays[1], rules.end_s) - np.maximum(stays[0], rules.warm_up_s)
    need = inside[inside > 0].sum()
    served = outcome.served_cylinder_s + outcome.served_concentrator_s
    assert need == outcome.need_s == served + sum(outcome.unserved_s) + outcome.transferred_s
    gas_in = outcome.opening_gas + outcome.received_gas
    used = outcome.cylinder_gas + outcome.leaked_gas + outcome.transfer_gas
    assert gas_in == used + outcome.returned_gas + outcome.closing_gas
    assert outcome.patients == (inside > 0).sum()
    fleet = rules.cylinders.fleet if rules.cylinders else 0
    away = outcome.daily[:, DAILY_COLUMNS.index("away")]
    places = outcome.daily[:, :4].sum(axis=1) + away  # full, part-used, in use, empty
    assert places[0] - places[-1] <= outcome.cylinders_lost
    assert (np.diff(places) <= 0).all()
    assert places[0] <= fleet
    sizes = rules.cylinders.each if rules.cylinders else ()
    if not any(size.refused or size.losses_per_day for size in sizes):
        assert set(places.tolist()) == {fleet}
    assert len(outcome.daily) == rules.horizon_s // 86_400
    on_order = outcome.daily[:, DAILY_COLUMNS.index("on_order")]
    assert (on_order <= outcome.daily[:, DAILY_COLUMNS.index("empty")] + away).all()


@CASES
@given(rules=hospitals(), seed=SEEDS)
def test_totals_follow_from_the_log(rules: Hospital, seed: int) -> None:
    """Unserved seconds by cause, interruptions and their days, lengths, the longest gap, read back from the log.

    Gaps are counted each for itself; the next test reads spells of shortfall.
    """
    rules = replace(rules, shortfall=Shortfall())
    outcome = guarded(rules, Draws(seed, 0))
    begin, end, tolerated = rules.warm_up_s, rules.end_s, rules.tolerated_gap_s
    unserved, interruptions = Counter[Cause](), Counter[Cause]()
    longer, longest, days = [0] * len(LENGTHS_S), 0, set[int]()
    left = {(entry.item, entry.time_s) for entry in outcome.log if entry.step == "patient sent on"}
    for patient, start, stop, spells in gaps_in_log(outcome, end):
        edges = [at for at, _ in spells[1:]] + [stop]
        for (since, cause), until in zip(spells, edges, strict=True):
            unserved[cause] += max(0, until - max(since, begin))
        if (
            begin <= start + tolerated < stop + ((patient, stop) in left)
        ):  # sent on at that second, after the tolerance
            held = [cause for since, cause in spells if since <= start + tolerated]
            interruptions[held[-1]] += 1
            days.add((start + tolerated - begin) // DAY)
        days.update(at // DAY for at in range(max(start + tolerated, begin) - begin, stop - begin))
        longer = [n + (begin <= start + max(s, tolerated) < stop) for n, s in zip(longer, LENGTHS_S, strict=True)]
        longest = max(longest, stop - start if stop > begin else 0)
    sent = [entry for entry in outcome.log if entry.step == "patient transferred" and entry.time_s >= begin]
    sent_on = [entry for entry in outcome.log if entry.step == "patient sent on" and entry.time_s >= begin]
    interruptions.update(Cause(entry.other) for entry in sent)
    days.update((entry.time_s - begin) // DAY for entry in sent)
    assert tuple(unserved[cause] for cause in Cause) == outcome.unserved_s
    assert tuple(interruptions[cause] for cause in Cause) == outcome.interruptions
    assert (tuple(longer), longest) == (outcome.longer, outcome.longest_gap_s)
    assert (outcome.transferred, outcome.days_with_unserved) == (len(sent) + len(sent_on), len(days))


@CASES
@given(rules=hospitals(), seed=SEEDS)
def test_spells_of_shortfall_follow_from_the_log(rules: Hospital, seed: int) -> None:
    """Short seconds by root, interruptions, stock-outs and the longest spell, read back from the event log."""
    if rules.shortfall.as_before:
        rules = replace(rules, shortfall=Shortfall(500, 300, "supply clock"))
    outcome = guarded(rules, Draws(seed, 0))
    begin, end = rules.warm_up_s, rules.end_s
    by_root, longest, since = Counter[Root](), 0, dict[int, tuple[int, int, Root]]()
    for entry in (*outcome.log, *(LogEntry(end, "no longer short", each.item) for each in outcome.log)):
        if entry.step in ENDS_SHORT and entry.item in since:
            read, start, root = since.pop(entry.item)
            by_root[root] += max(0, entry.time_s - max(start, begin))
            longest = max(longest, read + entry.time_s - start if entry.time_s > begin else 0)
            if entry.step == "root changes":
                since[entry.item] = read + entry.time_s - start, entry.time_s, Root(entry.other)
        if entry.step == "falls short":
            since[entry.item] = entry.value, entry.time_s, Root(entry.other)
    assert tuple(by_root[root] for root in Root) == outcome.short_s
    assert longest == outcome.longest_spell_s
    counts = Counter((entry.step, entry.other) for entry in outcome.log if entry.time_s >= begin)
    assert tuple(counts["interruption", cause] for cause in Cause) == outcome.interruptions
    assert tuple(counts["stock-out", cause] for cause in Cause) == outcome.stock_outs_by_cause
    assert sum(outcome.short_s) == sum(outcome.unserved_s) + outcome.short_served_s


@CASES
@given(rules=hospitals(), seed=SEEDS)
def test_the_log_is_in_order_and_in_known_steps(rules: Hospital, seed: int) -> None:
    """Times never go back and lie within the run; keeping the log changes nothing."""
    outcome = guarded(rules, Draws(seed, 0))
    times = [entry.time_s for entry in outcome.log]
    assert times == sorted(times)
    assert not times or (times[0] >= 0 and times[-1] < rules.end_s)
    assert {entry.step for entry in outcome.log} <= set(STEPS)
    silent = run(rules, Draws(seed, 0), log=False)
    assert {**vars(silent), "log": (), "daily": 0} == {**vars(outcome), "log": (), "daily": 0}
    assert (silent.daily == outcome.daily).all()
