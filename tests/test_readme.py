"""What a reader can copy from README.md runs, and what it shows is what comes out."""

import re
from pathlib import Path

import pytest
from click.testing import CliRunner
from readme_commands import commands, filled

import o2sim
from o2sim.cli import main

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")
SHOWN = re.search(r"```text\n(.*?)```", README, re.S)


def test_the_two_commands_begin_with_nothing_but_python():
    """One sets up and runs the main job, one sets up and passes the tests; each is one line."""
    lines = [block.strip() for block in re.findall(r"```sh\n(.*?)```", README, re.S)]
    commands = [line for line in lines if line.startswith("python3 -m venv")]
    assert len(commands) == 2
    assert commands[0].endswith("o2sim compare scenarios/district_hospital.yaml")
    assert commands[1].endswith("pytest -n 2")


def test_the_python_example_runs(capsys, monkeypatch):
    """The block prints a probability with its interval."""
    monkeypatch.chdir(ROOT)
    (code,) = re.findall(r"```python\n(.*?)```", README, re.S)
    exec(compile(code, "README.md", "exec"), {})
    assert re.search(r"'estimate': [01]\.\d+, 'low': [01]\.\d+", capsys.readouterr().out)


def test_the_output_shown_is_of_this_version_and_this_scenario():
    """The provenance under the shown table carries the hash of the scenario as it is shipped."""
    assert SHOWN is not None
    scenario = o2sim.load(ROOT / "scenarios" / "district_hospital.yaml")
    assert f"o2sim {o2sim.__version__} | scenario {scenario.hash} | seed 1 | 200 replications" in SHOWN[1]


@pytest.mark.slow
def test_the_output_shown_is_what_comes_out():
    """Every line shown is printed by the command, in order."""
    assert SHOWN is not None
    path = str(ROOT / "scenarios" / "district_hospital.yaml")
    printed = [line.rstrip() for line in CliRunner().invoke(main, ["compare", path]).stdout.splitlines()]
    shown = [line for line in SHOWN[1].splitlines() if line.strip() and line != "..."]
    assert [line for line in shown if line not in printed] == []


@pytest.mark.parametrize("command", sorted(set(re.findall(r"`o2sim ([a-z]+)", README))))
def test_every_command_named_exists(command):
    """Each command in the text answers --help."""
    assert CliRunner().invoke(main, [command, "--help"]).exit_code == 0


def test_every_command_shown_can_be_tried_from_a_wheel():
    """Placeholders all have a value, so that the check of the wheel runs what is shown here; names are real."""
    tried = [filled(command) for command in commands(README)]
    assert {command.split()[1] for command in tried} == set(main.commands)
    assert [command for command in tried if re.search(r"\b(FILE|FOLDER|DIR|STORE|NAME)\b", command)] == []


def test_a_placeholder_without_a_value_is_seen():
    """A new one would otherwise be run as a file of that name."""
    with pytest.raises(SystemExit, match="found the placeholder BUDGET"):
        filled("o2sim compare FILE --budget BUDGET")


def test_no_package_of_ours_is_asked_of_an_index():
    """o2sim is on no package index: pip takes it from the checkout or from a folder."""
    assert re.findall(r"pip install[^`\n&]*", README) != []
    assert re.findall(r"pip install[^`\n&]*\bo2sim[^`\n&]*", README) == []
