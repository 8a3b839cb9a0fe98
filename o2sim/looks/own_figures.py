"""Whose the figures are in, the marking of what is printed out: a sheet with figures of an example is no sheet.

Somebody who hangs up an example orders and phones by another hospital's numbers. So a page that is not of the
hospital's own figures says so across the whole of it, and shows no number to order or to phone by.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from o2sim.scenario.types.hospital import EXAMPLE as EXAMPLE_FIGURES
from o2sim.scenario.types.hospital import OURS

EXAMPLE = "EXAMPLE - DO NOT HANG UP"
OWN = "Set figures: ours in the scenario once every figure is your hospital's own."
NO_NUMBER = "No number to order or phone by is shown."
_FIGURE = re.compile(r"&#?\w+;|(?<![A-Za-z])\d+(?:[.,:]\d+)*")  # not those of an escaped letter, nor of CO2
_BETWEEN_TAGS = re.compile(r"(?<=>)[^<]+")


def is_ours(result: Mapping[str, Any]) -> bool:
    """Return True if a result is of a scenario whose figures are the hospital's own; not said is not so."""
    return result.get("figures") == OURS


def checked(figures: str) -> str:
    """Return what `o2sim check` says of whose the figures are."""
    if figures == OURS:
        return "Figures: marked as your hospital's own (figures: ours), so sheets can be hung up."
    return (
        f"Figures: marked as an example (figures: {EXAMPLE_FIGURES}, the default), so each sheet to print says "
        f"{EXAMPLE}, without a number to order or phone by. {OWN}"
    )


def said(figures: str) -> str:
    """Return what a report says of whose the figures are."""
    if figures == OURS:
        return "By its author the figures of the scenario are the hospital's own."
    return "The figures of the scenario are an example: order and buy nothing by them."


def without_numbers(block: str) -> str:
    """Return a block of HTML with a dash in place of each number in its texts."""
    return _BETWEEN_TAGS.sub(lambda text: _FIGURE.sub(_dash, text[0]), block)


def _dash(found: re.Match[str]) -> str:
    return found[0] if found[0].startswith("&") else "-"
