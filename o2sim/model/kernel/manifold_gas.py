"""What the manifold has given: the gas of the bank in service, the leak of the pipework."""

from __future__ import annotations

from o2sim.compiler import jit
from o2sim.compiler.jit import Record, Whole
from o2sim.model.kernel.layout import NONE, bank_at
from o2sim.model.rules import MAIN_BANKS


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


jit.compile_file(globals())
