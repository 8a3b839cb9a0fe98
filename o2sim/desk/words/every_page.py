"""All words of every page, of the desk itself, and of who may not speak."""

from __future__ import annotations

from o2sim.desk.words.counted import Counted

WORDS: dict[str, str | Counted] = {
    # every page
    "brand": "o2sim desk",
    "to_main": "To the page itself",
    "places": "Places",
    "saved": "saved {when}",
    "no_file": "no file yet",
    "foot": (
        "Plans supply and prescribes nothing: local codes, guidelines and licensed practice come first. Priority "
        "is a modelling order, not triage."
    ),
    "close": "Close the desk",
    "closed": "The desk is closed",
    "closed_said": "All is kept. To open it again: o2sim desk",
    "today": "today {when}",
    "place_desk": "Desk",
    "place_today": "Today",
    "place_hospital": "Your hospital",
    "place_answer": "Answer",
    "place_sheets": "Sheets",
    "place_earlier": "Earlier answers",
    "not_yet": "Not yet: {count} to look at",
    "go_back": "Go back",
    "same_command": "The same as a command",
    "same_command_none": (
        "These steps are the desk’s own. With “Change what may be bought” they are put into the file, and a "
        "command gives the same figures."
    ),
    "same_command_said": "In a terminal, in the folder of the file:",
    # the desk
    "desk": "What do you want to know?",
    "desk_today": "How long does today’s stock last?",
    "desk_today_said": "Count the shelf: order or not, days of cover, the chance of an empty shelf. 2 minutes.",
    "desk_often": "How often will someone go without?",
    "desk_often_said": "Twelve questions; “I do not know” is an answer. For whoever decides. 3 minutes.",
    "desk_buy": "What should we buy?",
    "desk_buy_said": "Cylinders, concentrators: what each step costs and what it saves, given what you own.",
    "desk_keep": "How many cylinders to keep?",
    "desk_keep_said": "Fleet and reorder point for the chance you accept. For the planner.",
    "desk_records_said": (
        "A workbook with a sheet for each book: register, stock card, orders, power cuts. What they give, with "
        "its range, goes into the scenario."
    ),
    "desk_first": "First the answer is worked out from your hospital’s figures.",
    "new": "Begin a new hospital",
    "with_file": "Begin with a file",
    "with_file_said": (
        "A scenario (.yaml) or a filled workbook (.xlsx): it is read and shown, and overwrites nothing."
    ),
    "file": "File",
    "read": "Read this file",
    "in_folder": "In this folder",
    "in_folder_none": "No scenario lies in {folder} yet.",
    "in_folder_more": Counted("{count} more file is not shown.", "{count} more files are not shown."),
    "hospital": "Hospital",
    "last_answer": "Last answer",
    "none_yet": "none yet",
    "cannot_be_read": "cannot be read: see its errors",
    # units of time
    "seconds": "{count} s",
    "minutes": "{count} min",
    # who may not speak
    "refused": "This was not done",
    "refused_400": "What came cannot be read: found too many fields, or a form that is not whole.",
    "refused_403": "Open the desk by its own link: o2sim desk prints a new one, good once, for two minutes.",
    "refused_404": "There is no such page.",
    "refused_405": "This page cannot be asked for in that way.",
    "refused_408": "What was to come did not come in time. Send it again.",
    "refused_411": "Found a message without a length, or with two; allowed: one length.",
    "refused_413": "Found more than 2 MB; allowed: at most that. A scenario has a few kB: choose that file.",
    "refused_421": "Found another name for this computer; allowed: 127.0.0.1. Open the desk by its own link.",
    "refused_422": "What came is not of this page.",
    "refused_431": "Found headers that are too long. Close other tabs, and open the desk by its own link.",
    "refused_500": "Something in o2sim went wrong; nothing of yours is lost. For whoever helps: see the terminal.",
    "opening": "Opening the desk",
    "opening_said": "Go on to the desk",
    # questions by the name of their work
    "ask_answer": "How often will someone go without?",
    "ask_matters": "What would change this answer?",
    "ask_buy": "What should we buy?",
    "ask_power": "If the power gets worse",
    "ask_keep": "How many cylinders to keep?",
    "ask_today": "How long does today’s stock last?",
    "ask_report": "The report",
    "ask_books": "From your books",
    "ask_match": "Does it match last year?",
}  # fmt: skip
