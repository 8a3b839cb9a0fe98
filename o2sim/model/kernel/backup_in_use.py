"""Back-ups opened for a lost unit, by whoever is at the bed: no hands of staff are needed for it."""

from __future__ import annotations

from o2sim.compiler.jit import Record, compile_file
from o2sim.draws.laws import whole_draw
from o2sim.model.kernel.bedside import connect_cylinder
from o2sim.model.kernel.codes import CAUSE, RANK, STEP, STREAM
from o2sim.model.kernel.delivery import take_delivery
from o2sim.model.kernel.events import schedule
from o2sim.model.kernel.gaps import set_cause, stop_waiting
from o2sim.model.kernel.layout import NONE, number_at, patient_at
from o2sim.model.kernel.queues import bedside_item, rank
from o2sim.model.kernel.staff import call_off_staff
from o2sim.model.kernel.units import release_unit
from o2sim.model.rules import BACKUP_OPENS


def open_backups(k: Record) -> None:
    """Begin to open the back-ups of those who have lost their unit in this step and are not served again.

    The open time is drawn by (patient, loss of a unit).
    """
    if not k.backups_due:
        return
    k.backups_due = False
    count, slot = 0, k.first_present
    while slot != NONE:
        p = patient_at(k, slot)
        if p.backup_opening and p.backup_event == NONE:
            count = rank(k, k.ranked, count, slot)
        slot = p.after
    for nth in range(count):
        p = patient_at(k, number_at(k.ranked, nth).value)
        law, loss = k.rules.cylinders_backup_open_time_s, p.units_lost - 1
        open_s = whole_draw(law, 0, k.seed, k.replication, STREAM.BACKUP_OPEN, p.luck, loss)
        if open_s == 0:
            backup_opens(k, p)
            continue
        set_cause(k, p, CAUSE.CHANGEOVER)
        due_s, item = k.now + open_s, bedside_item(p) + BACKUP_OPENS
        p.backup_event = schedule(k, due_s, RANK.TIMER_ENDS, item, STEP.BACKUP_OPENS, p.slot, 0)


def backup_opens(k: Record, p: Record) -> None:
    """The back-up begins to flow: the response is called off, the place on the lost unit is given up.

    From now on it is changed like any open cylinder. The patient goes back to a unit with room, and the back-up
    stays at the bed; one that runs empty, with nothing to change it to, is gone with its set.
    """
    p.backup_event = NONE
    call_off_staff(k, p)
    stop_waiting(k, p)
    release_unit(k, p)
    p.displaced = False
    take_delivery(k, p)
    connect_cylinder(k, p)
    k.ledger.backups_opened += p.flowing
    k.room_made = True


compile_file(globals())
