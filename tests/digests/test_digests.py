"""Nothing that is simulated, printed as JSON or laid out has changed unless the digests were made anew.

Where a change is meant, `python tests/digests/make.py results` or `pages` writes them again, for the same commit;
with --keep it also leaves the texts, for diff to read.
"""

from __future__ import annotations

import sys

import digest_commands
import digest_pages
import digest_runs
import make
import pytest


def _differing(group: str, parts, begin: str = "", kind: str = "results") -> list[str]:
    """Return which parts are not what was kept, of those whose name begins so."""
    kept = {name: digest for name, digest in make.read(kind)[group].items() if name.startswith(begin)}
    return make.differences(kept, make.digests(parts))


@pytest.mark.parametrize("name", digest_runs.names())
def test_the_kernel_simulates_what_it_did(name):
    """Every step and every figure of every strategy, in two replications of each shipped scenario."""
    assert _differing("runs", digest_runs.runs(name, "kernel"), f"{name} | ") == []


@pytest.mark.digests
@pytest.mark.parametrize("name", digest_runs.names())
def test_the_reference_simulates_what_it_did(name):
    """Every step and every figure of every strategy, by the engine that the kernel is checked against."""
    assert _differing("runs", digest_runs.runs(name, "reference"), f"{name} | ") == []


@pytest.mark.digests
def test_json_says_what_it_did():
    """What each command prints with --json, with numbers to ten digits and without versions."""
    commands = [*digest_commands.of_every_scenario(), *digest_commands.of_some()]
    assert _differing("json", digest_commands.printed(commands, "--json")) == []


def _look_otherwise(group: str, parts, begin: str = "") -> list[str]:
    """Return which pages are not what was kept; skip where other libraries drew those kept."""
    made, here = make.read("pages")["made with"], digest_pages.versions()
    others = [f"{what} {made[what]}, here {here[what]}" for what in here if made[what] != here[what]]
    if others:
        pytest.skip(f"drawn under other versions: {'; '.join(others)}")
    return _differing(group, parts, begin, "pages")


@pytest.mark.digests
def test_pages_look_as_they_did():
    """Descriptions, screens, files and notebooks, under the libraries that drew those kept."""
    assert _look_otherwise("pages", digest_pages.all_else()) == []


@pytest.mark.digests
@pytest.mark.parametrize("name", digest_runs.names())  # each by itself, so that processes can share them
def test_reports_look_as_they_did(name):
    """Those of each scenario, under the libraries that drew those kept."""
    scenario = f"scenarios/{name}"
    assert _look_otherwise("reports", digest_pages.reports(scenario), f"report {scenario} ") == []


def test_digests_name_every_shipped_scenario():
    """A scenario that is added must be given digests."""
    assert {name.split(" | ")[0] for name in make.read("results")["runs"]} == set(digest_runs.names())
    reported = {name.split()[1] for name in make.read("pages")["reports"]}
    assert reported == {f"scenarios/{name}" for name in digest_runs.names()}


def test_one_changed_step_is_seen():
    """A log that differs in one second gives another digest, which is named; the others stay as they are."""
    parts = dict(digest_runs.runs("child_ward.yaml", "kernel"))
    name = "child_ward.yaml | as it is | replication 1 | log"
    changed = {**parts, name: parts[name].replace("\n", "\n1", 1)}
    assert make.differences(make.digests(parts.items()), make.digests(changed.items())) == [f"{name}: differs"]


def test_texts_are_kept_beside_the_digests(tmp_path):
    """With a folder, each text is left there in a file of its own, as it was."""
    parts = {"a | b": "one\n", "a / b": "two\r\n"}
    make.digests(parts.items(), tmp_path / "kept")
    assert sorted(path.read_bytes() for path in (tmp_path / "kept").iterdir()) == [b"one\n", b"two\r\n"]


def test_versions_and_folders_do_not_count(tmp_path):
    """Where a text was made, and by which versions, is no part of what is compared."""
    python = ".".join(map(str, sys.version_info[:3]))
    said = f"Python {python}, 2{python}, {python}.1: {tmp_path}/x"
    assert digest_commands.plain(said, tmp_path) == f"Python <Python>, 2{python}, {python}.1: FOLDER/x"
