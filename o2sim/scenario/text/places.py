"""Names of places that are refused by their text, before anything opens them."""

from __future__ import annotations

import re

_ADDRESS = re.compile(r"\s*[A-Za-z][A-Za-z0-9+.-]+:[\\/]")  # a single letter is a drive
_SHARE = re.compile(r"\s*[\\/]\s*[\\/]")  # \\server\share, //server/share, and Windows' own \\?\


def address(text: str) -> tuple[str, ...]:
    """Return what is found, allowed and to do where a text is an address as of the web; empty where it is none."""
    if not _ADDRESS.match(text):
        return ()
    return "found an address", "the path of a file or folder on this computer", "download it first, and name that"


def on_network(text: str) -> bool:
    """Return True for an address or a share: opening one tells another machine who asks, and may hang."""
    return bool(_ADDRESS.match(text) or _SHARE.match(text))
