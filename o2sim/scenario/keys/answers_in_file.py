"""What a scenario file answers to the twelve questions, and the values to set in it for other answers.

A figure of a file is called the hospital's own only where its comment says that it was typed at the desk, or the
file says `figures: ours`: a demo hospital is full of figures, and none of them is anybody's.
"""

from __future__ import annotations

import datetime as dt
from functools import partial

from o2sim.scenario.keys.answers import (
    MONTH,
    WEEK_H,
    Answer,
    Answers,
    Whose,
    Written,
    figure_of,
    mean_over_usual,
    say,
    written,
)
from o2sim.scenario.keys.questions import BY_NAME, MONTH_KEY, QUESTIONS, SPREAD_OF_CUTS, Question
from o2sim.scenario.keys.sources import EXAMPLE
from o2sim.scenario.text.desk_comment import is_from_desk, is_from_records
from o2sim.scenario.text.nodes import Mapping, Node, Scalar, describe, find, walk
from o2sim.scenario.text.source import BYTE_ORDER_MARK, Source, source_of

FROM_BOOKS = "from your books, with its range"
_RANGE = {"low", "likely", "high"}
INSTEAD = {
    "regulators": "regulator_sets", "water_capacity": "content", "ratio": "monthly_factors", "count": "units",
}  # fmt: skip
_POWER = ("cuts", "cut_length")
_SEASON, _GRID = "patients.children.season", "power.grid"


def read_answers(text: str, file: str = "<text>") -> dict[str, Answer]:
    """Return what a file answers to each question, by its name, and the month that stands beside one of them.

    Raises ScenarioError where the text is no plain YAML.
    """
    said = source_of(text.removeprefix(BYTE_ORDER_MARK), file)
    found = {each.name: _answer(said, each) for each in QUESTIONS if each.name not in _POWER}
    return found | _power(said) | {MONTH: _month(said)} | _recorded(said)


def _recorded(said: Source) -> dict[str, Answer]:
    """Return the answers that are from the hospital's own books: a range or a law, which no field shows."""
    found = {}
    for question in QUESTIONS:
        keys = question.key.split(".")
        node, above = _at(said.root, keys)
        there = node if node is not None else above
        if isinstance(there, Mapping) and any(map(partial(_is_recorded, said), walk(there))):
            found[question.name] = Answer("other", line=there.line, note=FROM_BOOKS, recorded=True)
    return found


def _is_recorded(said: Source, node: Node) -> bool:
    return is_from_records(said.comment(node), node.path.rpartition(".")[2])


def _answer(said: Source, question: Question) -> Answer:
    """Return what stands at the key of a question."""
    keys = question.key.split(".")
    node, above = _at(said.root, keys)
    if node is None:
        return _absent(said, keys, above)
    return _read(said, question, node, keys[-1])


def _at(root: Mapping, keys: list[str]) -> tuple[Node | None, Node]:
    """Return the node at some keys, the name of a law left out, and the last that is there on the way."""
    node: Node = root
    for key in keys:
        inside = node
        if isinstance(node, Mapping) and key not in node.entries and len(node.entries) == 1:
            inside = next(iter(node.entries.values()))  # the parameters of a law
        below = inside.entries.get(key) if isinstance(inside, Mapping) else None
        if below is None:
            return None, node
        node = below
    return node, node


def _absent(said: Source, keys: list[str], above: Node) -> Answer:
    """Return why there is no figure at some keys: another form, or simply nothing."""
    if isinstance(above, Scalar) and above.path:
        return _other(above, f"{above.path} is {describe(above)}")
    if keys[-1] in ("regulators", "count") and (wards := said.root.entries.get("wards")) is not None:
        return _other(wards, "each ward states its own")
    if isinstance(above, Mapping) and above.path == "patients":
        return _other(above, f"the file has classes of its own: {', '.join(list(above.entries)[:6])}")
    if keys[0] == "patients" and isinstance(above, Mapping) and "register" in above.entries:
        return _other(above.entries["register"], "admissions come from a register")
    stands = INSTEAD.get(keys[-1], "")
    if isinstance(above, Mapping) and stands in above.entries:
        return _other(above.entries[stands], f"the file states {stands} instead")
    if keys[0] not in said.root.entries:
        return Answer("other", note=f"the file has no {keys[0]}")
    return Answer("missing")


def _other(node: Node, why: str) -> Answer:
    return Answer("other", line=node.line, note=why)


def _read(said: Source, question: Question, node: Node, key: str) -> Answer:
    """Return the figure at a node, a range, or that it is something else."""
    if isinstance(node, Mapping) and set(node.entries) == _RANGE:
        likely = node.entries["likely"]
        figure = figure_of(question, likely.text) if isinstance(likely, Scalar) else None
        return Answer("unknown", "" if figure is None else say(figure), node.line, said.comment(node))
    figure = figure_of(question, node.text) if isinstance(node, Scalar) else None
    if figure is None:
        return _other(node, f"{question.key} is {describe(node)}")
    return Answer(
        _whose(said, node, key), say(figure), node.line, said.comment(node) + _in_strategies(said, question)
    )


def _whose(said: Source, node: Node, key: str) -> Whose:
    """Return whose a figure is by the comment beside it."""
    comment, figures = said.comment(node), said.root.entries.get("figures")
    if is_from_desk(comment, key) or (isinstance(figures, Scalar) and figures.text == "ours"):
        return "ours"
    usual = (EXAMPLE, *(question.usual.source for question in QUESTIONS))
    return "usual" if comment.startswith(usual) else "file"


def _in_strategies(said: Source, question: Question) -> str:
    """Return which strategies have a figure of their own, which a change of the file's leaves as it is."""
    listed = said.root.entries.get("strategies")
    names = list(listed.entries) if isinstance(listed, Mapping) else []
    own = [name for name in names if find(said.root, ("strategies", name, *question.key.split("."))) is not None]
    return f" (but {', '.join(own)} has its own)" if own else ""


def read_own(text: str, file: str = "<text>") -> dict[tuple[str, str], Answer]:
    """Return what ways of supply answer otherwise than the file as a whole, by question and strategy.

    Raises ScenarioError where the text is no plain YAML.
    """
    said = source_of(text.removeprefix(BYTE_ORDER_MARK), file)
    listed = said.root.entries.get("strategies")
    found = {}
    for name, changed in (listed.entries if isinstance(listed, Mapping) else {}).items():
        if not isinstance(changed, Mapping):
            continue
        for question in QUESTIONS:
            answer = _own(said, question, changed)
            if answer is not None:
                found[question.name, name] = answer
    return found


def _own(said: Source, question: Question, changed: Mapping) -> Answer | None:
    """Return what the changes of a strategy answer to a question, None where the file as a whole holds."""
    if question.name in _POWER:
        grid = find(changed, ("power", "grid"))
        return None if grid is None else _other(grid, f"{grid.path} is {describe(grid)}")
    node, _ = _at(changed, question.key.split("."))
    if node is None:
        return None
    answer = _read(said, question, node, question.key.rpartition(".")[2])
    return _other(node, f"{node.path} is {describe(node)}") if answer.whose == "unknown" else answer


def _month(said: Source) -> Answer:
    node, above = _at(said.root, MONTH_KEY.split("."))
    if isinstance(node, Scalar):
        return Answer(_whose(said, node, "peak"), node.text, node.line, said.comment(node))
    return Answer("missing" if node is None and above.path.startswith("patients.children") else "other")


def _power(said: Source) -> dict[str, Answer]:
    """Return cuts a week and their usual length, worked out of the times with and without power."""
    grid = find(said.root, ("power", "grid"))
    if grid is None:
        return dict.fromkeys(_POWER, Answer("missing"))
    if isinstance(grid, Scalar) and grid.text == "always":
        return {"cuts": Answer(_whose(said, grid, "grid"), "0", grid.line, said.comment(grid)),
                "cut_length": Answer("missing")}  # fmt: skip
    up, down = find(grid, ("up", "exponential", "mean")), find(grid, ("down", "lognormal", "median"))
    spread = _spread(said.root)
    if up is None or down is None or spread is None:
        return dict.fromkeys(_POWER, _other(grid, "the power cuts of the file follow another law, or a record"))
    length = _read(said, BY_NAME["cut_length"], down, "median")
    between = _read(said, BY_NAME["cut_length"], up, "mean")  # also a time, read in hours
    if not length.text or not between.text:
        return {"cuts": _other(up, "not a time"), "cut_length": length}
    cuts = WEEK_H / (float(between.text) + mean_over_usual(spread) * float(length.text))
    note = said.comment(up)
    return {"cuts": Answer(between.whose, say(float(f"{cuts:.3g}")), up.line, note), "cut_length": length}


def _spread(root: Mapping) -> float | None:
    """Return the geometric standard deviation of the length of a power cut, None where it is in another form."""
    node = find(root, ("power", "grid", "down", "lognormal", "geometric_sd"))
    plain = figure_of(BY_NAME["busiest"], node.text) if isinstance(node, Scalar) else None  # a number, no unit
    return plain if plain is not None and plain > 1 else None


def changes(text: str, answers: Answers, today: dt.date, file: str = "<text>") -> dict[str, Written]:
    """Return the values to set in a file, by dotted key, for some answers; the others are those of the file.

    Raises ScenarioError where the text is no plain YAML.
    """
    merged = read_answers(text, file) | dict(answers)
    root = source_of(text.removeprefix(BYTE_ORDER_MARK), file).root
    by = _spread(root) or SPREAD_OF_CUTS
    whole = written(merged, today, by)
    found = {BY_NAME[name].key: whole[BY_NAME[name].key] for name in answers if name not in (*_POWER, MONTH)}
    if answers.keys() & {"busiest", MONTH}:
        found |= _season(root, whole, answers)
    if answers.keys() & set(_POWER):
        found |= _times(root, whole, answers, by)
    return found


def _season(root: Mapping, whole: dict[str, Written], answers: Answers) -> dict[str, Written]:
    """Return the season, whole where the file has none."""
    ratio, peak = whole[BY_NAME["busiest"].key], whole[MONTH_KEY]
    if find(root, tuple(_SEASON.split("."))) is None:
        return {_SEASON: Written(f"{{peak: {peak.value}, ratio: {ratio.value}}}", ratio.note)}
    both = {"busiest": (BY_NAME["busiest"].key, ratio), MONTH: (MONTH_KEY, peak)}
    return dict(both[name] for name in both if name in answers)


def _times(root: Mapping, whole: dict[str, Written], answers: Answers, spread: float) -> dict[str, Written]:
    """Return the times with and without power, the whole grid where the file has none."""
    if _GRID in whole:
        return {_GRID: whole[_GRID]}
    up, down = whole["power.grid.up.mean"], whole["power.grid.down.median"]
    if not isinstance(find(root, ("power", "grid")), Mapping):
        laws = grid_laws(up.value, down.value, spread)
        return {_GRID: Written(f"{{up: {laws[0]}, down: {laws[1]}}}", up.note)}
    return {"power.grid.up.mean": up, **({"power.grid.down.median": down} if "cut_length" in answers else {})}


def grid_laws(up: str, down: str, spread: float = SPREAD_OF_CUTS) -> tuple[str, str]:
    """Return the laws of times with power and of cuts, as a file writes them."""
    return f"{{exponential: {{mean: {up}}}}}", f"{{lognormal: {{median: {down}, geometric_sd: {say(spread)}}}}}"
