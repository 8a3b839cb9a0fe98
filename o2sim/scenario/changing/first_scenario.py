"""The scenario made of the answers to the twelve questions: what was not asked is published, or of the starter."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterator

from o2sim.scenario.changing.splice import flow
from o2sim.scenario.keys.answers import Answers, Written, written
from o2sim.scenario.keys.answers_in_file import grid_laws
from o2sim.scenario.keys.sources import HYPOXAEMIA, WORKING
from o2sim.scenario.keys.starter_examples import EXAMPLES
from o2sim.scenario.text.nodes import Scalar

WHO_CAME = ("newborns", "children", "adults")
NAME = "Our hospital"
_FLOWS = {
    "newborns": "young infants by nasal prongs: WHO, Oxygen therapy for children, 2016, from memory",
    "children": "begun with 0.5 to 1, at most 2 below 2 years: the same, from memory; shape assumed",
    "adults": "prongs, to 5 L/min: common practice; shape assumed",
}
_STAY = (
    "2 to 3 days (median): H. Graham and others, EClinicalMedicine 16, 2019, read in its table 3; spread assumed"
)
_HEAD = """\
# Made at the desk from the answers to twelve questions. The comment beside each figure says whose it is: "from the
# desk" is what you typed; all other figures are invented, assumed or published, and not your hospital's.
# A figure that is not known is a range: {low, likely, high}. Change what you find out, here or at the desk."""
_ASSUMED = "assumed"


def scenario_from(answers: Answers, today: dt.date, name: str = NAME) -> str:
    """Return the text of a scenario with three classes and three strategies; questions left open become ranges.

    today: the day of the answers; the year simulated is the next. It loads and runs even without any answer.
    """
    said = written(answers, today)
    lines = [_HEAD, f"name: {flow(Scalar(0, 'name', name))}", f"start: {today.year + 1}-01-01"]
    lines += [
        _line(0, "warm_up", "28 days", "run before the year and not counted, so that wards do not start empty")
    ]
    lines += [_line(0, "response_time", EXAMPLES["response_time",], _ASSUMED), "", "patients:"]
    for who in WHO_CAME:
        lines += _class(who, said)
    parts = (_cylinders, _resupply, _concentrators, _power)
    lines += [line for part in parts for line in ("", *part(said))]
    lines += ["", "strategies:"]
    lines += [f"  {key[1]}: {{sources: {EXAMPLES[key]}}}" for key in EXAMPLES if key[0] == "strategies"]
    return "\n".join(lines) + "\n"


def _line(depth: int, key: str, value: str, comment: str) -> str:
    return f"{'  ' * depth}{key}: {value}   # {comment}"


def _asked(said: dict[str, Written], depth: int, key: str) -> str:
    """Return the line of a key that an answer gives."""
    return _line(depth, key.rpartition(".")[2], said[key].value, said[key].note)


def _class(who: str, said: dict[str, Written]) -> Iterator[str]:
    """Yield the lines of one class of patients."""
    age = re.search(rf"{who} ([0-9.]+ %)", HYPOXAEMIA)
    share = EXAMPLES["patients", who, "hypoxaemic"]
    assert age is not None
    assert age[1] == share
    yield f"  {who}:"
    yield _asked(said, 2, f"patients.{who}.admissions")
    yield _line(2, "hypoxaemic", share, HYPOXAEMIA if who == WHO_CAME[0] else "the same review")
    yield _line(2, "recognised", "75 %", "assumed, of 50 to 95 %: clinical signs predict need poorly")
    yield _line(2, "flow", EXAMPLES["patients", who, "flow"], _FLOWS[who])
    yield _line(2, "duration", EXAMPLES["patients", who, "duration"], _STAY)
    if who == "children":
        yield "    season:"
        yield _asked(said, 3, "patients.children.season.peak")
        yield _asked(said, 3, "patients.children.season.ratio")


def _cylinders(said: dict[str, Written]) -> Iterator[str]:
    yield "cylinders:"
    yield _asked(said, 1, "cylinders.water_capacity")
    yield _line(1, "filling_pressure", EXAMPLES["cylinders", "filling_pressure"], "common practice")
    yield _asked(said, 1, "cylinders.fleet")
    yield _asked(said, 1, "cylinders.regulators")
    yield _line(1, "gauge_check", EXAMPLES["cylinders", "gauge_check"], _ASSUMED)


def _resupply(said: dict[str, Written]) -> Iterator[str]:
    lead = said["resupply.lead_time.mean"]
    law = EXAMPLES["resupply", "lead_time"].replace("mean: 4 days", f"mean: {lead.value}")
    yield "resupply:"
    yield _asked(said, 1, "resupply.reorder_point")
    yield _line(1, "lead_time", law, lead.note)


def _concentrators(said: dict[str, Written]) -> Iterator[str]:
    yield "concentrators:"
    yield _asked(said, 1, "concentrators.count")
    for key, comment in (
        ("rated_flow", "a common size: common practice"),
        ("outlets", "assumed"),
        (
            "power",
            "70 W per L/min: WHO-UNICEF technical specifications for oxygen therapy devices, 2019, from memory",
        ),
        ("failure", _ASSUMED),
        ("repair", WORKING),
        ("never_repaired", _ASSUMED),
    ):
        yield _line(1, key, EXAMPLES["concentrators", key], comment)


def _power(said: dict[str, Written]) -> Iterator[str]:
    yield "power:"
    if "power.grid" in said:
        yield _asked(said, 1, "power.grid")
        return
    up, down = said["power.grid.up.mean"], said["power.grid.down.median"]
    laws = grid_laws(up.value, down.value)
    yield "  grid:"
    yield _line(2, "up", laws[0], up.note)
    yield _line(2, "down", laws[1], down.note)
