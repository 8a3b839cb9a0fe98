"""All words of the questions about a hospital, its prices, and what is assumed."""

from __future__ import annotations

from o2sim.desk.words.counted import Counted

WORDS: dict[str, str | Counted] = {
    # questions
    "page_of": "Page {page} of {pages}",
    "as_in_file": "As in the file, which does not say whose it is",
    "confirmed": "{label}: {figure}, the hospital’s own",
    "ours": "This is our figure",
    "use": "Use {usual} ({source})",
    "unknown": "I do not know ({low} to {high} is tried)",
    "two_ends": "{low}; high: {high}",
    "month_bad": "Found “{found}”. Choose a month of the list.",
    "month_none": "not chosen",
    "ends_from": "The ends: {source}.",
    "in_books": "From your books, with its range: line {line} of the file. It is left as it is.",
    "in_other_form": "This stands in the file in another form, in line {line}: {found}. It is left as it is.",
    "empty": "Write a number, or choose “I do not know”.",
    "own_said": "Here a way of supply has a figure of its own, and the figure above does not hold for it.",
    "own_stands": "Stands under “{strategy}”:",
    "own_other": "Under “{strategy}” it stands in another form, in line {line}: {found}. It is left as it is.",
    "own_label": "{label}, under “{strategy}”",
    "own_empty": "Write a number: this figure stands in the file.",
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
    "assumed_defaults": Counted(
        "What the file does not state: {count} default", "What the file does not state: {count} defaults"
    ),
    "assumed_no_source": "stated",
    "kept_draft": "What you type is kept on this computer as you leave a field.",
    # prices
    "prices": "Prices",
    "prices_optional": "Optional, beside the twelve questions",
    "prices_said": (
        "Leave empty what you do not know: it is in no total, and the answers say so. A field that is emptied "
        "takes its price out of the file."
    ),
    "prices_link": "Prices (optional)",
    "prices_save": "Save the prices",
    "price_letters": "(currency)",
    "price_ask": "({who})",
    "price_no_currency": "Write the currency of the prices first, such as USD.",
    "price_published": "This price was published in {currency}: convert it, and write it as your figure.",
    "price_changed": "The file was changed after this page was opened. What you typed is here: save again.",
    "price_currency_stays": (
        "Other prices of the file are in a currency, so it stays: write it, or take out all that has a price."
    ),
    "price_removed": Counted("{count} price taken out", "{count} prices taken out"),
    "price_put": Counted("{count} price put in", "{count} prices put in"),
}  # fmt: skip
