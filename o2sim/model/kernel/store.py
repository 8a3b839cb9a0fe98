"""The cylinders of the facility: see CylinderStore in the reference, which has the same names."""

from __future__ import annotations

from o2sim.compiler.jit import Record, Whole, compile_file
from o2sim.draws.count_record import ON_CYLINDER
from o2sim.model.kernel.layout import NONE, away_at, given_at, rack_at, set_at, start_at, ward_at
from o2sim.model.kernel.packing import code
from o2sim.model.kernel.queues import content_at, put_first, put_last, take_at, take_first, total
from o2sim.scenario.types.hospital import Cylinders

OLDEST, EMPTIEST = (code(Cylinders, "rack", word) for word in ("oldest that lasts", "emptiest that lasts"))


def keep_gas(r: Record) -> Whole:
    """Return the content above which a cylinder counts as part-used, at or below it as empty."""
    return max(r.cylinders_residual_gas, r.cylinders_lost_gas)


def runs_out_after_s(content: Whole, r: Record, flow_ml_min: Whole) -> Whole:
    """Return the whole seconds a cylinder serves a flow before flow is lost; the remainder stays in it."""
    return max(0, content - r.cylinders_lost_gas) // (flow_ml_min + r.cylinders_leak_ml_min)


def residual_after_s(content: Whole, r: Record, flow_ml_min: Whole, error_gas: Whole) -> Whole:
    """Return the seconds until the gauge is read at or below residual pressure; never after the run-out."""
    rate = flow_ml_min + r.cylinders_leak_ml_min
    to_residual = -(-max(0, content - keep_gas(r) - error_gas) // rate)
    return min(to_residual, runs_out_after_s(content, r, flow_ml_min))


def backup_gas(r: Record) -> Whole:
    """Return the content that a back-up is to hold, at least."""
    keep = keep_gas(r)
    return keep - (-r.cylinders_backup_replace_below_permille * max(0, r.cylinders_full_gas - keep) // 1_000)


def count(k: Record) -> None:
    """Begin with the cylinders counted; those on patients follow as these are taken up."""
    start = start_at(k, 0)
    k.full = k.fewest_full = start.full
    k.lost = start.lost
    for queue in (k.fills, k.rack, k.empties):
        queue.head = queue.count_ = 0
    for _ in range(start.full):
        put_last(k.fills, k.rules.cylinders_full_gas)
    for place in range(start.rack_count):
        put_last(k.rack, rack_at(start.rack, place).value)
    for _ in range(start.empties):
        put_last(k.empties, keep_gas(k.rules))
    for place in range(start.given_count):
        k.in_use += given_at(start.given, place).source == ON_CYLINDER
    for number in range(k.ward_count):
        shelf = ward_at(k, number).shelf
        shelf.head = shelf.count_ = 0
        stock_ward(k, number, ward_at(k, number).most_bedside)


def free_set(k: Record, flow_ml_min: Whole) -> Whole:
    """Return the kind of a free regulator set for a flow, the smallest range first; NONE if there is none."""
    for place in range(k.set_count):
        kind = set_at(k, place).smallest_first
        if set_at(k, kind).free > 0 and reads(k, kind, flow_ml_min):
            return kind
    return NONE


def reads(k: Record, kind: Whole, flow_ml_min: Whole) -> Whole:
    """Return True if a flowmeter can be set to a flow."""
    return set_at(k, kind).low_ml_min <= flow_ml_min <= set_at(k, kind).high_ml_min


def usable(k: Record) -> Whole:
    """Return the number of full and part-used cylinders on hand."""
    return k.full + k.rack.count_


def in_store(k: Record) -> Whole:
    """Return the full and part-used cylinders in the central store that nobody is fetching."""
    return k.fills.count_ + k.rack.count_ - k.held


def take_backup(k: Record, least: Whole) -> Whole:
    """Take the emptiest part-used cylinder with so much and return its content, NONE without one."""
    best, fewest = NONE, 0
    for place in range(k.rack.count_):
        content = content_at(k.rack, place)
        if content >= least and (best == NONE or content < fewest):
            best, fewest = place, content
    if best == NONE:
        return NONE
    k.in_use += 1
    return take_at(k.rack, best)


def take_full(k: Record) -> Whole:
    """Take a full cylinder of the central store and return its content."""
    k.in_use += 1
    k.full -= 1
    return take_first(k.fills)


def put_back_full(k: Record, content: Whole) -> None:
    """Put a full cylinder that nobody has opened back into the store, to be the next."""
    k.in_use -= 1
    k.full += 1
    put_first(k.fills, content)


def stock_ward(k: Record, ward: Whole, count: Whole) -> None:
    """Bring full cylinders from the central store to a ward, as far as there are any."""
    for _ in range(min(count, k.fills.count_)):
        put_last(ward_at(k, ward).shelf, take_first(k.fills))


def open_on_ward(k: Record, ward: Whole) -> Whole:
    """Take a cylinder kept on a ward into use and return its content."""
    k.in_use += 1
    k.full -= 1
    return take_first(ward_at(k, ward).shelf)


def position(k: Record) -> Whole:
    """Return the inventory position: full and on order, and part-used ones that count as full."""
    return k.full + k.on_order + _count_as_full(k)


def unpromised_empties(k: Record) -> Whole:
    """Return the empties that back no open order."""
    return k.empties.count_ - k.promised


def gas_on_hand(k: Record) -> Whole:
    """Return the gas in all cylinders that are not in use, those away with what they left with."""
    gas = total(k.fills) + total(k.rack) + total(k.empties) + k.away_gas
    for number in range(k.ward_count):
        gas += total(ward_at(k, number).shelf)
    return gas


def usable_on_hand(k: Record) -> Whole:
    """Return the part of that gas above the residual content, empties left out."""
    keep = keep_gas(k.rules)
    gas = total(k.rack) - keep * k.rack.count_
    for place in range(k.fills.count_):
        gas += max(0, content_at(k.fills, place) - keep)
    for number in range(k.ward_count):
        shelf = ward_at(k, number).shelf
        for place in range(shelf.count_):
            gas += max(0, content_at(shelf, place) - keep)
    return gas


def best_content(k: Record, enough: Whole) -> Whole:
    """Return the content of the cylinder `open_from_store` would take, 0 where none is usable."""
    place = _rack_place(k, enough)
    if place != NONE:
        return content_at(k.rack, place)
    return k.rules.cylinders_full_gas if k.fills.count_ > 0 else 0


def open_from_store(k: Record, enough: Whole) -> Whole:
    """Take a cylinder into use and return its content: part-used before full, if it holds enough."""
    k.in_use += 1
    place = _rack_place(k, enough)
    if place != NONE:
        return take_at(k.rack, place)
    k.full -= 1
    return take_first(k.fills)


def _rack_place(k: Record, enough: Whole) -> Whole:
    """Return the part-used cylinder to take of those that hold enough; where none does, a full one (NONE).

    Without a full one it is the fullest. Of equals the one longest on the rack.
    """
    order, best, fullest = k.rules.cylinders_rack, NONE, NONE
    for place in range(k.rack.count_):
        content = content_at(k.rack, place)
        if content >= enough:
            if order == OLDEST:
                return place
            if best == NONE or (order == EMPTIEST and content < content_at(k.rack, best)):
                best = place
        if fullest == NONE or content > content_at(k.rack, fullest):
            fullest = place
    if best == NONE:
        return fullest if k.fills.count_ == 0 else NONE
    return best if order == EMPTIEST else fullest


def _count_as_full(k: Record) -> Whole:
    """Return the part-used cylinders that count as one in the inventory position."""
    r, count = k.rules, 0
    if not r.has_resupply or r.resupply_position_counts_above_permille == NONE:
        return 0
    keep = keep_gas(r)
    limit = r.resupply_position_counts_above_permille * (r.cylinders_full_gas - keep)
    for place in range(k.rack.count_):
        count += 1_000 * (content_at(k.rack, place) - keep) > limit
    return count


def to_send(k: Record, keep: Whole) -> Whole:
    """Return how many part-used cylinders may be sent to be filled.

    So many stay as are to be kept, or as somebody is fetching.
    """
    low = 0
    for place in range(k.rack.count_):
        low += _is_low(k, content_at(k.rack, place))
    return min(low, max(0, k.rack.count_ - max(keep, k.held)))


def _is_low(k: Record, content: Whole) -> Whole:
    """Return True for a part-used cylinder that holds so little that it may be sent."""
    r = k.rules
    limit = r.cylinders_send_part_used_below_permille * (r.cylinders_full_gas - keep_gas(r))
    return 1_000 * (content - keep_gas(r)) < limit


def send_emptiest(k: Record) -> Whole:
    """Put the emptiest part-used cylinder with the empties, of equals the one longest there; return its gas."""
    emptiest = 0
    for place in range(1, k.rack.count_):
        if content_at(k.rack, place) < content_at(k.rack, emptiest):
            emptiest = place
    content = take_at(k.rack, emptiest)
    put_last(k.empties, content)
    return content


def put_back(k: Record, content: Whole, flow_ml_min: Whole, error_gas: Whole, first: Whole) -> Whole:
    """Take a cylinder off a patient; return True if it went to the rack (or to its head), False if it is empty."""
    r = k.rules
    k.in_use -= 1
    if content > keep_gas(r) + max(0, error_gas) and runs_out_after_s(content, r, flow_ml_min) > 0:
        if first:
            put_first(k.rack, content)
        else:
            put_last(k.rack, content)
        return True
    put_last(k.empties, content)
    return False


def promise(k: Record, count: Whole) -> None:
    """Put `count` empties at the door down for an order."""
    k.on_order += count
    k.promised += count


def unpromise(k: Record, count: Whole) -> None:
    """Free `count` empties at the door of their promise."""
    k.on_order -= count
    k.promised -= count


def receive(k: Record, content: Whole) -> None:
    """Put a delivered cylinder on the shelf."""
    k.full += 1
    put_last(k.fills, content)


def lose(k: Record, place: Whole) -> Whole:
    """Lose one of the full, part-used and free empty cylinders, by its place among them; return its gas."""
    if place < k.fills.count_:
        k.full -= 1
        k.lost += 1
        return take_at(k.fills, place)
    place -= k.fills.count_
    if place < k.rack.count_:
        k.lost += 1
        return take_at(k.rack, place)
    place -= k.rack.count_
    if place < unpromised_empties(k):
        k.lost += 1
        return take_at(k.empties, place)
    return NONE


def can_be_lost(k: Record) -> Whole:
    """Return how many cylinders stand about: full, part-used and free empty ones, not those on the wards."""
    return k.fills.count_ + k.rack.count_ + unpromised_empties(k)


def hand_back(k: Record, content: Whole) -> None:
    """Put an empty that was not filled back at the head of those at the door."""
    put_first(k.empties, content)


def send_away(k: Record, order: Record) -> None:
    """Send an order's empties off with it, to be filled."""
    k.on_order += order.count
    order.first_away = order.last_away = NONE
    for _ in range(order.count):
        place = k.away_free
        if place == NONE:
            place = k.away_used
            k.away_used += 1
        else:
            k.away_free = away_at(k, place).after
        cell = away_at(k, place)
        cell.content, cell.after = take_first(k.empties), NONE
        k.away_gas += cell.content
        if order.first_away == NONE:
            order.first_away = place
        else:
            away_at(k, order.last_away).after = place
        order.last_away = place
    k.away_count += order.count


def first_back(k: Record, order: Record) -> Whole:
    """Take the first of an order's own cylinders from those away and return its content."""
    place = order.first_away
    cell = away_at(k, place)
    order.first_away = cell.after
    cell.after, k.away_free = k.away_free, place
    k.away_count -= 1
    k.away_gas -= cell.content
    return cell.content


compile_file(globals())
