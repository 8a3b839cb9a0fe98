"""A law of chance in its canonical form."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Law:
    """A law of chance in the unit of its field: kind and its canonical parameters.

    kind and parameters: constant (value,), exponential (mean,), lognormal (mu, sigma of the log),
    gamma (shape, scale), weibull (shape, scale), uniform (low, high), triangular (low, mode, high),
    empirical (sorted values, each as likely).
    """

    kind: str
    parameters: tuple[float, ...]
