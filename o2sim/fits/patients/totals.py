"""How long patients stay without a list of them: from month totals by Little's law, or from counts at midnight.

Totals say how long stays are on average, hardly how much they differ: the law is lognormal, its width an
assumption with a range.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
import numpy.typing as npt
from scipy.special import gammaincinv, ndtri

from o2sim.fits.covered import covered
from o2sim.fits.found import COUNTS, DRAWS, TOTALS, Curve, Number, Panel, Part, Whole
from o2sim.fits.law_text import amount, range_text
from o2sim.fits.patients.comings import MONTHS, month, month_days, month_end, period, rows_with
from o2sim.fits.patients.pace import Pace
from o2sim.fits.patients.who_come import all_in_need
from o2sim.records.books import Records, kept
from o2sim.records.findings import few
from o2sim.records.rows import MonthTotal
from o2sim.scenario.types.laws import Law
from o2sim.statistics.fitting.crowd import LEAST_COUNTS, CountsFit, counts_draws, little, stays_from_counts
from o2sim.statistics.fitting.laws import moment
from o2sim.statistics.fitting.luck import uniforms
from o2sim.statistics.fitting.pert import pert_quantile

Values = npt.NDArray[np.float64]
MIDNIGHT = "Counts at midnight"
_HOW_LONG = "how long patients stay on oxygen"
DAY_H = 24.0
WIDTHS = (1.6, 2.2, 3.0)  # geometric standard deviations of stays, assumed: the ends and the likely one
_WIDTH = math.log(WIDTHS[1])
_ASSUMED = f"totals do not say how much stays differ: a geometric sd of {WIDTHS[0]} to {WIDTHS[2]} is assumed"


def parts_of_totals(records: Records, seed: int) -> tuple[Part, ...]:
    """Return how long each class stays on oxygen by month totals of patient-days and of those put on oxygen."""
    found = []
    for name in records.classes:
        rows = rows_with(records, records.months, name, "patient_days", "put_on_oxygen")
        if sum(row.put_on_oxygen or 0 for row in rows) > 0 and sum(row.patient_days or 0 for row in rows) > 0:
            found.append(_of_class(records, name, rows, seed))
    return tuple(found)


def _of_class(records: Records, name: str, rows: Sequence[MonthTotal], seed: int) -> Part:
    place = kept(records.places, MONTHS, "end_day_counted")
    both_ends = place is not None and bool(place.end_day_counted)
    first, last = _ends(records, rows)
    cautions = [_ASSUMED]
    if place is None:
        cautions.append("Place does not say whether patient-days hold the day of the end: they are taken not to")
    days, begun = (
        float(sum(getattr(row, what) or 0 for row in rows)) for what in ("patient_days", "put_on_oxygen")
    )
    try:
        mean = little(days, begun, first, last, both_ends)
    except ValueError as problem:
        return Part(f"how long {name} stay on oxygen", MONTHS, TOTALS, "no stay", cautions=(str(problem),))
    span = float(sum(month_days(month(row)) for row in rows))
    drawn = mean * _luck_of_little(mean, begun, span, seed, name, edges_known=not math.isnan(first))
    bare = sum(row.days_shelf_bare or 0 for row in rows)
    if bare:
        cautions.append(f"the shelf was bare on {bare} days: stays on oxygen may have been cut short")
    return Part(
        name=f"how long {name} stay on oxygen",
        sheet=MONTHS,
        tier=TOTALS,
        said=f"{days:.0f} patient-days of {few(int(begun))} put on oxygen,"
        f" {period(month(rows[0]), month_end(month(rows[-1])))}: mean {amount(mean, 'days')} by Little's law,"
        " lognormal assumed, 90 % range",
        wholes=(_whole(name, mean * DAY_H, drawn * DAY_H, seed),),
        cautions=tuple(cautions),
        rows=len(rows),
        used=len(rows),
    )


def _ends(records: Records, rows: Sequence[MonthTotal]) -> tuple[float, float]:
    """Return how many were on oxygen as the first month began and as the last ended, nan where nobody counted.

    Counts at midnight are of all classes, so they serve where there is one class only.
    """
    if len(records.classes) > 1:
        return math.nan, math.nan
    counts = {row.date: row.on_oxygen for row in records.midnights if row.on_oxygen is not None}
    first, last = month(rows[0]), month(rows[-1])
    return (
        float(counts.get(first - dt.timedelta(days=1), math.nan)),
        float(counts.get(month_end(last), math.nan)),
    )


def _luck_of_little(
    mean: float, begun: float, span: float, seed: int, item: str, *, edges_known: bool = False
) -> Values:
    """Return factors of mean 1, shape (DRAWS,), by which a mean stay by totals of one time may lie off."""
    shape = 1 / little_error(mean, begun, span, edges_known=edges_known) ** 2
    return np.asarray(gammaincinv(shape, uniforms(seed, "stay by totals", item, DRAWS)) / shape, np.float64)


def little_error(mean: float, begun: float, span: float, *, edges_known: bool) -> float:
    """Return the standard error of a mean stay by totals, over that mean: chance of stays, and of who is cut off.

    Of n stays the mean has sd / sqrt(n). Who is there at either end, m on average, puts in or takes out what is
    left of a stay, of mean square E[L^3] / 3 E[L] (Cox, Renewal Theory, 1962, from memory); where their numbers
    are known, half of that. All for a lognormal law of the assumed width.
    """
    law = _law(1.0, WIDTHS[1])
    of_stays = (moment(law, 2) - 1) / begun
    crowd = begun * mean / span
    of_ends = 2 * crowd * moment(law, 3) / 3 / begun**2
    return math.sqrt(of_stays + of_ends * (0.5 if edges_known else 1.0))


def _law(mean: float, width: float) -> Law:
    """Return the lognormal law of a mean and a geometric sd."""
    sigma = math.log(width)
    return Law("lognormal", (math.log(mean) - sigma**2 / 2, sigma))


def _whole(name: str, mean_h: float, means_h: Values, seed: int) -> Whole:
    """Return the law by its mean, with the assumed width."""
    widths = pert_quantile(*WIDTHS, uniforms(seed, "width of stays", name, DRAWS))
    low, likely, high = WIDTHS
    text = (
        f"{{lognormal: {{mean: {range_text(means_h, mean_h, 'h')}, geometric_sd: {{low: {low}, likely: {likely},"
    )
    drawn = tuple(
        f"{{lognormal: {{mean: {amount(mean, 'h')}, geometric_sd: {amount(width)}}}}}"
        for mean, width in zip(means_h, widths, strict=True)
    )
    return Whole(f"patients.{name}.duration", f"{text} high: {high}}}}}}}", drawn)


def part_of_gas(records: Records) -> tuple[Part, ...]:
    """Return cylinders for each patient-day: a mean flow only with the litres of a cylinder, which no book has."""
    emptied = sum(row.cylinders_emptied or 0 for row in records.months)
    patient_days = sum(row.patient_days or 0 for row in records.months)
    if not emptied or not patient_days:
        return ()
    each = amount(emptied / patient_days)
    said = f"{emptied} cylinders emptied for {patient_days:.0f} patient-days"
    why = (
        f"{each} cylinders were emptied for each patient-day: times the usable litres of one, over 1,440, that is"
        " the mean flow in L/min if all oxygen came from cylinders; flows stay those of the base"
    )
    return (Part("first flows", MONTHS, TOTALS, said, cautions=(why,), rows=len(records.months)),)


def part_of_counts(records: Records, pace: Mapping[str, Pace], seed: int) -> tuple[Part, ...]:
    """Return how long patients stay by counts at midnight: mean / rate where a rate is known, else by correlation.

    The counts do not say classes, so that all classes get one law; how often they come only where there is one.
    """
    counts = _nights(records)
    if counts is None:
        return ()
    nights = int(np.sum(~np.isnan(counts)))
    try:
        fit = stays_from_counts(counts, "lognormal", _WIDTH)
    except ValueError:
        why = f"{nights} nights: at least {LEAST_COUNTS}, not all alike, are needed"
        return (Part(_HOW_LONG, MIDNIGHT, COUNTS, f"{nights} nights", cautions=(why,), rows=nights),)
    mean, means, how = (_by_rate if pace else _by_correlation)(fit, counts, pace, seed)
    names = tuple(pace) or records.classes
    stays = Part(
        name=_HOW_LONG,
        sheet=MIDNIGHT,
        tier=COUNTS,
        said=f"{nights} nights, {amount(fit.mean)} on oxygen on average: mean {amount(mean, 'days')} {how},"
        " lognormal assumed, 90 % range",
        wholes=tuple(_whole(name, mean * DAY_H, means * DAY_H, seed) for name in names),
        cautions=_of_counts(len(names), is_rate_known=bool(pace)),
        panels=(_panel(fit),),
        rows=len(records.midnights),
        used=nights,
    )
    rates = fit.mean / means * _mean_luck(fit, counts, seed)
    return (stays if pace or len(names) > 1 else _with_rate(stays, names[0], fit.mean / mean, rates),)


def _of_counts(classes: int, *, is_rate_known: bool) -> tuple[str, ...]:
    """Return what is doubtful of stays by counts at midnight."""
    said = [_ASSUMED]
    if not is_rate_known:
        said.append("a season in the counts looks like longer stays")
    if classes > 1:
        said.append("counts at midnight do not say classes: all are given one law of stays")
    return tuple(said)


def _with_rate(part: Part, name: str, rate: float, rates: Values) -> Part:
    """Return a part with how often the only class comes: those on oxygen, all in need and found."""
    key = f"patients.{name}"
    return replace(
        part,
        numbers=(Number(f"{key}.admissions", "/ day", rate, rates, highest=10_000.0),),
        wholes=(*part.wholes, *all_in_need(key)),
        cautions=(
            *part.cautions,
            "counts hold only those on oxygen: admissions are theirs, hypoxaemic and recognised 100 %",
        ),
    )


def _nights(records: Records) -> Values | None:
    """Return counts of the covered nights in order, nan where none was written; None without any."""
    written = {row.date: row.on_oxygen for row in records.midnights if row.date and row.on_oxygen is not None}
    there = covered(records, MIDNIGHT, written)
    if not written or there is None:
        return None
    days = [there.first + dt.timedelta(days=k) for k in range((there.last - there.first).days + 1)]
    return np.array([written.get(day, np.nan) if there.holds(day) else np.nan for day in days], np.float64)


def _mean_luck(fit: CountsFit, counts: Values, seed: int) -> Values:
    """Return factors of mean 1, shape (DRAWS,), by which the mean of correlated nights may lie off."""
    nights = int(np.sum(~np.isnan(counts)))
    alike = 1 + 2 * float(np.sum(np.maximum(fit.fitted, 0.0)))
    error = math.sqrt(float(np.nanvar(counts, ddof=1)) * alike / nights) / fit.mean
    return np.asarray(
        np.exp(error * ndtri(uniforms(seed, "mean at midnight", "all", DRAWS)) - error**2 / 2), np.float64
    )


def _by_correlation(
    fit: CountsFit, counts: Values, pace: Mapping[str, Pace], seed: int
) -> tuple[float, Values, str]:
    """Return the same as _by_rate where no rate is known: by the correlation of nights apart."""
    assert not pace
    laws = counts_draws(fit, len(counts), DRAWS, seed, _WIDTH)
    means = np.resize(np.array([moment(law) for law in laws]), DRAWS)
    return moment(fit.law), means, "by how alike nights in a row are"


def _by_rate(fit: CountsFit, counts: Values, pace: Mapping[str, Pace], seed: int) -> tuple[float, Values, str]:
    """Return the mean stay (days), its draws and how it was found: mean number / how many are put on oxygen."""
    rate = sum(each.rate for each in pace.values())
    nights = int(np.sum(~np.isnan(counts)))
    mean, how = fit.mean / rate, f"at {amount(rate)} put on oxygen a day"
    return mean, mean * _luck_of_little(mean, rate * nights, nights, seed, "midnight"), how


def _panel(fit: CountsFit) -> Panel:
    return Panel(
        "How alike counts of nights apart are", "Nights apart", "Correlation",
        (Curve(fit.lags, fit.seen, "counted", "points"), Curve(fit.lags, fit.fitted, "fitted")),
    )  # fmt: skip
