"""Units of a model by its name: `concentrators.units.ten.count`, whichever row of the list that is.

The count is of those that are not owned: what is there is there, and more can only be bought. A count of 0 takes
the row out, and a model of the file that has no such row gets one.
"""

from __future__ import annotations

from collections.abc import Sequence

from o2sim.errors import Problem, ScenarioError
from o2sim.scenario.text.nodes import Listing, Mapping, Node, Scalar, find, put
from o2sim.scenario.text.problems import nearest, quote

SECTION, ROWS, MODELS, COUNT = "concentrators", "units", "models", "count"


def by_model(keys: Sequence[str]) -> bool:
    """Return whether keys lead to a row by its model; as a strategy's own or not."""
    inner = keys[len(_own(keys)) :]
    return tuple(inner[:2]) == (SECTION, ROWS) and len(inner) > 2


def model_names(root: Mapping, keys: Sequence[str]) -> list[str]:
    """Return the models that a file, or the strategy that keys lead into, states."""
    found: dict[str, None] = {}
    for where in ((), _own(keys)):
        models = find(root, [*where, SECTION, MODELS])
        found.update(dict.fromkeys(models.entries if isinstance(models, Mapping) else ()))
    return list(found)


def row_of(rows: Node | None, model: str) -> Node | None:
    """Return the row of the units of a model that are not owned; None where there is none, or more than one."""
    places = _places(rows, model, COUNT)
    return rows.items[places[0]] if isinstance(rows, Listing) and len(places) == 1 else None


def with_row(root: Mapping, keys: Sequence[str], rows: Node | None, value: Node, label: str) -> Listing:
    """Return the rows with a value in that of a model.

    root: the scenario. keys: all of the path, the name of the model and one key of its row the last two. Raises
    ScenarioError for a model that is unknown, a row that is not there, and one of several.
    """
    inner = keys[len(_own(keys)) :]
    model, *rest = inner[2:]
    path, known = ".".join(inner), model_names(root, keys)
    if model not in known:
        allowed = f"one of models: {', '.join(known)}" if known else "a section models, and units of each"
        raise _refusal(label, path, f"the model {quote(model)} is unknown", allowed, nearest(model, known))
    if len(rest) != 1:
        raise _refusal(label, path, "found a row of units", f"one key of it, such as {_way(model)}")
    (key,) = rest
    items, places = list(rows.items) if isinstance(rows, Listing) else [], _places(rows, model, key)
    if len(places) > 1:
        ways = [f"{SECTION}.{ROWS}[{place + 1}].{key}" for place in places]
        raise _refusal(label, path, f"found {len(ways)} rows of {quote(model)}", f"one of them: {', '.join(ways)}")
    if not places and key != COUNT:
        found = f"there are no units of the model {quote(model)}"
        raise _refusal(label, path, found, f"{_way(model)}, which puts them there")
    if not places:
        items.append(Mapping(value.line, value.path, {"model": Scalar(0, "", model), COUNT: value}))
    row = items[places[0] if places else -1]
    assert isinstance(row, Mapping)
    changed = Mapping(row.line, row.path, {**row.entries, key: value})
    gone = key == COUNT and _is_none(value)
    items = [changed if each is row else each for each in items if not (gone and each is row)]
    line, at = (rows.line, rows.path) if rows is not None else (0, f"{SECTION}.{ROWS}")
    return Listing(line, at, items)


def seen_by(root: Mapping, strategy: str | None) -> Mapping:
    """Return a scenario with the rows of units, and the models, that a strategy states for itself."""
    for key in (ROWS, MODELS):
        own = None if strategy is None else find(root, ["strategies", strategy, SECTION, key])
        root = root if own is None else put(root, [SECTION, key], own)
    return root


def check_units(root: Mapping, keys: Sequence[str], path: str, label: str) -> None:
    """Raise ScenarioError where a key would be set that the rows of units, or every model, say themselves."""
    own, inner = _own(keys), keys[len(_own(keys)) :]
    if len(inner) < 2 or inner[0] != SECTION:
        return
    rows, models = (_seen(root, own, key) for key in (ROWS, MODELS))
    if inner[1] == COUNT and isinstance(rows, Listing):
        named = next((each for each in map(_model, rows.items) if each), "")
        found = "the units are listed (concentrators.units): their number is that of the rows together"
        raise _refusal(label, path, found, f"the count of one row, such as {_way(named)}")
    known, used = models.entries if isinstance(models, Mapping) else {}, _used(root, own)
    stated = [find(known[name], [inner[1]]) is not None for name in used if name in known]
    if stated and all(stated):
        ways = [".".join([SECTION, MODELS, name, *inner[1:]]) for name in sorted(used)]
        found = f"every model states {inner[1]} for itself, so that this changes nothing"
        raise _refusal(label, path, found, f"that of a model: {', '.join(ways)}")


def _used(root: Mapping, own: Sequence[str]) -> set[str]:
    """Return the models of which a strategy has units; without one those of any."""
    named = find(root, ["strategies"])
    strategies = list(named.entries) if isinstance(named, Mapping) and not own else []
    lists = [_seen(root, own, ROWS), *(find(root, ["strategies", name, SECTION, ROWS]) for name in strategies)]
    return {_model(row) for rows in lists if isinstance(rows, Listing) for row in rows.items}


def _way(model: str) -> str:
    return f"{SECTION}.{ROWS}.{model}.{COUNT}" if model else f"{SECTION}.{ROWS}[1].{COUNT}"


def _own(keys: Sequence[str]) -> tuple[str, ...]:
    return tuple(keys[:2]) if keys and keys[0] == "strategies" else ()


def _seen(root: Mapping, own: Sequence[str], key: str) -> Node | None:
    """Return what a strategy sees at a key of the section: its own, else that of all."""
    found = find(root, [*own, SECTION, key]) if own else None
    return find(root, [SECTION, key]) if found is None else found


def _places(rows: Node | None, model: str, key: str) -> list[int]:
    """Return the places of the rows of a model, from 0; for a count of those that are not owned."""
    items = rows.items if isinstance(rows, Listing) else []
    found = [place for place, row in enumerate(items) if _model(row) == model]
    return [place for place in found if not _is_owned(items[place])] if key == COUNT else found


def _model(row: Node) -> str:
    named = row.entries.get("model") if isinstance(row, Mapping) else None
    return named.text if isinstance(named, Scalar) else ""


def _is_owned(row: Node) -> bool:
    owned = row.entries.get("owned") if isinstance(row, Mapping) else None
    return isinstance(owned, Scalar) and owned.text.lower() == "true"


def _is_none(value: Node) -> bool:
    return isinstance(value, Scalar) and value.text.isascii() and value.text.isdigit() and int(value.text) == 0


def _refusal(label: str, field: str, found: str, allowed: str, hint: str = "") -> ScenarioError:
    return ScenarioError([Problem(label, 0, field, found, allowed, hint)])
