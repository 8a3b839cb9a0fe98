"""A desk as a user starts it, by its command in a process of its own, and a browser that is only addresses."""

import os
import re
import subprocess
import sys
import time
import urllib.request
from contextlib import contextmanager
from dataclasses import dataclass
from http.cookiejar import CookieJar
from pathlib import Path

LOOKED_EACH_S = 0.2


@dataclass
class Started:
    """The process of a desk, and who asks it for pages and sends it forms with the pass of its start link."""

    process: subprocess.Popen
    host: str
    base: str
    ask: object
    key: str

    def get(self, path=""):
        """Return a page."""
        return self.ask.open(f"{self.base}/{path}").read().decode()

    def post(self, path, fields=""):
        """Send a form."""
        body = f"form_key={self.key}&{fields}".encode()
        self.ask.open(urllib.request.Request(f"{self.base}/{path}", body, {"Origin": self.host})).read()

    def wait_for_answer(self, most_s=300.0):
        """Wait until the answer stands there and no work in front of it goes on."""
        end = time.monotonic() + most_s
        while "of 12 figures are yours" not in self.get("answer") or 'data-state="' in self.get("run"):
            assert time.monotonic() < end
            time.sleep(LOOKED_EACH_S)

    @property
    def engine(self):
        """Return the number of the process of its engine: the largest that it started."""
        children = Path(f"/proc/{self.process.pid}/task").glob("*/children")
        return max((int(pid) for each in children for pid in each.read_text().split()), key=megabytes)


@contextmanager
def launched(place, state):
    """Start the desk for a folder or file; give its process and start link, and kill it at the end.

    state: where its door is kept. Python starts without what other packages put into its start here, which would
    be counted as the desk's.
    """
    paths = os.pathsep.join(filter(None, sys.path))
    environment = {**os.environ, "XDG_STATE_HOME": str(state), "PYTHONUNBUFFERED": "1", "PYTHONPATH": paths}
    command = [sys.executable, "-S", "-m", "o2sim", "desk", str(place), "--no-window"]
    with subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True, env=environment
    ) as process:
        try:
            yield process, re.search(r"http://\S+", process.stdout.readline())[0]
        finally:
            process.kill()


@contextmanager
def started(place, state):
    """Start the desk likewise, and enter it."""
    with launched(place, state) as (process, link):
        yield _entered(process, link)


def _entered(process, link):
    ask = urllib.request.build_opener(urllib.request.HTTPCookieProcessor(CookieJar()))
    host = link.split("/open/")[0]
    base = host + re.search(r"url=(/\w+)/", ask.open(link).read().decode())[1]
    found = Started(process, host, base, ask, "")
    found.key = re.search(r'name="form_key" value="(\w+)"', found.get())[1]
    return found


def megabytes(pid):
    """Return the memory that a process holds, in MB. Raises OSError where there is no /proc."""
    status = Path(f"/proc/{pid}/status").read_text(encoding="utf-8")
    return int(re.search(r"VmRSS:\s+(\d+)", status)[1]) / 1024
