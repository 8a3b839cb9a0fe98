"""What is legal but doubtful in what staff do, how long it takes, and when they look."""

from __future__ import annotations

from collections.abc import Iterator

from o2sim.scenario.checks.doubt import Doubt, called, minutes, sizes_at_beds
from o2sim.scenario.types.hospital import Cylinders, Hospital, Law
from o2sim.scenario.types.laws import law_high
from o2sim.scenario.types.times import Time, mean_s


def tolerance(hospital: Hospital) -> Iterator[Doubt]:
    """A tolerated gap shorter than the work of staff turns every handling into an interruption."""
    units, stock, night = hospital.concentrators, hospital.cylinders, hospital.night
    times: list[tuple[str, Time | None]] = []
    if units is not None:
        times += [("response_time", hospital.response_time_s), ("night.response_time", night.response_time_s)]
    if stock is not None:
        times += [("cylinders.change_time", stock.change_time_s), ("night.change_time", night.change_time_s)]
    for field, time in times:
        if time is not None and mean_s(time) > hospital.tolerated_gap_s:
            found = f"{minutes(mean_s(time))}{' on average' if isinstance(time, Law) else ''}"
            found += f", longer than the tolerated gap of {minutes(hospital.tolerated_gap_s)}"
            hint = "each one counts as an interruption; raise tolerated_gap, or mean it so"
            if isinstance(time, Law):
                hint = f"each longer one counts{hint.removeprefix('each one counts')}"
            if field.endswith("response_time") and hospital.shortfall.counted_by == "cause at crossing":
                hint = "each loss of supply counts as handling, also where no supply stood behind it; " + hint
            yield field, found, hint


def idle_night(hospital: Hospital) -> Iterator[Doubt]:
    """Times by night of what nobody does change nothing."""
    if hospital.night.connect_s is not None and hospital.staff is None:
        yield "night.connect_time", "no section staff", "it changes nothing; add staff, or leave it out"


def gauge_check(hospital: Hospital, cylinders: Cylinders) -> Iterator[Doubt]:
    """Gauges looked at more rarely than a cylinder lasts leave patients without, unseen."""
    for size in sizes_at_beds(cylinders):
        for patients in hospital.patients:
            high = law_high(patients.flow_ml_min)
            lasts_s = max(size.full_gas - size.lost_gas, 0) / (high + size.leak_ml_min)
            if cylinders.gauge_check_s > lasts_s:
                found = f"{minutes(cylinders.gauge_check_s)} between checks, but at {high / 1000:.3g} L/min"
                found += f" ({patients.name}) a full {called(size)} lasts {minutes(lasts_s)}"
                yield "cylinders.gauge_check", found, "cylinders will run empty unseen; check more often"


def timed_changes(hospital: Hospital, cylinders: Cylinders) -> Iterator[Doubt]:
    """A margin shorter than the fetch lets a cylinder run empty while the next is on its way."""
    timed, fetch_s = cylinders.timed, max(hospital.store.fetch_by_day_s, hospital.store.fetch_by_night_s)
    if timed is not None and timed.kept == 0:
        yield (
            "cylinders.timed.kept",
            "no note is kept",
            "the same as change_when: residual; write timed: none, and change_when: residual",
        )
    elif timed is not None and timed.margin_s < fetch_s:
        found = f"{minutes(timed.margin_s)}, shorter than the {minutes(fetch_s)} to fetch a cylinder"
        yield "cylinders.timed.margin", found, "cylinders run empty while the next is fetched; come earlier"
    highest = max(law_high(patients.flow_ml_min) for patients in hospital.patients)
    for size in sizes_at_beds(cylinders):
        lasts_s = (size.full_gas - size.lost_gas) / (highest + size.leak_ml_min)
        if timed is not None and timed.margin_s >= lasts_s:
            found = f"{minutes(timed.margin_s)}, but at {highest / 1000:.3g} L/min a full {called(size)} lasts "
            found += minutes(lasts_s)
            yield "cylinders.timed.margin", found, "it is changed as soon as it is opened; come later"


def who_notices(hospital: Hospital, cylinders: Cylinders) -> Iterator[Doubt]:
    """Whoever notices comes to nothing where somebody always sees the gauge, or power is never out."""
    noticed = hospital.noticed
    if noticed is None:
        return
    if cylinders.gauge_check_s == 0 and not cylinders.check_times_s:
        yield (
            "noticed",
            "gauges are watched",
            "nothing runs empty unseen; delete noticed, or say how often they look",
        )
    by_oximeter = noticed.by_oximeter
    if by_oximeter is not None and by_oximeter.cut_by_power and hospital.grid is None and hospital.power is None:
        found = "oximeters that are silent without power, but no power cuts"
        yield "noticed.by_oximeter.cut_by_power", found, "say in the section power when it is out, or leave it out"
