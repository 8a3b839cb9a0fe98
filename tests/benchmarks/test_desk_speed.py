"""The desk as a user starts it: seconds to the first page and to an answer, memory of its two processes."""

import time

import pytest
from desk_process import megabytes, started
from table import show

pytestmark = pytest.mark.benchmark


def test_first_page_and_memory(capsys, tmp_path):
    """An empty folder, compiled before; nothing known; an answer with its range over what is not known."""
    (tmp_path / "hospitals").mkdir()
    began = time.perf_counter()
    with started(tmp_path / "hospitals", tmp_path / "state") as desk:
        first_s = time.perf_counter() - began
        asked = time.perf_counter()
        desk.post("hospital/1", "do=work")
        desk.wait_for_answer()
        answer_s = time.perf_counter() - asked
        server, child = megabytes(desk.process.pid), megabytes(desk.engine)
        page = len(desk.get("answer").encode()) / 1000
        desk.post("close")
        assert desk.process.wait(10) == 0
    rows = [
        ("first page after `o2sim desk`", f"{first_s:.1f} s", "2 s"),
        ("answer with nothing known, 200 years, 12 ranges", f"{answer_s:.0f} s", "10 s"),
        ("memory of the server", f"{server:.0f} MB", "60 MB"),
        ("memory of the engine", f"{child:.0f} MB", "300 MB"),
        ("page of the answer", f"{page:.0f} kB", "60 kB"),
    ]
    show(capsys, "desk", ("the desk", "measured", "wanted"), rows)
    assert min(first_s, answer_s, server, child, page) > 0
