"""The tree of a file in, one Hospital for each strategy out: its changes laid over the scenario, key by key."""

from __future__ import annotations

import contextlib
import datetime as dt
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any, TypeVar

from o2sim.scenario.building import build, build_bedside, build_manifold, build_power, prices, wards
from o2sim.scenario.building.built import Rule, Setting, built
from o2sim.scenario.building.reader import LONGEST_NAME, Reader, Values
from o2sim.scenario.keys.field import Section
from o2sim.scenario.keys.fields import CHANGEABLE, SOURCES, STRATEGY, TOP
from o2sim.scenario.text.nodes import Listing, Mapping, Scalar, describe
from o2sim.scenario.text.problems import Problems, RefusedError, nearest, quote
from o2sim.scenario.types.bedside_types import Bedside, RegulatorSet
from o2sim.scenario.types.manifold_types import Manifold
from o2sim.scenario.types.power_types import Concentrators, Generator, Power, Solar
from o2sim.scenario.types.types import DAY_S, Hospital, PatientClass, Strategy
from o2sim.scenario.types.ward_types import Moving, StoreAccess

T = TypeVar("T")
# One list of all patients of a run is held in memory; longer is better done as more replications.
MOST_PATIENTS = 5_000_000
SECTION_OF = {"cylinder": "cylinders", "concentrator": "concentrators"}
NOUNS = {"patients": "class", "wards": "ward"}
_SECTIONS = {
    **{source: (section,) for source, section in SECTION_OF.items()},
    "manifold": ("manifold", "cylinders"),
}
_BY_SOURCE = {  # which sources use a section
    "cylinders": ("cylinder", "manifold"),
    "resupply": ("cylinder", "manifold"),
    "manifold": ("manifold",),
    "concentrators": ("concentrator",),
}

RULES: dict[type, Rule] = {
    RegulatorSet: build_bedside.regulator_set,
    Bedside: build_bedside.bedside,
    Manifold: build_manifold.manifold,
    Concentrators: build_power.concentrators,
    Power: build_power.power,
    Generator: build_power.generator,
    Solar: build_power.solar,
}


@dataclass(frozen=True)
class General:
    """What all strategies share."""

    start: dt.date
    horizon_s: int
    warm_up_s: int
    tolerated_gap_s: int
    altitude_m: float = 0.0


def resolve(reader: Reader, root: Mapping, general: General) -> dict[str, Hospital]:
    """Return a Hospital for each strategy of a file that can be built; what is wrong is noted on the way."""
    hospitals: dict[str, Hospital] = {}
    used: set[str] = set()
    strategies = list(_strategies(reader, root))
    for name, change in strategies:
        sources = _sources(reader, root, change)
        used |= set(sources or ())
        hospital = _hospital(reader, root, general, name, change, sources)
        assert hospital is not None or len(reader.problems)  # none is left out unsaid
        if hospital is not None:
            hospitals[name] = hospital
    _check_unused(reader, root, general, used, every=not strategies)
    return hospitals


def strategy_changes(reader: Reader, root: Mapping) -> dict[str, Mapping]:
    """Return what each strategy of a file changes, by its name."""
    return dict(_strategies(reader, root))


def changed(problems: Problems, base: Mapping, change: Mapping) -> Mapping:
    """Return a strategy's changes with more changes laid over them."""
    return _merge(problems, base, change, STRATEGY)


def option_hospital(
    reader: Reader, root: Mapping, general: General, name: str, change: Mapping
) -> Hospital | None:
    """Return the hospital under a strategy that is not listed as one, None where something in it is refused."""
    return _hospital(reader, root, general, name, change, _sources(reader, root, change))


def _strategies(reader: Reader, root: Mapping) -> Iterator[tuple[str, Mapping]]:
    """Yield (name, changes) for the strategies of a file, or for those that its sections suggest."""
    node = root.entries.get("strategies")
    if node is None:
        yield from _suggested(reader.problems, root)
        return
    if not isinstance(node, Mapping) or not node.entries:
        allowed = "names, each with sources: [concentrator, cylinder] and changes"
        reader.problems.add(node, f"found {describe(node)}", allowed)
        return
    field = TOP.field("strategies")
    assert field is not None
    if len(node.entries) > int(field.most):
        reader.problems.add(node, f"found {len(node.entries)} strategies", f"at most {field.most}")
        return
    for name, change in node.entries.items():
        if len(name) > LONGEST_NAME or not name.isprintable():
            reader.problems.add(change, "the name cannot be used", f"{LONGEST_NAME} printable characters")
        elif isinstance(change, Mapping):
            reader.unknown_keys(change, STRATEGY.names)
            yield name, change
        else:
            allowed = "a mapping such as {sources: [cylinder]}"
            reader.problems.add(change, f"found {describe(change)}", allowed)


def _suggested(problems: Problems, root: Mapping) -> Iterator[tuple[str, Mapping]]:
    """Yield a strategy for each source that has a section, mixed where both have, and manifold and cylinders."""
    present = [source for source, section in SECTION_OF.items() if section in root.entries]
    if not present:
        problems.add(root, "found neither cylinders nor concentrators", "at least one of these sections")
    names: list[tuple[str, list[str]]] = [(f"{source}s only", [source]) for source in present]
    if len(present) == 2:
        names.append(("mixed", ["concentrator", "cylinder"]))
    if "manifold" in root.entries and "cylinders" in root.entries:
        names.append(("manifold and cylinders", ["manifold", "cylinder"]))
    for name, sources in names:
        listed = Listing(root.line, "strategies", [Scalar(root.line, "", source) for source in sources])
        yield name, Mapping(root.line, "", {"sources": listed})


def _sources(reader: Reader, root: Mapping, change: Mapping) -> tuple[Any, ...] | None:
    """Return the sources of a strategy, None where they are refused."""
    values = reader.fields(change, [SOURCES])
    if not values.has("sources"):
        return None
    for source in values["sources"]:
        for section in _SECTIONS[source]:
            if section not in root.entries and section not in change.entries:
                node = values.at("sources")
                reader.problems.add(node, f"found {source}, but no section {section}", f"a section {section}")
                return None
    for section, users in _BY_SOURCE.items():
        if section in change.entries and not set(users) & set(values["sources"]):
            hint = f"add {users[0]} to its sources, or delete the change"
            reader.problems.add(change.entries[section], f"this strategy uses no {users[0]}", "", hint)
    return tuple(values["sources"])


def _hospital(
    reader: Reader, root: Mapping, general: General, name: str, change: Mapping, sources: tuple[Any, ...] | None
) -> Hospital | None:
    """Return the hospital as one strategy sees it, None where something in it is refused."""
    merged = wards.with_sums(_merge(reader.problems, root, change, STRATEGY), root)
    left_out = {section for section, users in _BY_SOURCE.items() if sources and not set(users) & set(sources)}
    values = reader.fields(merged, [field for field in CHANGEABLE if field.name not in left_out])
    parts = _parts(reader, values, general)
    if parts is None or sources is None or len(values.data) < len(CHANGEABLE) - len(left_out):
        return None
    return Hospital(
        strategy=Strategy(name, sources, values["return_to_concentrator"]),
        start=general.start,
        horizon_s=general.horizon_s,
        warm_up_s=general.warm_up_s,
        tolerated_gap_s=general.tolerated_gap_s,
        response_time_s=values["response_time"],
        **parts,
    )


def _parts(reader: Reader, values: Values, general: General) -> dict[str, Any] | None:
    """Return the built sections by their names in a Hospital, None where one is refused."""
    parts: dict[str, Any] = {}
    problems = reader.problems
    setting = Setting(reader, general.start, general.altitude_m, general.tolerated_gap_s, RULES, values, parts)
    makers: list[tuple[str, str, Callable[[Any], object]]] = [  # section, name in Hospital, how it is built
        ("patients", "patients", lambda found: _patients(problems, values, found, general)),
        ("cylinders", "cylinders", lambda found: build.cylinders(setting, found)),
        ("manifold", "manifold", lambda found: built(setting, Manifold, found)),
        ("resupply", "resupply", lambda found: build.resupply(problems, found, _fleet(parts))),
        ("concentrators", "concentrators", lambda found: built(setting, Concentrators, found)),
        ("power", "grid", lambda found: build_power.grid(setting, found)),
        ("power", "power", lambda found: _none_for(built(setting, Power, found), Power())),
        ("staff", "staff", build.staff),
        ("allocation", "allocation", build.allocation),
        ("transfer", "transfer", lambda found: build.transfer(problems, found, general.tolerated_gap_s)),
        ("day_hours", "day_hours", lambda found: build.day_hours(problems, found)),
        ("wards", "wards", lambda found: wards.wards(setting, found)),
        ("store", "store", lambda found: built(setting, StoreAccess, found)),
        ("moving", "moving_s", lambda found: built(setting, Moving, found).time_s),
        ("bedside", "bedside", lambda found: built(setting, Bedside, found)),
        ("costs", "costs", lambda found: prices.costs(problems, found)),
    ]
    complete = True
    for section, name, make in makers:
        found = values.data.get(section)
        if found is None:  # left out by the file or the strategy, or refused before
            continue
        try:
            parts[name] = make(found)
        except RefusedError:
            complete = False
    fits = [
        wards.classes_fit(problems, values, parts),
        wards.go_together(problems, values, parts),
        _starter_fits(problems, values, parts),
    ]
    return parts if complete and all(fits) else None


def _none_for(found: T, nothing: T) -> T | None:
    return None if found == nothing else found


def _starter_fits(problems: Problems, values: Values, parts: dict[str, Any]) -> bool:
    """Return True unless staff are to start the generator and there are none."""
    generator = parts["power"].generator if parts.get("power") else None
    if generator is None or not generator.started_by_staff or values.data.get("staff") or not values.has("staff"):
        return True
    problems.add(values.at("power"), "found a generator started by staff, but no section staff", "both together")
    return False


def _fleet(parts: dict[str, Any]) -> int | None:
    return parts["cylinders"].fleet if "cylinders" in parts else None


def _patients(
    problems: Problems, values: Values, classes: dict[str, Values], general: General
) -> tuple[PatientClass, ...]:
    """Return the classes of patients; raise RefusedError where one is refused, or the run would be too long."""
    default = values.data.get("if_unserved", "wait")
    built = []
    for name, each in classes.items():
        with contextlib.suppress(RefusedError):
            built.append(
                build.patient_class(problems, name, each, default, general.start, general.tolerated_gap_s)
            )
    node = values.at("patients")
    if len(built) < (len(node.entries) if isinstance(node, Mapping) else 0):
        raise RefusedError
    days = (general.warm_up_s + general.horizon_s) / DAY_S
    expected = sum(each.admissions_per_day * each.hypoxaemic for each in built) * days
    if expected > MOST_PATIENTS:
        hint = "shorten the horizon and raise the number of replications"
        found = f"found {expected:,.0f} patients on oxygen in {days:,.0f} days"
        raise problems.add(node, found, f"at most {MOST_PATIENTS:,} in one run", hint)
    return tuple(built)


def _merge(problems: Problems, base: Mapping, change: Mapping, section: Section) -> Mapping:
    """Return base with the keys of change laid over it, down to the keys of sections; lists and laws whole.

    Every node keeps its own line and path, so that an error in a change points at the change.
    """
    entries = dict(base.entries)
    for stated, replaced in section.instead:
        if stated in change.entries:
            for name in set(replaced) - set(change.entries):
                entries.pop(name, None)
    for key, child in change.entries.items():
        field, before = section.field(key), entries.get(key)
        inside = None if field is None else field.section
        if inside is None or not isinstance(before, Mapping) or not isinstance(child, Mapping):
            entries[key] = child
        elif field is not None and field.kind == "named sections":
            entries[key] = _merge_named(problems, before, child, inside, NOUNS[key])
        else:
            entries[key] = _merge(problems, before, child, inside)
    return Mapping(base.line, base.path, entries)


def _merge_named(problems: Problems, base: Mapping, change: Mapping, section: Section, noun: str) -> Mapping:
    """Return classes or wards with their changes; a strategy adds none, for all meet the same patients."""
    entries = dict(base.entries)
    for name, child in change.entries.items():
        before = base.entries.get(name)
        if before is None:
            allowed = f"a {noun} of the scenario: {', '.join(base.entries)}"
            problems.add(child, f"the {noun} {quote(name)} is unknown", allowed, nearest(name, base.entries))
        elif isinstance(before, Mapping) and isinstance(child, Mapping):
            entries[name] = _merge(problems, before, child, section)
        else:
            entries[name] = child
    return Mapping(base.line, base.path, entries)


def _check_unused(reader: Reader, root: Mapping, general: General, used: set[str], *, every: bool) -> None:
    """Read the sections that no strategy uses (or every one), for what is wrong in them is wrong too."""
    if "resupply" in root.entries and "cylinders" not in root.entries and not used & {"cylinder", "manifold"}:
        reader.problems.add(
            root.entries["resupply"], "found resupply, but no section cylinders", "both or neither"
        )
    unused = {section for section, users in _BY_SOURCE.items() if not used & set(users)}
    fields = [field for field in CHANGEABLE if every or field.name in unused]
    _parts(reader, reader.fields(wards.with_sums(root), fields), general)
