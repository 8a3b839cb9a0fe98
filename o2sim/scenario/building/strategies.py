"""The tree of a file in, one Hospital for each strategy out: its changes laid over the scenario, key by key."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from o2sim.scenario.building import wards
from o2sim.scenario.building.hospital import parts
from o2sim.scenario.building.reader import LONGEST_NAME, Reader
from o2sim.scenario.keys.field import Section
from o2sim.scenario.keys.fields import CHANGEABLE, SOURCES, STRATEGY, TOP
from o2sim.scenario.text.nodes import Listing, Mapping, Scalar, describe
from o2sim.scenario.text.problems import Problems, nearest, quote
from o2sim.scenario.types.hospital import General, Hospital, Strategy

SECTION_OF = {"cylinder": "cylinders", "concentrator": "concentrators"}
NOUNS = {"patients": "class", "wards": "ward"}
_SECTIONS = {
    **{source: (section,) for source, section in SECTION_OF.items()},
    "manifold": ("manifold", "cylinders"),
}
_BY_SOURCE = {field.name: field.used_by for field in CHANGEABLE if field.used_by}


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
    found = parts(reader, values, general)
    if found is None or sources is None or len(values.data) < len(values.fields):
        return None
    strategy = Strategy(name, sources, values["return_to_concentrator"])
    return Hospital(
        strategy,
        general.start,
        general.horizon_s,
        general.warm_up_s,
        general.tolerated_gap_s,
        shortfall=general.shortfall,
        **found,
    )


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
    parts(reader, reader.fields(wards.with_sums(root), fields), general)
