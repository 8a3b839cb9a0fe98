"""The two sentences: what they say in each case, and that none has more than 35 words."""

from __future__ import annotations

import pytest

from o2sim.questions.today import advice
from o2sim.questions.today.result import Delivery, Ordering, Rule, Tried
from o2sim.statistics.estimates import Probability

RULE = Rule(0, 17, 21, 28, False, "2027-05-05", ())


def chance(share: float) -> Probability:
    """Return a share with some interval."""
    return Probability(share, 0.0, 1.0, 0.95)


def ordering(
    least: int, reached: bool, shares: dict[int, float], before: float = 0.01, likely: str | None = "2027-05-07"
) -> Ordering:
    """Return orders tried, with their chances."""
    tried = tuple(Tried(number, 2_000, chance(share), chance(share)) for number, share in shares.items())
    return Ordering(least, reached, max(shares), "2027-05-20T07:30", tried, True, chance(before),
                    Delivery(likely, None, 0.9), RULE, ())  # fmt: skip


@pytest.mark.parametrize(
    ("found", "said"),
    [
        (
            ordering(9, True, {0: 0.31, 9: 0.042}),
            "Order at least 9 today: until Thu 20 May somebody goes without for want of supply in about 4 of 100 "
            "such mornings; with no order in 31 of 100.",
        ),
        (
            ordering(0, True, {0: 0.0042}),
            "Order nothing today: until Thu 20 May somebody goes without for want of supply in about 4 of 1,000 "
            "such mornings, and your limit is 5 in 100.",
        ),
        (
            ordering(0, True, {0: 0.0}),
            "Order nothing today: until Thu 20 May somebody goes without for want of supply in none of 2,000 "
            "such mornings simulated, and your limit is 5 in 100.",
        ),
        (
            ordering(12, False, {0: 1.0, 12: 0.18}),
            "Order 12 today, all that can be ordered: until Thu 20 May somebody goes without for want of supply "
            "in about 18 of 100 such mornings, with no order in all of them.",
        ),
        (
            ordering(12, False, {0: 1.0, 12: 0.18, 30: 0.178}),
            "Order at least 12 today, more gains little: until Thu 20 May somebody goes without for want of "
            "supply in about 18 of 100 such mornings, with no order in all of them.",
        ),
        (
            ordering(0, False, {0: 0.18}),
            "No order can be placed today: until Thu 20 May somebody goes without for want of supply in about 18 "
            "of 100 such mornings, and your limit is 5 in 100.",
        ),
        (
            ordering(0, False, {0: 0.18, 3: 0.18}),
            "No order helps today: until Thu 20 May somebody goes without for want of supply in about 18 of 100 "
            "such mornings, and your limit is 5 in 100.",
        ),
    ],
)
def test_what_to_order(found, said):
    """Each case in its words."""
    assert advice.order_sentence(found, 0.05) == said
    assert len(said.split()) <= 35


@pytest.mark.parametrize(("phone", "likely"), [(True, "2027-05-07"), (False, "2027-05-07"), (False, None)])
@pytest.mark.parametrize("most", [0, 4])
@pytest.mark.parametrize("before", [0.0, 0.0004, 0.12, 0.9999, 1.0])
def test_whether_to_phone(phone, likely, most, before):
    """It begins with what to do, and has at most 35 words whatever the chance."""
    found = ordering(0, True, {0: 0.1, most: 0.1}, before, likely)
    said = advice.phone_sentence(found, phone, 0.05, "2027-05-03")
    assert said.startswith("Phone today" if phone else "No need to phone")
    assert len(said.split()) <= 35


def test_why_to_phone():
    """For the lorry where it does not last so long; for more where it does, but no order is enough after that."""
    found = [ordering(12, False, {0: 1.0, 12: 0.18}, before) for before in (0.12, 0.001)]
    assert [advice.phone_sentence(each, True, 0.05, "2027-05-03") for each in found] == [
        "Phone today, for an emergency delivery or about the lorry: even with an order today somebody goes "
        "without before the next delivery in about 12 of 100 such mornings (limit 5 in 100).",
        "Phone today for a sooner or an extra delivery: what there is likely lasts until the next one, but not "
        "until Thu 20 May, whatever is ordered today.",
    ]


def test_a_delivery_of_the_past_is_not_said_to_be_likely():
    """Of a count some days old, the day by which it was likely may be over."""
    found = ordering(0, True, {0: 0.01})
    likely = [advice.phone_sentence(found, False, 0.05, today).partition(", likely by ")[2][:9]
              for today in ("2027-05-07", "2027-05-08")]  # fmt: skip
    assert likely == ["Fri 7 May", ""]


def test_when_to_phone():
    """Where even with an order the chance before the delivery is over the limit, or no order is enough."""
    cases = [(0.06, True), (0.05, True), (0.01, False)]
    assert [advice.must_phone(chance(share), reached, 0.05) for share, reached in cases] == [True, False, True]


@pytest.mark.parametrize(("share", "said"), [(0.1249, "about 12 of 100"), (0.0049, "about 5 of 1,000"),
                                             (0.0001, "under 1 of 1,000"), (0.9999, "over 999 of 1,000"),
                                             (0.995, "about 995 of 1,000")])  # fmt: skip
def test_chances_in_mornings(share, said):
    """A hundred mornings, or a thousand where it is rare; never none and never all of what was not so."""
    assert advice.mornings(share, 2_000) == f"{said} such mornings"
