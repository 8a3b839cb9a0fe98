"""A study and its summary in, a folder of results out: JSON, CSV, charts and a manifest, never half a file.

Everything is made in a hidden folder beside its place and then renamed. A file that is there already is replaced
only where the folder's own manifest says that o2sim wrote it and it has not been touched since.
"""

from __future__ import annotations

import csv
import datetime as dt
import hashlib
import json
import os
import platform
import re
import shutil
import tempfile
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import fields
from pathlib import Path
from typing import Any

import numpy as np

from o2sim.analysis.cost import annual_cost
from o2sim.analysis.study import Study
from o2sim.errors import OutputError
from o2sim.outcome import DAILY_COLUMNS, LENGTH_LABELS, Cause, Outcome
from o2sim.report.cautions import long_text
from o2sim.report.words import Summary

MANIFEST = "manifest.json"
FIXED_FILES = ("summary.json", "summary.csv", "replications.csv", "daily.csv", "cautions.txt")
FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")
Cell = str | int | float
_LABELS = {"longer": LENGTH_LABELS}  # of Outcome's tuples; the others go by cause


def write_results(folder: Path, study: Study, summary: Summary, command: Sequence[str] = ()) -> list[Path]:
    """Write all results into a folder (made if need be) and return their paths, the manifest last.

    Raises OutputError where the folder cannot be written, or holds a file that would be overwritten and is not
    o2sim's own.
    """
    stage = _make_stage(folder)
    try:
        _stage(stage, study, summary)
        _write_manifest(stage, study, summary, command)
        return _move(stage, folder)
    except OSError as error:
        raise OutputError(f"{folder}: writing failed ({error.strerror or error})") from error
    finally:
        shutil.rmtree(stage, ignore_errors=True)


def require_writable(folder: Path) -> None:
    """Make the folder if need be; raise OutputError where write_results would not succeed there."""
    _make_stage(folder).rmdir()
    _refuse_foreign(folder, [*FIXED_FILES, MANIFEST])


def require_free(path: Path, force: bool = False) -> None:
    """Raise OutputError where a file is there already, unless it may be overwritten."""
    if not force and (path.exists() or path.is_symlink()):
        raise OutputError(f"{path}: is there already; choose another name, or overwrite it with --force")


def write_text(path: Path, text: str) -> None:
    """Write a text (UTF-8, newline) under a temporary name, then rename it; OutputError where it cannot be."""
    draft = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        draft.write_text(text, encoding="utf-8", newline="\n")
        draft.replace(path)
    except OSError as error:
        draft.unlink(missing_ok=True)
        raise OutputError(f"{path}: cannot be written ({error.strerror or error})") from error


def write_csv(path: Path, columns: Sequence[str], rows: Iterable[Sequence[Cell]]) -> None:
    """Write a CSV file (UTF-8, comma, newline) under a temporary name, then rename it.

    A text that a spreadsheet would take for a formula gets an apostrophe before it; numbers stay as they are.
    Raises OutputError where it cannot be written.
    """
    draft = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        with draft.open("w", encoding="utf-8", newline="") as file:
            writer = csv.writer(file, lineterminator="\n")
            writer.writerow([_harmless(cell) for cell in columns])
            writer.writerows([_harmless(cell) for cell in row] for row in rows)
        draft.replace(path)
    except OSError as error:
        draft.unlink(missing_ok=True)
        raise OutputError(f"{path}: cannot be written ({error.strerror or error})") from error


def _harmless(cell: Cell) -> Cell:
    """Return a cell that no spreadsheet runs: names come from scenario files, which may be anybody's."""
    if not isinstance(cell, str) or not cell.startswith(FORMULA_STARTS):
        return cell
    try:
        float(cell)
    except ValueError:
        return f"'{cell}"
    return cell


def summary_rows(summary: Summary) -> Iterator[tuple[Cell, ...]]:
    """Yield (strategy, measure, part, estimate, low, high, note): the whole summary as one long table."""
    for strategy, measures in summary["strategies"].items():
        for measure, value in measures.items():
            if value is None:
                continue
            parts = {"": value} if "low" in value else value
            for part, item in parts.items():
                inner = {part: item} if "low" in item else {f"{part}: {name}": each for name, each in item.items()}
                for name, each in inner.items():
                    yield (strategy, measure, name, *_estimate(each))
    for item in summary["differences"]:
        name = f"{item['to']} - {item['from']}"
        yield (name, f"difference in {item['measure']}", "", *_estimate(item))


def replication_columns() -> list[str]:
    """Return the columns of one row a replication: hours, litres and counts within the horizon."""
    columns = ["strategy", "replication"]
    for name, _, labels in _outcome_fields():
        columns += [f"{name}: {label}" for label in labels] if labels else [name]
    return [*columns, "stock_outs", "unserved_h", "cost_per_year"]


def replication_rows(study: Study) -> Iterator[tuple[Cell, ...]]:
    """Yield one row a strategy and replication, the columns as replication_columns names them."""
    for strategy, outcomes in study.outcomes.items():
        hospital = study.scenario.hospitals[strategy]
        for outcome in outcomes[: study.replications]:
            row: list[Cell] = [strategy, outcome.replication]
            for _, field, labels in _outcome_fields():
                value = getattr(outcome, field)
                row += [_user_unit(field, part) for part in (value if labels else (value,))]
            unserved_h = round(sum(outcome.unserved_s) / 3_600, 6)
            cost: Cell = "" if hospital.costs is None else round(sum(annual_cost(hospital, outcome).values()), 2)
            yield (*row, outcome.stock_outs, unserved_h, cost)


def daily_rows(study: Study) -> Iterator[tuple[Cell, ...]]:
    """Yield (strategy, replication, day, date, *DAILY_COLUMNS), the state at each midnight of the horizon."""
    for strategy, outcomes in study.outcomes.items():
        start = study.scenario.hospitals[strategy].start
        for outcome in outcomes[: study.replications]:
            for day, state in enumerate(outcome.daily.tolist()):
                date = (start + dt.timedelta(days=day)).isoformat()
                yield (strategy, outcome.replication, day, date, *state)


def slug(name: str) -> str:
    """Return a strategy's name as part of a file name: lower case letters, digits and hyphens."""
    return re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-") or "strategy"


def _stage(stage: Path, study: Study, summary: Summary) -> None:
    text = json.dumps(summary, indent=2, ensure_ascii=False) + "\n"
    (stage / "summary.json").write_text(text, encoding="utf-8")
    columns = ("strategy", "measure", "part", "estimate", "low", "high", "note")
    write_csv(stage / "summary.csv", columns, summary_rows(summary))
    write_csv(stage / "replications.csv", replication_columns(), replication_rows(study))
    heads = ("strategy", "replication", "day", "date", *DAILY_COLUMNS)
    write_csv(stage / "daily.csv", heads, daily_rows(study))
    (stage / "cautions.txt").write_text(long_text(), encoding="utf-8")
    _stage_charts(stage, study, summary)


def _stage_charts(stage: Path, study: Study, summary: Summary) -> None:
    from o2sim.report import charts

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
            charts.save(figure, stage / f"{name}{suffix}")


def _write_manifest(stage: Path, study: Study, summary: Summary, command: Sequence[str]) -> None:
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
        "python": platform.python_version(),
        "numpy": np.__version__,
        "command": list(command),
        "files": {path.name: _sha256(path) for path in sorted(stage.iterdir())},
    }
    text = json.dumps(manifest, indent=2, ensure_ascii=False) + "\n"
    (stage / MANIFEST).write_text(text, encoding="utf-8")


def _move(stage: Path, folder: Path) -> list[Path]:
    """Rename every staged file into the folder, drop o2sim's older ones, and return the new paths."""
    own = _own_files(folder)
    names = sorted(path.name for path in stage.iterdir() if path.name != MANIFEST)
    _refuse_foreign(folder, [*names, MANIFEST])
    for name in own - set(names) - {MANIFEST}:
        (folder / name).unlink(missing_ok=True)
    for name in [*names, MANIFEST]:
        (stage / name).replace(folder / name)
    return [folder / name for name in [*names, MANIFEST]]


def _make_stage(folder: Path) -> Path:
    """Return a new hidden folder inside the folder, which is made if need be."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
        return Path(tempfile.mkdtemp(prefix=".o2sim-", dir=folder))
    except OSError as error:
        raise OutputError(f"{folder}: cannot write there ({error.strerror or error})") from error


def _refuse_foreign(folder: Path, names: Sequence[str]) -> None:
    """Raise OutputError if one of the names is there and is not o2sim's own."""
    own = _own_files(folder)
    in_the_way = [name for name in names if (folder / name).exists() and name not in own]
    if in_the_way:
        raise OutputError(
            f"{folder}: {', '.join(in_the_way)} would be overwritten, and o2sim did not write it or it has "
            "been changed since; choose another folder"
        )


def _own_files(folder: Path) -> set[str]:
    """Return the names in a folder that its manifest lists and whose content is still what o2sim wrote."""
    try:
        manifest = json.loads((folder / MANIFEST).read_text(encoding="utf-8"))
        listed = manifest["files"] if manifest["written_by"] == "o2sim" else {}
        own = {
            name
            for name, digest in listed.items()
            if Path(name).name == name and (folder / name).is_file() and _sha256(folder / name) == digest
        }
    except (OSError, ValueError, KeyError, TypeError, AttributeError):
        return set()
    return own | {MANIFEST} if listed else own


def _sha256(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()


def _estimate(item: Mapping[str, Any]) -> tuple[Cell, ...]:
    middle = item["estimate"] if "estimate" in item else item["mean"]
    low, high = ("" if item[key] is None else item[key] for key in ("low", "high"))
    return middle, low, high, item.get("note", "")


def _outcome_fields() -> list[tuple[str, str, tuple[str, ...]]]:
    """Return (name in user units, field, labels of its parts) of every total in Outcome."""
    causes = tuple(cause.label for cause in Cause)
    skipped = {"replication", "daily", "log"}
    found = []
    for item in fields(Outcome):
        if item.name in skipped or item.name.startswith("ward_"):  # told by ward in the summary
            continue
        name = re.sub("_s$", "_h", re.sub("_gas$", "_litres", item.name))
        many = item.name in ("interruptions", "longer", "unserved_s")
        found.append((name, item.name, _LABELS.get(item.name, causes) if many else ()))
    return found


def _user_unit(field: str, value: int) -> Cell:
    """Return seconds as hours and 1/60 mL as litres, by the field's ending."""
    if field.endswith("_s"):
        return round(value / 3_600, 6)
    return round(value / 60_000, 6) if field.endswith("_gas") else value
