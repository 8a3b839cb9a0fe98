"""All words about files that are read, earlier answers, and a file that another window changed."""

from __future__ import annotations

from o2sim.desk.words.counted import Counted

WORDS: dict[str, str | Counted] = {
    # a file that was read
    "understood": "What was understood",
    "understood_said": Counted(
        "{name}: {count} of {of} figures is in the file.", "{name}: {count} of {of} figures are in the file."
    ),
    "question": "Question",
    "found": "Found",
    "missing": "not in the file",
    "other_form": "in another form, line {line}: {what}",
    "said_unknown": "not known: a range is tried",
    "save_as": "Save it in this folder as",
    "save_as_said": "Letters, digits, spaces, _ and - only, at most 60. No file is overwritten.",
    "save_here": "Save and go on",
    "errors_in": "Not yet: {count} to look at in {file}",
    "line": "Line {line}",
    "allowed": "allowed: {what}",
    "errors_what_next": "Mend these in the file with a text editor, save it, read it again. Nothing was kept.",
    "workbook_unsafe": "Found a workbook that cannot be opened safely: {why}. Nothing was kept of it.",
    "zip_broken": "it is not whole",
    "zip_many": "found {found} parts; allowed: at most {allowed}",
    "zip_large": "found about {found} MB when unpacked; allowed: {allowed} MB, and a hundred times its size",
    "zip_locked": "it is locked by a password",
    "no_upload": "Choose a file first; its name ends in .yaml.",
    "bad_ending": "Found a file that is no scenario; allowed: a text file whose name ends in .yaml or .yml.",
    # file names
    "name_bad": "Found “{found}”; allowed: letters, digits, spaces, _ and -, at most 60 of them.",
    "name_taken": "{found} is there already; choose another name. No file is overwritten.",
    # earlier answers
    "earlier": "Earlier answers",
    "earlier_none": "No answer is kept yet.",
    "when": "When",
    "asked": "Question",
    "what_answer": "Answer",
    "open": "Open",
    "other_version": "made by another version",
    "old_file": "the file has changed since",
    "stopped_short": "stopped at {done} of {of}",
    "changes": "Changes to the file",
    "changes_none": "None yet.",
    "change_said": "{when} {what}",
    "undo": "Undo this change",
    "undone": "Undone: {what}",
    "first_written": "The file was made here",
    "cannot_undo": "The file was changed after this, so it is not undone: undo the later changes first.",
    "forget": "Forget this hospital",
    "forget_said": (
        "Removes all that the desk keeps of {file}: answers, changes, what was typed, finished years. The file "
        "itself and its stock card stay where they are; they are yours."
    ),
    "forget_sure": "Forget all of it",
    "forgotten": "Nothing is kept any more of {file}.",
    "changed": "{label}: {before} → {after}",
    # two windows
    "other_window": "This was changed in another window",
    "other_window_said": (
        "{file} was saved at {when}, after you opened this page. Nothing of yours is lost; choose."
    ),
    "which": "Which figures hold?",
    "figure": "Figure",
    "saved_there": "Saved at {when}",
    "on_this_page": "Yours, on this page",
    "save_chosen": "Save what is chosen",
    "leave_file": "Leave the file as it is",
    "file_gone": "{file} is not in the folder any more. Choose another, or begin a new hospital.",
}  # fmt: skip
