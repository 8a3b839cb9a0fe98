"""Which parameters totals can fix, and calibration by simulation alone where there is no likelihood."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Values = npt.NDArray[np.float64]
_RANK = 1e-9


@dataclass(frozen=True)
class Fixed:
    """How many combinations of parameters totals fix, and which parameters each by itself."""

    rank: int
    parameters: tuple[str, ...]


def what_is_fixed(totals: Sequence[Mapping[str, float]], parameters: Sequence[str]) -> Fixed:
    """Return what totals fix of parameters, each total a product of their powers (name: power, others 0).

    Cylinders used are admissions x share x stay x flow: one number, which four parameters can share in any way.
    On the scale of logarithms the powers are a linear system, whose rank says how much of it is fixed.
    """
    powers = np.array([[total.get(name, 0.0) for name in parameters] for total in totals]).reshape(
        -1, len(parameters)
    )
    rank = int(np.linalg.matrix_rank(powers, tol=_RANK)) if powers.size else 0
    fixed = [
        name
        for name, alone in zip(parameters, np.eye(len(parameters)), strict=True)
        if rank and np.linalg.matrix_rank(np.vstack([powers, alone]), tol=_RANK) == rank
    ]
    return Fixed(rank, tuple(fixed))


@dataclass(frozen=True)
class Accepted:
    """Draws of the prior whose simulation came as near to what was seen as asked, shape (k, ...), and their
    share."""

    draws: Values
    share: float


def accepted(
    prior: Values, simulate: Callable[[Values], Values], seen: npt.ArrayLike, within: float = 0.0
) -> Accepted:
    """Return the draws of a prior, shape (n, ...), whose simulated totals, shape (n,) or (n, m), are those seen.

    within: how far a total may be off. With 0 and whole numbers the draws are from the posterior itself, and their
    share estimates the chance of what was seen. Source: Beaumont, Zhang and Balding, Genetics 2002;162:2025-35
    (from memory). Raises ValueError where no draw comes near: the prior and what was seen do not fit together.
    """
    away = np.abs(np.asarray(simulate(prior), np.float64).reshape(len(prior), -1) - np.atleast_1d(seen))
    near = (away <= within).all(axis=1)
    if not near.any():
        raise ValueError(f"calibration: none of {len(prior)} draws comes within {within:g} of what was seen")
    return Accepted(prior[near], float(near.mean()))
