"""What no record gave, key by key with the reason: it stays as it is in the base, or at its default."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from o2sim.questions.fit.choosing import PATIENTS, Path, overlap
from o2sim.questions.fit.values import Value
from o2sim.scenario.changing.fleet_levels import STRATEGIES
from o2sim.scenario.keys.field import Section
from o2sim.scenario.keys.fields import TOP
from o2sim.scenario.text.nodes import Mapping, Node, find

OF_THE_QUESTION = (  # what is asked of a hospital, which no book of it can say
    "name", "about", "figures", "start", "horizon", "warm_up", "tolerated_gap", "shortfall", "options", STRATEGIES,
)  # fmt: skip
RULE = ("reorder_point", "order_up_to", "review")
IN_NO_BOOK = "the reorder rule is in no book: see whether its levels suit this hospital"
PRICES = "prices are in no book"
SHOCKS = (
    "no book says which closed roads, cuts and patients came of one storm: the figure is your own; the closures, "
    "cuts and admissions of the books hold those of storms too, so take them out there, or leave shocks out"
)
MONEY = "what money comes, when, and how the supplier is paid are in no book: ask whoever keeps the accounts"
NO_RECORD = "no record gives it"
NO_CLASS = "no record of this class"
NO_LEVEL = "left out in the base, so that it follows from the fleet"


def not_given(root: Mapping, values: Sequence[Value], likes: dict[str, str]) -> list[tuple[str, str]]:
    """Return (key, why) for each key that a text states and no record gave, and for the reorder rule always.

    root: the tree of the text that was written. likes: classes added, by the class of the base they are like.
    """
    given = [value.path for value in values]
    found = [
        (".".join(path), _why(path, given, likes))
        for path in stated(root, TOP)
        if path[0] not in OF_THE_QUESTION and not any(overlap(path, each) for each in given)
    ]
    resupply = root.entries.get("resupply")
    if isinstance(resupply, Mapping) and find(root, ("cylinders", "sizes")) is None:
        lacking = [name for name in RULE[:2] if name not in resupply.entries]
        found += [(f"resupply.{name}", f"{IN_NO_BOOK} ({NO_LEVEL})") for name in lacking]
    return sorted(found, key=lambda each: not is_rule(each[0]))


def is_rule(key: str) -> bool:
    """Return whether a key is of the reorder rule."""
    of_size = key.startswith("resupply.sizes.") and key.endswith(RULE)
    return of_size or key in [f"resupply.{name}" for name in RULE]


def without_records(root: Mapping, values: Sequence[Value]) -> list[str]:
    """Return the classes of a text of which no record says anything."""
    patients = root.entries.get(PATIENTS)
    known = list(patients.entries) if isinstance(patients, Mapping) else []
    given = {each.path[1] for each in values if each.path[0] == PATIENTS}
    return [name for name in known if name not in given]


def stated(node: Node, section: Section, above: Path = ()) -> Iterator[Path]:
    """Yield the path of each key of a tree that is no section: a law or a list as a whole."""
    if not isinstance(node, Mapping):
        return
    for name, child in node.entries.items():
        field, path = section.field(name), (*above, name)
        inside = field.section if field is not None else None
        if inside is None or field is None or not isinstance(child, Mapping) or field.kind == "list of sections":
            yield path
        elif field.kind == "named sections":
            for one, each in child.entries.items():
                yield from stated(each, inside, (*path, one))
        else:
            yield from stated(child, inside, path)


def _why(path: Path, given: Sequence[Path], likes: dict[str, str]) -> str:
    if is_rule(".".join(path)):
        return IN_NO_BOOK
    if path[0] == "costs":
        return PRICES
    if path[0] == "shocks":
        return SHOCKS
    if path[0] == "funds":
        return MONEY
    if path[0] == PATIENTS and len(path) > 1:
        if path[1] in likes:
            return f"{NO_RECORD}: as {likes[path[1]]} in the base"
        if not any(each[:2] == path[:2] for each in given):
            return NO_CLASS
    return NO_RECORD
