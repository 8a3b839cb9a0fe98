"""Terminal screens: nothing wider than the terminal, words kept whole, sentences not squeezed, what to do next."""

from __future__ import annotations

import io
import re
from dataclasses import replace

import pytest
from rich.console import Console
from synthetic import made_up_study
from test_sizing_words import CHANGE, what_if

from o2sim.looks.blocks import Table
from o2sim.looks.screen import Screen
from o2sim.measures.measures import summarise
from o2sim.questions.compare import next_steps
from o2sim.questions.compare.screen import print_study
from o2sim.questions.whatif import text as whatif
from o2sim.scenario.changing.splice import Block

WHY = "no more than patients on regulators at once, and no more than patients with such a flow"
BUY = Table(
    ("What to buy for “concentrators 3, cylinders 16, battery yes”", "number", "unit", "why so many"),
    (("Flowmeters 0-15 L/min, on regulators", "5", "each", WHY), ("Regulators", "5", "each", "one each")),
)
MONEY = Table(
    ("What happened", "cylinders only", "mixed", "concentrators only"),
    (("Interruptions over 10 min", *("39,900,000 (36,300,000-43,600,000)",) * 3),),
)
OFFERS = Table(
    ("Option", "cost a year", "purchases", "supply shortfall", "unserved h", ""),
    (
        (
            "concentrators 3, cylinders 16,\n    battery yes",
            "3,020",
            "9,160",
            "none seen",
            "14.9",
            "dominated by 1 (sure)",
        ),
    ),
)


def shown(table, width):
    """Return the lines of a table on a terminal of so many columns."""
    screen = Screen()
    out = io.StringIO()
    screen.console = Console(file=out, width=width, markup=False, highlight=False, emoji=False)
    screen.tables([table])
    return [line.rstrip() for line in out.getvalue().splitlines()]


@pytest.mark.parametrize(
    ("table", "width"),
    [(BUY, 80), (BUY, 100), (OFFERS, 80), (OFFERS, 100), (MONEY, 100)],  # three amounts of 23 letters need 88
    ids=["buy", "buy wide", "offers", "offers wide", "money wide"],
)
def test_a_table_fits_and_breaks_no_word_of_its_head(table, width):
    """No line is wider than the terminal, and every word of the heads and cells stands whole in some line."""
    lines = shown(table, width)
    assert max(map(len, lines)) <= width
    told = " ".join(lines)
    words = {
        word for text in (*table.columns, *(cell for row in table.rows for cell in row)) for word in text.split()
    }
    assert {word for word in words if word not in told} == set()


def test_a_long_title_stands_above_its_table_and_a_sentence_has_room():
    """The title takes no room from the figures; a cell that is a sentence has at least twenty letters a line."""
    lines = shown(BUY, 80)
    assert lines[0] == BUY.columns[0]
    assert "on regulators" in " ".join(lines[3:])
    assert max(len(line) for line in lines[3:]) > 60
    assert len(lines) < 12


def test_what_a_row_is_about_stays_in_one_line_where_it_can():
    """Figures give way before the names of the rows do."""
    small = Table(MONEY.columns, (("Interruptions over 10 min", *("3,020 (2,900-3,100)",) * 3),))
    assert any(line.startswith("Interruptions over 10 min") for line in shown(small, 80))


def test_a_screen_of_results_says_what_to_do_next(capsys):
    """The heaviest cause with its cure, how many are enough, the worst run, a page to hand on."""
    study = made_up_study({"mixed": 20, "cylinders only": 40})
    print_study(study, summarise(study), full=True)
    told = " ".join(capsys.readouterr().out.split())
    assert "What to do next:" in told
    assert re.search(r"Under “mixed”, no cylinder is [\d.]+ % of what goes unserved", told)
    assert "o2sim size misty.yaml --strategy mixed" in told
    assert "o2sim trace misty.yaml --strategy mixed --worst" in told
    assert "o2sim report misty.yaml" in told


@pytest.mark.parametrize("written", [False, True])
def test_a_folder_that_is_written_is_not_proposed(capsys, written):
    """The first screen proposes --out only where it was not given, and the full one not --full."""
    study = made_up_study({"mixed": 20})
    print_study(study, summarise(study), written=written)
    first = capsys.readouterr().out
    print_study(study, summarise(study), full=True, written=written)
    assert ("--out" in first, "--full" in capsys.readouterr().out) == (not written, False)


def test_names_in_commands_are_quoted_for_the_shell():
    """A name that a shell would read as more than a name is in quotes."""
    study = made_up_study({"=cmd() & 'x'": 20})
    summary = summarise(study)
    hospital = study.scenario.hospitals["=cmd() & 'x'"]
    steps = next_steps.on_screen(summary, "=cmd() & 'x'", hospital, "a file.yaml")
    assert any("""o2sim size 'a file.yaml' --strategy '=cmd() & '"'"'x'"'"''""" in step for step in steps)


def test_after_a_sizing_the_whole_answer_is_to_be_written():
    """Lines to paste, or a copy by the same command; sheets where there are any; the seed is kept."""
    lines = [
        Block(7, 7, ("  mixed: {cylinders: {fleet: 80}}",)),
        Block(9, 8, ("  a: 1", "  b: 2")),
        Block(3, 4, ()),
    ]
    answer = next_steps.Answer("a b.yaml", lines, True, "o2sim size 'a b.yaml'", "a c.yaml", False, "sheets")
    told = {"strategy": "mixed", "seed": 1, "levels_moved": ["resupply.reorder_point"]}
    assert next_steps.after_sizing(told, answer) == [
        "Write the whole answer into a b.yaml under the strategy “mixed”, levels that moved with the fleet "
        "included:\n"
        "# in place of line 7:\n  mixed: {cylinders: {fleet: 80}}\n# after line 8:\n  a: 1\n  b: 2\n"
        "# in place of lines 3 to 4:",
        "Or have a copy written with all of it, and see what it costs beside the others, and what it gives with "
        "supply alone and with handling:\n"
        "o2sim size 'a b.yaml' --write 'a c.yaml'\no2sim compare 'a c.yaml' --supply-alone",
        "A count sheet, a page for the night and a reorder card to print:\no2sim size 'a b.yaml' --sheets sheets",
    ]
    written = replace(answer, of_strategy=False, written=True, sheets="")
    assert next_steps.after_sizing({**told, "seed": 4, "levels_moved": []}, written) == [
        "a c.yaml has the whole answer in the sections that all strategies share. To see what it costs beside "
        "the others, and what it gives with supply alone and with handling:\n"
        "o2sim compare 'a c.yaml' --seed 4 --supply-alone"
    ]


def test_after_a_what_if_the_place_has_to_be_found_on_one_side():
    """A break-even says what to find out; without one the choice does not depend on what was varied."""
    assert whatif.next_steps(what_if(changes=[CHANGE]))[0] == (
        "Find out on which side of 1.5 h your place lies (cut): that decides between “a” and “b”."
    )
    assert whatif.next_steps(what_if())[0].startswith("The choice does not depend on what was varied here")
    days = {**CHANGE, "unit": "day", "value": 2.0, "low": 2.0, "high": 6.5}
    assert whatif.break_even_tables(what_if(changes=[days]))[0].rows[0][:2] == (
        "cut 2 days\n  with units = 1\n  by chance of a supply shortfall",
        "2–6.5 days",
    )


@pytest.mark.parametrize(
    ("rows", "column", "proposed"),
    [(58, "power.grid.down.median", False), (59, "power.grid.down.median", True), (59, "cylinders.fleet", False)],
)
def test_a_sizing_is_proposed_only_over_draws_it_takes(rows, column, proposed):
    """59 rows can show 5 % at 95 % (0.95^59 < 0.05 < 0.95^58), and none of them may be of what is sized."""
    study = made_up_study({"mixed": 20})
    drawn = {"file": "draws.csv", "rows": rows, "columns": [column]}
    steps = next_steps.on_screen(
        {**summarise(study), "draws": drawn}, "mixed", study.scenario.hospitals["mixed"], "f"
    )
    assert any("o2sim size f --strategy mixed --draws draws.csv" in step for step in steps) == proposed
