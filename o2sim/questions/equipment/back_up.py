"""A strategy of concentrators alone in, the back-up that each of its points of use needs out, for the list to buy.

A unit can fail and its power can go, so every point of use needs a cylinder ready beside it, with a regulator, a
flowmeter and the key or spanner that opens it (common practice). Fewer outlets may ever have been in use at
once, but a cylinder beside another bed is not beside this one; that number is in the line for those who decide.
No run uses this back-up: it is in no figure of the simulation and in no cost.
"""

from __future__ import annotations

from o2sim.questions.equipment.entries import COMMON, EACH, Entry
from o2sim.scenario.types.hospital import Hospital, Scenario

BACK_UP = "Back-up beside the units"
LOCAL_CHOICE = "size by local choice"
EACH_POINT = "one for each point of use, that is every outlet of every unit"
READY = "a patient may be put on any of them"
UNPRICED = "neither simulated nor in the costs"
EACH_REGULATOR = f"one for each back-up regulator, of a kind that fits; {UNPRICED}"
KPA_PER_BAR = 100


def size_of(scenario: Scenario) -> str:
    """Return the size of the cylinders of the first strategy that has any, or that it is a local choice."""
    for hospital in scenario.hospitals.values():
        rules = hospital.cylinders
        if rules is not None and rules.water_capacity_l is not None:
            filled = f"filled to {rules.filling_pressure_kpa / KPA_PER_BAR:.0f} bar"
            return f"size as in the scenario, {rules.water_capacity_l:g} L of water {filled}"
        if rules is not None:
            return f"size as in the scenario, {rules.full_gas / 60_000:,.0f} L of gas"
    return LOCAL_CHOICE


def back_up(hospital: Hospital, size: str, most: int) -> list[Entry]:
    """Return cylinders, regulators, flowmeters and keys for points of use; nothing where there are cylinders.

    most: the highest number of patients on units at once that was seen.
    """
    units = hospital.concentrators
    if units is None or hospital.cylinders is not None:
        return []
    points = units.count * units.outlets
    counted = f"{units.count} units of {units.outlets} outlet{'' if units.outlets == 1 else 's'}"
    each = f"{EACH_POINT} ({READY}; at most {most} were in use at once)" if most < points else EACH_POINT
    cylinder, regulator = f"{each}; {size}; {UNPRICED}", f"{each}; {UNPRICED}"
    return [
        Entry(BACK_UP, "Back-up cylinders, full", points, EACH, COMMON, cylinder, counted),
        Entry(BACK_UP, "Back-up regulators", points, EACH, COMMON, regulator, counted),
        Entry(BACK_UP, "Flowmeters, on back-up regulators", points, EACH, COMMON, EACH_REGULATOR),
        Entry(BACK_UP, "Keys or spanners, for back-up cylinders", points, EACH, COMMON, EACH_REGULATOR),
    ]
