"""Fits a scenario to a hospital's books: what they give is written over a base, the rest stays the base's."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING

from o2sim.errors import O2simError
from o2sim.fits.found import Part
from o2sim.questions.fit.base import OWN, own_base
from o2sim.questions.fit.choosing import Unused, chosen, not_overruled
from o2sim.questions.fit.head import cautions_of, head
from o2sim.questions.fit.names import files_of
from o2sim.questions.fit.not_given import not_given
from o2sim.questions.fit.placing import in_place
from o2sim.questions.fit.values import Value, values
from o2sim.questions.fit.writing import loaded, with_head, written
from o2sim.records.books import Records
from o2sim.records.reading import read_records
from o2sim.scenario.changing.override import Original, original, original_of
from o2sim.scenario.text import nodes
from o2sim.scenario.text.problems import Problems
from o2sim.scenario.text.source import BYTE_ORDER_MARK
from o2sim.scenario.types.hospital import Scenario
from o2sim.shown import Shown, copy_of, frame_of
from o2sim.tabular import Rows, data_frame

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True)
class Base:
    """The scenario that a fit is written over. file: its name, empty for o2sim's own."""

    name: str
    file: str
    hash: str
    source: Original = field(repr=False)


@dataclass(frozen=True)
class Fit(Shown):
    """A scenario fitted to records. text: of its file; table: a row for each joint draw, its columns keys.

    A head of the table has the unit of its key in brackets. parts: all that was fitted; values: what of it stands
    in the text; unused: what does not, and why; not_given: (key, why) of what stays the base's; cautions: plain
    sentences, those that matter most first; doubts: what reading the books found doubtful.
    """

    scenario: Scenario
    text: str = field(repr=False)
    table: Rows = field(repr=False)
    parts: tuple[Part, ...] = field(repr=False)
    values: tuple[Value, ...] = field(repr=False)
    unused: tuple[Unused, ...] = field(repr=False)
    not_given: tuple[tuple[str, str], ...]
    cautions: tuple[str, ...]
    doubts: tuple[str, ...]
    records: str
    records_hash: str
    base: Base
    seed: int

    @cached_property
    def draws(self) -> pd.DataFrame:
        """Return the table of joint draws as a data frame."""
        return data_frame(self.table.columns, self.table.rows)

    def to_frame(self) -> pd.DataFrame:
        """Return the keys written as a data frame, a row for each number or law.

        Columns: key, value (as text), likely, low and high (5 and 95 % points) in `unit` where it is one number,
        sheet, tier, rows, used (null where under 5), said.
        """
        return frame_of(self)

    def write(self, path: str | Path, *, overwrite: bool = False) -> tuple[Path, ...]:
        """Write the scenario to a file, and beside it the draws and the page of pictures; return the paths.

        Raises OutputError where one is there already (unless overwrite) or cannot be written; then none is.
        """
        copy_of(self, Path(path), overwrite)
        return files_of(Path(path), drawn=len(self.table) > 0)


def fit(records: Records | str | Path, base: Scenario | str | Path | None = None, seed: int = 1) -> Fit:
    """Return a scenario fitted to what a hospital's books say, with 200 joint draws of what is uncertain.

    records: a workbook (.xlsx) or a folder of CSV files as `read_records` takes, or what it gave. base: the
    scenario that gives what no record does; without one o2sim's own first scenario. Raises RecordsError where
    records are wrong, ScenarioError where the base is, O2simError for anything else than these.
    """
    if not isinstance(records, Records | str | Path):
        raise O2simError(f"found {type(records).__name__}; allowed: records, or the path of a workbook")
    over = base_of(base) if base is not None else None  # what is wrong with it is seen before the long work
    books = records if isinstance(records, Records) else read_records(records)
    return fitted(parts_of(books, seed), books, over or own(books), seed)


def parts_of(records: Records, seed: int) -> tuple[Part, ...]:
    """Return all that the records give: of patients, of supply, and what is thought."""
    return tuple(part for some in parts_in_turn(records, seed) for part in some)


def parts_in_turn(records: Records, seed: int) -> Iterator[tuple[Part, ...]]:
    """Yield what the records give in three steps, for those who show how far it is."""
    from o2sim.fits.patients.parts import patient_parts
    from o2sim.fits.supply.parts import supply_parts
    from o2sim.fits.thoughts import thought_parts

    for parts in (patient_parts, supply_parts, thought_parts):
        yield parts(records, seed)


def base_of(base: Scenario | str | Path) -> Base:
    """Return a scenario, or that of a file, as a base. Raises ScenarioError, O2simError as `fit` does."""
    source = original(base)
    return Base(source.scenario.name, source.file, source.scenario.hash, source)


def own(records: Records) -> Base:
    """Return o2sim's own first scenario as a base, with the classes of the records."""
    source = original_of(own_base(records), OWN)
    return Base(OWN, "", source.scenario.hash, source)


def fitted(parts: Sequence[Part], records: Records, base: Base, seed: int) -> Fit:
    """Return the scenario that parts of the records make of a base. Raises ScenarioError where none loads."""
    raw = base.source.raw or base.source.root
    parts = in_place(parts, records.classes, raw, base.source.scenario)
    claims, unused = chosen(parts, records.classes)
    claims, overruled = not_overruled(claims, raw)
    found, lacking = values(claims, raw)
    label = f"{base.file or OWN} fitted to {records.file.name}"
    made = written(base.source, found, label)
    root = nodes.parse(made.text.removeprefix(BYTE_ORDER_MARK), Problems(label))
    rest = tuple(not_given(root, made.values, made.likes))
    text = with_head(made.text, list(head(records, base.name, base.hash, seed, rest)))
    scenario = loaded(base.source, text, label)
    return Fit(
        scenario=scenario,
        text=text,
        table=made.draws,
        parts=tuple(parts),
        values=made.values,
        unused=(*unused, *overruled, *lacking, *made.unused),
        not_given=rest,
        cautions=cautions_of(root, made, parts, scenario, base.source.scenario),
        doubts=tuple(str(each) for each in records.cautions),
        records=records.file.name,
        records_hash=records.hash,
        base=base,
        seed=seed,
    )
