"""From all who are admitted to those on oxygen: four groups whose rates add up, and the shares between them.

In need and on oxygen, in need and not on it, on it without need, neither. Each is drawn for itself, so that in
every draw admissions x shares give the rate of those put on oxygen that the register has, and no share passes
100 %.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.special import gammaincinv

from o2sim.fits.found import DRAWS
from o2sim.fits.patients.comings import ALL, Counted, month, months_of, overlap, rows_with
from o2sim.fits.patients.pace import Pace
from o2sim.fits.patients.texts import percent
from o2sim.records.books import Records
from o2sim.statistics.fitting.luck import uniforms
from o2sim.statistics.fitting.shares import bounds_with_blanks, jeffreys, share_draws

Values = npt.NDArray[np.float64]
_SAME_TIME = 0.5  # of the register's days, from which both books are taken to hold the same patients


@dataclass(frozen=True)
class Admitted:
    """All admissions of a class: how many over which days, how many with a reading, how many below 90 %."""

    counted: Counted
    written: int
    below: int

    @property
    def blank(self) -> int:
        """Return how many have no reading."""
        return self.counted.total - self.written

    @property
    def share(self) -> float:
        """Return the share below 90 % of those with a reading, 0 without any."""
        return self.below / self.written if self.written else 0.0


@dataclass(frozen=True)
class Readings:
    """Oximeter readings before oxygen of those put on it: how many, and how many of 90 % or more."""

    written: int
    above: int


@dataclass(frozen=True)
class Group:
    """A rate, 1 / day: the likely one, and draws of shape (DRAWS,)."""

    likely: float
    draws: Values

    def over(self, all_: Group) -> Group:
        """Return the share of this in another, 0 of nothing."""
        return Group(
            self.likely / all_.likely if all_.likely > 0 else 0.0,
            self.draws / np.maximum(all_.draws, 1e-300),
        )

    def __add__(self, other: Group) -> Group:
        """Return both together."""
        return Group(self.likely + other.likely, self.draws + other.draws)


@dataclass(frozen=True)
class Groups:
    """The four groups of a class, and what is doubtful."""

    in_need_on: Group
    in_need_off: Group
    without_on: Group
    without_off: Group
    cautions: tuple[str, ...]

    @property
    def in_need(self) -> Group:
        """Return those in need."""
        return self.in_need_on + self.in_need_off

    @property
    def without(self) -> Group:
        """Return those not in need."""
        return self.without_on + self.without_off

    @property
    def all(self) -> Group:
        """Return all who are admitted."""
        return self.in_need + self.without


def admitted(records: Records) -> dict[str, Admitted]:
    """Return all admissions by class; months without their number are left out."""
    found = {}
    for name in records.classes:
        rows = rows_with(records, records.admissions, name, "admitted")
        months = months_of(records, ALL, [month(row) for row in rows])
        if months is None or not any(row.admitted for row in rows):
            continue
        read = [row for row in rows if row.spo2_written is not None and row.below_90 is not None]
        found[name] = Admitted(
            months.counted(row.admitted or 0 for row in rows),
            sum(row.spo2_written or 0 for row in read), sum(row.below_90 or 0 for row in read),
        )  # fmt: skip
    return found


def readings(records: Records, name: str) -> Readings:
    """Return the readings of those put on oxygen."""
    read = [stay.spo2_percent for stay in records.once if stay.class_ == name and stay.spo2_percent is not None]
    return Readings(len(read), sum(spo2 >= 90 for spo2 in read))


def below_draws(all_: Admitted, seed: int, name: str) -> Values:
    """Return how many of all admitted are below 90 %, shape (DRAWS,): those seen, and a share of the blanks.

    Nobody knows whether blanks are like the others. Half of the draws take a share of them from none to that of
    the others, half from that to all, so that the worst case on either side is in the range and the middle stays.
    """
    if not all_.blank or not all_.written:
        return np.full(DRAWS, float(all_.below))
    seen = share_draws(all_.below, all_.written, DRAWS, seed, f"below 90 %, {name}")
    luck = 2 * uniforms(seed, "blanks", name, DRAWS)
    blanks = np.where(luck < 1, seen * luck, seen + (1 - seen) * (luck - 1))
    return all_.below + all_.blank * blanks


def share_in_need(all_: Admitted, seed: int, name: str) -> Values:
    """Return draws of the share below 90 % of all admitted, shape (DRAWS,), where nobody knows who had oxygen."""
    if not all_.blank:
        return share_draws(all_.below, all_.written, DRAWS, seed, f"below 90 %, {name}")
    return below_draws(all_, seed, name) / all_.counted.total


def groups(pace: Pace, all_: Admitted, read: Readings, seed: int, name: str) -> Groups:
    """Return the four groups of a class from the pace of those put on oxygen and the book of all admissions."""
    on = Group(pace.rate, pace.rates)
    above = Group(0.0, np.zeros(DRAWS))
    if read.above:  # none of 90 % or more: nobody is given oxygen without need
        above = Group(read.above / read.written,
                      share_draws(read.above, read.written, DRAWS, seed, f"on oxygen, {name}"))  # fmt: skip
    without_on = Group(on.likely * above.likely, on.draws * above.draws)
    in_need_on = Group(on.likely - without_on.likely, on.draws - without_on.draws)
    likely_days, days = pace.weighed_days(all_.counted)
    below, total = below_draws(all_, seed, name), np.full(DRAWS, float(all_.counted.total))
    seen_on, seen_without = np.full(DRAWS, in_need_on.likely * likely_days), without_on.likely * likely_days
    if overlap(pace.counted, all_.counted) < _SAME_TIME:  # other patients: their number has a chance of its own
        luck = uniforms(seed, "another time", name, DRAWS)
        chance = gammaincinv(total + 0.5, luck) / (total + 0.5)
        below, total, seen_on = below * chance, total * chance, in_need_on.draws * days
    off = Group(0.0, np.zeros(DRAWS))
    if all_.written:
        expected = all_.share * all_.counted.total / likely_days
        off = _rest(expected - in_need_on.likely, below - seen_on, days, pace, seed, f"in need, {name}")
    count = total - seen_on - seen_without - np.maximum(below - seen_on, 0)
    neither = _rest(all_.counted.total / likely_days - on.likely - off.likely, count, days, pace, seed,
                    f"without need, {name}")  # fmt: skip
    return Groups(in_need_on, off, without_on, neither, _said(pace, all_, read, in_need_on.likely * likely_days))


def _rest(likely: float, counts: Values, days: Values, pace: Pace, seed: int, item: str) -> Group:
    """Return the rate of those who are left over, by their numbers in as many days.

    Given what makes days and years uneven for all alike, the groups are independent, each with Poisson's chance.
    """
    luck = uniforms(seed, "left over", item, DRAWS)
    return Group(max(likely, 0.0), gammaincinv(np.maximum(counts, 0.0) + 0.5, luck) / days * pace.shared)


def _said(pace: Pace, all_: Admitted, read: Readings, in_need_on: float) -> tuple[str, ...]:
    """Return what is doubtful of the shares."""
    found = []
    if not all_.written:
        found.append(
            "All admissions have no oximeter readings: the share in need is that of those put on oxygen, and who"
            " needed oxygen and had none is not known"
        )
    elif all_.blank:
        low, high = bounds_with_blanks(all_.below, all_.written, all_.blank)
        found.append(
            f"{percent(all_.blank / all_.counted.total)} of all admitted have no oximeter reading: were they all"
            f" above or all below 90 %, the share in need would be {percent(low)} or {percent(high)}; the range"
            " holds both sides"
        )
    if not read.written:
        found.append("no reading before oxygen is in the register: all put on oxygen are taken as in need")
    expected = all_.share * all_.counted.total
    if all_.written and in_need_on > expected:
        found.append(
            f"{in_need_on:.0f} were put on oxygen in need where {expected:.0f} of all admitted were below 90 %:"
            " all are taken as found, and the share in need as that of those put on oxygen"
        )
    if overlap(pace.counted, all_.counted) < _SAME_TIME:
        found.append("all admissions are of another time than those put on oxygen")
    return tuple(found)


def exact_share(all_: Admitted) -> str:
    """Return the share below 90 % with its range in words, for a comment."""
    low, _, high = jeffreys(all_.below, all_.written)
    return f"{all_.below} of {all_.written} readings below 90 % ({percent(low)} to {percent(high)})"
