"""Cut the replications that are still to be run into pieces of work, each a range of them.

How a batch is cut never changes a result: a replication depends on its number alone. Pieces are sized by the time
they take, so that little is lost at an interruption and little is spent on handing them out.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass
from itertools import groupby

PIECE_S = 0.5  # of one worker: what a kill may lose, and how often progress is shown
LARGEST = 1_000  # replications in a piece, however quick
LARGEST_DAILY = 50  # where each comes with its daily counts, 22 kB a strategy and year
GROWTH = 4  # at most as many times the size of the last piece


@dataclass(frozen=True)
class Chunk:
    """Replications first, first + 1 ... stop - 1 of some strategies, in the order of the scenario file."""

    first: int
    stop: int
    strategies: tuple[str, ...]

    @property
    def size(self) -> int:
        """Return the number of replications."""
        return self.stop - self.first


def missing(strategies: Iterable[str], replications: int, have: Mapping[str, Collection[int]]) -> list[Chunk]:
    """Return the longest ranges of replications 0 ... replications - 1 that lack the same strategies.

    have: the replications at hand by strategy; a strategy not in it has none.
    """
    names = tuple(strategies)
    if not any(have.get(name) for name in names):
        return [Chunk(0, replications, names)]
    sets = {name: frozenset(have.get(name, ())) for name in names}
    lacking = [tuple(name for name in names if number not in sets[name]) for number in range(replications)]
    ranges = ((each, list(numbers)) for each, numbers in groupby(range(replications), lacking.__getitem__))
    return [Chunk(numbers[0], numbers[-1] + 1, each) for each, numbers in ranges if each]


class Pacer:
    """Learns how long a replication takes, and says how many make a piece; a fixed size is kept."""

    def __init__(self, size: int | None = None, largest: int = LARGEST) -> None:
        """Take a fixed size, or None to go by time, beginning with one replication; largest: at most."""
        self.fixed = size
        self.largest = largest
        self.ideal = 1
        self.seconds_each = 0.0  # of the last piece

    def learn(self, replications: int, seconds: float) -> None:
        """Take how long some replications took."""
        self.seconds_each = seconds / replications
        wanted = int(PIECE_S / self.seconds_each) if seconds > 0 else self.largest
        self.ideal = max(1, min(wanted, replications * GROWTH, self.largest))

    @property
    def size(self) -> int:
        """Return how many replications the next piece is to have."""
        return self.fixed or self.ideal


def cut(chunks: Iterable[Chunk], pacer: Pacer) -> Iterator[Chunk]:
    """Yield the chunks in pieces of the size the pacer says at that moment."""
    for chunk in chunks:
        first = chunk.first
        while first < chunk.stop:
            stop = min(first + pacer.size, chunk.stop)
            yield Chunk(first, stop, chunk.strategies)
            first = stop
