"""Words of 64 bits by seed, replication, stream, item and ordinal, from NumPy alone; which ones: philox.py."""

from __future__ import annotations

import hashlib
from functools import lru_cache

import numpy as np
import numpy.typing as npt

WORDS = 4  # words in one Philox4x64 block
MASK = (1 << 64) - 1
Item = int | str


@lru_cache(maxsize=4096)
def stable_hash(text: str) -> int:
    """Return a 64-bit number for a text, the same on every machine and in every Python."""
    return int.from_bytes(hashlib.blake2b(text.encode(), digest_size=8).digest(), "little")


def item_word(item: Item) -> int:
    """Return the 64-bit word of an item: its own value, or the hash of a text."""
    return stable_hash(item) if isinstance(item, str) else item & MASK


def patient_item(class_name: str, ordinal: int) -> int:
    """Return the item under which the draws of one patient stand."""
    return (stable_hash(class_name) + ordinal) & MASK


def raw_words(
    seed: int, replication: int, stream: str, item: Item, first: int, count: int
) -> npt.NDArray[np.uint64]:
    """Return the 64-bit words with ordinals first .. first + count - 1, from NumPy; shape (count,)."""
    block, skip = divmod(first, WORDS)
    key = np.array([seed & MASK, stable_hash(stream)], dtype=np.uint64)
    counter = np.array([block, item_word(item), replication & MASK, 0], dtype=np.uint64)
    bits = np.random.Philox(key=key, counter=counter)
    words: npt.NDArray[np.uint64] = bits.random_raw(skip + count)
    return words[skip:]
