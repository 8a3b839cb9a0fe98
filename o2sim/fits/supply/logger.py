"""Power by a logger, or a voltmeter read at an even pace: spells met by looks, and those that fell between two."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from o2sim.fits.found import ROWS, Part, Whole
from o2sim.fits.law_panels import law_panels
from o2sim.fits.law_text import (
    fitted_or_none,
    law_cautions,
    law_said,
    law_text,
    law_with_ranges,
    own_seed,
    plain,
    some,
)
from o2sim.fits.supply.cuts import DOWN, UP
from o2sim.records.books import Records
from o2sim.scenario.types.laws import Law, scaled
from o2sim.statistics.fitting.laws import moment
from o2sim.statistics.fitting.on_off import mean_up_corrected, runs, share_met
from o2sim.statistics.fitting.spells import Spells, joined
from o2sim.statistics.fitting.whole import Fitted

SHEET = "Voltage"
OFF = 0.3  # of the usual voltage, below which the power is off
POOR = 0.85  # of the usual voltage, below which it is poor: a common limit of equipment
EVEN = 0.1  # of the pace, by which a look may come early or late
MOSTLY = 0.8  # of looks that must keep the pace
FEWEST = 20  # looks


@dataclass(frozen=True)
class Log:
    """Looks at an even pace: hours between them, stretches without a gap (True for up), share of poor voltage."""

    every_h: float
    stretches: tuple[npt.NDArray[np.bool_], ...]
    poor: float
    looks: int
    from_day: dt.date
    to_day: dt.date


def logger_parts(records: Records, seed: int) -> tuple[Part, ...]:
    """Return what a logger gives: laws of times on and off, or why there are none."""
    if not records.voltages:
        return ()
    part = Part("voltage", SHEET, ROWS, "", rows=len(records.voltages))
    log = looks([(row.at, row.volts) for row in records.voltages if row.at is not None and row.volts is not None])
    if log is None:
        return (replace(part, cautions=(
            f"voltage: {some(part.rows, 'look')}: too few or too uneven in time ({FEWEST} or more at one pace are"
            " needed) to tell how long power stays on and off",
        )),)  # fmt: skip
    spells = _spells(log)
    if spells is None:
        return (replace(part, cautions=(_never_changes(log),)),)
    up, down = (
        fitted_or_none(spells[0], own_seed(seed, f"{SHEET} on")),
        fitted_or_none(spells[1], own_seed(seed, f"{SHEET} off")),
    )
    if up is None or down is None:
        cautions = ("voltage: too few cuts were met by two looks for a range of how long power stays on and off",)
        return (replace(part, cautions=cautions),)
    return (_part(part, log, spells[1], (up, down)),)


def looks(rows: Sequence[tuple[dt.datetime, float]]) -> Log | None:
    """Return a log from times and volts, in stretches at its usual pace; None for too few or uneven looks.

    A look that is left out parts two stretches: what was between is not known. Off is below 30 % of the median of
    what was above 0 V.
    """
    ordered = sorted(rows)
    volts = np.array([each for _, each in ordered], np.float64)
    if len(ordered) < FEWEST or not (volts > 0).any():
        return None
    at = np.array([(when - ordered[0][0]) / dt.timedelta(hours=1) for when, _ in ordered])
    steps = np.diff(at)
    pace = float(np.median(steps))
    if pace <= 0:
        return None
    even = np.abs(steps - pace) <= EVEN * pace
    if even.mean() < MOSTLY:
        return None
    usual = float(np.median(volts[volts > 0]))
    up = volts >= OFF * usual
    parts = tuple(np.split(up, np.flatnonzero(~even) + 1))
    poor = float(np.mean(up & (volts < POOR * usual)))
    return Log(pace, parts, poor, len(up), ordered[0][0].date(), ordered[-1][0].date())


def _spells(log: Log) -> tuple[Spells, Spells] | None:
    """Return times on and off of all stretches that change; None where none does."""
    found = [runs(part, log.every_h) for part in log.stretches if len(part) > 1 and part.any() and not part.all()]
    if not found:
        return None
    up, down = joined(*(each.up for each in found)), joined(*(each.down for each in found))
    return (up, down) if up.is_over.any() and down.is_over.any() else None


def corrected(up: Law, down: Law, every_h: float) -> Law:
    """Return the law of times on, given that of those between cuts that a look met: on a smaller scale."""
    mean = moment(up)
    return scaled(up, max(mean_up_corrected(mean, down, every_h), every_h / 100) / mean)


def _part(part: Part, log: Log, down_rows: Spells, laws: tuple[Fitted, Fitted]) -> Part:
    up, down = laws
    best_down = down.fits[0].law
    met = share_met(best_down, log.every_h)
    ups = tuple(corrected(one, other, log.every_h) for one, other in zip(up.draws, down.draws, strict=True))
    best = corrected(up.fits[0].law, best_down, log.every_h)
    own_up = tuple(corrected(one, best_down, log.every_h) for one in up.own)
    return replace(
        part,
        said=(
            f"{log.looks} looks every {plain(log.every_h * 60)} min, {_said(log)}, {int(down_rows.is_over.sum())}"
            f" cuts met; on: {law_said(up)}, off: {law_said(down)}, 90 % range"
        ),
        wholes=(
            Whole(UP, law_with_ranges(best, own_up, "h"), tuple(law_text(law, "h") for law in ups)),
            Whole(DOWN, law_with_ranges(best_down, down.own, "h"),
                  tuple(law_text(law, "h") for law in down.draws)),
        ),
        cautions=_doubts(log, met, up, down, down_rows),
        panels=law_panels("Length of a power cut that a look met", "h", down_rows, down),
        used=log.looks, test_p=down.test.chance if down.test is not None else None,
    )  # fmt: skip


def _doubts(log: Log, met: float, up: Fitted, down: Fitted, rows: Spells) -> tuple[str, ...]:
    found = [
        f"voltage: {100 * (1 - met):.0f} % of cuts fell between two looks, by the law of their lengths, and are"
        " allowed for"
    ]
    gaps = len(log.stretches) - 1
    if gaps:
        found.append(f"voltage: {gaps} gap{'s' if gaps > 1 else ''} in the log; what was within is not known")
    if log.poor > 0:
        found.append(
            f"voltage: {100 * log.poor:.1f} % of looks show a poor voltage (30 to 85 % of the usual one), which"
            " counts as power here; power.voltage is not written"
        )
    ended = int(rows.is_over.sum())
    return (*found, *law_cautions("times with power", up, ended), *law_cautions("lengths of cuts", down, ended))


def _never_changes(log: Log) -> str:
    return (
        f"voltage: in {log.looks} looks, {_said(log)}, no whole time with and without power: they last longer than"
        " the log"
    )


def _said(log: Log) -> str:
    first, last = log.from_day, log.to_day
    return f"{first.day} {first:%b %Y} to {last.day} {last:%b %Y}"
