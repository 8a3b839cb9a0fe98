"""Mutated scenario files: each ends in ScenarioError or a valid Scenario, in nothing else, and none hangs."""

from __future__ import annotations

import contextlib
import dataclasses
import random
import re
import signal
from collections.abc import Callable

import numpy as np
import pytest
from scenario_texts import SMALL, WHOLE

from o2sim.draws.laws import quantile
from o2sim.errors import ScenarioError
from o2sim.scenario import Law, Scenario, load, warnings

CASES_A_BLOCK = 100
HANGS_S = 60.0  # of the processor: a guard against what never ends; how long a load takes is a benchmark
EXTREMES = np.array([2.0**-54, 0.5, 1 - 2.0**-53])
NASTY = [
    "&a ", "*a", "<<: ", "!!int ", "!!python/object:os.system ", "|", ">", "{", "}", "[", "]", ",", ": ", "? ",
    "- ", "#", "'", '"', "\t", "\n", "\r", "---\n", "...\n", "%YAML 1.1\n", "9**9**9", "nan", "inf", "1e999",
    "-1", "0", "07", "null", "~", "true", "no", "1,5", "1_000", "\x00", "\x85", "\u2028", "\ufeff", "\u202e",
    "é", "🫁", '"\\U00110000"', '"\\ud800"', "@", "`", "L/min", "kPa", "h", "days", "none", "continuous",
    "99999999999999999999",
]  # fmt: skip


def flip_byte(text: bytes, luck: random.Random) -> bytes:
    """Return text with one bit of one byte changed."""
    at = luck.randrange(len(text))
    return text[:at] + bytes([text[at] ^ (1 << luck.randrange(8))]) + text[at + 1 :]


def swap_tokens(text: bytes, luck: random.Random) -> bytes:
    """Return text with two of its words, numbers or signs exchanged."""
    tokens = re.findall(rb"\w+|\s+|.", text, re.DOTALL)
    a, b = luck.randrange(len(tokens)), luck.randrange(len(tokens))
    tokens[a], tokens[b] = tokens[b], tokens[a]
    return b"".join(tokens)


def delete_span(text: bytes, luck: random.Random) -> bytes:
    """Return text without a short run of its bytes."""
    at = luck.randrange(len(text))
    return text[:at] + text[at + luck.randrange(1, 40) :]


def repeat_lines(text: bytes, luck: random.Random) -> bytes:
    """Return text with a few of its lines standing twice, or very often."""
    lines = text.splitlines(keepends=True) or [b"\n"]
    at = luck.randrange(len(lines))
    chunk = lines[at : at + luck.randrange(1, 6)]
    return b"".join(lines[:at] + chunk * luck.choice([2, 2, 2, 500]) + lines[at + len(chunk) :])


def splice(text: bytes, luck: random.Random) -> bytes:
    """Return the head of text with the tail of another scenario."""
    other = luck.choice([SMALL, WHOLE]).encode()
    return text[: luck.randrange(len(text))] + other[luck.randrange(len(other)) :]


def insert_nasty(text: bytes, luck: random.Random) -> bytes:
    """Return text with something put in that has a meaning of its own somewhere."""
    at = luck.randrange(len(text))
    return text[:at] + luck.choice(NASTY).encode() + text[at:]


def change_number(text: bytes, luck: random.Random) -> bytes:
    """Return text with one of its numbers made another."""
    numbers = list(re.finditer(rb"[0-9]+(\.[0-9]+)?", text))
    if not numbers:
        return text
    found = luck.choice(numbers)
    wild = [b"0", b"1e9", b"1e-9", b"100000", b"0.000001", b"-" + found[0], found[0] * 3]
    mild = [b"1", b"2", b"%g" % (float(found[0]) * luck.choice([0.5, 0.9, 1.1, 2])), found[0] + b".0"]
    new = luck.choice(wild + mild * 2)
    return text[: found.start()] + new + text[found.end() :]


def change_indent(text: bytes, luck: random.Random) -> bytes:
    """Return text with one line moved to the left or the right."""
    lines = text.splitlines(keepends=True) or [b"\n"]
    at = luck.randrange(len(lines))
    lines[at] = b" " * luck.randrange(6) + lines[at].lstrip(b" ")
    return b"".join(lines)


def move_line(text: bytes, luck: random.Random) -> bytes:
    """Return text with one line at another place."""
    lines = text.splitlines(keepends=True) or [b"\n"]
    line = lines.pop(luck.randrange(len(lines)))
    lines.insert(luck.randrange(len(lines) + 1), line)
    return b"".join(lines)


def change_word(text: bytes, luck: random.Random) -> bytes:
    """Return text with one word of the language of scenarios put in the place of another."""
    places = list(re.finditer(rb"\b[a-z]\w*\b", text))
    if not places:
        return text
    found, other = luck.choice(places), luck.choice(re.findall(rb"\b[a-z]\w*\b", WHOLE.encode()))
    return text[: found.start()] + other + text[found.end() :]


def change_value(text: bytes, luck: random.Random) -> bytes:
    """Return text with something of another kind after one of its colons."""
    places = list(re.finditer(rb"(?<=: )[^,{}\n]+|(?<=: )\{.*\}", text))
    if not places:
        return text
    found = luck.choice(places)
    new = luck.choice([b"", b"[]", b"{}", b"[a, b]", b"{a: b}", b"[[1]]", b"~", b"5", b"text", b"{mean: 1 h}"])
    return text[: found.start()] + new + text[found.end() :]


MUTATIONS: list[Callable[[bytes, random.Random], bytes]] = [
    flip_byte, swap_tokens, delete_span, repeat_lines, splice, insert_nasty, change_number, change_number,
    change_number, change_indent, move_line, change_word, change_value,
]  # fmt: skip


def mutant(luck: random.Random) -> bytes:
    """Return a scenario with one to four mutations."""
    text = luck.choice([SMALL, WHOLE]).encode()
    for _ in range(luck.choice([1, 1, 1, 2, 4])):
        text = luck.choice(MUTATIONS)(text or b"\n", luck)
    return text


@contextlib.contextmanager
def must_end():
    """Fail a block that takes more than HANGS_S of the processor, so that a busy machine does not matter."""
    if not hasattr(signal, "SIGPROF"):
        yield
        return

    def hangs(*_):
        pytest.fail(f"one scenario had not ended after {HANGS_S} s")  # no Exception: nothing in between catches it

    before = signal.signal(signal.SIGPROF, hangs)
    signal.setitimer(signal.ITIMER_PROF, HANGS_S)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0)
        signal.signal(signal.SIGPROF, before)


def laws_in(value: object) -> list[Law]:
    """Return every law inside nested dataclasses and tuples."""
    if isinstance(value, Law):
        return [value]
    if dataclasses.is_dataclass(value):
        value = tuple(getattr(value, field.name) for field in dataclasses.fields(value))
    return [law for each in value for law in laws_in(each)] if isinstance(value, tuple) else []


def assert_valid(scenario: Scenario) -> None:
    """Assert what every engine takes for granted about a loaded scenario."""
    assert re.fullmatch("[0-9a-f]{16}", scenario.hash)
    assert scenario.hospitals
    for hospital in scenario.hospitals.values():
        assert hospital.horizon_s > 0
        assert hospital.patients
        assert (hospital.cylinders is not None) == ("cylinder" in hospital.strategy.sources)
        assert (hospital.concentrators is not None) == ("concentrator" in hospital.strategy.sources)
        if hospital.cylinders is not None:
            assert hospital.cylinders.full_gas > max(hospital.cylinders.residual_gas, hospital.cylinders.lost_gas)
            assert 0 <= hospital.cylinders.full_at_start <= hospital.cylinders.fleet
        for law in laws_in(hospital):
            values = quantile(law, EXTREMES)
            assert np.all((values >= 0) & (values < 2**62))  # whole seconds and mL/min fit into 64 bits


def loaded(file) -> Scenario | ScenarioError:
    """Return the scenario in a file, or why there is none."""
    try:
        return load(file)
    except ScenarioError as error:
        return error


def block(number: int, folder) -> tuple[int, int]:
    """Load CASES_A_BLOCK mutants; return how many were scenarios, and how many were refused."""
    luck = random.Random(number)
    file = folder / "scenario.yaml"
    valid = refused = 0
    for _ in range(CASES_A_BLOCK):
        file.write_bytes(mutant(luck))
        with must_end():
            result = loaded(file)
            if isinstance(result, Scenario):
                assert_valid(result)
                assert all(problem.found for problem in warnings(result))
                valid += 1
            else:
                assert result.problems
                assert str(file) in str(result)
                refused += 1
    return valid, refused


@pytest.mark.parametrize("number", range(10))
def test_a_mutated_file_is_refused_cleanly_or_is_valid(number, tmp_path):
    """A thousand mutants give no other exception, and both outcomes occur, so the mutants are neither all dead
    nor all alive."""
    valid, refused = block(number, tmp_path)
    assert valid >= 5
    assert refused >= 5


@pytest.mark.slow
@pytest.mark.parametrize("number", range(100, 130))
def test_many_mutated_files_are_refused_cleanly_or_are_valid(number, tmp_path):
    """Three thousand other mutants give no other exception."""
    valid, refused = block(number, tmp_path)
    assert valid >= 5
    assert refused >= 5
