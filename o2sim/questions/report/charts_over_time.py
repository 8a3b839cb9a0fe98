"""The drawings of the report over time: the stock of cylinders, and when in the year someone goes without."""

from __future__ import annotations

import datetime as dt

import matplotlib as mpl
import numpy as np
import numpy.typing as npt

from o2sim.looks.blocks import Picture, marked
from o2sim.looks.drawing import NARROW_IN, PLAIN, SMALL, above, narrow_figure
from o2sim.looks.words import joined, number, percent
from o2sim.questions.compare.charts import stock_chart
from o2sim.questions.report.charts import key_height, legend, look
from o2sim.runs.days import midnights
from o2sim.runs.study import Study

FEWEST_DAYS = 59  # two months: fewer make no season
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


@mpl.rc_context(PLAIN)
def stock(study: Study, strategy: str, chosen: str = "") -> Picture:
    """Return the stock of full cylinders over the horizon, as in the folder of results, but narrower."""
    figure = stock_chart(study, strategy)
    axes = figure.axes[0]
    axes.set_title("", loc="left")  # the page has its own
    for text in list(axes.texts):
        text.remove()
    axes.set_ylabel("")
    axes.set_xlabel("")
    rules = study.scenario.hospitals[strategy].cylinders
    of_all = " of all sizes" if rules is not None and rules.sizes else ""
    above(axes, f"full cylinders{of_all} on hand at midnight")
    axes.tick_params(labelsize=SMALL)
    figure.set_size_inches(NARROW_IN, 3.9)
    for key in list(figure.legends):
        key.remove()
    figure.legend(loc="outside lower left", ncols=2, frameon=False, fontsize=SMALL)
    full = midnights(study, strategy)
    none, low = percent(full.share_empty), int(np.median(full.fewest))
    alt = (
        "Full cylinders at each midnight: the median of all replications, bands of 80 and 95 per cent of them, "
        f"and the worst one. In the middle replication the lowest count is {low}; on {none} of all midnights "
        "there is no full cylinder."
    )
    note = "A band that reaches the bottom shows when the shelf may be empty."
    return Picture("stock", f"Full cylinders over the year: {marked(strategy, chosen)}", alt, note, figure)


@mpl.rc_context(PLAIN)
def season(study: Study, chosen: str = "") -> Picture:
    """Return by month the share of midnights at which anyone waits unserved, a line for each strategy.

    chosen: the one whose line is thicker, and marked.
    """
    months, names = months_of(study), [marked(name, chosen) for name in study.outcomes]
    figure, axes = narrow_figure(2.7 + key_height(names))
    places, peaks = np.arange(len(months)), []
    for place, name in enumerate(study.outcomes):
        found = midnights(study, name)
        shares = [
            100 * float(found.waits[days].sum() / (len(found.fewest) * len(days))) for days in months.values()
        ]
        style = ("-", "--", "-.", ":")[place % 4]
        axes.plot(places, shares, linestyle=style, markersize=5, lw=3 if name == chosen else 1.5,
                  **look(place, marked(name, chosen)))  # fmt: skip
        worst = int(np.argmax(shares))
        peaks.append(f"{name}: most in {list(months)[worst]}, {number(shares[worst])} %" if any(shares) else
                     f"{name}: none seen")  # fmt: skip
    axes.set_xticks(places, [month[:3] for month in months])
    axes.set_ylim(bottom=0)
    axes.grid(axis="y", color="#DDDDDD", linewidth=0.6)
    axes.tick_params(labelsize=SMALL)
    above(axes, "midnights with anyone unserved, %")
    legend(figure, names)
    alt = f"Lines by month, one for each strategy. {joined(peaks)}."
    note = "The state at midnight; a gap that begins and ends between two midnights is not in it."
    return Picture("season", "When in the year someone goes without", alt, note, figure)


def months_of(study: Study) -> dict[str, npt.NDArray[np.intp]]:
    """Return by month which days of the horizon lie in it; nothing where they make no season or more than one."""
    hospital = next(iter(study.scenario.hospitals.values()))
    days = midnights(study, next(iter(study.outcomes))).days
    if not FEWEST_DAYS <= days <= 366:
        return {}
    dates = [hospital.start + dt.timedelta(days=day) for day in range(days)]
    months = np.array([f"{MONTHS[date.month - 1]} {date.year}" for date in dates])
    return {month: np.flatnonzero(months == month) for month in dict.fromkeys(months.tolist())}
