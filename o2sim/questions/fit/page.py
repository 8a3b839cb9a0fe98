"""The page of a fit: cautions first, what each book gave with a picture of every fit, what no record gave."""

from __future__ import annotations

from collections.abc import Iterator

from o2sim.fits.found import Part as Fitted
from o2sim.looks import cautions
from o2sim.looks.blocks import Block, Part, Points, Strong, Table
from o2sim.looks.html import report_page
from o2sim.questions.fit.charts import picture
from o2sim.questions.fit.choosing import TIER_WORDS
from o2sim.questions.fit.content import RANGE, from_said, lead, rest_table, unused_points, value_said
from o2sim.questions.fit.fitting import Fit
from o2sim.questions.fit.head import begun, titled
from o2sim.version import __version__

FOOTER = f"Written by o2sim {__version__}. It plans supply and prescribes nothing."
TITLE = "What the records give"
NO_CAUTION = "Nothing was found doubtful."
OFF = 0.05  # a law so far off would come by chance less often


def page(found: Fit, scenario: str) -> str:
    """Return the page, which loads nothing; scenario: the name of the file that was written."""
    return report_page(f"{TITLE}: {found.records}", parts(found, scenario), FOOTER)


def parts(found: Fit, scenario: str) -> list[Part]:
    """Return the parts of the page in the order in which they are read."""
    made = [
        Part("first", "Look at this first", tuple(_first(found))),
        Part("keys", "What the records give", tuple(_keys(found))),
        Part("rest", "What no record gave", (rest_table(found),) if found.not_given else ()),
        Part("drawings", "How well it fits", tuple(_pictures(found))),
        Part("doubts", "What reading the books found doubtful", (Points(found.doubts),) if found.doubts else ()),
        Part("cautions", "Cautions", (Points(cautions.SHORT),)),
        Part("provenance", "Where this comes from", tuple(_provenance(found, scenario))),
    ]
    return [part for part in made if part.blocks]


def _first(found: Fit) -> Iterator[Block]:
    stay = len(found.not_given)
    said = f"{stay} {'stay as they were' if stay != 1 else 'stays as it was'} there, for want of a record."
    yield Strong(f"{found.records}: {lead(found)}" + (f" {said}" if stay else ""))
    yield Points(found.cautions) if found.cautions else NO_CAUTION


def _keys(found: Fit) -> Iterator[Block]:
    rows = tuple(
        (each.key, value_said(each), from_said(each), TIER_WORDS[each.part.tier]) for each in found.values
    )
    if rows:
        yield Table(("Key", "value", "from", "by"), rows, RANGE if len(found.table) else "")
    else:
        yield "No book gives a key of the scenario."
    if found.unused:
        yield unused_points(found)


def _pictures(found: Fit) -> Iterator[Block]:
    """Yield each part with its sentence and its pictures; none of a book that gives way to a better one."""
    written = {id(value.part) for value in found.values}
    drawn = [part for part in found.parts if part.panels and (not part.keys or id(part) in written)]
    for place, part in enumerate(drawn, 1):
        yield Points((part_said(part),), begun(titled(part)))
        for number, panel in enumerate(part.panels, 1):
            yield picture(panel, f"fit-{place}-{number}", "")


def part_said(part: Fitted) -> str:
    """Return what was fitted, and whether its law was refuted."""
    if part.test_p is None:
        return f"{part.said}."
    test = "the law does not fit well" if part.test_p < OFF else "the law is not refuted"
    return f"{part.said}. Bootstrap test of the law: p = {part.test_p:.2g}, so {test}."


def _provenance(found: Fit, scenario: str) -> Iterator[Block]:
    rows = (
        ("o2sim", __version__),
        ("records", found.records),
        ("records, hash", found.records_hash),
        ("base", found.base.name),
        ("base, hash", found.base.hash),
        ("scenario written", scenario),
        ("scenario, hash", found.scenario.hash),
        ("seed", str(found.seed)),
        ("joint draws", f"{len(found.table):,}"),
    )
    yield Table(("what", "which"), rows)
