"""Whose the figures are in, the marking of what is printed out: a sheet with figures of an example is no sheet.

Somebody who hangs up an example orders and phones by another hospital's numbers. So a page that is not of the
hospital's own figures says so across the whole of it, and shows no number to order or to phone by.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from html import escape
from typing import Any

from o2sim.scenario.types.hospital import EXAMPLE as EXAMPLE_FIGURES
from o2sim.scenario.types.hospital import OURS

EXAMPLE = "EXAMPLE - DO NOT HANG UP"
OWN = "Set figures: ours in the scenario once every figure is your hospital's own."
NO_NUMBER = "No number to order or phone by is shown."
BANDS = 6  # across an A4 page: whatever edge is cut off, some are left
# In front of everything, since tables have backgrounds, but thin enough to read what is below. Fixed: the browser
# prints it again on every sheet of paper.
STYLE = """
.example { border: 3pt solid #000; padding: 1mm 3mm; margin: 1.5mm 0 2mm; text-align: center;
           font-size: 8.5pt; }
.example b { display: block; font-size: 16pt; line-height: 1.15; letter-spacing: 0.5pt; }
.bands { position: fixed; top: 0; bottom: 0; left: 0; right: 0; overflow: hidden; z-index: 9;
         pointer-events: none; display: flex; flex-direction: column; justify-content: space-around; }
.bands span { display: block; text-align: center; white-space: nowrap; transform: rotate(-18deg);
              font: bold 35pt "Liberation Sans", Arial, Helvetica, sans-serif; color: rgba(0, 0, 0, 0.2); }
"""
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


def bands() -> str:
    """Return the words that lie across a page, again and again; read aloud once only, in the banner."""
    return f'<div class="bands" aria-hidden="true">{f"<span>{EXAMPLE}</span>" * BANDS}</div>'


def banner(why: str) -> str:
    """Return the words above everything, with what to do."""
    return f'<div class="example" role="note"><b>{EXAMPLE}</b>{escape(why)}</div>'


def without_numbers(block: str) -> str:
    """Return a block of HTML with a dash in place of each number in its texts."""
    return _BETWEEN_TAGS.sub(lambda text: _FIGURE.sub(_dash, text[0]), block)


def _dash(found: re.Match[str]) -> str:
    return found[0] if found[0].startswith("&") else "-"
