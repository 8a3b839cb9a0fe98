"""A hospital with concentrators in, the steps of a power cut out: before the night, and when power returns.

Power and generator stand exactly as in the scenario. Who is the sickest is said by the nurse in charge
and by local guidelines, never here.
"""

from __future__ import annotations

from collections.abc import Iterator

from o2sim.looks.words import joined, number, percent
from o2sim.planning.figures import generator_carries
from o2sim.quantities.units import format_duration
from o2sim.scenario.types.hospital import DAY_S, Concentrators, Generator, Hospital, Window

# The oxygen concentration below which the low-concentration alarm of a concentrator has to sound: ISO 80601-2-69,
# from memory; the WHO-UNICEF technical specifications of 2019 have the same figure, from memory too.
LEAST_PERCENT = 82.0


def clock(second: int) -> str:
    """Return a time of day as `19:00`."""
    minutes = second % DAY_S // 60
    return f"{minutes // 60:02d}:{minutes % 60:02d}"


def steps(hospital: Hospital) -> list[str]:
    """Return what to do in a power cut, in order; nothing without concentrators."""
    units, power = hospital.concentrators, hospital.power
    if units is None:
        return []
    return [
        "Connect the sickest first, as the nurse in charge says by local guidelines: cylinder, regulator, open "
        "the valve slowly.",
        "Then measure SpO2 of all who were on a concentrator, by pulse oximeter; connect those who need oxygen.",
        "Note bed, flow and gauge above: a cylinder opened now lasts so much shorter than the night.",
        "Not enough cylinders or regulators for all: call the nurse in charge at once; local guidelines decide.",
        *(
            ["The battery takes over. Do not trust it for the night: make cylinders ready now."]
            if power is not None and power.battery is not None
            else []
        ),
        *([" ".join(_generator(power.generator, hospital))] if power is not None and power.generator else []),
        _power_back(units),
    ]


def _power_back(units: Concentrators) -> str:
    """Return how long cylinders stay on when power returns."""
    least = max(LEAST_PERCENT, (units.alarm_permille or 0) / 10)
    start_up = f" of {format_duration(units.start_up_s)}" if units.start_up_s else " (see its manual)"
    shows = f"it shows at least {number(least)} % oxygen"
    if not units.oxygen_monitor:
        shows = f"the analyser shows at least {number(least)} % oxygen (it has no oxygen monitor of its own)"
    return (
        "Power back: put the units on again, but keep each patient's cylinder on until the unit's start-up time"
        f"{start_up} is over and {shows}. Only then close the cylinder."
    )


def _generator(generator: Generator, hospital: Hospital) -> Iterator[str]:
    """Yield what to expect of the generator: when it may run, how long it takes to start, whether it does."""
    yield from _permitted(generator, hospital)
    begins = "From the cut"
    if generator.start_below_permille is not None:
        begins = (
            f"It is started when the battery is down to {percent(generator.start_below_permille / 1_000)}: then"
        )
    delay = f"about {format_duration(generator.start_delay_s)}"
    if generator.started_by_staff:
        yield f"{begins} somebody of the staff starts it, before all else at the bedside: {delay} of work."
        yield _hands(hospital)
    elif generator.night_delay_s != generator.start_delay_s:
        by_night = f"about {format_duration(generator.night_delay_s)} {_span(generator.night)}"
        yield f"{begins} it takes {delay} to give power, {by_night}."
    else:
        yield f"{begins} it takes {delay} to give power, by day and by night."
    carried = generator_carries(generator, hospital.concentrators)
    if carried is not None and hospital.concentrators is not None and carried.units < hospital.concentrators.count:
        yield f"It carries {carried.units} of the {hospital.concentrators.count} units."
    yield f"It starts in {percent(generator.start_chance)} of the cuts" + (
        ", the scenario says: no generator is so sure." if generator.start_chance == 1 else "."
    )
    yield "Do not wait for it with a patient."


def _permitted(generator: Generator, hospital: Hospital) -> Iterator[str]:
    """Yield the hours in which the generator may run, and what that is for the night."""
    if not generator.hours:
        yield "The generator may run at any hour."
        return
    yield f"The generator may run only {joined([_span(each) for each in generator.hours])}."
    dusk_s, dawn_s = hospital.day_hours.to_s, hospital.day_hours.from_s
    night = Window(dusk_s, dawn_s)
    if not any(_meet(each, night) for each in generator.hours):
        yield f"It may not run at night ({clock(dusk_s)} to {clock(dawn_s)})."


def _meet(one: Window, other: Window) -> bool:
    """Return True if two times of the day have a moment in common."""
    apart_s = (other.from_s - one.from_s) % DAY_S
    return apart_s < one.length_s or (DAY_S - apart_s) % DAY_S < other.length_s


def _span(window: Window) -> str:
    return f"from {clock(window.from_s)} to {clock(window.to_s)}"


def _hands(hospital: Hospital) -> str:
    """Return how many of the staff are there by day and by night."""
    assert hospital.staff is not None  # by the scenario's checks
    hours, staff = hospital.day_hours, hospital.staff
    dawn, dusk = clock(hours.from_s), clock(hours.to_s)
    return f"Staff there: {staff.day} from {dawn} to {dusk}, {staff.night} from {dusk} to {dawn}."
