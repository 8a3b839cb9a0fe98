"""The validation document: every key, rule and event there is, in a reviewer's order; names break nothing."""

from __future__ import annotations

import re
from itertools import count, pairwise
from pathlib import Path

import pytest
from click.testing import CliRunner
from markdown_it import MarkdownIt
from scenario_texts import SMALL, WHOLE

import o2sim
from o2sim import cli
from o2sim.looks import assumptions as assumptions_module
from o2sim.looks.assumptions import STATED, changes
from o2sim.looks.markdown import escape, prose
from o2sim.model.rules import STEPS, Rank
from o2sim.outcome import Cause
from o2sim.questions.documents.describe import document
from o2sim.scenario.keys.fields import CHANGEABLE, TOP, Field, Section, documented
from o2sim.scenario.text.source import comment_in, source_of

SHIPPED = sorted((Path(__file__).parents[3] / "scenarios").glob("*.yaml"))
HEADINGS = [  # the STRESS-DES checklist, Monks et al 2019 (order from memory)
    "1 Objectives", "1.1 Purpose", "1.2 Outputs", "1.3 Aims of the experiments", "2 Logic", "2.1 Overview",
    "2.2 The order of events", "2.3 The strategies", "2.4 The rules, step by step", "2.5 Components",
    "2.5.1 Entities: the patients", "2.5.2 Activities", "2.5.3 Resources and their rules", "2.5.4 Queues",
    "2.5.5 Entry and exit", "3 Data", "3.1 Sources", "3.2 Preparation",
    "3.3 Input parameters that stand alone, and prices", "3.4 What the assumptions amount to", "4 Experimentation",
    "4.1 Initial conditions and warm-up", "4.2 Run length", "4.3 Estimation", "5 Implementation", "5.1 Software",
    "5.2 Random numbers", "5.3 Checks in every replication", "6 How to run it again", "Cautions",
]  # fmt: skip
IN_PLACE_OF = {  # keys of which another may stand in the file instead
    f"{path}{'.*' if item.kind == 'named sections' else ''}.{name}"
    for path, item in documented()
    if item.section is not None
    for _, names in item.section.instead
    for name in names
}


def call(*args):
    """Run a command and return click's result."""
    return CliRunner().invoke(cli.main, [str(arg) for arg in args])


def told(text):
    """Return the document of a scenario text."""
    return document(o2sim.loads(text), source_of(text), replications=30, seed=7, engine="reference")


def shown(markdown):
    """Return (kind of element, its text) as a CommonMark reader with tables shows a document."""
    tokens = MarkdownIt("commonmark").enable("table").parse(markdown)
    return [
        (tokens[place - 1].type.removesuffix("_open"), "".join(_text(child) for child in token.children))
        for place, token in enumerate(tokens)
        if token.type == "inline"
    ]


def _text(token):
    return (
        token.content if token.type in ("text", "code_inline") else f"<{token.type}>" if token.tag != "em" else ""
    )


def rows(markdown):
    """Return the rows of all tables, their heads too, as tuples of cells."""
    found = []
    tokens = MarkdownIt("commonmark").enable("table").parse(markdown)
    for before, token in pairwise(tokens):
        if token.type == "tr_open":
            found.append([])
        elif before.type in ("th_open", "td_open"):
            found[-1].append("".join(map(_text, token.children)))
    return [tuple(row) for row in found]


def test_the_order_is_the_checklist():
    """The headings of the checklist stand in its order, whatever else stands between."""
    found = [text for kind, text in shown(told(WHOLE)) if kind == "heading"]
    assert [text for text in found if text in HEADINGS] == HEADINGS


def test_every_key_that_applies_is_told():
    """Each documented key within what a scenario with every section states has a row; one of a pair is enough."""
    cells = [row[0] for row in rows(told(WHOLE))]
    checked = 0
    for path, _ in documented():
        sections = re.findall("[a-z_]+", path)[:-1]
        applies = all(f"{name}:" in WHOLE for name in sections) and path not in IN_PLACE_OF
        if applies and not path.startswith("strategies"):
            pattern = re.compile(re.escape(path).replace(r"\*", "[^.]+").replace(r"\[\]", r"\[\d+\]"))
            assert any(map(pattern.fullmatch, cells)), path
            checked += 1
    assert checked >= 70


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("", "The figures of the scenario are an example: order and buy nothing by them."),
        ("figures: example\n", "The figures of the scenario are an example: order and buy nothing by them."),
        ("figures: ours\n", "By its author the figures of the scenario are the hospital's own."),
    ],
)
def test_whose_the_figures_are_is_told_and_wants_no_source(line, words):
    """Before anything else; a statement of the author is not counted among values without a source."""
    text = line + SMALL
    markdown = document(o2sim.loads(text), source_of(text), replications=1, seed=1, engine="reference")
    assert words in markdown.replace("\\", "")
    assert next(row[2] for row in rows(markdown) if row[0] == "figures") in ("", "default: convention of o2sim")


def every_key(section, number, indent=""):
    """Return YAML with all keys of a section, each with a value of its own; sections and lists one deep each."""
    lines = []
    for item in section.fields:
        if item.name == "strategies":
            continue
        if item.section is None or item.kind == "register":
            lines.append(f"{indent}{item.name}: value {next(number)}")
        elif item.kind == "list of sections":
            inner = every_key(item.section, number, indent + "    ")
            lines += [f"{indent}{item.name}:", f"{indent}  -", *inner]
        else:
            named = item.kind == "named sections"
            inner = every_key(item.section, number, indent + ("    " if named else "  "))
            lines += [f"{indent}{item.name}:", *([f"{indent}  child:"] if named else []), *inner]
    return lines


def test_every_documented_key_that_a_file_sets_is_told_with_its_value():
    """In the scenario and in a strategy's changes: no key of the table is left out of the document."""
    number = count(1)
    stated = every_key(TOP, number)
    changed = every_key(Section(CHANGEABLE), number, "    ")
    text = "\n".join([*stated, "strategies:", "  cylinders only:", *changed])
    markdown = document(o2sim.loads(SMALL), source_of(text), replications=1, seed=1, engine="reference")
    values = [row[1] for row in rows(markdown) if len(row) == 4]
    last = next(number)
    assert last > 300
    assert [f"value {n}" for n in range(1, last) if f"value {n}" not in values] == []


def test_every_event_step_and_cause_is_told():
    """Each Rank stands in the numbered order, each step and each cause in its list."""
    markdown = told(SMALL)
    numbered = re.findall(r"(?m)^(\d+)\. ([a-z ]+)", markdown)
    assert numbered == [(str(place), rank.name.lower().replace("_", " ")) for place, rank in enumerate(Rank, 1)]
    cells = {row[0] for row in rows(markdown)}
    assert set(STEPS) <= cells
    for cause in Cause:
        assert f"- {cause.label} (" in markdown


def test_values_stand_with_their_source():
    """A stated value has its author's comment, a default its mark, what is left out what stands for it."""
    text = WHOLE.replace("fleet: 40", "fleet: 40  # counted, the store's ledger")
    found = {row[0]: row[1:3] for row in rows(told(text))}
    assert found["cylinders.fleet"] == ("40", "counted, the store's ledger")
    assert found["cylinders.regulators"] == ("12", STATED)
    assert found["cylinders.full_at_start"] == ("fleet", "left out")
    assert found["return_to_concentrator"] == ("true", "default: convention of o2sim")
    assert found["costs.regulators.salvage"] == ("0", "default")
    assert found["patients.newborns.duration"][0] == "lognormal: {median: 60 h, geometric_sd: 2.2}"
    assert found["resupply.road_closures[1].to"][0] == "2027-06-30"


def test_changes_of_a_strategy_are_told():
    """A strategy's changes have a row each; a section only it has is told in full, with its defaults."""
    found = {name: {row.path: row.value for row in told} for name, told in changes(source_of(WHOLE)).items()}
    assert found["mixed"] == {
        "strategies.mixed.sources": "[concentrator, cylinder]",
        "strategies.mixed.concentrators.count": "3",
    }
    change = "{sources: [cylinder, concentrator], concentrators: {count: 2, rated_flow: 5 L/min}, "
    text = SMALL.replace("{sources: [cylinder]}", change + "patients: {child: {priority: 3}}}")
    row = {
        row.path.removeprefix("strategies.cylinders only."): row.value
        for row in changes(source_of(text))["cylinders only"]
    }
    assert row["concentrators.outlets"] == "1"
    assert row["concentrators.failure"] == "never fails"
    assert row["patients.child.priority"] == "3"
    assert "patients.child.flow" not in row


def test_what_a_file_leaves_out_is_told():
    """Without strategies those that the sections suggest are told; a group of prices left out has its noughts."""
    text = SMALL[: SMALL.index("strategies:")] + "costs: {electricity: 0}\n"
    found = {row[0]: row[1:3] for row in rows(told(text))}
    assert ("heading", "cylinders only") in shown(told(text))
    assert found["costs.regulators"] == ("as follows", "left out")
    assert found["costs.regulators.life"] == ("7 years", "default: assumed, from memory")
    assert found["shortfall.enough"] == ("50 %", "default: assumption of o2sim")
    assert found["cylinders.leak"][1].endswith(
        "Meeting oxygen needs in Africa: an options analysis from the Gambia, 2009, read in its abstract"
    )
    assert found["concentrators"] == ("no concentrators", "left out")
    assert "sources" not in found


def test_a_new_key_is_told_by_itself(monkeypatch):
    """A key added to the table of fields has its row in the document, with its default and mark."""
    staff = Field("nurses_at_night", "whole", "who may connect", "1", "common practice", least="0", most="99")
    monkeypatch.setattr(assumptions_module, "TOP", Section((*TOP.fields, staff)))
    assert ("nurses_at_night", "1", "default: common practice", "who may connect") in rows(told(SMALL))


NASTY = r"a | b `c` *d* _e_ <script>x</script> [f](http://g.h) ~~i~~ # j &amp; \! $k$ | www.l.m"


def named(name, kind, strategy, comment):
    """Return the small scenario with these texts in it."""
    text = SMALL.replace("name: One bed", f"name: '{name}'\nabout: '{name}'").replace("  child:", f"  '{kind}':")
    return text.replace("{cylinders only:", f"{{'{strategy}':").replace("fleet: 4", f"fleet: 4  # {comment}")


def test_names_change_nothing():
    """Names full of Markdown and HTML show as they are, and the document keeps its shape, cell by cell."""
    plain = shown(told(named("One", "child", "this", "counted")))
    nasty_text = told(named(f"1. {NASTY}", NASTY[:60], f"- {NASTY[:50]}", f"+ {NASTY}"))
    nasty = shown(nasty_text)
    assert nasty[0] == ("heading", f"1. {NASTY}: the simulation and its assumptions")
    assert ("heading", f"- {NASTY[:50]}") in nasty
    assert ("td", f"patients.{NASTY[:60]}.flow") in nasty
    assert ("td", f"+ {NASTY}") in nasty
    assert [kind for kind, _ in nasty] == [kind for kind, _ in plain]
    html = MarkdownIt("commonmark").enable("table").render(nasty_text)
    assert re.search(r"<(script|a |img|del)", html) is None


@pytest.mark.parametrize(
    ("text", "escaped"),
    [
        ("- item", r"\- item"),
        ("1. item", r"1\. item"),
        ("0.4 / day", "0.4 / day"),
        ("# head", r"\# head"),
        ("www.x.org at http://y", r"www\.x.org at http\://y"),
        ("a\nb", "a b"),
    ],
)
def test_escape(text, escaped):
    """What begins something in Markdown is escaped where it would, and there alone."""
    assert escape(text) == escaped


def test_prose_keeps_its_code():
    """o2sim's own text keeps what stands between backticks; an odd backtick is a character like others."""
    assert prose("run `a_b` on x_y") == r"run `a_b` on x\_y"
    assert prose("an odd ` here") == r"an odd \` here"


@pytest.mark.parametrize(
    ("line", "comment"),
    [
        ("fleet: 4  # counted", "counted"),
        ("name: 'a # b'  # c", "c"),
        ('name: "a \\" # b"', ""),
        ("name: it's # said", "said"),
        ("colour: a#b", ""),
        ("x: ['#', \"#\"] #y", "y"),
    ],
)
def test_a_comment_is_found_outside_quotes(line, comment):
    """Comments begin at a # after a space, outside quotes (YAML 1.2, section 6.6)."""
    assert comment_in(line) == comment


@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: path.stem)
def test_shipped_scenarios_are_told(path):
    """Every shipped scenario has its document, with its own value of every key it states."""
    shown_text = call("describe", path, "--replications", 50, "--seed", 3)
    assert shown_text.exit_code == 0
    assert "50 replications of each strategy" in shown_text.stdout
    assert f"o2sim compare {path.name} --replications 50 --seed 3 --engine kernel" in shown_text.stdout
    cells = {row[0]: row[1] for row in rows(shown_text.stdout)}
    stated = re.findall(
        r"(?m)^  (fleet|reorder_point|lead_time|count): *([^#\n]*?) *(?:#|$)", path.read_text("utf-8")
    )
    for key, value in stated:
        (found,) = [
            cells[at] for at in cells if at in (f"cylinders.{key}", f"resupply.{key}", f"concentrators.{key}")
        ]
        assert found == value.removeprefix("{").removesuffix("}") or value == f"{{{found}}}"


def test_describe_writes_a_file_once(tmp_path):
    """-o writes what it would print; a file that is there is kept without --force."""
    (tmp_path / "small.yaml").write_text(SMALL, encoding="utf-8")
    args = ["describe", tmp_path / "small.yaml"]
    printed = call(*args).stdout
    assert call(*args, "-o", tmp_path / "model.md").exit_code == 0
    assert (tmp_path / "model.md").read_text(encoding="utf-8") == printed
    assert call(*args, "-o", tmp_path / "model.md").exit_code == 1
    assert call(*args, "-o", tmp_path / "model.md", "--force").exit_code == 0


def test_describe_of_a_bad_file_is_refused(tmp_path):
    """A scenario with a mistake gives its problems and exit code 2, and no document."""
    (tmp_path / "bad.yaml").write_text(SMALL.replace("fleet: 4", "fleet: -4"), encoding="utf-8")
    found = call("describe", tmp_path / "bad.yaml")
    assert (found.exit_code, found.stdout) == (2, "")
