"""A run's state in, nothing out: the balances that must hold exactly, or an InvariantError."""

from __future__ import annotations

from typing import Protocol

from o2sim.errors import InvariantError
from o2sim.model.bank import ConcentratorBank
from o2sim.model.ledger import Ledger
from o2sim.model.manifold import ManifoldBanks
from o2sim.model.order import Order
from o2sim.model.patient import Patient
from o2sim.model.power import PowerChain
from o2sim.model.store import CylinderStore


class Run(Protocol):
    """What the checks need of an engine."""

    ledger: Ledger
    store: CylinderStore | None
    bank: ConcentratorBank | None
    manifold: ManifoldBanks | None
    present: dict[int, Patient]
    on_cylinder: dict[int, Patient]
    opening_gas: int
    chain: PowerChain
    open_orders: dict[int, Order]

    def gas_in_cylinders(self) -> int:
        """Return the gas in the whole fleet."""
        ...


def require(holds: bool, what: str) -> None:
    """Raise InvariantError if a balance does not hold."""
    if not holds:
        raise InvariantError(
            f"balance broken: {what}. This is a defect of o2sim; please report the scenario and seed"
        )


def check_leaving(patient: Patient) -> None:
    """Check that a patient's seconds served and unserved make up the need."""
    require(patient.served_s + patient.unserved_s == patient.need_s, f"need of patient {patient.number}")


def check_whole_run(run: Run) -> None:
    """Check gas, cylinders and patients after `credit_all`, over the time the ledger covers."""
    ledger = run.ledger
    used = ledger.cylinder_gas + ledger.unneeded_cylinder_gas + ledger.leaked_gas
    moved = ledger.received_gas - used - ledger.returned_gas
    require(run.opening_gas + moved == run.gas_in_cylinders(), "gas in cylinders")
    if run.store is not None:
        require(run.store.counts_balance(), "places of the fleet")
        require(run.store.in_use == len(run.on_cylinder), "cylinders in use")
        ordered = sum(order.count for order in run.open_orders.values())
        require(ordered == run.store.on_order, "cylinders on order")
        free = run.store.regulators_free
        require(free >= 0 and free + len(run.on_cylinder) == run.store.rules.regulators, "regulators")
    require(run.chain.balances(), "energy in the battery and fuel in the tank")
    _check_sources(run)


def _check_sources(run: Run) -> None:
    """Check that everybody present is on one source or in a gap, and no unit gives more than it has."""
    on_units = [patient.number for unit in run.bank.units for patient in unit.patients] if run.bank else []
    require(len(on_units) == len(set(on_units)), "one unit a patient")
    require(not set(on_units) & set(run.on_cylinder), "one source a patient")
    for patient in run.present.values():
        if not patient.needs:
            require(patient.gap_since_s is None, f"patient {patient.number} without need in no gap")
            continue
        require(
            patient.flowing != (patient.gap_since_s is not None), f"patient {patient.number} served or in a gap"
        )
    require(run.bank is None or run.bank.running <= run.bank.most_running, "power for every running unit")
    _check_manifold(run)
    for unit in run.bank.units if run.bank else ():
        load = sum(patient.flow_ml_min for patient in unit.patients)
        require(load == unit.load_ml_min <= unit.rules.rated_flow_ml_min, f"load of unit {unit.number}")
        require(len(unit.patients) <= unit.rules.outlets, f"outlets of unit {unit.number}")


def _check_manifold(run: Run) -> None:
    """Check that the outlets serve no more than there are, from a bank, and where its cylinders are counted."""
    manifold, store = run.manifold, run.store
    if manifold is None or store is None:
        return
    piped = sorted(patient.number for patient in run.present.values() if patient.piped and patient.flowing)
    require(piped == sorted(patient.number for patient in manifold.patients), "patients on outlets")
    require(not set(piped) & set(run.on_cylinder), "one source a patient")
    require(len(piped) <= manifold.rules.outlets, "outlets of the manifold")
    require(not piped or manifold.feeding is not None, "a bank behind the outlets")
    require(sum(p.flow_ml_min for p in manifold.patients) == manifold.flow_ml_min, "flow of the outlets")
    require(manifold.cylinders == store.on_manifold, "cylinders on the manifold")
    require(all(0 <= bank.usable <= bank.gas for bank in manifold.banks), "gas in the banks")
