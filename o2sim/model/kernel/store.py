"""The cylinders of a size: see CylinderStore in the reference, which has the same names; regulator sets."""

from __future__ import annotations

from o2sim.compiler.jit import Record, Whole, compile_file
from o2sim.draws.count_record import ON_CYLINDER
from o2sim.model.kernel.layout import NONE, away_at, given_at, rack_at, set_at, start_at, store_at, ward_at
from o2sim.model.kernel.packing import code
from o2sim.model.kernel.queues import content_at, put_first, put_last, take_at, take_first, total
from o2sim.model.rules import BOOK_DAYS
from o2sim.scenario.types.hospital import Cylinders

OLDEST, EMPTIEST = (code(Cylinders, "rack", word) for word in ("oldest that lasts", "emptiest that lasts"))


def runs_out_after_s(content: Whole, s: Record, flow_ml_min: Whole) -> Whole:
    """Return the whole seconds a cylinder serves a flow before flow is lost; the remainder stays in it."""
    return max(0, content - s.lost_gas) // (flow_ml_min + s.leak_ml_min)


def residual_after_s(content: Whole, s: Record, flow_ml_min: Whole, error_gas: Whole) -> Whole:
    """Return the seconds until the gauge is read at or below residual pressure; never after the run-out."""
    rate = flow_ml_min + s.leak_ml_min
    to_residual = -(-max(0, content - s.keep_gas - error_gas) // rate)
    return min(to_residual, runs_out_after_s(content, s, flow_ml_min))


def store_of(k: Record, c: Record) -> Record:
    """Return the store of the size of a cylinder in use."""
    return store_at(k, c.of_size)


def ward_store(k: Record) -> Record:
    """Return the store of the size that is kept on wards: the first for the bedside."""
    return store_at(k, k.ward_size)


def all_full(k: Record) -> Whole:
    """Return the full cylinders of all sizes."""
    full = 0
    for size in range(k.store_count):
        full += store_at(k, size).full
    return full


def count(k: Record) -> None:
    """Begin with the cylinders counted; those on patients follow as these are taken up."""
    start, s = start_at(k, 0), store_at(k, 0)
    s.full = s.fewest_full = k.fewest_full = start.full
    s.lost = start.lost
    s.handed_over, s.delivered, s.losses_met = start.handed_over, start.delivered, start.losses_met
    for queue in (s.fills, s.rack, s.empties):
        queue.head = queue.count_ = 0
    for _ in range(start.full):
        put_last(s.fills, s.full_gas)
    for place in range(start.rack_count):
        put_last(s.rack, rack_at(start.rack, place).value)
    for _ in range(start.empties):
        put_last(s.empties, s.keep_gas)
    for place in range(start.given_count):
        s.in_use += given_at(start.given, place).source == ON_CYLINDER
    for number in range(k.ward_count):
        shelf = ward_at(k, number).shelf
        shelf.head = shelf.count_ = 0
        stock_ward(k, number, ward_at(k, number).most_bedside)


def free_set(k: Record, flow_ml_min: Whole, size: Whole) -> Whole:
    """Return the kind of a free set for a flow and a size, the smallest range first; NONE if there is none."""
    for place in range(k.set_count):
        kind = set_at(k, place).smallest_first
        if set_at(k, kind).free > 0 and serves(k, kind, flow_ml_min, size):
            return kind
    return NONE


def has_any(k: Record, flow_ml_min: Whole, size: Whole) -> Whole:
    """Return True if there are sets for a flow and a size, free or not."""
    for kind in range(k.set_count):
        if set_at(k, kind).owned > 0 and serves(k, kind, flow_ml_min, size):
            return True
    return False


def serves(k: Record, kind: Whole, flow_ml_min: Whole, size: Whole) -> Whole:
    """Return True if sets of a kind can be set to a flow and fit a size."""
    return fits(k, kind, size) and reads(k, kind, flow_ml_min)


def fits(k: Record, kind: Whole, size: Whole) -> Whole:
    """Return True if sets of a kind can be mounted on cylinders of a size."""
    return (set_at(k, kind).fits >> size) & 1 == 1


def reads(k: Record, kind: Whole, flow_ml_min: Whole) -> Whole:
    """Return True if a flowmeter can be set to a flow."""
    return set_at(k, kind).low_ml_min <= flow_ml_min <= set_at(k, kind).high_ml_min


def usable(s: Record) -> Whole:
    """Return the number of full and part-used cylinders on hand."""
    return s.full + s.rack.count_


def in_store(s: Record) -> Whole:
    """Return the full and part-used cylinders in the central store that nobody is fetching."""
    return s.fills.count_ + s.rack.count_ - s.held


def take_backup(s: Record, least: Whole) -> Whole:
    """Take the emptiest part-used cylinder with so much and return its content, NONE without one."""
    best, fewest = NONE, 0
    for place in range(s.rack.count_):
        content = content_at(s.rack, place)
        if content >= least and (best == NONE or content < fewest):
            best, fewest = place, content
    if best == NONE:
        return NONE
    s.in_use += 1
    return take_at(s.rack, best)


def take_full(s: Record) -> Whole:
    """Take a full cylinder of the central store and return its content."""
    s.in_use += 1
    s.full -= 1
    return take_first(s.fills)


def put_back_full(s: Record, content: Whole) -> None:
    """Put a full cylinder that nobody has opened back into the store, to be the next."""
    s.in_use -= 1
    s.full += 1
    put_first(s.fills, content)


def stock_ward(k: Record, ward: Whole, count: Whole) -> None:
    """Bring full cylinders from the central store to a ward, as far as there are any."""
    s = ward_store(k)
    for _ in range(min(count, s.fills.count_)):
        put_last(ward_at(k, ward).shelf, take_first(s.fills))


def open_on_ward(k: Record, ward: Whole) -> Whole:
    """Take a cylinder kept on a ward into use and return its content."""
    s = ward_store(k)
    s.in_use += 1
    s.full -= 1
    return take_first(ward_at(k, ward).shelf)


def position(k: Record, s: Record) -> Whole:
    """Return the inventory position: full and on order, and part-used ones that count as full."""
    return s.full + s.on_order + _count_as_full(k, s)


def unpromised_empties(s: Record) -> Whole:
    """Return the empties that back no open order."""
    return s.empties.count_ - s.promised


def gas_on_hand(k: Record, s: Record) -> Whole:
    """Return the gas in all cylinders that are not in use, those away with what they left with."""
    gas = total(s.fills) + total(s.rack) + total(s.empties) + s.away_gas + s.on_the_way_gas
    if s.number == k.ward_size:
        for number in range(k.ward_count):
            gas += total(ward_at(k, number).shelf)
    return gas


def usable_on_hand(k: Record, s: Record) -> Whole:
    """Return the part of that gas above the residual content, empties left out."""
    keep = s.keep_gas
    gas = total(s.rack) - keep * s.rack.count_ + s.on_the_way_usable
    for place in range(s.fills.count_):
        gas += max(0, content_at(s.fills, place) - keep)
    if s.number == k.ward_size:
        for number in range(k.ward_count):
            shelf = ward_at(k, number).shelf
            for place in range(shelf.count_):
                gas += max(0, content_at(shelf, place) - keep)
    return gas


def best_content(k: Record, s: Record, enough: Whole) -> Whole:
    """Return the content of the cylinder `open_from_store` would take, 0 where none is usable."""
    place = _rack_place(k, s, enough)
    if place != NONE:
        return content_at(s.rack, place)
    return s.full_gas if s.fills.count_ > 0 else 0


def open_from_store(k: Record, s: Record, enough: Whole) -> Whole:
    """Take a cylinder into use and return its content: part-used before full, if it holds enough."""
    s.in_use += 1
    place = _rack_place(k, s, enough)
    if place != NONE:
        return take_at(s.rack, place)
    s.full -= 1
    return take_first(s.fills)


def _rack_place(k: Record, s: Record, enough: Whole) -> Whole:
    """Return the part-used cylinder to take of those that hold enough; where none does, a full one (NONE).

    Without a full one it is the fullest. Of equals the one longest on the rack.
    """
    order, best, fullest = k.rules.cylinders_rack, NONE, NONE
    for place in range(s.rack.count_):
        content = content_at(s.rack, place)
        if content >= enough:
            if order == OLDEST:
                return place
            if best == NONE or (order == EMPTIEST and content < content_at(s.rack, best)):
                best = place
        if fullest == NONE or content > content_at(s.rack, fullest):
            fullest = place
    if best == NONE:
        return fullest if s.fills.count_ == 0 else NONE
    return best if order == EMPTIEST else fullest


def close_book_of(s: Record, days: Whole) -> None:
    """Write down what was drawn of a size in the day that ends, the nth of the book."""
    s.book[days % BOOK_DAYS] = s.drawn_gas - s.booked_gas
    s.booked_gas = s.drawn_gas


def _count_as_full(k: Record, s: Record) -> Whole:
    """Return the part-used cylinders that count as one in the inventory position."""
    r, count = k.rules, 0
    if not r.has_resupply or r.resupply_position_counts_above_permille == NONE:
        return 0
    keep = s.keep_gas
    limit = r.resupply_position_counts_above_permille * (s.full_gas - keep)
    for place in range(s.rack.count_):
        count += 1_000 * (content_at(s.rack, place) - keep) > limit
    return count


def to_send(k: Record, s: Record, keep: Whole) -> Whole:
    """Return how many part-used cylinders may be sent to be filled.

    So many stay as are to be kept, or as somebody is fetching.
    """
    low = 0
    for place in range(s.rack.count_):
        low += _is_low(k, s, content_at(s.rack, place))
    return min(low, max(0, s.rack.count_ - max(keep, s.held)))


def _is_low(k: Record, s: Record, content: Whole) -> Whole:
    """Return True for a part-used cylinder that holds so little that it may be sent."""
    limit = k.rules.cylinders_send_part_used_below_permille * (s.full_gas - s.keep_gas)
    return 1_000 * (content - s.keep_gas) < limit


def send_emptiest(s: Record) -> Whole:
    """Put the emptiest part-used cylinder with the empties, of equals the one longest there; return its gas."""
    emptiest = 0
    for place in range(1, s.rack.count_):
        if content_at(s.rack, place) < content_at(s.rack, emptiest):
            emptiest = place
    content = take_at(s.rack, emptiest)
    put_last(s.empties, content)
    return content


def put_back(s: Record, content: Whole, flow_ml_min: Whole, error_gas: Whole, first: Whole) -> Whole:
    """Take a cylinder off a patient; return True if it went to the rack (or to its head), False if it is empty."""
    s.in_use -= 1
    if content > s.keep_gas + max(0, error_gas) and runs_out_after_s(content, s, flow_ml_min) > 0:
        if first:
            put_first(s.rack, content)
        else:
            put_last(s.rack, content)
        return True
    put_last(s.empties, content)
    return False


def promise(s: Record, count: Whole) -> None:
    """Put `count` empties at the door down for an order."""
    s.on_order += count
    s.promised += count


def unpromise(s: Record, count: Whole) -> None:
    """Free `count` empties at the door of their promise."""
    s.on_order -= count
    s.promised -= count


def receive(s: Record, content: Whole) -> None:
    """Put a delivered cylinder on the shelf."""
    s.full += 1
    put_last(s.fills, content)


def lose(s: Record, place: Whole) -> Whole:
    """Lose one of the full, part-used and free empty cylinders, by its place among them; return its gas."""
    if place < s.fills.count_:
        s.full -= 1
        s.lost += 1
        return take_at(s.fills, place)
    place -= s.fills.count_
    if place < s.rack.count_:
        s.lost += 1
        return take_at(s.rack, place)
    place -= s.rack.count_
    if place < unpromised_empties(s):
        s.lost += 1
        return take_at(s.empties, place)
    return NONE


def can_be_lost(s: Record) -> Whole:
    """Return how many cylinders stand about: full, part-used and free empty ones, not those on the wards."""
    return s.fills.count_ + s.rack.count_ + unpromised_empties(s)


def hand_back(s: Record, content: Whole) -> None:
    """Put an empty that was not filled back at the head of those at the door."""
    put_first(s.empties, content)


def send_away(k: Record, s: Record, order: Record, count: Whole) -> None:
    """Send so many empties of a size off with an order, to be filled."""
    s.on_order += count
    order.first_away[s.number] = order.last_away[s.number] = NONE
    for _ in range(count):
        place = _cell(k, take_first(s.empties))
        s.away_gas += away_at(k, place).content
        if order.first_away[s.number] == NONE:
            order.first_away[s.number] = place
        else:
            away_at(k, order.last_away[s.number]).after = place
        order.last_away[s.number] = place
    s.away_count += count


def _cell(k: Record, content: Whole) -> Whole:
    """Return a free place for the content of a cylinder that leaves."""
    place = k.away_free
    if place == NONE:
        place = k.away_used
        k.away_used += 1
    else:
        k.away_free = away_at(k, place).after
    away_at(k, place).content, away_at(k, place).after = content, NONE
    return place


def first_back(k: Record, s: Record, order: Record) -> Whole:
    """Take the first of an order's own cylinders of a size from those away and return its content."""
    place = order.first_away[s.number]
    order.first_away[s.number] = away_at(k, place).after
    s.away_count -= 1
    s.away_gas -= away_at(k, place).content
    return _free_cell(k, place)


def _free_cell(k: Record, place: Whole) -> Whole:
    """Free a place for the content of a cylinder that was gone, and return it."""
    cell = away_at(k, place)
    cell.after, k.away_free = k.away_free, place
    return cell.content


def send_with(k: Record, s: Record, journey: Record, count: Whole) -> None:
    """Let full cylinders go with a patient, the oldest first."""
    s.full -= count
    s.on_the_way += count
    journey.count_, journey.first_cell, last = count, NONE, NONE
    for _ in range(count):
        place = _cell(k, take_first(s.fills))
        if last == NONE:
            journey.first_cell = place
        else:
            away_at(k, last).after = place
        last = place


def weigh(k: Record, s: Record, journey: Record, sign: Whole) -> None:
    """Count what is in the cylinders gone with a patient, or no longer (sign -1)."""
    place = journey.first_cell
    while place != NONE:
        content = away_at(k, place).content
        s.on_the_way_gas += sign * content
        s.on_the_way_usable += sign * max(0, content - s.keep_gas)
        place = away_at(k, place).after


def back_from(k: Record, s: Record, journey: Record) -> Whole:
    """Take back what went with a patient, the last of them unopened; return how many are empty."""
    weigh(k, s, journey, -1)
    s.on_the_way -= journey.count_
    opened, empty, place = journey.count_ - journey.unopened, 0, journey.first_cell
    for nth in range(journey.count_):
        after = away_at(k, place).after
        content = _free_cell(k, place)
        if nth < opened:
            s.in_use += 1
            empty += not put_back(s, content, journey.flow_ml_min, 0, False)
        else:
            s.full += 1
            put_last(s.fills, content)
        place = after
    return empty


compile_file(globals())
