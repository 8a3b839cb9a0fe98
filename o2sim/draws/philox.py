"""Uniform numbers by seed, replication, stream, item and ordinal, whatever the order of the calls.

Philox4x64-10 (Salmon, Moraes, Dror and Shaw 2011) is counter-based: block b of four 64-bit words is a pure
function of a key and a counter, so any ordinal can be reached without drawing those before it. Key: (seed, hash of
the stream). Counter: (block, item, replication, 0), where the block of ordinal n is n // 4 + 1: the bits are those
of numpy.random.Philox, which steps the counter before it yields the first block and keeps its stream across
versions (its distributions it does not). A text counts as its BLAKE2b hash of 8 bytes, little-endian; a uniform
number is (the upper 52 bits of the word + 1/2) / 2^52, so never 0 or 1.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

from o2sim.compiler import jit
from o2sim.compiler.jit import Real, Whole, Word
from o2sim.draws.words import MASK as MASK
from o2sim.draws.words import WORDS as WORDS
from o2sim.draws.words import Item as Item
from o2sim.draws.words import item_word as item_word
from o2sim.draws.words import patient_item as patient_item
from o2sim.draws.words import raw_words as raw_words
from o2sim.draws.words import stable_hash as stable_hash

Words = Any  # WORDS of them
_M0, _M1 = np.uint64(0xD2E7470EE14C6C93), np.uint64(0xCA5A826395121157)  # multipliers and Weyl keys of the paper
_W0, _W1 = np.uint64(0x9E3779B97F4A7C15), np.uint64(0xBB67AE8584CAA73B)
_ROUNDS = 10
_TO_UNIT = 2.0**-52


if jit.COMPILES:

    @jit.compiled
    def block(seed: Word, replication: Word, stream: Word, item: Word, number: Whole) -> Words:
        """Return the 64-bit words with ordinals from 4 x number on; all but the number are such words."""
        a, b, c, d = np.uint64(number + 1), item, replication, np.uint64(0)
        k0, k1 = seed, stream
        for _ in range(_ROUNDS):
            high_a, low_a = jit.high_product(_M0, a), _M0 * a
            high_c, low_c = jit.high_product(_M1, c), _M1 * c
            a, b, c, d = high_c ^ b ^ k0, low_c, high_a ^ d ^ k1, low_a
            k0, k1 = k0 + _W0, k1 + _W1
        return a, b, c, d

else:

    def block(seed: int, replication: int, stream: int, item: int, number: int) -> Words:
        """Return the 64-bit words with ordinals from 4 x number on; all but the number are such words."""
        key = np.array([seed, stream], dtype=np.uint64)
        counter = np.array([int(number), item, replication, 0], dtype=np.uint64)
        return tuple(np.random.Philox(key=key, counter=counter).random_raw(WORDS))


@jit.compiled
def word(seed: Word, replication: Word, stream: Word, item: Word, ordinal: Whole) -> Whole:
    """Return one 64-bit word; all but the ordinal are 64-bit words themselves."""
    a, b, c, d = block(seed, replication, stream, item, ordinal // WORDS)
    place = ordinal % WORDS
    return a if place == 0 else (b if place == 1 else (c if place == 2 else d))


@jit.compiled
def unit(bits: Word) -> Real:
    """Return a number strictly between 0 and 1 for a 64-bit word."""
    # 52 bits: with 53 the half of the greatest would round up to 1
    return (np.int64(bits >> np.uint64(12)) + 0.5) * _TO_UNIT


@jit.compiled
def uniform(seed: Word, replication: Word, stream: Word, item: Word, ordinal: Whole) -> Real:
    """Return a number strictly between 0 and 1; all but the ordinal are 64-bit words."""
    return unit(word(seed, replication, stream, item, ordinal))


def uniforms(
    seed: int, replication: int, stream: str, item: Item, first: int, count: int
) -> npt.NDArray[np.float64]:
    """Return uniform numbers strictly between 0 and 1 with ordinals first .. first + count - 1."""
    found = np.empty(count)
    key, what = (np.uint64(seed & MASK), np.uint64(replication & MASK)), np.uint64(stable_hash(stream))
    _fill(*key, what, np.uint64(item_word(item)), first, found)
    return found


@jit.cached
def _fill(
    seed: Word, replication: Word, stream: Word, item: Word, first: Whole, out: npt.NDArray[np.float64]
) -> None:
    for place in range(len(out)):
        out[place] = uniform(seed, replication, stream, item, first + place)
