"""The bedside table: its times against a handbook and another equation of state, its safe side, its page."""

from __future__ import annotations

import csv
import dataclasses
import json
import re
from html.parser import HTMLParser

import pytest
from click.testing import CliRunner
from CoolProp.CoolProp import PropsSI
from hypothesis import given
from hypothesis import strategies as st

from o2sim import cli
from o2sim.errors import QuantityError
from o2sim.quantities.gas import KPA_PER_PSI, CylinderSize
from o2sim.questions.bedside.page import page
from o2sim.questions.bedside.table import FLOWS_ML_MIN, GAUGE_ERROR_KPA, MOST_ROWS, Bedside, bedside_table
from o2sim.questions.bedside.text import CANNOT_SERVE, WIDTH, text_lines

LARGE = Bedside(CylinderSize(water_capacity_l=47), 13_700, gauge_error_kpa=500, leak_ml_min=50)


def call(*args):
    """Run `o2sim cylinder --table` and return click's result."""
    return CliRunner().invoke(cli.main, ["cylinder", "--table", *(str(arg) for arg in args)])


def litres(water_capacity_l, gauge_kpa, temperature_c=15):
    """Return litres at 15 degC and 1 atm above gauge zero, by CoolProp's equation (Schmidt and Wagner 1985)."""
    kelvin = temperature_c + 273.15
    density = [PropsSI("D", "P", (kpa + 101.325) * 1e3, "T", kelvin, "Oxygen") for kpa in (gauge_kpa, 0)]
    return water_capacity_l * (density[0] - density[1]) / PropsSI("D", "P", 101_325, "T", 288.15, "Oxygen")


def test_against_a_handbook():
    """E at 2,000 psi, 4 L/min, down to 200 psi: (2000 - 200) x 0.28 / 4 = 126 min (handbooks, from memory)."""
    use = Bedside(
        CylinderSize(us_factor_l_per_psi=0.28),
        2_200 * KPA_PER_PSI,
        (4_000.0,),
        "psi",
        gauge_error_kpa=0,
        residual_kpa=200 * KPA_PER_PSI,
    )
    table = bedside_table(use)
    assert table.minutes[table.readings.index("2,000")] == (126,)
    assert (table.change_at, table.readings[-1]) == ("200", "400")


def test_times_against_another_equation_of_state():
    """47 L: every time within 0.3 % and a minute of CoolProp's, gauge error taken off, leak included."""
    table = bedside_table(LARGE)
    for reading, row in zip(table.readings, table.minutes, strict=True):
        gas = litres(47, float(reading) * 100 - 500) - litres(47, 800)
        for flow, minutes in zip(FLOWS_ML_MIN, row, strict=True):
            assert minutes == pytest.approx(gas / (flow / 1_000 + 0.05), rel=0.003, abs=1)


def test_looks_against_another_equation_of_state():
    """From 8 to 4 bar a 47 L cylinder gives about 189 L: 37 min at 5 L/min and a leak of 0.05."""
    gas = litres(47, 800) - litres(47, 400)
    looks = bedside_table(LARGE).look_minutes
    assert looks[FLOWS_ML_MIN.index(5_000)] == int(gas / 5.05) == 37
    assert looks == tuple(int(gas / (flow / 1_000 + 0.05)) for flow in FLOWS_ML_MIN)


USES = st.builds(
    Bedside,
    size=st.floats(1, 100).map(lambda litres: CylinderSize(water_capacity_l=litres)),
    filling_kpa=st.floats(5_000, 30_000),
    flows_ml_min=st.lists(st.integers(100, 20_000), min_size=1, max_size=10, unique=True).map(sorted).map(tuple),
    gauge_unit=st.sampled_from(["bar", "kPa", "psi", "MPa"]),
    gauge_error_kpa=st.floats(0, 1_500),
    residual_kpa=st.floats(500, 2_000),
    flow_lost_kpa=st.floats(0, 450),
    leak_ml_min=st.floats(0, 500),
    temperature_c=st.floats(-10, 45),
    room_c=st.none() | st.floats(-10, 45),
    round_s=st.integers(60, 48 * 3_600),
)
KPA = {"bar": 100.0, "kPa": 1.0, "psi": KPA_PER_PSI, "MPa": 1_000.0}


@given(USES)
def test_it_never_promises_too_much(use):
    """A gauge that reads too high by its error, read just above the line, still flows at the next look.

    Followed by the clock: at the time told for a reading the true pressure is not yet below residual, and from the
    change-over reading the flow lasts as long as the look says.
    """
    table = bedside_table(use)
    kpa = KPA[use.gauge_unit]
    outflow_l = [(flow + use.leak_ml_min) / 1_000 for flow in use.flows_ml_min]

    def left(reading, minutes, place):
        true_kpa = float(reading.replace(",", "")) * kpa - use.gauge_error_kpa
        return use.size.content(true_kpa, use.read_c) - minutes * outflow_l[place]

    residual, lost = (use.size.content(each, use.read_c) for each in (use.residual_kpa, use.flow_lost_kpa))
    for reading, row in zip(table.readings, table.minutes, strict=True):
        assert all(left(reading, minutes, place) >= residual - 1e-6 for place, minutes in enumerate(row))
    looks = enumerate(table.look_minutes)
    assert all(left(table.change_at, minutes, place) >= lost - 1e-6 for place, minutes in looks)
    for place, below in enumerate(table.round_below):
        served = below is not None
        assert not served or left(below, use.round_s / 60, place) >= residual - 1e-6
        full = left(table.readings[0], (use.round_s + 1) / 60, place)
        assert served or table.look_minutes[place] < 1 or full < residual


@given(USES)
def test_times_fall_down_and_to_the_right(use):
    """A lower reading or a higher flow never lasts longer; the table has few enough rows and fits the screen."""
    table = bedside_table(use)
    assert all(list(row) == sorted(row, reverse=True) for row in (*table.minutes, table.look_minutes))
    assert all(list(column) == sorted(column, reverse=True) for column in zip(*table.minutes, strict=True))
    assert len(table.readings) <= MOST_ROWS + 1
    assert max(map(len, text_lines(table))) <= WIDTH


@pytest.mark.parametrize(
    ("unit", "readings", "change_at"),
    [
        ("bar", ("137", "130", "120", "20"), "13"),
        ("kPa", ("13,700", "13,000", "12,000", "2,000"), "1,300"),
        ("MPa", ("13.7", "13.0", "12.0", "2.0"), "1.3"),
        ("psi", ("1,980", "1,800", "1,600", "200"), "190"),
    ],
)
def test_readings_are_round_and_the_change_over_is_rounded_up(unit, readings, change_at):
    """8 bar and 5 bar of error are 13 bar or 188.5 psi, told as 190; the fill of 1,987 psi is told as 1,980."""
    use = Bedside(CylinderSize(water_capacity_l=47), 13_700, gauge_unit=unit, gauge_error_kpa=500)
    table = bedside_table(use)
    assert (*table.readings[:3], table.readings[-1]) == readings
    assert table.change_at == change_at


def test_the_reading_of_a_round_against_another_equation_of_state():
    """The lowest whole bar from which 47 L last 4 h at 5 L/min and a leak of 0.05: 1,212 L above residual."""
    use = dataclasses.replace(LARGE, flows_ml_min=(5_000.0,), round_s=4 * 3_600)
    table = bedside_table(use)
    lasting = [bar for bar in range(14, 138) if litres(47, bar * 100 - 500) - litres(47, 800) >= 5.05 * 240]
    assert table.round_below == (str(lasting[0]),)
    assert table.round_minutes == 240


def test_at_a_short_round_the_line_is_enough():
    """116 psi rounded up to a line of 120 leave 3.97 psi x 0.28 L: 2 min at 0.5 L/min, two rounds."""
    size = CylinderSize(us_factor_l_per_psi=0.28)
    use = Bedside(size, 15_000, (500.0,), "psi", gauge_error_kpa=0, round_s=60)
    table = bedside_table(use)
    assert table.round_below == (table.change_at,) == ("120",)


@pytest.mark.parametrize(
    ("water_l", "flow", "residual", "look"),
    [(10, 15_000.0, 800, 2), (47, 30_000.0, 402, 0)],
    ids=["a full one runs out before the next round", "flow lost within a minute of the line"],
)
def test_a_size_that_cannot_serve_a_flow_says_so(water_l, flow, residual, look):
    """In words in that column, on the page and below the text; no time to look at stands there."""
    use = Bedside(CylinderSize(water_capacity_l=water_l), 13_700, (500.0, flow), residual_kpa=residual)
    table = bedside_table(use)
    assert table.look_minutes[1] == look
    assert table.round_below[1] is None
    text = text_lines(table)
    assert [line.split()[-1] for line in text if line.startswith(("at round", "look every"))] == ["NO", "NO"]
    assert f"NO at {flow / 1_000:g} L/min: {CANNOT_SERVE}." in text
    words = page(table, "Oxygen")
    assert words.count(f'<td rowspan="2" class="no">{CANNOT_SERVE}</td>') == 1
    assert "watch" not in words


def test_no_time_of_a_table_is_nothing():
    """A reading that lasts less than a minute says so in a word, on the page and in the text."""
    table = bedside_table(Bedside(CylinderSize(water_capacity_l=1), 13_700, (15_000.0,)))
    assert table.minutes[-1] == (0,)
    assert "<td>now</td>" in page(table, "Oxygen")
    assert "0:00" not in page(table, "Oxygen") + "".join(text_lines(table))


def test_the_error_of_a_gauge_is_taken_off_unasked():
    """2.5 % (class 2.5: EN 837-1, from memory) of 25 MPa is 625 kPa, to the nearest 100 kPa 600: 8 bar read 14."""
    assert round(0.025 * 25_000, -2) == GAUGE_ERROR_KPA
    told = " ".join(call("--water-capacity", "47 L").stdout.split())
    assert (
        "6 bar is taken off each reading for the error of the gauge (about: class 2.5 on 25 MPa allows 6.25 bar, "
        "from memory; yours may be further off)"
    ) in told
    assert "CHANGE THE CYLINDER at 14 bar or less" in told


@pytest.mark.parametrize("room_c", [0, 35])
def test_a_room_against_another_equation_of_state(room_c):
    """6,800 L at 137 bar and 15 degC: what is left at a reading depends on the room in which it is read."""
    use = Bedside(
        CylinderSize(full_content_l=6_800, filling_pressure_kpa=13_700),
        13_700, (10_000.0,), gauge_error_kpa=0, room_c=room_c,
    )  # fmt: skip
    table = bedside_table(use)
    water_l = 6_800 / litres(1, 13_700)
    minutes = (litres(water_l, 10_000, room_c) - litres(water_l, 800, room_c)) / 10
    assert table.minutes[table.readings.index("100")][0] == pytest.approx(minutes, rel=0.003, abs=1)
    assert f"Made for gauges read in a room of {room_c} °C." in table.about[3]


def test_a_gauge_shows_5_percent_more_in_a_room_10_degrees_warmer():
    """As the table says: 137 bar filled at 15 degC read 143.7 bar at 25 degC, by CoolProp."""
    density = PropsSI("D", "P", (13_700 + 101.325) * 1e3, "T", 288.15, "Oxygen")
    warm_kpa = PropsSI("P", "D", density, "T", 298.15, "Oxygen") / 1e3 - 101.325
    assert round(100 * (warm_kpa / 13_700 - 1)) == 5


@pytest.mark.parametrize(
    ("args", "said"),
    [
        (["--water-capacity", "47 L"], "No room temperature was given: made for gauges read at 15 °C. A colder"),
        (["--water-capacity", "47 L", "--temperature", "30 degC"], "made for gauges read at 30 °C. A colder room"),
        (["--water-capacity", "47 L", "--room-temperature", "30 degC"], "read in a room of 30 °C. A colder"),
        (["--us-size", "E", "--room-temperature", "30 degC"], "Litres per psi, as handbooks have them, know no"),
        (["--us-size", "E"], "At your round (every 2 h 00 min, the usual gauge check, common practice) change"),
        (["--us-size", "E", "--round", "4 h"], "At your round (every 4 h 00 min) change a cylinder whose gauge"),
    ],
)  # fmt: skip
def test_room_and_round_are_stated(args, said):
    """Both stand below the table, with where they come from when they were not given."""
    assert said in " ".join(call(*args).stdout.split())


def test_what_is_not_read_off_the_own_cylinders_is_an_example(tmp_path):
    """Without --ours the text, the page (all across), the CSV and the JSON say so; with it none does."""
    args = ["--us-size", "E", "--flow", "1 L/min", "--out", tmp_path / "e.html", "--out", tmp_path / "e.csv"]
    mark = "EXAMPLE - DO NOT HANG UP"
    text = call(*args).stdout.splitlines()
    assert text[0].startswith(mark)
    assert text[-1] == mark
    seen = Seen((tmp_path / "e.html").read_text(encoding="utf-8"))
    assert seen.words.count(mark) == 7
    with (tmp_path / "e.csv").open(encoding="utf-8", newline="") as file:
        assert {row["figures"] for row in csv.DictReader(file)} == {mark}
    assert json.loads(call("--us-size", "E", "--json").stdout)["figures"] == "example"
    own = call(*args, "--ours", "--force").stdout
    written = own + "".join((tmp_path / name).read_text(encoding="utf-8") for name in ("e.html", "e.csv"))
    assert "EXAMPLE" not in written
    assert json.loads(call("--us-size", "E", "--json", "--ours").stdout)["figures"] == "ours"


def test_text_has_what_a_bedside_needs():
    """Size, filling, what it is void for, the line with its reason, and the error of the gauge."""
    text = " ".join(
        call("--water-capacity", "47 L", "--gauge-error", "5 bar", "--leak", "0.1 L/min").stdout.split()
    )
    for part in (
        "Water capacity 47 L, filled to 137 bar: about 6,820 L when full",
        "Void for cylinders of any other size or filling pressure.",
        "rounded down; 5 bar is taken off each reading for the error of the gauge; a leak of 0.1 L/min is",
        "A reading between two rows counts as the lower, a flow between two columns as the higher.",
        "CHANGE THE CYLINDER at 13 bar or less (residual pressure 8 bar and 5 bar for the error of the gauge;",
        "look every",
    ):
        assert part in text


class Seen(HTMLParser):
    """What a page holds: its tags with their attributes, and its text."""

    def __init__(self, text):
        super().__init__()
        self.tags, self.words = [], []
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        """Note a tag."""
        self.tags.append((tag, dict(attrs)))

    def handle_data(self, data):
        """Note a text."""
        self.words.append(data)


def test_the_page_loads_nothing_and_escapes_everything():
    """No tag points anywhere, the browser is told to load nothing, and a title full of HTML shows as it is."""
    title = "</title><script>alert(1)</script> \"Ward\" & <img src=x onerror='x'>"
    text = page(bedside_table(LARGE), title)
    seen = Seen(text)
    assert {tag for tag, _ in seen.tags}.isdisjoint({"script", "img", "link", "iframe", "a", "base", "object"})
    assert not [attrs for _, attrs in seen.tags if {"src", "href", "style", "onerror"} & set(attrs)]
    assert "url(" not in text
    assert "@import" not in text
    policy = next(attrs["content"] for tag, attrs in seen.tags if "http-equiv" in attrs)
    assert policy.startswith("default-src 'none';")
    assert title in "".join(seen.words)


def test_the_page_holds_the_table():
    """Every time, the line, the lines to sign and the cautions stand on the page, sized for A4."""
    table = bedside_table(LARGE)
    words = Seen(text := page(table, "Oxygen")).words
    looks = [each for each, below in zip(table.look_minutes, table.round_below, strict=True) if below]
    told = [f"{minutes // 60}:{minutes % 60:02d}" for row in (*table.minutes, looks) for minutes in row]
    assert [word for word in words if re.fullmatch(r"\d+:\d\d", word)] == told
    assert "CHANGE THE CYLINDER at 13 bar or less" in words
    for part in ("Checked by:", "Date:", "No smoking, flame or spark near oxygen.", "size: A4 portrait"):
        assert part in text


def test_files_are_written_and_not_overwritten(tmp_path):
    """--out writes a page and a CSV of minutes; a file that is there is kept without --force."""
    args = ["--us-size", "E", "--gauge-unit", "psi", "--flow", "2 L/min", "--flow", "1 L/min", "--flow", "9 L/min"]
    args += ["--gauge-error", "0 kPa"]
    outs = ["--out", tmp_path / "e.html", "--out", tmp_path / "e.csv"]
    assert call(*args, *outs).exit_code == 0
    with (tmp_path / "e.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert [row["row"] for row in rows[-3:]] == [
        "change at or below", "every 2 h 00 min, the usual gauge check, common practice: change below this psi",
        "look at least every",
    ]  # fmt: skip
    assert [row["minutes at 9 L/min"] for row in rows[-2:]] == [CANNOT_SERVE] * 2
    assert rows[-2]["minutes at 1 L/min"] == "550"  # 116.03 psi and 120 min x 1 L/min / 0.28 L per psi: 544.6
    assert rows[0]["gauge_psi"] == "2200"
    assert int(rows[0]["minutes at 1 L/min"]) == 2 * int(rows[0]["minutes at 2 L/min"]) + 1  # 583.5 and 291.7
    assert rows[0]["cylinder"].startswith("US size E, filled to 2,200 psi")
    again = call(*args, *outs)
    assert (again.exit_code, again.stdout) == (1, "")
    assert call(*args, *outs, "--force").exit_code == 0


def test_as_json():
    """With --json the table is one object, its times in whole minutes."""
    args = ["--content", "6800 L", "--filling-pressure", "13.7 MPa", "--flow", "1 L/min"]
    told = json.loads(call(*args, "--json").stdout)
    assert (told["flows"], told["change_at"]) == (["1 L/min"], "14")
    assert (told["round_minutes"], told["round_below"]) == (120, ["17"])  # 120 L of about 50 L a bar
    assert told["about"][0].startswith("Content 6,800 L at 13,700 kPa, filled to 137 bar: about 6,800 L when full")


@pytest.mark.parametrize(
    ("args", "said"),
    [
        (["100 bar", "--us-size", "E"], "leave out GAUGE, or --table"),
        (["--us-size", "E", "--out", "e.pdf"], "ends in .html or .csv"),
        (["--us-size", "E", "--flow", "0 L/min"], "found a flow of 0 L/min; allowed: more than 0"),
        (["--us-size", "E", "--residual", "400 kPa"], "or no look would come in time"),
        (["--us-size", "E", "--round", "30 s"], "found a round every 30 s; allowed: one a minute, or less often"),
        (
            ["--us-size", "E", "--filling-pressure", "13 bar", "--gauge-error", "5 bar"],
            "above the change-over point",
        ),
        (["--us-size", "E", *(f"--flow={n} L/min" for n in range(1, 12))], "found 11 flows"),
        ([], "found 0 sizes"),
    ],
    ids=["reading", "suffix", "no flow", "no reserve", "round", "not filled", "too many", "no size"],
)
def test_what_makes_no_table_is_refused(args, said):
    """Impossible sizes, flows and pressures are usage errors that say what is allowed."""
    shown = call(*args)
    assert shown.exit_code == 2
    assert said in " ".join(shown.stderr.split())


@pytest.mark.parametrize(
    ("args", "said"),
    [
        (["--us-size", "E", "--flow", "1 L/min"], "give a GAUGE reading, or --table"),
        (["100 bar", "--us-size", "E"], "give one --flow"),
        (["100 bar", "--us-size", "E", "--flow", "1 L/min", "--out", "x.csv"], "go with --table"),
        (["100 bar", "--us-size", "E", "--flow", "1 L/min", "--ours"], "go with --table"),
        (["100 bar", "--us-size", "E", "--flow", "1 L/min", "--round", "4 h"], "go with --table"),
        (["100 bar", "--us-size", "E", "--flow", "1 L/min", "--room-temperature", "0 degC"], "go with --table"),
    ],
    ids=["no reading", "no flow", "out", "ours", "round", "room"],
)
def test_one_reading_needs_its_own_options(args, said):
    """Without --table a reading and one flow are needed, and what belongs to tables is refused."""
    shown = CliRunner().invoke(cli.main, ["cylinder", *args])
    assert shown.exit_code == 2
    assert said in " ".join(shown.stderr.split())


def test_a_table_of_no_flows_cannot_be_asked_for():
    """From Python too a table needs a flow."""
    with pytest.raises(QuantityError, match="found 0 flows"):
        bedside_table(Bedside(CylinderSize(water_capacity_l=47), 13_700, ()))
