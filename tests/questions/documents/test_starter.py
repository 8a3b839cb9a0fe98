"""The starter scenario: it loads as it stands, is short or tells every key, and its defaults are the defaults."""

from __future__ import annotations

import math
import re

import pytest
from click.testing import CliRunner
from jsonschema import Draft202012Validator
from yaml_values import typed

import o2sim
from o2sim import cli
from o2sim.questions.documents import starter as module
from o2sim.questions.documents.scenario_schema import scenario_schema
from o2sim.questions.documents.starter import WIDTH, explain, starter
from o2sim.scenario import Law, warnings
from o2sim.scenario.keys.fields import CHANGEABLE, TOP, Field, Section, documented
from o2sim.scenario.keys.starter_examples import EXAMPLES, FOUND
from o2sim.scenario.types.laws import share_above

OTHERS = (("children",), ("adults",))  # classes whose keys are explained at the first
OFF = re.compile(r"(?m)^( *)#(?=[a-z_]+: +[^# ])")  # before a key with its default


def call(*args):
    """Run a command and return click's result."""
    return CliRunner().invoke(cli.main, [str(arg) for arg in args])


@pytest.mark.parametrize("every", [False, True])
def test_it_loads_and_compares_three_strategies(every):
    """Three ways to supply; nothing in it is doubtful."""
    scenario = o2sim.loads(starter(every=every))
    assert scenario.strategies == ("cylinders only", "concentrators only", "mixed")
    assert warnings(scenario) == []
    assert Draft202012Validator(scenario_schema()).is_valid(typed(starter(every=every)))


def test_the_short_one_says_the_same_as_the_long_one():
    """What is left out has its default: both are the same scenario."""
    assert o2sim.loads(starter()).hash == o2sim.loads(starter(every=True)).hash


def test_the_short_one_is_short_and_says_where_the_rest_is():
    """Within 70 lines, nothing switched off in it, and its head names the option for every key."""
    lines = starter().splitlines()
    assert 50 <= len(lines) <= 70
    assert not OFF.search(starter())
    assert "o2sim new --all FILE" in starter().split("\n\n")[0]


def test_each_figure_of_the_short_one_says_where_a_place_finds_it():
    """Beside or above each example stand the first words of its help, but for prices, and where to look."""
    fields, text = dict(documented()), starter()
    for keys, where in FOUND.items():
        assert keys in EXAMPLES
        assert where in text
        pattern = ".".join("*" if keys[0] == "patients" and place == 1 else key for place, key in enumerate(keys))
        assert keys[0] == "costs" or fields[pattern].help.split(";")[0] in text
    named = ("name", "about")
    assert {keys for keys in EXAMPLES if keys[0] not in (*named, "strategies") and keys[1:2] not in OTHERS} == {
        *FOUND
    }


def test_the_shares_in_need_are_those_of_the_review():
    """Pooled in low and middle income countries: Graham and others 2025 (213 studies), read in its summary."""
    classes = o2sim.loads(starter()).hospitals["mixed"].patients
    assert [each.hypoxaemic for each in classes] == [0.245, 0.121, 0.108]


def test_its_defaults_are_the_defaults():
    """Switching on every key that shows its default changes nothing in what is loaded."""
    switched_on, count = OFF.subn(r"\1", starter(every=True))
    assert count >= 15
    assert o2sim.loads(switched_on).hash == o2sim.loads(starter()).hash


def test_a_switched_off_section_can_be_switched_on():
    """Taking the # from the whole of allocation gives a scenario with its defaults."""
    text = starter(every=True)
    start = text.index("#allocation:")
    end = text.index("\n\n", start)
    on = text[:start] + re.sub(r"(?m)^#", "", text[start:end]) + text[end:]
    allocation = o2sim.loads(on).hospitals["mixed"].allocation
    assert (allocation.preempt, allocation.reserve) == (False, 0)


def test_its_prices():
    """A concentrator at USD 648 (Duke and others 2021, table 2); those switched off are of the same table."""
    costs = o2sim.loads(starter()).hospitals["mixed"].costs
    assert costs is not None
    assert (costs.currency, costs.concentrator.price) == ("USD", 648.0)
    assert re.search(r"# *price: 385 USD", starter(every=True))  # an analyser
    assert re.search(r"# *price: 250 USD", starter(every=True))  # an oximeter


def test_every_key_is_told():
    """Each documented key stands in it with its help; those of a strategy are named."""
    text = " ".join(line.strip(" #-") for line in starter(every=True).splitlines())
    plain = re.sub(r" #? +", " ", text)
    for path, item in documented():
        assert re.search(rf"(?<![a-z_]){item.name}:", plain), path
        assert item.help in plain, path
    for item in CHANGEABLE:
        assert item.name in plain[plain.index("changed for it alone") :]


def test_the_response_time_is_a_law_and_marked_as_assumed():
    """A median of 5 min, spread 2: the share over ten minutes stands beside it, with the word assumed."""
    law = o2sim.loads(starter()).hospitals["mixed"].response_time_s
    assert law == Law("lognormal", (math.log(300), math.log(2)))
    assert 1 / share_above(law, 600) == pytest.approx(6, abs=0.5)
    lines = starter(every=True).splitlines()
    place = lines.index("response_time: {lognormal: {median: 5 min, geometric_sd: 2}}")
    assert lines[place - 1].endswith("assumed; one in six is over 10 min")


def test_a_new_key_appears_by_itself(monkeypatch):
    """A section added to the table of fields is told, switched off, with what it needs."""
    inner = Section((Field("by_day", "whole", "nurses by day", required=True, least="0", most="99"),))
    staff = Field("staff", "section", "who connects and changes", section=inner, otherwise="nobody is waited for")
    alone = starter()
    monkeypatch.setattr(module, "TOP", Section((*TOP.fields, staff)))
    assert starter() == alone
    long = starter(every=True)
    assert "#staff:" in long
    assert "#  by_day:                              # nurses by day; a whole number from 0 to 99; needed" in long
    assert o2sim.loads(long).hash == o2sim.loads(alone).hash


def test_lines_fit_and_words_are_told():
    """No line is longer than the width; a word with a meaning of its own is named."""
    assert max(map(len, (starter() + starter(every=True)).splitlines())) <= WIDTH
    told = {path: explain(item) for path, item in documented()}
    assert "or watched" in told["cylinders.gauge_check"]
    assert "one of wait, transfer" in told["if_unserved"]
    assert told["resupply.lead_time"].endswith("such as 4 days or a law of chance; needed")


def test_new_writes_a_file_that_checks(tmp_path):
    """`o2sim new FILE` writes it, `o2sim check` finds it in order, `o2sim compare` compares."""
    file = tmp_path / "mine.yaml"
    assert call("new", file).exit_code == 0
    shown = call("check", file)
    assert (shown.exit_code, shown.stdout.splitlines()[0]) == (0, "My hospital: the file is in order.")
    assert "Warning" not in shown.stderr
    compared = call("compare", file, "--replications", "2")
    assert (compared.exit_code, compared.stdout.count("concentrators only") > 0) == (0, True)


def test_new_refuses_to_overwrite(tmp_path):
    """A file that is there stays as it is, with exit code 1, unless --force is given."""
    file = tmp_path / "mine.yaml"
    file.write_text("mine", encoding="utf-8")
    shown = call("new", file)
    assert (shown.exit_code, file.read_text(encoding="utf-8")) == (1, "mine")
    assert "is there already" in shown.stderr
    assert call("new", file, "--force").exit_code == 0
    assert file.read_text(encoding="utf-8") == starter()


def test_new_prints_it(tmp_path, monkeypatch):
    """`-` prints it and writes nothing; without a name it goes to scenario.yaml."""
    monkeypatch.chdir(tmp_path)
    assert call("new", "-").stdout == starter()
    assert call("new", "-", "--all").stdout == starter(every=True)
    assert list(tmp_path.iterdir()) == []
    call("new")
    assert [path.name for path in tmp_path.iterdir()] == ["scenario.yaml"]


def test_new_where_nothing_can_be_written(tmp_path):
    """A folder that is not there gives one line on stderr and exit code 1."""
    shown = call("new", tmp_path / "nowhere" / "mine.yaml")
    assert shown.exit_code == 1
    assert "found no folder" in shown.stderr
