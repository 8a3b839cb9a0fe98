"""The manifold of a facility: two banks and a reserve of cylinders, which of them feeds, who is on an outlet."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from o2sim.model.patient import Patient
from o2sim.model.rules import LAST, MAIN_BANKS, URGENT
from o2sim.scenario.types.hospital import Cylinders, Manifold


@dataclass(slots=True, eq=False)
class Bank:
    """The cylinders on one side of the manifold, which empty together; gas in 1/60 mL."""

    number: int  # 0 and 1 the two banks, 2 the low-pressure reserve
    size: int
    keep_gas: int  # what stays in each cylinder at the changeover pressure
    count: int = 0  # cylinders connected
    gas: int = 0  # in all of them
    usable: int = 0  # the part of it that the manifold can give
    spent: bool = True  # or being changed
    seen: bool = True  # that it is spent, and its cylinders are taken off
    urgent: bool = False  # nothing feeds the outlets
    task: Any = None  # asked of staff or under way (steps/staff.py)
    look: Any = None  # the pending look that finds it spent, where there is no alarm
    gap_since_s: None = None  # a bank is in no gap

    @property
    def order(self) -> tuple[int, int]:
        """Return the place in line for staff: after all patients, before them when the outlets are dry."""
        return URGENT if self.urgent else LAST, self.number

    @property
    def item(self) -> int:
        """Return the item number of this bank's events, after those at the bedside."""
        return (LAST << 32) + self.number

    def put_on(self, fills: list[int]) -> None:
        """Connect full cylinders; what an under-filled one lacks, the bank lacks."""
        self.count, self.gas = len(fills), sum(fills)
        self.usable = sum(max(0, content - self.keep_gas) for content in fills)

    def take_off(self) -> list[int]:
        """Disconnect the cylinders; each holds an equal part, the first ones one unit of the remainder more."""
        each, more = divmod(self.gas, self.count) if self.count else (0, 0)
        contents = [each + (place < more) for place in range(self.count)]
        self.count = self.gas = self.usable = 0
        return contents


@dataclass(slots=True, eq=False)
class ManifoldBanks:
    """All banks and the outlets they feed."""

    rules: Manifold
    banks: list[Bank]
    feeding: int | None = None  # the bank in service
    since_s: int = 0  # credited up to here
    patients: list[Patient] = field(default_factory=list)  # whom the outlets serve
    flow_ml_min: int = 0  # of them together
    event: Any = None  # the bank in service reaches the changeover pressure

    @property
    def in_service(self) -> Bank | None:
        """Return the bank that feeds the outlets, None where all are spent."""
        return None if self.feeding is None else self.banks[self.feeding]

    @property
    def drawn_ml_min(self) -> int:
        """Return what the bank in service gives: to patients, and by the leak of the pipework; 0 where none is."""
        return 0 if self.feeding is None else self.flow_ml_min + self.rules.leak_ml_min

    @property
    def outlet_free(self) -> bool:
        """Return True if another patient can be served."""
        return self.feeding is not None and len(self.patients) < self.rules.outlets

    @property
    def cylinders(self) -> int:
        """Return how many cylinders are connected."""
        return sum(bank.count for bank in self.banks)

    @property
    def gas(self) -> int:
        """Return the gas in the connected cylinders."""
        return sum(bank.gas for bank in self.banks)

    @property
    def usable(self) -> int:
        """Return what the banks can still give."""
        return sum(bank.usable for bank in self.banks)

    def next_bank(self) -> int | None:
        """Return the bank that should feed: the one in service until it is spent, the reserve if no other can."""
        if self.feeding is not None and self.feeding < MAIN_BANKS and not self.banks[self.feeding].spent:
            return self.feeding
        return next((bank.number for bank in self.banks if not bank.spent), None)

    def connect(self, patient: Patient) -> None:
        """Put a patient on an outlet."""
        self.patients.append(patient)
        self.flow_ml_min += patient.flow_ml_min

    def disconnect(self, patient: Patient) -> None:
        """Take a patient off an outlet."""
        self.patients.remove(patient)
        self.flow_ml_min -= patient.flow_ml_min

    def cut(self) -> list[Patient]:
        """Take everybody off the outlets that gave out; return them by number."""
        lost = sorted(self.patients, key=lambda patient: patient.number)
        self.patients, self.flow_ml_min = [], 0
        return lost


def new_manifold(rules: Manifold, cylinders: Cylinders) -> ManifoldBanks:
    """Return a manifold without cylinders."""
    keep = max(rules.changeover_gas, cylinders.lost_gas)
    sizes = [rules.bank] * MAIN_BANKS + [rules.reserve] * (rules.reserve > 0)
    return ManifoldBanks(rules, [Bank(number, size, keep) for number, size in enumerate(sizes)])
