"""Loads a scenario file or a text; raises ScenarioError with all its problems where it cannot be used."""

from __future__ import annotations

import contextlib
import dataclasses
import datetime as dt
import hashlib
import json
import re
from collections.abc import Callable, Sequence
from collections.abc import Mapping as AnyMapping
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from o2sim.errors import O2simError, ScenarioError, plain
from o2sim.scenario.building import uncertain
from o2sim.scenario.building.beside import Given, check_named, given
from o2sim.scenario.building.built import Setting, built
from o2sim.scenario.building.hospital import with_sums
from o2sim.scenario.building.now import check_used, from_count
from o2sim.scenario.building.options import read_options
from o2sim.scenario.building.reader import Known, Reader
from o2sim.scenario.building.strategies import resolve
from o2sim.scenario.building.values import Values
from o2sim.scenario.keys.fields import SHARED, TOP
from o2sim.scenario.keys.record import keys_of
from o2sim.scenario.text import nodes
from o2sim.scenario.text.places import address
from o2sim.scenario.text.problems import Problems, RefusedError
from o2sim.scenario.types.hospital import General, Hospital, Options, Scenario, Shortfall
from o2sim.scenario.types.uncertain import Uncertain

if TYPE_CHECKING:
    import pandas as pd

HASH_DIGITS = 16
SIGNIFICANT = 12  # digits of a float that count: the last ones of log and exp differ between machines


def load(path: str | Path, tables: AnyMapping[str, pd.DataFrame] | None = None) -> Scenario:
    """Return the scenario in a YAML file; CSV files it names lie in or below the folder of the file.

    tables: data frames in place of such files, by the name that the scenario has for the file. A register of
    admissions (`patients.CLASS.register.file`) has the columns arrival (a time, or days since the start), class,
    flow (L/min) and hours; recorded power cuts have start and end, or start and hours, and an open cut
    neither end nor hours; an empirical law (of flows,
    stays, lead times ...) is the column it names, in the unit it names.
    Times with a time zone need `time_zone` beside `file`.
    Raises ScenarioError with every problem found, also for a file that is missing, too large or no text.
    """
    if not isinstance(path, str | Path):
        raise O2simError(f"found {type(path).__name__}; allowed: the path of a scenario file")
    problems = Problems(str(path))
    file = Path(path)
    text = text_of(file, problems)
    return _scenario(text, problems, given(tables, file.parent), file.stem)


def loads(text: str, file: str = "<text>", tables: AnyMapping[str, pd.DataFrame] | None = None) -> Scenario:
    """Return the scenario in a text; file is its name in messages, tables as in load. Raises as load does."""
    return _scenario(text, Problems(file), given(tables, None), "scenario")


def text_of(file: Path, problems: Problems) -> str:
    """Return the text of a file. Raises ScenarioError, as load does."""
    return nodes.decode(_read(file, problems), problems)


def _read(file: Path, problems: Problems) -> bytes:
    """Return the bytes of a regular file of tolerable size."""
    if where := address(str(file)):
        nodes.fatal(problems, 0, *where)
    try:
        if file.is_dir():
            nodes.fatal(problems, 0, "found a folder", "a scenario file", "name the file in it")
        if not file.exists():
            nodes.fatal(problems, 0, "found no such file", "the path of a scenario file (.yaml)")
        if not file.is_file():
            nodes.fatal(problems, 0, "found no regular file", "a scenario file")
        if file.stat().st_size > nodes.LARGEST_FILE:
            nodes.fatal(problems, 0, "the file is too large", f"at most {nodes.LARGEST_FILE // 1024} kB")
        return file.read_bytes()
    except (OSError, ValueError) as error:  # ValueError: a NUL in the path
        reason = getattr(error, "strerror", None) or str(error)
        nodes.fatal(problems, 0, f"the file cannot be read: {reason}")


def _scenario(text: str, problems: Problems, beside: Given | Path | None, stem: str) -> Scenario:
    root = nodes.parse(text, problems)
    check_named(beside, root, problems.file)
    return dataclasses.replace(of_tree(root, problems, beside, stem), text=text, beside=beside)


def of_tree(
    root: nodes.Mapping,
    problems: Problems,
    folder: Given | Path | None,
    stem: str,
    follow: Callable[[nodes.Mapping], nodes.Mapping] = lambda root: root,
    known: Known | None = None,
    *,
    hashed: bool = True,
) -> Scenario:
    """Return the scenario in a tree; stem is its name where it says none. Raises ScenarioError, as load does.

    Uncertain numbers are read three times: the hospitals hold the likely ones, and whatever is wrong at the low or
    the high end of one is read as well. follow: what goes along where one is at an end.
    known: values of nodes that this tree shares with one read before; its own are added. hashed: False for
    who only asks whether it loads.
    """
    known = {} if known is None else known
    likely, ranges = uncertain.resolved(root, problems)
    try:
        scenario = _of_likely_tree(likely, problems, folder, stem, known, hashed=hashed)
    except ScenarioError:
        _try_ends(root, ranges, problems, folder, follow, known)
        problems.stop()
        raise
    _try_ends(root, ranges, problems, folder, follow, known)
    problems.stop()
    scenario = dataclasses.replace(scenario, tree=root)
    return with_ranges(scenario, ranges) if ranges else scenario


def with_ranges(scenario: Scenario, ranges: Sequence[Uncertain]) -> Scenario:
    """Return a scenario at its likely values, with what is uncertain in it, covered by its hash."""
    return dataclasses.replace(
        scenario, uncertain=tuple(ranges), hash=content_hash(scenario.hospitals, tuple(ranges))
    )


def _try_ends(
    root: nodes.Mapping,
    ranges: Sequence[Uncertain],
    problems: Problems,
    folder: Given | Path | None,
    follow: Callable[[nodes.Mapping], nodes.Mapping],
    known: Known,
) -> None:
    """Note what is wrong at the low or the high end of each uncertain number, all others at their likely ones."""
    for item in ranges:
        for end in (uncertain.LOW, uncertain.HIGH):
            if problems.full or item.texts[end] == item.texts[uncertain.LIKELY]:
                continue
            noted = set(problems.noted)
            trial = Problems(problems.file)
            for problem in noted:  # a number that is no range has been noted, and is not noted again
                trial.take(problem)
            try:
                _built(follow(uncertain.at_end(root, item, end)), trial, folder, dict(known))
            except ScenarioError:
                for problem in trial.noted:
                    if problem not in noted:
                        problems.take(uncertain.said_at(problem, item, end))


def _of_likely_tree(
    root: nodes.Mapping,
    problems: Problems,
    folder: Given | Path | None,
    stem: str,
    known: Known,
    *,
    hashed: bool,
) -> Scenario:
    """Return the scenario in a tree without uncertain numbers."""
    general, hospitals, options = _built(root, problems, folder, known)
    return Scenario(
        name=general.name or plain(stem),
        about=general.about,
        file=problems.file,
        hash=content_hash(hospitals) if hashed else "",
        hospitals=hospitals,
        options=options,
        lines={node.path: node.line for node in nodes.walk(root) if node.path},
        figures=general.figures,
    )


def _built(
    root: nodes.Mapping, problems: Problems, folder: Given | Path | None, known: Known
) -> tuple[General, dict[str, Hospital], Options | None]:
    """Return what all strategies share, the hospital under each, and options. Raises ScenarioError."""
    reader = Reader(problems, folder, known)
    reader.unknown_keys(root, TOP.names)
    currency = nodes.find(root, ("costs", "currency"))
    if isinstance(currency, nodes.Scalar) and re.fullmatch("[A-Z]{3}", currency.text):
        reader.currency = currency.text
    general = from_count(reader, with_sums(root), _general(reader, reader.fields(root, SHARED)))
    hospitals = resolve(reader, root, general)
    check_used(reader, root, hospitals.values())
    options = read_options(reader, root, general)
    problems.stop()
    return general, hospitals, options


def _general(reader: Reader, values: Values) -> General:
    """Return what all strategies share; a stand-in for what is refused, so that all problems are shown at once."""
    given = {name: values[key.field.name] for name, key in keys_of(General).items() if values.has(key.field.name)}
    section = given.pop("shortfall", None)  # its defaults where the file leaves it out; None where it is refused
    if section is not None:
        with contextlib.suppress(RefusedError):
            given["shortfall"] = built(Setting(reader, General(), {}, values), Shortfall, section)
    return General(**given)


def content_hash(hospitals: AnyMapping[str, Hospital], ranges: Sequence[Uncertain] = ()) -> str:
    """Return 16 hex digits of the SHA-256 over what the hospitals hold, in the order of the strategies.

    Names of file and facility, whose the figures are, comments, layout and the way a quantity is written do not
    count; ranges of uncertain numbers do, in the order of the file.
    """
    items: list[Any] = [list(item) for item in hospitals.items()]
    if ranges:
        items.append([[item.path, *item.internal] for item in ranges])
    plain = _plain(items)
    text = json.dumps(plain, sort_keys=True, ensure_ascii=True, separators=(",", ":"), allow_nan=False)
    return hashlib.sha256(text.encode("ascii")).hexdigest()[:HASH_DIGITS]


@lru_cache(maxsize=256)
def _defaults(record: type) -> tuple[tuple[str, Any], ...]:
    """Return the name and the default of each field of a record."""
    return tuple((field.name, field.default) for field in dataclasses.fields(record))


def _plain(value: object) -> Any:
    """Return value in lists, mappings, texts and numbers only, the same on every platform."""
    if isinstance(value, float):
        return float(f"{value:.{SIGNIFICANT}g}")
    if value is None or isinstance(value, str | int):
        return value
    if isinstance(value, list | tuple):
        return [_plain(each) for each in value]
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        # What is at its default is left out, so that a rule added later leaves the hash of a scenario without it.
        held = ((name, getattr(value, name), default) for name, default in _defaults(type(value)))
        return {
            "type": type(value).__name__,
            **{name: _plain(each) for name, each, plain in held if each != plain},
        }
    return value.isoformat() if isinstance(value, dt.date) else value
