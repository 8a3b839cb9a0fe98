"""What to order today: what the reorder rule says, and the least order that keeps the chance within the target."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from o2sim.model.rules import keep_gas
from o2sim.questions.today import purse
from o2sim.questions.today.moment import Reviews, at, in_words, now_of
from o2sim.questions.today.result import Rule
from o2sim.scenario.types.hospital import DAY_S, Cylinders, Hospital, Resupply
from o2sim.scenario.types.laws import law_high
from o2sim.scenario.types.now import CountedCylinders, OrderUnderWay, since_midnight_s

LATE = 0.05  # one order in twenty takes longer than is reckoned with
NEARLY = 0.01  # where no order is enough, a larger one is not asked for by which fewer than this share are spared
HOPELESS = 0.5  # where even the largest order leaves more than this, no chance can say which would do: the largest
Chance = Callable[[int], float]


def unpromised(hospital: Hospital) -> int:
    """Return the empties that no open order waits for."""
    now = now_of(hospital)
    empty = 0 if now.cylinders is None else now.cylinders.empty
    return max(0, empty - sum(each.count for each in now.on_order))


def on_order(hospital: Hospital) -> int:
    """Return the cylinders in orders that have not come."""
    return sum(each.count for each in now_of(hospital).on_order)


def allowed(hospital: Hospital, resupply: Resupply) -> tuple[int, ...]:
    """Return the orders that can be placed today, none first: as many as empties, lorry and purse allow."""
    most = purse.pays_for(hospital, _most(hospital, resupply))
    return (0, *range(max(1, resupply.minimum_order), most + 1))


def _most(hospital: Hospital, resupply: Resupply) -> int:
    """Return how many can be ordered today, whatever they cost."""
    most = unpromised(hospital)
    return most if resupply.vehicle_capacity is None else min(most, resupply.vehicle_capacity)


def paid_for(hospital: Hospital, resupply: Resupply) -> int | None:
    """Return how many the purse pays for, where that is less than could be ordered; else None."""
    most = _most(hospital, resupply)
    paid = purse.pays_for(hospital, most)
    return paid if paid < most else None


def by_rule(hospital: Hospital, resupply: Resupply, times: Reviews) -> Rule:
    """Return what the reorder rule says at the count, and why it is no more."""
    position = position_of(hospital, resupply)
    point, level = resupply.reorder_point, resupply.order_up_to
    next_day = at(now_of(hospital), times.after_s).date()
    is_day = times.today_s is not None
    order, why = 0, []
    if not is_day and _is_over(hospital, resupply, times):
        today = now_of(hospital).counted.date()
        why.append(
            f"today's order time was before the count: the next is {in_words(next_day)} (state next review "
            f"{today} if it is still to come)"
        )
    elif not is_day:
        why.append(f"today is not an order day: the next is {in_words(next_day)}")
    if position > point:
        why.append(f"full and on order are {position}, above the reorder point of {point}")
    elif is_day:
        order, why = _limited(level - position, hospital, resupply)
    return Rule(order, position, point, level, is_day, next_day.isoformat(), tuple(why))


def _is_over(hospital: Hospital, resupply: Resupply, times: Reviews) -> bool:
    """Return True where the review before the next one fell on the day of the count, before it."""
    if resupply.review_s is None:
        return False
    return times.after_s - resupply.review_s >= -since_midnight_s(now_of(hospital).counted)


def _limited(wanted: int, hospital: Hospital, resupply: Resupply) -> tuple[int, list[str]]:
    """Return what of an order can be placed, and what limits it."""
    why = []
    if resupply.vehicle_capacity is not None and wanted > resupply.vehicle_capacity:
        wanted = resupply.vehicle_capacity
        why.append(f"one lorry takes {wanted}")
    if wanted > (empties := unpromised(hospital)):
        wanted = empties
        why.append(f"only {empties} empties are there that no open order waits for")
    if wanted > (paid := purse.pays_for(hospital, wanted)):
        wanted = paid
        why.append(f"the purse pays for {wanted or 'none'}")
    if wanted < resupply.minimum_order:
        why.append(f"fewer than {resupply.minimum_order} are not delivered")
        wanted = 0
    return max(0, wanted), why


def position_of(hospital: Hospital, resupply: Resupply) -> int:
    """Return the stock that the rule looks at: full and on order, with part-used ones where these count."""
    counted, cylinders = now_of(hospital).cylinders, hospital.cylinders
    if counted is None or cylinders is None:
        return 0
    found = counted.full + on_order(hospital)
    share = resupply.position_counts_above_permille
    return found if share is None else found + _nearly_full(counted, cylinders, share)


def _nearly_full(counted: CountedCylinders, cylinders: Cylinders, permille: int) -> int:
    keep = keep_gas(cylinders)
    return sum((gas - keep) * 1_000 > permille * (cylinders.full_gas - keep) for gas in counted.part_used)


def until_s(resupply: Resupply, times: Reviews, days: int) -> int:
    """Return when the order after today's can be there, 19 times in 20 on open roads; within the days at most."""
    return min(days * DAY_S, times.after_s + round(law_high(resupply.lead_time_s, LATE)))


def ordering(hospital: Hospital, count: int, times: Reviews) -> Hospital:
    """Return the hospital with an order placed at the count in place of what its rule would order today.

    Where reviews are continuous, the stock is looked at once a day from tomorrow on.
    """
    now, resupply = now_of(hospital), hospital.resupply
    assert resupply is not None  # whoever orders has a supplier
    more = (OrderUnderWay(count, 0),) if count else ()
    if resupply.review_s is None:
        resupply = replace(resupply, review_s=DAY_S)
    changed = replace(now, on_order=(*now.on_order, *more), next_review_s=times.after_s)
    return replace(purse.once_paid(hospital, count), now=changed, resupply=resupply)


def least(orders: Sequence[int], chance: Chance, target: float) -> tuple[int, bool]:
    """Return the least order whose chance is within the target, by halving, and True.

    Where the largest is not, the least that is nearly as good as the largest, and False. orders: in order, none
    first.
    """
    if chance(orders[0]) <= target:
        return orders[0], True
    largest = chance(orders[-1])
    if largest > max(target, HOPELESS):
        return orders[-1], False
    limit = target if largest <= target else _nearly(largest)
    low, high = -1 if chance(orders[0]) <= limit else 0, len(orders) - 1  # low is not good enough, high is
    while high - low > 1:
        middle = (low + high) // 2
        if chance(orders[middle]) <= limit:
            high = middle
        else:
            low = middle
    return orders[high], largest <= target


def _nearly(largest: float) -> float:
    """Return the highest chance that is nearly as good as that of the largest order."""
    return 1 - (1 - NEARLY) * (1 - largest)


def settled(orders: Sequence[int], first: int, chance: Chance, target: float, most_steps: int) -> tuple[int, bool]:
    """Return the least order by chances known better, found from where those known worse led; and if within.

    It goes up until the chance is within the target, else down as long as one fewer is. Where the largest is not
    within, it goes up in longer and longer steps to one that is nearly as good.
    """
    place, step = orders.index(first), 1
    for _ in range(most_steps):
        if chance(orders[place]) > target:
            largest = chance(orders[-1])
            if largest <= target:
                place += 1
            elif largest > HOPELESS or place + step >= len(orders):
                return orders[-1], False
            elif chance(orders[place]) <= _nearly(largest):
                return orders[place], False
            else:
                place, step = place + step, 2 * step
        elif place and chance(orders[place - 1]) <= target:
            place -= 1
        else:
            break
    if chance(orders[place]) > target and chance(orders[-1]) > target:
        return orders[-1], False
    return orders[place], chance(orders[place]) <= target


def is_even(chances: Mapping[int, float]) -> bool:
    """Return True where no larger order came out worse."""
    found = [chances[order] for order in sorted(chances)]
    return all(later <= earlier for earlier, later in pairwise(found))


@dataclass(frozen=True)
class Around:
    """What is unusual today: patients on oxygen, by the count, and as the season has them."""

    patients: int | None
    usual: float


def why_apart(count: int, most: int, rule: Rule, around: Around, hospital: Hospital) -> tuple[str, ...]:
    """Return why the least order and that of the rule differ, a sentence each; none where they do not."""
    if count == rule.order:
        return ()
    said = [f"{each[0].upper()}{each[1:]}." for each in rule.why if count > rule.order]
    coming = on_order(hospital)
    if coming and count < rule.order:
        said.append(f"{coming} on order may come before they are needed.")
    if count < rule.order:
        said.append(f"The rule fills up to {rule.order_up_to}; the least order only has to last to the one after.")
    if around.patients is not None and abs(around.patients - around.usual) >= max(2.0, around.usual**0.5):
        more = "more" if around.patients > around.usual else "fewer"
        said.append(f"{around.patients} on oxygen are {more} than usual (about {around.usual:.0f}).")
    if count == most and count:
        said.append(f"{count} is the largest order that can be placed today.")
    return tuple(said)


def day_of(moment: dt.datetime) -> str:
    """Return a moment as JSON has it."""
    return moment.isoformat(timespec="minutes")
