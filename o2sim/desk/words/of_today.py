"""All words of today: what was counted, what came of it, the stock card."""

from __future__ import annotations

from o2sim.desk.words.counted import Counted

WORDS: dict[str, str | Counted] = {
    # the page
    "today_heading": "Today, {day}",
    "today_of_day": "{day}, as counted then",
    "today_no_file": (
        "What stands in the store is laid beside the figures of a hospital: how many come, what flows, how long a "
        "lorry takes. Choose its file, or begin one."
    ),
    "today_no_cylinders": (
        "{name} has no cylinders by its file, so there is no shelf to count and nothing to order. What may happen "
        "with its concentrators and power stands in the answer."
    ),
    "today_manifold": (
        "By its file {name} has cylinders on the banks of a manifold, for which this count has no line: how long "
        "they last cannot be said here. How often somebody goes without stands in the answer."
    ),
    "today_sizes": (
        "By its file {name} has cylinders of several sizes, for which this count has no lines: how long they last "
        "cannot be said here. How often somebody goes without stands in the answer."
    ),
    "today_instead": "Look at these instead",
    "today_earlier_day": "Last worked out for {day}: {short}",
    "today_this_day_only": "This is of {day} alone. Count again before you order.",
    "today_stopped": "Stopped before the end: what was not worked out is not shown.",
    # the count
    "today_counted": "What you counted",
    "today_said": (
        "Full and empty cylinders are needed. What else you leave empty is unknown: it is drawn, and said so."
    ),
    "today_full": "Full cylinders in the store",
    "today_part_used": "Part-used, on the rack",
    "today_part_used_field": "how many",
    "today_gauge_field": "usual gauge, about",
    "today_part_used_hint": "Without a gauge each is taken as half full.",
    "today_empty": "Empty",
    "today_empty_hint": "At the door, or away to be filled.",
    "today_order_1": "On order",
    "today_order_2": "On order, from a second order",
    "today_order_field": "how many",
    "today_since_field": "ordered on",
    "today_since_hint": "Such as 25 Nov; empty where that is not known.",
    "today_time": "Time of the count",
    "today_time_hint": "Such as 07:30, of today; empty is now.",
    "today_on_oxygen": "On oxygen now",
    "today_on_oxygen_said": (
        "Write 0 where nobody is. Leave all of them empty where nobody has counted: as many as usual are drawn."
    ),
    "today_many_classes": (
        "The file has too many classes of patients for this page ({count}): who is on oxygen is drawn."
    ),
    "today_class": "{name}, about {flow} L/min",
    "today_class_field": "on oxygen",
    "today_on_cylinders_field": "of them on cylinders",
    "today_power": "Units and power",
    "today_down": "Concentrators not working",
    "today_down_hint": "Of {count} by the file.",
    "today_grid": "Is there power from the grid?",
    "today_battery": "Charge of the battery",
    "today_fuel": "Fuel in the generator’s tank",
    "today_strategy": "How oxygen is given",
    "today_not_known": "not known",
    "today_on": "yes",
    "today_off": "no, it is off",
    "today_unit_cylinders": "cylinders",
    "today_unit_bar": "bar",
    "today_unit_patients": "patients",
    "today_unit_units": "units",
    "today_work": "Work out today",
    "today_again": "Work out today again",
    # what is wrong with a field
    "today_count_bad": "Found “{found}”. Write a whole number; 0 where there is none.",
    "today_needed": "Write a number; 0 where there is none.",
    "today_whole_bad": "Found “{found}”. Write a whole number, or leave it empty.",
    "today_gauge_bad": "Found “{found}”. Write a pressure in bar, such as 60, or leave it empty.",
    "today_share_bad": "Found “{found}”. Write a number from 0 to 100, or leave it empty.",
    "today_litres_bad": "Found “{found}”. Write a number of litres, such as 35, or leave it empty.",
    "today_day_bad": "Found “{found}”. Write a date, such as 25 Nov or 2026-11-25, or leave it empty.",
    "today_time_bad": "Found “{found}”. Write a time, such as 07:30, or leave it empty.",
    "today_time_to_come": "Found {found}, which is still to come: it is {now} by this computer.",
    "today_choice_bad": "Found “{found}”. Choose one of the list.",
    "today_gauge_many": "Found {found} bar; a full cylinder shows {full} by the file.",
    "today_more_than": "Found {found}; the file has {most} in all.",
    "today_order_needed": "A day of an order stands here: write how many were ordered, too.",
    "today_class_needed": "Others were counted: write how many are on oxygen here, 0 where nobody is.",
    "today_on_cylinders_many": "Found {found} on cylinders, of {most} on oxygen.",
    # what came of it
    "today_figures": "In three figures",
    "today_cover": Counted("{days} day", "{days} days", "days"),
    "today_cover_said": Counted(
        "of cover: {hours} hour at the present flow, {flow} L/min ({origin})",
        "of cover: {hours} hours at the present flow, {flow} L/min ({origin})",
        "hours",
    ),
    "today_cover_none": "nothing flows from cylinders now, so what is there lasts on",
    "today_no_flow": "-",
    "today_in_100": "{count} in 100",
    "today_under_1": "under 1 in 100",
    "today_over_99": "over 99 in 100",
    "today_bare_said": (
        "chance that the shelf is empty before a lorry of the next order can be here ({until}), with nothing "
        "ordered today"
    ),
    "today_bare_order_said": "the same, with {count} ordered today",
    "today_bare_day_said": "chance that the shelf is empty by the end of {day}",
    "today_half_full": Counted(
        "{count} part-used cylinder has no gauge: taken as half full.",
        "{count} part-used cylinders have no gauge: each is taken as half full.",
    ),
    "today_usual_gauge": Counted(
        "{count} part-used cylinder is taken at {gauge} bar.",
        "{count} part-used cylinders are taken at {gauge} bar each.",
    ),
    "today_sum_missing": Counted(
        "{counted} of {fleet}: {count} not accounted for. At a bed, lent, or away?",
        "{counted} of {fleet}: {count} not accounted for. At beds, lent, or away?",
    ),
    "today_tonight": "Tonight, and what else may happen",
    "today_details": "The figures",
    "today_how": "How it was worked out",
    "today_sheet": "Print the sheet “Oxygen today”",
    # the stock card
    "card": "Stock card",
    "card_write": "Write this count into the stock card",
    "card_said": (
        "Numbers by class only, with their forecast, in {name} beside the scenario; the same day’s count is "
        "replaced."
    ),
    "card_stands": "This count stands in the stock card, {name}.",
    "card_put": "The count of {when} was written into the stock card",
    "card_replaced": "The count of {when} took the place of an earlier one of that day in the stock card",
    "card_changed": "{name} was changed meanwhile; nothing was written. Press again.",
    "card_other": (
        "{name} is there already and is no stock card of o2sim: give it another name. Nothing was written."
    ),
    "card_wrong": Counted(
        "{count} line of {name} cannot be read, and stays as it is.",
        "{count} lines of {name} cannot be read, and stay as they are.",
    ),
    "card_earlier": "Earlier counts, and how good their forecasts were",
    "card_when": "Counted",
    "card_full": "Full",
    "card_part_used": "Part-used",
    "card_empty": "Empty",
    "card_on_order": "On order",
    "card_on_oxygen": "On oxygen",
    "card_unknown": "not counted",
    "card_more": Counted("{count} earlier count is in the file.", "{count} earlier counts are in the file."),
    "card_review": "How good the forecasts were",
}  # fmt: skip
