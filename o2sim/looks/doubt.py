"""How sure a figure is, in the same words everywhere.

What its interval holds, which values were taken of uncertain numbers, and how close it came to the precision
wanted.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from o2sim.looks.words import Summary, number, quoted, runs
from o2sim.runs.precision import Plan
from o2sim.runs.study import Study
from o2sim.scenario.types.hospital import Scenario
from o2sim.statistics import doubt

SAID = {
    doubt.CHANCE: "chance in the simulation only, not unknown inputs",
    doubt.CHANCE_AND_INPUTS: "chance in the simulation and also unknown inputs, within their ranges",
    doubt.POINTS: "which points of the unknown inputs were drawn, not the chance that all points share",
}
CHANCE_ONLY = SAID[doubt.CHANCE]
IN_SHORT = f"{doubt.CHANCE} only"  # near a table that says it in full
SAME_LUCK = f"meeting the same patients, power cuts and roads (in brackets {IN_SHORT}):"
BOTH = "chance in the simulation and also unknown inputs, as the draws have them"
OF_LOW_AND_HIGH = f"low and high hold {CHANCE_ONLY}"
UNCERTAIN_HEADS = ("uncertain", "low", "likely", "high")


def held(result: Mapping[str, Any]) -> str:
    """Return what the intervals of a result hold, to stand after "the interval:"."""
    return holds(result[doubt.KEY], result.get("draws"))


def holds(which: str, draws: object = None) -> str:
    """Return the words of `interval_holds`; draws: the joint draws of the result, None without."""
    return SAID[which] if draws is None else BOTH


def same_luck(result: Mapping[str, Any]) -> str:
    """Return what strategies that are compared meet, and what the brackets behind it hold."""
    return SAME_LUCK if result.get("draws") is None else SAME_LUCK.replace(IN_SHORT, BOTH)


def brackets(level: str, result: Mapping[str, Any] | None = None) -> str:
    """Return "in brackets the 95 % confidence interval: chance in the simulation only, not unknown inputs"."""
    return f"in brackets the {level} confidence interval: {CHANCE_ONLY if result is None else held(result)}"


def likely_note(scenario: Scenario) -> str:
    """Return that the likely values are taken, an empty text where nothing is uncertain."""
    count = len(scenario.uncertain)
    if not count:
        return ""
    if count == 1:
        return "1 value is uncertain; this takes the likely one. `o2sim drivers` shows what it does."
    return f"{count} values are uncertain; this takes the likely ones. `o2sim drivers` shows what they do."


def uncertain_rows(scenario: Scenario) -> list[tuple[str, ...]]:
    """Return path, low, likely and high of each uncertain number, in the order of the file."""
    return [(item.path, *item.texts) for item in scenario.uncertain]


def closeness(share: float, like: float | None = None) -> str:
    """Return "±1 in 100", or of 1,000 or 10,000 where it is small; like: a share whose denominator is taken."""
    sized = share if like is None else like
    size = next((size for size in (100, 1_000) if sized * size >= 1), 10_000)
    return f"±{number(share * size)} in {size:,}"


def fixed(plan: Plan) -> str:
    """Return how many replications a pilot fixed, in one line, for those who wait for them."""
    needed = (
        f"A pilot of {plan.pilot:,} replications (seed {plan.pilot_seed}, in no result) asks for {plan.needed:,} "
        f"to know the chance of a supply shortfall to {closeness(plan.wanted)}"
    )
    if plan.within_reach:
        return f"{needed}."
    about = f"which give about {closeness(plan.expected, plan.wanted)}"
    return f"{needed}; no more than {plan.most:,} are allowed, {about}. For more raise --replications."


def sentences(summary: Summary) -> list[str]:
    """Return what precision was wanted and what was reached, one sentence or two; none where none was wanted."""
    found: dict[str, Any] | None = summary.get("precision")
    if found is None:
        return []
    wanted, arms, widest = found["wanted"], found["reached"], found["widest"]
    each = "" if len(arms) == 1 else f" or closer under every strategy ({quoted([widest])} least close)"
    pilot = runs(found["pilot"]["replications"], summary["horizon_days"])
    return [
        f"Asked for to {closeness(wanted)}, the chance of a supply shortfall came out to "
        f"{closeness(arms[widest], wanted)}{each}. A pilot of {pilot}, which is in no result, asked for "
        f"{found['replications_needed']:,} replications{_and(summary, found)}"
    ]


def _and(summary: Summary, found: dict[str, Any]) -> str:
    """Return how the sentence about the number ends: as it was, or why it was not met."""
    if not summary["complete"]:
        return f"; {summary['replications']:,} were done."
    if not found["within_reach"]:
        return (
            f"; no more than {found['replications_allowed']:,} were allowed. To come as close as asked, raise "
            "--replications."
        )
    if found["met"]:
        return "."
    return (
        "; they came out a little wider than the pilot led to expect, as one in ten or so does. Adding to them "
        "until they fit would make the interval untrue: ask again with another --seed."
    )


def done(study: Study) -> str:
    """Return how many replications were run, and the pilot that fixed their number, for the line of provenance."""
    said = f"{study.replications:,} replication" + ("s" if study.replications != 1 else "")
    plan = study.plan
    return said if plan is None else f"{said} fixed by a pilot of {plan.pilot:,} with seed {plan.pilot_seed}"
