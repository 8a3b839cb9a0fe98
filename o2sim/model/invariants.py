"""Check the balances of a run that must hold exactly; InvariantError if one does not."""

from __future__ import annotations

from o2sim.errors import InvariantError
from o2sim.model.patient import FROM_STORE, FROM_WARD, Patient
from o2sim.model.state import State, there
from o2sim.model.store import CylinderStore


def require(holds: bool, what: str) -> None:
    """Raise InvariantError if a balance does not hold."""
    if not holds:
        raise InvariantError(
            f"balance broken: {what}. This is a defect of o2sim; please report the scenario and seed"
        )


def check_leaving(patient: Patient) -> None:
    """Check that a patient's seconds served and unserved make up the need."""
    in_run_s = patient.need_s + min(0, patient.arrival_s)  # of one met at a count, what was still to come
    require(patient.served_s + patient.unserved_s == in_run_s, f"need of patient {patient.number}")


def check_whole_run(run: State) -> None:
    """Check gas, cylinders and patients after `credit_all`, over the time the ledger covers."""
    ledger = run.ledger
    require(ledger.drawn_gas == sum(ledger.drawn_gas_by_size), "gas drawn from cylinders, by size")
    for store in run.stores:
        _check_store(run, store)
    if run.stores:
        require(min(run.book, default=0) >= 0, "use in the stock book")
        sent_or_used = ledger.returned_gas + sum(store.gas_in_empties for store in run.stores)
        require(ledger.sent_gas <= sent_or_used, "gas in part-used cylinders sent to be filled")
        _check_totals(run)
        _check_regulators(run)
        _check_sharing(run)
        _check_backups(run)
    _check_delivery(run)
    require(sum(ledger.unserved_s_by_class) == sum(ledger.unserved_s), "unserved seconds by class and by cause")
    if not ledger.shortfall.as_before:
        short_s = sum(ledger.unserved_s) + ledger.short_served_s
        by_root, by_class, by_ward = ledger.short_s, ledger.short_s_by_class, ledger.ward_short_s
        same = sum(by_root) == sum(by_class) == sum(by_ward) == short_s
        require(same, "short seconds by root, by class and by ward")
        # By spell, not by the counts: an interruption may be of the warm-up, its stock-out of the horizon.
        spells = [patient.short for patient in run.present.values() if patient.short is not None]
        require(all(each.interrupted or not each.stocked_out for each in spells), "stock-outs among interruptions")
    require(sum(ledger.interruptions_by_class) == sum(ledger.interruptions), "interruptions by class and by cause")
    require(sum(ledger.transferred_by_class) == ledger.transferred, "patients transferred by class")
    require(run.chain.balances(), "energy in the battery and fuel in the tank")
    _check_sources(run)
    _check_levels(run)
    if run.ward_store is not None:
        _check_wards(run, run.ward_store)


def _check_store(run: State, store: CylinderStore) -> None:
    """Check the gas and the places of the cylinders of a size, and what is on order of it."""
    ledger, size = run.ledger, store.number
    used = ledger.drawn_gas_by_size[size] + ledger.returned_gas_by_size[size]
    moved = ledger.received_gas_by_size[size] - used
    require(run.opening_gas[size] + moved == run.gas_of(store), "gas in cylinders")
    require(store.counts_balance(), "places of the fleet")
    require(store.in_use == len(run.in_use_of(store)), "cylinders in use and at beds")
    ordered = sum(order.counts[size] for order in run.open_orders.values())
    require(ordered == store.on_order, "cylinders on order")


def _check_totals(run: State) -> None:
    """Check that what is counted by size is what is counted of all sizes together."""
    ledger = run.ledger
    pairs = (
        (ledger.cylinders_opened, ledger.opened_by_size),
        (ledger.cylinders_delivered, ledger.delivered_by_size),
        (ledger.cylinders_lost, ledger.lost_by_size),
        (ledger.cylinders_sent, ledger.sent_by_size),
        (ledger.received_gas, ledger.received_gas_by_size),
        (ledger.returned_gas, ledger.returned_gas_by_size),
        (ledger.refilled_gas, ledger.refilled_gas_by_size),
    )
    require(all(total == sum(by_size) for total, by_size in pairs), "counts by size of cylinder")
    require(ledger.empty_shelf_s <= min(ledger.empty_shelf_s_by_size[place] for place in run.sizes_for["bedside"]),
            "time of an empty shelf")  # fmt: skip
    on_the_way = [number for store in run.stores for number in store.on_the_way]
    require(sorted(on_the_way) == sorted(run.journeys), "cylinders gone with patients")


def _check_backups(run: State) -> None:
    """Check that no more back-ups are out than there may be, each for one patient and no other."""
    at_beds = {number: patient for number, patient in run.present.items() if patient.backup is not None}
    require(at_beds == run.backups, "who has a back-up at the bed")
    in_use = [cylinder for cylinder in run.open_cylinders.values() if cylinder.backup]
    require(all(len(cylinder.patients) == 1 for cylinder in in_use), "one patient on a back-up")
    require(not {cylinder.lead.number for cylinder in in_use} & set(at_beds), "one back-up a patient")
    rule = run.rules.cylinders.backup if run.rules.cylinders is not None else None
    most = rule.count if rule is not None else 0
    require(run.backups_out == len(at_beds) + len(in_use) <= most, "back-ups out")


def _check_regulators(run: State) -> None:
    """Check that every regulator set is free, in use, at a bed or on the way, at flows that it can be set to."""
    opened, sets = list(run.open_cylinders.values()), there(run.sets)
    for kind, each in enumerate(sets.kinds):
        used, free = sum(cylinder.kind == kind for cylinder in opened), sets.free[kind]
        used += sum(journey.kind == kind for journey in run.journeys.values())
        used += sum(p.set_kind == kind for p in run.present.values() if p.claim in (FROM_STORE, FROM_WARD))
        used += sum(patient.backup.kind == kind for patient in run.backups.values() if patient.backup)
        require(free >= 0 and free + used == each.count, "regulators")
    for cylinder in opened:
        most = max(patient.flow_ml_min for patient in cylinder.patients)
        require(most <= cylinder.regulator.high_ml_min, "range of a flowmeter")  # a flow may step down below it
        require(sets.fits(cylinder.kind, cylinder.store.number), "valve of a cylinder")
        require(sets.kinds[cylinder.kind] is cylinder.regulator, "set on a cylinder")


def _check_wards(run: State, store: CylinderStore) -> None:
    """Check that each ward has its own regulators back, and that what is held was there to be held."""
    kept = [p for p in run.present.values() if p.claim in (FROM_STORE, FROM_WARD)]
    for ward in run.wards:
        used = sum(cylinder.lead.ward == ward.number for cylinder in run.open_cylinders.values())
        used += sum(patient.ward == ward.number for patient in (*kept, *run.backups.values()))
        used += sum(journey.patient.ward == ward.number for journey in run.journeys.values())
        balanced = ward.regulators_free + used == ward.regulators and ward.regulators_free >= 0
        require(balanced, f"regulators of ward {ward.number}")
        shelf = len(store.bedside[ward.number])
        require(shelf + ward.coming <= ward.most_bedside, f"bedside cylinders of ward {ward.number}")


def _check_sharing(run: State) -> None:
    """Check that there are as many splitters and outlets as are used, and that gas goes to all on one or none."""
    splitters = run.cylinder_rules.splitters
    for cylinder in run.open_cylinders.values():
        require(len({patient.flowing for patient in cylinder.patients}) == 1, "gas for all on a cylinder or none")
        require(len({patient.ward for patient in cylinder.patients}) == 1, "ward of those on a cylinder")
        require(cylinder.lead is min(cylinder.patients, key=lambda patient: patient.order), "lead of a cylinder")
    shared = [len(each.patients) for each in run.open_cylinders.values() if len(each.patients) > 1]
    require(len(shared) <= (splitters.count if splitters else 0), "splitters")
    require(not shared or max(shared) <= (splitters.outlets if splitters else 1), "outlets of a splitter")


def _check_delivery(run: State) -> None:
    """Check that every humidifier and delivery set of a limited number is free or with somebody."""
    rules, present = run.rules.bedside, run.present.values()
    if run.humidifiers_free is not None:
        held = sum(patient.has_humidifier for patient in present)
        require(run.humidifiers_free >= 0 and run.humidifiers_free + held == rules.humidifiers, "humidifiers")
    for device, count in rules.delivery_sets:
        held = sum(patient.has_delivery and patient.delivery == device for patient in present)
        require(0 <= run.delivery_free[device] == count - held, "delivery sets")
    by_oximeter = run.rules.noticed.by_oximeter if run.rules.noticed else None
    held = sum(patient.has_oximeter for patient in present)
    count = by_oximeter.count if by_oximeter else 0
    require(run.oximeters_free >= 0 and run.oximeters_free + held == count, "oximeters")


def _check_sources(run: State) -> None:
    """Check that everybody present is on one source or in a gap, and no unit gives more than it has."""
    on_open = [patient.number for cylinder in run.open_cylinders.values() for patient in cylinder.patients]
    require(sorted(on_open) == sorted(run.on_cylinder), "one cylinder a patient")
    for patient in run.present.values():
        if not patient.needs:
            require(patient.gap_since_s is None, f"patient {patient.number} without need in no gap")
            continue
        require(
            patient.flowing != (patient.gap_since_s is not None), f"patient {patient.number} served or in a gap"
        )
    on_units = (
        sorted((p.number, unit.number) for unit in run.bank.units for p in unit.patients) if run.bank else []
    )
    meant = sorted((p.number, number) for p in run.present.values() if p.flowing for number in p.units)
    require(on_units == meant, "one unit a patient, or the two that serve")
    require(not {number for number, _ in on_units} & set(run.on_cylinder), "one source a patient")
    _check_flows(run)
    require(run.bank is None or run.bank.running <= run.bank.most_running, "power for every running unit")
    _check_manifold(run)
    for unit in run.bank.units if run.bank else ():
        load = sum(patient.flow_from(unit.number) for patient in unit.patients)
        require(load == unit.load_ml_min <= unit.rules.rated_flow_ml_min, f"load of unit {unit.number}")
        require(len(unit.patients) <= unit.rules.outlets, f"outlets of unit {unit.number}")
        require(all(patient.ward == unit.ward for patient in unit.patients), f"ward of unit {unit.number}")
        require(not (unit.on_the_move and unit.patients), f"unit {unit.number} serves nobody on the move")
        require(all(p.claim == unit.number for p in unit.expected), f"who is expected on unit {unit.number}")


def _check_flows(run: State) -> None:
    """Check that whoever is served is given something, no more than prescribed, and who is given less is known."""
    for patient in run.present.values():
        given, prescribed = patient.given_ml_min if patient.flowing else 0, patient.flow_ml_min
        require(patient.flowing == (0 < given <= prescribed), f"flow given to patient {patient.number}")
        reduced = patient.flowing and given < prescribed
        require(reduced == (patient.number in run.reduced), f"patient {patient.number} on reduced flow")
        two = patient.second_unit is not None
        require(not two or patient.unit != patient.second_unit, f"two units of patient {patient.number}")
        require(not (two and reduced), f"the full flow of patient {patient.number} from two units")


def _check_levels(run: State) -> None:
    """Check that what is counted as in use is in use, and that no second of it is missing."""
    ledger, cylinders = run.ledger, sum(store.in_use for store in run.stores)
    outlets = sum(len(unit.patients) for unit in run.bank.units) if run.bank else 0
    require(run.levels.levels[:3] == (cylinders, len(run.on_cylinder), outlets), "what is in use at once")
    totals = ledger.concentrator_running_s, ledger.off_grid_running_s
    require(run.levels.balances(*totals), "time at each level of use")


def _check_manifold(run: State) -> None:
    """Check that the outlets serve no more than there are, from a bank, and where its cylinders are counted."""
    manifold, store = run.manifold, run.store
    if manifold is None or store is None:
        return
    piped = sorted(patient.number for patient in run.present.values() if patient.piped and patient.flowing)
    require(piped == sorted(patient.number for patient in manifold.patients), "patients on outlets")
    require(not set(piped) & set(run.on_cylinder), "one source a patient")
    require(len(piped) <= manifold.rules.outlets, "outlets of the manifold")
    require(not piped or manifold.feeding is not None, "a bank behind the outlets")
    require(sum(p.flow_ml_min for p in manifold.patients) == manifold.flow_ml_min, "flow of the outlets")
    require(manifold.cylinders == store.on_manifold, "cylinders on the manifold")
    require(all(0 <= bank.usable <= bank.gas for bank in manifold.banks), "gas in the banks")
