"""Pages fit: a telephone, a window at 200 %, a laptop; nothing lies over another, and a finger finds all."""

import pytest
from desk_seen import BYTES, COVERED, overlapping, small_targets
from desk_seen import WIDTH as TOO_WIDE
from desk_states import OWN_PAGES, STATES

WIDTHS_PX = (390, 550, 1100)  # 550 at two device pixels each is 1,100 at 200 %
MOST_BYTES = 60_000
PAPER = {"format": "A4", "margin": {"top": "15mm", "bottom": "15mm", "left": "15mm", "right": "15mm"}}


def fitting(page, widths=WIDTHS_PX):
    """Return what does not fit at each width."""
    found = {}
    for width in widths:
        page.set_viewport_size({"width": width, "height": 800})
        wrong = [page.evaluate(TOO_WIDE), overlapping(page) + page.evaluate(COVERED), small_targets(page)]
        if wrong != [0, [], []]:
            found[width] = wrong
    return found


@pytest.mark.parametrize("name", STATES)
def test_a_page_fits(at, name):
    """At three widths nothing scrolls sideways, overlaps, or is pressed within 24 px; no page is over 60 kB."""
    STATES[name](at)
    at.open_all()
    assert fitting(at.page) == {}
    assert 0 < at.page.evaluate(BYTES) <= MOST_BYTES or name == "opening"  # which was put there


@pytest.mark.parametrize("name", OWN_PAGES)
def test_a_page_of_its_own_has_no_texts_that_overlap(at, name):
    """The report and the sheets, which are made for paper, can be read on a screen."""
    OWN_PAGES[name](at)
    assert overlapping(at.page) == []


def test_what_does_not_fit_is_seen(at):
    """A text over another, a line that is too wide and a button that is too small are each found."""
    at.go()
    at.page.evaluate(
        "() => { const h = document.querySelector('h1'); h.style.marginTop = '-30px'; "
        "h.nextElementSibling.style.minWidth = '1200px'; document.querySelector('button').style.cssText = "
        "'min-height: 0; height: 20px; padding: 0' }"
    )
    wide, over, small = fitting(at.page)[390]
    assert (wide > 500, over != [], len(small)) == (True, True, 1)


def test_an_answer_prints_on_two_sheets(at):
    """The longest answer, folded as it comes, takes at most two sheets of A4; its cautions are among them."""
    STATES["answer_of_what_is_not_known"](at)
    at.page.emulate_media(media="print")
    paper = at.page.pdf(**PAPER)
    assert 1 <= paper.count(b"/Type /Page\n") <= 2
