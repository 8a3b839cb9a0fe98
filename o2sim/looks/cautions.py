"""The cautions shown beside results, short for the terminal, long for pages; and whose the figures are.

Somebody who hangs up an example orders and phones by another hospital's numbers. So a page that is not of the
hospital's own figures says so across the whole of it, and shows no number to order or to phone by.

All are common practice; local codes, local guidelines and licensed practice come first. That a nasopharyngeal
catheter needs humidified gas is also in WHO, Oxygen therapy for children, 2016 (from memory).
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from o2sim.scenario.types.hospital import EXAMPLE as EXAMPLE_FIGURES
from o2sim.scenario.types.hospital import OURS

OXIMETRY = "Guide the flow by pulse oximetry."
PRETERM = "Too much oxygen harms the eyes of preterm babies: keep to the local target."
RETAINERS = "Too much oxygen also harms adults who retain carbon dioxide: keep to the lower local target."
STRETCH = "Never lower a flow to make the gas last without a pulse oximeter and a local guideline for it."
HUMIDIFY = "Humidify for nasopharyngeal catheters, and at higher flows as local guidelines say."
BUBBLE = (
    "A bubble humidifier is not for high-flow therapy, which needs a heated one. Give it clean water every day: "
    "sterile, distilled, or boiled and cooled, by local policy."
)
BACK_UP = "every point of use needs a back-up cylinder, regulator and key."
SPLITTER = (
    "Behind a flow splitter each patient has a flowmeter: check at every outlet the concentration at the total "
    "flow, and that nothing flows back from one line into another."
)
GENERATOR = "Run generators outdoors (carbon monoxide) and behind a changeover switch."
AS_SPECIFIED = (
    "Put nothing on a concentrator but what it is specified for: no adaptors, no other devices or loads, no "
    "longer tubing than its maker states."
)
FITTING = "Never adapt or force a fitting, and never fill one cylinder from another."

SHORT = (
    "This plans supply and prescribes nothing: local codes, guidelines and licensed practice come first.",
    "Priority is a modelling order, not triage: never withdraw oxygen because of this output.",
    "Unserved hours are not deaths, and the tolerated gap is not a safe time without oxygen.",
    f"Concentrators only is a comparison: {BACK_UP}",
    "Fire: no smoking, flame, oil or grease near oxygen; keep cylinders upright and secured.",
    "Guide the flow by pulse oximetry: too much oxygen harms the eyes of preterm babies.",
    RETAINERS,
    STRETCH,
)

IN_ONE_LINE = "Prescribes nothing: local codes first. No flame, oil, grease; secure cylinders; go by oximeters."

NOT_COMPARED = (
    "Not compared: an oxygen plant on site (PSA or VSA) and liquid oxygen; ask for both before a large purchase."
)

LONG: dict[str, tuple[str, ...]] = {
    "What this is": (
        "o2sim plans supply. It prescribes nothing; local codes, guidelines and licensed practice come first.",
        "Priority is an order used by the model, not guidance for triage. Never withdraw oxygen on this output.",
        "Unserved hours are not deaths and are never turned into deaths.",
        "The tolerated gap is a threshold for counting, not a time that is safe without oxygen.",
    ),
    "Fire": (
        "No smoking, flame or spark near oxygen.",
        "Never put oil or grease on valves, regulators or hands that touch them.",
        "Open valves slowly, pointing away from people.",
    ),
    "Cylinders": (
        "Keep them upright and secured, full and empty ones apart.",
        "Read the label; never trust the colour. Use medical oxygen only.",
        FITTING,
        "Bedside duration tables hold for one size and filling pressure; round down and allow for gauge error.",
    ),
    "Concentrators": (
        f"A strategy of concentrators alone is shown for comparison; {BACK_UP}",
        SPLITTER,
        GENERATOR,
        AS_SPECIFIED,
    ),
    "Patients": (OXIMETRY, PRETERM, RETAINERS, STRETCH, HUMIDIFY, BUBBLE),
    "What was not compared": (NOT_COMPARED,),
}

EXAMPLE = "EXAMPLE - DO NOT HANG UP"
OWN = "Set figures: ours in the scenario once every figure is your hospital's own."
NO_NUMBER = "No number to order or phone by is shown."
_FIGURE = re.compile(r"&#?\w+;|(?<![A-Za-z])\d+(?:[.,:]\d+)*")  # not those of an escaped letter, nor of CO2
_BETWEEN_TAGS = re.compile(r"(?<=>)[^<]+")


def long_text() -> str:
    """Return all cautions as plain text, one heading and its points a paragraph."""
    parts = ["\n".join([heading, *(f"  - {point}" for point in points)]) for heading, points in LONG.items()]
    return "\n\n".join(parts) + "\n"


def is_ours(result: Mapping[str, Any]) -> bool:
    """Return True if a result is of a scenario whose figures are the hospital's own; not said is not so."""
    return result.get("figures") == OURS


def figures_checked(figures: str) -> str:
    """Return what `o2sim check` says of whose the figures are."""
    if figures == OURS:
        return "Figures: marked as your hospital's own (figures: ours), so sheets can be hung up."
    return (
        f"Figures: marked as an example (figures: {EXAMPLE_FIGURES}, the default), so each sheet to print says "
        f"{EXAMPLE}, without a number to order or phone by. {OWN}"
    )


def whose_figures(figures: str) -> str:
    """Return what a report says of whose the figures are."""
    if figures == OURS:
        return "By its author the figures of the scenario are the hospital's own."
    return "The figures of the scenario are an example: order and buy nothing by them."


def without_numbers(block: str) -> str:
    """Return a block of HTML with a dash in place of each number in its texts."""
    return _BETWEEN_TAGS.sub(lambda text: _FIGURE.sub(_dash, text[0]), block)


def _dash(found: re.Match[str]) -> str:
    return found[0] if found[0].startswith("&") else "-"
