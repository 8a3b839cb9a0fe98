"""The precision of a study in, words out: what was wanted, what the pilot fixed, how close it came."""

from __future__ import annotations

from typing import Any

from o2sim.looks.words import Summary, number, quoted, runs
from o2sim.runs.precision import Plan
from o2sim.runs.study import Study


def closeness(share: float, like: float | None = None) -> str:
    """Return "±1 in 100", or of 1,000 or 10,000 where it is small; like: a share whose denominator is taken."""
    told = share if like is None else like
    size = next((size for size in (100, 1_000) if told * size >= 1), 10_000)
    return f"±{number(share * size)} in {size:,}"


def fixed(plan: Plan) -> str:
    """Return how many replications a pilot fixed, in one line, for those who wait for them."""
    pilot = f"A pilot of {plan.pilot:,} replications (seed {plan.pilot_seed}, in no result)"
    if plan.within_reach:
        return f"{pilot} asks for {plan.needed:,} to know the chance of a stock-out to {closeness(plan.wanted)}."
    return (
        f"{pilot} asks for {plan.needed:,} to know the chance of a stock-out to {closeness(plan.wanted)}; no more "
        f"than {plan.most:,} are allowed, which give about {closeness(plan.expected, plan.wanted)}. For more "
        "raise --replications."
    )


def sentences(summary: Summary) -> list[str]:
    """Return what was asked and how close it came, one sentence or two; none where no precision was asked for."""
    told: dict[str, Any] | None = summary.get("precision")
    if told is None:
        return []
    wanted, arms, widest = told["wanted"], told["reached"], told["widest"]
    each = "" if len(arms) == 1 else f" or closer under every strategy ({quoted([widest])} least close)"
    pilot = runs(told["pilot"]["replications"], summary["horizon_days"])
    return [
        f"Asked for to {closeness(wanted)}, the chance of a stock-out came out to "
        f"{closeness(arms[widest], wanted)}{each}. A pilot of {pilot}, which is in no result, asked for "
        f"{told['replications_needed']:,} replications{_and(summary, told)}"
    ]


def _and(summary: Summary, told: dict[str, Any]) -> str:
    """Return how the sentence about the number ends: as it was, or why it was not met."""
    if not summary["complete"]:
        return f"; {summary['replications']:,} were done."
    if not told["within_reach"]:
        return (
            f"; no more than {told['replications_allowed']:,} were allowed. To come as close as asked, raise "
            "--replications."
        )
    if told["met"]:
        return "."
    return (
        "; they came out a little wider than the pilot led to expect, as one in ten or so does. Adding to them "
        "until they fit would make the interval untrue: ask again with another --seed."
    )


def done(study: Study) -> str:
    """Return how many replications were run, and the pilot that fixed their number, for the line of provenance."""
    told = f"{study.replications:,} replication" + ("s" if study.replications != 1 else "")
    plan = study.plan
    return told if plan is None else f"{told} fixed by a pilot of {plan.pilot:,} with seed {plan.pilot_seed}"
