"""The concentrators: who is on which unit, which have room and power; ConcentratorBank in the reference.

Each ward has a binary tree whose leaves are the units by number, so that nobody walks over all of them. A node
holds the most flow that any unit below it has to spare, and the most among those that serve somebody: there may
be no power to start another.
"""

from __future__ import annotations

from o2sim.compiler.jit import Record, Whole, compile_file
from o2sim.model.kernel.layout import NONE, on_unit, spare_at, unit_at, ward_at
from o2sim.model.kernel.packing import code
from o2sim.scenario.types.hospital import Allocation

_LOWEST = code(Allocation, "first_unit", "lowest number")
_MOST_LOADED = code(Allocation, "first_unit", "most loaded")


def has_room(k: Record, u: Record, flow_ml_min: Whole) -> Whole:
    """Return True if the unit works and has an outlet and the flow to spare."""
    r = k.rules
    return (
        u.working
        and not u.on_the_move
        and u.patient_count + u.expected_count < r.concentrators_outlets
        and u.load_ml_min + u.expected_ml_min + flow_ml_min <= r.concentrators_rated_flow_ml_min
    )


def set_working(k: Record, u: Record, working: Whole) -> None:
    """Note whether a unit works."""
    if u.working != working:
        k.out_of_order += -1 if working else 1
    u.working = working
    reckon_spare(k, u)


def flow_from(p: Record, number: Whole) -> Whole:
    """Return what one of the units gives a patient."""
    return p.second_ml_min if number == p.second_unit else p.given_ml_min - p.second_ml_min


def attach(k: Record, slot: Whole, u: Record, flow_ml_min: Whole) -> None:
    """Put a patient on the unit, for a flow."""
    on_unit(k, u.number, u.patient_count).value = slot
    k.running += u.patient_count == 0
    u.patient_count += 1
    k.outlets_used += 1
    u.load_ml_min += flow_ml_min
    reckon_spare(k, u)


def detach(k: Record, slot: Whole, u: Record, flow_ml_min: Whole) -> None:
    """Take a patient off the unit, who had a flow."""
    place = 0
    while on_unit(k, u.number, place).value != slot:
        place += 1
    u.patient_count -= 1
    k.outlets_used -= 1
    for later in range(place, u.patient_count):
        on_unit(k, u.number, later).value = on_unit(k, u.number, later + 1).value
    k.running -= u.patient_count == 0
    u.load_ml_min -= flow_ml_min
    reckon_spare(k, u)


def can_start(k: Record) -> Whole:
    """Return True if there is power for one more running unit."""
    return k.most_running >= k.unit_count > 0 or k.running < k.most_running


def has_power(k: Record, u: Record) -> Whole:
    """Return True if there is power for a unit: one that runs has it, another if one more can be carried."""
    return u.patient_count > 0 or can_start(k)


def all_down(k: Record, ward: Whole) -> Whole:
    """Return True if a ward has units and all of them are under repair."""
    here = 0
    for number in range(k.unit_count):
        u = unit_at(k, number)
        if u.ward == ward and not u.on_the_move:
            here += 1
            if u.working:
                return False
    return here > 0


def unit_with_room(k: Record, flow_ml_min: Whole, ward: Whole, beside: Whole) -> Whole:
    """Return the powered, working unit of a ward with room for a flow that comes first, NONE if none has.

    beside: a unit left out, for it gives the rest of the flow already.
    """
    if not k.has_bank or k.most_running <= 0:
        return NONE
    only_running, first = not can_start(k), k.rules.allocation_first_unit
    best, best_load = NONE, 0
    number = first_with(k, ward, flow_ml_min, only_running, 0)
    while number != NONE:
        if number != beside:
            if first == _LOWEST:
                return number
            u = unit_at(k, number)
            load = u.load_ml_min if first == _MOST_LOADED else -u.load_ml_min
            if best == NONE or load > best_load:
                best, best_load = number, load
        number = first_with(k, ward, flow_ml_min, only_running, number + 1)
    return best


def most_spare(k: Record, ward: Whole) -> Whole:
    """Return the powered, working unit of a ward with most flow to spare, the lowest number in ties, or NONE."""
    most = most_spare_ml_min(k, ward)
    return first_with(k, ward, most, not can_start(k), 0) if most > 0 else NONE


def most_spare_ml_min(k: Record, ward: Whole) -> Whole:
    """Return the most flow that a powered, working unit of a ward has to spare."""
    if not k.has_bank or k.most_running <= 0:
        return 0
    return ward_spare(k, ward, not can_start(k))


def lacks_power(k: Record, flow_ml_min: Whole, ward: Whole) -> Whole:
    """Return True if nothing but power keeps a flow from being served on a ward."""
    if k.most_running <= 0:
        return True
    if can_start(k):
        return False
    return ward_spare(k, ward, False) >= flow_ml_min


NOT_KNOWN = 1 << 40  # more than any flow


def spare_ml_min(k: Record, u: Record) -> Whole:
    """Return the flow that one more patient could have."""
    r = k.rules
    if not u.working or u.on_the_move or u.patient_count + u.expected_count >= r.concentrators_outlets:
        return 0
    return r.concentrators_rated_flow_ml_min - u.load_ml_min - u.expected_ml_min


def reckon_spare(k: Record, u: Record) -> None:
    """Take note of what a unit has to spare, after any change of what it gives or whether it works."""
    most = spare_ml_min(k, u)
    running = most if u.patient_count > 0 else 0
    base, node = 2 * k.spare_width * u.ward, k.spare_width + u.number
    here = spare_at(k, base + node)
    while here.most != most or here.running != running:
        here.most, here.running = most, running
        if node == 1:
            return
        beside = spare_at(k, base + (node ^ 1))
        most, running = max(most, beside.most), max(running, beside.running)
        node >>= 1
        here = spare_at(k, base + node)


def _below(k: Record, place: Whole, only_running: Whole) -> Whole:
    """Return the most that units below a node have to spare."""
    return spare_at(k, place).running if only_running else spare_at(k, place).most


def ward_spare(k: Record, ward: Whole, only_running: Whole) -> Whole:
    """Return the most flow that a unit of a ward has to spare."""
    return _below(k, 2 * k.spare_width * ward + 1, only_running)


def first_with(k: Record, ward: Whole, flow_ml_min: Whole, only_running: Whole, first: Whole) -> Whole:
    """Return the first unit of a ward, from a number on, with a flow to spare; NONE if there is none."""
    base, node = 2 * k.spare_width * ward, 1
    if first > 0:
        if first >= k.unit_count:
            return NONE
        node = k.spare_width + first
    while _below(k, base + node, only_running) < flow_ml_min:
        while node & 1:  # all below its parent has been passed
            node >>= 1
        if node == 0:
            return NONE
        node += 1
    while node < k.spare_width:
        node *= 2
        if _below(k, base + node, only_running) < flow_ml_min:
            node += 1
    return node - k.spare_width


def spare_holds(k: Record) -> Whole:
    """Return True if the trees say what the units have to spare."""
    for ward in range(k.ward_count if k.has_bank else 0):
        most, running = 0, 0
        for number in range(k.unit_count):
            u = unit_at(k, number)
            leaf = spare_at(k, 2 * k.spare_width * ward + k.spare_width + number)
            spare = spare_ml_min(k, u) if u.ward == ward else 0
            if leaf.most != spare or leaf.running != (spare if u.patient_count > 0 else 0):
                return False
            most, running = max(most, leaf.most), max(running, leaf.running)
        if ward_spare(k, ward, False) != most or ward_spare(k, ward, True) != running:
            return False
    return True


def may_return(k: Record, p: Record) -> None:
    """Note the flow of a patient on a cylinder or outlet: a ward's least shows whether a unit could take one."""
    ward = ward_at(k, p.ward)
    ward.least_flow = min(ward.least_flow, p.flow_ml_min)


compile_file(globals())
