"""Where figures come from: the scenario, and how it was run."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

from o2sim.runs.precision import Precision
from o2sim.typed import Count, Hash, item

Engine = Annotated[str, (("enum", ("kernel", "reference")),)]


@dataclass(frozen=True)
class Origin:
    """The scenario that figures are of."""

    scenario: str
    scenario_hash: Hash = item("of what the file says")


@dataclass(frozen=True)
class Ran:
    """How it was run: the same again gives the same figures."""

    version: str = item("of o2sim")
    engine: Engine = item()
    seed: Count = item()
    replications: Count = item("done; those asked for, where the command states the number done elsewhere")


@dataclass(frozen=True)
class Provenance:
    """What a study always says of itself, and how close it came where that was asked for."""

    of: Origin = item(flat=True)
    ran: Ran = item(flat=True)
    replications_requested: Count = item()
    complete: bool = item("false where Ctrl-C cut it short")
    horizon_days: float = item("length of a replication")
    per_days: float = item("what counts, hours, litres and money are scaled to")
    precision: Precision | None = item(default=None, sometimes=True)
