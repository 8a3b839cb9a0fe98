"""Response, change and connecting as a file says them: plain, as laws, by night; in words; what is doubtful."""

from __future__ import annotations

import math

import pytest
from scenario_texts import SMALL, WHOLE, with_values

from o2sim.questions.check.rules_in_words import sentences
from o2sim.scenario import Law, loads, warnings
from o2sim.scenario.changing.override import original_of
from o2sim.scenario.types.hospital import Hospital, Night

LOGNORMAL = "{lognormal: {median: 5 min, geometric_sd: 2}}"
SPREAD = Law("lognormal", (math.log(300), math.log(2)))
STAFF = "staff: {day: 2, night: 1, connect_time: 5 min}\n"


def hospital(text: str) -> Hospital:
    """Return the hospital of the one strategy of a text."""
    (found,) = loads(text).hospitals.values()
    return found


@pytest.mark.parametrize(
    ("text", "expected"),
    [("7 min", 420), ("0", 0), ("90.4 s", 90), (LOGNORMAL, SPREAD), ("{exponential: {mean: 10 min}}", 600.0)],
)
def test_a_plain_time_is_whole_seconds_and_a_law_a_law(text: str, expected: object) -> None:
    """At all three keys alike; a constant is a number, as before."""
    found = hospital(
        f"response_time: {text}\nstaff: {{day: 1, night: 1, connect_time: {text}}}\n"
        + SMALL.replace("cylinders:\n", f"cylinders:\n  change_time: {text}\n", 1)
    )
    wanted = Law("exponential", (expected,)) if isinstance(expected, float) else expected
    assert found.staff is not None
    assert found.cylinders is not None
    assert [found.response_time_s, found.cylinders.change_time_s, found.staff.connect_s] == [wanted] * 3


def test_the_night_says_what_differs() -> None:
    """What is left out is None, as by day; a strategy changes one key of it, or takes it back."""
    top = f"night: {{response_time: {LOGNORMAL}, change_time: 15 min}}\n"
    assert hospital(top + SMALL).night == Night(SPREAD, 900, None)
    whole = loads(top + WHOLE + "  quick: {sources: [cylinder], night: {change_time: 9 min}}\n"
                  "  as by day: {sources: [cylinder], night: none}\n")  # fmt: skip
    assert whole.hospitals["quick"].night == Night(SPREAD, 540, None)
    assert whole.hospitals["as by day"].night == Night()


def test_a_file_without_the_new_keys_keeps_its_hash() -> None:
    """A night of which nothing is said, and one that is taken back, are no night at all."""
    assert loads("night: none\n" + SMALL).hash == loads(SMALL).hash
    assert loads("night: {change_time: 15 min}\n" + SMALL).hash != loads(SMALL).hash


@pytest.mark.parametrize(
    ("path", "value", "expected"),
    [
        ("response_time", "20 min", 1_200),
        ("response_time.median", "10 min", Law("lognormal", (math.log(600), math.log(2)))),
        ("response_time", "{exponential: {mean: 5 min}}", Law("exponential", (300.0,))),
    ],
)
def test_a_law_is_overridden_by_a_number_and_a_number_by_a_law(path: str, value: str, expected: object) -> None:
    """The whole key, or one parameter of its law."""
    changed = with_values(original_of(f"response_time: {LOGNORMAL}\n" + SMALL), {path: value})
    (found,) = changed.hospitals.values()
    assert found.response_time_s == expected


def test_a_time_and_a_parameter_of_its_law_may_have_a_range() -> None:
    """Both kinds of what nobody knows for sure, by day and by night."""
    uncertain = "{low: 4 min, likely: 8 min, high: 20 min}"
    law = LOGNORMAL.replace("5 min", uncertain)
    scenario = loads(f"response_time: {uncertain}\nnight: {{response_time: {law}}}\n" + SMALL)
    assert [each.path for each in scenario.uncertain] == ["response_time", "night.response_time.lognormal.median"]
    (found,) = scenario.hospitals.values()
    assert found.response_time_s == 480
    assert found.night.response_time_s == Law("lognormal", (math.log(480), math.log(2)))


def said(text: str) -> list[str]:
    """Return the warnings of a text about times."""
    return [f"{each.field}: {each.found}" for each in warnings(loads(text)) if "time" in each.field]


def test_a_law_that_is_longer_than_the_tolerated_gap_on_average_is_doubtful() -> None:
    """A mean of 6.36 min is no doubt, one of 12.7 min is; by night as by day."""
    calm = WHOLE.replace("response_time: 5 min", f"response_time: {LOGNORMAL}")
    assert said(calm) == []
    slow = "{lognormal: {median: 10 min, geometric_sd: 2}}"
    where = "longer than the tolerated gap of 10 min (in concentrators only, mixed)"
    assert said(calm.replace(LOGNORMAL, slow)) == [f"response_time: 12.7 min on average, {where}"]
    assert said(f"night: {{response_time: 20 min}}\n{calm}") == [f"night.response_time: 20 min, {where}"]


def test_a_connect_time_by_night_without_staff_is_doubtful() -> None:
    """Nobody is waited for, so it changes nothing."""
    assert said("night: {connect_time: 5 min}\n" + SMALL) == ["night.connect_time: no section staff"]
    assert said("night: {connect_time: 5 min}\n" + STAFF + SMALL) == []


def test_check_says_the_times_that_are_drawn_or_differ_by_night() -> None:
    """Means, and what one in twenty exceeds or none does; what a look allows for a change."""
    text = f"response_time: {LOGNORMAL}\n" + STAFF.replace("5 min", "{uniform: {low: 2 min, high: 8 min}}") + SMALL
    text = "night: {change_time: 15 min, connect_time: 10 min}\n" + text
    text = text.replace("cylinders:\n", "cylinders:\n  change_when: will_not_last\n", 1)
    assert [each for each in sentences(loads(text)) if "take" in each or "last" in each] == [
        "Connecting a patient who waits takes staff 5 min on average (at most 8 min).",
        "To respond to a loss of supply takes 6 min 21 s on average (1 in 20 over 15 min 38 s).",
        "A cylinder that is to last until the next look must last 15 min more, for the change.",
        "By night, from 19:00 to 07:00, to change a cylinder takes 15 min and to connect a patient who waits "
        "takes 10 min.",
    ]
