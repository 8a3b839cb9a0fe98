"""What is written at each key: numbers as ranges, parameters put together to laws, what is given whole."""

from __future__ import annotations

from collections.abc import Mapping as AnyMapping
from collections.abc import Sequence
from dataclasses import dataclass

from o2sim.fits.found import Number, Part, Whole
from o2sim.questions.fit.choosing import Claim, Path, Unused, home_of
from o2sim.questions.fit.ranges import Ranged, ranged
from o2sim.scenario.changing.override import find
from o2sim.scenario.changing.splice import flow
from o2sim.scenario.text.nodes import Mapping
from o2sim.scenario.types.laws import LAW_FORMS


@dataclass(frozen=True)
class Value:
    """What is written at a key of the file. numbers: those with a range; whole: what was given whole.

    kept: parameters of the law that are the base's.
    """

    path: Path
    text: str
    part: Part
    numbers: tuple[Ranged, ...] = ()
    whole: Whole | None = None
    kept: tuple[str, ...] = ()

    @property
    def key(self) -> str:
        """Return the key with dots."""
        return ".".join(self.path)

    @property
    def columns(self) -> dict[str, Sequence[str] | Sequence[float]]:
        """Return the columns of the table of draws: its cells by its head, a key with its unit."""
        if self.whole is not None:
            return {self.key: self.whole.draws} if self.whole.draws else {}
        return {_head(each): each.cells for each in self.numbers}


def _head(number: Ranged) -> str:
    key = ".".join(number.path)
    return f"{key} ({number.unit})" if number.unit else key


def values(claims: Sequence[Claim], base: Mapping) -> tuple[list[Value], list[Unused]]:
    """Return what is written, and what cannot be: a parameter of a law that nobody gives the rest of.

    base: the tree of the base, its ranges as they stand.
    """
    made: list[Value] = []
    unused: list[Unused] = []
    groups: dict[tuple[Path, int], list[Claim]] = {}
    for claim in claims:
        groups.setdefault((claim.home, id(claim.part)), []).append(claim)
    for (home, _), same in groups.items():
        for claim in same:
            if isinstance(claim.item, Whole):
                made.append(Value(claim.path, claim.item.text, claim.part, whole=claim.item))
        numbers = [(each.path, each.item) for each in same if isinstance(each.item, Number)]
        if not numbers:
            continue
        if numbers[0][0] == home:
            found = [ranged(item, path) for path, item in numbers]
            made += [Value(home, each.text, same[0].part, (each,)) for each in found]
            continue
        law = _law(home, numbers, base)
        if law is None:
            unused += [Unused(item.key, same[0].part, NO_LAW) for _, item in numbers]
        else:
            made.append(_of_law(home, law, numbers, same[0].part))
    return made, unused


NO_LAW = "the base has another law there, and the records give a part of a law only"


@dataclass(frozen=True)
class _Form:
    """A law by its name, its parameters in order, and the base's texts of those that the records do not give."""

    name: str
    parameters: tuple[str, ...]
    kept: AnyMapping[str, str]


def _law(home: Path, numbers: Sequence[tuple[Path, Number]], base: Mapping) -> _Form | None:
    """Return the law that some of its parameters are given of; the rest is the base's, None where it has none."""
    inside = [path[len(home) :] for path, _ in numbers]
    there = find(base, home)
    entries = there.entries if isinstance(there, Mapping) else {}
    names = {each[0] for each in inside if len(each) > 1} or set(entries)
    given = {each[-1] for each in inside}
    if len(names) != 1:
        return None
    (name,) = names
    law = entries.get(name)
    stated = law.entries if isinstance(law, Mapping) else {}
    for form in sorted(LAW_FORMS.get(name, ()), key=lambda each: len(set(each) - given)):
        kept = {each: flow(stated[each]) for each in form if each not in given and each in stated}
        if given <= set(form) and set(form) == given | set(kept):
            return _Form(name, form, kept)
    return None


def _of_law(home: Path, law: _Form, numbers: Sequence[tuple[Path, Number]], part: Part) -> Value:
    found = {path[-1]: ranged(item, (*home, law.name, path[-1])) for path, item in numbers}
    texts = {**law.kept, **{name: each.text for name, each in found.items()}}
    inside = ", ".join(f"{name}: {texts[name]}" for name in law.parameters)
    return Value(home, f"{{{law.name}: {{{inside}}}}}", part, tuple(found.values()), kept=tuple(law.kept))


def gives(value: Value, path: Path) -> bool:
    """Return whether a value says what stands at a path."""
    home = home_of(path)
    return value.path == home[: len(value.path)] or home == value.path[: len(home)]
