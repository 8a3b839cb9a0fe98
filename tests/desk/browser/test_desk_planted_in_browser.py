"""Faults that are planted in pages, style and policy, one at a time: a test in the browser must then fail.

Those that need no browser are in ../test_desk_planted.py.
"""

import pytest
import test_desk_only_ours
import test_desk_ways
from desk_looks import LOOKS
from desk_states import STATES
from test_desk_looks import seen

from o2sim.desk import app, desk, guard

INLINE = (".slider output { display: block; }", ".slider output { display: inline; }")
STYLE = ("style-src 'self'", "style-src 'self' 'unsafe-inline'")


def changed(text, old, new):
    """Return a text with a fault; what it is planted in must be there."""
    assert old in text
    return text.replace(old, new)


def test_words_of_the_slider_set_in_a_line_are_seen(at, monkeypatch):
    """Broken over several lines, each line of them covers a part of the one above."""
    content = app._content
    style = changed(content("desk.css").decode(), *INLINE).encode()
    monkeypatch.setattr(app, "_content", lambda name: style if name == "desk.css" else content(name))
    STATES["power"](at)
    assert seen(at, "power", {"fits": LOOKS["fits"]}) != {}


def test_a_field_that_does_not_name_its_problem_is_seen(at, monkeypatch):
    """Without aria-describedby who hears the page does not learn what is wrong."""
    rendered = desk.rendered

    def without(*args, **values):
        page = rendered(*args, **values)
        return changed(page, " aria-describedby=", " data-gone=")

    monkeypatch.setattr(desk, "rendered", without)
    with pytest.raises(AttributeError, match="split"):  # of the attribute that is not there
        test_desk_ways.test_a_field_is_checked_as_one_leaves_it(at)


def test_a_policy_that_lets_styles_in_a_page_act_is_seen(at, monkeypatch):
    """What is put into a page then moves."""
    loose = changed(guard.POLICY, *STYLE)
    monkeypatch.setitem(guard.HEADERS, "Content-Security-Policy", loose)
    with pytest.raises(AssertionError, match="77px"):
        test_desk_only_ours.test_what_is_put_into_a_page_does_not_act(at)
    at.foreign.clear()
