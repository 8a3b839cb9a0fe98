"""Pictures."""

import pytest
from desk_states import STATES


@pytest.mark.parametrize("name", [n for n in STATES if n.startswith("today") or n == "desk_with_files"])
def test_shot(at, name):
    """Take pictures."""
    STATES[name](at)
    for w in (390, 1100):
        at.page.set_viewport_size({"width": w, "height": 800})
        at.page.screenshot(path=f"/tmp/shots/{name}_{w}.png", full_page=True)
    at.open_all()
    at.page.screenshot(path=f"/tmp/shots/{name}_open.png", full_page=True)
