"""Allocation: `settle`, the only place where anybody is given a source."""

from __future__ import annotations

from o2sim.compiler.jit import Record, Whole, compile_file
from o2sim.model.kernel import connecting
from o2sim.model.kernel.backup import give_backups
from o2sim.model.kernel.backup_in_use import open_backups
from o2sim.model.kernel.bedside import ask_for_change, begin_change, change_ends, change_watched, sound_alarms
from o2sim.model.kernel.better_source import raise_flows, return_to_concentrators, return_to_outlets, stop_moves
from o2sim.model.kernel.claims import restock_wards, seen_to
from o2sim.model.kernel.codes import CAUSE, JOB
from o2sim.model.kernel.delivery import take_delivery
from o2sim.model.kernel.gaps import begin_response, response_ends, set_cause, stop_waiting
from o2sim.model.kernel.generator import GENERATOR_SLOT, begin_to_start
from o2sim.model.kernel.layout import NONE, bank_at, open_at, patient_at, waiting_at
from o2sim.model.kernel.levels import count_levels
from o2sim.model.kernel.manifold import BANK_SLOT, begin_bank_change, change_banks
from o2sim.model.kernel.moving import move_units
from o2sim.model.kernel.noticed import give_oximeters
from o2sim.model.kernel.patients import patient_leaves, send_on, transfer
from o2sim.model.kernel.power import carry_load
from o2sim.model.kernel.queues import leave_line
from o2sim.model.kernel.shortfall import count_turned_away, look_for_shortfall
from o2sim.model.kernel.sources import come_to_connect, connect, find_source, reason, would_make_way
from o2sim.model.kernel.staff import call_off_staff, occupy, on_duty
from o2sim.model.kernel.supply import gather
from o2sim.model.kernel.times import connect_time_s


def settle(k: Record) -> None:
    """Answer calls; serve the line by priority, then arrival; name the causes of the gaps that are left.

    After the line those on reduced flow get more; then others go back from cylinders to units; on the battery
    patients are gathered on fewer units, where that is the rule. Then back-ups are brought to those on units.
    Last, what now runs is taken from battery and tank, and what is in use at once is counted.
    """
    k.backup_came_back = False
    open_backups(k)
    _serve_all(k)
    # A patient left without being served: another may have the back-up. Or a unit was lost as staff started the
    # generator: the back-up for it is to be opened in this second.
    while k.backup_came_back or k.backups_due:
        k.backup_came_back = False
        open_backups(k)
        _serve_all(k)
    give_backups(k)
    look_for_shortfall(k)
    carry_load(k)
    if k.oximeters_free > 0:
        give_oximeters(k)
    if k.power_came:
        sound_alarms(k)
    count_levels(k)


def _serve_all(k: Record) -> None:
    """Serve all who can be served, and name the causes of the gaps that are left; some of these patients leave."""
    _serve(k)
    while k.call_count > 0 and k.busy < on_duty(k):  # a cylinder opened just now gives nothing
        _serve(k)
    while gather(k):  # a unit that stops may leave power for another
        _serve(k)
    for place in range(k.call_count):
        _name_staff(k, waiting_at(k.calls, place).slot)
    move_units(k)
    place = 0
    while place < k.line_count:
        p = patient_at(k, waiting_at(k.line, place).slot)
        if seen_to(p) or p.backup_opening:
            connecting.name_cause(k, p)
            place += 1
            continue
        if not p.needs:  # given oxygen without need, or weaned late: does without
            patient_leaves(k, p)
            continue
        set_cause(k, p, reason(k, p))
        if p.transfers and (p.displaced or p.arrival_s == k.now):
            count_turned_away(k, p)
            transfer(k, p)
        elif not p.transfer_due or not send_on(k, p):
            place += 1


def _name_staff(k: Record, slot: Whole) -> None:
    """Let those for whom somebody is called, all on the same cylinder, wait for staff."""
    if slot < 0:  # a bank, or the generator
        return
    p = patient_at(k, slot)
    if p.cylinder == NONE:
        if not p.backup_opening:
            set_cause(k, p, CAUSE.WAITING_FOR_STAFF)
        return
    slot = open_at(k, p.cylinder).first_on
    while slot != NONE:
        set_cause(k, patient_at(k, slot), CAUSE.WAITING_FOR_STAFF)
        slot = patient_at(k, slot).on_after


def _serve(k: Record) -> None:
    if k.takes_time:
        _serve_at_bedside(k)
    if k.call_count > 0:
        answer_calls(k)
    _serve_line(k)
    if k.rules.allocation_preempt:
        _serve_line(k)  # the displaced, and whoever they displace in turn
    _raise_flows(k)
    if k.stock_came:
        change_watched(k)
    change_banks(k)
    moved = k.room_made
    while moved:
        return_to_concentrators(k)
        return_to_outlets(k)
        _serve_line(k)  # with the cylinders and regulators that came free
        moved = _raise_flows(k)
        change_banks(k)
    restock_wards(k)


def _raise_flows(k: Record) -> Whole:
    moved = False
    while raise_flows(k):
        moved = True
        _serve_line(k)  # with what came free
    stop_moves(k)
    return moved


def _serve_line(k: Record) -> None:
    """Connect each waiting patient to the first source with room, passing over those nobody can serve."""
    again = k.line_count > 0
    while again:
        again = False
        if k.takes_time:
            connecting.drop_what_waits(k)
        joined, place = k.joined, 0
        while place < k.line_count:
            p = patient_at(k, waiting_at(k.line, place).slot)
            if p.joined > joined:  # during this round: asked for in the next
                place += 1
                continue
            if k.takes_time and connecting.being_connected(k, p):
                place += 1
                continue
            joined_as = p.joined
            again = _see_to(k, p) or again
            if p.waits and p.joined == joined_as:  # still in line
                place += 1


def _serve_at_bedside(k: Record) -> None:
    """Connect those who wait with all they need at the bedside, before anybody is called."""
    joined, place = k.joined, 0
    while place < k.line_count:
        p = patient_at(k, waiting_at(k.line, place).slot)
        joined_as = p.joined
        if joined_as <= joined and p.attended_s == k.now and not seen_to(p):
            _see_to(k, p)
        if p.waits and p.joined == joined_as:  # still in line
            place += 1


def _see_to(k: Record, p: Record) -> Whole:
    """Connect a patient who waits, or begin to, if there is a source; True if the cylinder opened gave nothing."""
    source = find_source(k, p)
    if source == NONE:
        _ask_to_make_way(k, p)
        return False
    if connecting.takes_time(k, p, source):
        connecting.begin_connecting(k, p, source)
        return False
    stop_waiting(k, p)
    p.displaced = False
    take_delivery(k, p)
    connect(k, p, source)
    return not (p.flowing or seen_to(p))  # back in line


def _ask_to_make_way(k: Record, p: Record) -> None:
    """Where connecting takes staff, others give way only as they come; where nobody would, staff are not asked."""
    if not k.takes_time:
        return
    if connecting.needs_hands(k, p) and would_make_way(k, p):
        connecting.ask_for_hands(k, p)
    else:
        call_off_staff(k, p)


def answer_calls(k: Record) -> None:
    """Begin the jobs of those first in line while somebody is free; the rest wait for staff."""
    while k.call_count > 0 and k.busy < on_duty(k):
        slot = waiting_at(k.calls, 0).slot
        k.call_count = leave_line(k.calls, k.call_count, slot)
        if slot <= BANK_SLOT:
            begin_bank_change(k, bank_at(k, BANK_SLOT - slot))
            continue
        if slot == GENERATOR_SLOT:
            begin_to_start(k)
            continue
        p = patient_at(k, slot)
        if p.task == JOB.RESPOND:
            begin_response(k, p)
        elif p.task == JOB.CHANGE:
            begin_change(k, p.cylinder)
        elif come_to_connect(k, p) if p.task == JOB.CONNECT else connecting.return_begins(k, p):
            occupy(k, p, connect_time_s(k, p))
        else:
            p.task = NONE


def fetched(k: Record, p: Record) -> None:
    """The cylinder is at the bedside."""
    p.fetch_event, p.fetched = NONE, True
    if p.fetch_for == JOB.CHANGE:
        ask_for_change(k, p.cylinder)
    elif k.hands_connect:
        connecting.ask_for_hands(k, p)
    else:
        connecting.hands_done(k, p)


def task_ends(k: Record, p: Record, task: Whole) -> None:
    """A job is done; the member of staff is free for the next."""
    k.busy -= 1
    p.task = NONE
    if task == JOB.RESPOND:
        response_ends(k, p)
    elif task == JOB.CONNECT:
        connecting.hands_done(k, p)
    elif task == JOB.RETURN:
        connecting.return_done(k, p)
    else:
        change_ends(k, p.cylinder)


compile_file(globals())
