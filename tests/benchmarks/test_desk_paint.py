"""First paint of every page of the desk with a processor slowed to a sixth; reported, never asserted.

Run: pytest -m benchmark -s -n 0 tests/benchmarks/test_desk_paint.py
"""

import statistics

import pytest
from browser_at import empty
from desk_fixtures import at, browser_with_pass, chromium, one_desk, results
from desk_looks import NEVER_LOADED
from desk_states import STATES
from table import show

__all__ = ["at", "browser_with_pass", "chromium", "one_desk", "results"]  # fixtures
pytestmark = pytest.mark.benchmark
SLOWER = 6
SHOWN = 5  # of the slowest
PAINT = """() => new Promise((found) => new PerformanceObserver((list) => {
  for (const each of list.getEntries()) if (each.name === "first-contentful-paint") found([each.startTime,
    performance.getEntriesByType("navigation")[0].responseEnd]);
}).observe({ type: "paint", buffered: true }))"""


def test_first_paint_of_every_page(capsys, at):
    """Each state of each page, come to as a reader does; the server's part is shown as it is and slowed too."""
    at.page.context.new_cdp_session(at.page).send("Emulation.setCPUThrottlingRate", {"rate": SLOWER})
    found = {}
    for name, come in STATES.items():
        if name == NEVER_LOADED:
            continue
        empty(at.served)
        come(at)
        found[name] = at.page.evaluate(PAINT)
    rows = [
        (name.replace("_", " "), f"{paint:.0f}", f"{server:.0f}", f"{paint + (SLOWER - 1) * server:.0f}")
        for name, (paint, server) in sorted(found.items(), key=lambda each: -each[1][0])[:SHOWN]
    ]
    middle = [statistics.median(each) for each in zip(*found.values(), strict=True)]
    rows.append((f"middle of all {len(found)}", *(f"{each:.0f}" for each in middle), ""))
    heads = ("page, processor at a sixth", "first paint, ms", "of it until the page is there", "server slowed too")
    show(capsys, "first paint", heads, rows)
    assert min(paint for paint, _ in found.values()) > 0
