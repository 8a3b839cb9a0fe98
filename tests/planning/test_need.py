"""The season's mean need of each day against the patients drawn."""

import datetime as dt
from dataclasses import replace

import numpy as np
import pytest
from synthetic import ADULTS, CHILDREN, hospital

from o2sim.draws import Draws
from o2sim.draws.season import mean_need
from o2sim.scenario.types.hospital import DAY_S, FlowStep, Recorded

RECORDED = replace(
    ADULTS,
    name="recorded",
    recognised=0.7,
    recorded=Recorded("resample", 0, 4, (600, 90_000, 91_000), (1_000, 2_000, 500), (DAY_S, 7_200, 40_000)),
)
STEPPED = replace(CHILDREN, name="stepped", flow_steps=(FlowStep(DAY_S, 0.5), FlowStep(3 * DAY_S, 0.25)))
CLASSES = [CHILDREN, replace(ADULTS, recognised=0.8), RECORDED, STEPPED]


@pytest.mark.parametrize("kind", CLASSES, ids=lambda kind: kind.name)
def test_mean_need_against_patients_drawn(kind):
    """By quarter of the year, the gas needed by those who arrive in it, 150 years: |z| < 4."""
    rules = hospital()
    rules = replace(rules, patients=(kind,), warm_up_s=10 * DAY_S + 3_600, horizon_s=364 * DAY_S)
    lead_in_days = 11
    expected = np.array(mean_need(rules))[lead_in_days:].reshape(4, -1).sum(axis=1)
    drawn = np.array([_by_quarter(rules, Draws(4, k)) for k in range(150)])
    z = (drawn.mean(axis=0) - expected) / (drawn.std(axis=0, ddof=1) / 150**0.5)
    assert np.abs(z).max() < 4


def _by_quarter(rules, draws):
    """Return the gas needed by those who arrive in each 91 days of the horizon."""
    table = draws.patients(rules)
    day = (np.array(table.arrival_s) - rules.warm_up_s) // DAY_S
    need_s = np.array(table.need_s)
    shares = [1.0, *(step.share for step in rules.patients[0].flow_steps)]
    ends_s = [*(step.after_s for step in rules.patients[0].flow_steps), need_s.max()]
    starts_s = [0, *ends_s[:-1]]
    at_first_flow_s = sum(
        share * np.clip(need_s - start, 0, end - start)
        for share, start, end in zip(shares, starts_s, ends_s, strict=True)
    )
    gas = np.array(table.flow_ml_min) * at_first_flow_s
    return [gas[(day >= 0) & (day // 91 == quarter)].sum() for quarter in range(4)]


def test_there_is_a_need_for_each_day_of_the_run():
    """Ten days and an hour before the year: the eleventh day before is the first; the season turns within it."""
    rules = hospital()
    rules = replace(rules, patients=(CHILDREN,), warm_up_s=10 * DAY_S + 3_600, horizon_s=365 * DAY_S)
    need = mean_need(rules)
    assert len(need) == 11 + 365
    peak = (dt.date(2027, 5, 15) - rules.start).days + 11
    assert abs(int(np.argmax(need)) - peak) <= 1
    assert max(need) / min(need) == pytest.approx(1.8, rel=1e-3)
