"""What a check yields, and times as messages show them."""

from __future__ import annotations

Doubt = tuple[str, str, str]  # field, what was found, what to do


def minutes(seconds: float) -> str:
    """Return a time for a message: minutes up to three hours, then hours."""
    return f"{seconds / 60:.3g} min" if seconds < 3 * 3600 else f"{seconds / 3600:.3g} h"
