"""What stands on both charts of a what-if: what is drawn, of how many runs; and what cannot be drawn."""

from __future__ import annotations

from textwrap import wrap

from o2sim.errors import O2simError
from o2sim.looks.drawing import clipped
from o2sim.looks.words import under_title
from o2sim.questions.whatif.text import DRAWN, Result


def require(result: Result, measure: str) -> None:
    """Raise O2simError where no strategy has the measure anywhere: without prices there is no cost."""
    entries = (item[DRAWN[measure][0]] for point in result["points"] for item in point["strategies"].values())
    if all(entry is None for entry in entries):
        raise O2simError(f"charts: the scenario states no prices, so there is no {measure} to draw")


def measure_words(result: Result, measure: str) -> str:
    """Return what is drawn, money with its currency."""
    currency = f", {result['currency']}" if measure == "cost" and result["currency"] else ""
    return f"{DRAWN[measure][1]}{currency}"


def title(result: Result, what: str, wide: int = 95) -> str:
    """Return the title of a chart: what it shows, of which place, of how many runs."""
    runs = result["replications"]
    made = f"{runs:,} replication{'' if runs == 1 else 's'} a point, seed {result['seed']}"
    name = clipped(result["scenario"], max(20, wide - len(made) - 2))
    return "\n".join([*wrap(what, wide), f"{name}: {made}", *under_title(result)])
