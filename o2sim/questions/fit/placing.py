"""Where parts meet the base: thoughts within its laws, what people think beside records, closures in its run."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import replace

from o2sim.fits.found import THOUGHT, Part, Whole
from o2sim.fits.supply import roads
from o2sim.fits.thoughts import beside, placed
from o2sim.questions.fit.choosing import Path, home_of, path_of
from o2sim.scenario.building.uncertain import is_range
from o2sim.scenario.changing.override import find
from o2sim.scenario.changing.splice import flow
from o2sim.scenario.text.nodes import Mapping, Node
from o2sim.scenario.types.hospital import Scenario
from o2sim.scenario.types.laws import LAW_FORMS

MIDDLES = ("mean", "median")  # of what does not vary both are the value itself


def in_place(parts: Sequence[Part], classes: Sequence[str], raw: Mapping, scenario: Scenario) -> tuple[Part, ...]:
    """Return the parts as the base takes them, in their order.

    raw: the tree of the base, its ranges as they stand. scenario: the base, whose days closures are moved into.
    """
    others = [part for part in parts if not _is_thought(part)]
    said = iter(beside([part for part in parts if _is_thought(part)], others))
    first, last = run_of(scenario)
    return tuple(
        _of_thought(next(said), classes, raw) if _is_thought(part) else _in_run(part, first, last)
        for part in parts
    )


def run_of(scenario: Scenario) -> tuple[dt.date, dt.date]:
    """Return the first day that a scenario simulates, its warm-up included, and the last."""
    hospitals = scenario.hospitals.values()
    first = min(each.start - dt.timedelta(seconds=each.warm_up_s) for each in hospitals)
    last = max(each.start + dt.timedelta(seconds=max(0, each.horizon_s - 1)) for each in hospitals)
    return first, last


def _is_thought(part: Part) -> bool:
    return part.tier == THOUGHT and len(part.wholes) == 1 and not part.numbers


def _in_run(part: Part, first: dt.date, last: dt.date) -> Part:
    """Return a part with its closures, which have the dates of the books, on the same dates of the run."""
    return replace(part, wholes=tuple(
        replace(
            whole,
            text=roads.in_run(whole.text, first, last),
            draws=tuple(roads.in_run(text, first, last) for text in whole.draws),
        ) if whole.key == roads.KEY else whole
        for whole in part.wholes
    ))  # fmt: skip


def _of_thought(part: Part, classes: Sequence[str], raw: Mapping) -> Part:
    """Return a thought at the key of the base that it is of: a law's own parameter, or what does not vary."""
    (whole,) = part.wholes
    path = path_of(whole.key, classes)
    home = home_of(path)
    there, inside = find(raw, home), path[len(home) :]
    if _is_law(there):
        law = flow(there) if there is not None else ""
        if not inside:
            return placed(part, law)
        named = _named(there, inside)
        if named is None and inside == MIDDLES[:1]:
            return placed(_at(part, home), law)
        return part if named is None else _at(part, (*home, *named))
    if not inside or inside[-1] not in MIDDLES:
        return part
    moved = _at(part, home)
    return replace(moved, cautions=(
        *moved.cautions,
        f"{'.'.join(home)} is one value in the base, without a law: what is thought of its {inside[-1]} is its"
        " range",
    ))  # fmt: skip


def _is_law(there: Node | None) -> bool:
    """Return whether a base has a law at a path: one by its name, no plain value and no range of one."""
    return isinstance(there, Mapping) and not is_range(there) and next(iter(there.entries), "") in LAW_FORMS


def _named(there: Node | None, inside: Path) -> Path | None:
    """Return the way to a parameter of the law that stands there, with its name; None where it has none such."""
    assert isinstance(there, Mapping)
    ((name, law),) = list(there.entries.items())[:1]
    own = law.entries if isinstance(law, Mapping) else {}
    return (name, inside[-1]) if inside[-1] in own and inside in ((inside[-1],), (name, inside[-1])) else None


def _at(part: Part, path: Path) -> Part:
    (whole,) = part.wholes
    return replace(part, wholes=(Whole(".".join(path), whole.text, whole.draws),))
