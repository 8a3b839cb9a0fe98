"""What does not fit is seen, so that the looks at all pages mean something; and an answer on paper."""

from desk_looks import fitting
from desk_states import STATES

PAPER = {"format": "A4", "margin": {"top": "15mm", "bottom": "15mm", "left": "15mm", "right": "15mm"}}


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
