"""Write a study into a folder: tables, charts, cautions, and a manifest to repeat it by."""

from __future__ import annotations

import hashlib
import json
import platform
import re
import shutil
import tempfile
from collections.abc import Callable, Collection, Sequence
from pathlib import Path

import numpy as np

from o2sim.errors import OutputError
from o2sim.looks.cautions import long_text
from o2sim.looks.files import slug, write_csv
from o2sim.looks.words import Summary
from o2sim.measures import costing, supply_alone
from o2sim.measures.result_rows import (
    DAILY_HEADS,
    daily_rows,
    replication_columns,
    replication_rows,
    summary_rows,
)
from o2sim.runs.study import Study

MANIFEST = "manifest.json"
FIXED_FILES = ("summary.json", "summary.csv", "replications.csv", "cautions.txt")
DAILY = "daily.csv"  # only where it is asked for
_OWN = re.compile(  # names that this and its companions give: no others are ever touched
    r"(summary|replications|daily|costing|costing-lines|supply-alone|supply-alone-replications|options|procurement)\.csv|summary\.json"
    r"|cautions\.txt|(stock-[a-z0-9-]+|unserved-hours|unserved-by-cause|frontier)\.(png|svg)"
)
EARLIER = "earlier"  # where files go that the new results do not have
MOST_DRAWN = 20  # strategies: with more, as of options, bars in a row show nothing


def write_results(
    folder: Path,
    study: Study,
    summary: Summary,
    command: Sequence[str] = (),
    more: Callable[[Path], None] | None = None,
    companion: Study | None = None,
    daily: Callable[[Path], None] | None = None,
) -> list[Path]:
    """Write all results into a folder (made if need be) and return their paths, the manifest last.

    more: writes further files into a folder it is given. companion: the run with supply alone, whose replications
    are written too. daily: writes daily.csv to the path it is given, as DailyFile.put or daily_of(study).

    Raises OutputError where the folder cannot be written, or holds a file that would be overwritten and is not
    o2sim's own.
    """
    stage = make_stage(folder)
    try:
        _stage(stage, study, summary)
        if companion is not None:
            _stage_companion(stage, companion, summary)
        if daily is not None:
            daily(stage / DAILY)
        if more is not None:
            more(stage)
        _write_manifest(stage, study, summary, command)
        return _move(stage, folder)
    except OSError as error:
        raise OutputError(f"{folder}: writing failed ({error.strerror or error})") from error
    finally:
        shutil.rmtree(stage, ignore_errors=True)


def daily_of(study: Study) -> Callable[[Path], None]:
    """Return what writes the daily counts of a study; where they were not kept each replication is run again."""
    return lambda path: write_csv(path, DAILY_HEADS, daily_rows(study))


def require_writable(folder: Path, daily: bool = False) -> None:
    """Make the folder if need be; raise OutputError where write_results would not succeed there."""
    make_stage(folder).rmdir()
    _refuse_foreign(folder, [*FIXED_FILES, *([DAILY] if daily else []), MANIFEST])


def _stage(stage: Path, study: Study, summary: Summary) -> None:
    text = json.dumps(summary, indent=2, ensure_ascii=False) + "\n"
    (stage / "summary.json").write_text(text, encoding="utf-8")
    columns = ("strategy", "measure", "part", "estimate", "low", "high", "note")
    write_csv(stage / "summary.csv", columns, summary_rows(summary))
    write_csv(stage / "replications.csv", replication_columns(study), replication_rows(study))
    if summary["costing"]:
        totals = (
            [cell if cell is not None else "" for cell in row] for row in costing.total_rows(summary["costing"])
        )
        write_csv(stage / "costing.csv", costing.TOTAL_HEADS, totals)
        heads = (*costing.HEADS, *costing.YEARS)
        write_csv(stage / "costing-lines.csv", heads, costing.line_rows(summary["costing"]))
    (stage / "cautions.txt").write_text(long_text(), encoding="utf-8")
    _stage_charts(stage, study, summary)


def _stage_companion(stage: Path, companion: Study, summary: Summary) -> None:
    """Write what no staff could prevent, beside the file's figures, and each replication of that run."""
    write_csv(stage / "supply-alone.csv", supply_alone.ROW_HEADS, supply_alone.rows(summary["supply_alone"]))
    rows = replication_rows(companion)
    write_csv(stage / "supply-alone-replications.csv", replication_columns(companion), rows)


def _stage_charts(stage: Path, study: Study, summary: Summary) -> None:
    from o2sim.looks.drawing import save
    from o2sim.questions.compare import charts

    if len(study.outcomes) > MOST_DRAWN:
        return
    figures = {
        "stock-out-probability": charts.probability_chart(summary),
        "unserved-hours": charts.unserved_chart(summary),
        "unserved-by-cause": charts.causes_chart(summary),
    }
    for strategy in study.outcomes:
        if study.scenario.hospitals[strategy].cylinders is not None:
            name = f"stock-{slug(strategy)}"
            while name in figures:
                name += "-2"
            figures[name] = charts.stock_chart(study, strategy)
    for name, figure in figures.items():
        for suffix in (".png", ".svg"):
            save(figure, stage / f"{name}{suffix}")


def _write_manifest(stage: Path, study: Study, summary: Summary, command: Sequence[str]) -> None:
    draws = summary.get("draws")
    draws = None if draws is None else {key: value for key, value in draws.items() if key != "split"}
    manifest = {
        "written_by": "o2sim",
        "version": summary["version"],
        "scenario": study.scenario.name,
        "scenario_file": study.scenario.file,
        "scenario_hash": study.scenario.hash,
        "strategies": list(study.outcomes),
        "seed": study.seed,
        "replications": study.replications,
        "replications_requested": study.requested,
        "engine": study.engine,
        **({"companion_hash": summary["supply_alone"]["scenario_hash"]} if "supply_alone" in summary else {}),
        **({"precision": summary["precision"]} if "precision" in summary else {}),
        **({"draws": draws} if draws is not None else {}),
        "python": platform.python_version(),
        "numpy": np.__version__,
        "command": list(command),
        "files": {path.name: _sha256(path) for path in sorted(stage.iterdir())},
    }
    text = json.dumps(manifest, indent=2, ensure_ascii=False) + "\n"
    (stage / MANIFEST).write_text(text, encoding="utf-8")


def _move(stage: Path, folder: Path) -> list[Path]:
    """Rename every staged file into the folder, put o2sim's older ones aside, and return the new paths.

    None is deleted: what a manifest says of a file, anybody may have written.
    """
    own = _own_files(folder)
    names = [*sorted(path.name for path in stage.iterdir() if path.name != MANIFEST), MANIFEST]
    _refuse_foreign(folder, names)
    _put_aside(folder, own.difference(names))
    return [(stage / name).replace(folder / name) for name in names]


def _put_aside(folder: Path, names: Collection[str]) -> None:
    """Move files into a new folder in the folder."""
    if not names:
        return
    number = 1
    while (aside := folder / (EARLIER if number == 1 else f"{EARLIER}-{number}")).exists():
        number += 1
    aside.mkdir()
    for name in sorted(names):
        (folder / name).rename(aside / name)


def make_stage(folder: Path) -> Path:
    """Return a new hidden folder inside the folder, which is made if need be."""
    if folder.exists() and not folder.is_dir():
        raise OutputError(f"{folder}: found a file; allowed: the name of a folder")
    try:
        folder.mkdir(parents=True, exist_ok=True)
        return Path(tempfile.mkdtemp(prefix=".o2sim-", dir=folder))
    except OSError as error:
        raise OutputError(f"{folder}: cannot write there ({error.strerror or error})") from error


def _refuse_foreign(folder: Path, names: Sequence[str]) -> None:
    """Raise OutputError if one of the names is there and is not o2sim's own."""
    own = _own_files(folder)
    if in_the_way := [name for name in names if (folder / name).exists() and name not in own]:
        raise OutputError(
            f"{folder}: {', '.join(in_the_way)} would be overwritten, and o2sim did not write it or it has "
            "been changed since; choose another folder"
        )


def _own_files(folder: Path) -> set[str]:
    """Return the names in a folder that o2sim gives, its manifest lists, and whose content is as listed there."""
    try:
        manifest = json.loads((folder / MANIFEST).read_text(encoding="utf-8"))
        listed = manifest["files"] if manifest["written_by"] == "o2sim" else {}
        own = {
            name
            for name, digest in listed.items()
            if Path(name).name == name
            and _OWN.fullmatch(name)
            and (folder / name).is_file()
            and _sha256(folder / name) == digest
        }
    except (OSError, ValueError, KeyError, TypeError, AttributeError):
        return set()
    return own | {MANIFEST} if listed else own


def _sha256(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()
