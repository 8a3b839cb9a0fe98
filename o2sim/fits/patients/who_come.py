"""The part of the records that says who comes and who is put on oxygen: rate, shares, season, unevenness."""

from __future__ import annotations

import datetime as dt

import numpy as np
import numpy.typing as npt

from o2sim.fits.covered import DAY
from o2sim.fits.found import DRAWS, ROWS, TOTALS, Number, Part, Whole
from o2sim.fits.law_text import amount, range_text
from o2sim.fits.patients.comings import ALL, MONTHS, REGISTER, Counted
from o2sim.fits.patients.pace import Pace
from o2sim.fits.patients.pictures import months_panel
from o2sim.fits.patients.sharing import Admitted, Groups, Readings, exact_share, groups, share_in_need
from o2sim.fits.patients.texts import percent
from o2sim.records.findings import FEW, few
from o2sim.statistics.fitting.counts import before_thinning

Values = npt.NDArray[np.float64]
MOST_RATIO = 1000.0  # of a season, and of the unevenness of days: what the keys take
_PERT_FROM_END = 1 - 0.05**0.2  # the 95 % point of a PERT law from 0 to 1 whose likely value is 0


def part_of_class(
    name: str,
    pace: Pace,
    tier: str,
    all_: Admitted | None,
    read: Readings,
    seed: int,
    cautions: tuple[str, ...] = (),
) -> Part:
    """Return the part of a class, from the pace of those put on oxygen (tier rows or totals).

    Without the sheet All admissions only the product admissions x shares is known: the rate of those put on oxygen
    is written as that of all admissions, with 100 % in need and 100 % found.
    """
    key, counted = f"patients.{name}", pace.counted
    if all_ is None:
        numbers: tuple[Number, ...] = (_rate(key, pace.rate, pace.rates),)
        wholes: tuple[Whole, ...] = all_in_need(key)
        of_shares = _only_product(read)
        thinning, thinnings = 1.0, np.ones(DRAWS)
    else:
        found = groups(pace, all_, read, seed, name)
        numbers, wholes, of_shares = (*_shares(key, found),), (), found.cautions
        on = (found.in_need_on + found.without_on).over(found.all)
        thinning, thinnings = on.likely, on.draws
        numbers, wholes = _certain(numbers)
    return Part(
        name=f"how often {name} come and are put on oxygen",
        sheet=REGISTER if tier == ROWS else MONTHS,
        tier=tier,
        said=_said(counted, pace, all_),
        brief=_brief(key, counted, pace, all_),
        numbers=(*numbers, _unevenness(key, pace, thinning, thinnings)),
        wholes=(*wholes, *_season(key, pace)),
        cautions=(*cautions, *_of_book(counted), *of_shares, *pace.cautions),
        panels=months_panel(name, pace),
        rows=counted.total,
        used=counted.total,
    )


def part_of_admissions(name: str, pace: Pace, all_: Admitted, seed: int) -> Part:
    """Return the part of a class of which only All admissions are known: no book says who was put on oxygen."""
    key = f"patients.{name}"
    seen, one = all_.written > 0, np.ones(DRAWS)
    share = Number(
        f"{key}.hypoxaemic", "%", 100 * all_.share, 100 * share_in_need(all_, seed, name), highest=100.0
    )
    return Part(
        name=f"how often {name} are admitted",
        sheet=ALL,
        tier=TOTALS,
        said=f"{all_.counted.total} admitted in {len(all_.counted.counts)} months, {all_.counted.said}"
        + (f"; {exact_share(all_)}" if seen else ""),
        numbers=(_rate(key, pace.rate, pace.rates), *([share] if seen else []), _unevenness(key, pace, 1.0, one)),
        wholes=_season(key, pace),
        cautions=("no book says who was put on oxygen: recognised stays that of the base", *pace.cautions),
        panels=months_panel(name, pace, "admitted"),
        rows=all_.counted.total,
        used=all_.counted.total,
    )  # fmt: skip


def _rate(key: str, likely: float, draws: Values) -> Number:
    return Number(f"{key}.admissions", "/ day", likely, draws, highest=10_000.0)


def all_in_need(key: str) -> tuple[Whole, ...]:
    """Return the shares where only those on oxygen are known."""
    return (
        Whole(f"{key}.hypoxaemic", "100 %"),
        Whole(f"{key}.recognised", "100 %"),
        Whole(f"{key}.given_without_need", "0 %"),
    )


def _only_product(read: Readings) -> tuple[str, ...]:
    """Return what is not known without All admissions."""
    above = ""
    if read.written >= FEW and read.above:
        above = f"; {percent(read.above / read.written)} of those with a reading before oxygen had 90 % or more"
    return (
        "without All admissions the books count only those put on oxygen: admissions are theirs, hypoxaemic and"
        f" recognised 100 %, and who needed oxygen and had none is not known{above}",
    )


def _shares(key: str, of: Groups) -> tuple[Number, ...]:
    """Return admissions and the three shares."""
    in_need, found = of.in_need.over(of.all), of.in_need_on.over(of.in_need)
    given = of.without_on.over(of.without)
    shares = {"hypoxaemic": in_need, "recognised": found, "given_without_need": given}
    return (
        _rate(key, of.all.likely, of.all.draws),
        *(
            Number(f"{key}.{what}", "%", 100 * share.likely, 100 * share.draws, highest=100.0)
            for what, share in shares.items()
        ),
    )


def _certain(numbers: tuple[Number, ...]) -> tuple[tuple[Number, ...], tuple[Whole, ...]]:
    """Return numbers that vary, and those that do not (0 % of nobody, 100 % by definition) as they are written."""
    fixed = [each for each in numbers if np.ptp(each.draws) == 0]
    wholes = tuple(Whole(each.key, amount(each.likely, each.unit)) for each in fixed)
    return tuple(each for each in numbers if np.ptp(each.draws) > 0), wholes


def _unevenness(key: str, pace: Pace, share: float, shares: Values) -> Number:
    """Return variance over mean of all admissions a day: those put on oxygen are a share of them."""
    drawn = np.minimum(before_thinning_all(pace.dispersions, shares), MOST_RATIO)
    likely = min(before_thinning(pace.dispersion, share), MOST_RATIO)
    return Number(f"{key}.overdispersion", "", likely, drawn, lowest=1.0, highest=MOST_RATIO)


def before_thinning_all(dispersions: Values, shares: Values) -> Values:
    """Return variance over mean of all, draw by draw."""
    return 1 + (dispersions - 1) / shares


def _season(key: str, pace: Pace) -> tuple[Whole, ...]:
    """Return the season; one that is not to be seen has a likely ratio of 1, and its range."""
    if pace.season is None:
        return ()
    ratios = np.clip(pace.ratios, 1.0, MOST_RATIO)
    if pace.season.is_kept:
        ratio = range_text(ratios, min(pace.season.ratio, MOST_RATIO), "", 1.0, MOST_RATIO)
    else:
        high = 1 + (min(pace.season.high, MOST_RATIO / 4) - 1) / _PERT_FROM_END
        ratio = f"{{low: 1, likely: 1, high: {amount(high)}}}" if amount(high) != "1" else "1"
    origin = pace.counted.origin
    drawn = tuple(
        f"{{peak: {_date(origin, peak)}, ratio: {amount(r)}}}" for peak, r in zip(pace.peaks, ratios, strict=True)
    )
    return (Whole(f"{key}.season", f"{{peak: {_date(origin, pace.season.peak_day)}, ratio: {ratio}}}", drawn),)


def _date(origin: dt.date, days: float) -> str:
    return (origin + DAY * int(days)).isoformat()


def _of_book(counted: Counted) -> tuple[str, ...]:
    if counted.stretch == 1:
        return ()
    return (
        "Place does not say when the book was kept: from its first row to its last it may have begun earlier and"
        f" ended later, and days are taken as {percent(counted.stretch - 1)} more",
    )


def _brief(key: str, counted: Counted, pace: Pace, all_: Admitted | None) -> dict[str, str]:
    """Return what stands beside each key of a class; what all have in common is said once at the class."""
    put_on = f"{few(counted.total)} put on oxygen"
    said = dict.fromkeys(
        ("admissions", "hypoxaemic", "given_without_need", "recognised", "overdispersion"), put_on
    )
    if all_ is not None and all_.written:
        said["hypoxaemic"] = f"{all_.written} readings"
    if pace.season is not None:
        said["season"] = f"{put_on}, p = {pace.season.test.chance:.2g}"
    return {f"{key}.{name}": f"{each}, {counted.said}, 90 % range" for name, each in said.items()}


def _said(counted: Counted, pace: Pace, all_: Admitted | None) -> str:
    days = f"{len(counted.counts)} days" if counted.is_daily else f"{len(counted.counts)} months"
    what = f"{few(counted.total)} put on oxygen in {days}, {counted.said}"
    if all_ is not None and all_.written:
        what += f"; of {all_.counted.total} admitted, {exact_share(all_)}"
    season = ""
    if pace.season is not None:
        season = f", season p = {pace.season.test.chance:.2g}"
    return f"{what}{season}, 90 % range"
