"""The desk as a user starts it: seconds to the first page and to an answer, memory of its two processes."""

import os
import re
import subprocess
import sys
import time
import urllib.request
from http.cookiejar import CookieJar
from pathlib import Path

import pytest
from table import show

pytestmark = pytest.mark.benchmark
LEAST_S = 0.02


def _megabytes(pid):
    """Return the memory that a process holds, in MB."""
    status = Path(f"/proc/{pid}/status").read_text(encoding="utf-8")
    return int(re.search(r"VmRSS:\s+(\d+)", status)[1]) / 1024


def _children(pid):
    return [int(each) for each in Path(f"/proc/{pid}/task/{pid}/children").read_text().split()]


class _Browser:
    """Asks for pages and sends forms, with the pass that the start link gives."""

    def __init__(self, link):
        self.ask = urllib.request.build_opener(urllib.request.HTTPCookieProcessor(CookieJar()))
        self.host = link.split("/open/")[0]
        opened = self.ask.open(link).read().decode()
        self.base = self.host + re.search(r"url=(/\w+)/", opened)[1]
        self.key = re.search(r'name="form_key" value="(\w+)"', self.get(""))[1]

    def get(self, path):
        """Return a page."""
        return self.ask.open(f"{self.base}/{path}").read().decode()

    def post(self, path, fields=""):
        """Send a form."""
        body = f"form_key={self.key}&{fields}".encode()
        self.ask.open(urllib.request.Request(f"{self.base}/{path}", body, {"Origin": self.host})).read()


def test_first_page_and_memory(capsys, tmp_path):
    """An empty folder, compiled before; nothing known; an answer with its range over what is not known."""
    (tmp_path / "hospitals").mkdir()
    began = time.perf_counter()
    command = [sys.executable, "-m", "o2sim", "desk", str(tmp_path / "hospitals"), "--no-window"]
    environment = {**os.environ, "XDG_STATE_HOME": str(tmp_path / "state"), "PYTHONUNBUFFERED": "1"}
    desk = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True, env=environment)
    try:
        link = re.search(r"http://\S+", desk.stdout.readline())[0]
        browser = _Browser(link)
        first_s = time.perf_counter() - began
        asked = time.perf_counter()
        browser.post("hospital/1", "do=work")
        while "of 12 figures are yours" not in browser.get("answer") or 'data-state="' in browser.get("run"):
            time.sleep(LEAST_S)
        answer_s = time.perf_counter() - asked
        server = _megabytes(desk.pid)
        child = max(map(_megabytes, _children(desk.pid)))
        page = len(browser.get("answer").encode()) / 1000
        browser.post("close")
        assert desk.wait(10) == 0
    finally:
        desk.kill()
        desk.stdout.close()
    rows = [
        ("first page after `o2sim desk`", f"{first_s:.1f} s", "2 s"),
        ("answer with nothing known, 200 years, 12 ranges", f"{answer_s:.0f} s", "10 s"),
        ("memory of the server", f"{server:.0f} MB", "60 MB"),
        ("memory of the engine", f"{child:.0f} MB", "300 MB"),
        ("page of the answer", f"{page:.0f} kB", "60 kB"),
    ]
    show(capsys, "desk", ("the desk", "measured", "wanted"), rows)
    assert min(first_s, answer_s, server, child, page) > 0
