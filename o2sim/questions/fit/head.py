"""What stands above a scenario that was fitted, and the cautions that go with it, those that matter most first."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Sequence
from itertools import groupby

from o2sim.fits.found import DRAWS, THOUGHT, Part
from o2sim.looks.words import capital
from o2sim.questions.fit.base import OWN
from o2sim.questions.fit.not_given import NO_CLASS, RULE, without_records
from o2sim.questions.fit.ranges import Ranged, digits, with_unit
from o2sim.questions.fit.writing import Written
from o2sim.records.books import Records
from o2sim.scenario import warnings
from o2sim.scenario.text import nodes
from o2sim.scenario.types.hospital import Scenario
from o2sim.version import __version__

LEAD = re.compile(r"[a-z]+( [a-z]+){0,4}")  # words before a colon by which a caution says what it is about


def head(records: Records, base: str, base_hash: str, seed: int, rest: Sequence[tuple[str, str]]) -> Iterator[str]:
    """Yield the lines above a fitted scenario: of what it was made, how to read it, what no record gave."""
    yield f"Fitted to the records {records.file.name} by o2sim {__version__}: records {records.hash}, seed {seed}."
    if base == OWN:
        yield (
            f"The base is {OWN} (scenario {base_hash}): three strategies, and figures that are published, assumed "
            "or invented; the comment beside each says which."
        )
    else:
        yield f"The base is {base} (scenario {base_hash})."
    yield (
        'A comment that begins with "records" says from which book a value is, beside a class or another section '
        "what its values have in common. Ranges are {low, likely, high} of "
        f"a PERT law whose 5 and 95 % points are those of {DRAWS} joint draws, which stand in the table beside it."
    )
    yield "Not in the records, so as in the base:"
    for why, keys in _by_reason(rest).items():
        said = dict.fromkeys(f"{_section(key)} (all)" if why == NO_CLASS else key for key in keys)
        yield f"- {why}: {', '.join(said)}"


def _by_reason(rest: Sequence[tuple[str, str]]) -> dict[str, list[str]]:
    found: dict[str, list[str]] = {}
    for key, why in rest:
        found.setdefault(why, []).append(key)
    return found


def grouped(rest: Sequence[tuple[str, str]]) -> list[tuple[str, str, str]]:
    """Return (section, keys in it, why), a row for each section and reason, in order."""
    rows = []
    for why, keys in _by_reason(rest).items():
        for section, inside in groupby(keys, key=_section):
            said = ", ".join(key.removeprefix(f"{section}.") for key in inside)
            rows.append((section, said, why))
    return rows


def _section(key: str) -> str:
    """Return the section that a key lies in, of a class of patients with its name."""
    first, _, inside = key.partition(".")
    if not inside:
        return "whole facility"
    return f"{first}.{inside.rpartition('.')[0]}" if first == "patients" and "." in inside else first


def cautions_of(
    root: nodes.Mapping, made: Written, parts: Sequence[Part], scenario: Scenario, base: Scenario
) -> tuple[str, ...]:
    """Return plain sentences: the rule, classes, what strategies keep for themselves; then those of the parts."""
    found = [*_of_rule(root), *_of_classes(root, made), *made.cautions]
    found += _of_parts(parts, made)
    found += [said for value in made.values for number in value.numbers for said in _of_range(number)]
    known = {(each.field, each.found) for each in warnings(base)}
    found += [
        f"“o2sim check” doubts {each.field or 'the scenario'}: {each.found}"
        f"{f' ({each.hint})' if each.hint else ''}."
        for each in warnings(scenario)
        if (each.field, each.found) not in known
    ]
    return tuple(dict.fromkeys(found))


def _of_parts(parts: Sequence[Part], made: Written) -> Iterator[str]:
    """Yield the cautions of parts, each with what it is about; none of a book that gives way to a better."""
    written = {id(value.part) for value in made.values}
    heard = [part for part in parts if not part.keys or id(part) in written or part.tier == THOUGHT]
    several = Counter((part.sheet, said) for part in heard for said in dict.fromkeys(part.cautions))
    for part in heard:
        for said in part.cautions:
            about = part.sheet if several[part.sheet, said] > 1 or part.tier == THOUGHT else titled(part)
            yield f"{_led(begun(about), part.sheet, said.removesuffix('.'))}."


def titled(part: Part) -> str:
    """Return what a part is called, with its book where the name is another."""
    return part.name if part.name.lower() == part.sheet.lower() else f"{part.name} ({part.sheet})"


def _led(about: str, sheet: str, said: str) -> str:
    """Return a caution behind what it is about; one that says so itself only behind its book, and that once."""
    lead, _, rest = said.partition(": ")
    if not rest or not LEAD.fullmatch(lead):
        return f"{about}: {said}"
    return begun(said) if lead.startswith(sheet.lower()) else f"{sheet}, {said}"


def begun(text: str) -> str:
    """Return a text with a capital letter at its beginning, but where it begins with a key."""
    return text if "." in text.split(maxsplit=1)[0] else capital(text)


def _of_rule(root: nodes.Mapping) -> Iterator[str]:
    """Yield what the reorder rule of the text is: no book has it, and the levels may be another hospital's."""
    resupply = root.entries.get("resupply")
    if not isinstance(resupply, nodes.Mapping):
        return
    stated = [f"{name} {shown(resupply.entries[name])}" for name in RULE if name in resupply.entries]
    said = f" ({', '.join(stated)})" if stated else ""
    yield (
        f"The reorder rule is in no book: it is the base's{said}, and may not suit this hospital. Ask the "
        "storekeeper."
    )


def shown(node: nodes.Node) -> str:
    """Return a value of the rule in words: a range from its low to its high end."""
    if isinstance(node, nodes.Mapping):
        ends = [each.text for name in ("low", "high") if isinstance(each := node.entries.get(name), nodes.Scalar)]
        return " to ".join(ends)
    return node.text if isinstance(node, nodes.Scalar) else ""


def _of_classes(root: nodes.Mapping, made: Written) -> Iterator[str]:
    lacking = [f"“{name}”" for name in without_records(root, made.values)]
    if len(lacking) == 1:
        yield (
            f"No record is of the class {lacking[0]}: its patients are the base's. Take the class out if this "
            "hospital has none of them."
        )
    elif lacking:
        yield (
            f"No record is of the classes {', '.join(lacking[:-1])} and {lacking[-1]}: their patients are the "
            "base's. Take a class out if this hospital has none of them."
        )
    for name, like in made.likes.items():
        yield f"The base has no class “{name}”: what no record gives of it is as for “{like}” in the base."


def _of_range(number: Ranged) -> Iterator[str]:
    if number.reached is not None:
        wanted, written = (
            " to ".join(with_unit(digits(each), number.unit) for each in ends)
            for ends in ((number.low, number.high), number.reached)
        )
        yield (
            f"{'.'.join(number.path)}: no range that the key allows has the 5 and 95 % points of the draws, "
            f"{wanted}; the one written has {written}."
        )
