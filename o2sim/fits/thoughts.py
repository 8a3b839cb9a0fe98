"""What people think a number is: its range as they stated it, drawn by the PERT law; records beside it win."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import replace

import numpy as np
import numpy.typing as npt

from o2sim.fits.found import DRAWS, THOUGHT, Part, Whole
from o2sim.fits.law_text import parameters, plain
from o2sim.quantities import units
from o2sim.records.books import Records
from o2sim.records.numbers import kind_of, read_amount
from o2sim.records.supply_rows import Thought
from o2sim.scenario.types.laws import LAW_FORMS, Law, law_mean, make_law
from o2sim.statistics.fitting.laws import KINDS, median
from o2sim.statistics.fitting.luck import uniforms
from o2sim.statistics.fitting.pert import pert_quantile

SHEET = "What we think"
Values = npt.NDArray[np.float64]
_AMOUNT = re.compile(r"\s*([+-]?[0-9]*\.?[0-9]+(?:[eE][+-]?[0-9]+)?)\s*(.*)")
_LAW = re.compile(r"\{(\w+): \{(.*)\}\}")
_PARAMETER = re.compile(r"(\w+): ((?:\{[^}]*\})|[^,{}]+)")
_RANGE = re.compile(r"likely: ([^,}]+)")


def thought_parts(records: Records, seed: int) -> tuple[Part, ...]:
    """Return a part for each number that people thought of: its range with the ends as stated, and draws.

    Of a key that is stated twice the last row counts. The ends are those of the PERT law itself, as in a scenario.
    """
    rows = {
        row.number: row for row in records.thoughts if row.number and row.lowest and row.likely and row.highest
    }
    return tuple(_part(row, seed, len(records.thoughts)) for row in rows.values())


def _part(row: Thought, seed: int, rows: int) -> Part:
    key, texts = row.number or "", (row.lowest or "", row.likely or "", row.highest or "")
    whole = kind_of(key) == "whole"
    low, likely, high = (read_amount(text, key)[1] for text in texts)
    basis = {"counted": "counted by hand", "asked": "asked", "published": "published", "guess": "a guess"}
    said = f"what people think ({basis.get(row.basis or '', 'basis not stated')}): {texts[0]} to {texts[2]}"
    if not low < high:
        return Part(f"{key}, as thought", SHEET, THOUGHT, said, wholes=(Whole(key, texts[1]),), rows=rows, used=1)
    text = f"{{low: {texts[0]}, likely: {texts[1]}, high: {texts[2]}}}"
    draws = tuple(
        in_unit(value, texts[1], key, whole=whole) for value in drawn(low, likely, high, seed, key).tolist()
    )
    cautions = (f"{key} is what people think, by no record: {texts[0]} to {texts[2]}",)
    return Part(f"{key}, as thought", SHEET, THOUGHT, said, wholes=(Whole(key, text, draws),), cautions=cautions,
                rows=rows, used=1)  # fmt: skip


def drawn(low: float, likely: float, high: float, seed: int, key: str) -> Values:
    """Return DRAWS values of a PERT law, one in each DRAWS-th part of its chances, in an order of luck."""
    order = np.argsort(uniforms(seed, "order of a thought", key, DRAWS))
    within = uniforms(seed, "a thought", key, DRAWS)
    return pert_quantile(low, likely, high, (order + within) / DRAWS)


def in_unit(value: float, like: str, key: str, *, whole: bool = False) -> str:
    """Return a value of the key's internal unit as a text in the unit of another text, to six digits."""
    if whole:
        return f"{round(value)}"
    found = _AMOUNT.fullmatch(like)
    unit = found[2].strip() if found else ""
    zero, one = (read_amount(f"{number} {unit}".strip(), key)[1] for number in (0, 1))
    return f"{plain((value - zero) / (one - zero), 6)} {unit}".rstrip()


def placed(part: Part, base: str) -> Part:
    """Return a thought with its key inside the law of a base scenario; base: what that says at the key, or "".

    A range for a law of which no parameter is named is one of its mean, and goes to the law's own parameter: mean
    where it has one, else (lognormal by its median, say) the law is replaced by an exponential of that mean, which
    a caution says.
    """
    (whole,) = part.wholes
    law = _LAW.fullmatch(base.strip())
    if law is None or law[1] not in LAW_FORMS or not _is_law(whole.key):
        return part
    names = [name for name, _ in _PARAMETER.findall(law[2])]
    if "mean" in names:
        return replace(part, wholes=(replace(whole, key=f"{whole.key}.{law[1]}.mean"),))
    text, draws = (_exponential(whole.text), tuple(map(_exponential, whole.draws)))
    return replace(part, wholes=(replace(whole, text=text, draws=draws),), cautions=(
        *part.cautions,
        f"{whole.key}: a mean was thought of, and the {law[1]} law of the base has none: an exponential law takes"
        " its place",
    ))  # fmt: skip


def _is_law(key: str) -> bool:
    """Return whether a key is a law itself, no parameter of one: then its last word is no parameter."""
    return key.rpartition(".")[2] not in {name for forms in LAW_FORMS.values() for form in forms for name in form}


def _exponential(text: str) -> str:
    return f"{{exponential: {{mean: {text}}}}}"


def beside(thoughts: Iterable[Part], others: Sequence[Part]) -> tuple[Part, ...]:
    """Return the thoughts, each with a caution where records give its key too: these win, and by how much they
    differ."""
    given = {whole.key: whole for part in others for whole in part.wholes}
    numbers = {number.key: number for part in others for number in part.numbers}
    found = []
    for part in thoughts:
        (whole,) = part.wholes
        above, _, last = whole.key.rpartition(".")
        note = None
        if whole.key in numbers:
            number = numbers[whole.key]
            low, high = np.quantile(number.draws, [0.05, 0.95]).tolist()
            note = _note(part, whole, f"{plain(low, 3)} to {plain(high, 3)} {number.unit}".rstrip(), _agree(
                whole, low, high, number.unit))  # fmt: skip
        elif (law := given.get(whole.key) or given.get(_without_law(above))) is not None:
            name = last if law.key != whole.key else "mean"
            values = law_values(law.draws, name)
            if len(values):
                low, high = np.quantile(values, [0.05, 0.95]).tolist()
                unit = _unit(law.draws[0]) if name not in ("geometric_sd", "shape") else ""
                words = f"{name} {plain(low, 3)} to {plain(high, 3)} {unit}".rstrip()
                note = _note(part, whole, words, _agree(whole, low, high, unit))
            else:
                note = _note(part, whole, law.text, None)
        found.append(part if note is None else replace(part, cautions=(*part.cautions[1:], note)))
    return tuple(found)


def _without_law(path: str) -> str:
    """Return a path without the name of a law at its end."""
    above, _, last = path.rpartition(".")
    return above if last in LAW_FORMS else path


def _note(part: Part, whole: Whole, records: str, agree: bool | None) -> str:
    how = {True: "both meet", False: "they do not meet", None: "records win"}[agree]
    thought = part.said.rpartition(": ")[2]
    return f"{whole.key}: people think {thought}, records say {records} (90 % range): {how}; the records are taken"


def _agree(whole: Whole, low: float, high: float, unit: str) -> bool:
    """Return whether the range thought of and that of the records meet."""
    ends = re.findall(r"(?:low|likely|high): ([^,}]+)", whole.text) or [whole.text]
    least, most = (read_amount(text.strip(), whole.key)[1] for text in (ends[0], ends[-1]))
    below, above = (read_amount(f"{value:.12g} {unit}".strip(), whole.key)[1] for value in (low, high))
    return least <= above and below <= most


def _unit(law: str) -> str:
    found = re.search(r"(?:mean|median): [0-9.]+ ?([A-Za-z/%]*)", law)
    return found[1] if found else ""


def law_values(texts: Iterable[str], name: str) -> Values:
    """Return the mean, median or another parameter of laws in texts, in the unit of the first; those without are
    left out."""
    texts = tuple(texts)
    laws = [law for law in map(read_law_text, texts) if law is not None]
    scale = (
        units.read(f"1 {_unit(texts[0])}", "duration")
        if texts and laws and _unit(texts[0]) in ("h", "days")
        else 1
    )
    found = []
    for law in laws:
        if name == "mean":
            found.append(law_mean(law) / scale)
        elif name == "median" and law.kind in KINDS:
            found.append(median(law) / scale)
        elif name in parameters(law):
            found.append(parameters(law)[name] / (1 if name in ("geometric_sd", "shape") else scale))
    return np.array(found, np.float64)


def read_law_text(text: str) -> Law | None:
    """Return a law of times from its text, a range at its likely value, in seconds; None for anything else."""
    found = _LAW.fullmatch(text.strip())
    if found is None or found[1] not in KINDS:
        return None
    given = {}
    for name, value in _PARAMETER.findall(found[2]):
        likely = _RANGE.search(value)
        kind: units.Kind = "number" if name in ("geometric_sd", "shape") else "duration"
        given[name] = units.read((likely[1] if likely else value).strip(), kind)
    return make_law(found[1], given)
