"""Outcomes held as columns are the outcomes that went in, and what is added up of their midnights is exact."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest
from synthetic import outcome, scenario, small_study

from o2sim.draws import Draws
from o2sim.measures.measures import summarise
from o2sim.model.run import simulate
from o2sim.outcome import DAILY_COLUMNS, AtOnce
from o2sim.runs import midnights as module
from o2sim.runs import outcomes as outcomes_module
from o2sim.runs.days import midnights, with_daily
from o2sim.runs.midnights import Counts
from o2sim.runs.outcomes import Outcomes
from o2sim.runs.study import Study, run_study
from o2sim.scenario.types.hospital import DAY_S

WARD = scenario(horizon_s=70 * DAY_S)
WANTED = 9
FULL, UNSERVED = (DAILY_COLUMNS.index(name) for name in ("full", "unserved"))


@pytest.fixture(scope="module")
def held():
    """Return a study made of the engine's own outcomes in lists, daily counts and all."""
    outcomes = {
        name: [replace(simulate(WARD, name, Draws(3, k)), log=()) for k in range(WANTED)]
        for name in WARD.strategies
    }
    return Study(WARD, 3, "kernel", WANTED, outcomes)


@pytest.fixture(scope="module")
def streamed():
    """Return the same study, added up as it came."""
    return run_study(WARD, replications=WANTED, seed=3)


def test_what_is_summarised_is_the_same_streamed_and_held(held, streamed):
    """Every figure, to the last digit: dropping daily counts changes no sum and no order of adding."""
    assert json.dumps(summarise(streamed)) == json.dumps(summarise(held))


def test_outcomes_of_a_stream_are_the_engine_s(held, streamed):
    """Each total of each replication comes back as the whole number it was."""
    for name, mine in streamed.outcomes.items():
        assert list(mine) == list(held.outcomes[name])
        assert [type(value) for value in vars(mine[0]).values()] == [
            type(value) for value in vars(simulate(WARD, name, Draws(3, 0))).values()
        ]


@pytest.mark.parametrize("name", WARD.strategies)
def test_bands_by_day_are_those_of_all_the_values(held, streamed, name):
    """Quantiles, lowest stocks, waiting and the worst replication, against NumPy over every daily count."""
    daily = np.array([each.daily for each in held.outcomes[name]])
    found, full = midnights(streamed, name), daily[:, :, FULL]
    percent = [2.5, 10, 50, 90, 97.5]
    assert found.quantiles(percent).tolist() == np.percentile(full, percent, axis=0).tolist()
    assert found.share_empty == (full == 0).mean()
    assert found.fewest == full.min(axis=1).tolist()
    assert found.waits.tolist() == (daily[:, :, UNSERVED] > 0).sum(axis=0).tolist()
    supply = [each.unserved_s for each in held.outcomes[name]]
    worst = min(range(WANTED), key=lambda k: module.badness(held.outcomes[name][k]))
    assert sum(map(sum, supply)) > 0
    assert found.worst_full.tolist() == full[worst].tolist()


def test_counts_give_the_quantiles_of_numpy(monkeypatch):
    """Counts added up in many small heaps: 300 replications of 5 midnights, as np.percentile has them."""
    monkeypatch.setattr(module, "MOST_WAITING", 40)
    numbers = np.random.default_rng(1).integers(0, [2, 3, 50, 1_000, 70_000], (300, 5)).astype(np.int32)
    counts = Counts(5)
    for each in numbers:
        counts.add(each)
    found = [(np.repeat(seen, times).tolist(), int(times.sum())) for seen, times in counts.by_day()]
    assert found == [(sorted(column), 300) for column in numbers.T.tolist()]


def test_a_part_of_a_batch_is_run_again_for_its_midnights(held, streamed):
    """The first four of a stream have no bands of their own: they are those of the first four, run again."""
    part = replace(streamed, outcomes={name: each[:4] for name, each in streamed.outcomes.items()})
    full = np.array([each.daily[:, FULL] for each in held.outcomes["mixed"][:4]])
    assert midnights(part, "mixed").quantiles([50]).tolist() == np.percentile(full, [50], axis=0).tolist()
    assert part.outcomes["mixed"] == held.outcomes["mixed"][:4]


def test_daily_counts_are_run_again_or_kept():
    """Without keep_daily an Outcome has none, and whoever needs them gets the same by a run."""
    kept, dropped = (run_study(WARD, replications=3, keep_daily=keep) for keep in (True, False))
    assert [each.daily.shape for each in dropped.outcomes["mixed"]] == [(0, len(DAILY_COLUMNS))] * 3
    pairs = list(zip(kept.outcomes["mixed"], with_daily(dropped, "mixed"), strict=True))
    assert [one.daily.tolist() for one, _ in pairs] == [other.daily.tolist() for _, other in pairs]
    assert kept.to_frame("days").equals(dropped.to_frame("days"))


def test_columns_hold_any_whole_number():
    """Levels of use of any length, numbers of any size and sign, over several blocks and slices."""
    levels = [AtOnce(cylinders=tuple(range(1, 1 + k % 4)), units_out=(2**40 + k,)) for k in range(700)]
    many = [
        replace(outcome(k, days=2), needed_gas=2**55 + k, closing_gas=-k, patients=k % 3, at_once=levels[k])
        for k in range(700)
    ]
    found = Outcomes.of(many)
    assert list(found) == many
    assert (found[-1], found[5:9], found[::-350]) == (many[-1], many[5:9], many[::-350])
    assert [each.daily.tolist() for each in found[5:7]] == [each.daily.tolist() for each in many[5:7]]
    assert found.at_levels("cylinders") == [525, 2 * 350, 3 * 175]  # (), (1), (1, 2) and (1, 2, 3) 175 times each
    assert found.column("needed_gas").tolist() == [each.needed_gas for each in many]
    assert found != many[:-1]
    assert found[:] is found
    with pytest.raises(IndexError):
        found[700]


def test_blocks_put_together_are_what_was_gathered(monkeypatch):
    """Blocks of two, whose columns are of different types and widths, make one whole."""
    monkeypatch.setattr(outcomes_module, "BLOCK", 2)
    many = [
        replace(outcome(k), patients=100**k, at_once=AtOnce(cylinders=(7,) * k), daily=np.zeros((0, 16), np.int32))
        for k in range(5)
    ]
    gathered = outcomes_module.Gathered()
    for each in many:
        gathered.add(each, module.nights_of(each.daily))
    assert list(gathered.whole()) == many


def test_a_replication_takes_a_kilobyte(streamed):
    """Columns of the smallest type that holds them: 1.5 kB a replication at most, where an Outcome takes 6."""
    for each in streamed.outcomes.values():
        assert sum(column.nbytes for column in each._columns.values()) / WANTED < 1_500
    assert small_study().outcomes["mixed"].daily is not None
