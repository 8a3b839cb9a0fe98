"""Try orders on a hospital that begins from a count: the least that keeps the chance within the target."""

from __future__ import annotations

import datetime as dt

from o2sim.planning.figures import given_in
from o2sim.questions.today import forecast, order
from o2sim.questions.today.asked import Asked, whole_days_s
from o2sim.questions.today.moment import at, now_of, reviews
from o2sim.questions.today.result import Ordering, Tried
from o2sim.questions.today.runs import Seen, by, chance
from o2sim.scenario.types.hospital import DAY_S, Hospital, Resupply
from o2sim.scenario.types.stages import stages

MOST_FULL_RUNS = 6  # steps up or down with all replications


def ordering_of(asked: Asked, resupply: Resupply, base: Seen) -> Ordering:
    """Return the least order that keeps the chance within the target, beside what the rule says."""
    hospital, settings = asked.hospital, asked.settings
    times = reviews(hospital)
    assert times is not None  # with resupply there are some
    end_s = order.until_s(resupply, times, settings.days)
    orders = order.allowed(hospital, resupply)
    known: dict[tuple[int, int], Seen] = {}
    if times.today_s is None:  # the rule orders nothing today: that was run already
        known[0, base.replications] = base

    def tried(count: int, replications: int) -> Seen:
        if (count, replications) not in known:
            changed = order.ordering(hospital, count, times)
            known[count, replications] = asked.runs(changed, whole_days_s(end_s), replications)
        return known[count, replications]

    def chance_of(replications: int) -> order.Chance:
        return lambda count: float(by(tried(count, replications).stock_out_s, end_s).mean())

    first, _ = order.least(orders, chance_of(asked.few), asked.target)
    many = settings.replications
    count, reached = order.settled(orders, first, chance_of(many), asked.target, MOST_FULL_RUNS)
    best = tried(count, many)
    rule = order.by_rule(hospital, resupply, times)
    for number in {0, rule.order} & set(orders):
        if (number, many) not in known:
            tried(number, asked.few)
    shown = {number: each for (number, size), each in sorted(known.items()) if size == many}
    few = {
        number: float(by(each.stock_out_s, end_s).mean()) for (number, size), each in known.items() if size != many
    }
    shown |= {number: each for (number, _), each in known.items() if number not in shown}
    return Ordering(
        least=count,
        reached=reached,
        most=orders[-1],
        until=order.day_of(at(now_of(hospital), end_s)),
        tried=tuple(
            Tried(number, each.replications, chance(by(each.stock_out_s, end_s)), chance(by(each.bare_s, end_s)))
            for number, each in sorted(shown.items())
        ),
        even=order.is_even(few),
        before_delivery=chance(best.short_before_delivery() & by(best.stock_out_s, end_s)),
        delivery=forecast.next_delivery(hospital, best, whole_days_s(end_s) // DAY_S),
        rule=rule,
        why_apart=order.why_apart(count, orders[-1], rule, around_of(hospital), hospital),
        paid_for=order.paid_for(hospital, resupply),
    )


def around_of(hospital: Hospital) -> order.Around:
    """Return how many are on oxygen, and how many usually are on such a day."""
    end = hospital.start + dt.timedelta(seconds=hospital.horizon_s)
    parts = [part for kind in hospital.patients for part in stages(kind)]
    usual = sum(given_in(hospital, part, end).at(0)[0] for part in parts)
    found = now_of(hospital).on_oxygen
    return order.Around(None if found is None else len(found), float(usual))
