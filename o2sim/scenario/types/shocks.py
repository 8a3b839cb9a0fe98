"""Common shocks, such as storms: what one event does at once to road, power, supplier and wards."""

from __future__ import annotations

from dataclasses import dataclass

from o2sim.scenario.keys.record import key, lasting, part, time_key
from o2sim.scenario.types.laws import Law


@dataclass(frozen=True)
class ShockPatients:
    """More admissions (times multiplier) from after_s behind the onset on, for length_s times the severity."""

    multiplier: float = key(
        "number", "of admissions of these classes, more than 1", required=True, least="1", most="1000"
    )
    length_s: Law = lasting("how long more patients come", required=True)
    after_s: int = time_key("from the onset until more patients come", "0 days")
    classes: tuple[str, ...] = key("names", "whose admissions grow", otherwise="all classes", value=())


@dataclass(frozen=True)
class Shock:
    """One kind of event, which begins rate_per_day x 365 times a year on average, in the months named only.

    months: 1 is January, () all the year. road_s, power_s and supplier_s say how long the road is shut, the grid
    down and the supplier out from the onset on; each draw is multiplied by the severity, one for all effects.
    """

    name: str
    rate_per_day: float = key(
        "rate", "how often it comes, the yearly mean: so many a year in its months", name="rate", required=True,
        most="365 / year",
    )  # fmt: skip
    months: tuple[int, ...] = key("months", "the months in which it may begin", otherwise="all the year", value=())
    severity: Law | None = key(
        "law of number", "multiplies all lengths of one event alike", otherwise="1, lengths as drawn", most="1000"
    )
    road_s: Law | None = lasting("how long the road is shut", otherwise="the road is not shut by it")
    power_s: Law | None = lasting("how long the grid is down", otherwise="the grid is not cut by it")
    supplier_s: Law | None = lasting(
        "how long the supplier takes up no order", otherwise="the supplier is not hit by it"
    )
    patients: ShockPatients | None = part(ShockPatients, "more patients come", "admissions are not raised by it")
    prepaid_lost: bool = key(
        "true or false", "what was paid ahead to the supplier is lost; only beside supplier and funds", "false"
    )
