"""All words of what to buy, how much to keep, and the sheets."""

from __future__ import annotations

from o2sim.desk.words.counted import Counted

WORDS: dict[str, str | Counted] = {
    # buying
    "buy": "What should we buy?",
    "buy_owned": "You own already",
    "buy_owned_said": "From the file: {what}.",
    "buy_owned_none": "The file does not say so, so all that it counts would be bought.",
    "buy_draft": Counted(
        "Draft: {rest} figure is not yet yours, so buy nothing by this list.",
        "Draft: {rest} figures are not yet yours, so buy nothing by this list.",
        "rest",
    ),
    "buy_no_prices": "The file states no prices, so nothing can be said of what to buy.",
    "buy_prices": "Put in prices",
    "buy_options_said": "Tried are, for “{strategy}”: {what}.",
    "buy_strategy": "For which way of supply",
    "thing": "{count} {item}",
    "thing_cylinders": Counted("{count} cylinder", "{count} cylinders"),
    "thing_regulators": Counted("{count} regulator", "{count} regulators"),
    "thing_concentrators": Counted("{count} concentrator", "{count} concentrators"),
    "thing_concentrators_of": Counted("{count} concentrator “{model}”", "{count} concentrators “{model}”"),
    "thing_splitters": Counted("{count} splitter", "{count} splitters"),
    "thing_humidifiers": Counted("{count} humidifier", "{count} humidifiers"),
    "thing_oximeters": Counted("{count} oximeter", "{count} oximeters"),
    "thing_oxygen monitors": Counted("{count} oxygen monitor", "{count} oxygen monitors"),
    "owned_of": "of {count} in the file",
    "owned_of_range": "of about {count} in the file: not known",
    "owned_save": "Put these in",
    "owned_all": "All that the file counts is there already",
    "owned_put": Counted("{count} number of what is owned put in", "{count} numbers of what is owned put in"),
    "owned_bad": "Found “{found}”. Write a whole number, or leave it empty.",
    "owned_age": "They count as new, unless the file says how old they are.",
    "own_cylinders": "Cylinders",
    "own_regulators": "Regulators",
    "own_concentrators": "Concentrators",
    "own_cylinders.fleet": "cylinders in all:",
    "own_concentrators.count": "concentrators in all:",
    "own_units": "concentrators “{model}” bought:",
    "own_listed": (
        "Concentrators are listed in the file (concentrators.units), with which of them are owned and how old "
        "these are. Change the list there, by hand."
    ),
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
    "buy_hours": Counted(
        "{hours} patient-hour a year unserved, of any cause",
        "{hours} patient-hours a year unserved, of any cause",
        "hours",
    ),
    "buy_nothing": "nothing",
    "buy_more": Counted("{count} more thing", "{count} more things"),
    "buy_without": Counted(
        "{count} line of each list has no price yet, and is in none of these sums.",
        "{count} lines of each list have no price yet, and are in none of these sums.",
    ),
    "buy_without_most": Counted(
        "Up to {count} line of a list has no price yet, and is in none of these sums.",
        "Up to {count} lines of a list have no price yet, and are in none of these sums.",
    ),
    "buy_no_steps": "None of what was tried has a price.",
    "buy_lead": "With {money} this year: {buy}. Someone then goes without in {seen} of 100 {runs}.",
    "buy_lead_before": "With {money} it is {seen}.",
    "buy_lead_after": "More money shows no clear difference.",
    "buy_lacking": "{what}.",
    "buy_payers": "To begin with: {what}",
    "buy_paid_by": "{payer} {sum}",
    "buy_note": (
        "What is owned is taken off. Each step is compared with the last one that made a clear difference. In "
        "brackets 95 % intervals, of chance in the simulation only. When to order stays as in the file. Total "
        "cost a year: purchases over their lives, filling, transport and upkeep."
    ),
    "may": "What may be bought",
    "may_change": "Change what may be bought",
    "may_intro": (
        "These numbers are tried, each with each of the others: as many ways to buy as there are combinations. "
        "They are written into the file."
    ),
    "may_of": "For which way of supply",
    "may_cylinders": "Cylinders in all",
    "may_regulators": "Regulators in all",
    "may_concentrators": "Concentrators in all",
    "may_hint": "Numbers with commas between them. The file has {there} now; what is owned counts among them.",
    "may_listed": (
        "Concentrators are listed in the file by their models (concentrators.units), so no field here has them. "
        "The desk’s own steps try one and two more of each model; other choices are written in the file, by hand: "
        "a name under options.vary with the whole list for each choice."
    ),
    "may_bad": "Found “{found}”. Write whole numbers with commas between them, such as 20, 30, 40.",
    "may_many": "Found {found} numbers; allowed: at most {most}.",
    "may_others": "Also tried",
    "may_other": "{name}: {said} (line {line} of the file)",
    "may_others_said": "Change these in the file, by hand. Clear a mark to take one out of it.",
    "may_save": "Try these",
    "may_note": (
        "Leave a field empty where only what the file says is tried; with all of them empty the desk tries steps "
        "of its own. When to order stays as the file says."
    ),
    "may_put": "What may be bought was changed",
    "may_said": Counted(
        "Tried is {count} way to buy for “{strategy}”, as the file says: {what}.",
        "Tried are {count} ways to buy for “{strategy}”, as the file says: {what}.",
    ),
    "buy_list": "Make the purchase list",
    "buy_list_csv": "The list for a spreadsheet (.csv)",
    "list_draft": Counted(
        "DRAFT: {rest} of {of} figures that decide is an example or unknown. Find it out before anything is "
        "ordered.",
        "DRAFT: {rest} of {of} figures that decide are examples or unknown. Find them out before anything is "
        "ordered.",
        "rest",
    ),
    "list_of": "{name}, “{option}”: {in_all}",
    # how much to keep
    "keep": "How many cylinders to keep?",
    "keep_target": "How often may it happen that someone goes without?",
    "keep_in": Counted("{count} year in 100", "{count} years in 100"),
    "keep_strategy": "For which way of supply",
    "keep_none": "No strategy of the file has cylinders that are ordered again.",
    "keep_by_size": (
        "Cylinders of several sizes are sized one size at a time, the others as they are; that is done by the "
        "command o2sim size with --of SIZE, which also makes the sheets."
    ),
    "keep_take": "Take {fleet} into the scenario",
    "keep_taken": Counted(
        "{fleet} cylinder taken into “{strategy}”", "{fleet} cylinders taken into “{strategy}”", "fleet"
    ),
    "keep_note": Counted(
        "{note}: enough for {years} year in 100 by its answer",
        "{note}: enough for {years} years in 100 by its answer",
        "years",
    ),
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
}  # fmt: skip
