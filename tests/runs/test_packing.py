"""Outcomes as bytes: all that was packed comes back, and damage is seen."""

from __future__ import annotations

import json
import zlib
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from synthetic import outcome, small_study

from o2sim.outcome import AtOnce
from o2sim.runs.packing import Packed, PackingError, pack, pack_totals, totals_of, unpack

STUDY = small_study()
MANY = STUDY.outcomes["mixed"]
COSTS = [1.5 + k for k in range(len(MANY))]


def test_outcomes_of_a_run_come_back_whole():
    """Totals, levels of use, daily counts and money are the same after packing."""
    found, costs = unpack(pack(MANY, COSTS), 0)
    assert found == MANY
    assert costs == COSTS
    assert [type(o.patients) for o in found] == [int] * len(MANY)
    for mine, stored in zip(MANY, found, strict=True):
        assert stored.daily.dtype == np.int32
        assert (mine.daily == stored.daily).all()


def test_daily_counts_may_be_left_out():
    """Without the days the totals are there, the days empty, and the bytes a fraction."""
    packed = pack_totals([totals_of(o) for o in MANY], COSTS)
    found, _ = unpack(packed, 0)
    assert found == MANY
    assert [len(o.daily) for o in found] == [0] * len(MANY)
    assert packed.daily == b""


@given(
    big=st.integers(-(2**70), 2**70),
    causes=st.lists(st.integers(0, 2**63), max_size=4),
    levels=st.lists(st.integers(0, 9), max_size=5),
    days=st.integers(0, 3),
    cost=st.none() | st.floats(allow_nan=False, allow_infinity=False),
)
def test_any_whole_numbers_come_back(big, causes, levels, days, cost):
    """Numbers beyond 64 bits, empty tuples and runs of no day come back, and so does every digit of the money."""
    one = outcome(7, days=days, fuel_used=big, unserved_s=tuple(causes), at_once=AtOnce(cylinders=tuple(levels)))
    found, costs = unpack(pack([one], [cost]), 7)
    assert (found, costs) == ([one], [cost])


def test_numbers_of_numpy_are_stored_as_plain_ones():
    """An engine may fill an Outcome with NumPy's integers."""
    one = outcome(0, days=1, patients=np.int64(3), unit_running_s=(np.int32(4),))
    (found,), _ = unpack(pack([one], [None]), 0)
    assert (found.patients, found.unit_running_s) == (3, (4,))


@pytest.mark.parametrize("part", ["totals", "daily"])
@given(place=st.integers(0, 10**6), bit=st.integers(0, 7))
def test_one_changed_bit_is_seen(part, place, bit):
    """Whatever single bit of a stored chunk is turned, it is never read as another result."""
    packed = pack(MANY[:1], COSTS[:1])
    data = bytearray(getattr(packed, part))
    data[place % len(data)] ^= 1 << bit
    try:
        found = unpack(replace(packed, **{part: bytes(data)}), 0)
    except PackingError:
        return
    assert found == (MANY[:1], COSTS[:1])  # a bit that zlib itself does not look at


def test_bytes_cut_short_or_of_another_layout_are_refused():
    """Half a blob and fields of another build each get their reason."""
    packed = pack(MANY, COSTS)
    with pytest.raises(PackingError, match="cut short"):
        unpack(replace(packed, totals=packed.totals[:-9]), 0)
    plain = json.loads(zlib.decompress(packed.totals))
    plain["fields"][0] = "acres"
    other = json.dumps(plain).encode()
    days = zlib.decompress(packed.daily)
    from o2sim.runs.packing import _sum

    with pytest.raises(PackingError, match="fields are not those of this version"):
        unpack(Packed(zlib.compress(other), packed.daily, _sum(other, days)), 0)
