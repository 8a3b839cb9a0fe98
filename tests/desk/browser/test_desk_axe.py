"""The rules of axe-core for accessible pages (4.12, Deque Systems) find nothing on any page, in any state."""

import pytest
from desk_states import OWN_PAGES, STATES

PAGES = {**STATES, **OWN_PAGES}


@pytest.mark.parametrize("name", PAGES)
def test_axe_finds_nothing(at, name):
    """No rule is left out and no finding excepted; what is folded away is opened first."""
    from axe_playwright_python.sync_playwright import Axe

    PAGES[name](at)
    at.open_all()
    found = Axe().run(at.page).response
    assert (found["testEngine"]["version"][:5], found["passes"] != []) == ("4.12.", True)
    assert [
        f"{each['id']}: {node['target']}: {node['failureSummary']}"
        for each in found["violations"]
        for node in each["nodes"]
    ] == []
