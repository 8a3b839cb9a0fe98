"""The template of the workbook, made by a process of its own: what writes workbooks takes memory, and stays."""

from __future__ import annotations

import multiprocessing
from multiprocessing.connection import Connection

from o2sim.errors import O2simError

MOST_S = 60.0


def template_bytes() -> bytes:
    """Return the template as the bytes of a workbook. Raises O2simError where it cannot be made."""
    context = multiprocessing.get_context("spawn")
    ours, theirs = context.Pipe(duplex=False)
    process = context.Process(target=_send, args=(theirs,), daemon=True, name="o2sim-template")
    process.start()
    theirs.close()
    try:
        if not ours.poll(MOST_S):
            raise O2simError("the workbook was not made in time; in a terminal: o2sim records new FILE.xlsx")
        return ours.recv_bytes()
    except EOFError:
        raise O2simError("the workbook was not made; in a terminal: o2sim records new FILE.xlsx") from None
    finally:
        ours.close()
        process.kill()
        process.join()


def _send(pipe: Connection) -> None:
    from o2sim.records.template import template

    pipe.send_bytes(template())
