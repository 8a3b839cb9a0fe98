"""Count the seconds at each level of what is in use at once, within the horizon: the list of `o2sim equipment`."""

from __future__ import annotations

from o2sim.outcome import AtOnce

NOT_COUNTED = -1  # the level of what is not there at present, such as units on a battery while the grid is up
KINDS = len(AtOnce.NAMES)


class Levels:
    """Histograms of time by level, one for each of AtOnce's names, and the running seconds of each unit."""

    def __init__(self, units: int) -> None:
        """Begin with nothing in use."""
        self.levels: tuple[int, ...] = (NOT_COUNTED,) * KINDS
        self.seconds: list[list[int]] = [[] for _ in range(KINDS)]
        self.unit_running_s = [0] * units
        self.in_repair = 0  # units at present, the way of the technician included
        self.units_changed = True  # since the units were last counted
        self.since_s = 0  # credited up to here
        self.covered_s = 0

    def change(self, levels: tuple[int, ...], now_s: int) -> None:
        """Take the levels that hold from this second on."""
        self.credit(now_s)
        self.levels = levels

    def credit(self, now_s: int) -> None:
        """Bring the histograms up to this second."""
        seconds, self.since_s = now_s - self.since_s, now_s
        if seconds == 0:
            return
        self.covered_s += seconds
        for by_level, level in zip(self.seconds, self.levels, strict=True):
            if level == NOT_COUNTED:
                continue
            while len(by_level) <= level:
                by_level.append(0)
            by_level[level] += seconds

    def begin_horizon(self) -> None:
        """Forget the warm-up, after `credit`; what is in use stays in use."""
        self.seconds = [[] for _ in range(KINDS)]
        self.unit_running_s = [0] * len(self.unit_running_s)
        self.covered_s = 0

    def outcome(self) -> AtOnce:
        """Return the histograms as they go into the record."""
        return AtOnce(*(tuple(by_level) for by_level in self.seconds))

    def balances(self, running_s: int, off_grid_s: int) -> bool:
        """Return True if no second is missing, and time by level adds up to the units' running seconds."""
        found = self.outcome()
        off_grid = _sum(found.units_on_generator) + _sum(found.units_on_battery)
        return (
            sum(found.cylinders) == sum(found.units_running) == self.covered_s
            and _sum(found.units_running) == sum(self.unit_running_s) == running_s
            and off_grid == off_grid_s
        )


def _sum(by_level: tuple[int, ...]) -> int:
    """Return the sum of level x seconds."""
    return sum(level * seconds for level, seconds in enumerate(by_level))
