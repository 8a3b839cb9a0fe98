"""A browser, and one desk for each worker, made empty before each test; what goes elsewhere fails the test.

Fixtures, for the tests here and for the benchmark of first paint.
"""

from __future__ import annotations

import datetime as dt
import os
import re
import shutil

import pytest
from browser_at import At, Results, empty
from desk_server import served

from o2sim.desk import work, work_books
from o2sim.desk.guard import COOKIE

NAMES = ("chromium", "chromium-browser", "google-chrome")
WANTED = "these tests take a browser: pip install -e '.[test,browser]', and a chromium of the system in PATH"
TODAY = dt.date(2026, 11, 30)
WIDTHS = {"width": 1100, "height": 800}
REFUSED = re.compile(r"Failed to load resource: the server responded with a status of (404|409|422) ")


def _missing():
    """Skip where there is no browser; fail where .ci/run asks for these tests."""
    if os.environ.get("O2SIM_CI"):
        pytest.fail(WANTED)
    pytest.skip(WANTED)


@pytest.fixture(scope="session")
def chromium():
    """Start the system's browser."""
    program = next(filter(None, map(shutil.which, NAMES)), None)
    try:
        from playwright.sync_api import sync_playwright
    except ImportError:
        _missing()
    if program is None:
        _missing()
    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path=program, args=["--no-sandbox"])
        yield browser
        browser.close()


@pytest.fixture(scope="session")
def results(tmp_path_factory):
    """Give what the engine finds for a text, with few replications."""
    own = tmp_path_factory.getbasetemp()
    folder = (own.parent if os.environ.get("PYTEST_XDIST_WORKER") else own) / "found"  # of all workers
    folder.mkdir(exist_ok=True)
    patch = pytest.MonkeyPatch()
    patch.setattr(work, "REPLICATIONS", 20)
    patch.setattr(work, "AT_EACH_END", 20)
    patch.setattr(work_books, "REPLICATIONS", 100)  # the fewest
    yield Results(folder)
    patch.undo()


@pytest.fixture(scope="session")
def one_desk(tmp_path_factory):
    """Serve the desk of this worker, with an engine that only counts."""
    place = tmp_path_factory.mktemp("desk")
    (place / "hospitals").mkdir()
    with served(place / "hospitals", place / "state") as found:
        found.desk.today, found.desk.clock = lambda: TODAY, lambda: dt.time(9, 30)
        found.saved, found.desk.end = place, lambda: None  # it serves the tests after “Close the desk” too
        yield found


def _let_in(browser, found, **more):
    """Return a browser of its own that has the pass."""
    context = browser.new_context(
        viewport=WIDTHS, device_scale_factor=2, reduced_motion="reduce", locale="en-GB", **more
    )
    context.set_default_timeout(15_000)
    door = found.desk.door
    context.add_cookies(
        [{"name": COOKIE, "value": door.password, "domain": "127.0.0.1", "path": door.path, "httpOnly": True,
          "sameSite": "Strict"}]
    )  # fmt: skip
    return context


def _page(context, found):
    """Return a new page, and the list of what it asks of anybody but the desk, and of each error."""
    page, foreign = context.new_page(), []
    ours = (f"http://{found.host}/", "data:", (found.saved / "report.html").as_uri())
    page.on("request", lambda asked: None if asked.url.startswith(ours) else foreign.append(asked.url))
    page.on("pageerror", lambda error: foreign.append(f"error: {error}"))
    page.on(
        "console",
        lambda said: foreign.append(said.text) if said.type == "error" and not REFUSED.match(said.text) else None,
    )
    return page, foreign


@pytest.fixture(scope="session")
def browser_with_pass(chromium, one_desk):
    """Give the browser that most tests share."""
    context = _let_in(chromium, one_desk)
    yield context
    context.close()


@pytest.fixture
def at(browser_with_pass, one_desk, results):
    """Give a page at an empty desk; whatever it asks of others, and each error, fails the test."""
    empty(one_desk)
    page, foreign = _page(browser_with_pass, one_desk)
    yield At(one_desk, page, results, foreign)
    page.close()
    assert foreign == []


@pytest.fixture
def window(chromium, one_desk, results):
    """Give what opens the desk in another browser, such as one without script."""
    opened, all_foreign = [], []

    def another(of=one_desk, **more):
        opened.append(_let_in(chromium, of, **more))
        page, foreign = _page(opened[-1], of)
        all_foreign.append(foreign)
        return At(of, page, results, foreign)

    yield another
    for context in opened:
        context.close()
    assert [each for foreign in all_foreign for each in foreign] == []
