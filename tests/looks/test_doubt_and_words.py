"""What every screen, file and drawing says of its intervals, and words that none of them may use."""

import inspect
import json
import re
import zipfile
from html import unescape
from pathlib import Path
from types import SimpleNamespace

import pytest
from click.testing import CliRunner
from matplotlib.text import Text
from small_ward import WARD

import o2sim
from o2sim.cli import main
from o2sim.looks import words
from o2sim.looks.cautions import long_text
from o2sim.looks.doubt import CHANCE_ONLY, SAID
from o2sim.questions.documents import model_text
from o2sim.questions.drivers.drivers import HOLDS
from o2sim.questions.drivers.settings import METHODS
from o2sim.questions.drivers.text import held
from o2sim.statistics import doubt

ROOT = Path(__file__).parents[2]
STAYS, WATTS = "{low: 30 h, likely: 40 h, high: 60 h}", "{low: 300 W, likely: 350 W, high: 420 W}"
WARDS = WARD.replace("mean: 40 h", f"mean: {STAYS}").replace("power: 350 W", f"power: {WATTS}")
SIZE = ("size", "--strategy", "mixed", "--target", "60 %", "--vary", "cylinders.fleet = 30, 34")
ASKED = {  # command with what it is asked, and the doubt that its intervals hold
    "run": (("run", "--strategy", "mixed", "--replications", "4"), doubt.CHANCE),
    "compare": (("compare", "--replications", "4"), doubt.CHANCE),
    "compare --options": (("compare", "--options", "--replications", "4"), doubt.CHANCE),
    "study": (("study", "--replications", "4"), doubt.CHANCE),
    "size": ((*SIZE, "--replications", "20"), doubt.CHANCE),
    "whatif": (("whatif", "--vary", "concentrators.count = 1, 2", "--replications", "4"), doubt.CHANCE),
    "drivers": (("drivers", "--replications", "4"), doubt.CHANCE),
    "drivers nested": (
        ("drivers", "--method", "nested", "--samples", "4", "--replications", "4"),
        doubt.CHANCE_AND_INPUTS,
    ),
    "drivers morris": (
        ("drivers", "--method", "morris", "--samples", "3", "--replications", "4"),
        doubt.POINTS,
    ),
}
REFUSED = re.compile(
    r"certif|\bat little harm|does \w+ good|\bworth more than|\bdeserve|needs it (the )?most|save[sd]? lives", re.I
)


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """Return a folder that holds the ward alone, as ward.yaml."""
    place = tmp_path_factory.mktemp("doubt")
    (place / "ward.yaml").write_text(WARDS, encoding="utf-8")
    return place


def called(folder, command, *more):
    """Return what a command prints, its lines joined."""
    name, *arguments = command
    where = folder if name == "study" else folder / "ward.yaml"
    done = CliRunner().invoke(main, [name, str(where), *arguments, *map(str, more)])
    assert done.exit_code == 0, done.output
    return " ".join(done.stdout.split())


def texts(value):
    """Yield every text that JSON holds as a value."""
    if isinstance(value, str):
        yield value
    for item in value.values() if isinstance(value, dict) else value if isinstance(value, list) else ():
        yield from texts(item)


@pytest.mark.parametrize("name", ASKED)
def test_every_screen_says_what_its_intervals_hold(folder, name):
    """The words stand there as they are written once, and the screen has no word that claims too much."""
    command, holds = ASKED[name]
    said = called(folder, command)
    assert SAID[holds] in said
    assert REFUSED.findall(said) == []


@pytest.mark.parametrize("name", ASKED)
def test_every_result_says_what_its_intervals_hold(folder, name):
    """`--json` has it at its top level, and no text of it claims too much."""
    command, holds = ASKED[name]
    result = json.loads(called(folder, command, "--json"))
    assert result["interval_holds"] == holds
    assert [text for text in texts(result) if REFUSED.search(text)] == []


def test_only_nested_draws_hold_chance_and_inputs_together():
    """One at a time it is chance; Morris and Sobol hold which points were drawn, since points share their luck."""
    expected = (doubt.CHANCE, doubt.CHANCE_AND_INPUTS, doubt.POINTS, doubt.POINTS)
    assert [HOLDS[method] for method in METHODS] == list(expected)
    said = [
        held(SimpleNamespace(method=method, confidence=0.95, interval_holds=holds))
        for method, holds in zip(METHODS, expected, strict=True)
    ]
    assert said[0] == f"The 95 % intervals hold {CHANCE_ONLY}."
    assert said[1] == f"The 95 % intervals hold {SAID[expected[1]]}; that of the best guess {CHANCE_ONLY}."
    assert said[2] == said[3] == f"The 95 % intervals hold {SAID[doubt.POINTS]}."


def test_the_report_says_it_beside_tables_drawings_and_cells(folder):
    """Page, Markdown and workbook carry the words, near the table to decide by and in the sheets with bounds."""
    asked = ("report", "--replications", "4", "--options", "--force", "-o")
    for kind in ("html", "md"):
        called(folder, asked, folder / f"report.{kind}")
        page = unescape((folder / f"report.{kind}").read_text(encoding="utf-8").replace("\\", ""))
        assert f"In brackets the 95 % confidence interval: {CHANCE_ONLY}." in page
        assert REFUSED.findall(page) == []
    page = unescape((folder / "report.html").read_text(encoding="utf-8"))
    for caption in ("bars 95 % confidence intervals", "the line is the 95 % interval", "Bars are 95 % intervals"):
        assert f"{caption}: {CHANCE_ONLY}." in page
    assert page.count(f"the line is the 95 % interval: {CHANCE_ONLY}.") == 2  # hours, money
    called(folder, asked, folder / "report.xlsx")
    with zipfile.ZipFile(folder / "report.xlsx") as book:
        sheets = [book.read(name).decode() for name in book.namelist() if "worksheets/" in name]
    heads = [sheet.split("</row>")[0] for sheet in sheets]
    bounded = [head for head in heads if re.search(r"[ >_]low<", head)]
    assert len(bounded) == 5  # strategies, causes, all measures, no staff could prevent, options
    assert [head for head in bounded if CHANCE_ONLY not in head] == []
    assert REFUSED.findall("".join(sheets)) == []


def test_printed_sheets_say_it_where_they_state_a_confidence(folder):
    """The reorder card, the only sheet with a confidence, says what it holds; none claims too much."""
    called(folder, (*SIZE, "--replications", "20"), "--sheets", folder / "sheets")
    pages = {page.name: unescape(page.read_text(encoding="utf-8")) for page in (folder / "sheets").iterdir()}
    assert [name for name, page in pages.items() if "confidence" in page] == ["reorder-card.html"]
    assert f"This confidence holds {CHANCE_ONLY}." in pages["reorder-card.html"]
    assert REFUSED.findall(" ".join(pages.values())) == []


@pytest.mark.parametrize(
    "command",
    [("check",), ("equipment", "--replications", "2"), ("describe",), ("trace", "--strategy", "mixed", "--worst")],
    ids=lambda command: command[0],
)
def test_screens_without_intervals_claim_nothing_either(folder, command):
    """No word of the list on the screens that state no interval."""
    assert REFUSED.findall(called(folder, command)) == []


@pytest.mark.parametrize("name", ["", *sorted(main.commands)])
def test_help_and_starter_claim_nothing(name):
    """No word of the list in the help of o2sim and of each command."""
    asked = [name, "--help"] if name else ["--help"]
    assert REFUSED.findall(CliRunner().invoke(main, asked).stdout) == []


def test_texts_that_are_shipped_claim_nothing():
    """Notebooks, scenarios, README and notes, schemas, rules and cautions have no word of the list."""
    files = [ROOT / "README.md", ROOT / "DEVELOPERS.md", *(ROOT / "notebooks").glob("*.ipynb")]
    files += [
        *(ROOT / "scenarios").glob("*.yaml"),
        *(ROOT / "o2sim").rglob("*.py"),
        *(ROOT / "o2sim").rglob("*.md"),
    ]
    said = {
        str(file.relative_to(ROOT)): " ".join(file.read_text(encoding="utf-8").replace("\n# ", " ").split())
        for file in files
    }
    said["cautions"] = long_text()
    said["schemas"] = CliRunner().invoke(main, ["schema", "--results"]).stdout
    said["rules"] = inspect.getsource(model_text)
    assert {name: REFUSED.findall(text) for name, text in said.items() if REFUSED.search(text)} == {}


def written(figure):
    """Return all that is written on a drawing, its lines joined."""
    return " ".join(" ".join(text.get_text() for text in figure.findobj(Text)).split())


def test_drawings_and_what_a_notebook_shows_say_it_too():
    """Curve, lines, settling and draws carry the words on the drawing itself, and below it in a notebook."""
    ward = o2sim.loads(WARDS)
    study = o2sim.run_study(ward, replications=4)
    found = [
        o2sim.size(ward, "mixed", target="60 %", vary="cylinders.fleet = 30, 34", replications=20),
        o2sim.whatif(ward, "concentrators.count = 1, 2", replications=4),
        o2sim.drivers(ward, method="nested", samples=4, replications=4),
    ]
    drawn = [study.chart("convergence"), *(each.chart() for each in found)]
    assert [picture.name for picture in drawn if CHANCE_ONLY not in written(picture.figure)] == []
    assert [picture.name for picture in drawn if CHANCE_ONLY not in picture.note] == []
    shown = [study, o2sim.compare(study), *found]
    assert [type(each).__name__ for each in shown if CHANCE_ONLY not in unescape(each._repr_html_())] == []


def test_tiny_figures_are_written_as_people_write_them():
    """A second is no 0.000278 h, and an end 14,000 times smaller than the other has one digit."""
    assert words.spread({"mean": 0.0000556, "low": 0.0, "high": 0.0123}) == "under 0.001 (0–0.0123)"
    assert words.amount(0.001) == "0.001"
    item = {"measure": "stock_out_probability", "mean": -0.5, "low": -0.812, "high": -0.0000556}
    assert words.difference(item).endswith("50 percentage points lower (0.006 to 81.2)")
    assert words.end_beside(-0.0813, 81.2) == "0.0813"
