"""What the document says is enough to rebuild the model by: draws and contents made from its words alone."""

import ast
import datetime as dt
import hashlib
import math
import re
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner
from CoolProp.CoolProp import PropsSI
from scipy import stats

import o2sim
from o2sim import cli
from o2sim.draws import Draws
from o2sim.draws.laws import KINDS
from o2sim.questions.documents import notes_text
from o2sim.questions.documents.notes_text import FOR_DEVELOPERS, inline, sections

SCENARIOS = Path(__file__).parents[3] / "scenarios"
PACKAGE = Path(o2sim.__file__).parent
NOTES = [notes_text.RULES, notes_text.MODEL, notes_text.DRAWS, notes_text.MEASURES, notes_text.MONEY,
         notes_text.QUANTITIES]  # fmt: skip
DISTRICT = SCENARIOS / "district_hospital.yaml"
SAID = {  # what a reviewer could not find before: words of the rule
    "rack order": "that last until the next look the oldest (put back first), the emptiest or the fullest",
    "who may claim a half": "may claim half the rated flow (rounded down to whole mL/min)",
    "ran empty unseen": "until the next look that is not missed; and on",
    "concentrator down": '"Concentrator down": none of the ward\'s units works',
    "concentrators full": 'one unit broken and the others taken is "concentrators full"',
    "patients affected": "gaps within the tolerance affect nobody",
    "days with an interruption": "days on which an interruption began or went on (days per 365 days)",
    "reference state": "A litre** is one of gas at 15 °C and 1 atm (101.325 kPa)",
    "stock change": "(cylinders delivered + F - cylinders emptied or sent)",
    "order of an instant": "1. day begins: the count of the day before anything happens on it",
    "ranks shared": "goes with power restored, what takes it with power lost",
    "rounding": "Rounding is to the nearest, half to even, once",
    "arrivals": "steps -ln(1 - u) / rate are added up",
    "warm-up": "at midnight of `start` all counters begin again",
    "chance of a year": "it is the chance of a year where the horizon is one",
    "interval": "quantiles of the beta law at a/2 with k and n - k + 1",
}


@pytest.fixture(scope="module")
def markdown():
    """Return the document of the district hospital as it is read, signs escaped in Markdown set back."""
    found = CliRunner().invoke(cli.main, ["describe", str(DISTRICT)])
    return re.sub(r"\\(.)", r"\1", found.stdout)


def uniform(seed, replication, stream, item, ordinal):
    """Return the uniform number that section 5.2 describes, from NumPy's Philox and Python's BLAKE2b."""
    hashed = int.from_bytes(hashlib.blake2b(stream.encode(), digest_size=8).digest(), "little")
    key = np.array([seed, hashed], dtype=np.uint64)
    counter = np.array([ordinal // 4, item, replication, 0], dtype=np.uint64)  # NumPy steps it before the first
    word = int(np.random.Philox(key=key, counter=counter).random_raw(4)[ordinal % 4])
    return ((word >> 12) + 0.5) / 2**52


@pytest.mark.parametrize("rule", SAID)
def test_each_rule_is_said(markdown, rule):
    """In these words, in the document of any scenario."""
    assert SAID[rule] in markdown


def test_a_lead_time_rebuilt_by_the_tables_of_streams_and_laws():
    """Gamma with mean 3 days and sd 1.5: shape (mean/sd)², scale sd²/mean, by date and order (SciPy's gamma)."""
    law = o2sim.load(DISTRICT).hospitals["mixed"].resupply.lead_time_s
    day = dt.date(2027, 5, 3)
    for nth in range(6):
        u = uniform(7, 2, "lead time", day.toordinal(), nth)
        expected = round(stats.gamma.ppf(u, (3 / 1.5) ** 2, scale=86_400 * 1.5**2 / 3))
        assert Draws(7, 2).lead_time_s(law, day, nth) == expected


def test_a_power_cut_rebuilt_by_the_tables_of_streams_and_laws():
    """Lognormal with median 2 h and geometric sd 2.5, item 0, by the ordinal of the cut (SciPy's normal)."""
    grid = o2sim.load(DISTRICT).hospitals["mixed"].grid
    for cut in range(6):
        z = stats.norm.ppf(uniform(1, 0, "grid down", 0, cut))
        expected = round(math.exp(math.log(7_200) + math.log(2.5) * z))
        assert Draws(1, 0).grid_down(grid.down_s)[cut] == expected


def test_the_first_patients_rebuilt_from_the_words_on_arrivals():
    """One class without a season, 6 a day of which half are in need: steps of -ln(1 - u) / 3 days."""
    text = (
        "name: x\nhorizon: 30 days\nwarm_up: 2 days\ntolerated_gap: 10 min\n"
        "patients: {child: {admissions: 6 / day, hypoxaemic: 50 %, flow: 1 L/min, duration: 1 day}}\n"
        "cylinders: {content: 6800 L, fleet: 4, regulators: 4}\n"
        "resupply: {review: 7 days, reorder_point: 2, order_up_to: 4, lead_time: 3 days}\n"
    )
    (hospital,) = o2sim.loads(text).hospitals.values()
    item = int.from_bytes(hashlib.blake2b(b"child", digest_size=8).digest(), "little")
    steps = [-math.log1p(-uniform(5, 1, "patient arrival", item, step)) / 3 for step in range(8)]
    expected = [math.floor(86_400 * days) for days in np.cumsum(steps)]
    assert Draws(5, 1).patients(hospital).arrival_s[:8] == expected


def test_a_full_cylinder_rebuilt_from_the_words_on_litres(markdown):
    """47 L filled to 13.7 MPa at 25 °C: densities of another equation of state (CoolProp), within 0.3 %."""

    def density(gauge_pa, celsius):
        return PropsSI("D", "P", 101_325 + gauge_pa, "T", 273.15 + celsius, "Oxygen")

    expected = 47 * (density(13.7e6, 25) - density(0, 25)) / density(0, 15)
    full = re.search(r"mixed: a cylinder holds ([\d,.]+) L full", markdown)[1]
    assert float(full.replace(",", "")) == pytest.approx(expected, rel=0.003)


DRAWN_IN = ("funds", "sample", "sampling", "cuts", "spells", "met_patients", "met_supply")


def named_in_code():
    """Return the names of all streams: what `draw`, `_whole`, `_time_s` and their like are called with."""
    found = {"cylinder loss"} | {f"{name} length" for name in ("road closure", "supplier outage")}
    for path in [*(PACKAGE / f"draws/{name}.py" for name in DRAWN_IN), *PACKAGE.glob("model/steps/*.py")]:
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call):
                called = node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")
                if called in (
                    "draw",
                    "normal",
                    "_whole",
                    "_series",
                    "_spells_of",
                    "noticed_s",
                    "_time_s",
                    "uniforms",
                    "_phase",
                ):
                    texts = [each.value for each in node.args[:4] if isinstance(each, ast.Constant)]
                    found |= {text for text in texts[:1] if isinstance(text, str)}
            elif isinstance(node, ast.GeneratorExp) and re.search("stable_hash|uniforms", ast.dump(node.elt)):
                listed = node.generators[0].iter
                found |= {each.value for each in getattr(listed, "elts", ())}
    return found


def test_the_table_has_every_stream_and_law_of_the_code():
    """By their names, no more and no fewer."""
    parts = sections(notes_text.DRAWS)
    heads = {title: re.findall(r"(?m)^\| ([a-z ]+) \|", "\n".join(blocks)) for title, blocks in parts.items()}
    assert set(heads["What is drawn"]) - {"stream"} == named_in_code()
    assert set(heads["Laws"]) - {"law"} == set(KINDS) - {"constant"}


@pytest.mark.parametrize("package", NOTES)
def test_notes_are_told_but_for_what_is_for_developers(markdown, package):
    """Every block of every other section stands in the document as it is read."""
    parts = sections(package)
    assert len(parts) > 1
    assert FOR_DEVELOPERS not in markdown
    told = [block for title, blocks in parts.items() if title for block in blocks]
    if package != notes_text.MODEL:
        assert [block for block in told if re.sub(r"\\(.)", r"\1", block) not in markdown] == []


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("**Road.** A delivery *due*\n  while", "**Road.** A delivery *due* while"),
        ("see [the kernel](kernel/README.md) or `a*b`", "see the kernel or `a*b`"),
        ("2 * 3 and a_b | c", r"2 \* 3 and a\_b \| c"),
        ("**a_b**, then", r"**a\_b**, then"),
    ],
)
def test_a_note_in_one_line(text, shown):
    """Emphasis and code stay, links are words, all else shows as it is."""
    assert inline(text) == shown
