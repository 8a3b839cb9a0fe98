"""What a screen reader is given of each page, against stored texts: words, roles, order and names.

Renew them, then read what differs: O2SIM_SAID=1 pytest -n 0 -m browser tests/desk/browser/test_desk_said.py
"""

import os
import re
from pathlib import Path

import pytest
from browser_at import plain
from desk_states import STATES

SAID = Path(__file__).with_name("said")
WITH_RESULTS = re.compile(
    "answer|matters|buy|power|keep|desk_with_files|earlier|sheets|run|other"
)  # tested elsewhere


ONE_OF_SEVERAL = re.compile(r"(?<![\d.,–-])(?<!seed )1 (?!is\b|as\b|was\b)[a-z-]+s\b")  # "1 cylinders"


def spoken(at, name):
    """Return what is read aloud, figures of results left out; one thing is not said as several."""
    at.open_all()
    text = plain(at.page.locator("body").aria_snapshot(), at.base)
    assert [text[each.start() - 60 : each.end() + 20] for each in ONE_OF_SEVERAL.finditer(text)] == []
    return (re.sub(r"\d[\d,.]*", "#", text) if WITH_RESULTS.match(name) else text) + "\n"


@pytest.mark.parametrize("name", STATES)
def test_a_page_is_read_aloud_as_before(at, name):
    """Roles, names and words come in the order that is stored."""
    STATES[name](at)
    file, found = SAID / f"{name}.txt", spoken(at, name)
    if os.environ.get("O2SIM_SAID"):
        file.write_text(found)
    assert found == file.read_text()


def test_no_text_is_stored_of_a_page_that_is_gone():
    """Each file is that of a state."""
    assert {file.stem for file in SAID.iterdir()} == set(STATES)
