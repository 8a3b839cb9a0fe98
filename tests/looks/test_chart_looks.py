"""Charts of hostile results: long names, many strategies, one value; nothing is cut or written over."""

from __future__ import annotations

import pytest
from synthetic import made_up_study
from test_sizing_words import answer, chance, mean, result, what_if

from o2sim.errors import O2simError
from o2sim.looks.drawing import NARROW_IN, narrow_figure
from o2sim.looks.words import axis_words
from o2sim.measures.measures import summarise
from o2sim.questions.compare import charts
from o2sim.questions.report import charts as report_charts
from o2sim.questions.report.chosen import about
from o2sim.questions.report.pictures import pictures
from o2sim.questions.size.charts import sizing_chart
from o2sim.questions.whatif.charts import SHADES, heat_map, lines
from o2sim.questions.whatif.line_charts import panels_of
from o2sim.scenario.keys.fields import meaning, nearest

LONG = "concentrators first, cylinders for cuts and for high flows"
WORD = "Averyveryverylongsinglewordwithoutanyspaceinitwhichcannot"
PLACE = "The Very Long Named Regional Referral and Teaching Hospital of the Upper River Valley"


def written(figure):
    """Return every text that is drawn on a figure, with its box."""
    figure.draw_without_rendering()
    found = [*figure.texts, *(entry for legend in figure.legends for entry in legend.get_texts())]
    if figure._suptitle is not None:
        found.append(figure._suptitle)
    for axes in (each for each in figure.axes if each.axison):
        found += [axes.xaxis.label, axes.yaxis.label, axes.title, axes._left_title, *axes.texts]
        for axis, ends in ((axes.xaxis, axes.get_xlim()), (axes.yaxis, axes.get_ylim())):
            found += [tick.label1 for tick in axis.get_major_ticks() if min(ends) <= tick.get_loc() <= max(ends)]
    shown = (text for text in dict.fromkeys(found) if text.get_text() and text.get_visible())
    return {text: text.get_window_extent() for text in shown}


def outside(figure):
    """Return the texts that leave the figure by more than a point or two."""
    page, spare = figure.bbox, 2 * figure.dpi / 72
    return [
        text.get_text()
        for text, box in written(figure).items()
        if box.x0 < page.x0 - spare
        or box.x1 > page.x1 + spare
        or box.y0 < page.y0 - spare
        or box.y1 > page.y1 + spare
    ]


def covered(figure):
    """Return pairs of texts of which one covers the other; a line may touch the next by a hair."""
    hair = 1.5 * figure.dpi / 72
    boxes = [(text, box.padded(-hair)) for text, box in written(figure).items()]
    pairs = [(a, b) for place, a in enumerate(boxes) for b in boxes[place + 1 :]]
    return [(a.get_text(), b.get_text()) for (a, one), (b, other) in pairs if one.overlaps(other)]


def hostile_points(names, fields=("cylinders.fleet", "power.grid.down.median")):
    """Return a what-if over two fields of a scenario with these strategies and a long name of the place."""
    found = what_if(cuts=("40", "50", "60"), units=("1 h", "2 h"))
    found["vary"] = [
        {"field": field, "unit": unit, "values": each["values"]}
        for field, unit, each in zip(fields, ("", "h"), found["vary"], strict=True)
    ]
    for point in found["points"]:
        point["values"] = dict(zip(fields, point["values"].values(), strict=True))
        point["strategies"] = {
            name: {"stock_out_probability": chance(0.0), "annual_cost": mean(1_234_567.0 * (1 + place)),
                   "unserved_hours_for_want_of_supply": mean(1_000.0)}
            for place, name in enumerate(names)
        }  # fmt: skip
    return {**found, "strategies": list(names), "scenario": PLACE}


@pytest.mark.parametrize("names", [("a", LONG, WORD), tuple(f"mixed with {k} more cylinders" for k in range(9))])
def test_what_if_charts_hold_all_that_is_written(names):
    """Neither long names nor many are cut off or written over, in lines and in heat maps."""
    for draw in (lines, heat_map):
        figure = draw(hostile_points(names), "cost")
        assert (outside(figure), covered(figure)) == ([], [])


def test_a_checker_of_looks_sees_what_is_cut_and_covered():
    """The check above is none if it passes what is plainly wrong."""
    figure, axes = narrow_figure(2.0)
    axes.set_ylabel(60 * "long ")
    axes.text(0.5, 0.5, "one text")
    axes.text(0.5, 0.5, "another on it")
    assert 60 * "long " in outside(figure)
    assert ("one text", "another on it") in covered(figure)


def test_strategies_of_a_what_if_are_all_told_apart():
    """No two of fourteen lines have the same colour, marker and dashes."""
    names = [f"strategy {k}" for k in range(14)]
    drawn = lines(hostile_points(names)).axes[0].lines[: len(names)]
    looks = {(line.get_color(), line.get_marker(), line.get_linestyle()) for line in drawn}
    assert len(looks) == len(names)


def test_nothing_seen_is_no_certain_nought_in_a_heat_map():
    """A cell says "none" and how much it may be, and the key says of how many replications."""
    figure = heat_map(hostile_points(["a"]))
    assert {text.get_text() for text in figure.axes[0].texts} == {"none\n(0–10)"}
    assert "none seen in 50 replications" in figure.legends[0].get_texts()[0].get_text()


def test_figures_in_cells_stand_out_against_wcag():
    """Text in a cell has a contrast of at least 3.9 to 1 on every shade (WCAG 2.1, 1.4.11, asks 3)."""

    def luminance(parts):
        red, green, blue = (c / 12.92 if c <= 0.03928 else ((c + 0.055) / 1.055) ** 2.4 for c in parts[:3])
        return 0.2126 * red + 0.7152 * green + 0.0722 * blue

    figure = heat_map(hostile_points(["a"]))
    assert figure.axes[0].images[0].cmap is SHADES
    for share in range(101):
        ground = luminance(SHADES(share / 100)) + 0.05
        white = share / 100 > 0.6
        assert (1.05 / ground if white else ground / 0.05) > 3.9


def test_lines_over_two_fields_draw_every_point():
    """A panel for each value of the second field, on one scale, every strategy at every value of the first."""
    panels = lines(hostile_points(["a", "b"]), "cost").axes
    assert [panel.get_title(loc="left") for panel in panels] == [f"power.grid.down.median = {n} h" for n in (1, 2)]
    drawn = [line for panel in panels for line in panel.lines if line.get_label() in ("a", "b")]
    assert [len(line.get_xdata()) for line in drawn] == [3, 3, 3, 3]
    assert panels[0].get_ylim() == panels[1].get_ylim()


def test_more_panels_than_can_be_read_are_refused():
    """Said with how many there are, how many may be, and what to do."""
    with pytest.raises(O2simError, match=r"found 31 settings .* allowed: at most 30, .* draw --heat"):
        panels_of([("1",), tuple(map(str, range(31)))])


def test_money_has_its_currency_and_thousands_apart():
    """A heat map and lines of cost say in what money."""
    found = hostile_points(["a"])
    assert "Cost a year, USD" in heat_map(found, "cost")._suptitle.get_text()
    figure = lines(found, "cost")
    assert "cost a year, USD; bands and bars: chance" in figure._suptitle.get_text()
    axes = lines({**found, "vary": found["vary"][:1], "points": found["points"][::2]}, "cost").axes[0]
    assert axes.get_ylabel() == "cost a year, USD"
    assert axes.yaxis.get_major_formatter()(1_200_000) == "1,200,000"


def test_a_curve_of_hostile_results_holds_all_that_is_written():
    """Six causes, a long place and strategy, one value alone: nothing is cut, and its interval is drawn."""
    one = result().curve[1]
    causes = [
        "no power",
        "concentrator down",
        "concentrators full",
        "no cylinder",
        "flow too high",
        "outlets full",
    ]
    figure = sizing_chart(result(curve=[one], answer=answer(one), causes=causes, scenario=PLACE,
                                 strategy=LONG))  # fmt: skip
    assert (outside(figure), covered(figure)) == ([], [])
    (bar,) = [lines for lines in figure.axes[0].collections if len(lines.get_paths()) == 1][-1:]
    assert bar.get_paths()[0].vertices[:, 1].tolist() == [100 * one.low, 100 * one.high]
    assert all(place == round(place) for place in figure.axes[0].get_xticks())


def test_drawings_of_the_report_hold_all_that_is_written():
    """Long names and a horizon that is no year: no text of the report's drawings is cut or written over."""
    summary = summarise(made_up_study({LONG: 20, WORD: 0, "mixed": 3}, replications=30, days=28))
    drawn = [report_charts.chances(summary), report_charts.hours(summary)]
    for picture in [*drawn, report_charts.costs(summary, "RWF"), report_charts.trade(summary, "RWF")]:
        assert (picture.name, outside(picture.figure), covered(picture.figure)) == (picture.name, [], [])


def test_many_strategies_are_drawn_in_parts_to_one_scale():
    """Fourteen strategies make three drawings of each kind, none taller than a page, with one end of the scale."""
    study = made_up_study({f"mixed {k}": k for k in range(14)}, replications=20, days=28)
    drawn = pictures(about(study, summarise(study)))
    names = [picture.name for picture in drawn]
    assert names == [
        "trade",
        *(f"{kind}{n}" for kind in ("chances", "hours", "costs") for n in (1, 2, 3)),
        "stock",
    ]
    assert drawn[4].title == "How much goes unserved, and why (1 of 3)"
    assert len({picture.figure.axes[0].get_xlim() for picture in drawn[4:7]}) == 1
    assert all(picture.figure.get_figheight() / NARROW_IN < 250 / 112 for picture in drawn)


def test_keys_are_told_in_words():
    """An axis says what a key means, of which class, and by which part of a law."""
    assert meaning("power.grid.down.median") == "length of a power cut, median"
    assert meaning("patients.adults.admissions").endswith(", adults")
    assert [meaning(path) for path in ("nothing.such", "cylinders", "cylinders.nothing")] == ["", "", ""]
    assert axis_words("resupply.lead_time.mean", "day").splitlines()[1] == "resupply.lead_time.mean (days)"
    assert axis_words("cut", "h") == "cut (h)"
    assert [nearest("cylinders.flet"), nearest("patients.adults.admision"), nearest("zzz.fleet")] == [
        "cylinders.fleet", "patients.adults.admissions", ""]  # fmt: skip
    assert nearest("power.grid.down.median") == ""


def test_a_long_name_is_cut_and_one_replication_is_one():
    """A title keeps the beginning of a long word, and the source line counts in good English."""
    summary = summarise(made_up_study({WORD + WORD: 1}, replications=1, days=28))
    axes = charts.probability_chart(summary).axes[0]
    assert "1 replication, seed" in " ".join(text.get_text() for text in axes.texts)
    assert charts.clipped("x" * 80, 70) == "x" * 66 + " ..."
