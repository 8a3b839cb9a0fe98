"""All that lies here takes a browser, and is marked so."""

from __future__ import annotations

import pytest
from desk_fixtures import at, browser_with_pass, chromium, one_desk, results, window

__all__ = ["at", "browser_with_pass", "chromium", "one_desk", "results", "window"]


def pytest_collection_modifyitems(items):
    """Mark all that lies here."""
    for item in items:
        if "browser" in item.path.parts:
            item.add_marker(pytest.mark.browser)
