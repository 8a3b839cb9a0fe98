"""What `o2sim fit --json` prints."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Annotated

from o2sim.fits.found import DRAWS, TIERS, Part
from o2sim.questions.fit.fitting import Fit
from o2sim.questions.fit.values import Value
from o2sim.records.findings import FEW
from o2sim.typed import Count, Hash, Share, item
from o2sim.version import __version__

Tier = Annotated[str, (("enum", TIERS),)]


@dataclass(frozen=True)
class FittedNumber:
    """A number with its doubt."""

    key: str = item("of the scenario, the name of a law within")
    unit: str = item("of the figures; empty for none")
    likely: float = item("the estimate")
    low: float = item("5 % of the draws are below it")
    high: float = item("95 % of the draws are below it")


@dataclass(frozen=True)
class FittedKey:
    """A key that the records give."""

    key: str = item("of the scenario")
    value: str = item("as written: a number, a range, a law")
    numbers: tuple[FittedNumber, ...] = item("the numbers in it; none where it was fitted as a whole")
    drawn: bool = item("whether the table of draws has it")
    sheet: str = item("the book that it is from")
    tier: Tier = item("what the book gave it by, the best first")
    rows: Count | None = item("of the book; null where there are 1 to 4 of them")
    used: Count | None = item("rows that counted; null where there are 1 to 4 of them")
    said: str = item("what its comment says, or that of its section")
    test_p: Share | None = item("of the law: how often one so far off would come by chance; null where not tested")


@dataclass(frozen=True)
class NotUsed:
    """What a book gives and is not written."""

    key: str = item()
    sheet: str = item()
    tier: Tier = item()
    why: str = item()


@dataclass(frozen=True)
class NotGiven:
    """A key that no record gives: as in the base."""

    key: str = item()
    why: str = item()


@dataclass(frozen=True)
class FitResult:
    """A scenario fitted to records."""

    version: str = item("of o2sim")
    records: str = item("name of the workbook or folder")
    records_hash: Hash = item("of what it holds")
    base: str = item("name of the scenario that the fit is written over")
    base_hash: Hash = item("of what it says")
    seed: Count = item()
    draws: Count = item("joint draws")
    scenario_hash: Hash = item("of what was written")
    keys: tuple[FittedKey, ...] = item("in the order of the parts that give them")
    not_used: tuple[NotUsed, ...] = item()
    not_given: tuple[NotGiven, ...] = item("the reorder rule first")
    cautions: tuple[str, ...] = item("those that matter most first")
    doubts: tuple[str, ...] = item("what reading the records found doubtful")
    files: tuple[str, ...] = item("written: the scenario, the draws, the page of pictures")


def result(found: Fit, files: Sequence[str] = ()) -> FitResult:
    """Return what is printed of a fit, counts under 5 merged."""
    return FitResult(
        version=__version__,
        records=found.records,
        records_hash=found.records_hash,
        base=found.base.name,
        base_hash=found.base.hash,
        seed=found.seed,
        draws=len(found.table) or DRAWS,
        scenario_hash=found.scenario.hash,
        keys=tuple(_key(found, each) for each in found.values),
        not_used=tuple(NotUsed(each.key, each.part.sheet, each.part.tier, each.why) for each in found.unused),
        not_given=tuple(NotGiven(*each) for each in found.not_given),
        cautions=found.cautions,
        doubts=found.doubts,
        files=tuple(files),
    )


def _key(found: Fit, value: Value) -> FittedKey:
    part: Part = value.part
    numbers = tuple(
        FittedNumber(".".join(each.path), each.unit, each.likely, each.low, each.high) for each in value.numbers
    )
    drawn = any(head in found.table.columns for head in value.columns)
    rows, used = _merged(part.rows), _merged(part.used)
    return FittedKey(
        value.key, value.text, numbers, drawn, part.sheet, part.tier, rows, used, part.said, part.test_p
    )


def _merged(count: int) -> int | None:
    return None if 0 < count < FEW else count
