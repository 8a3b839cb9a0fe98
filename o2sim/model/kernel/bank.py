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
_SMALLEST = code(Allocation, "first_unit", "smallest that fits")


def has_room(u: Record, flow_ml_min: Whole) -> Whole:
    """Return True if the unit works and has an outlet and the flow to spare."""
    return (
        u.working
        and not u.on_the_move
        and u.patient_count + u.expected_count < u.outlets
        and u.load_ml_min + u.expected_ml_min + flow_ml_min <= u.rated_ml_min
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
    if u.patient_count == 0:
        k.running += 1
        k.running_w += u.watts
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
    if u.patient_count == 0:
        k.running -= 1
        k.running_w -= u.watts
    u.load_ml_min -= flow_ml_min
    reckon_spare(k, u)


def powered(k: Record) -> Whole:
    """Return True if some unit can run."""
    return k.limit_w >= k.least_w


def can_start(k: Record, u: Record, load_w: Whole) -> Whole:
    """Return True if there is power for a unit to start beside a load."""
    within = k.limit_w >= k.total_w or load_w + u.watts <= k.limit_w
    return within and surge_fits(k, u, load_w)


def surge_fits(k: Record, u: Record, load_w: Whole) -> Whole:
    """Return True if what a unit draws as it starts, beside a load, is within the peak of what carries it."""
    if k.peak_w == NONE or u.surge_permille == NONE:
        return True
    return load_w * 1_000 + u.surge_permille * u.watts <= k.peak_w * 1_000


ALL, SOME, NOBODY = range(3)


def who_can_start(k: Record, load_w: Whole) -> Whole:
    """Return whether there is power for any unit to start beside a load, for some at most, or for none."""
    if k.peak_w == NONE and (k.limit_w >= k.total_w or load_w + k.most_w <= k.limit_w):
        return ALL
    return NOBODY if k.limit_w < k.total_w and load_w + k.least_w > k.limit_w else SOME


def has_power(k: Record, u: Record) -> Whole:
    """Return True if there is power for a unit: one that runs has it, another if it can start."""
    return u.patient_count > 0 or can_start(k, u, k.running_w)


def keeps_power(k: Record, u: Record) -> Whole:
    """Return True if a unit can serve another in place of one: if it stops it has to start again."""
    return u.patient_count > 1 or can_start(k, u, k.running_w - u.watts)


def can_carry(k: Record, from_the_start: Whole) -> Whole:
    """Return True if there is power for all that run; from the start: they start again, by number."""
    if k.running_w > k.limit_w:
        return False
    load_w = 0
    for number in range(k.unit_count if from_the_start and k.peak_w != NONE else 0):
        u = unit_at(k, number)
        if u.patient_count > 0:
            if not surge_fits(k, u, load_w):
                return False
            load_w += u.watts
    return True


def rated_ml_min(k: Record, ward: Whole) -> Whole:
    """Return the most that one unit can give on a ward: one that works there now, or any where none does."""
    if not k.mixed:
        return k.most_rated_ml_min
    most = 0
    for number in range(k.unit_count):
        u = unit_at(k, number)
        if u.ward == ward and u.working and not u.on_the_move:
            most = max(most, u.rated_ml_min)
    return most if most > 0 else k.most_rated_ml_min


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
    if not k.has_bank or not powered(k):
        return NONE
    starting = who_can_start(k, k.running_w)
    only_running, first = starting == NOBODY, k.rules.allocation_first_unit
    best, best_rank = NONE, 0
    number = first_with(k, ward, flow_ml_min, only_running, 0)
    while number != NONE:
        if number != beside and (starting != SOME or has_power(k, unit_at(k, number))):
            if first == _LOWEST:
                return number
            rank = _rank(unit_at(k, number), first)
            if best == NONE or rank > best_rank:
                best, best_rank = number, rank
        number = first_with(k, ward, flow_ml_min, only_running, number + 1)
    return best


def _rank(u: Record, first: Whole) -> Whole:
    """Return what is largest of the unit with room that comes first."""
    if first == _SMALLEST:
        return -u.rated_ml_min
    return u.load_ml_min if first == _MOST_LOADED else -u.load_ml_min


def most_spare(k: Record, ward: Whole) -> Whole:
    """Return the powered, working unit of a ward with most flow to spare, the lowest number in ties, or NONE."""
    most = most_spare_ml_min(k, ward)
    if most <= 0:
        return NONE
    starting = who_can_start(k, k.running_w)
    number = first_with(k, ward, most, starting == NOBODY, 0)
    while starting == SOME and not has_power(k, unit_at(k, number)):
        number = first_with(k, ward, most, False, number + 1)
    return number


def most_spare_ml_min(k: Record, ward: Whole) -> Whole:
    """Return the most flow that a powered, working unit of a ward has to spare."""
    if not k.has_bank or not powered(k):
        return 0
    starting = who_can_start(k, k.running_w)
    if starting != SOME:
        return ward_spare(k, ward, starting == NOBODY)
    most = 0
    for number in range(k.unit_count):
        u = unit_at(k, number)
        if u.ward == ward and has_power(k, u):
            most = max(most, spare_ml_min(u))
    return most


def lacks_power(k: Record, flow_ml_min: Whole, ward: Whole) -> Whole:
    """Return True if nothing but power keeps a flow from being served on a ward."""
    if not powered(k):
        return True
    starting = who_can_start(k, k.running_w)
    if starting != SOME:
        return starting == NOBODY and ward_spare(k, ward, False) >= flow_ml_min
    for number in range(k.unit_count):
        u = unit_at(k, number)
        if u.ward == ward and has_room(u, flow_ml_min) and not can_start(k, u, k.running_w):
            return True
    return False


NOT_KNOWN = 1 << 40  # more than any flow


def spare_ml_min(u: Record) -> Whole:
    """Return the flow that one more patient could have."""
    if not u.working or u.on_the_move or u.patient_count + u.expected_count >= u.outlets:
        return 0
    return u.rated_ml_min - u.load_ml_min - u.expected_ml_min


def reckon_spare(k: Record, u: Record) -> None:
    """Take note of what a unit has to spare, after any change of what it gives or whether it works."""
    most = spare_ml_min(u)
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
            spare = spare_ml_min(u) if u.ward == ward else 0
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
