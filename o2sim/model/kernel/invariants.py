"""What must hold in every run: gas, cylinders, patients, units, power; else a status says which broke."""

from __future__ import annotations

from o2sim.compiler.jit import Record, Whole, compile_file
from o2sim.model.kernel.bank import flow_from, spare_holds
from o2sim.model.kernel.chain import chain_balances
from o2sim.model.kernel.claims import FROM_STORE, FROM_WARD
from o2sim.model.kernel.layout import (
    NONE,
    bank_at,
    device_at,
    journey_at,
    number_at,
    on_unit,
    open_at,
    order_at,
    patient_at,
    set_at,
    store_at,
    unit_at,
    ward_at,
)
from o2sim.model.kernel.ledger import drawn_gas
from o2sim.model.kernel.levels import levels_balance
from o2sim.model.kernel.on_cylinder import flows
from o2sim.model.kernel.queues import before, total
from o2sim.model.kernel.splitters import fitted
from o2sim.model.kernel.stock import gas_of
from o2sim.model.kernel.store import fits, unpromised_empties
from o2sim.outcome import Cause, Root

# Status: which balance is broken.
GAS, PLACES, IN_USE, ON_ORDER, REGULATORS, ENERGY, SOURCES = range(10, 17)
(
    UNIT_LOAD,
    LEVELS,
    SHARING,
    DELIVERY,
    FLOWS,
    OUTLETS,
    WARDS,
    SHORT,
    SENT,
    OXIMETERS,
    BACKUPS,
    BY_SIZE,
    ON_THE_WAY,
) = range(17, 30)
_CAUSES, _ROOTS = len(Cause), len(Root)


def require(k: Record, holds: Whole, what: Whole) -> None:
    """Set the status if a balance does not hold."""
    if not holds and k.status == 0:
        k.status = what


def check_whole_run(k: Record) -> None:
    """Check gas, cylinders and patients after `credit_all`, over the time the ledger covers."""
    ledger = k.ledger
    drawn, empties_gas = 0, 0
    for size in range(k.store_count):
        s = store_at(k, size)
        _check_store(k, s)
        drawn += s.drawn_gas_by_size
        empties_gas += total(s.empties) + s.away_gas
    require(k, drawn == drawn_gas(k), GAS)
    if k.has_store:
        require(k, ledger.sent_gas <= ledger.returned_gas + empties_gas, SENT)
        _check_totals(k)
        _check_open(k)
    require(k, chain_balances(k), ENERGY)
    require(k, levels_balance(k), LEVELS)
    short_s, unserved_s = ledger.short_served_s, 0
    for cause in range(_CAUSES):
        unserved_s += ledger.unserved_s[cause]
    for root in range(_ROOTS):
        short_s -= ledger.short_s[root]
    require(k, k.counts_gaps or short_s + unserved_s == 0, SHORT)
    _check_delivery(k)
    _check_sources(k)
    if k.has_store:
        _check_wards(k)
    _check_manifold(k)


def _check_store(k: Record, s: Record) -> None:
    """Check the gas and the places of the cylinders of a size, and what is on order of it."""
    s.drawn_gas_by_size = s.drawn_gas - s.drawn_before
    moved = s.received_gas_by_size - s.drawn_gas_by_size - s.returned_gas_by_size
    require(k, s.opening_gas + moved == gas_of(k, s), GAS)
    connected = s.in_use + k.manifold.on_banks + s.on_the_way
    places = s.full + s.rack.count_ + connected + s.empties.count_ + s.away_count + s.lost
    backed = s.on_order == s.promised + s.away_count and _all_full(k, s) == s.full
    least = min(s.full, min(s.in_use, unpromised_empties(s)))
    require(k, places == s.fleet and backed and least >= 0, PLACES)
    ordered, gone = 0, 0
    for place in range(k.orders_used):
        ordered += order_at(k, place).counts[s.number] if order_at(k, place).open_order else 0
    require(k, ordered == s.on_order, ON_ORDER)
    for place in range(k.journey_room):
        journey = journey_at(k, place)
        gone += journey.count_ if journey.on_it and journey.of_size == s.number else 0
    require(k, gone == s.on_the_way and s.on_the_way_gas >= s.on_the_way_usable >= 0, ON_THE_WAY)


def _all_full(k: Record, s: Record) -> Whole:
    """Return the full cylinders of a size in the store and on the wards."""
    count = s.fills.count_
    if s.number == k.ward_size:
        for number in range(k.ward_count):
            count += ward_at(k, number).shelf.count_
    return count


def _check_totals(k: Record) -> None:
    """Check that what is counted by size is what is counted of all sizes together."""
    ledger, opened, delivered, lost, sent, received, returned, refilled = k.ledger, 0, 0, 0, 0, 0, 0, 0
    for size in range(k.store_count):
        s = store_at(k, size)
        opened += s.opened_by_size
        delivered += s.delivered_by_size
        lost += s.lost_by_size
        sent += s.sent_by_size
        received += s.received_gas_by_size
        returned += s.returned_gas_by_size
        refilled += s.refilled_gas_by_size
    require(k, opened == ledger.cylinders_opened and delivered == ledger.cylinders_delivered, BY_SIZE)
    require(k, lost == ledger.cylinders_lost and sent == ledger.cylinders_sent, BY_SIZE)
    require(k, received == ledger.received_gas and returned == ledger.returned_gas, BY_SIZE)
    require(k, refilled == ledger.refilled_gas, BY_SIZE)
    for place in range(k.sizes_for_count[0]):
        bare_s = store_at(k, k.sizes_for[place]).empty_shelf_s_by_size
        require(k, ledger.empty_shelf_s <= bare_s, BY_SIZE)


def _check_wards(k: Record) -> None:
    """Check that each ward has its own regulators back, and that what is held was there to be held."""
    for number in range(k.ward_count):
        ward_at(k, number).regulators_used = 0
    place, slot = k.first_open, k.first_present
    while place != NONE:
        ward_at(k, patient_at(k, open_at(k, place).lead).ward).regulators_used += 1
        place = open_at(k, place).after
    while slot != NONE:
        p = patient_at(k, slot)
        if p.claim == FROM_STORE or p.claim == FROM_WARD:
            ward_at(k, p.ward).regulators_used += 1
        ward_at(k, p.ward).regulators_used += p.backup_kind != NONE
        slot = p.after
    for place in range(k.journey_room):
        if journey_at(k, place).on_it:
            ward_at(k, journey_at(k, place).ward).regulators_used += 1
    for number in range(k.ward_count):
        ward = ward_at(k, number)
        back = ward.regulators_free + ward.regulators_used == ward.regulators and ward.regulators_free >= 0
        require(k, back and ward.shelf.count_ + ward.coming <= ward.most_bedside, WARDS)
    for number in range(k.unit_count):
        u = unit_at(k, number)
        require(k, not (u.on_the_move and u.patient_count > 0), WARDS)
        for place in range(u.patient_count):
            require(k, patient_at(k, on_unit(k, number, place).value).ward == u.ward, WARDS)


def _check_open(k: Record) -> None:
    """Check regulator sets, splitters, back-ups, and that gas goes to all on a cylinder or to none."""
    count, on_cylinder, backups, at_beds, place = 0, 0, 0, 0, k.first_open
    for kind in range(k.set_count):
        set_at(k, kind).in_use = 0
    while place != NONE:
        c = open_at(k, place)
        count += 1
        on_cylinder += c.patient_count
        set_at(k, c.kind).in_use += 1
        require(k, fits(k, c.kind, c.of_size), REGULATORS)
        backups += c.backup
        require(k, c.patient_count == 1 or not c.backup, BACKUPS)
        shared, slot = 0, c.first_on
        while slot != NONE:
            p = patient_at(k, slot)
            shared += 1
            require(k, p.cylinder == place and p.unit == NONE and not p.piped, SOURCES)
            require(k, p.flowing == flows(k, c) and not before(p, patient_at(k, c.lead)), SHARING)
            slot = p.on_after
        require(k, shared == c.patient_count and shared > 0, SHARING)
        require(k, shared == 1 or shared <= k.rules.cylinders_splitters_outlets, SHARING)
        place = c.after
    slot = k.first_present
    while slot != NONE:
        p = patient_at(k, slot)
        if p.claim == FROM_STORE or p.claim == FROM_WARD:
            set_at(k, p.set_kind).in_use += 1
        if p.backup_kind != NONE:
            at_beds += 1
            set_at(k, p.backup_kind).in_use += 1
            require(k, p.cylinder == NONE or not open_at(k, p.cylinder).backup, BACKUPS)
        slot = p.after
    for place in range(k.journey_room):
        if journey_at(k, place).on_it:
            set_at(k, journey_at(k, place).kind).in_use += 1
    most = k.rules.cylinders_backup_count if k.rules.has_cylinders_backup else 0
    require(k, at_beds == k.at_beds and at_beds + backups == k.backups_out <= most, BACKUPS)
    in_use = 0
    for size in range(k.store_count):
        in_use += store_at(k, size).in_use
    require(k, count + at_beds == in_use and on_cylinder == k.on_cylinder, IN_USE)
    require(k, fitted(k) <= max(0, k.rules.cylinders_splitters_count), SHARING)
    for kind in range(k.set_count):
        each = set_at(k, kind)
        require(k, each.free >= 0 and each.free + each.in_use == each.owned, REGULATORS)


def _check_delivery(k: Record) -> None:
    """Check that every humidifier and delivery set of a limited number is free or with somebody."""
    for place in range(k.device_count):
        free = number_at(k.delivery_free, place).value
        held, slot = 0, k.first_present
        while slot != NONE:
            p = patient_at(k, slot)
            held += p.has_delivery and device_at(k, p.class_index).place == place
            slot = p.after
        require(k, free >= 0 and free + held == number_at(k.delivery_owned, place).value, DELIVERY)
    held, slot = 0, k.first_present
    while slot != NONE:
        held += patient_at(k, slot).has_humidifier
        slot = patient_at(k, slot).after
    owned = k.rules.bedside_humidifiers
    if owned != NONE:
        require(k, k.humidifiers_free >= 0 and k.humidifiers_free + held == owned, DELIVERY)
    held, slot = 0, k.first_present
    while slot != NONE:
        held += patient_at(k, slot).has_oximeter
        slot = patient_at(k, slot).after
    owned = k.rules.noticed_by_oximeter_count if k.rules.has_noticed_by_oximeter else 0
    require(k, k.oximeters_free >= 0 and k.oximeters_free + held == owned, OXIMETERS)


def _check_manifold(k: Record) -> None:
    """Check that the outlets serve no more than there are, from a bank, and where its cylinders are counted."""
    m, flow, piped, cylinders, slot = k.manifold, 0, 0, 0, k.first_present
    if not m.present:
        return
    while slot != NONE:
        p = patient_at(k, slot)
        if p.piped and p.flowing:
            piped += 1
            flow += p.flow_ml_min
            require(k, p.unit == NONE and p.cylinder == NONE, SOURCES)
        slot = p.after
    for number in range(m.bank_count):
        bank = bank_at(k, number)
        cylinders += bank.count_
        require(k, 0 <= bank.usable <= bank.gas, GAS)
    require(k, piped == m.patient_count <= k.rules.manifold_outlets and flow == m.flow_ml_min, OUTLETS)
    require(k, (piped == 0 or m.feeding != NONE) and cylinders == m.on_banks, OUTLETS)


def _check_sources(k: Record) -> None:
    """Check that everybody present is on one source or in a gap, and no unit gives more than it has."""
    r, served, slot = k.rules, 0, k.first_present
    while slot != NONE:
        p = patient_at(k, slot)
        in_gap = p.gap_since_s != NONE
        require(k, (p.flowing != in_gap) if p.needs else not in_gap, SOURCES)
        given = p.given_ml_min if p.flowing else 0
        require(k, p.flowing == (0 < given <= p.flow_ml_min), FLOWS)
        require(k, (p.flowing and given < p.flow_ml_min) == p.reduced, FLOWS)
        require(k, p.second_unit == NONE or (p.unit != p.second_unit and not p.reduced), FLOWS)
        served += p.flowing and p.unit != NONE
        served += p.flowing and p.second_unit != NONE
        slot = p.after
    require(k, not k.has_bank or k.running <= k.most_running, SOURCES)
    running, outlets, out = 0, 0, 0
    for number in range(k.unit_count):
        u = unit_at(k, number)
        load = 0
        for place in range(u.patient_count):
            p = patient_at(k, on_unit(k, number, place).value)
            load += flow_from(p, number)
            require(k, p.flowing and (p.unit == number or p.second_unit == number), SOURCES)
        served -= u.patient_count
        running += u.patient_count > 0
        outlets += u.patient_count
        out += not u.working
        require(k, load == u.load_ml_min and load <= r.concentrators_rated_flow_ml_min, UNIT_LOAD)
        require(k, u.patient_count <= r.concentrators_outlets, UNIT_LOAD)
    require(k, served == 0, SOURCES)
    require(k, running == k.running and outlets == k.outlets_used and out == k.out_of_order, SOURCES)
    require(k, spare_holds(k), UNIT_LOAD)


compile_file(globals())
