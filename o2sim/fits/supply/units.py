"""Concentrators: how many there are, how often they fail, how long repairs take, which are never repaired."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from o2sim.fits.covered import Covered, covered, plain
from o2sim.fits.found import DRAWS, ROWS, Curve, Number, Panel, Part, Whole
from o2sim.fits.law_panels import law_panels
from o2sim.fits.law_text import (
    fitted_or_none,
    law_cautions,
    law_said,
    law_text,
    law_whole,
    law_with_ranges,
    own_seed,
    some,
    too_few,
)
from o2sim.fits.law_text import plain as figure
from o2sim.fits.supply.clock import days_since
from o2sim.fits.supply.lives import CALENDAR, RUNNING, Lives, cards_by_unit, lives
from o2sim.records.books import Records
from o2sim.scenario.types.laws import Law
from o2sim.statistics.fitting.failures import (
    Failures,
    Prior,
    expected_failures,
    mean_time_draws,
    mean_time_points,
    updated,
)
from o2sim.statistics.fitting.shares import jeffreys, share_draws
from o2sim.statistics.fitting.spells import Spells, in_steps
from o2sim.statistics.fitting.survivors import mean_cumulative
from o2sim.statistics.fitting.whole import Fitted, fitted

SHEET, CARDS = "Units", "Job cards"
COUNT, FAILURE, CLOCK = "concentrators.count", "concentrators.failure", "concentrators.failure_clock"
REPAIR, NEVER = "concentrators.repair", "concentrators.never_repaired"
PRIOR = Prior(2.0, 12_000.0)  # worth 2 failures in 12,000 h: weak, from 2,500 to 34,000 h (assumption of o2sim)
FEW = 5  # failures, below which the prior counts too
KINDS = ("exponential", "weibull")  # a Weibull law only where it is preferred


def unit_parts(records: Records, seed: int) -> tuple[Part, ...]:
    """Return what the list of units and the job cards give."""
    if not records.units:
        return ()
    cards = records.job_cards
    days = [each for unit in records.units for each in (unit.in_use_from,)]
    days += [each for card in cards for each in (card.down, card.back)]
    book = covered(records, CARDS, days) or covered(records, SHEET, days)
    count = _count_part(records)
    if book is None:
        return (count,)
    parts = (
        _failure_part(records, book, seed),
        _repair_part(records, book, seed),
        _never_part(records, book, seed),
    )
    return (count, *(part for part in parts if part is not None))


def _count_part(records: Records) -> Part:
    """Return the part about how many there are: in use, and away for a repair from which they will come back."""
    cards = cards_by_unit(records)
    gone = {unit for unit, mine in cards.items() if any(card.written_off for card in mine)}
    away = {unit for unit, mine in cards.items() if mine[-1].back is None} - gone
    unsaid = [unit for unit in records.units if unit.in_use_now is None and unit.unit not in gone]
    in_use = [unit for unit in records.units if unit.in_use_now or (unit in unsaid)]
    more = [unit for unit in records.units if unit.in_use_now is False and unit.unit in away]
    cautions = []
    if unsaid:
        cautions.append(f"units: of {len(unsaid)} nobody says whether they are in use now: taken as in use")
    if both := [unit for unit in in_use if unit.unit in gone]:
        cautions.append(f"units: {len(both)} written off {'is' if len(both) == 1 else 'are'} in use now: counted")
    said = f"{len(in_use)} of {len(records.units)} units in use now"
    if more:
        said += f", and {len(more)} away for repair"
    return Part("how many concentrators", SHEET, ROWS, said, wholes=(Whole(COUNT, f"{len(in_use) + len(more)}"),),
                cautions=tuple(cautions), rows=len(records.units), used=len(records.units))  # fmt: skip


def _failure_part(records: Records, book: Covered, seed: int) -> Part | None:
    """Return the part about failures: a law, and the clock by which it runs."""
    seen = lives(records, book)
    part = Part("failures of concentrators", CARDS, ROWS, "", rows=len(records.units),
                used=len(records.units) - seen.left_out, cautions=tuple(_left_out(seen, book)))  # fmt: skip
    if not seen.hours > 0:
        return replace(part, used=0, cautions=(
            *part.cautions, "units: neither meters nor days in use are written: how often they fail is not known",
        ))  # fmt: skip
    words = f"{some(seen.failures, 'failure')} in {figure(seen.hours, 6)} {seen.clock} h of {part.used} units"
    clock = Whole(CLOCK, seen.clock)
    if seen.failures < FEW:
        law, draws, failure = _by_prior(seen, seed)
        said = (
            f"{words}, exponential, with a weak prior worth {figure(PRIOR.failures)} failures in"
            f" {PRIOR.hours:,.0f} h, 90 % range"
        )
        return replace(part, said=said, wholes=(failure, clock), panels=_pictures(seen, law, draws), cautions=(
            *part.cautions,
            f"units: only {seen.failures} failure{'' if seen.failures == 1 else 's'}; a weak prior, worth"
            f" {figure(PRIOR.failures)} in {PRIOR.hours:,.0f} h, counts too",
        ))  # fmt: skip
    found = fitted(seen.spells, own_seed(seed, FAILURE), kinds=KINDS)
    return replace(
        part, said=f"{words}, {law_said(found)}, 90 % range",
        wholes=(law_whole(FAILURE, found, "h"), clock),
        cautions=(*part.cautions, *law_cautions("failures of units", found, seen.failures)),
        panels=(*_pictures(seen, found.fits[0].law, found.draws), *_quantiles(seen.spells, found)),
        test_p=found.test.chance if found.test is not None else None,
    )  # fmt: skip


def _quantiles(spells: Spells, found: Fitted) -> tuple[Panel, ...]:
    return law_panels("Time to failure", "h", spells, found)[1:]


def _by_prior(seen: Lives, seed: int) -> tuple[Law, tuple[Law, ...], Whole]:
    """Return the exponential law by the prior and what was seen, its draws, and what is written of it."""
    rate = updated(PRIOR, Failures(seen.failures, seen.hours))
    draws = tuple(Law("exponential", (each,)) for each in mean_time_draws(rate, DRAWS, seed, "units").tolist())
    law = Law("exponential", (mean_time_points(rate)[1],))
    return (
        law,
        draws,
        Whole(FAILURE, law_with_ranges(law, draws, "h"), tuple(law_text(each, "h") for each in draws)),
    )


def _left_out(seen: Lives, book: Covered) -> list[str]:
    found = []
    if seen.left_out:
        lack = "meters" if seen.clock == RUNNING else "day of first use"
        found.append(f"units: {seen.left_out} without their {lack} are left out of the failures")
    if seen.filled:
        found.append(f"units: {seen.filled} job card{'' if seen.filled == 1 else 's'} without a meter: put evenly"
                     " between those that are written")  # fmt: skip
    if seen.later:
        found.append(f"units: job cards begin on {book.first}; what {seen.later} units ran before does not count")
    if seen.back:
        found.append(
            f"units: {seen.back} times between failures are left out, as the meter went back or stood still"
        )
    if seen.clock == CALENDAR:
        found.append(
            "units: too few meters are written, so that failures go by the calendar and not by running hours"
        )
        if not book.is_stated:
            found.append("Place does not say to when job cards were kept: units are taken as seen to the last day"
                         " that is written")  # fmt: skip
    return found


def _pictures(seen: Lives, law: Law, draws: tuple[Law, ...]) -> tuple[Panel, ...]:
    """Return the mean number of failures of a unit by its age, of the records and by the mean of the law."""
    units, ages, failed = zip(*seen.events, strict=True)
    top = max(ages)
    at, mean = expected_failures(law, top)
    low, high = np.quantile([expected_failures(each, top)[1] for each in draws], [0.05, 0.95], axis=0)
    line = Curve(at, mean, f"mean of the {law.kind} law", band=(low, high))
    curves: tuple[Curve, ...] = (line,)
    if any(failed):
        steps = mean_cumulative(units, ages, failed)
        seen_ = Curve(np.append(0.0, steps.times), np.append(0.0, steps.values), "records", "steps")
        curves = (seen_, line)
    label = "running hours of the unit" if seen.clock == RUNNING else "hours in use of the unit"
    return (Panel("Failures of a unit by its age", label, "failures of a unit so far", curves),)


def repair_spells(records: Records, book: Covered) -> Spells:
    """Return how long repairs take, in days by dates; one still away is not over, one written off is none."""
    cards = [card for card in records.job_cards if card.down is not None and not card.written_off]
    if not cards:
        return in_steps([])
    last = (book.last - book.first).days
    down = np.array([days_since(book.first, plain(card.down)) for card in cards if card.down is not None])
    back = [None if card.back is None else days_since(book.first, card.back) for card in cards]
    over = np.array([each is not None for each in back])
    most = np.maximum(last - down + 1, 0)
    steps = np.where(over, [0 if each is None else each for each in back] - down, most)
    return in_steps(steps, over=over, limit=np.maximum(most, steps))


def _repair_part(records: Records, book: Covered, seed: int) -> Part | None:
    spells = repair_spells(records, book)
    if not len(spells):
        return None
    away = int((~spells.is_over).sum())
    part = Part("repairs of concentrators", CARDS, ROWS, "", rows=len(records.job_cards), used=len(spells))
    found = fitted_or_none(spells, own_seed(seed, REPAIR))
    if found is None:
        return replace(part, used=0, cautions=(too_few("repairs", spells, "days"),))
    cautions = () if not away else (
        f"repairs: {away} of {len(spells)} {'is' if away == 1 else 'are'} not over, and count as no shorter",
    )  # fmt: skip
    return replace(
        part,
        said=f"{len(spells) - away} of {len(spells)} repairs over, {book.said()}, {law_said(found)}, 90 % range",
        wholes=(law_whole(REPAIR, found, "days"),),
        cautions=(*cautions, *law_cautions("repairs", found, len(spells) - away)),
        panels=law_panels("Repair", "days", spells, found),
        test_p=found.test.chance if found.test is not None else None,
    )  # fmt: skip


def _never_part(records: Records, book: Covered, seed: int) -> Part | None:
    """Return the share of failures after which a unit is written off; those still away count for neither."""
    known = [card for card in records.job_cards if card.written_off or card.back is not None]
    if not known:
        return None
    off = sum(bool(card.written_off) for card in known)
    if len(known) < FEW:
        return Part("units never repaired", CARDS, ROWS, "", rows=len(records.job_cards), cautions=(
            f"units: {off} of {some(len(known), 'failure')} written off: too few for a share, so that"
            f" {NEVER} is not written",
        ))  # fmt: skip
    draws = share_draws(off, len(known), DRAWS, seed, "never repaired") * 100
    likely = jeffreys(off, len(known))[1] * 100
    return Part(
        "units never repaired", CARDS, ROWS,
        f"{off} of {len(known)} failures, {book.said()}, Jeffreys' 90 % range",
        numbers=(Number(NEVER, "%", likely, draws, 0, 100),), rows=len(records.job_cards), used=len(known),
    )  # fmt: skip
