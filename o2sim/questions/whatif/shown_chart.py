"""A drawing of the answer, with a title and what it shows in words."""

from __future__ import annotations

from o2sim.errors import O2simError
from o2sim.looks import (
    doubt,
)
from o2sim.looks.blocks import Picture
from o2sim.looks.words import percent
from o2sim.questions.whatif import (
    charts as whatif_charts,
)
from o2sim.questions.whatif import (
    text as whatif,
)
from o2sim.questions.whatif.whatif import WhatIf
from o2sim.shown import chart


@chart.register
def _whatif(result: WhatIf, of: str = "lines", measure: str = "chance") -> Picture:
    said = result.result
    if of not in ("lines", "heat") or measure not in whatif_charts.MEASURES:
        raise O2simError(
            f"chart: found of={of!r}, measure={measure!r}; allowed: lines or heat, and "
            f"{', '.join(whatif_charts.MEASURES)}"
        )
    count = 1
    for each in said["vary"]:
        count *= len(each["values"])
    if count != len(said["points"]) and (of == "heat" or len(said["vary"]) > 1):
        raise O2simError("chart: the combinations that were run are no grid; draw them from to_frame()")
    figure = whatif_charts.heat_map(said, measure) if of == "heat" else whatif_charts.lines(said, measure)
    what = whatif_charts.MEASURES[measure][1]
    alt = f"{what[0].upper()}{what[1:]} of each strategy. {whatif.asked(said)}"
    note = f"Bands and brackets: {percent(said['confidence'])} interval, each point by itself: {doubt.held(said)}."
    return Picture("whatif", "What if?", alt, note, figure)
