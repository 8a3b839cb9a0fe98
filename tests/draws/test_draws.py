"""Draws: known answers of the generator, keys by meaning, and who is left alone when something changes."""

import datetime as dt
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from scipy import integrate, stats

from o2sim.draws import Draws, admissions, quantile
from o2sim.draws import philox as px
from o2sim.draws.laws import whole
from o2sim.draws.season import cumulative
from o2sim.draws.streams import pack_admissions
from o2sim.scenario.types.hospital import (
    DAY_S,
    Concentrators,
    Hospital,
    Law,
    PatientClass,
    Resupply,
    RoadClosure,
    Season,
    Strategy,
)

START = dt.date(2027, 1, 1)
ONES = (1 << 64) - 1
STAY = Law("lognormal", (11.0, 0.8))
CHILDREN = PatientClass("children", 8.0, 0.5, Law("triangular", (500.0, 1_000.0, 2_000.0)), STAY)
ADULTS = PatientClass("adults", 6.0, 0.5, Law("uniform", (2_000.0, 9_000.0)), STAY, priority=2)
NEWBORNS = PatientClass("newborns", 1.5, 1.0, Law("constant", (500.0,)), STAY)


def _hospital(*classes: PatientClass, days: int = 60, warm_up_s: int = 0, **changes: object) -> Hospital:
    base = Hospital(Strategy("s", ("cylinder",)), START, days * DAY_S, warm_up_s, 0, 0, classes)
    return replace(base, **changes)  # type: ignore[arg-type]


def _of(hospital: Hospital, name: str, draws: Draws | None = None) -> list[tuple[int, ...]]:
    """A hospital and a class in; (ordinal, arrival, flow, duration) of its patients out."""
    table = (draws or Draws(1, 0)).patients(hospital)
    columns = (table.class_index, table.ordinal, table.arrival_s, table.flow_ml_min, table.duration_s)
    return [row[1:] for row in zip(*columns, strict=True) if hospital.patients[row[0]].name == name]


# The generator


def _philox4x64(counter: list[int], key: list[int]) -> list[int]:
    """Ten rounds written out after Salmon, Moraes, Dror and Shaw, "Parallel random numbers", SC 2011."""
    (a, b, c, d), (k0, k1) = counter, key
    for _ in range(10):
        first, second = a * 0xD2E7470EE14C6C93, c * 0xCA5A826395121157
        a, b, c, d = (second >> 64) ^ b ^ k0, second & ONES, (first >> 64) ^ d ^ k1, first & ONES
        k0, k1 = (k0 + 0x9E3779B97F4A7C15) & ONES, (k1 + 0xBB67AE8584CAA73B) & ONES
    return [a, b, c, d]


@pytest.mark.parametrize(
    ("counter", "key", "answer"),
    [
        ([0] * 4, [0] * 2, "16554d9eca36314c db20fe9d672d0fdc d7e772cee186176b 7e68b68aec7ba23b"),
        ([ONES] * 4, [ONES] * 2, "87b092c3013fe90b 438c3c67be8d0224 9cc7d7c69cd777b6 a09caebf594f0ba0"),
        (
            [0x243F6A8885A308D3, 0x13198A2E03707344, 0xA4093822299F31D0, 0x082EFA98EC4E6C89],
            [0x452821E638D01377, 0xBE5466CF34E90C6C],
            "a528f45403e61d95 38c72dbd566e9788 a5a1610e72fd18b5 57bd43b5e52b7fe6",
        ),
    ],
)
def test_philox_against_the_known_answers_of_random123(counter: list[int], key: list[int], answer: str) -> None:
    """The file kat_vectors of Random123, philox4x64 10 (from memory); NumPy's counter is one behind."""
    words = [int(word, 16) for word in answer.split()]
    assert _philox4x64(counter, key) == words
    number = sum(word << (64 * place) for place, word in enumerate(counter))
    before = (number - 1) % (1 << 256)
    bits = np.random.Philox(key=sum(k << (64 * i) for i, k in enumerate(key)), counter=before)
    assert bits.random_raw(4).tolist() == words


@pytest.mark.parametrize("item", [0, 5, -1, "newborns"])
def test_words_against_philox_written_out(item: int | str) -> None:
    """Key (seed, hash of the stream), counter (block + 1, item, replication, 0), as the contract has it."""
    item_word = px.stable_hash(item) if isinstance(item, str) else item % (1 << 64)
    blocks = [_philox4x64([n + 1, item_word, 9, 0], [12, px.stable_hash("grid up")]) for n in range(3)]
    assert px.raw_words(12, 9, "grid up", item, 0, 12).tolist() == [word for block in blocks for word in block]


def test_the_hash_of_a_name_is_the_same_everywhere() -> None:
    """BLAKE2b with 8 bytes of digest, little-endian: the value of coreutils' `b2sum -l 64` on "abc"."""
    assert px.stable_hash("abc") == int.from_bytes(bytes.fromhex("d8bb14d833d59559"), "little")


@pytest.mark.parametrize(("first", "count"), [(0, 1), (1, 1), (3, 2), (4, 4), (7, 30), (1_000_001, 5), (2, 0)])
def test_random_access_equals_the_block(first: int, count: int) -> None:
    """Any stretch of ordinals, asked for alone, is that stretch of the whole stream."""
    if first < 100:
        whole_stream = px.uniforms(3, 1, "patient flow", "adults", 0, 100)
    else:
        whole_stream = np.concatenate(
            [np.zeros(first - 1), px.uniforms(3, 1, "patient flow", "adults", first - 1, 50)]
        )
    assert px.uniforms(3, 1, "patient flow", "adults", first, count).tolist() == (
        whole_stream[first : first + count].tolist()
    )
    drawn = [Draws(3, 1).draw("patient flow", "adults", first + n) for n in range(count)]
    assert drawn == whole_stream[first : first + count].tolist()


def test_uniforms_lie_strictly_between_nought_and_one(monkeypatch: pytest.MonkeyPatch) -> None:
    """Even of the least and the greatest word there is: a law may have no value at 0 or 1."""
    extremes = np.array([0, 1, ONES - 1, ONES], dtype=np.uint64)
    monkeypatch.setattr(px, "raw_words", lambda *_: extremes)
    u = px.uniforms(0, 0, "", 0, 0, 4)
    assert u.min() > 0
    assert u.max() < 1


def test_uniforms_are_uniform_and_streams_unlike() -> None:
    """20,000 numbers: Kolmogorov; the correlation with any other key differing in one part is nought, |z| < 4."""
    count, base = 20_000, (1, 0, "patient flow", "adults")
    u = px.uniforms(*base, 0, count)
    assert stats.ks_1samp(u, stats.uniform.cdf).statistic * count**0.5 < 2.23
    others = [
        (2, 0, "patient flow", "adults"),
        (1, 1, "patient flow", "adults"),
        (1, 0, "patient duration", "adults"),
        (1, 0, "patient flow", "children"),
    ]
    for other in others:
        z = np.corrcoef(u, px.uniforms(*other, 0, count))[0, 1] * count**0.5
        assert abs(z) < 4


# Who is left alone


def test_one_more_class_changes_nobody_else() -> None:
    """The same children and adults, whatever class stands before, between or after them."""
    two, three = _hospital(CHILDREN, ADULTS), _hospital(NEWBORNS, ADULTS, CHILDREN)
    assert len(_of(three, "newborns")) > 0
    for name in ("children", "adults"):
        assert _of(two, name) == _of(three, name)


def test_more_admissions_in_a_class_change_nobody_elses_patients() -> None:
    """The adults are the same; of the children the n-th has the same flow and stay, and comes earlier."""
    usual, more = _hospital(CHILDREN, ADULTS), _hospital(replace(CHILDREN, admissions_per_day=16.0), ADULTS)
    assert _of(usual, "adults") == _of(more, "adults")
    pairs = list(zip(_of(usual, "children"), _of(more, "children"), strict=False))
    assert all((a[0], a[2:]) == (b[0], b[2:]) for a, b in pairs)
    assert all(0 <= a[1] - 2 * b[1] <= 1 for a, b in pairs)  # at half the time, each rounded down


def test_another_law_for_one_class_changes_nobody_else() -> None:
    """A longer stay of the children leaves their arrivals and flows, and the adults, as they were."""
    usual, longer = (
        _hospital(kind, ADULTS) for kind in (CHILDREN, replace(CHILDREN, duration_s=ADULTS.flow_ml_min))
    )
    assert _of(usual, "adults") == _of(longer, "adults")
    assert [row[:3] for row in _of(usual, "children")] == [row[:3] for row in _of(longer, "children")]


def test_one_more_strategy_meets_the_same_patients() -> None:
    """With one Draws for both or one each, and for any sources."""
    cylinders = _hospital(CHILDREN, ADULTS)
    units = replace(
        cylinders, strategy=Strategy("t", ("concentrator",)), concentrators=Concentrators(3, 5_000, 4, 1.0)
    )
    shared = Draws(1, 0)
    assert _of(cylinders, "adults", shared) == _of(units, "adults", shared) == _of(units, "adults")


def test_one_more_concentrator_changes_no_other() -> None:
    """Unit 0 fails at the same times whether or not others are asked first; units differ from each other."""
    law, draws = Law("exponential", (1e6,)), Draws(1, 0)
    alone = [Draws(1, 0).failures(law, 0)[n] for n in range(40)]
    three = [draws.failures(law, unit) for unit in (2, 1, 0)]
    values = [[series[n] for n in range(40)] for series in three]
    assert values[2] == alone
    assert len({tuple(row) for row in values}) == 3
    assert [draws.repairs(law, 0)[n] for n in range(40)] != alone


def test_a_longer_horizon_adds_patients_and_changes_none() -> None:
    """The first 60 of 90 days are those of 60."""
    short, long = _of(_hospital(CHILDREN), "children"), _of(_hospital(CHILDREN, days=90), "children")
    assert short == long[: len(short)]
    assert long[len(short)][1] >= 60 * DAY_S


def test_draws_do_not_depend_on_the_order_of_the_calls() -> None:
    """Two Draws asked the same things in opposite orders."""
    law, day, hospital = Law("gamma", (2.0, 1e5)), dt.date(2027, 3, 4), _hospital(CHILDREN, ADULTS)
    asks = [
        lambda draws: draws.lead_time_s(law, day, 1),
        lambda draws: draws.grid_up(law)[70],
        lambda draws: draws.grid_down(law)[3],
        lambda draws: draws.failures(law, 4)[33],
        lambda draws: draws.patients(hospital).arrival_s,
        lambda draws: draws.draw("x", 1, 2),
        lambda draws: draws.lead_time_s(law, day, 0),
    ]
    one, other = Draws(8, 2), Draws(8, 2)
    assert [ask(one) for ask in asks] == [ask(other) for ask in asks[::-1]][::-1]
    assert one.key == (8, 2)


# What is drawn


def test_a_series_is_the_rounded_quantile_of_its_ordinals() -> None:
    """By ordinal, backwards as well as forwards, over the edges of the blocks it grows by."""
    law, draws = Law("weibull", (1.5, 4e4)), Draws(2, 5)
    series = draws.grid_down(law)
    u = np.array([draws.draw("grid down", 0, n) for n in range(70)])
    backwards = [series[n] for n in range(69, -1, -1)]
    assert backwards[::-1] == whole(quantile(law, u), 1).tolist()


def test_a_lead_time_is_keyed_by_the_day_and_the_number_on_that_day() -> None:
    """The ordinal of the date (day 1 is 1 January of year 1, as in datetime) and the nth order of the day."""
    law, draws = Law("gamma", (4.0, 86_400.0)), Draws(6, 3)
    day = dt.date(2027, 2, 11)
    for nth in range(3):
        u = np.array([draws.draw("lead time", day.toordinal(), nth)])
        assert draws.lead_time_s(law, day, nth) == whole(quantile(law, u), 0)[0]
    drawn = {draws.lead_time_s(law, day + dt.timedelta(days), nth) for days in range(20) for nth in range(3)}
    assert len(drawn) == 60
    assert draws.lead_time_s(Law("constant", (0.0,)), day, 0) == 0


def test_what_is_drawn_for_one_purpose_tells_nothing_of_another() -> None:
    """Flow and stay, failure and repair, grid up and down: no correlation, |z| < 4."""
    law, count, draws = Law("uniform", (0.0, 1e6)), 4_000, Draws(3, 0)
    table = draws.patients(_hospital(replace(CHILDREN, flow_ml_min=law, duration_s=law), days=1_100))
    pairs = [
        (table.flow_ml_min[:count], table.duration_s[:count]),
        *(
            [[series[n] for n in range(count)] for series in pair]
            for pair in (
                (draws.failures(law, 0), draws.repairs(law, 0)),
                (draws.grid_up(law), draws.grid_down(law)),
            )
        ),
    ]
    assert all(abs(np.corrcoef(one, other)[0, 1]) * count**0.5 < 4 for one, other in pairs)


def test_a_warm_up_of_part_of_a_day_begins_within_that_day() -> None:
    """A warm-up of 100,000 s meets the patients of one of two days, less those of the first 72,800 s."""
    part, two_days = _hospital(CHILDREN, warm_up_s=100_000), _hospital(CHILDREN, warm_up_s=2 * DAY_S)
    arrivals = [row[1] for row in _of(two_days, "children")]
    assert [row[1] for row in _of(part, "children")] == [at - 72_800 for at in arrivals if at >= 72_800]


def test_patients_are_in_order_of_arrival_and_within_the_run() -> None:
    """From the start of the warm-up (here not a whole number of days) to the end of the horizon."""
    hospital = _hospital(CHILDREN, ADULTS, warm_up_s=100_000)
    table = Draws(4, 0).patients(hospital)
    assert table.arrival_s == sorted(table.arrival_s)
    assert 0 <= table.arrival_s[0] <= table.arrival_s[-1] < hospital.end_s
    assert min(table.duration_s) >= 1
    assert (min(table.flow_ml_min) >= 500, max(table.flow_ml_min) <= 9_000) == (True, True)
    mean = 7 * hospital.end_s / DAY_S
    assert abs(len(table) - mean) < 4 * mean**0.5


def test_a_class_without_admissions_has_no_patients() -> None:
    """Of two classes with a rate of nought none arrives."""
    assert len(Draws(1, 0).patients(_hospital(replace(CHILDREN, hypoxaemic=0.0)))) == 0


def test_arrivals_without_season_are_a_poisson_process() -> None:
    """Times between arrivals are exponential (Kolmogorov), and daily counts vary as their mean, |z| < 4."""
    hospital = _hospital(CHILDREN, days=1_000)
    arrivals = np.array(Draws(5, 0).patients(hospital).arrival_s)
    gaps = np.diff(arrivals)
    assert stats.ks_1samp(gaps, stats.expon(scale=DAY_S / 4).cdf).statistic * len(gaps) ** 0.5 < 2.23
    counts = np.bincount(arrivals // DAY_S, minlength=1_000)
    z = ((counts - 4.0) ** 2 / 4.0).sum() - 1_000  # index of dispersion about the known mean: 1,000 in the mean
    assert abs(z) < 4 * (1_000 * (2 + 1 / 4)) ** 0.5  # variance of (X - m)^2 / m for Poisson: 2 + 1 / m


def _counts_by_stretch(season: Season, edges_days: list[int]) -> np.ndarray:
    kind = replace(CHILDREN, season=season)
    hospital = _hospital(kind, days=edges_days[-1] - 10, warm_up_s=10 * DAY_S)
    arrivals = [np.array(Draws(9, replication).patients(hospital).arrival_s) for replication in range(30)]
    return np.histogram(np.concatenate(arrivals), np.array(edges_days) * DAY_S)[0]


def _chi_square_z(counts: np.ndarray, expected: np.ndarray) -> float:
    return float((((counts - expected) ** 2 / expected).sum() - len(counts)) / (2 * len(counts)) ** 0.5)


def test_seasonal_arrivals_against_the_integrated_rate() -> None:
    """Thirty replications of 740 days: counts by 20 days against the integral of 1 + a cos, chi-square |z| < 4."""
    peak, ratio = dt.date(2027, 5, 15), 3.0
    amplitude = (ratio - 1) / (ratio + 1)
    day_zero = START - dt.timedelta(10)  # the warm-up of 10 days runs before the start

    def rate(day: float) -> float:
        return 4 * (1 + amplitude * np.cos(2 * np.pi * (day - (peak - day_zero).days) / 365.25))

    edges = list(range(0, 741, 20))
    expected = [30 * integrate.quad(rate, a, b)[0] for a, b in pairwise(edges)]
    counts = _counts_by_stretch(Season(peak, ratio), edges)
    assert abs(_chi_square_z(counts, np.array(expected))) < 4
    assert max(expected) > 2.9 * min(expected)


def test_monthly_factors_are_steps() -> None:
    """Each month of two years at its factor of 4 a day, chi-square |z| < 4; a factor of nought brings nobody."""
    months = (0.0, 0.5, 1.0, 1.5, 2.0, 2.5, 0.5, 1.0, 0.25, 0.75, 1.0, 1.0)
    firsts = [dt.date(year, month, 1) for year in (2027, 2028) for month in range(1, 13)] + [dt.date(2029, 1, 1)]
    edges = [0] + [(first - START).days + 10 for first in firsts]
    counts = _counts_by_stretch(Season(monthly=months), edges)
    lengths = np.diff(edges)
    expected = 30 * 4 * lengths * np.array([months[11], *months, *months])
    assert counts[[1, 13]].tolist() == [0, 0]
    some = expected > 0
    assert abs(_chi_square_z(counts[some], expected[some])) < 4


def test_the_yearly_mean_holds_with_a_season() -> None:
    """Over the 1,461 days of four seasons the integrated rate is that of no season."""
    days = np.array([1_461.0])
    assert cumulative(days, Season(dt.date(2027, 5, 15), 4.0), START)[0] == pytest.approx(1_461.0)


def test_arrivals_are_never_cut_short() -> None:
    """Far more arrivals than there was room for are drawn again with room for all."""
    packed = pack_admissions(_hospital(CHILDREN, days=400))
    usual, cramped = admissions.sample((1, 0), packed), admissions.sample((1, 0), replace(packed, expected=0.0))
    assert len(usual.rows) > 64  # the least room there is
    assert cramped.rows.tolist() == usual.rows.tolist()


# The road


def _closures(*closures: RoadClosure, draws: Draws | None = None, **changes: object) -> list[tuple[int, int]]:
    rule = Resupply(None, 1, 2, Law("constant", (0.0,)), road_closures=closures)
    return (draws or Draws(1, 0)).closures(_hospital(ADULTS, resupply=rule, **changes))  # type: ignore[arg-type]


def _day(number: int) -> dt.date:
    return START + dt.timedelta(number)


def test_dated_closures_are_merged_clipped_and_inclusive() -> None:
    """Days 2-4 and 4-5 overlap, 6 touches, 8 stands apart, the last lies beyond the run; warm-up of one day."""
    spells = _closures(
        RoadClosure(_day(8), _day(8)),
        RoadClosure(_day(2), _day(4)),
        RoadClosure(_day(4), _day(5)),
        RoadClosure(_day(6), _day(6)),
        RoadClosure(_day(300), _day(310)),
        warm_up_s=DAY_S,
    )
    assert spells == [(3 * DAY_S, 8 * DAY_S), (9 * DAY_S, 10 * DAY_S)]


def test_a_closure_without_dates_holds_for_the_whole_run() -> None:
    """From the day the warm-up begins to the end; without resupply there is none."""
    ((start, end),) = _closures(RoadClosure(None, None), warm_up_s=DAY_S)
    assert start <= 0
    assert end >= 61 * DAY_S
    assert Draws(1, 0).closures(_hospital(ADULTS)) == []


def test_drawn_closures_begin_on_the_share_of_days_stated() -> None:
    """One second long each, so that none merge: a share of 0.3 of 2,000 days, |z| < 4, all at midnight."""
    spells = _closures(RoadClosure(None, _day(1_999), 0.3, Law("constant", (1.0,))), days=2_000)
    assert abs(len(spells) - 600) < 4 * (2_000 * 0.3 * 0.7) ** 0.5
    assert all(start % DAY_S == 0 and end == start + 1 for start, end in spells)


def test_drawn_closures_are_apart_in_order_and_as_long_as_drawn() -> None:
    """The union of the spells drawn day by day, by the draws' own keys (closure, date)."""
    law, draws = Law("exponential", (2.0 * DAY_S,)), Draws(11, 0)
    spells = _closures(RoadClosure(_day(5), _day(50), 0.4, law), draws=draws)
    closed = np.zeros(200 * DAY_S, dtype=bool)
    item = f"{_day(5)} to {_day(50)}"
    for number in range(5, 51):
        if draws.draw("road closure", item, _day(number).toordinal()) < 0.4:
            u = np.array([draws.draw("road closure length", item, _day(number).toordinal())])
            closed[number * DAY_S : number * DAY_S + whole(quantile(law, u), 1)[0]] = True
    edges = np.flatnonzero(np.diff(closed.astype(np.int8))) + 1
    assert spells == [tuple(pair) for pair in edges.reshape(-1, 2).tolist()]


def test_a_longer_run_changes_no_drawn_closure() -> None:
    """Keyed by the date: a longer warm-up and horizon only add."""
    closure = RoadClosure(None, None, 0.1, Law("constant", (3_600.0,)))
    short, long = _closures(closure, days=60), _closures(closure, days=90, warm_up_s=20 * DAY_S)
    inside = [(a - 20 * DAY_S, b - 20 * DAY_S) for a, b in long if 20 * DAY_S <= a <= 80 * DAY_S]
    assert inside == short


def test_two_drawn_closures_of_the_same_dates_have_each_their_luck() -> None:
    """0.3 a day twice over 2,000 days of one day each: 1 - 0.7^2 = 51 % of the days closed, |z| < 4."""
    closure = RoadClosure(_day(0), _day(1999), 0.3, Law("constant", (float(DAY_S),)))
    spells = _closures(closure, closure, horizon_s=2_001 * DAY_S)
    closed = sum(end - start for start, end in spells) / DAY_S
    assert abs(closed - 1_020) < 4 * (2_000 * 0.51 * 0.49) ** 0.5
