"""Reads the text of a scenario file into a plain tree that knows its lines; hostile input is refused.

YAML is read as a flat stream of events (ruamel.yaml, pure Python, YAML 1.2) and built here without recursion, so
that neither nesting nor an alias that doubles itself can cost anything. Every scalar stays the text it was:
what `07`, `yes` or `1e3` mean is for the field to say.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, NoReturn

from ruamel.yaml import YAML
from ruamel.yaml.error import MarkedYAMLError, YAMLError

from o2sim.errors import JOINERS
from o2sim.scenario.text.problems import Problems, quote

LARGEST_FILE = 256 * 1024  # bytes
MOST_EVENTS = 30_000  # of the YAML stream, about 15,000 values
DEEPEST = 20  # levels of nesting
LONGEST_KEY = 100  # characters
# What YAML 1.2 allows in a file (section 5.1); of control characters tab, line feed and carriage return alone.
_NOT_YAML = re.compile("[^\t\n\r\x20-\x7e\x85\xa0-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


@dataclass(frozen=True, eq=False)
class Scalar:
    """One value as the text of the file; refused where it has been complained of already."""

    line: int
    path: str
    text: str
    refused: bool = False


@dataclass(frozen=True, eq=False)
class Listing:
    """A list of values."""

    line: int
    path: str
    items: list[Node] = field(default_factory=list)
    refused: bool = False


@dataclass(frozen=True, eq=False)
class Mapping:
    """Keys and values; a value stands on the line of its key, its path ends in the key."""

    line: int
    path: str
    entries: dict[str, Node] = field(default_factory=dict)
    refused: bool = False


Node = Scalar | Listing | Mapping


def describe(node: Node) -> str:
    """Return what stands at a node, for `found ...`: `nothing`, `'5 L'`, `a list`, `a mapping of fleet, leak`."""
    if isinstance(node, Scalar):
        return quote(node.text) if node.text.strip() else "nothing"
    if isinstance(node, Listing):
        return "a list"
    keys = ", ".join(list(node.entries)[:4])
    return f"a mapping of {keys if len(keys) <= 60 else keys[:57] + '...'}" if keys else "an empty mapping"


def child_path(parent: str, key: str) -> str:
    """Return the dotted path of a key below its parent."""
    return f"{parent}.{key}" if parent else key


def put(root: Mapping, keys: Sequence[str], value: Node, line: int = 0) -> Mapping:
    """Return a mapping with a value at some keys deep; mappings that are missing are made."""
    key, *deeper = keys
    if deeper:
        below = root.entries.get(key)
        below = below if isinstance(below, Mapping) else Mapping(line, child_path(root.path, key))
        value = put(below, deeper, value, line)
    return replace(root, entries={**root.entries, key: value})


def find(root: Node | None, keys: Sequence[str]) -> Node | None:
    """Return the node some keys deep, None where there is none."""
    node = root
    for key in keys:
        node = node.entries.get(key) if isinstance(node, Mapping) else None
    return node


def moved(node: Node, path: str, line: int = 0) -> Node:
    """Return a node at another place, with all that is in it; line 0 where that is in no file."""
    if isinstance(node, Scalar):
        return replace(node, line=line, path=path)
    if isinstance(node, Listing):
        items = [moved(item, f"{path}[{place}]", line) for place, item in enumerate(node.items, 1)]
        return Listing(line, path, items, node.refused)
    entries = {key: moved(child, child_path(path, key), line) for key, child in node.entries.items()}
    return Mapping(line, path, entries, node.refused)


def walk(root: Node) -> Iterator[Node]:
    """Yield every node of a tree."""
    waiting: list[Node] = [root]
    while waiting:
        node = waiting.pop()
        yield node
        if isinstance(node, Mapping):
            waiting += node.entries.values()
        elif isinstance(node, Listing):
            waiting += node.items


def decode(data: bytes, problems: Problems) -> str:
    """Return the text of a file, a byte order mark left out; raise ScenarioError where it is not UTF-8 text."""
    if data.startswith((b"\xff\xfe", b"\xfe\xff")) or b"\0" in data[:4]:
        fatal(problems, 1, "this is UTF-16, UTF-32 or a binary file", "UTF-8 text", "save it as UTF-8")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        found = f"found the byte 0x{data[error.start]:02x}, which is not UTF-8"
        fatal(problems, line, found, "UTF-8 text", "save the file as UTF-8")


def parse(text: str, problems: Problems) -> Mapping:
    """Return the tree of a text; raise ScenarioError where there is none.

    Duplicate keys, anchors, aliases and tags are noted in problems and the rest is read on, so that all problems
    can be shown at once; faults of syntax, depth, size or number of documents end the reading.
    """
    if len(text.encode("utf-8", "replace")) > LARGEST_FILE:
        fatal(problems, 0, "the file is too large", f"at most {LARGEST_FILE // 1024} kB")
    wrong = _NOT_YAML.search(text)
    if wrong:
        line = text.count("\n", 0, wrong.start()) + 1
        fatal(problems, line, f"found the control character U+{ord(wrong[0]):04X}", "plain text", "delete it")
    builder = _Builder(problems)
    for count, event in enumerate(_events(text, problems)):
        if count > MOST_EVENTS:
            fatal(problems, builder.line, "the file holds too many values", f"about {MOST_EVENTS // 2}")
        builder.take(event)
    if not isinstance(builder.root, Mapping):
        found = "nothing" if builder.root is None else describe(builder.root)
        fatal(problems, 1, f"found {found}", "a mapping of keys such as `patients:` and `cylinders:`")
    return builder.root


def unprintable(text: str) -> tuple[str, ...]:
    """Return what is found and what is allowed where a text holds what is not printed; empty where it does not."""
    for mark in text:
        if not mark.isprintable() and mark not in "\n\t" + JOINERS:
            return f"found the character U+{ord(mark):04X}", "letters, digits and signs"
    return ()


def fatal(problems: Problems, line: int, found: str, allowed: str = "", hint: str = "") -> NoReturn:
    """Note a problem that ends the reading, and raise ScenarioError."""
    problems.add(Scalar(line, "", ""), found, allowed, hint)
    problems.stop()
    raise AssertionError


def _events(text: str, problems: Problems) -> Iterator[Any]:
    """Yield the events of the YAML stream; whatever the library raises becomes one problem with its line."""
    line = 1
    try:
        for event in YAML(typ="safe", pure=True).parse(text):
            line = event.end_mark.line + 1
            yield event
    except MarkedYAMLError as error:
        reason = " ".join(part for part in (error.context, error.problem) if part)
        # What is never closed is found missing at the end of the file; its beginning is the place to mend.
        unclosed = error.context_mark is not None and "stream" in reason
        mark = error.context_mark if unclosed else error.problem_mark or error.context_mark
        line = mark.line + 1 if mark else line
        fatal(problems, line, f"not YAML: {reason}", "", _syntax_hint(text, line, reason))
    except (YAMLError, ValueError, LookupError, TypeError, AttributeError, AssertionError) as error:
        # The library lets some of these through on broken escapes and directives, as "\U00110000".
        hint = "look at this line and the next"
        fatal(problems, line, f"not YAML: a broken escape or directive ({quote(str(error))})", "", hint)


def _syntax_hint(text: str, line: int, reason: str) -> str:
    """Return what to do about a fault of syntax, where that can be guessed."""
    lines = text.splitlines()
    here = lines[line - 1] if 0 < line <= len(lines) else ""
    if "\t" in here[: len(here) - len(here.lstrip())] or "'\\t'" in reason:
        return "indent with spaces, not tabs"
    if "mapping values are not allowed" in reason:
        return "a colon with a space begins a value; check the indentation, or quote the text"
    if "quoted scalar" in reason and "stream" in reason:
        return "the quote that begins here is never closed"
    if "expected ',' or" in reason:
        return "a comma or a closing bracket is missing"
    if "could not find expected ':'" in reason or "expected <block end>" in reason:
        return "check the indentation and the colon after each key"
    return ""


class _Builder:
    """Events in, tree out; keeps the open lists and mappings on a stack of its own."""

    def __init__(self, problems: Problems) -> None:
        self.problems = problems
        self.root: Node | None = None
        self.line = 1
        self.documents = 0
        self.open: list[Mapping | Listing] = []
        self.keys: list[Scalar | None] = []  # beside each open container: the key that waits for its value

    def take(self, event: Any) -> None:
        """Build one event of the stream into the tree."""
        self.line = event.start_mark.line + 1
        name = type(event).__name__
        if name == "DocumentStartEvent":
            self._document(event)
        elif name in ("MappingEndEvent", "SequenceEndEvent"):
            self.open.pop()
            self.keys.pop()
        elif name in ("MappingStartEvent", "SequenceStartEvent"):
            self._container(event, Mapping if name == "MappingStartEvent" else Listing)
        elif name in ("ScalarEvent", "AliasEvent"):
            self._scalar(event)

    def _document(self, event: Any) -> None:
        self.documents += 1
        if self.documents > 1:
            fatal(self.problems, self.line, "a second document begins with ---", "one document a file")
        if event.tags or (event.version is not None and tuple(event.version) != (1, 2)):
            fatal(
                self.problems, self.line, "found a YAML directive (%)", "plain YAML 1.2", "delete the line with %"
            )

    def _place(self) -> tuple[int, str]:
        """Return line and path of the value that comes next."""
        if not self.open:
            return self.line, ""
        above, key = self.open[-1], self.keys[-1]
        if isinstance(above, Listing):
            return self.line, f"{above.path}[{len(above.items) + 1}]"
        return (key.line, key.path) if key else (self.line, above.path)

    def _container(self, event: Any, make: type[Mapping] | type[Listing]) -> None:
        line, path = self._place()
        if self._wants_key():
            fatal(self.problems, self.line, "found a list or mapping as a key", "a name before the colon")
        if len(self.open) >= DEEPEST:
            fatal(self.problems, self.line, "nested too deeply", f"at most {DEEPEST} levels")
        node = make(line, path, refused=self._decorated(event, Scalar(line, path, "")))
        self._attach(node)
        self.open.append(node)
        self.keys.append(None)

    def _scalar(self, event: Any) -> None:
        line, path = self._place()
        text = getattr(event, "value", "")
        node = Scalar(line, path, text)
        refused = self._decorated(event, node) or not self._printable(node)
        if type(event).__name__ == "AliasEvent":
            self.problems.add(node, f"found the alias *{event.anchor}"[:80], "the value itself", "write it out")
            refused = True
        if self._wants_key():
            self._key(text)
        else:
            self._attach(Scalar(line, path, text, refused=refused))

    def _wants_key(self) -> bool:
        return bool(self.open) and isinstance(self.open[-1], Mapping) and self.keys[-1] is None

    def _key(self, text: str) -> None:
        above = self.open[-1]
        key = Scalar(self.line, child_path(above.path, text[:20]), text)
        if not text.strip():
            self.problems.add(key, "found nothing before the colon", "a name")
        elif len(text) > LONGEST_KEY:
            self.problems.add(key, "found a key that is too long", f"at most {LONGEST_KEY} characters")
        else:
            key = Scalar(self.line, child_path(above.path, text), text)
        self.keys[-1] = key

    def _attach(self, node: Node) -> None:
        if not self.open:
            self.root = node
            return
        above, key = self.open[-1], self.keys[-1]
        if isinstance(above, Listing):
            above.items.append(node)
            return
        assert key is not None
        self.keys[-1] = None
        if not key.text.strip() or len(key.text) > LONGEST_KEY:
            return  # noted already
        before = above.entries.setdefault(key.text, node)
        if before is not node:
            found = f"the key {quote(key.text)} stands a second time; the first is on line {before.line}"
            self.problems.add(key, found, "each key once", "delete one")

    def _decorated(self, event: Any, node: Node) -> bool:
        """Note an anchor or a tag; return True if there was one."""
        if event.anchor and type(event).__name__ != "AliasEvent":
            self.problems.add(node, f"found the anchor &{event.anchor}"[:80], "plain values", "delete it")
        tag = getattr(event, "tag", None)
        if tag:
            self.problems.add(node, f"found the tag {quote(str(tag))}", "plain values", "delete it")
        return bool(event.anchor or tag)

    def _printable(self, node: Scalar) -> bool:
        """Note an escaped control character or half of a pair, which would garble screens and files."""
        mark = unprintable(node.text)
        if mark:
            self.problems.add(node, *mark)
        return not mark
