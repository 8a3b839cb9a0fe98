"""Today by hand: a constant flow from full cylinders lasts as long as its litres, and as long as the desk says."""

import datetime as dt

import pytest

from o2sim.desk import work
from o2sim.desk.today_answer import figures
from o2sim.desk.today_count import count_of
from o2sim.scenario import loads

NOW = dt.datetime(2026, 11, 28, 7, 30)
CONSTANT = """
name: Constant ward
start: 2026-11-28
patients: {adults: {admissions: 0.01 / day, flow: 2 L/min, duration: 300 days}}
cylinders: {content: 6800 L, fleet: 40, leak: 0 L/min, residual_pressure: 0 kPa, flow_lost_below: 0 kPa}
resupply: {review: 7 days, reorder_point: 9, order_up_to: 30, lead_time: 4 days}
strategies: {cylinders only: {sources: [cylinder]}}
"""
PATIENTS, FULL, LITRES, L_MIN = 4, 31, 6_800, 2.0
CLASS = "today_class_" + b"adults".hex()


def worked_out(place, full):
    """Return what comes of some full cylinders and 4 patients on 2 L/min each, whose cylinders nobody read."""
    (place / "constant.yaml").write_text(CONSTANT)
    typed = {"today_full": str(full), "today_empty": "5", CLASS: str(PATIENTS)}
    values = dict(count_of(loads(CONSTANT), typed, NOW).values)
    asked = {"values": values, "strategy": "cylinders only", "on": "2026-11-28", "part_used": ["", ""]}
    given = {**asked, "path": str(place / "constant.yaml"), "card": str(place / "card.jsonl"), "replications": 100}
    return work.do("today", given, lambda *_: None)


@pytest.fixture(scope="module")
def found(tmp_path_factory):
    """Give what comes of 31 full ones."""
    return worked_out(tmp_path_factory.mktemp("constant"), FULL)


def test_hours_of_cover_are_litres_by_flow_against_arithmetic(found):
    """31 full and 4 half-full ones in use, 8 L/min: 224,400 L / 8 L/min = 467.5 h, 19.4 days rounded down."""
    litres = FULL * LITRES + PATIENTS * LITRES / 2
    assert found["figures"]["hours"] == pytest.approx(litres / (PATIENTS * L_MIN) / 60, rel=1e-6)
    assert figures(found["figures"])[0][0] == "19.4 days"


def test_the_page_is_made_of_what_the_question_says(found):
    """The fleet adds up, two sentences, a drawing without styles of its own, a sheet; all was worked out."""
    assert (found["counts"]["accounted"], found["counts"]["fleet"], found["unknown"] != []) == (40, 40, True)
    assert (len(found["said"]), "style=" in found["picture"][0]["svg"]) == (2, False)
    assert ("Oxygen today" in found["sheet"], found["complete"], found["done"]) == (True, True, 100)


def test_a_shelf_is_bare_where_it_must_be_against_arithmetic(found, tmp_path):
    """31 full ones outlast the morning of 9 December, when the next order can be here; one of them does not."""
    until = dt.datetime.fromisoformat(found["figures"]["until"])
    lasts = dt.timedelta(minutes=FULL * LITRES / ((PATIENTS + 1) * L_MIN))  # even with one patient more
    assert (until, NOW + lasts > until, found["figures"]["bare"]) == (dt.datetime(2026, 12, 9, 7, 30), True, 0.0)
    assert worked_out(tmp_path, 1)["figures"]["bare"] == 1.0
