"""What o2sim lays out for its readers: reports, descriptions, screens, files, notebooks; each as a text.

Drawings and widths of columns come from libraries: these texts are the same only under the same versions of them.
"""

from __future__ import annotations

import platform
import zipfile
from collections.abc import Iterator, Mapping
from importlib.metadata import version
from pathlib import Path
from typing import Any

from digest_commands import (
    CENTRE,
    DISTRICT,
    FOLDER,
    MIXED,
    RUN,
    SIZES,
    TO_BUY,
    VALLEY,
    Command,
    new_folder,
    of_every_scenario,
    of_some,
    plain,
    printed,
    run,
    shown,
)
from digest_runs import names

import o2sim

LIBRARIES = ("click", "matplotlib", "numpy", "pandas", "rich", "scipy")
FEW = ("--replications", "4", "--seed", "1")
PAGE, REPORTS = "report.html", ("report.md", "report.xlsx")  # of every scenario, and of some
CUTS = ("--vary", "power.grid.down.median = 1 h, 4 h")
WRITTEN: tuple[tuple[Command, Mapping[str, str]], ...] = (  # a command, and the files it is to write, by option
    (("compare", DISTRICT, *RUN), {"--out": "results", "--convergence": "settled.svg"}),
    (("compare", TO_BUY, "--options", "--target", "40 %", *RUN), {"--out": "options"}),
    (("report", TO_BUY, "--options", "--target", "40 %", *RUN), {"--out": "options.html"}),
    (("report", TO_BUY, "--options", "--target", "40 %", *RUN), {"--out": "options.xlsx"}),
    (
        ("size", CENTRE, *MIXED, "--range", "6..14 step 2", *SIZES),
        {"--sheets": "sheets", "--csv": "size.csv", "--chart": "size.svg"},
    ),
    (
        ("whatif", DISTRICT, *CUTS, "--vary", "cylinders.fleet = 20, 40", *RUN),
        {"--table": "whatif.csv", "--heat": "heat.svg", "--lines": "lines.svg"},
    ),
    (("drivers", VALLEY, *RUN), {"--csv": "drivers.csv", "--chart": "ends.svg"}),
    *(
        (("drivers", VALLEY, "--method", method, "--samples", "4", *RUN), {"--chart": f"{method}.svg"})
        for method in ("nested", "morris", "sobol")
    ),
    (("equipment", DISTRICT, *RUN), {"--csv": "equipment.csv"}),
    (("study", "scenarios/province.csv", "--base", CENTRE, *RUN), {"--csv": "study.csv"}),
    (("trace", CENTRE, *MIXED, "--replication", "1"), {"--csv": "trace.csv"}),
    (("cylinder", "--table", "--water-capacity", "47 L"), {"--out": "cylinder.html"}),
    (("cylinder", "--table", "--water-capacity", "47 L"), {"--out": "cylinder.csv"}),
)


def versions() -> dict[str, str]:
    """Return what the looks of pages hang on."""
    here = {"system": f"{platform.system()} {platform.machine()}", "Python": platform.python_version()}
    return {**here, **{name: version(name) for name in LIBRARIES}}


def reports(of: str = "") -> Iterator[tuple[str, str]]:
    """Yield the page of every scenario, or of one, and for some the other files that hold the same blocks."""
    asked = [(f"scenarios/{name}", PAGE) for name in names()]
    asked += [(scenario, report) for scenario in (DISTRICT, VALLEY) for report in REPORTS]
    for scenario, report in asked:
        if of in ("", scenario):
            yield from _written(("report", scenario, *FEW), {"--out": report})


def all_else() -> Iterator[tuple[str, str]]:
    """Yield what is laid out beside the reports: descriptions, screens, files, notebooks."""
    yield from printed([("describe", f"scenarios/{name}", *FEW) for name in names()])
    yield from printed([*of_every_scenario(), *of_some(), ("schema",), ("schema", "--results")])
    for command, files in WRITTEN:
        yield from _written(command, files)
    yield from _written(("new",), {"": "new.yaml"})
    yield from notebook()


GROUPS = {"reports": reports, "pages": all_else}


def _written(command: Command, files: Mapping[str, str]) -> Iterator[tuple[str, str]]:
    """Yield every file that a command writes, a workbook's parts each by itself."""
    with new_folder() as folder:
        more = (word for option, name in files.items() for word in (option, f"{FOLDER}/{name}") if word)
        whole = (*command, *more)
        run(whole, folder)
        for path in sorted(path for path in folder.rglob("*") if path.is_file()):
            for part, content in _contents(path):
                yield f"{shown(whole)} | {path.relative_to(folder)}{part}", plain(content, folder)


def _contents(path: Path) -> Iterator[tuple[str, str]]:
    if path.suffix != ".xlsx":
        yield "", path.read_bytes().decode("utf-8" if path.suffix != ".png" else "latin-1")
        return
    with zipfile.ZipFile(path) as book:
        for name in book.namelist():
            yield f" | {name}", book.read(name).decode()


def notebook() -> Iterator[tuple[str, str]]:
    """Yield how each kind of result shows itself in a notebook, its drawing, and its data frame."""
    with new_folder() as folder:
        for name, (result, charts, frames) in _results().items():
            yield f"notebook | {name}", plain(result._repr_html_(), folder)
            for asked in charts:
                yield f"notebook | {name}.chart({asked})", plain(result.chart(**asked)._repr_html_(), folder)
            for asked in frames:
                yield f"notebook | {name}.to_frame({asked})", result.to_frame(**asked).to_csv()


def _results() -> dict[str, tuple[Any, list[dict[str, str]], list[dict[str, str]]]]:
    """Return a result of each kind, with what to ask of its chart and of its data frame."""
    centre = o2sim.load(CENTRE)
    study = o2sim.run_study(centre, replications=2)
    drawn = ("chances", "hours", "costs", "trade", "stock", "season", "convergence")
    framed = ("measures", "replications", "days", "convergence")
    whatif = o2sim.whatif(CENTRE, [CUTS[1], "cylinders.fleet = 8, 12"], replications=2)
    size = o2sim.size(CENTRE, "mixed", target="30 %", vary="cylinders.fleet = 8, 12", replications=40)
    return {
        "scenario": (centre, [], []),
        "study": (study, [{"of": each} for each in drawn], [{"of": each} for each in framed]),
        "comparison": (o2sim.compare(centre, replications=2), [{}], [{}, {"of": "differences"}]),
        "options": (o2sim.compare(TO_BUY, options=True, target="40 %", replications=2), [{}], [{}]),
        "size": (size, [{}], [{}]),
        "whatif": (whatif, [{"of": "heat"}], [{}, {"of": "measures"}, {"of": "break-evens"}]),
        "drivers": (o2sim.drivers(VALLEY, replications=2), [{}, {"measure": "hours"}], [{}]),
        "equipment": (o2sim.equipment(study), [], [{}]),
        "facilities": (o2sim.study("scenarios/province.csv", CENTRE, replications=2), [], [{}]),
        "trace": (o2sim.trace(study, "mixed"), [], [{}]),
    }
