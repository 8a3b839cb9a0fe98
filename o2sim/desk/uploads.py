"""What may be read of a file that was sent; its own name is never a path, and nothing of it is kept.

A workbook is looked at from outside only, before anything opens it: a few kB can unpack to gigabytes.
"""

from __future__ import annotations

import io
import zipfile
from pathlib import PurePath

from o2sim.desk.folder import ENDINGS
from o2sim.desk.words import say
from o2sim.scenario.text import nodes
from o2sim.scenario.text.problems import Problems

WORKBOOK = b"PK\x03\x04"
MOST_ENTRIES, MOST_UNPACKED, MOST_RATIO = 200, 40_000_000, 100
ENCRYPTED = 0x1  # a flag of an entry


def why_refused(name: str, content: bytes) -> str:
    """Return why a file is not read, "" where it may be."""
    if content.startswith(WORKBOOK):
        unsafe = why_unsafe(content)
        return say("workbook_unsafe", why=unsafe) if unsafe else ""
    if PurePath(name).suffix.lower() not in ENDINGS:
        return say("bad_ending")
    return ""


def why_unsafe(content: bytes) -> str:
    """Return why a workbook cannot be opened safely, "" where it can."""
    try:
        entries = zipfile.ZipFile(io.BytesIO(content)).infolist()
    except (zipfile.BadZipFile, OSError, ValueError, NotImplementedError):
        return say("zip_broken")
    unpacked = sum(each.file_size for each in entries)
    if len(entries) > MOST_ENTRIES:
        return say("zip_many", found=len(entries), allowed=MOST_ENTRIES)
    if unpacked > MOST_UNPACKED or unpacked > MOST_RATIO * len(content):
        return say("zip_large", found=unpacked // 1_000_000, allowed=MOST_UNPACKED // 1_000_000)
    if any(each.flag_bits & ENCRYPTED for each in entries):
        return say("zip_locked")
    return ""


def text_of(content: bytes, name: str) -> str:
    """Return the text of a scenario. Raises ScenarioError where it is too large or no text."""
    problems = Problems(name)
    if len(content) > nodes.LARGEST_FILE:
        nodes.fatal(problems, 0, "the file is too large", f"at most {nodes.LARGEST_FILE // 1024} kB")
    return nodes.decode(content, problems)
