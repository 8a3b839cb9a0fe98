"""How counts, shares and lists of names are written in sentences about patients; figures and laws: law_text.py."""

from __future__ import annotations

from collections.abc import Sequence

from o2sim.records.findings import FEW, few


def counted(count: int, of: int, what: str) -> str:
    """Return "17 of 231 stays"; small counts of patients are not written out."""
    return f"{few(count)} of {few(of)} {what}" if of >= FEW else f"{few(count)} {what}"


def percent(share: float) -> str:
    """Return a share in words: 41 %, and 0.4 % where it is small."""
    return f"{100 * share:.0f} %" if share >= 0.02 or share == 0 else f"{100 * share:.1g} %"


def listed(names: Sequence[str]) -> str:
    """Return names in a sentence: a, b and c."""
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
