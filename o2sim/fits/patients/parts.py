"""All parts of the records that are about patients: how often each class comes, at what flow, for how long."""

from __future__ import annotations

from o2sim.fits.covered import Covered, plain
from o2sim.fits.found import ROWS, TOTALS, Part
from o2sim.fits.patients.comings import (
    ALL,
    MONTHS,
    REGISTER,
    from_register,
    from_totals,
    put_on,
    register_days,
)
from o2sim.fits.patients.flows import part_of_flows
from o2sim.fits.patients.pace import Pace, paces
from o2sim.fits.patients.sharing import Admitted, Readings, admitted, readings
from o2sim.fits.patients.stay_laws import part_of_stays, stay_laws
from o2sim.fits.patients.stays import how_kept, rows_of
from o2sim.fits.patients.texts import counted
from o2sim.fits.patients.totals import part_of_counts, part_of_gas, parts_of_totals
from o2sim.fits.patients.who_come import part_of_admissions, part_of_class
from o2sim.records.books import Records
from o2sim.records.rows import MonthTotal


def patient_parts(records: Records, seed: int) -> tuple[Part, ...]:
    """Return what the records give of patients: parts from rows first, then from totals, then from counts.

    A key may be in several parts; the tier of each says which is better. Row r of all draws is one draw. A class
    without any row has no part.
    """
    there = register_days(records)
    all_ = admitted(records)
    came = {name: each.counted for name, each in all_.items()}
    by_rows = paces(from_register(records, there), seed, REGISTER, came) if there is not None else {}
    by_totals = paces(from_totals(records), seed, MONTHS, came)
    known = by_rows or by_totals
    return (
        *_from_rows(records, there, by_rows, all_, seed),
        *_from_totals(records, by_totals, all_, seed),
        *_admissions_alone(all_, known, seed),
        *part_of_counts(records, known, seed),
        *_without_class(records),
    )


def _from_rows(
    records: Records, there: Covered | None, pace: dict[str, Pace], all_: dict[str, Admitted], seed: int
) -> tuple[Part, ...]:
    """Return the parts of the register: who comes, first flows, stays."""
    if there is None:
        return ()
    mine = {name: [stay for stay in records.once if stay.class_ == name] for name in records.classes}
    mine = {name: stays for name, stays in mine.items() if stays}
    how = how_kept(records, there)
    rows = {name: rows_of(stays, how) for name, stays in mine.items()}
    laws = stay_laws(rows, seed)
    cautions = _of_register(records, there)
    found = []
    for name, stays in mine.items():
        if name in pace:
            read = readings(records, name)
            found.append(part_of_class(name, pace[name], ROWS, all_.get(name), read, seed, cautions))
        flow = part_of_flows(name, stays, there.said(), seed)
        found += [flow] if flow is not None else []
        if name in laws:
            found.append(part_of_stays(name, rows[name], laws[name], how))
        else:
            found.append(Part(f"how long {name} stay on oxygen", REGISTER, ROWS, counted(0, len(stays), "stays"),
                              cautions=("too few have ended: no law of stays",), rows=len(stays)))  # fmt: skip
    return tuple(found)


def _of_register(records: Records, there: Covered) -> tuple[str, ...]:
    """Return what is doubtful of how often patients come, by the register."""
    stays = records.once
    days = [plain(day) for stay in stays if (day := put_on(stay)) is not None]
    lost = sum(not there.holds(day) and day >= there.first for day in days)
    before = sum(day < there.first for day in days)
    nameless = sum(stay.class_ is None for stay in stays)
    twice = len(records.stays) - len(stays)
    missing = there.is_covered.size - there.days
    said = (
        (before, "stays began before the book: they are in no rate"),
        (lost, "stays began on days of missing pages: they are in no rate"),
        (nameless, "stays have no class: taken as spread over the classes like the others"),
        (twice, "rows repeat another and are left out"),
    )
    found = tuple(counted(count, len(records.stays), what) for count, what in said if count)
    if missing:
        found += (f"{missing} days of missing pages are taken as not known, not as days on which nobody came",)
    return found


def _from_totals(
    records: Records, pace: dict[str, Pace], all_: dict[str, Admitted], seed: int
) -> tuple[Part, ...]:
    """Return the parts of month totals."""
    comes = [
        part_of_class(name, each, TOTALS, all_.get(name), Readings(0, 0), seed) for name, each in pace.items()
    ]
    gas = () if records.once else part_of_gas(records)
    return (*comes, *parts_of_totals(records, seed), *gas)


def _admissions_alone(all_: dict[str, Admitted], known: dict[str, Pace], seed: int) -> tuple[Part, ...]:
    """Return the parts of classes of which only the sheet All admissions says anything."""
    alone = {name: each for name, each in all_.items() if name not in known}
    pace = paces({name: each.counted for name, each in alone.items()}, seed, ALL)
    return tuple(part_of_admissions(name, pace[name], each, seed) for name, each in alone.items())


def says_patients(row: object) -> bool:
    """Return whether a row counts patients; rows of all classes together may count cylinders alone."""
    return not isinstance(row, MonthTotal) or row.put_on_oxygen is not None or row.patient_days is not None


def _without_class(records: Records) -> tuple[Part, ...]:
    """Return a part without keys for each sheet whose rows name no class where there are several."""
    if len(records.classes) < 2:
        return ()
    books = (
        (REGISTER, ROWS, records.once),
        (MONTHS, TOTALS, records.months),
        (ALL, TOTALS, records.admissions),
    )
    found = []
    for sheet, tier, rows in books:
        nameless = sum(row.class_ is None and says_patients(row) for row in rows)
        if nameless and (sheet != REGISTER or nameless == len(rows)):
            said = counted(nameless, len(rows), "rows")
            why = f"{said} name no class, and there are {len(records.classes)} classes: they are not used"
            found.append(Part("patients without a class", sheet, tier, said, cautions=(why,), rows=nameless))
    return tuple(found)
