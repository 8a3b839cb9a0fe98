"""Allocation: `settle`, the only place where anybody is given a source; see the step of this name."""

from __future__ import annotations

from o2sim.compiler import jit
from o2sim.compiler.jit import Record, Whole
from o2sim.model.kernel import codes
from o2sim.model.kernel.backup import GENERATOR_SLOT, begin_to_start
from o2sim.model.kernel.bedside import (
    CYLINDER,
    MANIFOLD,
    begin_change,
    change_watched,
    connect_cylinder,
    release_cylinder,
    source_place,
)
from o2sim.model.kernel.claims import connect_time_s, regulator_free, seen_to
from o2sim.model.kernel.connecting import (
    BY_CYLINDER,
    ask_for_hands,
    begin_connecting,
    being_connected,
    drop_what_waits,
    hands_come,
    keep_source,
    name_cause,
    needs_hands,
    return_begins,
    return_by_staff,
    takes_time,
)
from o2sim.model.kernel.delivery import delivery_would_do, lacks_delivery, take_delivery
from o2sim.model.kernel.fetching import restock_wards
from o2sim.model.kernel.gaps import (
    begin_gap,
    begin_response,
    call_off_staff,
    occupy,
    on_duty,
    set_cause,
    stop_waiting,
    wait,
)
from o2sim.model.kernel.gather import gather
from o2sim.model.kernel.layout import (
    NONE,
    bank_at,
    note,
    note_code,
    number_at,
    open_at,
    patient_at,
    rules,
    waiting_at,
    ward_at,
)
from o2sim.model.kernel.levels import count_levels
from o2sim.model.kernel.manifold import (
    BANK_SLOT,
    begin_bank_change,
    change_banks,
    connect_outlet,
    outlet_free,
    outlets_reason,
)
from o2sim.model.kernel.moving import move_units
from o2sim.model.kernel.opening import may_open
from o2sim.model.kernel.packing import entry_code
from o2sim.model.kernel.patients import patient_leaves, release, send_on, transfer
from o2sim.model.kernel.power import carry_load
from o2sim.model.kernel.queues import before, leave_line
from o2sim.model.kernel.reduced_flow import (
    BY_REDUCED,
    connect_reduced,
    may_share,
    raise_flow,
    shared_source,
    takes_reduced,
)
from o2sim.model.kernel.spare import NOT_KNOWN, may_return
from o2sim.model.kernel.splitters import cylinder_would_do, join_cylinder, outlet_for
from o2sim.model.kernel.two_units import (
    BY_TWO,
    BY_UNIT,
    connect_on_units,
    may_take_two,
    on_units,
    two_lack_power,
    unit_would_do,
)
from o2sim.model.kernel.units import all_down, lacks_power, most_spare_ml_min
from o2sim.outcome import Cause
from o2sim.scenario.types.types import Strategy

_CONCENTRATOR = entry_code(Strategy, "sources", "concentrator")
_NO_DELIVERY, _NO_REGULATOR, _NO_CYLINDER, _TOO_HIGH, _NO_POWER, _DOWN, _FULL, _STAFF = (
    int(cause)
    for cause in (
        Cause.NO_DELIVERY_SET,
        Cause.NO_REGULATOR,
        Cause.NO_CYLINDER,
        Cause.FLOW_TOO_HIGH,
        Cause.NO_POWER,
        Cause.CONCENTRATOR_DOWN,
        Cause.CONCENTRATORS_FULL,
        Cause.WAITING_FOR_STAFF,
    )
)
_DISPLACED = note_code("displaced")
_BY_SPLITTER, _BY_OUTLET = 4, 5  # after BY_UNIT, BY_TWO, BY_REDUCED, BY_CYLINDER
assert {BY_UNIT, BY_TWO, BY_REDUCED, BY_CYLINDER} == {0, 1, 2, 3}


@jit.compiled
def settle(k: Record) -> None:
    """Answer calls; serve the line by priority, then arrival; name the causes of the gaps that are left.

    After the line those on reduced flow get more; then others go back from cylinders to units; on the battery
    patients are gathered on fewer units, where that is the rule. Last, what now runs is taken from battery and
    tank, and what is in use at once is counted.
    """
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
        slot = waiting_at(k.line, place).slot
        p = patient_at(k, slot)
        if seen_to(p):
            name_cause(k, slot, p)
            place += 1
            continue
        if not p.needs:  # given oxygen without need, or weaned late: does without
            patient_leaves(k, slot, p)
            continue
        set_cause(k, slot, p, _reason(k, p))
        if p.transfers and (p.displaced or p.arrival_s == k.now):
            transfer(k, slot, p)
        elif p.transfer_due:
            send_on(k, slot, p)
        else:
            place += 1
    carry_load(k)
    count_levels(k)


@jit.compiled
def _name_staff(k: Record, slot: Whole) -> None:
    """Let those for whom somebody is called, all on the same cylinder, wait for staff."""
    if slot < 0:  # a bank, or the generator
        return
    p = patient_at(k, slot)
    if p.cylinder == NONE:
        set_cause(k, slot, p, _STAFF)
        return
    slot = open_at(k, p.cylinder).first_on
    while slot != NONE:
        set_cause(k, slot, patient_at(k, slot), _STAFF)
        slot = patient_at(k, slot).on_after


@jit.compiled
def _serve(k: Record) -> None:
    if k.takes_time:
        _serve_at_bedside(k)
    if k.call_count > 0:
        _answer_calls(k)
    _serve_line(k)
    if rules(k).allocation_preempt:
        _serve_line(k)  # the displaced, and whoever they displace in turn
    _raise_flows(k)
    if k.stock_came:
        change_watched(k)
    change_banks(k)
    if k.room_made:
        _return_to_concentrators(k)
        _return_to_outlets(k)
        _serve_line(k)  # with the cylinders and regulators that came free
        _raise_flows(k)
    restock_wards(k)


@jit.compiled
def _answer_calls(k: Record) -> None:
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
        if p.task == codes.RESPOND:
            begin_response(k, slot, p)
        elif p.task == codes.CHANGE:
            begin_change(k, p.cylinder)
        elif _hands_come(k, slot, p) if p.task == codes.CONNECT else return_begins(k, p):
            occupy(k, slot, p, connect_time_s(k))
        else:
            p.task = NONE


@jit.compiled
def _serve_line(k: Record) -> None:
    """Connect each waiting patient to the first source with room, passing over those nobody can serve."""
    again = k.line_count > 0
    while again:
        again = False
        if k.takes_time:
            drop_what_waits(k)
        joined, place = k.joined, 0
        while place < k.line_count:
            slot = waiting_at(k.line, place).slot
            p = patient_at(k, slot)
            if p.joined > joined:  # during this round: asked for in the next
                place += 1
                continue
            if k.takes_time and being_connected(k, slot, p):
                place += 1
                continue
            joined_as = p.joined
            again = _see_to(k, slot, p) or again
            if p.waits and p.joined == joined_as:  # still in line
                place += 1


@jit.compiled
def _serve_at_bedside(k: Record) -> None:
    """Connect those who wait with all they need at the bedside, before anybody is called."""
    joined, place = k.joined, 0
    while place < k.line_count:
        slot = waiting_at(k.line, place).slot
        p = patient_at(k, slot)
        joined_as = p.joined
        if joined_as <= joined and p.attended_s == k.now and not seen_to(p):
            _see_to(k, slot, p)
        if p.waits and p.joined == joined_as:  # still in line
            place += 1


@jit.compiled
def _see_to(k: Record, slot: Whole, p: Record) -> Whole:
    """Connect a patient who waits, or begin to, if there is a source; True if the cylinder opened gave nothing."""
    source = _source(k, p)
    if source == NONE:
        _ask_to_make_way(k, slot, p)
        return False
    if takes_time(k, p, source):
        begin_connecting(k, slot, p, source)
        return False
    stop_waiting(k, slot, p)
    p.displaced = False
    take_delivery(k, p)
    _connect(k, slot, p, source)
    return not (p.flowing or seen_to(p))  # back in line


@jit.compiled
def _connect(k: Record, slot: Whole, p: Record, source: Whole) -> None:
    """Connect a patient to a source that was found."""
    if source == BY_UNIT or source == BY_TWO:
        connect_on_units(k, slot, p, source)
    elif source == BY_REDUCED:
        connect_reduced(k, slot, p)
    elif source == BY_CYLINDER:
        connect_cylinder(k, slot, p)
    elif source == _BY_SPLITTER:
        join_cylinder(k, slot, p)
    else:
        connect_outlet(k, slot, p)


@jit.compiled
def _source(k: Record, p: Record) -> Whole:
    """Return how to connect a patient: with room, by making way, in part; NONE where nobody can serve."""
    if not p.needs and p.arrival_s != k.now and p.task == NONE:
        return NONE  # one without need is not connected a second time
    source = _first_source(k, p)
    if source != NONE or needs_hands(k, p):
        return source
    if _may_preempt(k, p):
        source = _made_way(k, p)
    if source == NONE and not lacks_delivery(k, p):
        source = shared_source(k, p)
    return source


@jit.compiled
def _may_preempt(k: Record, p: Record) -> Whole:
    return rules(k).allocation_preempt and p.needs


@jit.compiled
def _made_way(k: Record, p: Record) -> Whole:
    """Take a lower priority's source; what is taken stands on the ward and need not be fetched."""
    if not _make_way(k, p):
        return NONE
    p.fetched_s = k.now
    return _first_source(k, p)


@jit.compiled
def _ask_to_make_way(k: Record, slot: Whole, p: Record) -> None:
    """Where connecting takes staff, others give way only as they come; where nobody would, staff are not asked."""
    if not k.takes_time:
        return
    if needs_hands(k, p) and _would_make_way(k, p):
        ask_for_hands(k, slot, p)
    else:
        call_off_staff(k, slot, p)


@jit.compiled
def _would_make_way(k: Record, p: Record) -> Whole:
    """Return True if somebody could be displaced, or give up a part of a flow, for a patient."""
    if _may_preempt(k, p) and _lower(k, p) != NONE:
        return True
    return not lacks_delivery(k, p) and may_share(k, p)


@jit.compiled
def _hands_come(k: Record, slot: Whole, p: Record) -> Whole:
    """Staff come to connect a patient, if there still is what to; a lower priority gives way now, if need be."""
    if p.claim == NONE:
        source = _first_source(k, p)
        if source == NONE and not p.flowing and _may_preempt(k, p):
            source = _made_way(k, p)
        if source != NONE:
            keep_source(k, p, source)
        elif p.flowing or not _would_make_way(k, p):
            return False
    hands_come(k, slot, p)
    return True


@jit.compiled
def _first_source(k: Record, p: Record) -> Whole:
    """Return the first source for the full flow, NONE if none has room or a device is wanting."""
    return NONE if lacks_delivery(k, p) else _source_with_room(k, p)


@jit.compiled
def _source_with_room(k: Record, p: Record) -> Whole:
    """Return the first source in the strategy's order that gives the full flow, NONE if none does."""
    r = rules(k)
    for place in range(r.strategy_sources_count):
        source = number_at(r.strategy_sources, place).value
        if source == _CONCENTRATOR:
            by_units = on_units(k, p)
            if by_units != NONE:
                return by_units
        elif source == MANIFOLD:
            if outlet_free(k):
                return _BY_OUTLET
        elif k.has_store:
            if may_open(k, p) and regulator_free(k, p):
                return BY_CYLINDER
            if outlet_for(k, p) != NONE:
                return _BY_SPLITTER
    return NONE


@jit.compiled
def _make_way(k: Record, p: Record) -> Whole:
    """Take, from the last in line of a lower priority, a source that is enough; return True if there is one."""
    best = _lower(k, p)
    if best == NONE:
        return False
    other = patient_at(k, best)
    note(k, _DISPLACED, other.number, p.number, -1)
    release(k, best, other)
    call_off_staff(k, best, other)
    other.displaced = True
    wait(k, best, other)
    return True


@jit.compiled
def _lower(k: Record, p: Record) -> Whole:
    """Return the last in line of a lower priority on the ward whose source would do, NONE if there is none."""
    best, slot = NONE, k.first_present
    while slot != NONE:
        other = patient_at(k, slot)
        if (
            other.ward == p.ward
            and other.flowing
            and other.priority > p.priority
            and (best == NONE or before(patient_at(k, best), other))
        ):
            if delivery_would_do(k, p, other) and _would_do(k, p, other):
                best = slot
        slot = other.after
    return best


@jit.compiled
def _would_do(k: Record, p: Record, other: Record) -> Whole:
    """Return True if what serves another would serve this patient in its place."""
    if other.cylinder != NONE:
        return cylinder_would_do(k, p, other)
    if other.piped:
        return True
    return unit_would_do(k, p, other, other.unit) or unit_would_do(k, p, other, other.second_unit)


@jit.compiled
def _reason(k: Record, p: Record) -> Whole:
    """Return why the last source in the strategy's order cannot serve a patient, or what is wanting beside one."""
    if lacks_delivery(k, p) and _source_with_room(k, p) != NONE:
        return _NO_DELIVERY
    r = rules(k)
    last = number_at(r.strategy_sources, r.strategy_sources_count - 1).value
    if last == CYLINDER:
        return _NO_REGULATOR if may_open(k, p) else _NO_CYLINDER
    if last == MANIFOLD:
        return outlets_reason(k)
    two = may_take_two(k, p)
    flow = 1 if takes_reduced(k, p) else p.flow_ml_min  # the least that would do
    if flow > r.concentrators_rated_flow_ml_min * (2 if two else 1):
        return _TOO_HIGH
    if lacks_power(k, flow, p.ward) or (two and two_lack_power(k, flow, p.ward)):
        return _NO_POWER
    if all_down(k, p.ward):
        return _DOWN
    return _FULL


@jit.compiled
def _rank(k: Record, count: Whole, slot: Whole) -> Whole:
    """Put a patient in line among the first `count` of `ranked`; return how many there are now."""
    place, p = count, patient_at(k, slot)
    while place > 0 and before(p, patient_at(k, number_at(k.ranked, place - 1).value)):
        number_at(k.ranked, place).value = number_at(k.ranked, place - 1).value
        place -= 1
    number_at(k.ranked, place).value = slot
    return count + 1


@jit.compiled
def _rank_on_cylinders(k: Record) -> Whole:
    """Write those who are served by cylinders to `ranked`, in line; return how many."""
    count, place = 0, k.first_open
    while place != NONE:
        slot = open_at(k, place).first_on
        while slot != NONE:
            if patient_at(k, slot).flowing:
                count = _rank(k, count, slot)
            slot = patient_at(k, slot).on_after
        place = open_at(k, place).after
    return count


@jit.compiled
def _rank_on_reduced_flow(k: Record) -> Whole:
    """Write those on reduced flow to `ranked`, in line; return how many."""
    count, slot = 0, k.first_reduced
    while slot != NONE:
        if patient_at(k, slot).flowing:
            count = _rank(k, count, slot)
        slot = patient_at(k, slot).reduced_after
    return count


@jit.compiled
def _rank_returning(k: Record) -> Whole:
    """Write those on cylinders and outlets for whom a unit may have room to `ranked`, in line; return how many."""
    if not _any_may_return(k):
        return 0
    for ward in range(k.ward_count):
        ward_at(k, ward).least_flow = NOT_KNOWN
    count, place = 0, k.first_open
    while place != NONE:
        slot = open_at(k, place).first_on
        while slot != NONE:
            count = _rank_if_room(k, count, slot)
            slot = patient_at(k, slot).on_after
        place = open_at(k, place).after
    slot = k.first_present if k.manifold.patient_count > 0 else NONE
    while slot != NONE:
        if patient_at(k, slot).piped:
            count = _rank_if_room(k, count, slot)
        slot = patient_at(k, slot).after
    return count


@jit.compiled
def _rank_if_room(k: Record, count: Whole, slot: Whole) -> Whole:
    """Put one on a cylinder or outlet among `ranked` if units may have room; return how many are there."""
    p = patient_at(k, slot)
    may_return(k, p)
    if p.flowing and (p.flow_ml_min <= most_spare_ml_min(k, p.ward) or may_take_two(k, p)):
        return _rank(k, count, slot)
    return count


@jit.compiled
def _any_may_return(k: Record) -> Whole:
    """Return True if units of some ward have enough to spare for the least flow that could return there."""
    for ward in range(k.ward_count):
        most = most_spare_ml_min(k, ward)
        if most > 0 and (most >= ward_at(k, ward).least_flow or rules(k).allocation_two_units):
            return True
    return False


@jit.compiled
def _return_to_concentrators(k: Record) -> None:
    """Move patients from cylinders and outlets to units that have room, where the strategy puts units first."""
    r = rules(k)
    k.room_made = False
    if not k.has_bank or not r.strategy_return_to_concentrator or source_place(k, _CONCENTRATOR) > 0:
        return
    if k.on_cylinder + k.manifold.patient_count == 0:
        return
    for place in range(_rank_returning(k)):
        slot = number_at(k.ranked, place).value
        p = patient_at(k, slot)
        source = on_units(k, p) if p.flowing else NONE
        if source == NONE:
            continue
        if connect_time_s(k) > 0:
            return_by_staff(k, slot, p)
        else:
            release(k, slot, p)
            call_off_staff(k, slot, p)  # who was to change the cylinder
            connect_on_units(k, slot, p, source)


@jit.compiled
def _return_to_outlets(k: Record) -> None:
    """Move patients from cylinders to free outlets, where the strategy puts the manifold before cylinders."""
    if k.on_cylinder == 0 or not outlet_free(k) or source_place(k, MANIFOLD) > source_place(k, CYLINDER):
        return
    for place in range(_rank_on_cylinders(k)):
        slot = number_at(k.ranked, place).value
        p = patient_at(k, slot)
        if p.flowing and outlet_free(k):
            release_cylinder(k, p)
            call_off_staff(k, slot, p)
            connect_outlet(k, slot, p)


@jit.compiled
def _raise_flows(k: Record) -> None:
    """Bring those on reduced flow nearer to what is prescribed: on the unit, else by a move to another source."""
    moved = k.reduced_count > 0
    while moved:
        moved = False
        for place in range(_rank_on_reduced_flow(k)):
            slot = number_at(k.ranked, place).value
            p = patient_at(k, slot)
            raise_flow(k, slot, p)
            moved = _move_to_more(k, slot, p) or moved
        if moved:
            _serve_line(k)  # with what came free
    if k.takes_time:
        _stop_moves(k)


@jit.compiled
def _move_to_more(k: Record, slot: Whole, p: Record) -> Whole:
    """Move one who is still on reduced flow to a source for all of it; True if that is done at once."""
    source = _first_source(k, p) if p.reduced else NONE
    if source == NONE:
        return False
    if takes_time(k, p, source):
        if not seen_to(p):  # what flows goes on until all is at the bedside
            begin_connecting(k, slot, p, source)
        return False
    release(k, slot, p)  # a planned move: no gap, unless the cylinder opened gives nothing
    call_off_staff(k, slot, p)
    begin_gap(k, p)
    _connect(k, slot, p, source)
    return True


@jit.compiled
def _stop_moves(k: Record) -> None:
    """Call off whoever was to move one who has the full flow again."""
    slot = k.first_present
    while slot != NONE:
        p = patient_at(k, slot)
        if p.flowing and p.unit != NONE and seen_to(p) and not p.reduced:
            call_off_staff(k, slot, p)
        slot = p.after
