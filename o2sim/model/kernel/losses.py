"""Cylinders that go missing from the fleet."""

from __future__ import annotations

import math

import numpy as np

from o2sim.compiler import jit
from o2sim.compiler.jit import Record
from o2sim.draws.laws import rounded
from o2sim.draws.philox import uniform
from o2sim.model.kernel import codes
from o2sim.model.kernel.codes import LOG, RANK, STREAM
from o2sim.model.kernel.emergency import consider_emergency
from o2sim.model.kernel.events import schedule
from o2sim.model.kernel.layout import NONE, note
from o2sim.model.kernel.resupply import consider_review, credit_shelf
from o2sim.model.kernel.store import can_be_lost, lose
from o2sim.scenario.types.hospital import DAY_S

_ZERO = np.uint64(0)


def begin_losses(k: Record) -> None:
    """Schedule the first loss, where cylinders go missing."""
    if k.has_store and k.rules.cylinders_losses_per_day > 0:
        _next_loss(k)


def _next_loss(k: Record) -> None:
    u = uniform(k.seed, k.replication, STREAM.CYLINDER_LOSS, _ZERO, k.losses_met)
    due_s = k.now + rounded(-(DAY_S / k.rules.cylinders_losses_per_day) * math.log1p(-u), 1)
    schedule(k.calendar, due_s, RANK.CYLINDER_LOST, 0, codes.CYLINDER_LOST, NONE, 0)


def cylinder_lost(k: Record) -> None:
    """A cylinder that stands about goes missing: full, part-used or empty alike; none in use or promised."""
    credit_shelf(k)
    luck = uniform(k.seed, k.replication, STREAM.LOST_CYLINDER, _ZERO, k.losses_met)
    content = lose(k, np.int64(luck * can_be_lost(k)))
    if content != NONE:
        k.ledger.cylinders_lost += 1
        k.ledger.returned_gas += content
        note(k, LOG.CYLINDER_LOST, k.lost, k.full, content)
        consider_review(k, True)
        consider_emergency(k)
    k.losses_met += 1
    _next_loss(k)


jit.compile_file(globals())
