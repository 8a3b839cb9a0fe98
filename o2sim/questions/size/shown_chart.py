"""A drawing of the answer, with a title and what it shows in words."""

from __future__ import annotations

from o2sim.looks import (
    doubt,
)
from o2sim.looks.blocks import Picture
from o2sim.looks.words import percent
from o2sim.questions.size import (
    text as sizing,
)
from o2sim.questions.size.chart import sizing_chart
from o2sim.questions.size.sizing import Sizing
from o2sim.shown import chart


@chart.register
def _sizing(result: Sizing) -> Picture:
    said = result.result
    figure = sizing_chart(said)
    alt = f"{sizing.answer_lines(said)[0]} " + " ".join(
        f"{', '.join(point['values'].values())}: {percent(point['estimate'])}." for point in said["curve"][:12]
    )
    return Picture(
        "size", "How much is enough?", alt, f"The band holds for each value by itself: {doubt.held(said)}.", figure
    )
