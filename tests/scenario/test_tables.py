"""Tables beside a scenario: a stated writing reads the same, any other is refused with what to write."""

from __future__ import annotations

import datetime as dt
import re
import tempfile
from pathlib import Path

import pandas as pd
import pytest
from click.testing import CliRunner
from hypothesis import given, settings
from hypothesis import strategies as st
from table_texts import KEPT, TEXTS, hospital, number, refused, rows, time

import o2sim
from o2sim.cli import main
from o2sim.errors import ScenarioError

HEAD = "arrival,class,flow,hours\n"
MOMENTS = st.datetimes(dt.datetime(2027, 1, 1), dt.datetime(2029, 12, 31)).map(lambda t: t.replace(microsecond=0))
TENTHS = st.integers(1, 300).map(lambda n: n / 10)
WRITINGS = st.fixed_dictionaries({
    "separator": st.sampled_from(["comma", "semicolon", "tab"]),
    "decimal": st.sampled_from(["point", "comma"]),
    "dates": st.sampled_from(["year first", "day first", "month first"]),
})  # fmt: skip


def keys_of(writing: dict[str, str]) -> list[str]:
    """Return the keys that state a way of writing."""
    return [f"{key}: {value}" for key, value in writing.items()]


@settings(deadline=None)
@given(st.lists(st.tuples(MOMENTS, TENTHS, TENTHS), min_size=1, max_size=5), WRITINGS, st.booleans())
def test_a_register_in_a_stated_writing_reads_as_the_plain_one(admissions, writing, apart):
    """Separator, decimal mark, order of dates, date and time in one column or two: the same admissions."""
    plain = [HEAD.strip().split(",")] + [
        [" ".join(time(at, "year first")), "all", number(flow, "point"), number(hours, "point")]
        for at, flow, hours in admissions
    ]
    order, mark = writing["dates"], writing["decimal"]
    head = ["day", "clock", "class", "flow", "hours"] if apart else plain[0]
    other = [head] + [
        [
            *(time(at, order) if apart else [" ".join(time(at, order))]),
            "all",
            number(flow, mark),
            number(hours, mark),
        ]
        for at, flow, hours in admissions
    ]
    keys = keys_of(writing) + (["columns: {arrival: [day, clock]}"] if apart else [])
    with tempfile.TemporaryDirectory() as name:
        expected = hospital(Path(name), "register", rows(plain, "comma"))
        assert hospital(Path(name), "register", rows(other, writing["separator"]), *keys) == expected


@settings(deadline=None)
@given(
    st.lists(st.tuples(MOMENTS, st.integers(1, 90_000)), min_size=1, max_size=5), WRITINGS, st.integers(-11, 11)
)
def test_cuts_in_a_stated_writing_and_at_another_offset_read_as_the_plain_ones(cuts, writing, hours):
    """Times written at any offset from UTC are turned to that of the place."""

    def table(order: str, separator: str, ahead_h: float, zone: str) -> str:
        shift = dt.timedelta(hours=ahead_h)
        body = [
            [" ".join(time(at + shift + dt.timedelta(seconds=s), order, zone)) for s in (0, lasts)]
            for at, lasts in cuts
        ]
        return rows([["start", "end"], *body], separator)

    here, zone = 3, f"{hours:+03d}:00"
    with tempfile.TemporaryDirectory() as name:
        expected = hospital(Path(name), "cuts", table("year first", "comma", 0, ""))
        text = table(writing["dates"], writing["separator"], hours - here, zone)
        found = hospital(Path(name), "cuts", text, *keys_of(writing), f"time_zone: UTC+{here:02d}:00")
    assert found == expected


@settings(deadline=None)
@given(st.lists(TENTHS, min_size=1, max_size=6), WRITINGS)
def test_a_column_in_a_stated_writing_is_the_same_law(values, writing):
    """A column of stays between semicolons with decimal commas gives the law of the plain column."""
    del writing["dates"]  # a law has none
    with tempfile.TemporaryDirectory() as name:
        expected = hospital(Path(name), "law", rows([["hours"], *([number(v, "point")] for v in values)], "comma"))
        cells = [["ward", "hours"], *(["a", number(v, writing["decimal"])] for v in values)]
        assert hospital(Path(name), "law", rows(cells, writing["separator"]), *keys_of(writing)) == expected


def test_what_a_spreadsheet_adds_changes_nothing(tmp_path):
    """A byte order mark, Windows lines, blank columns and rows, spaces around names and cells."""
    expected = hospital(tmp_path, "register", f"{HEAD}2027-01-03 14:05,all,2,5\n")
    text = "\ufeff arrival ;class; flow;hours;;\r\n;;;;;\r\n2027-01-03 14:05; all;2 ;5;;\r\n;;;;;\r\n"
    assert hospital(tmp_path, "register", text, "separator: semicolon") == expected
    assert hospital(tmp_path, "register", f"sep=;\r\n{text[1:]}", "separator: semicolon") == expected


OFFERED = {  # kind of table, the table: the keys that the messages say to write
    ("register", "arrival;class;flow;hours\n13/02/2027 14:05;all;2,5;4\n"):
        ["separator: semicolon", "dates: day first", "decimal: comma"],
    ("register", "arrival\tclass\tflow\thours\n3.2.2027\tall\t2\t4\n"): ["separator: tab", "dates: day first"],
    ("register", HEAD + "03/02/2027,all,2,4\n"): ["dates: day first"],
    ("register", HEAD + "03/02/2027,all,2,4\n02/13/2027,all,2,4\n"): ["dates: month first"],
    ("register", HEAD + '2027-02-03,all,"2,5",4\n'): ["decimal: comma"],
    ("register", HEAD + "2027-02-03T14:05Z,all,2,4\n"): ["time_zone: UTC+00:00"],
    ("register", HEAD + "2027-02-03 14:05+05:30,all,2,4\n"): ["time_zone: UTC+05:30"],
    ("register", "date,time,class,flow,hours\n2027-02-03,14:05,all,2,4\n"): ["columns: {arrival: [date, time]}"],
    ("register", "arrival,time,class,flow,hours\n2027-02-03,14:05,all,2,4\n"):
        ["columns: {arrival: [arrival, time]}"],
    ("register", "Arrival,class,flow,hours\n2027-02-03,all,2,4\n"): ["columns: {arrival: Arrival}"],
    ("cuts", "start;hours\n2027-03-03 18:30;2,5\n"): ["separator: semicolon", "decimal: comma"],
    ("cuts", "start_date,start_time,hours\n2027-03-03,18:30,2\n"): ["columns: {start: [start_date, start_time]}"],
    ("cuts", "start,end\n3/4/2027 18:30,3/5/2027 2:00 AM\n"): ["dates: day first", "dates: month first"],
    ("law", "hours\n2,5\n"): ["separator: semicolon", "decimal: comma"],
    ("law", "ward;hours\na;2,5\n"): ["separator: semicolon", "decimal: comma"],
}  # fmt: skip


@pytest.mark.parametrize(("kind", "table"), OFFERED)
def test_another_writing_is_refused_with_the_keys_to_write_and_they_are_accepted(kind, table, tmp_path):
    """Nothing is guessed; what a message says to write is taken when it is written."""
    said = " ".join(refused(tmp_path, kind, table))
    keys = OFFERED[kind, table]
    assert [key for key in keys if f"{key}" not in said] == []
    chosen = {key.split(":")[0]: key for key in reversed(keys)}
    assert refused(tmp_path, kind, table, *chosen.values()) == []


WRONG = {  # keys, rows below the head of a register: the beginning of each message, from the line on
    "mixed": ([], "2027-02-03,all,2,4\n3.2.2027,all,2,4\n",
              ["3: arrival: found '3.2.2027'; allowed: a date with the year first"]),
    "other order stated": (["dates: day first"], "2027-02-03,all,2,4\n", ["2: arrival: found '2027-02-03'"]),
    "no such day": ([], "2027-02-30,all,2,4\n", ["2: arrival: found '2027-02-30': no such day or time"]),
    "two digits": (["dates: day first"], "3.2.27,all,2,4\n", ["2: arrival: found '3.2.27', a year of two digits"]),
    "no date": ([], "14:05,all,2,4\n", ["2: arrival: found '14:05', a time without a date"]),
    "point": (["decimal: comma"], "2027-02-03,all,2.5,4\n", ["2: flow: found '2.5', which has a decimal point"]),
    "groups": ([], '2027-02-03,all,2,"1,234,567"\n', ["2: hours: found '1,234,567', digits in groups"]),
    "all at once": ([], "2027-02-32,,2 h,\n2027-02-03,all,2,5,4\n", [
        "2: arrival: found '2027-02-32': no such day", "2: class: found nothing", "2: flow: found '2 h': this is",
        "2: hours: found nothing", "3: found 5 cells under 4 names"]),
    "short": ([], "2027-02-03,all,2\n", ["2: hours: found nothing"]),
    "far": ([], "46425.2,all,2,4\n", ["2: arrival: found '46425.2': an arrival a hundred years from the start"]),
}  # fmt: skip


@pytest.mark.parametrize("case", WRONG)
def test_wrong_cells_are_shown_with_line_and_column(case, tmp_path):
    """Each wrong cell of each row once, in order."""
    keys, text, expected = WRONG[case]
    found = [problem.removeprefix("t.csv:") for problem in refused(tmp_path, "register", HEAD + text, *keys)]
    assert [shown[: len(start)] for shown, start in zip(found, expected, strict=True)] == expected


def test_very_many_wrong_cells_are_counted(tmp_path):
    """Of fifty-one the first twenty are shown."""
    found = refused(tmp_path, "register", HEAD + "soon,all,2,4\n" * 51)
    assert len(found) == 21
    assert found[19].startswith("t.csv:21: arrival: found a text of 4 characters")
    assert found[20] == "t.csv: and 31 more wrong cells (mend these first)"


def test_two_classes_of_one_register_show_its_faults_once(tmp_path):
    """A wrong row of a file that several classes and strategies read is shown at the first of them."""
    (tmp_path / "t.csv").write_text(HEAD + "soon,all,2,4\n")
    two = (
        TEXTS["register"]
        .replace("KEYS", "")
        .replace("{all:", f"{{other: {{register: {{file: t.csv, {KEPT}}}}}, all:")
    )
    (tmp_path / "s.yaml").write_text(two)
    with pytest.raises(ScenarioError) as error:
        o2sim.load(tmp_path / "s.yaml")
    assert [problem.field for problem in error.value.problems] == ["patients.other.register.file"]


WHOLE = {  # kind of table, the table: the beginning of the only message
    ("register", b""): "t.csv is empty",
    ("register", b"\xef\xbb\xbf\n\n"): "t.csv is empty",
    ("register", HEAD.encode()): "t.csv: has 0 rows below the names; allowed: 1 to 10000 rows",
    ("register", (HEAD + "2027-02-03,all,2,4\n").encode("utf-16")): "t.csv is UTF-16 or a binary file, not UTF-8",
    ("register", (HEAD + "2027-02-03,é,2,4\n").encode("latin-1")): "t.csv:2 is not UTF-8 text",
    ("register", b"PK\x03\x04 and more"): "t.csv is a workbook, not a CSV file",
    ("register", (HEAD + '2027-02-03,"all,2,4\n').encode()): "t.csv:2 is not CSV: unexpected end of data",
    ("register", b"arrival,class,flow,hours,hours\n0,all,2,4,4\n"): "t.csv: the column 'hours' stands twice",
    ("register", (HEAD + "0.5,all,2,4\n2027-02-03,all,2,4\n").encode()):
        "t.csv: found dates and numbers of days in the column arrival, on lines 2 and 3",
    ("cuts", b"start,ende\n2027-02-03,2027-02-04\n"): "t.csv: found neither a column of ends nor one of hours",
    ("law", b"hours,hours\n1,2\n"): "t.csv: the column 'hours' stands twice",
}  # fmt: skip


@pytest.mark.parametrize(("kind", "table"), WHOLE)
def test_a_file_that_is_no_such_table_has_one_message(kind, table, tmp_path):
    """What the file is, with what to do."""
    (found,) = refused(tmp_path, kind, table)
    assert found.startswith(WHOLE[kind, table])


ENDS = {  # keys, a row under start,end,hours: what its message has
    "before": ([], "2027-03-03 18:30,2027-03-02 04:00,",
               "found '2027-03-02 04:00': ends on 2 March 04:00, before it begins on 3 March 18:30"),
    "year": ([], "2027-03-03 18:30,2026-03-02 04:00,", "ends on 2 March 2026 04:00, before it begins on 3 March"),
    "equal": ([], "2027-03-03 18:30,2027-03-03 18:30,", "as it begins, and lasts no time"),
    "other order": (["dates: day first"], "03/04/2027 18:30,04/03/2027 04:00,",
                    "(look at the day, or write dates: month first)"),
    "hours": ([], "2027-03-03 18:30,2027-03-03 20:30,5", "2 h 00 min after it begins, but its hours say 5 h"),
}  # fmt: skip


@pytest.mark.parametrize("case", ENDS)
def test_an_end_that_cannot_be_is_explained(case, tmp_path):
    """The row with both times as one says them; another order of dates is offered only where it would help."""
    keys, row, expected = ENDS[case]
    (found,) = refused(tmp_path, "cuts", f"start,end,hours\n{row}\n", *keys)
    assert expected in found
    assert ("write dates" in found) == (case == "other order")


def test_an_end_and_hours_that_agree_are_one_cut(tmp_path):
    """Hours rounded to a tenth do not contradict an end; the end is what counts, 24:00 the next midnight."""
    found = hospital(tmp_path, "cuts", "start,end,hours\n2027-01-01 21:40,2027-01-01 24:00,2.3\n")
    assert found.grid.cuts == ((78_000, 86_400),)


PERSONS = (
    "Name",
    "patient",
    "PatientID",
    "date_of_birth",
    "Telefone",
    "home address",
    "hospital number",
    "Prénom",
)


@pytest.mark.parametrize("name", PERSONS)
def test_a_column_that_says_who_a_patient_is_is_refused(name, tmp_path):
    """By its place and the word it was known by; no cell of it is repeated."""
    found = refused(tmp_path, "register", f"arrival,class,{name},flow,hours\nsoon,all,Zaborek,2,4\n")
    assert re.match(r"t.csv: column 3 says who a patient is \([a-z]+\); .*\(remove this column\)$", found[0])
    assert "Zaborek" not in " ".join(found)


def test_other_columns_are_neither_read_nor_repeated(tmp_path):
    """A ward's name and the like pass; a wrong register says nothing of them, nor of texts in its cells."""
    expected = hospital(tmp_path, "register", f"{HEAD}0.5,all,2,4\n")
    more = "arrival,ward name,class,flow,hours,Zaborek\n0.5,North,all,2,4,secret\n"
    assert hospital(tmp_path, "register", more) == expected
    wrong = "arrival,class,flow,Zaborek\nZaborek,Zaborek,Zaborek,0660 1234567\n"
    found = refused(tmp_path, "register", wrong) + refused(tmp_path, "register", wrong.replace("w,Z", "w,hours,Z"))
    assert len(found) > 2
    assert [problem for problem in found if re.search("Zaborek|1234567", problem)] == []


NOT_TAKEN = {
    "columns: {arival: x}": "columns: found 'arival'; allowed: columns that o2sim reads here: arrival, class",
    "columns: {flow: [a, b]}": "columns: found two names for flow; allowed: one; two, of a date and a time, for",
    "columns: {arrival: [a, b, c]}": "columns.arrival: found 3 names; allowed: one, or two",
    "columns: {arrival: a, class: a}": "columns: found the name 'a' twice",
    "columns: arrival": "columns: found 'arrival'; allowed: names of columns such as",
    "time_zone: Nairobi": "time_zone: found 'Nairobi'; allowed: an offset from UTC such as UTC+02:00",
    "time_zone: UTC+15:00": "time_zone: found 'UTC+15:00'; allowed: an offset from UTC",
    "dates: day frist": "dates: found 'day frist'; allowed: year first, day first or month first (did you",
    "separator: pipe": "separator: found 'pipe'; allowed: comma, semicolon or tab",
}


@pytest.mark.parametrize("key", NOT_TAKEN)
def test_a_writing_that_there_is_not_is_refused_at_its_key(key, tmp_path):
    """What is allowed, and the nearest word."""
    (found,) = refused(tmp_path, "register", f"{HEAD}0.5,all,2,4\n", key)
    assert NOT_TAKEN[key] in found


def test_a_strategy_with_another_file_states_its_writing_itself(tmp_path):
    """The way a file is written belongs to the file: another register under a strategy is plain unless it says."""
    (tmp_path / "plain.csv").write_text(f"{HEAD}2027-01-03,all,2,5\n")
    (tmp_path / "t.csv").write_text(f"{HEAD}3.1.2027,all,2,5\n")
    text = TEXTS["register"].replace("KEYS", ", dates: day first")
    other = "{sources: [cylinder], patients: {all: {register: {file: plain.csv, " + KEPT + "}}}}"
    (tmp_path / "s.yaml").write_text(text.replace("{only:", f"{{other: {other}, only:"))
    found = o2sim.load(tmp_path / "s.yaml").hospitals
    assert found["other"].patients == found["only"].patients


def test_a_writing_without_a_file_is_refused(tmp_path):
    """Up and down times have no dates."""
    text = TEXTS["cuts"].replace(f"{{file: t.csv, {KEPT}KEYS}}", "{up: 3 h, down: 1 h, dates: day first}")
    (tmp_path / "s.yaml").write_text(text)
    with pytest.raises(
        ScenarioError, match="grid: found a mapping of up, down, dates; allowed: up and down, or file"
    ):
        o2sim.load(tmp_path / "s.yaml")


def test_frames_read_plain_whatever_is_stated_and_honour_their_time_zone():
    """Numbers and timestamps of a frame need no writing; those with a time zone need that of the place."""
    at = pd.to_datetime(["2027-01-03 14:05", "2027-01-04 02:30"])
    table = pd.DataFrame({"arrival": at, "class": "all", "flow": [1.5, 2.0], "hours": [30, 4.25]})
    keys = ", separator: semicolon, decimal: comma, dates: day first"
    text = TEXTS["register"]
    plain = o2sim.loads(text.replace("KEYS", ""), tables={"t.csv": table})
    assert o2sim.loads(text.replace("KEYS", keys), tables={"t.csv": table}).hash == plain.hash
    utc = table.assign(arrival=at.tz_localize("UTC"))
    here = o2sim.loads(text.replace("KEYS", ", time_zone: UTC+03:00"), tables={"t.csv": utc})
    later = table.assign(arrival=at + pd.Timedelta(hours=3))
    assert here.hash == o2sim.loads(text.replace("KEYS", ""), tables={"t.csv": later}).hash
    with pytest.raises(ScenarioError, match=r"which has an offset from UTC; .*write time_zone: UTC\+00:00"):
        o2sim.loads(text.replace("KEYS", ""), tables={"t.csv": utc})
    apart = table.assign(arrival=[t.normalize() for t in at], clock=[t.time() for t in at])
    columns = ", columns: {arrival: [arrival, clock]}"
    assert o2sim.loads(text.replace("KEYS", columns), tables={"t.csv": apart}).hash == plain.hash


def test_the_command_line_shows_all_of_it_and_takes_what_it_says(tmp_path):
    """`o2sim check` refuses a semicolon table of decimal commas with all keys at once, and passes it with them."""
    table = "arrival;class;flow;hours\n13/01/2027 14:05;all;2,5;4\n"
    said = refused(tmp_path, "register", table)
    shown = CliRunner().invoke(main, ["check", str(tmp_path / "s.yaml")])
    assert (shown.exit_code, shown.stdout, len(said)) == (2, "", 3)
    assert [each for each in said if each not in " ".join(shown.stderr.split())] == []
    keys = "file: t.csv, separator: semicolon, dates: day first, decimal: comma"
    text = (tmp_path / "s.yaml").read_text().replace("file: t.csv", keys)
    (tmp_path / "s.yaml").write_text(text)
    assert CliRunner().invoke(main, ["check", str(tmp_path / "s.yaml")]).exit_code == 0
