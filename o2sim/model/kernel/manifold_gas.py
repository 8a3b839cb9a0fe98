"""What the manifold has given: the gas of the bank in service, the leak; its banks: Manifold in the reference."""

from __future__ import annotations

from o2sim.compiler.jit import Record, Whole, compile_file
from o2sim.model.kernel.layout import NONE, bank_at, store_at
from o2sim.model.kernel.queues import take_first
from o2sim.model.rules import LAST, MAIN_BANKS, URGENT


def drawn_ml_min(k: Record) -> Whole:
    """Return what the bank in service gives: to patients, and by the leak of the pipework; 0 where none is."""
    m = k.manifold
    return 0 if not m.present or m.feeding == NONE else m.flow_ml_min + k.rules.manifold_leak_ml_min


def credit_manifold(k: Record) -> None:
    """Bring the bank in service up to this second, and the leak of the pipework."""
    m = k.manifold
    if not m.present:
        return
    seconds = k.now - m.since_s
    m.since_s = k.now
    if m.feeding == NONE:
        k.ledger.manifold_dry_s += seconds
        return
    bank = bank_at(k, m.feeding)
    gas, leaked = seconds * drawn_ml_min(k), seconds * k.rules.manifold_leak_ml_min
    bank.gas -= gas
    bank.usable -= gas
    store_at(k, 0).drawn_gas += gas
    k.ledger.leaked_gas += leaked
    k.ledger.pipe_leak_gas += leaked
    if m.feeding >= MAIN_BANKS:
        k.ledger.reserve_s += seconds


def manifold_gas(k: Record) -> Whole:
    """Return the gas in the cylinders of all banks, as last credited."""
    gas = 0
    for number in range(k.manifold.bank_count):
        gas += bank_at(k, number).gas
    return gas


def manifold_usable(k: Record) -> Whole:
    """Return what the banks can still give."""
    usable = 0
    for number in range(k.manifold.bank_count):
        usable += bank_at(k, number).usable
    return usable


def fill_banks(k: Record) -> None:
    """Fill banks, then reserve, from the full cylinders as far as they go."""
    for number in range(k.manifold.bank_count):
        bank = bank_at(k, number)
        connect_cylinders(k, bank, min(bank.room, store_at(k, 0).full))
        bank.spent = bank.seen = bank.usable == 0


def bank_item(bank: Record) -> Whole:
    """Return the item number of a bank's events, after those at the bedside."""
    return (LAST << 32) + bank.number


def bank_urgency(bank: Record) -> Whole:
    """Return the place in line for staff: after all patients, before them when the outlets are dry."""
    return URGENT if bank.urgent else LAST


def connect_cylinders(k: Record, bank: Record, count: Whole) -> Whole:
    """Connect full cylinders, the oldest first; return how many of them give nothing."""
    s = store_at(k, 0)
    s.full -= count
    k.manifold.on_banks += count
    keep, unusable = k.manifold.keep_gas, 0
    bank.count_, bank.gas, bank.usable = count, 0, 0
    for _ in range(count):
        content = take_first(s.fills)
        bank.gas += content
        bank.usable += max(0, content - keep)  # what an under-filled one lacks, the bank lacks
        unusable += content <= keep
    return unusable


def next_bank(k: Record) -> Whole:
    """Return the bank that should feed: the one in service until it is spent, the reserve if no other can."""
    m = k.manifold
    if m.feeding != NONE and m.feeding < MAIN_BANKS and not bank_at(k, m.feeding).spent:
        return m.feeding
    for number in range(m.bank_count):
        if not bank_at(k, number).spent:
            return number
    return NONE


compile_file(globals())
