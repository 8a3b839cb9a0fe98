"""Gathering: on the battery patients are moved to fewer units, for a unit takes its watts whatever the flow."""

from __future__ import annotations

from o2sim.model.bank import Unit
from o2sim.model.power import Supply
from o2sim.model.state import State
from o2sim.model.steps.units import move_unit, resume


def gather(state: State) -> bool:
    """Empty the running unit with the least flow whose patients all fit on others of the ward; True if one was.

    Done by plan while the battery carries the units: nobody goes without for it, and no hands are counted. The
    patients with the largest flow are placed first, each on the lowest-numbered unit with room. Of units with the
    same flow the highest number is emptied. When the battery no longer carries them patients stay where they are.
    """
    battery, bank = state.chain.battery, state.bank
    if battery is None or bank is None or not battery.rules.gather or state.chain.supply != Supply.BATTERY:
        return False
    running = [unit for unit in bank.units if unit.patients]
    for unit in sorted(running, key=lambda unit: (unit.load_ml_min, -unit.number)):
        others = [other for other in running if other is not unit and other.ward == unit.ward]
        places = None if unit.expected else _places(unit, others)
        if places is not None:
            state.note("unit emptied", unit.number, len(places))
            for number, place in places:
                move_unit(state, state.present[number], place)
            for other in bank.units:  # one that was shed may have power again
                resume(state, other)
            return True
    return False


def _places(unit: Unit, others: list[Unit]) -> list[tuple[int, Unit]] | None:
    """Return (patient number, where to) for everybody on a unit, None if somebody does not fit.

    A patient on two units is not moved; one on reduced flow is, with what is given.
    """
    if any(patient.second_unit is not None for patient in unit.patients):
        return None
    outlets = [other.rules.outlets - len(other.patients) - len(other.expected) for other in others]
    room = [other.rules.rated_flow_ml_min - other.load_ml_min - other.expected_ml_min for other in others]
    places = []
    for patient in sorted(unit.patients, key=lambda patient: (-patient.given_ml_min, patient.number)):
        fits = [i for i in range(len(others)) if outlets[i] > 0 and room[i] >= patient.given_ml_min]
        if not fits:
            return None
        outlets[fits[0]] -= 1
        room[fits[0]] -= patient.given_ml_min
        places.append((patient.number, others[fits[0]]))
    return places
