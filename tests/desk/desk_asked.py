"""A desk in an empty folder for a test, and what is done at it: write a file, send a page, read what is said."""

import html
import re

import pytest
from desk_server import served, until


@pytest.fixture
def desk(tmp_path):
    """Serve a desk in an empty folder."""
    (tmp_path / "hospitals").mkdir()
    with served(tmp_path / "hospitals", tmp_path / "state") as found:
        yield found


def worked_out(desk, path="/answer"):
    """Wait until the work is done; return the page it leads to."""
    assert until(
        lambda: desk.desk.room.at_work is None
    )  # asking for pages meanwhile would read the file each time
    assert until(lambda: desk.get("/run").place == path)
    return desk.get(path).body


def text_of(page):
    """Return the words of a page."""
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", page)).split())


def hash_in(page):
    """Return the hash of the text that a form was made from."""
    return re.search(r'name="text_hash" value="(\w*)"', page)[1]


def write(desk, text, name="hill.yaml"):
    """Put a scenario into the folder and choose it."""
    (desk.desk.folder.path / name).write_text(text)
    desk.post("/choose", f"file={name}")
    return desk.desk.folder.path / name


def answered(desk, fields, page=2):
    """Send a page of questions as a browser does that has just asked for it."""
    before = desk.get(f"/hospital/{page}").body
    return desk.post(f"/hospital/{page}", f"text_hash={hash_in(before)}&do=next&{fields}")
