"""Work on workbooks for an engine room without a compiler: reading and fitting are real, the match is made up."""

import time

from o2sim.desk import books_kept, work, work_books

MATCH = {"whole": True, "is_none": False, "said": ["It may be trusted.", "Doubt nothing."], "pictures": [],
         "figures": [{"kind": "text", "text": "48 of 50."}], "limits": [], "line": "seed 1"}  # fmt: skip


def get_ready():
    """Be ready at once."""


def do(name, given, progress):
    """Do the work; a file named `slow.yaml` keeps it waiting after the workbook is read."""
    work_books._matched = _matched
    if given["file"] == "slow.yaml":
        time.sleep(30)
    return work.do(name, given, progress)


def _matched(*_, whole):
    return {books_kept.MATCH: {**MATCH, "whole": whole}, books_kept.MATCH_PAGE: "<style></style>matched"}
