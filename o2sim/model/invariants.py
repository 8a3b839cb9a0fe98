"""A run's state in, nothing out: the balances that must hold exactly, or an InvariantError."""

from __future__ import annotations

from typing import Protocol

from o2sim.errors import InvariantError
from o2sim.model.bank import ConcentratorBank
from o2sim.model.ledger import Ledger
from o2sim.model.order import Order
from o2sim.model.patient import FROM_STORE, FROM_WARD, Patient
from o2sim.model.power import PowerChain
from o2sim.model.store import CylinderStore
from o2sim.model.ward import WardState


class Run(Protocol):
    """What the checks need of an engine."""

    ledger: Ledger
    store: CylinderStore | None
    bank: ConcentratorBank | None
    present: dict[int, Patient]
    wards: list[WardState]
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
        kept = sum(patient.claim in (FROM_STORE, FROM_WARD) for patient in run.present.values())
        require(free >= 0 and free + len(run.on_cylinder) + kept == run.store.rules.regulators, "regulators")
    require(run.chain.balances(), "energy in the battery and fuel in the tank")
    _check_sources(run)
    _check_wards(run)


def _check_wards(run: Run) -> None:
    """Check that each ward has its own regulators back, and that what is held was there to be held."""
    for ward in run.wards if run.store is not None else ():
        assert run.store is not None
        used = sum(patient.ward == ward.number for patient in run.on_cylinder.values())
        kept = sum(p.ward == ward.number and p.claim in (FROM_STORE, FROM_WARD) for p in run.present.values())
        balanced = ward.regulators_free + used + kept == ward.regulators and ward.regulators_free >= 0
        require(balanced, f"regulators of ward {ward.number}")
        shelf = len(run.store.bedside[ward.number])
        require(shelf + ward.coming <= ward.most_bedside, f"bedside cylinders of ward {ward.number}")


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
    for unit in run.bank.units if run.bank else ():
        load = sum(patient.flow_ml_min for patient in unit.patients)
        require(load == unit.load_ml_min <= unit.rules.rated_flow_ml_min, f"load of unit {unit.number}")
        require(len(unit.patients) <= unit.rules.outlets, f"outlets of unit {unit.number}")
        require(all(patient.ward == unit.ward for patient in unit.patients), f"ward of unit {unit.number}")
        require(not (unit.on_the_move and unit.patients), f"unit {unit.number} serves nobody on the move")
        require(all(p.claim == unit.number for p in unit.expected), f"who is expected on unit {unit.number}")
