"""What is legal but doubtful in the rules of part-used cylinders."""

from __future__ import annotations

from collections.abc import Iterator

from o2sim.scenario.types.hospital import Cylinders, Hospital, SendPartUsed


def part_used(hospital: Hospital, cylinders: Cylinders) -> Iterator[tuple[str, str, str]]:
    """Yield (field, what was found, what to do) where a rule can do nothing, or two work against each other."""
    send, resupply = cylinders.send_part_used, hospital.resupply
    if send is None:
        return
    stated = send != SendPartUsed()  # the default may come to nothing without harm
    if resupply is None:
        if stated:
            yield "cylinders.send_part_used", "no resupply", "nothing is handed over; add resupply, or delete it"
        return
    if stated and send.keep >= cylinders.fleet and resupply.emergency is None:
        found = f"{send.keep} are kept, of a fleet of {cylinders.fleet}"
        yield "cylinders.send_part_used.keep", found, "none is ever sent; lower it"
    counts = resupply.position_counts_above_permille
    if counts is not None and counts < send.below_permille:
        found = f"{counts / 10:g} %, below the {send.below_permille / 10:g} % under which they are sent"
        yield "resupply.position_counts_above", found, "some count as full and are sent as empty; raise it"
