"""The memory of the desk's two processes, for a laptop of 4 GB that runs a browser too."""

from pathlib import Path

import pytest
from desk_process import megabytes, started
from small_ward import WARD

MOST_MB = {"server": 60, "engine": 300}  # measured: 50 and 265


@pytest.mark.skipif(not Path("/proc/self/status").exists(), reason="no /proc")
def test_server_and_engine_take_little_memory(tmp_path):
    """After questions, an answer of 200 replications and its pages both hold less than is allowed."""
    (tmp_path / "hospitals").mkdir()
    file = tmp_path / "hospitals" / "ward.yaml"
    file.write_text(WARD)
    with started(file, tmp_path / "state") as desk:
        for page in ("", "hospital/1", "hospital/2", "hospital/3", "hospital/4", "hospital/prices"):
            desk.get(page)
        desk.post("begin/answer")
        desk.wait_for_answer()
        desk.post("today", "today_full=4&today_empty=5")
        desk.wait_for_answer()
        for page in (
            "today",
            "today/sheet",
            "answer",
            "answer/matters",
            "answer/buy",
            "answer/power",
            "answer/keep",
            "sheets",
            "earlier",
        ):
            desk.get(page)
        held = {"server": megabytes(desk.process.pid), "engine": megabytes(desk.engine)}
    assert {name: mb for name, mb in held.items() if not 10 < mb < MOST_MB[name]} == {}
