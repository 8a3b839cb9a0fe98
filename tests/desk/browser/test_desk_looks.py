"""Every page in every state: read aloud as before, accessible, reached by Tab, and it fits; seen in one visit.

What is stored of the words is renewed so, then read for what differs:
O2SIM_SAID=1 pytest -n 0 -m browser tests/desk/browser/test_desk_looks.py
"""

import pytest
from desk_looks import LOOKS, OWN_LOOKS, SAID
from desk_states import OWN_PAGES, STATES


def seen(at, name, looks):
    """Return what each look finds wrong, by its name; what is folded away is opened first."""
    at.open_all()
    return {look: wrong for look, find in looks.items() if (wrong := find(at, name))}


@pytest.mark.parametrize("name", STATES)
def test_a_page_passes_every_look(at, name):
    """Words, roles and names are as stored; axe-core, the keyboard and three widths find nothing wrong."""
    STATES[name](at)
    assert seen(at, name, LOOKS) == {}


@pytest.mark.parametrize("name", OWN_PAGES)
def test_a_page_of_its_own_passes_every_look(at, name):
    """The report, the sheets and the list, which are made for paper, can be read on a screen, and by all."""
    OWN_PAGES[name](at)
    assert seen(at, name, OWN_LOOKS) == {}


def test_no_text_is_stored_of_a_page_that_is_gone():
    """Each file is that of a state."""
    assert {file.stem for file in SAID.iterdir()} == set(STATES)
