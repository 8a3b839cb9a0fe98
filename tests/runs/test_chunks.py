"""Batches cut into pieces: every replication once, whatever is at hand and however long pieces take."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from o2sim.runs.chunks import GROWTH, LARGEST, PIECE_S, Chunk, Pacer, cut, missing

NAMES = ("cylinders only", "mixed")
HAVE = st.dictionaries(st.sampled_from(NAMES), st.frozensets(st.integers(0, 30), max_size=20))


@given(wanted=st.integers(1, 25), have=HAVE, size=st.integers(1, 9))
def test_pieces_hold_each_missing_replication_once(wanted, have, size):
    """What is at hand and what the pieces hold make up the batch, with nothing twice, in order."""
    pieces = list(cut(missing(NAMES, wanted, have), Pacer(size)))
    run = [(name, k) for piece in pieces for k in range(piece.first, piece.stop) for name in piece.strategies]
    expected = {(name, k) for name in NAMES for k in range(wanted) if k not in have.get(name, ())}
    assert (len(run), set(run)) == (len(expected), expected)
    assert [piece.first for piece in pieces] == sorted(piece.first for piece in pieces)
    assert all(1 <= piece.size <= size for piece in pieces)


def test_what_lacks_the_same_strategies_is_one_range():
    """Strategies that lack the same replications are run together, under the same draws."""
    found = missing(NAMES, 6, {"mixed": {0, 1, 4}})
    alone = ("cylinders only",)
    assert found == [Chunk(0, 2, alone), Chunk(2, 4, NAMES), Chunk(4, 5, alone), Chunk(5, 6, NAMES)]
    assert missing(NAMES, 5, {name: set(range(9)) for name in NAMES}) == []


def test_pieces_grow_to_the_time_they_are_to_take():
    """A quick replication makes pieces larger step by step, a slow one leaves them single."""
    pacer = Pacer()
    sizes = []
    for _ in range(8):
        sizes.append(pacer.size)
        pacer.learn(pacer.size, pacer.size * PIECE_S / 100)
    assert sizes == [1, GROWTH, GROWTH**2, GROWTH**3, 100, 100, 100, 100]
    pacer.learn(100, 100 * 3 * PIECE_S)
    assert pacer.size == 1
    pacer.learn(LARGEST, 0.0)
    assert pacer.size == LARGEST


def test_a_fixed_size_stays():
    """A size that is asked for is kept whatever the time."""
    pacer = Pacer(7)
    pacer.learn(7, 1e-6)
    assert (pacer.size, pacer.seconds_each) == (7, 1e-6 / 7)
