"""The looks that are taken at every state of every page: each gives what is wrong, nothing where all is well."""

import os
import re
from pathlib import Path

from browser_at import plain
from desk_seen import BYTES, COVERED, WIDTH, overlapping, small_targets, tabbed

SAID = Path(__file__).with_name("said")
WITH_RESULTS = re.compile(
    "answer|matters|buy|today_in|today_of|power|keep|desk_with_files|earlier|sheets|run|other|book|match|which_figures_of_books"
)  # tested elsewhere
ONE_OF_SEVERAL = re.compile(r"(?<![\d.,–-])(?<!seed )1 (?!is\b|as\b|was\b)[a-z-]+s\b")  # "1 cylinders"
WIDTHS_PX = (390, 550, 1100)  # 550 at two device pixels each is 1,100 at 200 %
MOST_BYTES = 60_000
NEVER_LOADED = "opening"  # it is there for a blink, bare; here it was put into an empty page


def said(at, name):
    """Return what is read aloud and what is stored, where they differ, and one thing that is said as several.

    Figures of results are left out.
    """
    at.page.wait_for_load_state("load")  # with its styles, which hide what is not to be read
    text = plain(at.page.locator("body").aria_snapshot(), at.base)
    found = (re.sub(r"\d[\d,.]*", "#", text) if WITH_RESULTS.match(name) else text) + "\n"
    file = SAID / f"{name}.txt"
    if os.environ.get("O2SIM_SAID"):
        file.write_text(found)
    stored = file.read_text() if file.exists() else ""
    return ONE_OF_SEVERAL.findall(text) + ([] if found == stored else [found, stored])


def axe(at, _):
    """Return what axe-core finds: no rule is left out and no finding excepted."""
    from axe_playwright_python.sync_playwright import Axe

    found = Axe().run(at.page).response
    if (found["testEngine"]["version"][:5], found["passes"] != []) != ("4.12.", True):
        return ["other rules than those of axe 4.12, or none"]
    return [
        f"{each['id']}: {node['target']}: {node['failureSummary']}"
        for each in found["violations"]
        for node in each["nodes"]
    ]


def keyboard(at, name):
    """Return what Tab does not come to, and what has no outline of 3 px in sight while it has the focus."""
    if name == NEVER_LOADED:
        return []
    wanted, reached, unseen = tabbed(at.page)
    return [*sorted(wanted - reached), *unseen]


def fits(at, name):
    """Return what does not fit at three widths; a page is at most 60 kB."""
    size = at.page.evaluate(BYTES)
    wrong = 0 if 0 < size <= MOST_BYTES or name == NEVER_LOADED else f"{size} bytes"
    return [*fitting(at.page).items(), *([wrong] if wrong else [])]


def fitting(page, widths=WIDTHS_PX):
    """Return what does not fit at each width: (sideways scroll, what overlaps, targets below 24 px)."""
    found = {}
    for width in widths:
        page.set_viewport_size({"width": width, "height": 800})
        wrong = [page.evaluate(WIDTH), overlapping(page) + page.evaluate(COVERED), small_targets(page)]
        if wrong != [0, [], []]:
            found[width] = wrong
    return found


def legible(at, _):
    """Return the texts that lie over each other."""
    return overlapping(at.page)


# in this order: what is said first, before anything has the focus; the widths last, which they change
LOOKS = {"said": said, "axe": axe, "keyboard": keyboard, "fits": fits}
OWN_LOOKS = {"axe": axe, "legible": legible}  # of report and sheets, which are made for paper
