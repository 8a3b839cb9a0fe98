"""Cover: how long what is on hand lasts, by the stock book that is closed at each midnight."""

from __future__ import annotations

from o2sim.compiler import jit
from o2sim.compiler.jit import Record, Whole
from o2sim.model.kernel.layout import NONE, number_at, open_at, patient_at
from o2sim.model.kernel.ledger import credit_served, drawn_gas, gas_in_cylinders_in_use
from o2sim.model.kernel.manifold_gas import credit_manifold, drawn_ml_min, manifold_gas, manifold_usable
from o2sim.model.kernel.on_cylinder import flow_of, flows
from o2sim.model.kernel.store import gas_on_hand, keep_gas, usable_on_hand
from o2sim.model.rules import BOOK_DAYS, GAS_PER_LITRE, MOST_COUNTED
from o2sim.scenario.types.hospital import DAY_S

_LONGEST_S = 1 << 40  # more than any cover that a scenario may ask for


def gas_in_cylinders(k: Record) -> Whole:
    """Return the gas in the whole fleet, cylinders in use as last credited."""
    return gas_in_cylinders_in_use(k) + manifold_gas(k) + gas_on_hand(k) if k.has_store else 0


def usable_gas(k: Record) -> Whole:
    """Return the gas above residual content in cylinders that are no empties, and what the banks can give."""
    if not k.has_store:
        return 0
    keep, gas, place = keep_gas(k.rules), usable_on_hand(k) + manifold_usable(k), k.first_open
    while place != NONE:
        gas += max(0, open_at(k, place).content - keep)
        place = open_at(k, place).after
    return gas


def cylinder_flow(k: Record, only_flowing: Whole) -> Whole:
    """Return the flow of all on open cylinders, or on those that flow, and of the manifold, leaks included."""
    leak, flow, place = k.rules.cylinders_leak_ml_min, drawn_ml_min(k), k.first_open
    while place != NONE:
        c = open_at(k, place)
        if not only_flowing or flows(k, c):
            flow += leak + flow_of(k, c)
        place = c.after
    return flow


def close_book(k: Record) -> None:
    """Write down what was drawn from cylinders in the day that ends, leaks included."""
    _credit_cylinders(k)
    drawn = drawn_gas(k)
    k.book[k.booked_days % BOOK_DAYS] = drawn - k.booked_gas
    k.booked_days += 1
    k.booked_gas = drawn


def last_in_the_book(k: Record) -> Whole:
    """Return the gas drawn in the day that was booked last."""
    return k.book[(k.booked_days - 1) % BOOK_DAYS]


def in_the_book(k: Record) -> Whole:
    """Return the gas drawn in the days that the book looks back on."""
    gas = 0
    for place in range(BOOK_DAYS):
        gas += k.book[place]
    return gas


def lasts_less(k: Record, coming_gas: Whole, cover_s: Whole) -> Whole:
    """Return True if days of cover are below a level.

    Usable gas on hand, in cylinders in use too, and coming, over the greater of the last seven days' use and the
    season's mean need. Before there are seven days in the book, those missing count as days without use.
    """
    _credit_cylinders(k)
    use = max(in_the_book(k), BOOK_DAYS * mean_need(k))
    return use > 0 and _whole_times(usable_gas(k) + coming_gas, use) < cover_s


def _whole_times(gas: Whole, use: Whole) -> Whole:
    """Return the whole seconds that gas lasts at a use in BOOK_DAYS, rounded down: no cover above it is reached.

    gas x seconds would not fit a word for a large fleet, so the days and their seconds are multiplied in turn.
    """
    seconds, rest = gas // use, gas % use
    for times in (BOOK_DAYS * 24, 3_600):
        if seconds > _LONGEST_S:
            return seconds
        seconds, rest = seconds * times + rest * times // use, rest * times % use
    return seconds


def mean_need(k: Record) -> Whole:
    """Return the season's mean need of today, whatever source meets it."""
    return number_at(k.mean_need, (k.now - k.midnight_s) // DAY_S + k.warm_up_days).value


def stock_book(k: Record, row: Record) -> None:
    """Write down usable litres on hand, litres of seven days and of one, the mean need, the flow drawn now."""
    row[11] = min(MOST_COUNTED, usable_gas(k) // GAS_PER_LITRE)
    row[12] = min(MOST_COUNTED, in_the_book(k) // GAS_PER_LITRE)
    row[13] = min(MOST_COUNTED, mean_need(k) // GAS_PER_LITRE)
    row[14] = min(MOST_COUNTED, cylinder_flow(k, True))
    row[15] = min(MOST_COUNTED, last_in_the_book(k) // GAS_PER_LITRE)


def _credit_cylinders(k: Record) -> None:
    """Bring the contents of the cylinders in use up to this second."""
    credit_manifold(k)
    slot = k.first_present
    while slot != NONE:
        p = patient_at(k, slot)
        if p.flowing and (p.piped or p.cylinder != NONE):
            credit_served(k, p)
        slot = p.after


jit.compile_file(globals())
