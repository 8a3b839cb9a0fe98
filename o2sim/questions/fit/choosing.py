"""Which part of the records gives each key: the best tier that has it; what the others said is not used."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from o2sim.fits.found import TIERS, Number, Part, Whole
from o2sim.scenario.keys.field import Field
from o2sim.scenario.keys.fields import along
from o2sim.scenario.text.nodes import Mapping, find

Path = tuple[str, ...]
WITH_CLOCK = ("failure", "failure_clock")  # a law is by its clock
PATIENTS, CONCENTRATORS = "patients", "concentrators"
TIER_WORDS = dict(zip(TIERS, ("row by row", "totals", "counts", "what is thought"), strict=True))


@dataclass(frozen=True)
class Claim:
    """One key of one part: its path, and home, that of the key of the file which a parameter of a law lies in."""

    path: Path
    home: Path
    item: Number | Whole
    part: Part


@dataclass(frozen=True)
class Unused:
    """A key that a part gives and that is not taken from it."""

    key: str
    part: Part
    why: str


def path_of(key: str, classes: Iterable[str]) -> Path:
    """Return the keys of a dotted path; a class of patients may have dots in its name."""
    inside = key.removeprefix(f"{PATIENTS}.")
    if inside != key:
        named = [each for each in classes if inside == each or inside.startswith(f"{each}.")]
        if named:
            name = max(named, key=len)
            return (PATIENTS, name, *filter(None, inside[len(name) :].split(".")))
    return tuple(key.split("."))


def home_of(path: Path) -> Path:
    """Return the path of the key that stands in a file for itself: a law, not one of its parameters."""
    for place, field in enumerate(along(path), 1):
        if field is not None and field.kind.startswith("law of "):
            return path[:place]
    return path


def field_of(path: Path) -> Field | None:
    """Return what may stand at a path, that of the law for one of its parameters; None for no key."""
    found = list(along(home_of(path)))
    return found[-1] if len(found) == len(home_of(path)) else None


def overlap(one: Path, other: Path) -> bool:
    """Return whether two paths are one, or one lies in the other."""
    short = min(len(one), len(other))
    return one[:short] == other[:short]


def not_overruled(claims: Sequence[Claim], base: Mapping) -> tuple[list[Claim], list[Unused]]:
    """Return the claims that a base with models of concentrators takes, and those that its models overrule.

    base: its tree. Books do not say of which model a unit is, so what they give is of no model by itself.
    """
    taken: list[Claim] = []
    unused: list[Unused] = []
    for claim in claims:
        why = _overruled(claim.home, base)
        if why:
            unused.append(Unused(claim.item.key, claim.part, why))
        else:
            taken.append(claim)
    return taken, unused


def _overruled(home: Path, base: Mapping) -> str:
    units, models = (find(base, (CONCENTRATORS, key)) for key in ("units", "models"))
    if home[0] != CONCENTRATORS or len(home) < 2:
        return ""
    if home[1] == "count" and units is not None:
        return "the base lists its units (concentrators.units): change the rows there"
    stated = models.entries.items() if isinstance(models, Mapping) else ()
    keys = WITH_CLOCK if home[1] in WITH_CLOCK else (home[1],)
    names = [name for name, model in stated if any(find(model, (key,)) is not None for key in keys)]
    if names:
        return f"models of the base have their own ({', '.join(names)}), and books do not say of which a unit is"
    return ""


def chosen(parts: Sequence[Part], classes: Sequence[str]) -> tuple[list[Claim], list[Unused]]:
    """Return what is taken, in the order of the parts, and what is not as a better tier gives the same key."""
    taken: list[Claim] = []
    unused: list[Unused] = []
    for part in sorted(parts, key=lambda each: TIERS.index(each.tier)):
        claims = list(_claims(part, classes))
        others = tuple(taken)
        for claim in claims:
            better = next((each.part for each in others if overlap(each.home, claim.home)), None)
            if better is None:
                taken.append(claim)
            else:
                unused.append(Unused(claim.item.key, part, _why(better)))
    order = {id(part): place for place, part in enumerate(parts)}
    return sorted(taken, key=lambda each: order[id(each.part)]), unused


def _claims(part: Part, classes: Sequence[str]) -> Iterator[Claim]:
    items: tuple[Number | Whole, ...] = (*part.numbers, *part.wholes)
    for item in items:
        path = path_of(item.key, classes)
        yield Claim(path, home_of(path), item, part)


def _why(better: Part) -> str:
    return f"taken from {better.sheet} ({TIER_WORDS[better.tier]})"
