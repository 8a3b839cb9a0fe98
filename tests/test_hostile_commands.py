"""What cannot be done is refused before the work: where, what was found, what is allowed; nothing is left."""

from __future__ import annotations

import pytest
from click.testing import CliRunner
from scenario_texts import SMALL
from synthetic import small_study

from o2sim.cli import main
from o2sim.errors import OutputError
from o2sim.looks.drawing import save
from o2sim.looks.files import write_bytes
from o2sim.questions.compare import charts

FLEET = "cylinders.fleet = 60, 70"
SIZE = ("size", "here.yaml", "--strategy", "cylinders only")
IF = ("whatif", "here.yaml", "--vary", FLEET)

REFUSED = [
    ((*SIZE, "--vary", "cylinders.flet"), 1,
     "vary cylinders.flet: found no such key; allowed: a key of the scenario that is a number (did you mean "
     "cylinders.fleet?)"),
    ((*SIZE, "--vary", "zzz"), 2, "here.yaml: zzz: the key 'zzz' is unknown; allowed: name, about,"),
    ((*SIZE, "--chart", "none/x.png"), 1, "none/x.png: found no folder none; make it first"),
    ((*SIZE, "--csv", "folder"), 1, "folder: found a folder; allowed: the name of a file, such as folder/out"),
    ((*SIZE, "--csv", "folder", "--force"), 1, "folder: found a folder"),
    ((*SIZE, "--sheets", "here.yaml"), 2, "--sheets here.yaml: that is a file; name a folder"),
    ((*IF, "--budget", "nan"), 2, "found nan; allowed: an amount of money a year, such as 20000"),
    ((*IF, "--budget", "inf"), 2, "found inf; allowed: an amount of money a year"),
    ((*IF, "--lines", "none/x.svg"), 1, "none/x.svg: found no folder none"),
    ((*IF, "--table", "folder/none/x.csv"), 1, "found no folder folder/none"),
    (("compare", "here.yaml", "--target", "0 %"), 2, "--target: a chance lies between 0 % and 100 %"),
    (("report", "here.yaml", "-o", "x.html", "--target", "0 %"), 2, "--target: a chance lies between"),
    (("report", "here.yaml", "-o", "none/x.html"), 2, "there is no folder none; make it first"),
    (("compare", "here.yaml", "--out", "here.yaml"), 1, "here.yaml: found a file; allowed: the name of a folder"),
    (("equipment", "here.yaml", "--csv", "none/x.csv"), 1, "none/x.csv: found no folder none"),
    (("describe", "here.yaml", "-o", "folder", "--force"), 1, "folder: found a folder"),
    (("study", "none"), 2, "none: found no such file or folder; allowed: a folder of scenarios, or a CSV file"),
    (("fit", "none.xlsx", "-o", "x.yaml"), 2, "none.xlsx: found no such file; allowed: a workbook"),
    (("fit", "here.yaml", "-o", "x.yaml"), 2, "here.yaml"),
    (("fit", "folder", "-o", "x.yaml"), 2, "found no sheet of the template"),
    (("fit", "none.xlsx", "-o", "none/x.yaml"), 1, "none/x.yaml: found no folder none; make it first"),
    (("fit", "none.xlsx", "-o", "here.yaml"), 1, "here.yaml: is there already"),
    (("fit", "none.xlsx", "-o", "folder", "--force"), 2, "write a name that ends in .yaml or .yml"),
    (("fit", "none.xlsx", "-o", "x.yaml", "--base", "none.yaml"), 2, "none.yaml: found no such file"),
    (("hindcast", "here.yaml", "none.xlsx"), 2, "none.xlsx: found no such file"),
    (("hindcast", "none.yaml", "none.xlsx"), 2, "none.yaml: found no such file"),
    (("hindcast", "here.yaml", "folder"), 2, "found no sheet of the template"),
    (("hindcast", "here.yaml", "here.yaml"), 2, "here.yaml"),
    (("hindcast", "here.yaml", "none.xlsx", "--replications", "5"), 2, "--replications"),
    (("cylinder", "200 bar"), 2, 'give one --flow, such as --flow "2 L/min"'),
]  # fmt: skip


@pytest.mark.parametrize(("arguments", "code", "words"), REFUSED, ids=lambda value: " ".join(map(str, value))[:60]
                         if isinstance(value, tuple) else "")  # fmt: skip
def test_what_cannot_be_done_is_told_and_leaves_nothing(tmp_path, monkeypatch, arguments, code, words):
    """One message with its exit code on stderr, nothing on stdout, and no file that was not there before."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "here.yaml").write_text(SMALL, encoding="utf-8")
    (tmp_path / "folder").mkdir()
    done = CliRunner().invoke(main, list(arguments))
    said = " ".join(done.stderr.split())
    assert (done.exit_code, done.stdout, "Traceback" in said) == (code, "", False)
    assert words in said
    assert sorted(path.name for path in tmp_path.rglob("*")) == ["folder", "here.yaml"]


def test_a_strategy_with_commas_in_its_name_is_quoted(tmp_path):
    """Quotes show where a name begins and ends; of very many only the first are named."""
    more = ", ".join(f'"one, or {k}": {{sources: [cylinder]}}' for k in range(12))
    file = tmp_path / "here.yaml"
    file.write_text(SMALL.replace("cylinders only:", f"{more}, cylinders only:"), encoding="utf-8")
    done = CliRunner().invoke(main, ["run", str(file), "--strategy", "two"])
    assert "'one, or 0', 'one, or 1'" in done.stderr
    assert " more." in done.stderr


def test_a_file_that_cannot_be_written_is_named(tmp_path):
    """Both kinds of writers say which file, and leave no half of it."""
    figure = charts.stock_chart(small_study(), "mixed")
    for write in (lambda path: save(figure, path), lambda path: write_bytes(path, b"x")):
        with pytest.raises(OutputError, match=r"none.x\.png: cannot be written \(No such file"):
            write(tmp_path / "none" / "x.png")
    assert list(tmp_path.iterdir()) == []
