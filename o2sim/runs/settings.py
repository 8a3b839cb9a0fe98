"""Settings that several questions share, each declared once: how often to run, with which seed, by whom."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from o2sim.settings import setting

if TYPE_CHECKING:
    import pandas as pd

    from o2sim.scenario.changing.joint import Joint

ENGINES = ("kernel", "reference")


def strategies() -> Any:
    """Return which strategies, all by default."""
    return setting(None, "Only this one; may be repeated. Default: all.", flag="--strategy", multiple=True)


def replications(default: int | None, help_: str) -> Any:
    """Return how many replications."""
    return setting(default, help_, least=1, most=1_000_000)


def seed() -> Any:
    """Return the seed."""
    return setting(1, "Seed of all random numbers: the same seed gives the same figures.", least=0, most=2**63 - 1)


def engine() -> Any:
    """Return which engine runs."""
    words = "The compiled engine, or the readable one it is checked against: the same results, more slowly."
    return setting(ENGINES[0], words, choices=ENGINES, reads="engine")


def workers(default: int | None = 1) -> Any:
    """Return how many processes; a command leaves it to the machine where a function takes one."""
    words = (
        "How many processes share the work; changes no result. Default: one for each core, where it is worth it."
    )
    return setting(default, words, typed=None, least=1)


def cluster() -> Any:
    """Return whose workers do it instead."""
    words = "Let the workers of a dask.distributed cluster do it: tcp://host:8786."
    return setting(None, words, metavar="ADDRESS")


def store() -> Any:
    """Return where what is finished is kept."""
    return setting(None, "Keep what is finished in this file, and do not run again what is in it.", reads="place")


def target() -> Any:
    """Return the chance up to which a strategy counts as reliable."""
    return setting(0.05, "Chance of a supply shortfall that counts as reliable.", typed="5 %")


def draws() -> Any:
    """Return the joint draws of uncertain numbers."""
    words = (
        "A CSV file of joint draws of uncertain numbers: a column for each key, a row for each draw. Replication "
        "r "
        "meets row r mod the rows."
    )
    return setting(None, words, metavar="FILE")


def hold_levels(when: str) -> Any:
    """Return whether the levels of the reorder rule stay; when: the fleet changes, in the question's words."""
    return setting(False, f"Reorder point and order-up-to level stay where {when}.")


@dataclass(frozen=True)
class Drawn:
    """Joint draws of uncertain numbers: the option --draws."""

    draws: str | Path | pd.DataFrame | Joint | None = draws()


@dataclass(frozen=True)
class Strategies:
    """Which strategies."""

    strategies: Sequence[str] | None = strategies()


@dataclass(frozen=True)
class Luck:
    """What makes a run come out the same again."""

    seed: int = seed()
    engine: str = engine()


@dataclass(frozen=True)
class BatchSettings:
    """How many replications, fixed beforehand or by a precision that is asked for, and with which seed."""

    precision: float | None = setting(
        None,
        'How close the chance of a supply shortfall is to be known, such as "1 %" for ±1 in 100; a pilot then '
        "fixes the number of replications.",
        reads="closeness",
    )
    replications: int | None = replications(
        None,
        "How many times to run the horizon, fixed beforehand; with --precision the most allowed.  "
        "[default: 200, with --precision 10000]",
    )
    seed: int = seed()
    engine: str = engine()
