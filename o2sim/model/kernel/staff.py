"""Staff: connecting and changing wait for free hands, by priority; without a staff section nobody waits."""

from __future__ import annotations

from o2sim.compiler.jit import Record, Whole, compile_file
from o2sim.model.kernel.claims import drop_claim, is_day
from o2sim.model.kernel.codes import RANK, STEP
from o2sim.model.kernel.events import call_off, schedule
from o2sim.model.kernel.layout import NONE
from o2sim.model.kernel.queues import bedside_item, leave_line, line_up
from o2sim.scenario.types.hospital import DAY_S


def call_staff(k: Record, p: Record, task: Whole) -> Whole:
    """Ask for somebody to do a job for a patient; False without a staff section: it can begin at once."""
    p.task, p.task_event = task, NONE
    if k.rules.has_staff:
        k.call_count = line_up(k.calls, k.call_count, p.priority, p.number, p.slot)
    return k.rules.has_staff


def occupy(k: Record, p: Record, duration_s: Whole) -> None:
    """Somebody is at a job for a patient until it is done."""
    k.busy += 1
    due_s = k.now + duration_s
    p.task_event = schedule(k, due_s, RANK.TIMER_ENDS, bedside_item(p), STEP.TASK_ENDS, p.slot, p.task)


def call_off_staff(k: Record, p: Record) -> None:
    """Drop the job asked for, or under way, for a patient who no longer needs it."""
    drop_claim(k, p)
    if p.task == NONE:
        return
    p.task = NONE
    if p.task_event == NONE:
        k.call_count = leave_line(k.calls, k.call_count, p.slot)
        return
    p.task_event = call_off(k, p.task_event)
    k.busy -= 1


def on_duty(k: Record) -> Whole:
    """Return how many staff there are now."""
    return k.rules.staff_day if is_day(k, k.now) else k.rules.staff_night


def begin_shifts(k: Record) -> None:
    """Schedule the first change of shift, where there is a staff section."""
    if k.rules.has_staff:
        shift_changes(k)


def shift_changes(k: Record) -> None:
    """Day or night staff take over and answer calls; a job under way is finished by the shift that began it."""
    r, since_s = k.rules, k.now - k.midnight_s
    to_day = (r.day_hours_from_s - since_s - 1) % DAY_S + 1
    to_night = (r.day_hours_to_s - since_s - 1) % DAY_S + 1
    schedule(k, k.now + min(to_day, to_night), RANK.SHIFT_CHANGES, 0, STEP.SHIFT_CHANGES, NONE, 0)


compile_file(globals())
