"""What commands and questions propose to write is followed here, or where it says: it is accepted, and does it."""

from __future__ import annotations

import pytest
from click.testing import CliRunner
from proposal_scan import proposals
from test_sizing import WARD

from o2sim.cli import main

SHORT = WARD.replace("horizon: 60 days", "horizon: 10 days").replace("warm_up: 7 days", "warm_up: 2 days")
FEW = ("--replications", "2")
SIZE = ("size", "FILE", "--strategy", "mixed", "--target", "50 %", "--replications", "5")
TWO = ("--vary", "cylinders.fleet = 24, 30", "--vary", "concentrators.count = 2, 3")
# The text as in the sources: (words that bring it about, what is said, words by which it is followed).
FOLLOWED = {
    "--chart shows one --vary; for several write the table with --csv": (
        (*SIZE, *TWO, "--chart", "c.png"), "write the table with --csv", (*SIZE, *TWO, "--csv", "c.csv")),
    "--range goes with one --vary that states no values; else write FIELD = 40..80 there": (
        (*SIZE, "--vary", "cylinders.fleet = 24", "--range", "24..26"), "write FIELD = 40..80 there",
        (*SIZE, "--vary", "cylinders.fleet = 24..26")),
    "--range is empty; write 40..80, or leave it out": (
        (*SIZE, "--vary", "cylinders.fleet", "--range", " "), "write 40..80",
        (*SIZE, "--vary", "cylinders.fleet", "--range", "40..80 step 20")),
    "{} {}: write a name that ends in {}": (
        (*SIZE, "--vary", "cylinders.fleet = 24", "--chart", "c.jpg"), "write a name that ends in .png or .svg",
        (*SIZE, "--vary", "cylinders.fleet = 24", "--chart", "c.svg")),
    "the name is empty; write . for the folder you are in, or another name": (
        ("compare", "FILE", *FEW, "--out", ""), "write . for the folder you are in",
        ("compare", "FILE", *FEW, "--out", ".")),
    "drivers: found no uncertain number in {file}; write some as {{low: 1 h, likely: 2 h, high: 6 h}} in the "
    "file, or give --vary 'FIELD = LOW, LIKELY, HIGH'": (
        ("drivers", "FILE", *FEW), "or give --vary 'FIELD = LOW, LIKELY, HIGH'",
        ("drivers", "FILE", *FEW, "--vary", "power.grid.down = 1 h, 6 h, 9 h")),
}  # fmt: skip
NO_COMMAND = {  # of the functions alone; a command always gives something to vary
    "size: found nothing to vary; write --vary cylinders.fleet or another field": (
        *SIZE, "--vary", "cylinders.fleet", "--range", "24..26"),
    "whatif: found nothing to vary; write --vary 'FIELD = 1 h, 2 h, 4 h'": (
        "whatif", "FILE", *FEW, "--vary", "power.grid.down = 1 h, 2 h, 4 h"),
}  # fmt: skip
ELSEWHERE = {  # where each is followed, or why it proposes nothing
    "Or have a copy written with all of it, and see {}:\n{} --write {}\n{}":
        "questions/size/test_written_answer.py",
    "Before buying, try more pairs of levels, have the best written, and see what it gives with supply alone and "
    "with handling:\n{} --vary {} --write {}\n{}": "questions/size/test_better_rule.py",
    "That alone is not shown to be enough, but whatever is bought should come on top of it: write it with --vary "
    "{}, then size the fleet anew.": "questions/size/test_better_rule.py",
    "a chart shows one field; for several write the table with --csv": "as the command of that name says it",
    "no count of the records could be compared: {}; write in Place which days each book covers, and fill in Stock "
    "card, Counts at midnight or Month totals": "questions/hindcast/test_hindcast_command.py",
    "{} covers {}, and what it is compared with {} to {}: no day is in both; write in Place which days each book "
    "covers, or look for a year that is wrong": "questions/hindcast/test_hindcast_replay.py",
    "{}: {} cannot be written there; write it by hand": "no words to write",
    "--write": "an option",
    "size: no value is enough, so that there is no answer to write into the scenario": "no proposal",
    "{}: cannot write there ({})": "no proposal",
    "{}: {} would be overwritten, and o2sim did not write it or it has been changed since; choose another folder":
        "no proposal",
}  # fmt: skip


def run(folder, words, text=SHORT):
    """Return what a command does with a scenario, in a folder of its own."""
    (folder / "ward.yaml").write_text(text, encoding="utf-8")
    with pytest.MonkeyPatch.context() as patched:
        patched.chdir(folder)
        return CliRunner().invoke(main, ["ward.yaml" if word == "FILE" else word for word in words])


def test_every_proposal_of_a_command_has_a_case():
    """A command or question that proposes something new fails here until it is followed."""
    listed = {text for _, text in proposals("questions", "commands")}
    assert listed == set(FOLLOWED) | set(NO_COMMAND) | set(ELSEWHERE)


@pytest.mark.parametrize("text", FOLLOWED)
def test_what_a_command_proposes_is_accepted(tmp_path, text):
    """It is refused with these words; as it then says, it works."""
    wrong, said, right = FOLLOWED[text]
    refused = run(tmp_path, wrong)
    assert refused.exit_code in (1, 2)
    assert said in " ".join(refused.stderr.split())
    done = run(tmp_path, right)
    assert done.exit_code == 0, done.output


@pytest.mark.parametrize("text", NO_COMMAND)
def test_what_a_function_proposes_is_accepted_by_the_command(tmp_path, text):
    """With a field in place of FIELD it runs."""
    done = run(tmp_path, NO_COMMAND[text])
    assert done.exit_code == 0, done.output


def test_a_range_written_into_the_file_is_an_uncertain_number(tmp_path):
    """The other way that `drivers` proposes, in the words of the message."""
    ranged = SHORT.replace("down: 6 h", "down: {low: 1 h, likely: 2 h, high: 6 h}")
    done = run(tmp_path, ("drivers", "FILE", *FEW), ranged)
    assert done.exit_code == 0, done.output
    assert "power.grid.down" in done.stdout
