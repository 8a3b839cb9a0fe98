"""A browser at a desk: what lies in the folder, what was worked out, and how one comes to a page."""

import fcntl
import json
import os
import re
import time
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path

from small_ward import WARD

from o2sim.desk import forms, work, work_books
from o2sim.desk.desk import ASKED, FORMAT
from o2sim.desk.engine_room import Job
from o2sim.desk.history import BOOKS, History, kept_of_books
from o2sim.desk.sent_books import SentBooks
from o2sim.scenario.changing.safe_file import text_hash

FILE = "ward.yaml"
DEMO = Path(__file__).parents[3] / "scenarios" / "heron_point_records.xlsx"
SAVED_S = 1_795_858_200.0  # 28 Nov 2026, about half past nine
FEWEST_OF_TODAY = 100  # replications, which are the fewest of this question
COUNT = {  # on the morning of the tests
    "values": {
        "counted": "2026-11-30 09:30",
        "cylinders": {"full": 4, "empty": 5, "part_used": ["60 bar", "60 bar"]},
        "on_order": [{"ordered": "2026-11-25", "count": 3}],
        "on_oxygen": [{"class": "all", "count": 1, "source": "cylinder"},
                      {"class": "all", "count": 2, "source": "concentrator"}],
        "concentrators": {"working": 1},
    },
    "strategy": "mixed", "on": "2026-11-30", "part_used": ["2", "60"],
}  # fmt: skip
FEW = 20  # replications: figures are tested elsewhere, here that they fit and are read aloud


@dataclass
class At:
    """One page of a browser at a desk; results gives what the engine found, by question and text."""

    served: object
    page: object
    results: object
    foreign: list  # what was asked of others, and errors: each test ends with none
    marked: bool = False  # in a made-up language

    @property
    def desk(self):
        """Return the desk itself."""
        return self.served.desk

    @property
    def base(self):
        """Return the address below which all pages lie."""
        return f"http://{self.served.host}{self.desk.door.path}"

    def go(self, path=""):
        """Go to a page by its address, and wait until its main heading stands there."""
        self.page.goto(f"{self.base}/{path}")
        self.page.get_by_role("heading", level=1).wait_for()

    def come(self, heading):
        """Wait until the page with a main heading is there."""
        self.page.get_by_role("heading", name=self.named(heading), exact=True, level=1).wait_for()
        self.page.wait_for_load_state()

    def refused(self):
        """Wait until a summary says what is to be looked at."""
        self.page.get_by_role("alert").wait_for()
        self.page.wait_for_load_state()

    def field(self, label):
        """Return a field by its label."""
        return self.page.get_by_label(self.named(label), exact=True)

    def named(self, words):
        """Return how something is found by its words: in a made-up language these words, with marks between."""
        return re.compile(".*".join(map(re.escape, words.split())), re.DOTALL) if self.marked else words

    def press(self, name):
        """Press a button by its name."""
        self.page.get_by_role("button", name=self.named(name), exact=True).click()

    def write(self, text=WARD, file=FILE, choose=True):
        """Put a scenario into the folder, saved at a fixed time, and choose it."""
        path = self.desk.folder.path / file
        path.write_text(text)
        os.utime(path, (SAVED_S, SAVED_S))
        if choose:
            self.desk.choose(file)
        return path

    def text(self, file=FILE):
        """Return what a file of the folder says now."""
        return (self.desk.folder.path / file).read_text()

    def worked(self, *asked, text=WARD, **more):
        """Keep answers to questions as the engine gave them for a text; more: what is otherwise in them."""
        for name in asked:
            whose = list(forms.whose(text))
            result = {**self.results(name, text), "whose": whose, "format": FORMAT, **more}
            self.desk.history.keep_answer(FILE, name, text_hash(text), result)

    def job(self, name, state, **more):
        """Put a job into the engine room as it stands in one moment, so that a page of it can be looked at."""
        room = self.desk.room
        room._numbers += 1
        given = self.desk.given(self.desk.read(), (0, 12))
        room._jobs[room._numbers] = Job(
            room._numbers, name, given, state=state, began_s=time.monotonic() - 4, **more
        )

    def books(self, text):
        """Keep what the workbook of the invented hospital gave over a text, as the engine found it."""
        for name, value in self.results.of_books(text).items():
            self.desk.history.keep(name, value)

    def broken_off(self):
        """Leave behind that an answer was asked for, as after a power cut."""
        given = self.desk.given(self.desk.read(), (0, 12))
        self.desk.history.keep(ASKED, json.dumps(["answer", given]))

    def upload(self, text, name="hill.yaml"):
        """Send a file, as somebody does who chooses it in the window of the browser."""
        self.go()
        content = {"name": name, "mimeType": "application/yaml", "buffer": text.encode()}
        self.field("File").set_input_files(content)
        self.press("Read this file")

    def open_all(self):
        """Open all that is folded away."""
        self.page.evaluate("document.querySelectorAll('details').forEach(each => each.open = true)")


def empty(served):
    """Make a desk as it is in an empty folder."""
    served.desk.room._jobs.clear()
    served.desk.room._is_ready = True
    served.desk.history.path.unlink(missing_ok=True)
    for kind in ("*.yaml", "*.jsonl"):
        for file in served.desk.folder.path.glob(kind):
            file.unlink()


@cache
def unknown_text(today):
    """Return the file of a hospital of which nothing is known."""
    return forms.new_text({}, today)


@dataclass
class Results:
    """What the engine finds with few replications, each asked for once by all workers together."""

    folder: Path
    found: dict = field(default_factory=dict)

    def __call__(self, name, text):
        """Return what a question finds for a text."""
        if (name, text) not in self.found:
            kept = self.folder / f"{name}-{text_hash(text)}.json"
            with (self.folder / "lock").open("w") as lock:
                fcntl.flock(lock, fcntl.LOCK_EX)  # until it is closed
                if not kept.exists():
                    kept.write_text(json.dumps(self._asked(name, text)))
            self.found[name, text] = json.loads(kept.read_text())
        return self.found[name, text]

    def of_books(self, text):
        """Return what is kept of the books of the invented hospital, fitted over a text, by its name."""
        folder = self.folder / f"books-{text_hash(text)}"
        history = History(folder)
        with (self.folder / "lock-books").open("w") as lock:
            fcntl.flock(lock, fcntl.LOCK_EX)
            if not folder.exists():
                folder.mkdir()
                (folder / FILE).write_text(text)
                sent = SentBooks(folder).put(DEMO.read_bytes())
                given = {"sent": str(sent), "path": str(folder / FILE), "file": FILE, "name": FILE}
                work_books.books({**given, "kept": str(folder), "base_text": ""}, lambda *_: None)
        names = [kept_of_books(part, FILE) for part in BOOKS]
        return {name: history.kept(name) for name in names}

    def _asked(self, name, text):
        path = self.folder / FILE
        path.write_text(text)
        of = "cylinders only" if name == "keep" else "mixed"
        steps = [{"cylinders.fleet": "14"}, {"cylinders.fleet": "18"}]
        given = {"path": str(path), "store": str(self.folder / "runs.sqlite"), "replications": FEW, "strategy": of}
        more = {"target": "20 %", "options": steps}
        if name == "today":
            card = str(self.folder / "ward-stock-card.jsonl")
            more = {**COUNT, "card": card, "replications": FEWEST_OF_TODAY}
        return work.do(name, {**given, **more}, lambda *_: None)


def plain(text, base):
    """Return what is spoken without what differs from one day, or one run, to the next."""
    text = text.replace(base, "").replace(re.sub("^http://[^/]*", "", base), "")
    text = re.sub(r"today \d\d:\d\d|\d+ [A-Z][a-z]{2} \d{4} \d\d:\d\d", "WHEN", text)
    text = re.sub(r"scenario [0-9a-f]{8,}", "scenario HASH", text)
    return re.sub(r"o2sim \d[\w.+]*", "o2sim VERSION", text)
