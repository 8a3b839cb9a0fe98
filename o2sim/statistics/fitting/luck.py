"""Seeded uniform numbers for bootstraps: the same on every machine and under every version of NumPy."""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

from o2sim.draws.words import raw_words

Values = npt.NDArray[np.float64]


def uniforms(seed: int, purpose: str, item: int | str, shape: int | tuple[int, ...]) -> Values:
    """Return numbers within 0-1, never 0 or 1, of the given shape: a pure function of all four.

    The words are those of Philox4x64-10, keyed by seed and purpose.
    """
    dims = (shape,) if isinstance(shape, int) else shape
    words = raw_words(seed, 0, purpose, item, 0, math.prod(dims))
    return (((words >> np.uint64(12)).astype(np.float64) + 0.5) * 2.0**-52).reshape(dims)
