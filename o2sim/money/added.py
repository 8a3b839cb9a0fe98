"""What comes on top of prices: freight, duty, installation, tests, training, time of staff, lines by name.

Nothing here unless its key is stated. A line is (item, how many, equipment, upkeep a year of each), as those of
`cost.owned`; behind a colon stands what a line of an item is for.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from o2sim.money.by_model import head_of
from o2sim.money.by_size import CYLINDERS
from o2sim.outcome import Outcome
from o2sim.scenario.types.hospital import DAY_S, YEAR_DAYS, Costs, Equipment, Hospital
from o2sim.scenario.types.times import mean_s

FREIGHT = "freight"
DUTY = "duty"
INSTALLATION = "installation"
TESTS = "cylinder tests"
TRAINING = "training"
STAFF = "staff"
OTHER = "other"
HOUR_S = 3_600
Line = tuple[str, int, Equipment, float]


def on_top(costs: Costs, lines: Iterable[Line]) -> Iterator[Line]:
    """Yield freight, duty and installation of what is bought: by the same payer, for the same life."""
    for item, count, each, _ in lines:
        shares = {FREIGHT: costs.freight, DUTY: costs.duty} if each.imported else {}
        amounts = {name: each.price * share for name, share in shares.items() if share}
        amounts[INSTALLATION] = each.installation or each.price * (costs.installation or 0.0)
        for name, amount in amounts.items():
            if amount and each.price:
                yield f"{name}: {item}", count, _bought(amount, each.life_years, each.paid_by), 0.0


def beside(hospital: Hospital, costs: Costs) -> Iterator[Line]:
    """Yield periodic tests of cylinders, training, and the lines that have names of their own."""
    if hospital.cylinders is not None and costs.cylinder_test:
        yield TESTS, hospital.cylinders.fleet, Equipment(), costs.cylinder_test / costs.test_every_years
    if costs.training is not None:
        course = costs.training
        yield TRAINING, course.persons, _bought(course.price, course.every_years, course.paid_by), 0.0
    for line in costs.other:
        yield f"{OTHER}: {line.name}", 1, _bought(line.once, line.life_years, line.paid_by), line.yearly


def item_of(line: str) -> str:
    """Return the item of a line: `freight` of `freight: regulators`, that of all of one size's or model's line."""
    item = line.partition(": ")[0]
    return item if item in (FREIGHT, DUTY, INSTALLATION, OTHER, CYLINDERS) else head_of(line)


def thing_of(line: str) -> str:
    """Return the thing that a line goes with: `regulators` of `freight: regulators`; else its own name."""
    item = item_of(line)
    return line if item in (OTHER, CYLINDERS) else line.removeprefix(f"{item}: ")


def staff_cost(hospital: Hospital, costs: Costs, outcome: Outcome) -> float:
    """Return what the time of staff costs within the horizon; 0 without a wage."""
    staff = costs.staff
    if staff is None:
        return 0.0
    hours = sum(staff_hours(hospital, costs, outcome).values())
    return hours * HOUR_S / staff.hours_a_year_s * staff.wage_per_year


def staff_hours(hospital: Hospital, costs: Costs, outcome: Outcome) -> dict[str, float]:
    """Return hours of staff within the horizon by task, or of the posts stated; empty without a wage.

    Each cylinder opened is one change (change_time by day) and, with `fetch`, one way; a bank is changed in
    bank_change_time. A cylinder that is open, and the manifold, is looked at every gauge_check. A patient is
    connected once.
    """
    staff = costs.staff
    if staff is None:
        return {}
    if staff.posts is not None:
        share = outcome.horizon_s / (YEAR_DAYS * DAY_S)
        return {"posts": staff.posts * staff.hours_a_year_s / HOUR_S * share}
    found = {name: seconds / HOUR_S for name, seconds in _task_seconds(hospital, costs, outcome)}
    return {name: hours for name, hours in found.items() if hours}


def connect_time_s(hospital: Hospital, costs: Costs) -> float | None:
    """Return how long staff take to connect a patient: as costed, else as in the run; None where neither says."""
    if costs.staff is not None and costs.staff.connect_s is not None:
        return costs.staff.connect_s
    return mean_s(hospital.staff.connect_s) if hospital.staff is not None and hospital.staff.connect_s else None


def looks(hospital: Hospital, outcome: Outcome) -> float:
    """Return the looks at gauges within the horizon."""
    count, stock, manifold = 0.0, hospital.cylinders, hospital.manifold
    if stock is not None and stock.gauge_check_s:
        open_s = sum(level * seconds for level, seconds in enumerate(outcome.at_once.cylinders))
        count += open_s / stock.gauge_check_s
    if manifold is not None and manifold.gauge_check_s:
        count += outcome.horizon_s / manifold.gauge_check_s
    return count


def _task_seconds(hospital: Hospital, costs: Costs, outcome: Outcome) -> Iterator[tuple[str, float]]:
    staff, stock, manifold = costs.staff, hospital.cylinders, hospital.manifold
    assert staff is not None
    if stock is not None:
        on_banks = 0
        if manifold is not None:
            on_banks = min(outcome.cylinders_opened, outcome.bank_changes * manifold.bank)
            yield "changing banks", outcome.bank_changes * manifold.bank_change_time_s
        yield "changing cylinders", (outcome.cylinders_opened - on_banks) * mean_s(stock.change_time_s)
        yield "fetching cylinders", outcome.cylinders_opened * (staff.fetch_s or 0)
        yield "looking at gauges", looks(hospital, outcome) * (staff.look_s or 0)
    treated = outcome.patients - outcome.transferred
    yield "connecting patients", treated * (connect_time_s(hospital, costs) or 0.0)
    if hospital.concentrators is not None:
        cleanings = hospital.concentrators.count * outcome.horizon_s / staff.filter_every_s
        yield "cleaning filters", cleanings * (staff.filter_s or 0)


def _bought(price: float, life_years: float, payer: str) -> Equipment:
    return Equipment(price=price, life_years=life_years, paid_by=payer)
