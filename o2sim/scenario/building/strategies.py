"""Builds a Hospital for each strategy of a file: its changes are laid over the scenario, key by key."""

from __future__ import annotations

from o2sim.scenario.building import now as counts
from o2sim.scenario.building.built import Setting
from o2sim.scenario.building.hospital import parts, with_sums
from o2sim.scenario.building.reader import Reader
from o2sim.scenario.keys.field import Section
from o2sim.scenario.keys.fields import CHANGEABLE, SOURCES, STRATEGY, TOP
from o2sim.scenario.text.nodes import Listing, Mapping, Scalar, describe
from o2sim.scenario.text.problems import Problems, RefusedError, nearest, quote
from o2sim.scenario.types.hospital import General, Hospital, Source, Strategy
from o2sim.scenario.types.patients import CYLINDER

_SECTIONS = {
    "cylinder": ("cylinders",), "concentrator": ("concentrators",), "manifold": ("manifold", "cylinders"),
}  # fmt: skip
_SECTIONS_OF_STOCK = ("cylinders", "resupply")
_NOUNS = {
    "patients": "class", "wards": "ward", "other": "line", "models": "model", "shocks": "shock", "sizes": "size",
}  # fmt: skip
_BY_SOURCE = {field.name: field.used_by for field in CHANGEABLE if field.used_by}


def resolve(reader: Reader, root: Mapping, general: General) -> dict[str, Hospital]:
    """Return a Hospital for each strategy of a file that can be built; what is wrong is noted on the way."""
    hospitals: dict[str, Hospital] = {}
    used: set[str] = set()
    strategies = strategy_changes(reader, root)
    for name, change in strategies.items():
        sources = sources_of(reader, root, change)
        used |= set(sources)
        used |= {"cylinder"} if stock_beside(sources, root, change) else set()
        hospital = hospital_under(reader, root, general, name, change, sources)
        if hospital is not None:
            hospitals[name] = hospital
    _check_unused(reader, root, general, used, every=not strategies)
    return hospitals


def strategy_changes(reader: Reader, root: Mapping) -> dict[str, Mapping]:
    """Return what each strategy of a file changes, by its name; without any those that its sections suggest."""
    node, field = root.entries.get("strategies"), TOP.field("strategies")
    assert field is not None
    if node is None:
        return _suggested(reader.problems, root)
    if not isinstance(node, Mapping) or not node.entries:
        allowed = "names, each with sources: [concentrator, cylinder] and changes"
        reader.problems.add(node, f"found {describe(node)}", allowed)
        return {}
    if len(node.entries) > int(field.most):
        reader.problems.add(node, f"found {len(node.entries)} strategies", f"at most {field.most}")
        return {}
    found = {}
    for name, change in node.entries.items():
        if not reader.fits_as_name(name, change):
            continue
        if isinstance(change, Mapping):
            reader.unknown_keys(change, STRATEGY.names)
            found[name] = change
        else:
            allowed = "a mapping such as {sources: [cylinder]}"
            reader.problems.add(change, f"found {describe(change)}", allowed)
    return found


def _suggested(problems: Problems, root: Mapping) -> dict[str, Mapping]:
    """Return a strategy for each source that has a section, mixed where both have, and manifold and cylinders."""
    present = [source for source in ("cylinder", "concentrator") if f"{source}s" in root.entries]
    if not present:
        problems.add(root, "found neither cylinders nor concentrators", "at least one of these sections")
    names: dict[str, list[str]] = {f"{source}s only": [source] for source in present}
    if len(present) == 2:
        names["mixed"] = ["concentrator", "cylinder"]
    if {"manifold", "cylinders"} <= set(root.entries):
        names["manifold and cylinders"] = ["manifold", "cylinder"]
    found = {}
    for name, sources in names.items():
        listed = Listing(root.line, "strategies", [Scalar(root.line, "", source) for source in sources])
        found[name] = Mapping(root.line, "", {"sources": listed})
    return found


def sources_of(reader: Reader, root: Mapping, change: Mapping) -> tuple[Source, ...]:
    """Return the sources of a strategy, none where they are refused."""
    values = reader.fields(change, [SOURCES])
    sources: tuple[Source, ...] = values.data.get("sources", ())
    for source in sources:
        for section in _SECTIONS[source]:
            if section not in root.entries and section not in change.entries:
                values.fault("sources", f"{source}, but no section {section}", f"a section {section}")
                return ()
    kept = stock_beside(sources, root, change)
    for section, users in _BY_SOURCE.items():
        if sources and section in change.entries and not set(users) & set(sources) and section not in kept:
            hint = f"add {users[0]} to its sources, or delete the change"
            reader.problems.add(change.entries[section], f"this strategy uses no {users[0]}", "", hint)
    return sources


def hospital_under(
    reader: Reader, root: Mapping, general: General, name: str, change: Mapping, sources: tuple[Source, ...]
) -> Hospital | None:
    """Return the hospital as one strategy sees it, None where something in it is refused."""
    merged = with_sums(merge(reader.problems, root, counts.without(change)), root)
    left_out = {section for section, users in _BY_SOURCE.items() if sources and not set(users) & set(sources)}
    left_out -= stock_beside(sources, merged)
    fields = [*(field for field in CHANGEABLE if field.name not in left_out), *counts.FIELDS]
    values = reader.fields(merged, fields)
    found = parts(reader, values, general)
    try:
        now = counts.now_of(Setting(reader, general, {}, values, found), sources)
    except RefusedError as error:
        values.faults.append(error)
    if not sources or not values.sound:
        assert len(reader.problems)  # none is left out unsaid
        return None
    strategy = Strategy(name, sources, values["return_to_concentrator"])
    times = (general.start, general.horizon_s, general.warm_up_s, general.tolerated_gap_s)
    return Hospital(strategy, *times, shortfall=general.shortfall, now=now, **found)


def stock_beside(sources: tuple[Source, ...], *stated: Mapping) -> frozenset[str]:
    """Return the sections that a strategy has though cylinders are no source of it, by one of these mappings.

    A patient on a concentrator is given a back-up all the same; cylinders go with patients who are sent on.
    """
    stocks = [each.entries.get("cylinders") for each in stated]
    backups = [stock.entries.get("backup") for stock in stocks if isinstance(stock, Mapping)]
    for_backups = "concentrator" in sources and any(isinstance(each, Mapping) for each in backups)
    return frozenset(_SECTIONS_OF_STOCK if for_backups or any(map(_sends_cylinders, stated)) else ())


def _sends_cylinders(stated: Mapping) -> bool:
    """Return True if cylinders go with the patients, or those of a class, who are sent on."""
    classes = stated.entries.get("patients")
    holders = [stated, *(classes.entries.values() if isinstance(classes, Mapping) else ())]
    rules = [each.entries.get("transfer") for each in holders if isinstance(each, Mapping)]
    oxygen = [rule.entries.get("oxygen") for rule in rules if isinstance(rule, Mapping)]
    return any(isinstance(node, Scalar) and node.text == CYLINDER for node in oxygen)


def merge(problems: Problems, base: Mapping, change: Mapping, section: Section = STRATEGY) -> Mapping:
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
            entries[key] = _merge_named(problems, before, child, inside, _NOUNS[key])
        else:
            entries[key] = merge(problems, before, child, inside)
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
            entries[name] = merge(problems, before, child, section)
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
    parts(reader, reader.fields(with_sums(root), fields), general)
