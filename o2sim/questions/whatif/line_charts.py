"""Draw a what-if as lines over its first field, a panel for each setting of the others."""

from __future__ import annotations

from collections.abc import Sequence
from textwrap import wrap
from typing import Any

import matplotlib as mpl
import numpy as np
import numpy.typing as npt
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import FuncFormatter, MaxNLocator, StrMethodFormatter

from o2sim.errors import O2simError
from o2sim.looks import doubt
from o2sim.looks.drawing import BLACK, BLUE, GREEN, GREY, ORANGE, PLAIN, PURPLE, RED
from o2sim.looks.figures import quantity
from o2sim.looks.frames import numbers
from o2sim.looks.words import axis_words, is_year, many, percent, span
from o2sim.questions.whatif.break_even import BY_CHANCE, BY_COST, BY_HOURS
from o2sim.questions.whatif.chart_words import measure_words, require, title
from o2sim.questions.whatif.text import DRAWN, Result
from o2sim.scenario.changing.levers import lever, stated

COLOURS = (BLUE, RED, GREEN, PURPLE, ORANGE, GREY)
MARKERS = ("o", "s", "^", "D", "v", "X", "P")
STYLES = ("-", "--", "-.", ":")
MOST_BANDS = 5  # strategies: more bands would hide one another, so bars stand in for them
MOST_PANELS = 30
PANELS_A_ROW = 3
NARROW = 44  # letters across one of several panels


def panels_of(varied: Sequence[Any]) -> int:
    """Return how many panels lines have, from the values of each field. Raises O2simError for too many."""
    count = int(np.prod([len(each) for each in varied[1:]], dtype=np.int64))
    if count > MOST_PANELS:
        raise O2simError(
            f"lines: found {count:,} settings of the fields after the first; allowed: at most {MOST_PANELS}, a "
            "panel each; put the field with most values first, or draw --heat"
        )
    return count


@mpl.rc_context(PLAIN)
def lines(result: Result, measure: str = "chance") -> Figure:
    """Return each strategy along the first field with its band; break-evens and the target marked.

    Of several fields each setting of the others has a panel, all with one scale. Raises O2simError for a cost
    without prices, and for too many panels.
    """
    require(result, measure)
    panels_of([each["values"] for each in result["vary"]])
    axis, names = result["vary"][0], list(result["strategies"])
    settings = _settings(result, axis["field"])
    columns = min(PANELS_A_ROW, len(settings))
    rows = -(-len(settings) // columns)
    deep = -(-len(names) // _key_columns(names))
    size = (
        (8.0, 4.4 + 0.17 * deep) if len(settings) == 1 else (3.6 * columns + 1.2, 2.9 * rows + 1.6 + 0.17 * deep)
    )
    figure = Figure(figsize=size, layout="constrained")
    panels = figure.subplots(rows, columns, squeeze=False, sharey=True).ravel()
    for panel, (fixed, points) in zip(panels, settings, strict=False):
        _panel(panel, result, axis, fixed, points, measure, alone=len(settings) == 1)
    for panel in panels[len(settings) :]:
        panel.set_axis_off()
    _heads(figure, panels, result, axis, settings, measure)
    return figure


def _settings(result: Result, field: str) -> list[tuple[dict[str, str], list[Result]]]:
    """Return each setting of the other fields with its points, in their order."""
    found: dict[tuple[tuple[str, str], ...], list[Result]] = {}
    for point in result["points"]:
        others = tuple((path, text) for path, text in point["values"].items() if path != field)
        found.setdefault(others, []).append(point)
    return [(dict(others), points) for others, points in found.items()]


def _panel(
    axes: Axes,
    result: Result,
    axis: Result,
    fixed: dict[str, str],
    chosen: Sequence[Result],
    measure: str,
    *,
    alone: bool,
) -> None:
    """Draw all strategies at one setting of the other fields."""
    names = list(result["strategies"])
    texts = [point["values"][axis["field"]] for point in chosen]
    values = lever(axis["field"], ", ".join(texts)).numbers
    places = np.arange(len(texts)) if values is None else np.array(values)
    factor = 100.0 if measure == "chance" else 1.0
    for rank, name in enumerate(names):
        found = [each["strategies"][name][DRAWN[measure][0]] for each in chosen]
        known = [(places[at], *numbers(found[at])) for at in np.argsort(places) if found[at] is not None]
        if known:
            _line(axes, known, factor, name, rank, banded=len(names) <= MOST_BANDS and len(known) > 1)
    _mark(axes, result, axis, fixed, measure, alone=alone)
    if values is None:
        axes.set_xticks(places, texts)
    else:
        _ticks(axes, places, texts)
    axes.set_ylim(bottom=0)
    axes.yaxis.set_major_formatter(StrMethodFormatter("{x:,.10g}"))
    if measure == "chance":
        axes.set_ylim(0, 104)
        axes.yaxis.set_major_formatter(FuncFormatter(lambda y, _: f"{y:g} %"))
    axes.grid(axis="y", color=BLACK, alpha=0.12, linewidth=0.6)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)


def _heads(
    figure: Figure, panels: Any, result: Result, axis: Result, settings: Sequence[Any], measure: str
) -> None:
    """Write titles, axes and the key: on the one panel itself, else above and beside all of them."""
    names = list(result["strategies"])
    logarithmic = ", logarithmic scale" if panels[0].get_xscale() == "log" else ""
    days = result["horizon_days"]
    within = f" within {'a year' if is_year(days) else span(days)}" if measure == "chance" else ""
    up, bands = f"{measure_words(result, measure)}{within}", f"bands and bars: {doubt.held(result)}"
    if len(settings) == 1:
        rest = "".join(f" with {path} = {text}" for path, text in settings[0][0].items())
        panels[0].set_title(title(result, f"What if {axis['field']} changes{rest}?"), fontsize=10, loc="left")
        panels[0].set_xlabel(f"{axis_words(axis['field'], axis['unit'])}{logarithmic}\n{bands}")
        panels[0].set_ylabel("\n".join(wrap(up, 40)))
    else:
        for panel, (fixed, _) in zip(panels, settings, strict=False):
            panel.set_title("\n".join(wrap(stated(fixed), NARROW)), fontsize=8, loc="left")
            key = f"{axis['field']} ({many(axis['unit'])})" if axis["unit"] else axis["field"]
            panel.set_xlabel("\n".join(wrap(f"{key}{logarithmic}", NARROW)), fontsize=8)
        wide = int(13 * figure.get_figwidth())
        said = [title(result, f"What if {axis['field']} changes?", wide), *wrap(f"{up}; {bands}", wide)]
        figure.suptitle("\n".join(said), fontsize=10, x=0.01, ha="left")
    pairs = (pair for panel in panels for pair in zip(*panel.get_legend_handles_labels(), strict=True))
    shown = {label: handle for handle, label in pairs}
    figure.legend(
        shown.values(),
        shown.keys(),
        loc="outside lower center",
        ncols=_key_columns(names),
        frameon=False,
        fontsize=8,
    )


def _line(axes: Axes, known: Sequence[Any], factor: float, name: str, rank: int, *, banded: bool) -> None:
    """Draw place, middle, low, high of one strategy: a band where few are drawn, else a thin bar at each value."""
    colour = COLOURS[rank % len(COLOURS)]
    x = [row[0] for row in known]
    middle, low, high = ([factor * (row[1] if row[k] is None else row[k]) for row in known] for k in (1, 2, 3))
    if banded:
        axes.fill_between(x, low, high, color=colour, alpha=0.18, linewidth=0)
    else:
        axes.vlines(x, low, high, color=colour, linewidth=1.2, alpha=0.7)
    axes.plot(
        x, middle, color=colour, marker=MARKERS[rank % len(MARKERS)], linewidth=1.8,
        label="\n".join(wrap(name, 60)), clip_on=False,
        linestyle=STYLES[(rank + rank // len(COLOURS)) % len(STYLES)],
        markersize=max(4.0, 8.0 - 1.5 * rank),  # those drawn later are smaller, so that equal ones are both seen
    )  # fmt: skip


def _key_columns(names: Sequence[str]) -> int:
    """Return how many strategies of the key stand side by side."""
    longest = max(map(len, names))
    return 1 if longest > 40 else 2 if longest > 24 else 3


def _ticks(axes: Axes, places: npt.NDArray[Any], texts: Sequence[str]) -> None:
    """Put a tick at each value that was run; a logarithmic axis where the values multiply."""
    spread = sorted(float(place) for place in places)
    if (
        len(spread) > 2
        and spread[0] > 0
        and spread[-1] / spread[0] >= 10
        and spread[-1] - spread[-2] > 3 * (spread[1] - spread[0])
    ):
        axes.set_xscale("log")
        axes.xaxis.set_minor_locator(mpl.ticker.NullLocator())
    if len(texts) <= 14:
        axes.set_xticks(places, texts)
    elif all(place == round(place) for place in spread):
        axes.xaxis.set_major_locator(MaxNLocator(integer=True))


def _mark(axes: Axes, result: Result, axis: Result, fixed: Result, measure: str, *, alone: bool) -> None:
    """Draw the target, and the break-evens that belong to what the lines show; alone: the one panel there is."""
    if measure == "chance":
        axes.axhline(100 * result["target"], color=BLACK, linewidth=1.1, linestyle=(0, (1, 1.5)),
                     label=f"target {percent(result['target'])}")  # fmt: skip
    wanted = {"chance": BY_CHANCE, "hours": BY_HOURS, "cost": BY_COST}[measure]
    for change in result["break_evens"]:
        if change["field"] == axis["field"] and change["at"] == dict(fixed) and change["by"] == wanted:
            _break_even(axes, change, alone=alone)


def _break_even(axes: Axes, change: Result, *, alone: bool) -> None:
    """Draw a break-even with its range; its value stands in the key, among several panels at its line."""
    label = f"break-even {quantity(change['value'], change['unit'])}"
    if not alone:
        at, box = axes.get_xaxis_transform(), {"color": "white", "alpha": 0.8, "pad": 1}
        axes.text(
            change["value"], 1, label, transform=at, ha="center", va="top", fontsize=7, color=BLACK, bbox=box
        )
        label = "break-even and its range"
    axes.axvline(change["value"], color=GREY, linewidth=1.2, linestyle="--", label=label)
    if change["low"] is not None:
        axes.axvspan(change["low"], change["high"], color=GREY, alpha=0.12, linewidth=0)
