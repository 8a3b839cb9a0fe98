"""What the sheet Help of the template says: (what it is about, the text)."""

HELP = (
    (
        "What this is for",
        "Copy what your books say into the sheets, a row for each line. Every sheet may stay empty: fill in "
        "those you have. Then run: o2sim records check FILE.xlsx",
    ),
    (
        "Never write",
        "No name, number, address, telephone, birth date, diagnosis or death of anybody. Columns that are not "
        "of this template are not read; a column whose head names a person is refused: remove it.",
    ),
    (
        "Top of each sheet",
        "Row 1 says what to write, row 2 shows an invented example, row 3 has the heads. Write from row 4 on. "
        "Rows 1 and 2 are never read. Leave the heads as they are; columns may stand in any order or be left "
        "out.",
    ),
    (
        "Empty cells",
        "Leave a cell empty where the book says nothing. Never write 0 for what is not known.",
    ),
    (
        "Dates",
        "Write dates as your spreadsheet writes them, so that it knows them as dates, or as 2027-03-04. With a "
        "time: 2027-03-04 14:05. Where the cells are texts such as 04/03/2027, say so on Place under Dates as "
        "written. Where only days are known write the day alone: 00:00 shown beside it counts as no time, but "
        "for power cuts, where it is midnight.",
    ),
    (
        "Numbers",
        "With a decimal point, without a unit or with the one in the head: 1.5 or 1.5 L/min. No formulas: copy, "
        "and paste the values. Do not join cells.",
    ),
    (
        "Place",
        "One row for each sheet: from when to when the book was kept, and how. One more row for each run of "
        "missing pages. Leave Sheet empty where the row is about all sheets. Book kept to is covered to its "
        "end.",
    ),
    (
        "Patients on oxygen",
        "Still on: x where the patient was still on oxygen as the book ended. Left how: sent on and moved end "
        "the stay here. Twice: x where the row repeats another, no where it only looks so.",
    ),
    (
        "Midnights",
        "A count at midnight belongs to the day that this midnight ends. Patient-days of a month are the sum "
        "over the midnights that end its days.",
    ),
    (
        "Units, Job cards",
        "List every concentrator on Units, those that never failed too. Job cards are taken as complete since "
        "Put in use. Meter then is that day's reading. Labels of units are not kept.",
    ),
    (
        "Stock card",
        "Received and Emptied are since the line before. Full, part-used, on patients and empty together are "
        "all the cylinders you have; those on order are not among them.",
    ),
    (
        "Today",
        "Fill in Today, On patients, On order, Units today and Power today at one time. A patient who waits has "
        "the source none. Counts of full and empty cylinders must be there; all else may be left out.",
    ),
    (
        "What we think",
        "For numbers that no book gives: a key of the scenario file, and the lowest, most likely and highest "
        "value with their units.",
    ),
    (
        "Lists",
        "Classes of patients that the other sheets may name, at most 12; add yours below the three.",
    ),
    (
        "Caution",
        "This plans supply and prescribes nothing: local codes, guidelines and licensed practice come first. "
        "The filled workbook holds dates of patients: keep it as you keep the books, and send it to nobody who "
        "may not see them.",
    ),
)  # fmt: skip
