"""Work that is stopped, or whose engine or server is killed: the page says so, and goes on with it."""

import os
import re
import signal

from desk_process import launched
from desk_server import until
from small_ward import WARD

FAR = re.compile(r"([2-9]|\d\d+) of \d+ years simulated")  # of one year nothing could be said


def running(at, of, each_s):
    """Begin an answer that takes a while, and come to its page when it is on its way."""
    at.write()
    at.desk.ask("answer", at.desk.given(at.desk.read(), (0, 12), of=of, each_s=each_s))
    at.go("run")
    at.page.get_by_role("status").filter(has_text=FAR).wait_for()


def test_stop_leads_to_an_answer_that_says_where_it_was_stopped(at):
    """Of what was done so far an answer is made, which says at how many of how many; from there one can go on."""
    running(at, of=400, each_s=0.05)
    at.press("Stop here")
    at.come("The answer")
    said = at.page.get_by_role("status").inner_text()
    found = re.fullmatch(r"Stopped at (\d+) of 400 years\.", said)
    assert found is not None
    assert 2 <= int(found[1]) < 400
    at.press("Go on")
    at.page.get_by_text("Stopped at").wait_for(state="detached")
    at.come("The answer")


def test_an_engine_that_is_killed_is_said_and_gone_on_with(at):
    """After kill -9 of its process the open page says that the work was broken off; Go on leads to the answer."""
    running(at, of=40, each_s=0.05)
    killed = at.desk.room.process_id
    os.kill(killed, signal.SIGKILL)
    at.come("The work was broken off")
    assert until(lambda: at.desk.room.process_id != killed)
    at.press("Go on")
    at.come("The answer")


def test_a_desk_that_is_killed_goes_on_in_the_tab_that_stayed_open(chromium, tmp_path):
    """Started again after kill -9, the same tab, and another one, say so and come to the answer."""
    (tmp_path / "hospitals").mkdir()
    file = tmp_path / "hospitals" / "ward.yaml"
    file.write_text(WARD)
    context = chromium.new_context()
    context.set_default_timeout(240_000)  # the engine itself, which stands back where others work
    page = context.new_page()
    try:
        with launched(file, tmp_path / "state") as (_, link):
            page.goto(link)
            page.get_by_role("link", name="Answer", exact=True).click()
            page.get_by_role("button", name="Work out the answer", exact=True).click()
            page.get_by_role("button", name="Stop here").wait_for()
        with launched(file, tmp_path / "state"):
            broken_off = {"role": "heading", "name": "The work was broken off"}
            page.get_by_role(**broken_off).wait_for()
            other = context.new_page()
            other.goto(page.url)
            other.get_by_role(**broken_off).wait_for()
            other.get_by_role("button", name="Go on").click()
            for each in (other, page):
                each.get_by_role("heading", name="The answer", level=1).wait_for()
                assert "of 200 runs of 60 days" in each.locator("main").inner_text()
                page.reload()
    finally:
        context.close()
