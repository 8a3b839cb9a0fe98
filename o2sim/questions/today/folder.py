"""Write today's answer into a folder: a page with its drawing, the JSON, the days as CSV, the drawing."""

from __future__ import annotations

import json
from pathlib import Path

from o2sim.looks.files import write_csv, write_text
from o2sim.questions.today.result import TodayResult
from o2sim.typed import as_json

PAGE, JSON, DAYS, DRAWING = "today.html", "today.json", "days.csv", "fan.png"
NAMES = (PAGE, JSON, DAYS, DRAWING)
FOOTER = "It plans supply and prescribes nothing."


def write_folder(folder: Path, said: TodayResult) -> str:
    """Write all files and return what to say of them. Raises OutputError where one cannot be written."""
    from o2sim.looks.drawing import NARROW_IN, save
    from o2sim.looks.html import report_page
    from o2sim.questions.today.charts import fan
    from o2sim.questions.today.shown import COLUMNS, rows
    from o2sim.questions.today.text import parts, title

    folder.mkdir(parents=True, exist_ok=True)
    write_text(folder / JSON, json.dumps(as_json(said), indent=2, ensure_ascii=False) + "\n")
    write_csv(folder / DAYS, COLUMNS, rows(said))
    save(fan(said).figure, folder / DRAWING)
    footer = f"Written by o2sim {said.ran.version}. {FOOTER}"
    write_text(folder / PAGE, report_page(title(said), parts(said, [fan(said, NARROW_IN)]), footer))
    return f"written to {folder}: begin with {PAGE}"
