"""Staff: connecting and changing wait for free hands, by priority; without a staff section nobody waits."""

from __future__ import annotations

from bisect import insort
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from o2sim.model.manifold import Bank
from o2sim.model.patient import Patient
from o2sim.model.rules import GENERATOR, GENERATOR_FIRST, Rank
from o2sim.model.state import State
from o2sim.model.steps.claims import drop_claim
from o2sim.scenario.types.hospital import DAY_S


@dataclass(slots=True, eq=False)
class Task:
    """One job: begin says whether it goes on (False: nothing to do), done ends it."""

    patient: Any  # or a bank of the manifold; None for the job of starting the generator
    duration_s: Callable[[State, Any], int]  # asked once it has begun
    begin: Callable[[State, Any], bool]
    done: Callable[[State, Any], None]
    event: Any = None  # set while somebody is at it
    is_return: bool = False  # a planned move back to a unit


def call_staff(
    state: State,
    patient: Patient | Bank,
    duration_s: Callable[[State, Any], int],
    begin: Callable[[State, Any], bool],
    done: Callable[[State, Any], None],
) -> None:
    """Ask for somebody to do a job; `settle` answers once all calls of the step are in."""
    patient.task = Task(patient, duration_s, begin, done)
    if state.rules.staff is None:
        _begin(state, patient.task)
    else:
        insort(state.calls, (patient.order, patient.task))


def answer_calls(state: State) -> None:
    """Begin the jobs of those first in line while somebody is free; the rest wait for staff."""
    while state.calls and state.busy < on_duty(state):
        _, task = state.calls.pop(0)
        _begin(state, task)


def _begin(state: State, task: Task) -> None:
    if not task.begin(state, task.patient):
        _off_the_books(task)
        return
    duration_s = task.duration_s(state, task.patient)
    if duration_s == 0:
        _off_the_books(task)
        task.done(state, task.patient)
        return
    state.busy += 1
    due_s = state.now + duration_s
    if task.patient is None:
        task.event = state.clock.at(due_s, Rank.POWER_RESTORED, GENERATOR, task_ends, task)
    else:
        task.event = state.clock.at(due_s, Rank.TIMER_ENDS, task.patient.item, task_ends, task)


def _off_the_books(task: Task) -> None:
    if task.patient is not None:
        task.patient.task = None


def task_ends(state: State, task: Task) -> None:
    """A job is done; the member of staff is free for the next."""
    state.busy -= 1
    _off_the_books(task)
    task.done(state, task.patient)


def call_off_staff(state: State, patient: Patient) -> None:
    """Drop the job asked for, or under way, for a patient who no longer needs it."""
    drop_claim(state, patient)
    task = patient.task
    if task is not None:
        patient.task = None
        call_off_task(state, task)


def call_for_generator(state: State, duration_s: int, done: Callable[[State, Any], None]) -> Task:
    """Ask for somebody to start the generator: before all jobs at the bedside."""
    task = Task(None, lambda _state, _none: duration_s, lambda _state, _none: True, done)
    insort(state.calls, (GENERATOR_FIRST, task))
    return task


def call_off_task(state: State, task: Task) -> None:
    """Drop a job that is asked for, or under way."""
    if task.event is None:
        state.calls = [call for call in state.calls if call[1] is not task]
        return
    task.event.cancel()
    state.busy -= 1


def on_duty(state: State) -> int:
    """Return how many staff there are now."""
    staff = state.rules.staff
    assert staff is not None
    is_day = state.rules.day_hours.is_day((state.now - state.midnight_s) % DAY_S)
    return staff.day if is_day else staff.night


def begin_shifts(state: State) -> None:
    """Schedule the first change of shift, where there is a staff section."""
    if state.rules.staff is not None:
        shift_changes(state)


def shift_changes(state: State) -> None:
    """Day or night staff take over and answer calls; a job under way is finished by the shift that began it."""
    hours = state.rules.day_hours
    since_s = state.now - state.midnight_s
    waits = [(edge_s - since_s - 1) % DAY_S + 1 for edge_s in (hours.from_s, hours.to_s)]
    state.clock.at(state.now + min(waits), Rank.SHIFT_CHANGES, 0, shift_changes)
