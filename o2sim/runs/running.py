"""Let a crew run pieces of work, and yield each with its result as it comes; workers that die are replaced."""

from __future__ import annotations

from collections import Counter, deque
from collections.abc import Callable, Hashable, Iterator
from concurrent.futures import FIRST_COMPLETED, BrokenExecutor, Future, wait
from typing import Any, TypeVar

from o2sim.runs.executors import Crew, WorkerError

MOST_LOSSES = 3  # of one piece, before it is given up
WAKE_S = 0.5  # so that Ctrl-C is heard on Windows too
Piece = TypeVar("Piece", bound=Hashable)


def run_pieces(
    crew: Crew,
    work: Callable[..., Any],
    pieces: Iterator[Piece],
    arguments: Callable[[Piece], tuple[Any, ...]],
) -> Iterator[tuple[Piece, Any]]:
    """Yield (piece, work(*arguments(piece))) in the order they are done; pieces are asked for one by one.

    A piece whose worker was lost is run again by another. Raises WorkerError where that happens to one piece
    more than MOST_LOSSES times, and whatever the work raises.
    """
    again: deque[Piece] = deque()
    losses: Counter[Piece] = Counter()
    under_way: dict[Future[Any], Piece] = {}
    while True:
        while len(under_way) < crew.window:
            piece = again.popleft() if again else next(pieces, None)
            if piece is None:
                break
            try:
                under_way[crew.submit(work, *arguments(piece))] = piece
            except BrokenExecutor:  # lost since the last look: reported by the futures under way, if there are any
                again.append(piece)
                if not under_way:
                    _count(losses, piece)
                    crew.renew()
                break
        if not under_way and not again:
            return
        done, _ = wait(under_way, timeout=WAKE_S, return_when=FIRST_COMPLETED)
        broken = False
        for future in done:
            piece = under_way.pop(future)
            try:
                result = future.result()
            except crew.lost_errors:
                _count(losses, piece)
                again.append(piece)
                broken = True
            else:
                yield piece, result
        if broken:
            again.extend(under_way.values())  # a pool that broke finishes nothing more
            under_way.clear()
            crew.renew()


def _count(losses: Counter[Any], piece: object) -> None:
    """Count the loss of a piece; raise WorkerError where it has been lost too often."""
    losses[piece] += 1
    if losses[piece] > MOST_LOSSES:
        raise WorkerError(
            f"a worker stopped {losses[piece]} times at the same work ({piece}), perhaps because memory ran out; "
            "use fewer --workers, or --workers 1. A script that starts workers does so under "
            "`if __name__ == '__main__':`"
        )
