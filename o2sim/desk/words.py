"""All words of the desk, in one place; another language is another catalogue of the standard library's gettext.

Templates hold no sentence of their own. Sentences and tables of an answer come from the questions' own words.
"""

from __future__ import annotations

import datetime as dt
import gettext
from functools import cache

DOMAIN = "o2sim-desk"

WORDS: dict[str, str] = {
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
    "place_hospital": "Your hospital",
    "place_answer": "Answer",
    "place_sheets": "Sheets",
    "place_earlier": "Earlier answers",
    "not_yet": "Not yet: {count} to look at",
    "go_back": "Go back",
    "same_command": "The same as a command",
    "same_command_said": "In a terminal, in the folder of the file:",
    # the desk
    "desk": "What do you want to know?",
    "desk_often": "How often will someone go without?",
    "desk_often_said": "Twelve questions; “I do not know” is an answer. For whoever decides. 3 minutes.",
    "desk_buy": "What should we buy?",
    "desk_buy_said": "Cylinders, concentrators: what each step costs and what it saves, given what you own.",
    "desk_keep": "How many cylinders to keep?",
    "desk_keep_said": "Fleet and reorder point for the chance you accept. For the planner.",
    "desk_first": "First the answer is worked out from your hospital’s figures.",
    "new": "Begin a new hospital",
    "with_file": "Begin with a file",
    "with_file_said": "A scenario (.yaml) that somebody wrote: it is read and shown, and overwrites nothing.",
    "file": "File",
    "read": "Read this file",
    "in_folder": "In this folder",
    "in_folder_none": "No scenario lies in {folder} yet.",
    "in_folder_more": "{count} more files are not shown.",
    "hospital": "Hospital",
    "last_answer": "Last answer",
    "none_yet": "none yet",
    "cannot_be_read": "cannot be read: see its errors",
    # questions
    "page_of": "Page {page} of {pages}",
    "ours": "This is our figure",
    "use": "Use {usual} ({source})",
    "unknown": "I do not know ({low} to {high} is tried)",
    "two_ends": "{low}; high: {high}",
    "month_bad": "Found “{found}”. Choose a month of the list.",
    "month_none": "not chosen",
    "ends_from": "The ends: {source}.",
    "in_other_form": "This stands in the file in another form, in line {line}: {found}. It is left as it is.",
    "empty": "Write a number, or choose “I do not know”.",
    "next": "Next: {page}",
    "work_with_what_is_here": "Work out the answer with what is here",
    "back_to": "Back: {page}",
    "assumed": "What we assumed, and from where",
    "assumed_later": (
        "All other figures (who is short of oxygen, flows, days on oxygen, failures) will stand in the file with "
        "their sources, once an answer was worked out."
    ),
    "assumed_said": "Every figure of {file}, and where it comes from. What no page asks for is changed in it.",
    "assumed_stated": "Back to what the file states",
    "assumed_whole": "The whole",
    "assumed_strategy": "{name}, where it differs",
    "assumed_what": "What",
    "assumed_value": "Value",
    "assumed_from": "Where it comes from",
    "assumed_change": "Change it",
    "assumed_defaults": "What the file does not state: {count} defaults",
    "assumed_no_source": "stated",
    "kept_draft": "What you type is kept on this computer as you leave a field.",
    # a file that was read
    "understood": "What was understood",
    "understood_said": "{name}: {count} of {of} figures are in the file.",
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
    "workbook": (
        "Found a workbook (.xlsx). A scenario is a text file that ends in .yaml; to begin without one, answer the "
        "questions. Nothing was kept of the workbook."
    ),
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
    # run
    "run_ready": "Getting ready",
    "run_ready_said": "Once after installation, a minute or two. You may go on answering questions meanwhile.",
    "run_waiting": "Waiting",
    "run_waiting_said": "It begins as soon as the computer is free for it.",
    "run_running": "Working it out",
    "run_running_said": (
        "{of} years like the one you describe are simulated, each with its own patients, power cuts and roads."
    ),
    "run_running_other": "Each step meets the same patients, power cuts and roads.",
    "run_stopping": "Stopping",
    "run_stopped": "Stopped",
    "run_stopped_said": "What was finished is kept. Go on takes it up where it was.",
    "run_failed": "Could not be worked out",
    "run_lost": "The work was broken off",
    "run_lost_said": "Its process ended from outside. What was finished is kept: go on.",
    "run_done": "Done",
    "run_none": "Nothing is being worked out",
    "run_years": "{done} of {of} years simulated",
    "run_steps": "{done} of {of} done",
    "run_left": "{said}; about {left} to go",
    "run_where": "For whoever helps: {error}",
    "run_close_page": "You may close this page or go to another: the work goes on, and the answer is kept.",
    "stop": "Stop here",
    "go_on": "Go on",
    "see_answer": "See the answer",
    "busy": "Other work is being done",
    "busy_said": "{what} is at work: {done}. One thing is worked out at a time.",
    "busy_stop": "Stop the other and begin this one",
    "busy_leave": "Leave it, and look at it",
    # answer
    "answer": "The answer",
    "answer_none": "Nothing has been worked out for this hospital yet.",
    "work_out": "Work out the answer",
    "work_again": "Work it out again",
    "stopped_at": "Stopped at {done} of {of} years.",
    "yours": "{yours} of {of} figures are yours.",
    "yours_rest": "{rest} are examples or unknown: this is about a hospital like yours, not yet about yours.",
    "yours_all": "All {of} figures are yours.",
    "put_in": "Put in your figures",
    "at_likely": "With the likely figures",
    "at_likely_said": "What is not known stands at its likely value here; the intervals hold chance alone.",
    "range_missing": "Stopped before the range over what is not known was worked out: go on before deciding.",
    "changed_since": "The file has changed since this was worked out ({when}).",
    "to_matters": "What would change this answer?",
    "to_buy": "What should we buy?",
    "to_power": "If the power gets worse",
    "to_keep": "How many cylinders to keep?",
    "counted": "What was counted, and how it comes out again",
    "run_line": "o2sim {version} | scenario {hash} | seed {seed} | {done} replications | engine {engine}",
    "print": "Print",
    "make_report": "Make the report (.html)",
    "save_report": "Save the report (.html)",
    "save_scenario": "Save the scenario (.yaml)",
    "cautions": "Cautions",
    # what would change it
    "matters": "What would change this answer?",
    "matters_table": "What to find out, most telling first",
    "matters_what": "Unknown",
    "matters_tried": "Tried",
    "matters_years": "Of 100, at low → high",
    "matters_best": "Best becomes",
    "matters_who": "Who knows",
    "matters_between": "{low} to {high}",
    "matters_ends": "{low} → {high}{luck}",
    "matters_luck": " (no more than chance)",
    "matters_same": "{name} throughout",
    "matters_turn": "{name}, from {begins} on (tried: {tried})",
    "matters_note": (
        "Each figure alone at its lowest and at its highest, all others likely: how often somebody goes without, "
        "of 100 simulated, with “{name}”. Best is the way of supply with the fewest."
    ),
    "put_found": "Put in what I found out",
    "matters_none": "No figure of the file is marked as unknown. Where a figure is a guess, say “I do not know”.",
    # buying
    "buy": "What should we buy?",
    "buy_owned": "You own already",
    "buy_owned_said": "From the file: {what}.",
    "buy_owned_none": "The file does not say so, so all that it counts would be bought.",
    "buy_draft": "Draft: {rest} figures are not yet yours, so buy nothing by this list.",
    "buy_no_prices": "The file states no prices, so nothing can be said of what to buy.",
    "buy_prices": "Put in prices",
    "buy_options_said": "Tried are, for “{strategy}”: {what}.",
    "buy_strategy": "For which way of supply",
    "owned_item": "{count} {item}",
    "owned_of": "of {count} in the file",
    "owned_of_range": "of about {count} in the file: not known",
    "owned_save": "Put these in",
    "owned_all": "All that the file counts is there already",
    "owned_put": "{count} of what is owned put in",
    "owned_bad": "Found “{found}”. Write a whole number, or leave it empty.",
    "owned_age": "They count as new, unless the file says how old they are.",
    "own_cylinders": "Cylinders",
    "own_regulators": "Regulators",
    "own_concentrators": "Concentrators",
    "own_cylinders.fleet": "cylinders in all:",
    "own_concentrators.count": "concentrators in all:",
    "buy_sum": "{currency} {sum}",
    "buy_slider": "Money for purchases this year",
    "buy_table": "Step by step: only these sums were worked out",
    "buy_pay": "To pay now",
    "buy_what": "Buy",
    "buy_year": "Total cost a year, {currency}",
    "buy_years": "Someone goes without, of 100 {runs}",
    "buy_sure": "Difference",
    "buy_first": "-",
    "buy_clear": "clear difference",
    "buy_alike": "no clear difference",
    "buy_seen": "{seen}{band}",
    "buy_band": " ({low}–{high})",
    "buy_hours": "{hours} patient-hours a year unserved, of any cause",
    "buy_nothing": "nothing",
    "buy_more": "{count} more things",
    "buy_without": "{count} lines of the list have no price",
    "buy_no_steps": "None of what was tried has a price.",
    "buy_lead": "With {money} this year: {buy}. Someone then goes without in {seen} of 100 {runs}.",
    "buy_lead_before": "With {money} it is {seen}.",
    "buy_lead_after": "More money shows no clear difference.",
    "buy_note": (
        "What is owned is taken off. Each step is compared with the last one that made a clear difference. In "
        "brackets 95 % intervals, of chance in the simulation only. When to order stays as in the file. Total "
        "cost a year: purchases over their lives, filling, transport and upkeep."
    ),
    "buy_list": "Make the purchase list",
    "buy_list_csv": "The list for a spreadsheet (.csv)",
    "list_draft": (
        "DRAFT: {rest} of {of} figures that decide are examples or unknown. Find them out before anything is "
        "ordered."
    ),
    "list_of": "{name}, “{option}”: {in_all}",
    # prices
    "prices": "Prices",
    "prices_optional": "Optional, beside the twelve questions",
    "prices_said": "Leave empty what you do not know: it is in no total, and the answers say so.",
    "prices_link": "Prices (optional)",
    "prices_save": "Save the prices",
    "price_letters": "(currency)",
    "price_ask": "({who})",
    "price_no_currency": "Write the currency of the prices first, such as USD.",
    "price_published": "This price was published in {currency}: convert it, and write it as your figure.",
    "price_changed": "The file was changed after this page was opened. What you typed is here: save again.",
    "price_put": "{count} prices put in",
    # worse power
    "power": "If the power gets worse",
    "power_said": "How long does a usual power cut last? Every length was tried under the same luck; choose one.",
    "power_slider": "Usual length of a power cut",
    "power_table": "Years in 100 with a supply shortfall, and patient-hours unserved for lack of supply a year",
    "power_head": "Usual cut",
    "power_cell": "{chance} in 100 ({low}–{high})",
    "power_hours": "{hours} h",
    "power_note": (
        "A usual cut is the {kind}. In brackets 95 % intervals: two rows whose intervals overlap show no clear "
        "difference. What was not tried is not shown; nothing is guessed between values."
    ),
    "power_mean": "mean of all cuts",
    "power_median": "median: half are shorter",
    "power_none": "The file says nothing of power cuts that can be made longer here.",
    "power_in_file": "{value} (as in the file)",
    # how much to keep
    "keep": "How many cylinders to keep?",
    "keep_target": "How often may it happen that someone goes without?",
    "keep_in": "{count} years in 100",
    "keep_in_one": "1 year in 100",
    "keep_strategy": "For which way of supply",
    "keep_none": "No strategy of the file has cylinders that are ordered again.",
    "keep_take": "Take {fleet} into the scenario",
    "keep_taken": "{fleet} cylinders taken into “{strategy}”",
    "keep_note": "{note}: enough for {years} years in 100 by its answer",
    "keep_not_taken": "The file has changed since this was worked out, so nothing was written. Work it out again.",
    "keep_table": "One less, one more",
    "keep_cylinders": "Cylinders",
    "keep_years": "Someone goes without, of 100 {runs}",
    "keep_band": "{seen} ({band})",
    "keep_enough": "Enough?",
    "keep_answer": "{fleet} (the answer)",
    "keep_there": "{fleet} (there now)",
    "yes": "yes",
    "no": "not shown",
    "keep_table_note": (
        "In brackets 95 % intervals, of chance in the simulation only. A number is enough where the simulation "
        "shows it to be, with 95 % confidence."
    ),
    "keep_sheets": "Print the sheets for this",
    "go_work": "Work out",
    # sheets
    "sheets": "Sheets for the wall and the trolley",
    "sheets_from": "Made from {file} and the answer of {when}.",
    "sheets_none": "Sheets are made from an answer to “How many cylinders to keep?”.",
    "sheets_no_answer": "That answer found no number of cylinders that is enough, so there is nothing to hang up.",
    "sheets_example": (
        "They are marked “EXAMPLE - DO NOT HANG UP” and show no number to order or phone by: not all figures are "
        "yours yet."
    ),
    "sheet_changed": "“{sheet}” as you last opened it {what}",
    "sheet_number": "says {then}, the answer now says {now}.",
    "sheet_other": "has other figures than the answer now.",
    "sheet_example_then": "was an example; it is none any more.",
    "sheet_example_now": "is out of date; the new one is an example, not to be hung up. Take the old one down.",
    "print_again": "Print it again",
    "ours_said": "All twelve figures are yours. What else stands in the file is assumed: look at it first.",
    "ours_button": "These figures hold for our hospital",
    "ours_put": "All figures were said to be the hospital’s own",
    "sheet": "Sheet",
    "where_hung": "Where it hangs",
    "do": "Do",
    "sheet_count-sheet.html": "Count sheet",
    "sheet_dusk-page.html": "Oxygen for the night",
    "sheet_reorder-card.html": "When to order",
    "hangs_count-sheet.html": "store, each week",
    "hangs_dusk-page.html": "ward, at dusk",
    "hangs_reorder-card.html": "store door",
    "open_to_print": "Open to print: {what}",
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
        "itself stays where it is; it is yours."
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
    # units of time
    "seconds": "{count} s",
    "minutes": "{count} min",
    # questions by the name of their work
    "ask_answer": "How often will someone go without?",
    "ask_matters": "What would change this answer?",
    "ask_buy": "What should we buy?",
    "ask_power": "If the power gets worse",
    "ask_keep": "How many cylinders to keep?",
    "ask_report": "The report",
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
}  # fmt: skip


@cache
def _catalogue(language: str) -> gettext.NullTranslations:
    return gettext.translation(DOMAIN, languages=[language], fallback=True)


def say(name: str, language: str = "en", /, **values: object) -> str:
    """Return a text by its name, in a language, with values put in."""
    return _catalogue(language).gettext(WORDS[name]).format(**values)


def translated(text: str, language: str = "en") -> str:
    """Return a text that stands elsewhere, such as of a question, in a language."""
    return _catalogue(language).gettext(text) if text else ""  # of an empty text a catalogue gives its head


def moment(when: dt.datetime, today: dt.date) -> str:
    """Return a time of day, with the day where that is not today."""
    clock = f"{when:%H:%M}"
    if when.date() == today:
        return say("today", when=clock)
    return f"{when.day} {when:%b %Y} {clock}"


def duration(seconds: float) -> str:
    """Return about how long something takes, rounded up: "8 s", "2 min"."""
    if seconds < 90:
        return say("seconds", count=max(1, round(seconds)))
    return say("minutes", count=-int(-seconds // 60))
