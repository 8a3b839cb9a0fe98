"""Devices against flow and age: what is usual passes, what is not is doubted at the class."""

from __future__ import annotations

import pytest
from slip_texts import CALM, with_value

from o2sim.scenario import loads, warnings

# Sizes and the most by prongs. Under 2 years 2 L/min, above 4: NSW Agency for Clinical Innovation, 2019, read;
# newborns 1 L/min, adults 6: WHO, Oxygen therapy for children, 2016, and common practice, from memory.
PRONGS = {"preterm": 1, "newborn": 1, "infant": 2, "child": 4, "adult": 6}
MASKS = {"face mask": (4.9, 5, 10, 10.1), "non-rebreather mask": (9.9, 10, 15, None)}


def doubts(flow, device, size="adult"):
    """Return what is doubted at delivery and size of a class with a flow, a device and a size."""
    text = with_value("patients.adults.flow", flow)
    for key, value in (("delivery", device), ("size", size)):
        text = with_value(f"patients.adults.{key}", value, text) if value else text
    return [
        each
        for each in warnings(loads(text))
        if each.field in ("patients.adults.delivery", "patients.adults.size")
    ]


@pytest.mark.parametrize("size", PRONGS)
def test_prongs_above_what_a_size_may_have_are_doubted(size):
    """At the limit nothing is said; a little above it the class, the share and the limit are named."""
    most = PRONGS[size]
    (doubt,) = doubts(f"{most + 0.1} L/min", "nasal prongs", size)
    assert doubts(f"{most} L/min", "nasal prongs", size) == []
    assert f"100 % of adults of size {size} have more than {most} L/min, by nasal prongs" in doubt.found


@pytest.mark.parametrize("device", MASKS)
def test_masks_below_and_above_their_flows_are_doubted(device):
    """Face masks 5 to 10 L/min, with a reservoir 10 to 15: common practice."""
    found = [len(doubts(f"{flow} L/min", device)) if flow else 1 for flow in MASKS[device]]
    assert found == [1, 0, 0, 1]


def test_a_mask_is_not_doubted_for_the_steps_at_which_its_flow_is_turned_down():
    """8 L/min, and half of it after a day: the mask is changed for prongs by then, common practice."""
    text = with_value("patients.adults.flow_steps", "[{after: 24 h, share: 50 %}]")
    text = with_value("patients.adults.delivery", "face mask", with_value("patients.adults.flow", "8 L/min", text))
    assert [each.field for each in warnings(loads(text)) if each.field == "patients.adults.delivery"] == []


def test_preterm_sizes_are_doubted_where_nobody_is_newborn():
    """CALM has a class newborns, so that nothing is said; under other names it is."""
    text = with_value("patients.children.size", "preterm", with_value("patients.children.flow", "0.5 L/min"))
    renamed = text.replace("newborns:", "ward B:").replace("newborns", "ward B")
    found = [[each.field for each in warnings(loads(each_text)) if each.field.endswith("size")]
             for each_text in (text, renamed)]  # fmt: skip
    assert found == [[], ["patients.children.size"]]


def test_a_high_flow_for_the_smallest_without_a_device_is_doubted():
    """Five litres a minute for preterm babies, however it is given."""
    text = with_value("patients.newborns.size", "preterm", with_value("patients.newborns.flow", "5 L/min"))
    assert "patients.newborns.flow" in [each.field for each in warnings(loads(text))]
    assert [each for each in warnings(loads(CALM)) if "size" in each.found] == []
