"""Cover: how long what is on hand lasts, by the stock book that is closed at each midnight."""

from __future__ import annotations

from o2sim.model.rules import BOOK_DAYS, GAS_PER_LITRE, MOST_COUNTED
from o2sim.model.state import State
from o2sim.model.steps.manifold_gas import credit_manifold
from o2sim.scenario.types.hospital import DAY_S


def close_book(state: State) -> None:
    """Write down what was drawn from cylinders in the day that ends, leaks included."""
    _credit_cylinders(state)
    drawn = state.ledger.drawn_gas
    state.book.append(drawn - state.booked_gas)
    state.booked_gas = drawn


def lasts_less(state: State, coming_gas: int, cover_s: int) -> bool:
    """Return True if days of cover are below a level.

    Usable gas on hand, in cylinders in use too, and coming, over the greater of the last seven days' use and the
    season's mean need. Before there are seven days in the book, those missing count as days without use.
    """
    _credit_cylinders(state)
    use = max(sum(state.book), BOOK_DAYS * _need(state))
    return (state.usable_gas() + coming_gas) * BOOK_DAYS * DAY_S < use * cover_s


def stock_book(state: State) -> tuple[int, int, int, int, int]:
    """Return usable litres on hand, litres used in seven days, the mean need, the flow now, litres used in one."""
    if state.store is None:
        return (0,) * 5
    leak = state.leak_ml_min
    flow = sum(cylinder.flow_ml_min + leak for cylinder in state.open_cylinders.values() if cylinder.flowing)
    flow += state.manifold.drawn_ml_min if state.manifold is not None else 0
    gas = state.usable_gas(), sum(state.book), _need(state), state.book[-1]
    usable, used, need, last = (min(each // GAS_PER_LITRE, MOST_COUNTED) for each in gas)
    return usable, used, need, min(flow, MOST_COUNTED), last


def _need(state: State) -> int:
    """Return the season's mean need of today, whatever source meets it."""
    return state.mean_need[(state.now - state.midnight_s) // DAY_S + state.warm_up_days]


def _credit_cylinders(state: State) -> None:
    """Bring the contents of the cylinders in use up to this second."""
    credit_manifold(state)
    piped = state.manifold.patients if state.manifold is not None else []
    for patient in (*state.on_cylinder.values(), *piped):
        if patient.flowing:
            state.ledger.served(patient, state.now, state.leak_ml_min)
