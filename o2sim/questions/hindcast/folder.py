"""Write a hindcast into a folder: a page with its drawings, the JSON, the stock card as CSV, the drawings."""

from __future__ import annotations

import json
from pathlib import Path

from o2sim.looks.files import write_csv, write_text
from o2sim.questions.hindcast.result import Hindcasted
from o2sim.typed import as_json

PAGE, JSON, CARD = "hindcast.html", "hindcast.json", "stock.csv"
DRAWINGS = ("stock.png", "ranks.png")
NAMES = (PAGE, JSON, CARD, *DRAWINGS)
FOOTER = "It plans supply and prescribes nothing."


def write_folder(folder: Path, said: Hindcasted) -> str:
    """Write all files and return what to say of them. Raises OutputError where one cannot be written."""
    from o2sim.looks.drawing import NARROW_IN, save
    from o2sim.looks.html import report_page
    from o2sim.questions.hindcast.charts import pictures
    from o2sim.questions.hindcast.shown import COLUMNS, stock_rows
    from o2sim.questions.hindcast.text import parts, title

    folder.mkdir(parents=True, exist_ok=True)
    write_text(folder / JSON, json.dumps(as_json(said), indent=2, ensure_ascii=False) + "\n")
    if said.stock:
        write_csv(folder / CARD, COLUMNS, stock_rows(said))  # type: ignore[arg-type]
    for picture in pictures(said):
        save(picture.figure, folder / f"{picture.name.removeprefix('hindcast-')}.png")
    footer = f"Written by o2sim {said.ran.version}. {FOOTER}"
    write_text(folder / PAGE, report_page(title(said), parts(said, pictures(said, NARROW_IN)), footer))
    return f"written to {folder}: begin with {PAGE}"
