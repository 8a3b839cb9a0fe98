"""Nothing in, the cautions shown beside results out: short for the terminal, long for pages and files.

All are common practice; local codes, local guidelines and licensed practice come first.
"""

from __future__ import annotations

SHORT = (
    "This plans supply and prescribes nothing: local codes, guidelines and licensed practice come first.",
    "Priority is a modelling order, not triage: never withdraw oxygen because of this output.",
    "Unserved hours are not deaths, and the tolerated gap is not a safe time without oxygen.",
    "Concentrators only is a comparison: every point of use needs a back-up cylinder, regulator and key.",
    "Fire: no smoking, flame, oil or grease near oxygen; keep cylinders upright and secured.",
    "Guide the flow by pulse oximetry: too much oxygen harms the eyes of preterm babies.",
)

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
        "Never adapt or force a fitting, and never fill one cylinder from another.",
        "Bedside duration tables hold for one size and filling pressure; round down and allow for gauge error.",
    ),
    "Concentrators": (
        "A strategy of concentrators alone is shown for comparison; every point of use needs a back-up cylinder, "
        "regulator and key.",
        "With a flow splitter, give each patient a flowmeter and check the concentration at the total flow.",
        "Run generators outdoors (carbon monoxide) and behind a changeover switch.",
    ),
    "Patients": (
        "Guide the flow by pulse oximetry.",
        "Too much oxygen harms the eyes of preterm babies and adults at risk of retaining CO2: use local targets.",
        "Humidify for nasopharyngeal catheters and high flows.",
    ),
    "What was not compared": (NOT_COMPARED,),
}


def long_text() -> str:
    """Return all cautions as plain text, one heading and its points a paragraph."""
    parts = ["\n".join([heading, *(f"  - {point}" for point in points)]) for heading, points in LONG.items()]
    return "\n\n".join(parts) + "\n"
