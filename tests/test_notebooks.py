"""The notebooks run from top to bottom, without a warning, and say nothing that a cell has not found."""

import json
import re
from pathlib import Path

import pytest

import o2sim

nbformat = pytest.importorskip("nbformat")
pytest.importorskip("ipykernel")
nbclient = pytest.importorskip("nbclient")

BOOKS = sorted((Path(__file__).parents[1] / "notebooks").glob("*.ipynb"))
NAMES = [book.stem for book in BOOKS]


def run(book):
    """Return the notebook after a run in a kernel of its own, in a folder of its own."""
    notebook = nbformat.read(book, as_version=4)
    nbclient.NotebookClient(notebook, timeout=300, kernel_name="python3").execute()
    return notebook


@pytest.fixture(scope="module", params=BOOKS, ids=NAMES)
def done(request):
    """Each notebook after a run."""
    return run(request.param)


def outputs(notebook):
    """Return what all cells put out, one after the other."""
    return [output for cell in notebook.cells if cell.cell_type == "code" for output in cell.outputs]


def test_there_are_six():
    """The wet season, concentrators, the battery, records, replications, this morning."""
    assert NAMES == [
        "a_bigger_battery",
        "are_concentrators_worth_it",
        "buffer_before_the_wet_season",
        "from_records_to_a_decision",
        "how_many_replications",
        "will_it_last_until_the_lorry",
    ]


def test_a_notebook_runs_without_a_warning_and_tells_where_its_figures_come_from(done):
    """No error and nothing on stderr; the last cell prints version, scenario, seed and replications."""
    told = outputs(done)
    assert [each for each in told if each.output_type == "error" or each.get("name") == "stderr"] == []
    last = done.cells[-1].outputs[0].text
    assert re.fullmatch(
        rf"o2sim {re.escape(o2sim.__version__)} \| scenario [0-9a-f]{{16}} \| seed 1 \| [\d,]+ replications\n",
        last,
    )


def test_its_conclusion_is_made_of_what_its_cells_found(done):
    """The text under "What we found" comes out of the cell there, and holds figures."""
    (place,) = [n for n, cell in enumerate(done.cells) if cell.source.strip() == "## What we found"]
    (output,) = done.cells[place + 1].outputs
    assert len(re.findall(r"\d", output.data["text/markdown"])) > 10
    assert "\nassert " in done.cells[place + 1].source  # what its words take for granted is looked at


def test_its_drawings_have_units_and_are_told_in_words_where_they_are_ours(done):
    """At least one drawing; those of o2sim carry their title and description."""
    shown = [output.data for output in outputs(done) if "data" in output]
    own = [data["text/html"] for data in shown if "<figure" in data.get("text/html", "")]
    assert own or any("image/png" in data for data in shown)
    assert all(re.search(r"<desc [^>]*>[^<]{40,}</desc>", drawing) for drawing in own)
    assert all("<script" not in data.get("text/html", "") for data in shown)


@pytest.mark.parametrize("book", BOOKS, ids=NAMES)
def test_a_notebook_is_stored_as_it_was_before_any_run(book):
    """No outputs, no counts, no path and no metadata but the usual; its prose states no figures."""
    raw = book.read_text(encoding="utf-8")
    stored = json.loads(raw)
    nbformat.validate(nbformat.from_dict(stored))
    assert len(raw) < 20_000
    assert stored["metadata"] == {
        "kernelspec": {"display_name": "Python 3 (ipykernel)", "language": "python", "name": "python3"},
        "language_info": {"name": "python"},
    }
    code = [cell for cell in stored["cells"] if cell["cell_type"] == "code"]
    assert all((cell["outputs"], cell["execution_count"], cell["metadata"]) == ([], None, {}) for cell in code)
    assert re.findall(r"(?:/home|/tmp|/root|/work|[A-Z]:\\)\S*", raw) == []
    prose = ["".join(cell["source"]) for cell in stored["cells"] if cell["cell_type"] == "markdown"]
    assert [text for text in prose if re.search(r"\d", text)] == []
    assert any(
        text.startswith("## Before anybody acts on this") and "prescribes nothing" in text for text in prose
    )
