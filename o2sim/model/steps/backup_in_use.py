"""Back-ups opened for a lost unit, by whoever is at the bed: no hands of staff are needed for it."""

from __future__ import annotations

from o2sim.model.patient import Patient
from o2sim.model.rules import BACKUP_OPENS, Rank
from o2sim.model.state import State, there
from o2sim.model.steps.backup import backup_rules
from o2sim.model.steps.bedside import connect_cylinder
from o2sim.model.steps.delivery import take_delivery
from o2sim.model.steps.gaps import set_cause, stop_waiting
from o2sim.model.steps.staff import call_off_staff
from o2sim.model.steps.units import release_unit
from o2sim.outcome import Cause


def open_backups(state: State) -> None:
    """Begin to open the back-ups of those who have lost their unit in this step and are not served again.

    The open time is drawn by (patient, loss of a unit).
    """
    due, state.backups_due = state.backups_due, []
    for patient in sorted(due, key=lambda patient: patient.order):
        backup = patient.backup
        if backup is None or not backup.opening or backup.event is not None:
            continue
        law = there(backup_rules(state)).open_time_s
        open_s = state.draws.backup_open_s(law, patient.luck, patient.units_lost - 1)
        if open_s == 0:
            backup_opens(state, patient)
            continue
        set_cause(state, patient, Cause.CHANGEOVER)
        due_s, item = state.now + open_s, patient.item + BACKUP_OPENS
        backup.event = state.clock.at(due_s, Rank.TIMER_ENDS, item, backup_opens, patient)


def backup_opens(state: State, patient: Patient) -> None:
    """The back-up begins to flow: the response is called off, the place on the lost unit is given up.

    From now on it is changed like any open cylinder. The patient goes back to a unit with room, and the back-up
    stays at the bed; one that runs empty, with nothing to change it to, is gone with its set.
    """
    there(patient.backup).event = None
    call_off_staff(state, patient)
    stop_waiting(state, patient)
    release_unit(state, patient)
    patient.displaced = False
    take_delivery(state, patient)
    connect_cylinder(state, patient)
    state.ledger.backups_opened += patient.flowing
    state.room_made = True
