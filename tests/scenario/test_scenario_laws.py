"""Laws of chance against scipy.stats, and the texts that make no law."""

from __future__ import annotations

import math

import pytest
from scenario_texts import SMALL
from scipy import stats

from o2sim.errors import ScenarioError
from o2sim.scenario import Law, load, loads
from o2sim.scenario.types.laws import law_high, law_maximum, law_mean, law_minimum, share_above

H = 3_600.0
# What the file says, and the same law by scipy.stats (hours).
LAWS = {
    "{exponential: {mean: 40 h}}": stats.expon(scale=40),
    "{lognormal: {median: 60 h, geometric_sd: 2.2}}": stats.lognorm(s=math.log(2.2), scale=60),
    "{lognormal: {mean: 60 h, geometric_sd: 2.2}}": stats.lognorm(
        s=math.log(2.2), scale=60 / stats.lognorm(s=math.log(2.2)).mean()
    ),
    "{gamma: {mean: 96 h, sd: 48 h}}": stats.gamma(a=4, scale=24),
    "{weibull: {mean: 50 h, shape: 1.5}}": stats.weibull_min(c=1.5, scale=50 / stats.weibull_min(c=1.5).mean()),
    "{uniform: {low: 10 h, high: 30 h}}": stats.uniform(loc=10, scale=20),
    "{triangular: {low: 10 h, mode: 15 h, high: 30 h}}": stats.triang(c=0.25, loc=10, scale=20),
    "{triangular: {low: 10 h, mode: 10 h, high: 30 h}}": stats.triang(c=0, loc=10, scale=20),
    "{triangular: {low: 10 h, mode: 30 h, high: 30 h}}": stats.triang(c=1, loc=10, scale=20),
}


def stay(text):
    """Return the law of duration that a text makes."""
    return (
        loads(SMALL.replace("duration: 24 h", f"duration: {text}"))
        .hospitals["cylinders only"]
        .patients[0]
        .duration_s
    )


def refused(text):
    """Return the problems that a text makes in the place of a duration."""
    with pytest.raises(ScenarioError) as error:
        stay(text)
    return error.value.problems


@pytest.mark.parametrize("text", LAWS)
def test_means_against_scipy(text):
    """The mean of every law is the mean scipy has for the same words."""
    assert law_mean(stay(text)) / H == pytest.approx(float(LAWS[text].mean()), rel=1e-12)


@pytest.mark.parametrize("text", LAWS)
def test_tails_against_scipy(text):
    """The chance of more than a value is scipy's survival function, below, inside and above the law's range."""
    for hours in (0.0, 5.0, 10.0, 14.0, 15.0, 22.0, 30.0, 90.0, 900.0):
        assert share_above(stay(text), hours * H) == pytest.approx(
            float(LAWS[text].sf(hours)), rel=1e-9, abs=1e-15
        )


@pytest.mark.parametrize("text", LAWS)
def test_bounds_against_scipy(text):
    """The least and the greatest value are the ends of scipy's support; high is the greatest or the 99 % point."""
    law, (low, high) = stay(text), LAWS[text].support()
    assert (law_minimum(law), law_maximum(law)) == pytest.approx((low * H, high * H))
    expected = high if math.isfinite(high) else float(LAWS[text].ppf(0.99))
    assert law_high(law) / H == pytest.approx(expected, rel=1e-9)


def test_a_lognormal_law_from_its_mean_and_sd_has_them():
    """Method of moments: scipy gives back the mean and the standard deviation that were asked for."""
    mu, sigma = stay("{lognormal: {mean: 60 h, sd: 45 h}}").parameters
    law = stats.lognorm(s=sigma, scale=math.exp(mu))
    assert (law.mean() / H, law.std() / H) == pytest.approx((60.0, 45.0))


def test_a_plain_quantity_is_a_constant_law():
    """24 h is always 24 h: mean, least, greatest and high."""
    law = stay("24 h")
    assert law == Law("constant", (86_400.0,))
    assert {law_mean(law), law_minimum(law), law_maximum(law), law_high(law)} == {86_400.0}
    assert (share_above(law, 86_399.0), share_above(law, 86_400.0)) == (1.0, 0.0)


def test_an_empirical_law_counts_its_values():
    """Four values: each weighs a quarter."""
    law = Law("empirical", (1.0, 2.0, 2.0, 5.0))
    assert (law_mean(law), law_minimum(law), law_maximum(law), share_above(law, 2.0)) == (2.5, 1.0, 5.0, 0.25)


def test_counted_values_stand_in_the_file():
    """Three of 1 h and two of 2 h, and the same for six and four of them."""
    law = Law("empirical", (3_600.0,) * 3 + (7_200.0,) * 2)
    assert stay("{empirical: {values: [1 h, 2 h], counts: [3, 2]}}") == law
    assert stay("{empirical: {counts: [6, 4], values: [60 min, 2 h]}}") == law


WRONG = {  # text: fragments of the only problem
    "{constant: {value: 3 h}}": ("duration.constant: the law 'constant' is unknown", "write the quantity itself"),
    "{normal: {mean: 3 h, sd: 1 h}}": ("the law 'normal' is unknown", "goes below zero"),
    "{lognormel: {median: 3 h, geometric_sd: 2}}": ("the law 'lognormel' is unknown", "did you mean lognormal?"),
    "{mean: 3 h, sd: 1 h}": ("found a mapping of mean, sd", "name the law"),
    "{}": ("found an empty mapping", "or one law: exponential"),
    "[1 h, 2 h]": ("found a list", "or one law: exponential"),
    "{gamma: {mean: 1 h, sd: 1 h}, weibull: {mean: 1 h}}": ("found a mapping of gamma, weibull", "one law"),
    "{gamma: 3 h}": ("duration.gamma: found '3 h'", "allowed: gamma: {mean, sd}"),
    "{gamma: {mean: 3 h}}": ("found a mapping of mean", "allowed: gamma: {mean, sd}"),
    "{gamma: {mean: 3 h, sdev: 1 h}}": ("duration.gamma.sdev: 'sdev' is unknown", "did you mean sd?"),
    "{lognormal: {median: 3 h, sd: 1 h}}": (
        "found a mapping of median, sd", "{median, geometric_sd} or lognormal",
    ),
    "{gamma: {mean: 3 h, sd: 0 h}}": (
        "gamma.sd: found '0 h': too small", "for no spread write the quantity itself",
    ),
    "{gamma: {mean: 3 h, sd: 61 h}}": ("gamma.sd: found '61 h': too large", "20 times the mean"),
    "{gamma: {mean: 0 h, sd: 1 h}}": ("gamma.mean: found '0 h'", "allowed: a duration of more than 0"),
    "{exponential: {mean: 101 years}}": ("found '101 years': too high", "at most 100 years"),
    "{lognormal: {median: 3 h, geometric_sd: 1}}": ("geometric_sd: found '1': out of range", "more than 1"),
    "{lognormal: {median: 3 h, geometric_sd: 2 h}}": (
        "found '2 h': this is a duration", "a plain number is needed",
    ),
    "{weibull: {mean: 3 h, shape: 0.1}}": ("shape: found '0.1': out of range", "from 0.2 to 100"),
    "{uniform: {low: 3 h, high: 2 h}}": (
        "duration.uniform: found a mapping of low, high: out of order", "low to high",
    ),
    "{uniform: {low: 2 h, high: 120 min}}": (
        "high: found '120 min': the same as low", "write the quantity itself",
    ),
    "{triangular: {low: 1 h, mode: 4 h, high: 3 h}}": ("out of order", "low <= mode <= high"),
    "{triangular: {low: 0 h, mode: 1 h, high: 3 h}}": ("low: found '0 h'", "a duration of more than 0"),
    "0 h": ("duration: found '0 h'", "a duration of more than 0"),
    "3 L/min": ("found '3 L/min': this is a flow", "a duration is needed here"),
    "{empirical: {file: a.csv, column: b}}": ("file: found 'a.csv'", "a scenario on disk"),
    "{empirical: {file: a.csv}}": ("found a mapping of file", "empirical: {file: stays.csv"),
    "{empirical: {file: a.csv, column: b, sheet: 2}}": ("found 'sheet': '2'", "empirical: {file: stays.csv"),
    "{empirical: {file: [a.csv], column: b}}": ("found 'file': a list", "empirical: {file: stays.csv"),
    "{empirical: {values: [1 h, 2 h]}}": ("found a mapping of values", "counts: [30, 20]"),
    "{empirical: {values: 1 h, counts: [3]}}": ("found a mapping of values, counts", "two lists"),
    "{empirical: {values: [1 h, 2 h], counts: [3]}}": ("found 2 values and 1 counts", "a count for each value"),
    "{empirical: {values: [1 h], counts: [3]}}": ("found 1 values", "for no spread write the quantity itself"),
    "{empirical: {values: [2 h, 1 h], counts: [3, 4]}}": ("values: found values out of order", "low to high"),
    "{empirical: {values: [1 h, 60 min], counts: [3, 4]}}": ("out of order", "each once"),
    "{empirical: {values: [1 h, 2 L], counts: [3, 4]}}": ("values[2]: found '2 L'", "a duration"),
    "{empirical: {values: [0 h, 2 h], counts: [3, 4]}}": ("values[1]: found '0 h'", "more than 0"),
    "{empirical: {values: [1 h, 2 h], counts: [0, 4]}}": ("counts[1]: found '0'", "from 1 to 10,000"),
    "{empirical: {values: [1 h, 2 h], counts: [1.5, 4]}}": ("counts[1]: found '1.5'", "a whole number"),
    "{empirical: {values: [1 h, 2 h], counts: [9999, 4]}}": ("counts: found 10003 in all", "at most 10,000"),
    "{empirical: {values: [1 h, 2 h], counts: [3, 4], unit: h}}": ("found a mapping of", "two lists"),
    "{empirical: {values: [1 h, {low: 1 h, likely: 2 h, high: 3 h}], counts: [3, 4]}}": ("values[2]: found a", ""),
    "{empirical: stays.csv}": ("duration.empirical: found 'stays.csv'", "empirical: {file: stays.csv"),
}  # fmt: skip


@pytest.mark.parametrize("text", WRONG)
def test_what_makes_no_law_is_refused(text):
    """One problem, with the place, what was found, and what to write."""
    (problem,) = refused(text)
    assert [part for part in WRONG[text] if part not in str(problem)] == []
    assert problem.line == 6


def test_all_parameters_of_a_law_are_told_at_once():
    """Two parameters wrong: two problems."""
    fields = [problem.field for problem in refused("{gamma: {mean: 3 L, sd: -1 h}}")]
    assert fields == ["patients.child.duration.gamma.mean", "patients.child.duration.gamma.sd"]


def test_a_lead_time_may_come_down_to_nothing_but_not_on_average():
    """Uniform from 0 is a law of lead times; an exponential one of mean 0 is not."""
    text = SMALL.replace("lead_time: 1 day", "lead_time: {uniform: {low: 0 days, high: 2 days}}")
    assert loads(text).hospitals["cylinders only"].resupply.lead_time_s == Law("uniform", (0.0, 172_800.0))
    with pytest.raises(ScenarioError, match="of more than 0"):
        loads(SMALL.replace("lead_time: 1 day", "lead_time: {exponential: {mean: 0 days}}"))


CSV = {  # what the file holds (None: no file), the law's keys, fragments of the problem
    "none": (None, "file: stays.csv, column: hours", ("found no file 'stays.csv'",)),
    "above": (
        b"", "file: ../stays.csv, column: hours", ("found '../stays.csv', which lies elsewhere", "in the folder"),
    ),
    "absolute": (b"", "file: /etc/passwd, column: hours", ("found '/etc/passwd', which lies elsewhere",)),
    "folder": (b"", "file: ., column: hours", ("found no file '.'",)),
    "nothing": (b"", "file: stays.csv, column: hours", ("stays.csv is empty", "empirical: {file")),
    "column": (b"stay,hour\n1,2\n", "file: stays.csv, column: hours", ("'stay' or 'hour'", "did you mean hour?")),
    "no rows": (b"hours\n", "file: stays.csv, column: hours", ("has 0 rows", "1 to 10000 rows")),
    "many": (b"hours\n" + b"1 h\n" * 10_001, "file: stays.csv, column: hours", ("has 10001 rows",)),
    "large": (b"x" * 1_048_577, "file: stays.csv, column: hours", ("too large", "at most 1024 kB")),
    "no unit": (
        b"hours\n2 h\n3\n", "file: stays.csv, column: hours", ("csv:3: hours: found '3'", "a unit is missing"),
    ),
    "empty cell": (b"hours,a\n,1\n", "file: stays.csv, column: hours, unit: h", ("csv:2: hours: found nothing",)),
    "short row": (b"a,hours\n1\n", "file: stays.csv, column: hours", ("csv:2: hours: found nothing",)),
    "zero": (b"hours\n0 h\n", "file: stays.csv, column: hours", ("found '0 h'", "more than 0")),
    "latin": (b"hours\n\xff h\n", "file: stays.csv, column: hours", ("csv:2 is not UTF-8 text", "save it as CSV")),
    "quote": (b'hours\n"2 h\n', "file: stays.csv, column: hours", ("stays.csv:2 is not CSV", "at the quotes")),
}  # fmt: skip


@pytest.mark.parametrize("case", CSV)
def test_a_column_that_makes_no_law_is_refused(case, tmp_path):
    """One problem at the law's line, with the line of the CSV file where there is one."""
    content, keys, parts = CSV[case]
    if content is not None:
        (tmp_path / "stays.csv").write_bytes(content)
    file = tmp_path / "s.yaml"
    file.write_text(SMALL.replace("duration: 24 h", f"duration: {{empirical: {{{keys}}}}}"))
    with pytest.raises(ScenarioError) as error:
        load(file)
    (problem,) = error.value.problems
    assert [part for part in parts if part not in str(problem)] == []
    assert problem.line == 6


def test_a_link_out_of_the_folder_is_not_followed(tmp_path):
    """A symbolic link beside the scenario that points elsewhere is refused, so that a file shared cannot read
    what its reader may read."""
    (tmp_path / "inside").mkdir()
    (tmp_path / "secret.csv").write_text("hours\n3 h\n")
    (tmp_path / "inside" / "stays.csv").symlink_to(tmp_path / "secret.csv")
    file = tmp_path / "inside" / "s.yaml"
    file.write_text(SMALL.replace("duration: 24 h", "duration: {empirical: {file: stays.csv, column: hours}}"))
    with pytest.raises(ScenarioError, match=r"found 'stays.csv', which lies elsewhere"):
        load(file)


def test_a_loop_of_links_is_a_clean_error(tmp_path):
    """A link to itself can be no file."""
    (tmp_path / "stays.csv").symlink_to(tmp_path / "stays.csv")
    file = tmp_path / "s.yaml"
    file.write_text(SMALL.replace("duration: 24 h", "duration: {empirical: {file: stays.csv, column: hours}}"))
    with pytest.raises(ScenarioError, match="stays"):
        load(file)
