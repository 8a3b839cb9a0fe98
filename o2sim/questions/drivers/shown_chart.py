"""A drawing of the answer, with a title and what it shows in words."""

from __future__ import annotations

from o2sim.errors import O2simError
from o2sim.looks.blocks import Picture
from o2sim.questions.drivers import (
    charts as drivers_charts,
)
from o2sim.questions.drivers import (
    text as drivers_text,
)
from o2sim.questions.drivers.drivers import Drivers
from o2sim.shown import chart


@chart.register
def _drivers(result: Drivers, measure: str = "chance") -> Picture:
    said = result.result
    if measure not in drivers_charts.MEASURES:
        raise O2simError(f"chart: found measure={measure!r}; allowed: {', '.join(drivers_charts.MEASURES)}")
    figure = drivers_charts.draw(said, measure)
    alt = f"{drivers_text.asked(said)} {' '.join(drivers_text.sentences(said))}"
    note = drivers_text.held(said)
    return Picture("drivers", "What drives the answer?", alt, note, figure)
