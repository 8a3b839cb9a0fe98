"""The same file, seed and replications: desk, `o2sim compare` and `o2sim report` give the same figures."""

import html
import json
import re

import pytest
from click.testing import CliRunner
from small_ward import WARD

from o2sim.cli import main
from o2sim.desk import work
from o2sim.questions.compare import brief
from o2sim.scenario import loads

FEW = 20
SAME = ["--replications", str(FEW), "--seed", str(work.SEED)]


@pytest.fixture(scope="module")
def found(tmp_path_factory):
    """Return of one file the answer and the report of the desk, what compare prints, what report writes."""
    folder = tmp_path_factory.mktemp("same")
    path = folder / "ward.yaml"
    path.write_text(WARD)
    given = {"path": str(path), "store": str(folder / "runs.sqlite"), "replications": FEW}
    answer, report = (work.do(name, given, lambda *_: None) for name in ("answer", "report"))
    said = CliRunner().invoke(main, ["compare", str(path), *SAME, "--json"])
    saved = folder / "report.html"
    done = CliRunner().invoke(main, ["report", str(path), *SAME, "-o", str(saved)])
    assert (said.exit_code, done.exit_code) == (0, 0), said.output + done.output
    return answer, report["page"], json.loads(said.stdout), saved.read_text(encoding="utf-8")


def test_the_report_of_the_desk_is_that_of_the_command(found):
    """Saved at the desk it is the same page, byte for byte."""
    _, of_desk, _, of_command = found
    assert of_desk == of_command


def test_desk_compare_and_report_say_the_same(found):
    """The desk's table is made of what compare prints; its chances, hours and costs stand in the report too."""
    answer, _, said, page = found
    rows = answer["table"][0]["rows"]
    tolerated_s = next(iter(loads(WARD).hospitals.values())).tolerated_gap_s
    assert rows == brief.to_decide_by(said, tolerated_s, "USD").rows
    words = " ".join(html.unescape(re.sub(r"<[^>]+>", " ", page)).split())
    chances = [each["stock_out_probability"] for each in said["strategies"].values()]
    ends = [[f"{100 * each[end]:.3g}" for end in ("estimate", "low", "high")] for each in chances]
    wanted = [f"{seen} % ({low}–{high})" for seen, low, high in ends]
    wanted += [cell for row in rows for cell in row[2:]]
    assert [each for each in wanted if each not in words] == []
