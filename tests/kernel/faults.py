"""Single-rule faults to plant in one engine: rule, file of o2sim/model, what stands there and what instead."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Fault:
    """One change of one rule; `old` must stand in the file exactly once."""

    name: str
    file: str
    old: str
    new: str


KERNEL = (
    Fault(
        "an emptied battery need not be charged before it serves",
        "kernel/supply.py",
        "chain.battery.tripped = chain.supply == NO_SUPPLY",
        "chain.battery.tripped = False",
    ),
    Fault(
        "a waiting generator stops before the battery is full",
        "kernel/supply.py",
        "elif battery.level == battery_full(r):",
        "else:",
    ),
    Fault(
        "a generator waits for a low battery only once",
        "kernel/supply.py",
        "or generator.called or grid_usable(k):",
        "or grid_usable(k):",
    ),
    Fault(
        "a stabiliser does not help against bad voltage",
        "kernel/supply.py",
        "(k.chain.voltage_good or rules(k).power_stabiliser)",
        "k.chain.voltage_good",
    ),
    Fault(
        "inverter losses are rounded down",
        "kernel/supply.py",
        "-(-load_w * 1_000 * MW_S_PER_W_S // r.power_battery_inverter_permille)",
        "load_w * 1_000 * MW_S_PER_W_S // r.power_battery_inverter_permille",
    ),
    Fault(
        "the generator's other load is forgotten for charging",
        "kernel/supply.py",
        "r.power_generator_power_w - r.power_generator_base_load_w - load_w",
        "r.power_generator_power_w - load_w",
    ),
    Fault(
        "of units with as many patients the lower number is shed",
        "kernel/supply.py",
        "count < fewest",
        "count <= fewest",
    ),
    Fault(
        "an emptied battery waits until it is full",
        "kernel/backup.py",
        "if battery.tripped and battery.level < again:",
        "if False:",
    ),
    Fault(
        "the generator is started as fast at night",
        "kernel/backup.py",
        "r.power_generator_night_delay_s if night else r.power_generator_start_delay_s",
        "r.power_generator_start_delay_s",
    ),
    Fault(
        "hours run do not age the generator",
        "kernel/backup.py",
        "generator.remaining_s -= k.now - generator.running_since_s",
        "generator.remaining_s -= 0",
    ),
    Fault(
        "starts of the generator are drawn by failure, not by cut",
        "kernel/backup.py",
        "generator.attempts_since_s != since_s",
        "generator.attempts_since_s < 0",
    ),
    Fault(
        "fuel is ordered a second early",
        "kernel/backup.py",
        "seconds, step = -(-to_reorder // generator.rate), codes.FUEL_ORDERED",
        "seconds, step = to_reorder // generator.rate, codes.FUEL_ORDERED",
    ),
    Fault("the sun is taken at the start of the hour", "kernel/backup.py", "second + SUN_STEP_S // 2", "second"),
    Fault(
        "one part of the grid is enough",
        "kernel/power.py",
        "k.grid_holds[0] + k.grid_holds[1] == 2",
        "k.grid_holds[0] + k.grid_holds[1] >= 1",
    ),
    Fault("all cuts surge alike", "kernel/power.py", "k.cut_number += 1", "k.cut_number += 0"),
    Fault(
        "analyser checks fall due from the drift on",
        "kernel/repairs.py",
        "k.now + (k.midnight_s - k.now) % every_s",
        "k.now + every_s",
    ),
    Fault(
        "the technician travels again to the next unit",
        "kernel/repairs.py",
        "_repair(k, waits, waits.for_technician, 0)",
        "_repair(k, waits, waits.for_technician, 60)",
    ),
    Fault(
        "a monitor alarms when the unit is low",
        "kernel/repairs.py",
        "(FULL_PERMILLE - r.concentrators_alarm_permille)",
        "(FULL_PERMILLE - LOW_PERMILLE)",
    ),
    Fault(
        "an order is placed only below the reorder point",
        "kernel/resupply.py",
        "position(k) > r.resupply_reorder_point",
        "position(k) >= r.resupply_reorder_point",
    ),
    Fault(
        "orders overtake each other",
        "kernel/resupply.py",
        "if not r.resupply_overtaking:",
        "if False:",
    ),
    Fault(
        "the week begins on Sunday",
        "kernel/resupply.py",
        "(r.start + 6 + (open_s",
        "(r.start + 0 + (open_s",
    ),
    Fault(
        "part-used cylinders do not count for an emergency",
        "kernel/resupply.py",
        "return usable(k) + coming < r.resupply_emergency_below",
        "return k.full + coming < r.resupply_emergency_below",
    ),
    Fault(
        "an emergency does not take promised empties",
        "kernel/resupply.py",
        "ordinary = _on_order(k, False)",
        "ordinary = 0",
    ),
    Fault(
        "the emergency's lorry has no limit",
        "kernel/resupply.py",
        "if r.resupply_emergency_vehicle_capacity != NONE:",
        "if False:",
    ),
    Fault(
        "no look at the stock book at midnight",
        "kernel/resupply.py",
        "if r.has_resupply_emergency and r.resupply_emergency_days_of_cover_s != NONE:",
        "if False:",
    ),
    Fault(
        "days of cover go by use alone",
        "kernel/cover.py",
        "max(in_the_book(k), BOOK_DAYS * mean_need(k))",
        "in_the_book(k)",
    ),
    Fault(
        "the stock book is closed on old readings",
        "kernel/cover.py",
        "    _credit_cylinders(k)\n    drawn = drawn_gas(k)",
        "    drawn = drawn_gas(k)",
    ),
    Fault(
        "days of cover may equal the level",
        "kernel/cover.py",
        "_whole_times(usable_gas(k) + coming_gas, use) < cover_s",
        "_whole_times(usable_gas(k) + coming_gas, use) + 60 < cover_s",
    ),
    Fault(
        "the book keeps the warm-up's total",
        "kernel/days.py",
        "    k.booked_gas = 0\n",
        "",
    ),
    Fault(
        "who is sent elsewhere is not counted by class",
        "kernel/ledger.py",
        "    counted(k, p.class_index).transferred += 1\n",
        "",
    ),
    Fault(
        "gaps of the warm-up count",
        "kernel/ledger.py",
        "if k.midnight_s <= crossed_s < stop_s:",
        "if crossed_s < stop_s:",
    ),
    Fault(
        "a gap as long as the tolerated one interrupts",
        "kernel/gaps.py",
        "crossed_s = p.gap_since_s + r.tolerated_gap_s",
        "crossed_s = p.gap_since_s + max(0, r.tolerated_gap_s - 1)",
    ),
    Fault(
        "staff come by arrival alone",
        "kernel/gaps.py",
        "return (p.priority << 32) + p.number",
        "return p.number",
    ),
    Fault(
        "the vehicle always has oxygen",
        "kernel/patients.py",
        "if rule.oxygen_on_board or rule.travel_s == 0:",
        "if True:",
    ),
    Fault(
        "events of one rank go by the order of scheduling",
        "kernel/events.py",
        "rank * ITEMS + item + 1",
        "rank * ITEMS",
    ),
    Fault(
        "a returned empty goes to the back",
        "kernel/store.py",
        "put_first(k.empties, content)",
        "put_last(k.empties, content)",
    ),
    Fault(
        "a part-used cylinder that will not last goes before a full one",
        "kernel/store.py",
        "return best if k.fills.count_ == 0 else NONE",
        "return best",
    ),
    Fault(
        "one on reduced flow gives way down to nothing",
        "kernel/reduced_flow.py",
        "<= patient_at(k, slot).given_ml_min - half:",
        "<= patient_at(k, slot).given_ml_min:",
    ),
    Fault(
        "reduced flow goes to the first unit with anything to spare",
        "kernel/units.py",
        "if spare > most and (may_start or u.patient_count > 0):",
        "if spare > 0 and best == NONE and (may_start or u.patient_count > 0):",
    ),
    Fault(
        "the second unit is the one that fails first",
        "kernel/units.py",
        "other = p.unit if p.second_unit == lost.number else p.second_unit",
        "other = p.unit",
    ),
    Fault(
        "the least loaded unit comes first where the most loaded should",
        "kernel/units.py",
        "load = u.load_ml_min if first == _MOST_LOADED else -u.load_ml_min",
        "load = -u.load_ml_min",
    ),
    Fault(
        "two units may both start with power for one",
        "kernel/two_units.py",
        "k.running + (unit_at(k, first).patient_count == 0) < k.most_running",
        "k.running < k.most_running",
    ),
    Fault(
        "patients are gathered the smallest flow first",
        "kernel/gather.py",
        "p.given_ml_min > q.given_ml_min or",
        "p.given_ml_min < q.given_ml_min or",
    ),
    Fault(
        "one fewer splitter is fitted",
        "kernel/splitters.py",
        "fitted(k) < r.cylinders_splitters_count",
        "fitted(k) + 1 < r.cylinders_splitters_count",
    ),
    Fault(
        "a shared cylinder is chosen by number before how long it lasts",
        "kernel/splitters.py",
        "return lasts_s > other_lasts_s",
        "return c.number < other.number",
    ),
    Fault(
        "a catheter needs no humidifier at a low flow",
        "kernel/delivery.py",
        "p.flow_ml_min > rules(k).bedside_humidify_above_ml_min or device(k, p).humidified",
        "p.flow_ml_min > rules(k).bedside_humidify_above_ml_min",
    ),
    Fault(
        "a flow step due as the patient leaves is taken",
        "kernel/flow_steps.py",
        "if due_s < p.leave_s:",
        "if due_s <= p.leave_s:",
    ),
    Fault(
        "looks are missed by night as by day",
        "kernel/looks.py",
        "r.cylinders_missed_by_day if is_day(k, look_s) else r.cylinders_missed_by_night",
        "r.cylinders_missed_by_day",
    ),
    Fault(
        "whether a cylinder is left open is drawn once for a patient",
        "kernel/opening.py",
        "_LEFT_OPEN, lead.luck, lead.cylinders",
        "_LEFT_OPEN, lead.luck, 0",
    ),
    Fault(
        "a cylinder just found low is looked at again at once",
        "kernel/bedside.py",
        "from_s = max(next_look_s, c.looked_s + 1)",
        "from_s = next_look_s",
    ),
    Fault(
        "no cylinders are kept for a high priority",
        "kernel/opening.py",
        "return in_store(k) > kept",
        "return in_store(k) > 0",
    ),
    Fault(
        "the displaced is the first in line, not the last",
        "kernel/allocation.py",
        "and (best == NONE or before(patient_at(k, best), other))",
        "and best == NONE",
    ),
    Fault(
        "one without need is connected a second time",
        "kernel/allocation.py",
        "if not p.needs and p.arrival_s != k.now and p.task == NONE:",
        "if False:",
    ),
    Fault(
        "the reserve feeds although a bank is ready",
        "kernel/manifold.py",
        "for number in range(m.bank_count):\n        if not bank_at(k, number).spent:\n            return number",
        "for number in range(m.bank_count - 1, -1, -1):\n        if not bank_at(k, number).spent:\n"
        "            return number",
    ),
    Fault(
        "a bank is changed after the calls of patients though outlets are dry",
        "kernel/manifold.py",
        "return URGENT if bank.urgent else LAST",
        "return LAST",
    ),
    Fault(
        "units in repair are not counted",
        "kernel/levels.py",
        "level_at(k, IN_REPAIR).level = k.in_repair",
        "level_at(k, IN_REPAIR).level = 0",
    ),
    Fault(
        "a cylinder being fetched may be opened for another",
        "kernel/claims.py",
        "    else:\n        k.held += count",
        "    else:\n        k.held += 0",
    ),
    Fault(
        "room kept on a unit is free to others",
        "kernel/claims.py",
        "u.expected_ml_min += p.flow_ml_min",
        "u.expected_ml_min += 0",
    ),
    Fault(
        "the store is as near by night",
        "kernel/fetching.py",
        "r.store_fetch_by_day_s if is_day(k, k.now) else r.store_fetch_by_night_s",
        "r.store_fetch_by_day_s",
    ),
    Fault(
        "wards are restocked by night too",
        "kernel/fetching.py",
        "or not is_day(k, k.now):",
        "or False:",
    ),
    Fault(
        "a busy unit is moved to another ward",
        "kernel/moving.py",
        "idle = u.patient_count == 0 and u.expected_count == 0",
        "idle = u.expected_count == 0",
    ),
    Fault(
        "two units may be on their way to one ward",
        "kernel/moving.py",
        "if not _stays(k, p) or _on_its_way(k, p.ward):",
        "if not _stays(k, p):",
    ),
    Fault(
        "one returned by staff waits although the cylinder flows",
        "kernel/connecting.py",
        "if source == NONE and p.flowing:",
        "if False:",
    ),
)

REFERENCE = (
    Fault(
        "a low battery calls the generator at once",
        "power.py",
        "elif battery.level <= battery.low_at(below) or not battery.can_serve:",
        "else:",
    ),
    Fault(
        "the generator goes on when the battery is full",
        "steps/battery.py",
        "if called and not state.chain.generator_wanted():",
        "if False:",
    ),
    Fault(
        "an emergency order has no least size",
        "steps/emergency.py",
        "if wanted < max(1, rule.minimum_order):",
        "if wanted < 1:",
    ),
    Fault(
        "the stock book looks back eight days",
        "state.py",
        "deque(maxlen=BOOK_DAYS)",
        "deque(maxlen=BOOK_DAYS + 1)",
    ),
    Fault(
        "a class that is never sent on goes by the hospital's rule",
        "steps/gaps.py",
        "sent_on = state.rules.transfer_of(patient.class_index)",
        "sent_on = state.rules.transfer",
    ),
    Fault(
        "one whose need has ended keeps no source",
        "steps/patients.py",
        "    if not patient.flowing:\n        patient_leaves(state, patient)\n        return",
        "    if True:\n        patient_leaves(state, patient)\n        return",
    ),
    Fault(
        "surges are drawn by every other number",
        "steps/power.py",
        "state.cut_number += 1",
        "state.cut_number += 2",
    ),
    Fault(
        "a serviced unit keeps its drift",
        "steps/repairs.py",
        "    unit.drifted = False\n",
        "",
    ),
    Fault(
        "an order may overtake the one before it",
        "steps/road.py",
        "        arrival_s = max(arrival_s, state.last_delivery_s)\n",
        "        pass\n",
    ),
    Fault(
        "nobody counts unserved seconds by class",
        "ledger.py",
        "        self.unserved_s_by_class[patient.class_index] += seconds\n",
        "",
    ),
)
