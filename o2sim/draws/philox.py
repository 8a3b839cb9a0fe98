"""Seed, replication, stream, item and ordinal in; uniform numbers out, whatever the order of the calls.

Philox4x64-10 (Salmon, Moraes, Dror and Shaw 2011) is counter-based: block b of four 64-bit words is a pure
function of a key and a counter, so any ordinal can be reached without drawing those before it. The bits come
from numpy.random.Philox, whose stream NumPy keeps across versions (its distributions it does not).
"""

from __future__ import annotations

import hashlib
from functools import lru_cache

import numpy as np
import numpy.typing as npt

WORDS = 4  # words in one Philox4x64 block
_MASK = (1 << 64) - 1
Item = int | str


@lru_cache(maxsize=4096)
def stable_hash(text: str) -> int:
    """Return a 64-bit number for a text, the same on every machine and in every Python."""
    return int.from_bytes(hashlib.blake2b(text.encode(), digest_size=8).digest(), "little")


def raw_words(
    seed: int, replication: int, stream: str, item: Item, first: int, count: int
) -> npt.NDArray[np.uint64]:
    """Return the 64-bit words with ordinals first .. first + count - 1; shape (count,).

    Key: (seed, hash of the stream). Counter: (block, item, replication, 0), where the block of ordinal n is
    n // 4 + 1 (NumPy steps the counter before it yields the first block).
    """
    item_word = stable_hash(item) if isinstance(item, str) else item & _MASK
    block, skip = divmod(first, WORDS)
    key = np.array([seed & _MASK, stable_hash(stream)], dtype=np.uint64)
    counter = np.array([block, item_word, replication & _MASK, 0], dtype=np.uint64)
    bits = np.random.Philox(key=key, counter=counter)
    words: npt.NDArray[np.uint64] = bits.random_raw(skip + count)
    return words[skip:]


def uniforms(
    seed: int, replication: int, stream: str, item: Item, first: int, count: int
) -> npt.NDArray[np.float64]:
    """Return uniform numbers strictly between 0 and 1 with ordinals first .. first + count - 1."""
    words = raw_words(seed, replication, stream, item, first, count)
    # 52 bits: with 53 the half of the greatest would round up to 1
    return ((words >> np.uint64(12)).astype(np.float64) + 0.5) * 2.0**-52
