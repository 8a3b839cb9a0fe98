"""Facilities from a folder or a CSV over a base scenario: what rows override, and all that is wrong at once."""

from __future__ import annotations

from pathlib import Path

import pytest
from test_cli import SCENARIO as TEXT

import o2sim
from o2sim.errors import Problem, ScenarioError
from o2sim.questions.facilities import settings
from o2sim.scenario import loads, warnings
from o2sim.scenario.changing import facilities as facilities_module
from o2sim.scenario.changing.facilities import ROWS_SHOWN, FacilitiesError, read_facilities
from o2sim.scenario.types import tables
from o2sim.scenario.types.tables import Dialect

HEADER = (
    "name,patients.adults.admissions,cylinders.fleet,resupply.lead_time,strategies.mixed.concentrators.count\n"
)
ROWS = """Fern post,0.5 / day,,,
Moss post,2 / day,12,"{gamma: {mean: 4 days, sd: 2 days}}",3
Last post,1 / day,,,
"""


@pytest.fixture
def base(tmp_path):
    """Write the base scenario and return its path."""
    path = tmp_path / "base.yaml"
    path.write_text(TEXT, encoding="utf-8")
    return path


def read(base, text):
    """Return the facilities of a CSV text."""
    path = base.parent / "facilities.csv"
    path.write_text(text, encoding="utf-8", newline="")
    return read_facilities(path, base)


def refused(base, text):
    """Return the lines of the error that a CSV text gives, from the file's name on."""
    with pytest.raises(ScenarioError) as caught:
        read(base, text)
    return [line.split("facilities.csv", 1)[-1] for line in str(caught.value).splitlines()[1:]]


def problems(base, text):
    """Return the problems of the rows of a CSV text, from the file's name on."""
    return [str(problem).split("facilities.csv", 1)[1] for problem in read(base, text).problems]


def test_a_row_is_the_base_with_its_cells_in_place(base):
    """Each facility is the scenario one would get by writing its cells into the file by hand."""
    found = read(base, HEADER + ROWS)
    text = TEXT.replace("1 / day", "2 / day").replace("fleet: 6", "fleet: 12")
    text = text.replace("lead_time: 3 days", "lead_time: {gamma: {mean: 4 days, sd: 2 days}}")
    text = text.replace("mixed: {sources", "mixed: {concentrators: {count: 3}, sources")
    fern, moss, last = (facility.scenario for facility in found.sound)
    assert moss.hospitals == o2sim.loads(text).hospitals
    assert moss.hash == o2sim.loads(text).hash
    assert fern.hash == o2sim.loads(TEXT.replace("1 / day", "0.5 / day")).hash
    assert last.hash == o2sim.loads(TEXT).hash  # nothing of one row is left in the next
    assert [fern.name, moss.name, found.bad] == ["Fern post", "Moss post", 0]
    assert found.sound[1].place == f"{base.parent / 'facilities.csv'}:3"


@pytest.mark.parametrize(
    "text",
    [
        (HEADER + ROWS).replace("\n", "\r\n"),
        "\ufeff" + HEADER + "\n,,,,\n" + ROWS,
        HEADER.replace(",", ";") + ROWS.replace(",", ";").replace("4 days; sd", "4 days, sd"),
    ],
    ids=["Windows lines", "byte order mark and blank rows", "semicolons"],
)
def test_what_a_spreadsheet_makes_of_it_reads_the_same(base, text):
    """Line ends, marks, blank rows and semicolons of a spreadsheet change nothing."""
    hashes = [facility.scenario.hash for facility in read(base, text).sound]
    assert hashes == [facility.scenario.hash for facility in read(base, HEADER + ROWS).sound]


def test_blank_columns_and_rows_of_a_spreadsheet_change_nothing(base):
    """Separators at the end of rows, and rows of separators alone, as a spreadsheet leaves them."""
    trailing = (HEADER + ROWS).replace("\n", ",,\n") + ",,,,,,\n"
    hashes = [facility.scenario.hash for facility in read(base, trailing).sound]
    assert hashes == [facility.scenario.hash for facility in read(base, HEADER + ROWS).sound]


def test_decimal_commas_and_days_first_are_read_when_stated(base):
    """The same facility as with a point and the year first; a text with a comma stays a text."""
    head = "name;start;about;patients.adults.admissions\n"
    (base.parent / "f.csv").write_text(head + "A;3.2.2027;2,5 km away;1,5 / day\n")
    (base.parent / "g.csv").write_text(head + "A;2027-02-03;2,5 km away;1.5 / day\n")
    written = Dialect(decimal="comma", dates="day first")
    (found,) = read_facilities(base.parent / "f.csv", base, written).sound
    (plain,) = read_facilities(base.parent / "g.csv", base).sound
    assert (found.scenario.hash, found.scenario.about) == (plain.scenario.hash, "2,5 km away")


def test_decimal_commas_and_days_first_are_refused_with_what_to_write(base):
    """All rows at once, each with its key; what the command is to be given."""
    head = "name;start;patients.adults.admissions\n"
    told = problems(base, head + "A;3.2.2027;1,5 / day\nB;2027-02-03;2,5 / day\n")
    assert told[0].startswith(":2: start: found '3.2.2027'; allowed: a date with the year first")
    assert "the file has dates of several forms" in told[0]
    assert told[1].startswith(":2: patients.adults.admissions: found '1,5 / day', which has a decimal comma")
    assert told[1].endswith("(write --decimal comma)")
    assert told[2].startswith(":3: patients.adults.admissions: found '2,5 / day'")
    (alone,) = problems(base, head + "A;13.2.2027;1 / day\n")
    assert alone.endswith('(write --dates "day first")')


@pytest.mark.parametrize(
    ("data", "told"),
    [
        (b"PK\x03\x04 and more", ": the file is a workbook, not a CSV file; allowed: a CSV file, UTF-8 (open it"),
        ((HEADER + ROWS).encode("utf-16"), ": the file is UTF-16 or a binary file, not UTF-8 text"),
        ((HEADER + ROWS).replace("Moss", "Möss").encode("latin-1"), ":3: the file is not UTF-8 text"),
    ],
)
def test_a_table_that_is_no_csv_of_utf_8_is_refused_with_what_to_save(base, data, told):
    """Workbooks and other encodings are known by their bytes."""
    path = base.parent / "facilities.csv"
    path.write_bytes(data)
    with pytest.raises(ScenarioError) as caught:
        read_facilities(path, base)
    assert str(caught.value).split("facilities.csv")[1].startswith(told)


def test_a_section_that_the_base_lacks_may_come_from_the_cells(base):
    """Columns may bring a whole section, key by key."""
    found = read(base, "name,allocation.reduced_flow,allocation.preempt\nFern post,never,true\n")
    assert found.problems == ()
    assert found.sound[0].scenario.hospitals["mixed"].allocation.reduced_flow == "never"


def test_a_cell_may_hold_a_list(base):
    """Lists in brackets are read, and their faults have the path of the place in the list."""
    head = "name,resupply.road_closures\n"
    found = read(base, head + 'A,"[{from: 2027-01-05, to: 2027-01-09}]"\n')
    closure = found.sound[0].scenario.hospitals["mixed"].resupply.road_closures[0]
    assert (closure.start.isoformat(), closure.end.isoformat()) == ("2027-01-05", "2027-01-09")
    (told,) = problems(base, head + 'A,"[{from: 2027-01-05, to: soon}]"\n')
    assert told.startswith(":2: resupply.road_closures[1].to: found 'soon'")


def test_a_file_too_large_or_none_that_can_be_read(base, monkeypatch):
    """What is no regular file of tolerable size is refused before it is read."""
    monkeypatch.setattr(facilities_module, "LARGEST_CSV", 10)
    assert refused(base, HEADER + ROWS)[0].startswith(": found no regular file of tolerable size")


def test_problems_of_all_rows_are_told_at_once(base):
    """Each has its row, field, what was found and what is allowed; those of the base say where they stand."""
    text = HEADER + 'A,x / day,,,\n,,,,\nB,,-3,"{gamma",\n,1 / day,,,\nA,,,,\nC,1 / day\n'
    found = read(base, text)
    told = problems(base, text)
    assert (found.bad, found.sound) == (5, ())
    assert told[0].startswith(
        ":2: patients.adults.admissions: found 'x / day': a number must come first; allowed: a rate"
    )
    assert told[1].startswith(":4: resupply.lead_time: not YAML")
    assert told[2].startswith(":4: cylinders.fleet: found '-3'")
    assert told[3:] == [
        ":5: name: found nothing; allowed: a name for the facility",
        ":6: name: found 'A', which is also on line 2; allowed: a name of its own for each facility",
        ":7: found 2 cells; allowed: 5, as in the header (quote a cell that holds a comma)",
    ]


def test_a_value_of_the_base_that_no_longer_fits_is_placed_in_both(base):
    """A fleet below the base's reorder point is told at the row, with the line of the base."""
    (told,) = problems(base, "name,resupply.order_up_to\nA,2\n")
    assert told.startswith(":2: resupply.reorder_point: found reorder_point 3, order_up_to 2")
    assert told.endswith("base.yaml, line 13)")


def test_a_column_nobody_knows_is_told_once(base):
    """The same problem of many rows is one line that names some of them."""
    rows = "".join(f"F{number},1\n" for number in range(9))
    (told,) = problems(base, f"name,cylinder.fleet\n{rows}")
    assert told.startswith(":2: cylinder: the key 'cylinder' is unknown")
    assert told.endswith(f"did you mean cylinders?; also on lines 3, 4, 5, 6, 7 and {8 - ROWS_SHOWN} more)")


def test_a_column_into_a_single_value_is_refused(base):
    """Where the base has a plain value there are no keys in it to override."""
    (told,) = problems(base, "name,patients.adults.flow.high\nA,3 L/min\n")
    assert "found '2 L/min' at patients.adults.flow, which has no keys in it" in told


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("", ": found nothing; allowed: a header row"),
        (HEADER, ":1: found a header, but no facilities"),
        ("place,cylinders.fleet\nA,3\n", ":1: found no column name among place, cylinders.fleet"),
        ("name,a..b\nA,3\n", ":1: column 2: found 'a..b'; allowed: a key of a scenario"),
        ("name,,x\nA,3,4\n", ":1: column 2: found ''"),
        ("name,x,x\nA,3,4\n", ":1: column 3: the column 'x' stands a second time"),
        (
            'name,x\nA,"3\n',
            ":2: the file is not CSV: unexpected end of data; allowed: a CSV file, UTF-8 (look at the quotes",
        ),
    ],
)
def test_a_csv_that_makes_no_sense_is_refused(base, text, told):
    """Faults of the header and of the file as a whole end the reading."""
    assert refused(base, text)[0].startswith(told)


def test_places_that_hold_no_facilities(base, tmp_path):
    """A missing file, a scenario, a folder with a base, a CSV without one, bytes, an empty folder."""
    (tmp_path / "empty").mkdir()
    (tmp_path / "bytes.csv").write_bytes(b"name\n\xff\xfe\xfa")
    for path, over, message in (
        ("none.csv", base, "found no such file or folder"),
        ("base.yaml", base, "found a scenario file.*o2sim compare runs one"),
        ("empty", base, "leave out --base"),
        ("bytes.csv", None, "add --base FILE"),
        ("bytes.csv", base, "is not UTF-8"),
        ("bytes.csv", tmp_path / "gone.yaml", "found no such file|is not UTF-8"),
        ("empty", None, "found no scenario file in the folder"),
        ("a\0b.csv", base, "cannot be read|found no such file"),
    ):
        with pytest.raises(ScenarioError, match=message):
            read_facilities(tmp_path / path, over)


def test_a_base_that_is_wrong_is_told_as_such(base):
    """Syntax of the base is its own problem, with its own line."""
    base.write_text("name: [", encoding="utf-8")
    with pytest.raises(ScenarioError, match=r"base\.yaml:1: not YAML"):
        read(base, HEADER + ROWS)


def test_a_folder_of_scenarios(tmp_path):
    """Files are read by name; those with problems, or with a name that was there before, are told at once."""
    for name, text in {
        "b.yaml": TEXT,
        "a.yml": TEXT.replace("Reed Bank", "Ash"),
        "c.yaml": TEXT,
        "d.yaml": TEXT.replace("fleet: 6", "fleet: none"),
        "notes.txt": "x",
    }.items():
        (tmp_path / name).write_text(text, encoding="utf-8")
    found = read_facilities(tmp_path)
    assert [facility.scenario.name for facility in found.sound] == ["Ash health centre", "Reed Bank health centre"]
    assert found.bad == 2
    told = [str(problem) for problem in found.problems]
    assert f"which is also the name in {tmp_path / 'b.yaml'}" in told[0]
    assert told[1].startswith(f"{tmp_path / 'd.yaml'}:12: cylinders.fleet: found 'none'")


def test_an_error_of_very_many_problems_is_cut():
    """A thousand problems are counted, a hundred told."""
    told = str(FacilitiesError([Problem("f.csv", 2, "name", "found nothing", "a name")] * 1_000, 700)).splitlines()
    assert (told[0], len(told), told[-1]) == (
        "700 facilities cannot be run",
        102,
        "  and 900 more problems; mend these first",
    )


def test_the_province_that_is_shipped():
    """The demo of facilities loads over its base, each facility its own."""
    folder = Path(__file__).parents[2] / "scenarios"
    found = read_facilities(folder / "province.csv", folder / "health_centre.yaml")
    assert (len(found.sound), found.problems) == (6, ())
    assert len({facility.scenario.hash for facility in found.sound}) == 6
    assert [str(doubt) for facility in found.sound for doubt in warnings(facility.scenario)] == []


def test_a_facility_is_asked_for_what_neither_row_nor_base_states():
    """The share found is stated in the base of the province; taken out of it, each facility is asked for it."""
    folder = Path(__file__).parents[2] / "scenarios"
    silent = (folder / "health_centre.yaml").read_text(encoding="utf-8").replace("    recognised: 75 %", "    #")
    found = read_facilities(folder / "province.csv", loads(silent))
    asked = [doubt.field for facility in found.sound for doubt in warnings(facility.scenario)]
    assert asked == ["patients.*.recognised"] * 6


def test_the_words_of_the_command_are_those_of_tables():
    """The command states them again, so that its help loads nothing."""
    assert (settings.DECIMALS, settings.DATES) == (tables.DECIMALS, tables.DATES)
