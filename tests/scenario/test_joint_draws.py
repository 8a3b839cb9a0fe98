"""Tables of joint draws: what their columns set, and that all that is wrong is said, by line and column."""

from __future__ import annotations

import numpy as np
import pytest
from joint_ward import WARD

from o2sim.errors import O2simError, ScenarioError
from o2sim.scenario.changing.joint import joint_draws
from o2sim.scenario.changing.joint_table import MOST_ROWS
from o2sim.scenario.changing.override import original_of

DOWN = "power.grid.down.median"


@pytest.fixture
def table(tmp_path):
    """Return what writes a table and lays it over the ward."""

    def laid(text, encoding="utf-8"):
        path = tmp_path / "draws.csv"
        path.write_bytes(text if isinstance(text, bytes) else text.encode(encoding))
        return joint_draws(path, original_of(WARD, "ward.yaml"))

    return laid


def refused(table, text):
    """Return the problems of a table that is refused, each without the folder of the file."""
    with pytest.raises(ScenarioError) as caught:
        table(text)
    return [f"{each.line}: {each.field}: {each.found}" for each in caught.value.problems]


def test_each_row_is_a_scenario_and_replications_meet_them_in_turn(table):
    """Replication 3 of two rows meets the second; plain numbers have the unit of their head."""
    joint = table(f"{DOWN} (h),cylinders.fleet\n2,20\n30 min,21\n")
    downs = [each.hospitals["mixed"].grid.down_s.parameters[0] for each in joint.scenarios]
    assert downs == pytest.approx(np.log([7_200, 1_800]))  # of a lognormal law the log of its median
    assert [joint.at(k).hospitals["mixed"].cylinders.fleet for k in range(4)] == [20, 21, 20, 21]
    assert joint.rows_from(1, 4) == [joint.scenarios[1], joint.scenarios[0]]


def test_a_column_takes_the_place_of_a_range_and_the_other_ranges_stay_likely(table):
    """The name of a law may be left out of a head; what has no column is named."""
    joint = table("resupply.lead_time.mean\n3 days\n5 days\n")
    assert joint.likely == ("patients.all.admissions",)
    assert [each.uncertain for each in joint.scenarios] == [(), ()]
    assert (
        joint.scenarios[0].hospitals["mixed"].patients[0]
        == original_of(WARD).scenario.hospitals["mixed"].patients[0]
    )


def test_a_frame_is_read_as_a_file_is(table):
    """Numbers of a frame are texts of a file; both make the same scenarios."""
    import pandas as pd

    frame = pd.DataFrame({f"{DOWN} (h)": [2.5, 4.0], "cylinders.fleet": [20, 21]})
    file = table(f"{DOWN} (h);cylinders.fleet\n2.5;20\n\n4;21\n")
    assert joint_draws(frame, original_of(WARD)).hash == file.hash
    assert file.hash != table(f"{DOWN} (h);cylinders.fleet\n4;21\n2.5;20\n").hash


def test_all_that_is_wrong_with_the_form_is_said_at_once(table):
    """Heads, cells, ragged rows: by line and column; a control character by its number alone."""
    text = f"cylinders.fleet,{DOWN},cylinders.fleet,\x1b[31m\n1,2,3\n1,,3,4\n1,2 h,3,\x07\n"
    assert refused(table, text) == [
        "1: column 3: found the column 'cylinders.fleet' stands a second time".replace("found the", "the"),
        "1: column 4: found the character U+001B",
        "2: : found 3 cells",
        f"3: {DOWN}: found nothing",
        "4: \x1b[31m: found the character U+0007",
    ]
    with pytest.raises(ScenarioError) as caught:
        table(text)
    assert "\x1b" not in str(caught.value)


def test_unknown_keys_are_named_with_the_nearest(table):
    """Also what no draw may change: all rows are of one hospital in the same days."""
    assert refused(table, "cylinders.flet,horizon\n1,2 days\n1,2 days\n") == [
        "1: column 1: the key 'cylinders.flet' is unknown",
        "1: column 2: found the key 'horizon'",
    ]
    with pytest.raises(ScenarioError, match=r"did you mean cylinders\.fleet\?"):
        table("cylinders.flet\n1\n2\n")


def test_values_that_make_no_scenario_are_said_by_line_and_column(table):
    """Out of limits, of the wrong unit, a range in a cell, and what goes against the file, with its line there."""
    ranged = '"{low: 1 h, likely: 2 h, high: 3 h}"'
    text = f"{DOWN},resupply.order_up_to\n-2 h,12\n2 m,12\n2 h,5\n{ranged},12\n4 h,12\n"
    found = refused(table, text)
    assert found[0].startswith(f"2: {DOWN}: found '-2 h'")
    assert found[1].startswith(f"3: {DOWN}: found '2 m'")
    assert found[2].startswith("4: resupply")
    assert found[3] == f"5: {DOWN}: found a range"


def test_the_same_problem_of_many_rows_is_said_once(table):
    """With the other lines that have it."""
    with pytest.raises(ScenarioError, match=r"also on lines 3, 4, 5, 6, 7 and 1 more"):
        table("patients.all.flow\n" + 7 * "2 kg\n")


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("", "found nothing"),
        ("cylinders.fleet\n", "found 0 rows of draws"),
        ("cylinders.fleet\n20\n", "found 1 rows of draws"),
        ("cylinders.fleet\n" + (MOST_ROWS + 1) * "20\n", f"found {MOST_ROWS + 1:,} rows of draws"),
        ("cylinders.fleet\n20\n\u00e9\n".encode("latin-1"), "the file is not UTF-8 text"),
        (b"PK\x03\x04", "the file is a workbook, not a CSV file"),
    ],
)
def test_what_is_no_table_of_draws_is_refused(table, text, found):
    """Empty, too short, too long, of another encoding, a workbook."""
    assert found in refused(table, text)[0]


@pytest.mark.parametrize("place", ["//server/share/draws.csv", "http://host/draws.csv", "\\\\server\\draws.csv"])
def test_places_on_the_network_are_refused_by_their_text(place):
    """Nothing opens them."""
    with pytest.raises(ScenarioError, match=r"found an? (address|place on the network)"):
        joint_draws(place, original_of(WARD))


def test_what_is_no_path_nor_frame_is_refused():
    """As everywhere a table is taken."""
    with pytest.raises(O2simError, match="found int; allowed: a pandas DataFrame"):
        joint_draws(3, original_of(WARD))
