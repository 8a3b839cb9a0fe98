"""Spare flow: which unit of a ward has room for a flow, found without a walk over all of them.

Each ward has a binary tree whose leaves are the units by number. A node holds the most flow that any unit below it
has to spare, and the most among those that serve somebody: there may be no power to start another.
"""

from __future__ import annotations

from o2sim.compiler import jit
from o2sim.compiler.jit import Record, Whole
from o2sim.model.kernel.layout import NONE, spare_at, unit_at, ward_at

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


jit.compile_file(globals())
