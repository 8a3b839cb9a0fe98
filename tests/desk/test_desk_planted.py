"""Faults that are planted in the desk, each in the place where it could slip in: a test must then fail.

Those that a browser is needed for are in browser/test_desk_planted_in_browser.py.
"""

import pytest
import test_desk_pages
import test_guard
from desk_server import served
from scenario_texts import SMALL
from starlette.responses import Response

from o2sim.desk import guard
from o2sim.scenario.changing import new_text


@pytest.fixture
def desk(tmp_path):
    """Serve a desk with one scenario in its folder."""
    (tmp_path / "hospitals").mkdir()
    (tmp_path / "hospitals" / "hill.yaml").write_text(SMALL)
    with served(tmp_path / "hospitals", tmp_path / "state") as found:
        yield found


def host_not_checked(patch):
    """Whatever name leads to this computer is ours."""
    patch.setattr(guard, "_check_host", lambda *_: None)


def form_key_not_compared(patch):
    """Any key will do; the pass is still looked at."""
    same = guard._same
    is_key = 64
    patch.setattr(guard, "_same", lambda found, wanted: len(wanted) == is_key or same(found, wanted))


def pass_for_every_path(patch):
    """The browser sends the pass to each server of this computer."""
    given = Response.set_cookie
    patch.setattr(Response, "set_cookie", lambda *args, **more: given(*args, **{**more, "path": "/"}))


def policy_loosened(patch):
    """Styles within a page act."""
    loose = guard.POLICY.replace("style-src 'self'", "style-src 'self' 'unsafe-inline'")
    patch.setitem(guard.HEADERS, "Content-Security-Policy", loose)


def comment_eaten(patch):
    """What stood there before is not said."""
    patch.setattr(new_text, "next_comment", lambda note, *_: note)


FAULTS = {
    host_not_checked: test_guard.test_another_name_of_the_host_uses_no_key_up,
    form_key_not_compared: lambda desk: test_guard.test_a_form_needs_its_key(desk, "0" * 64),
    pass_for_every_path: test_guard.test_the_start_link_lets_one_browser_in_once,
    policy_loosened: lambda desk: test_guard.test_every_answer_has_our_policy(desk, "/"),
    comment_eaten: test_desk_pages.test_today_is_not_asked_of_the_clock_twice,
}


@pytest.mark.parametrize("fault", FAULTS, ids=lambda fault: fault.__name__)
def test_a_planted_fault_is_seen(fault, desk, monkeypatch):
    """The test passes as the desk is, and fails with the fault."""
    FAULTS[fault](desk)
    fault(monkeypatch)
    with pytest.raises(AssertionError):
        FAULTS[fault](desk)
