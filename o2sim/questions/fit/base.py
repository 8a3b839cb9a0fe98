"""The scenario that a fit is written over: o2sim's own where none is named, with the classes of the records.

A class of the records that the base lacks is put there beside the one it is like, with what records alone do not
say: who has need of oxygen, how much, how long.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterable, Sequence
from difflib import get_close_matches
from typing import Any

from ruamel.yaml import YAML

from o2sim.records.books import Records
from o2sim.scenario.changing.first_scenario import WHO_CAME, scenario_from
from o2sim.scenario.changing.splice import flow, line_end, value_end
from o2sim.scenario.text.nodes import Mapping, Scalar
from o2sim.scenario.text.source import BYTE_ORDER_MARK

OWN = "o2sim's first scenario"
A_YEAR = dt.date(2026, 12, 31)  # where the records say of no day that a book was kept: 2027 is simulated
LIKE = {  # what an age is called, by the class of o2sim's own that it is like
    "newborns": ("newborn", "neonat", "preterm", "prem", "nicu", "scbu", "young infant"),
    "children": ("child", "infant", "paed", "ped", "under", "toddler", "boy", "girl"),
    "adults": ("adult", "men", "women", "mother", "matern", "medical", "surg"),
}
COPIED = ("hypoxaemic", "recognised", "flow", "duration", "ward", "size", "delivery")
AS_LIKE = "as {like} in the base: not in the records"


def own_base(records: Records) -> str:
    """Return the text of o2sim's first scenario with the classes of the records, for the year after the books."""
    kept_to = [row.kept_to for row in records.places if row.kept_to is not None]
    text = scenario_from({}, max(kept_to, default=A_YEAR), name="Fitted to records")
    text = text[text.index("\nname: ") + 1 :]  # its head is of answers at the desk
    blocks = {
        name: block for block, name in re.findall(r"(?m)^(  (\w+):\n(?:    .*\n)+)", text) if name in WHO_CAME
    }
    first, last = text.index(blocks[WHO_CAME[0]]), text.index(blocks[WHO_CAME[-1]]) + len(blocks[WHO_CAME[-1]])
    named = [(name, like_of(name, WHO_CAME)) for name in records.classes]
    said = "".join(blocks[like].replace(like, _quoted(name), 1) for name, like in named)
    return text[:first] + said + text[last:]


def like_of(name: str, known: Sequence[str]) -> str:
    """Return which known class one is most like: by its name, by the age it names, else the last."""
    if name in known:
        return name
    low = name.lower()
    ages = [age for age, words in LIKE.items() if any(word in low for word in words)]
    for age in ages:
        alike = [each for each in known if each == age or any(word in each.lower() for word in LIKE[age])]
        if alike:
            return alike[0]
    return next(iter(get_close_matches(name, known, n=1)), known[-1])


def with_classes(text: str, root: Mapping, names: Iterable[str]) -> tuple[str, dict[str, str]]:
    """Return the text with classes added behind the last, and for each the class of the base that it is like.

    root: the tree of the text. What is added loads only with admissions of each.
    """
    mark = BYTE_ORDER_MARK if text.startswith(BYTE_ORDER_MARK) else ""
    text = text.removeprefix(BYTE_ORDER_MARK)
    patients = root.entries["patients"]
    assert isinstance(patients, Mapping)
    likes = {name: like_of(name, list(patients.entries)) for name in names}
    for name, like in likes.items():
        there = patients.entries[like]
        entries = there.entries if isinstance(there, Mapping) else {}
        kept = {key: flow(entries[key]) for key in COPIED if key in entries}
        text = _added(text, name, like, kept)
    return mark + text, likes


def _added(text: str, name: str, like: str, kept: dict[str, str]) -> str:
    """Return the text with one class behind the last."""
    root: Any = YAML(typ="safe", pure=True).compose(text)
    patients = next(value for key, value in root.value if key.value == "patients")
    column = patients.value[0][0].start_mark.column
    if patients.flow_style:
        inside = ", ".join(f"{key}: {value}" for key, value in kept.items())
        place = patients.value[-1][1].end_mark.index
        return f"{text[:place]}, {_quoted(name)}: {{{inside}}}{text[place:]}"
    newline = "\r\n" if "\r\n" in text else "\n"
    place = line_end(text, value_end(text, patients))
    said = AS_LIKE.format(like=like)
    lines = [f"{' ' * column}{_quoted(name)}:   # a class of the records that the base does not have"]
    lines += [f"{' ' * (column + 2)}{key}: {value}   # {said}" for key, value in kept.items()]
    return text[:place] + "".join(newline + line for line in lines) + text[place:]


def _quoted(name: str) -> str:
    return flow(Scalar(0, "", name))
