"""All words about the books of a hospital: the workbook, what is wrong in it, what it gave, whether it matches."""

from __future__ import annotations

from o2sim.desk.words.counted import Counted

WORDS: dict[str, str | Counted] = {
    # the workbook
    "records": "From your books",
    "records_said": (
        "Register, stock card, order book, notebook of power cuts: what they say counts for more than a guess. "
        "Fill in the sheets you have books for; every sheet may stay empty."
    ),
    "records_1": "1. Take the workbook",
    "records_2": "2. Send it filled in",
    "records_template": "Save the empty workbook (.xlsx)",
    "records_fill": "Sheets to fill for what is not known yet",
    "records_fill_also": "Fill in Place too: it says which days each book covers.",
    "records_sheet": "Sheet",
    "records_for": "For",
    "records_more": Counted("{said}; and {count} more", "{said}; and {count} more"),
    "records_private": (
        "No names, numbers or addresses of patients: columns that the workbook does not have are not read. It is "
        "deleted as soon as it is read, and nothing of its rows is kept."
    ),
    "records_go": "Read it",
    "records_match": "Does it match last year?",
    "records_match_said": (
        "“Read it” finds figures with their ranges; you then choose which go into the scenario. “Does it match "
        "last year?” changes nothing: it lays the scenario as it is against what was recorded."
    ),
    "records_seen": "What your books gave",
    "workbook_file": "Workbook",
    "no_workbook": "Choose the filled workbook first; its name ends in .xlsx.",
    "records_busy": (
        "{what} is being worked out, one thing at a time. Stop it or wait, then send the workbook again."
    ),
    "matters_record": "Make a workbook to record these",
    # work on it
    "run_books": (
        "The books are read and fitted, then the recorded time is simulated to see whether it matches. The "
        "workbook is deleted as soon as it is read."
    ),
    "run_books_gone": "Nothing of the workbook is kept: send it again.",
    # what is wrong
    "records_wrong": Counted("Not yet: {count} thing to put right in the workbook",
                             "Not yet: {count} things to put right in the workbook"),
    "records_mend": "Put these right in your workbook, save it, and send it again. Nothing of it was kept.",
    "records_doubtful": "Doubtful, and read as it stands",
    "records_whole": "the whole workbook",
    "records_rows": "{sheet}, {cell}",
    "records_write": "write: {what}",
    # what they gave
    "books": "What your books give",
    "books_short": "{short}. Choose what goes into the scenario.",
    "books_in": "These figures stand in the scenario. Work out the answer, or look at what no book gave.",
    "books_cautions": "Look at this first",
    "books_more": Counted("{count} more caution", "{count} more cautions"),
    "books_take": "Take it",
    "books_ranges": "In brackets: 5 and 95 % points, of 200 joint draws.",
    "books_there": "stands in the scenario",
    "books_pictures": Counted("Picture of it", "{count} pictures of it"),
    "books_put": "Put these into the scenario",
    "books_put_said": (
        "Each figure is written with a comment that says which book it is from; all else stays letter by letter. "
        "“Earlier answers” undoes it. Figures from your books count as yours."
    ),
    "books_put_in": Counted("{count} figure put in from the books", "{count} figures put in from the books"),
    "books_none_chosen": "Tick at least one of them.",
    "books_rest": "What no book gave",
    "books_unused": "Given, and not used",
    "books_doubts": "What reading the books found doubtful",
    "books_draws": "Save the draws (.csv)",
    "books_page": "Save the page with all pictures (.html)",
    "books_command": (
        "In a terminal, in the folder of the file, with your workbook as {name} and the draws saved there:"
    ),
    "books_left": Counted(
        "{count} more picture is on the page to save.", "{count} more pictures are on the page to save."
    ),
    "books_back": "Back to what your books give",
    "books_other": "Send another workbook",
    # does it match
    "match": "Does it match last year?",
    "match_whole": "The scenario with all that your books gave in it, against what was recorded.",
    "match_file": "The scenario as it was, against what was recorded.",
    "match_none": "It cannot be said: {why}",
    "match_figures": "The figures",
    "match_limits": "What this does not know",
    "match_page": "Save this page with all pictures (.html)",
}  # fmt: skip
