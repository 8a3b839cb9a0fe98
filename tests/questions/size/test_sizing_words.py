"""What `size` and `whatif` say and draw, from results that are made by hand."""

from dataclasses import replace

import pytest

from o2sim.errors import O2simError
from o2sim.looks.drawing import save
from o2sim.outcome import CAUSE_LABELS, SUPPLY_CAUSES
from o2sim.questions.size.charts import sizing_chart
from o2sim.questions.size.content import answer_lines, csv_columns, csv_rows, short_names, tables
from o2sim.questions.size.phrases import runs_of
from o2sim.questions.size.result import (
    Answer,
    AtEnough,
    BetterRule,
    Cost,
    Measured,
    Method,
    MoreReplications,
    Neighbours,
    NextOne,
    Point,
    RuleOfThumb,
    Run,
    Sides,
    Sized,
    SizingResult,
    WithHandling,
)
from o2sim.questions.whatif.charts import heat_map, lines
from o2sim.questions.whatif.text import asked, best_tables, break_even_tables, no_break_even
from o2sim.runs.identity import Origin, Ran
from o2sim.statistics.estimates import Mean, Probability

FLEET = "cylinders.fleet"


def point(fleet, failures, n=100, status="enough in the simulation", cost=None):
    """Return a point of a curve."""
    share = failures / n
    priced = None if cost is None else Cost(cost)
    return Point({FLEET: str(fleet)}, n, failures, share, share / 2, min(1, share * 2 + 0.01), status, priced)


def answer(point, at_most=0.03):
    """Return a point as the answer."""
    return Answer(point, at_most, None, dict(point.values))


def result(scenario="Ward", **more):
    """Return a sizing by one batch: 11 is enough."""
    curve = (
        point(9, 40, status="not shown to be enough"),
        point(10, 9, status="not shown to be enough"),
        point(11, 1),
        point(12, 0),
    )
    plain = SizingResult(
        of=Origin(scenario, "0" * 16), figures="example", ran=Ran("0", "reference", 1, 100), horizon_days=365.0,
        strategy="mixed", target=0.05, confidence=0.95, interval_holds="chance in the simulation",
        causes=("no cylinder",), currency="USD", vary=(Sized(FLEET, "", ("9", "10", "11", "12")),),
        levels_moved=("resupply.reorder_point",), refused=(), method=Method("one batch", ()), complete=True,
        replications_done=100, answer=answer(curve[2], 0.047), curve=curve,
        neighbours=Neighbours(Sides(curve[1], curve[3])), next_one=NextOne({FLEET: "12"}, 0.01, 16.0),
        more_replications=(buys(400, "10", "10", "11"),), measured=None,
        rules_of_thumb=(RuleOfThumb("days of cover", 7.2, "1 x 7 days", 8, 0.6),), sized_on="supply alone",
        enough=0.5, most_missing=0.05, with_handling=None, by_enough=(),
    )  # fmt: skip
    return replace(plain, **more)


def buys(count, *fleets):
    """Return what more replications would show: the likeliest, the least and the most; None for none of them."""
    return MoreReplications(count, *(fleet and {FLEET: fleet} for fleet in fleets))


def rule(failures, other, deliveries=21.0, cost=1050.0, is_better=True, is_enough=False):
    """Return levels 66/72 beside 56/72, which fails in `failures` of 300 replications."""
    runs = [Run(*each) for each in (("56/72", failures, Mean(0.01, None, None), 20.0, 1000.0),
                                    ("66/72", other, Mean(0.01, None, None), deliveries, cost))]  # fmt: skip
    return BetterRule(76, 40, 300, *runs, failures, other, 0.004 if is_better else 0.4, is_better, is_enough, {})


PAIRS = {"vary": (Sized("resupply.levels", "", ("56/72", "66/72")),), "neighbours": Neighbours(Sides())}


def measured(**causes):
    """Return what was looked at as a whole."""
    chance = Probability(0.2, 0.1, 0.3, 0.95)
    return Measured({FLEET: "12"}, 0, 50, chance, chance, causes, Mean(0.03, 0.02, 0.04), 10.0, 1.0, 20.0, None)


def handled(chance, missing=0.01):
    """Return what the same value gives with handling as in the file."""
    found = Probability(chance, 0.1, 0.9, 0.95)
    return WithHandling({FLEET: "11"}, 100, 50, found, found, found, 120.0, Mean(missing, None, None))


def shares(*fleets, shared=False):
    """Return the answers at 50, 80 and 100 % of a flow; None where none of the values is enough."""
    return tuple(
        AtEnough(enough, enough == 0.5, shared and enough > 0.5, fleet and {FLEET: str(fleet)}, fleet and 0.04)
        for enough, fleet in zip((0.5, 0.8, 1.0), fleets, strict=True)
    )


def said(**more):
    """Return all that is said of a result."""
    return " ".join(answer_lines(result(**more)))


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ({}, "cylinders.fleet 11 is enough in the simulation (least of those tried), sized on supply alone: if"),
        ({}, "in 1 of 100 replications it did happen: a chance of 1 %, at most 4.7 % with that confidence"),
        ({}, "resupply.reorder_point moves with the fleet"),
        ({"levels_moved": ["a", "b"]}, "a and b move with the fleet"),
        ({}, "The next step, cylinders.fleet 12, lowers the chance by 1 points and costs USD 16 a year."),
        ({}, "with 400 most likely cylinders.fleet 10 (from 10 to 11). Each holds in 19 of 20 cases."),
        ({"more_replications": (buys(400, "10", "10", "10"),)}, "with 400 it would be cylinders.fleet 10."),
        ({"more_replications": (buys(400, None, "12", None),)},
         "with 400 most likely none of those tried (from 12 to none of those tried)."),
        ({"better_rule": rule(40, 20)},
         "First a better reorder rule, nothing to buy: levels 66/72 in place of 56/72 with the 76 cylinders there "
         "are (reorder point / order-up-to level) halve the chance, from 13.3 % to 6.67 %: in the same 300 "
         "replications 56/72 fail in 40, 66/72 in 20. Luck alone would show so clear a difference in 0.4 % of "
         "cases. They take 1 delivery a year more and cost USD 50 a year more in all. That alone is not"),
        ({"better_rule": rule(40, 2, is_enough=True)}, "lower the chance from 13.3 % to 0.667 %"),
        ({"better_rule": rule(40, 2, is_enough=True)},
         "That alone is shown to be enough: nothing has to be bought."),
        ({"better_rule": rule(40, 0, deliveries=20.0, cost=None)}, "They take as many deliveries. That"),
        ({"better_rule": rule(40, 20, is_better=False), **PAIRS}, "It is not surely better than the levels of the "
         "file: in the same 300 replications 56/72 fail in 40, 66/72 in 20; luck alone would show so clear a "
         "difference in 40 % of cases."),
        ({"better_rule": rule(40, 20), **PAIRS}, "Against the levels of the file, nothing to buy: levels 66/72"),
        (PAIRS, "The levels of the file are those: no other pair"),
        ({**PAIRS, "method": Method("search", ("x",))}, "tried one after the other, the cheapest first"),
        ({**PAIRS, "currency": None}, "(with the fewest deliveries of those tried)"),
        ({"answer": replace(answer(point(11, 3, 378), 0.0499), attempts=8), "method": Method("search", ("x",))},
         "Why 3 in 378 is called at most 4.99 %: the fresh replications end as soon as they show a chance of at "
         "most 5 %, so the bound always lies just below that. It says what was shown, not how rare it is: 0.794 % "
         "is the estimate. It is also attempt number 8: each may err half as often as the one before, this one in "
         "0.0195 % of cases, so that all together err in at most 5 %, and so it took more replications."),
        ({"answer": answer(point(9, 0))}, "it never did: a chance of 0 %"),
        ({"answer": answer(point(9, 0))}, "give a lower --range"),
        ({"next_one": NextOne({FLEET: "12"}, -0.02, -3.0)},
         "raises the chance as estimated by 2 points and saves USD 3 a year"),
        ({"next_one": NextOne({FLEET: "12"}, 0.0, None)},
         "by nothing seen."),
        ({"next_one": NextOne({FLEET: "12"}, 0.0, None, {FLEET: "14"}, 0.005)},
         "The first that lowers it is cylinders.fleet 14, by 0.5 points."),
        ({}, "One step less: with cylinders.fleet 10 it fails in 9 of 100 (not shown to be enough)."),
        ({"neighbours": Neighbours(Sides(), {FLEET: Sides(point(10, 9, status="x")), "b": Sides()})},
         "One step less, the rest as it is: with cylinders.fleet 10 it fails in 9 of 100 (x)."),
        ({"vary": (Sized(FLEET, "", ()),) * 2, "method": Method("search", ("x",))},
         "the cheapest first (by what each cost in a pilot"),
        ({"more_replications": (buys(400, "11", "11", "11"),)}, "(up to 400) would buy nothing: the answer"),
        ({"more_replications": (buys(400, None, None, None),)}, "it would still be none of those tried, in"),
        ({"method": Method("search", ("levels are held",))}, "One batch would not do: levels are held."),
        ({"method": Method("search", ("x",))}, "in 1 of 100 fresh replications"),
        ({"refused": ["cylinders.fleet = 1: too low"]},
         "1 value left out as no scenario; the first: cylinders.fleet = 1"),
        ({"refused": ["a", "b"]}, "2 values left out"),
        ({"answer": None, "complete": False}, "Stopped too early to say"),
        ({"answer": None, "curve": [point(9, 3)]}, "within the target, but too few replications show it"),
        ({"answer": None, "curve": [point(9, 30)], "measured": measured(**{"no cylinder": 0.3})},
         "interrupted for: no cylinder in 30 %. What to try: raise the upper end"),
        ({"answer": None, "curve": [point(9, 30)], "measured": measured(**{"no cylinder": 0.3}),
          "vary": (Sized("resupply.order_up_to", "", ("9",)),)},
         "size cylinders.fleet, with which"),
        ({"measured": measured(**{"no power": 0.4})}, "Not cured by it: interruptions for no power 40 %."),
        ({"measured": measured(**{"no power": 0.4})},
         "a supply shortfall of any cause in 20 %, an interruption because of “no cylinder” in 20 %."),
        ({}, "sized on supply alone: if hands, eyes and the way to the store cost no time, then with 95 %"),
        ({"measured": measured()}, "at most 5 % of the litres needed may be missing (--most-missing). At "
         "cylinders.fleet 12 3 % are, at most 4 %"),
        ({"with_handling": handled(0.02)}, "120 patient-hours a year short and 1 % of the litres needed missing."),
        ({"with_handling": handled(0.3)}, "That is not within the target: somebody goes without because of "
         "“no cylinder” in 30 %. Handling as in the file wastes supply"),
        ({"with_handling": handled(0.02, 0.2)}, "That is more missing than the limit: handling, which no stock"),
        ({"with_handling": handled(0.0)}, "a supply shortfall in none of them"),
        ({"answer": None, "with_handling": handled(0.3), "curve": [point(9, 30)]}, "1 % of the litres needed mis"),
        ({"by_enough": shares(11, 11, 11, shared=True)},
         "is the same if 50 %, 80 % and 100 % of what is prescribed counts as served, since a bare shelf"),
        ({"by_enough": shares(11, 11, 11, shared=True), "method": Method("search", ("x",))}, "since nobody is"),
        ({"by_enough": shares(11, 11, 11)}, "counts as served, each run by itself."),
        ({"answer": None, "curve": [point(9, 3, status="too many litres missing")], "measured": measured()},
         "Too many of the litres needed are missing: 3 % at cylinders.fleet 9, where at most 5 % may be"),
        ({"causes": ["no cylinder"]}, "somebody goes without because of “no cylinder” in at most"),
        ({"causes": [cause.label for cause in SUPPLY_CAUSES]}, "because of any cause of a supply shortfall in"),
        ({"causes": [*CAUSE_LABELS.values()]}, "somebody goes without because of any cause in at most"),
        ({"causes": [*CAUSE_LABELS.values()][1:]}, "“ran empty unseen”, “no regulator”, "),
        ({"horizon_days": 28.0, "target": 0.005}, "at most 5 in 1,000 runs of 28 days"),
    ],
)  # fmt: skip
def test_what_is_said(more, words):
    """Each sentence from its figures."""
    assert words in said(**more)


def test_a_better_rule_that_luck_may_have_shown_is_not_said():
    """Beside what would be bought nothing is claimed that luck alone may have shown."""
    assert "better reorder rule" not in said(better_rule=rule(40, 30, is_better=False))


def test_the_line_of_the_chart_joins_points_of_one_batch_alone():
    """Points of fewer replications stand apart, each with its interval and no line between them."""
    few = [point(7, 9, 10, status="fails too often"), point(8, 2, 2, status="fails too often")]
    figure = sizing_chart(result(curve=(*few, *result().curve), method=Method("search", ("x",))))
    (axes,) = figure.axes
    curve, apart = [line for line in axes.lines if line.get_marker() == "o"]
    assert list(curve.get_xdata()) == [9, 10, 11, 12]
    assert (list(apart.get_xdata()), apart.get_linestyle()) == ([7, 8], "None")


def test_where_it_depends_on_what_counts_as_served_that_comes_first():
    """The first sentence has the answer of each share, and says that the simulation cannot choose between them."""
    first, second, *_ = answer_lines(result(by_enough=shares(11, 12, None)))
    assert first == (
        "How much is enough depends on what counts as served: cylinders.fleet 11 if half the prescribed flow "
        "counts as served (as in the file), cylinders.fleet 12 if 80 % of it counts as served and none of the "
        "values tried if only the whole of it counts as served. The simulation cannot say which of these is "
        "right; each holds by itself, in it, with 95 % confidence. What follows is for 50 %, as in the file."
    )
    assert second.startswith("Under “mixed” cylinders.fleet 11 is enough")


def nothing(field, failures, left, **more):
    """Return what is said where none of some values is enough."""
    curve = [replace(point(9, count), values={field: str(9 + k)}) for k, count in enumerate(failures)]
    looked_at = replace(measured(**left), values=curve[-1].values)
    vary = (Sized(field, "", tuple(each.values[field] for each in curve)),)
    return said(answer=None, curve=curve, measured=looked_at, vary=vary, **more)


FALLING, FLAT, ALL = (50, 40, 30, 20, 10), (50, 12, 11, 11, 11), (100,) * 5
UPPER = "upper end of the range"


@pytest.mark.parametrize(
    ("field", "failures", "left", "words", "never"),
    [
        (FLEET, FALLING, {"no cylinder": 0.1}, f"What to try: raise the {UPPER}; against “no cylinder”", "From"),
        (
            "concentrators.count",
            FLAT,
            {"no cylinder": 0.1},
            "From concentrators.count 11 on, more of it lowers",
            UPPER,
        ),
        (
            "concentrators.count",
            FLAT,
            {"no cylinder": 0.1},
            "What to try: against “no cylinder” more cylin",
            "raise",
        ),
        (
            "power.battery.usable",
            FALLING,
            {"no power": 0.9},
            f"raise the {UPPER}; against “no power” a bat",
            "road",
        ),
        (FLEET, ALL, {"ran empty unseen": 1.0}, "(cylinders.gauge_check); no stock cures it", UPPER),
        ("resupply.order_up_to", FALLING, {"no cylinder": 0.1}, "a level above the fleet orders nothing", UPPER),
        (FLEET, FALLING, {"no regulator": 0.4}, "interrupted for: no regulator in 40 %.", "What to try"),
    ],
)
def test_what_to_try_follows_from_the_cause_that_is_left(field, failures, left, words, never):
    """More of what is sized only where that cures it and still helps; nothing where none asked about is left."""
    told = nothing(field, failures, left, causes=["no power", "no cylinder", "ran empty unseen"])
    assert words in told
    assert never not in told


def test_several_fields_are_listed_by_their_cost_under_one_word_each():
    """The cheapest first; a field is told by its whole path where one word does not tell it apart."""
    curve = [point(9, 40, cost=30.0), point(10, 9, cost=10.0), point(11, 1, cost=20.0)]
    vary = [Sized(field, "", ()) for field in (FLEET, "concentrators.count")]
    (table, *_) = tables(result(curve=curve, vary=vary, answer=answer(curve[2]), rules_of_thumb=[]))
    assert table.columns[0] == "fleet / concentrators"
    assert [row[0] for row in table.rows] == ["10", "11", "9"]
    assert short_names(["patients.a.flow", "patients.b.flow"]) == ["patients.a.flow", "patients.b.flow"]


def test_tables_mark_the_answer_and_rules_of_thumb():
    """The line that is enough is marked; a rule of thumb is told with how far it is off."""
    curve, thumb = tables(result())
    assert [row[-1] for row in curve.rows] == [
        "not shown to be enough",
        "not shown to be enough",
        "enough, the answer",
        "enough",
    ]
    assert thumb.rows[0][1:] == ("8", "-3", "60 %")
    (alone,) = tables(result(rules_of_thumb=[]))
    assert alone.columns[0] == FLEET
    unknown = result(answer=None, rules_of_thumb=[replace(result().rules_of_thumb[0], estimate=None)])
    assert tables(unknown)[1].rows[0][1:] == ("8", "-", "not known")


def test_a_long_curve_is_spaced_out_but_for_the_answer():
    """All points near the answer are shown, the others now and then; costs stand where there are prices."""
    curve = [point(fleet, 0, cost=100.0 + fleet) for fleet in range(1, 121)]
    (shown, *_) = tables(result(curve=curve, answer=answer(curve[59])))
    fleets = [int(row[0]) for row in shown.rows]
    assert {56, 57, 58, 59, 60, 61, 62, 63, 64} <= set(fleets)
    assert len(fleets) < 40
    assert shown.columns[-1] == "cost a year, USD"


def test_the_curve_as_csv():
    """A row a point, empty where there is no cost."""
    assert csv_columns(result())[:3] == (FLEET, "replications", "failures")
    assert csv_rows(result())[2] == [
        "11",
        100,
        1,
        0.01,
        0.005,
        pytest.approx(0.03),
        "enough in the simulation",
        "",
    ]


def test_the_curve_is_drawn_with_its_answer_and_rules(tmp_path):
    """Target, answer and rule of thumb are in the legend; without an answer none is; one field only."""
    figure = sizing_chart(result())
    told = [text.get_text() for text in figure.legends[0].get_texts()]
    assert told == ["95 % band, each value by itself", "estimate, 100 replications each", "target 5 %",
                    "enough: 11",
                    "rule of thumb, days of cover: 8"]  # fmt: skip
    save(figure, tmp_path / "curve.png")
    assert (tmp_path / "curve.png").stat().st_size > 10_000
    without = sizing_chart(result(answer=None, rules_of_thumb=[]))
    assert not any("enough" in text.get_text() for text in without.legends[0].get_texts())
    with pytest.raises(O2simError, match="a chart shows one field"):
        sizing_chart(result(vary=result().vary * 2))


def test_frequencies_have_a_size_that_shows_them():
    """Out of 100, or of 1,000 where that would be less than one."""
    assert [runs_of(0.05, 365), runs_of(0.002, 365)] == ["5 in 100 years", "2 in 1,000 years"]


def chance(share):
    """Return a probability with an interval."""
    return {"estimate": share, "low": max(0, share - 0.1), "high": min(1, share + 0.1), "confidence": 0.95}


def mean(value):
    """Return a mean with an interval, None for none."""
    return None if value is None else {"mean": value, "low": value - 1, "high": None}


def what_if(cost=100.0, changes=(), cuts=("1 h", "2 h", "30 h"), units=("1", "2"), complete=True):
    """Return a what-if over power cuts and units."""
    points = [
        {"values": {"cut": cut, "units": unit}, "scenario_hash": "0", "strategies": {
            name: {"stock_out_probability": chance(min(1, base * (1 + place))), "annual_cost": mean(cost),
                   "unserved_hours_for_want_of_supply": mean(10.0 * place)}
            for name, base in (("a", 0.02), ("b", 0.3))}}
        for place, cut in enumerate(cuts) for unit in units
    ]  # fmt: skip
    return {
        "scenario": "Ward", "replications": 50, "seed": 1, "complete": complete, "points": points, "budget": None,
        "points_asked_for": 9, "refused": [], "levels": None, "levels_moved": [], "levels_varied": [],
        "target": 0.05, "confidence": 0.95,
        "interval_holds": "chance in the simulation", "currency": "USD", "horizon_days": 365.0,
        "strategies": ["a", "b"], "break_evens": list(changes),
        "vary": [{"field": "cut", "unit": "h", "values": list(cuts)},
                 {"field": "units", "unit": "", "values": list(units)}],
        "clear": {"confidence": 0.95, "strategy_comparisons": 12, "value_comparisons": 27, "joined": [],
                  "leaders": [
            {"values": each["values"], "by": {
                "stock_out_probability": {"strategy": "a", "no_clear_difference": []}}} for each in points]},
    }  # fmt: skip


CHANGE = {"field": "cut", "unit": "h", "at": {"units": "1"}, "by": "chance of a stock-out", "from": "a", "to": "b",
          "value": 1.5, "between": [1, 2], "low": 1.2, "high": 1.8, "seen_in": 0.97}  # fmt: skip


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({}, ("cut 1.5 h\n  with units = 1\n  by chance of a supply shortfall", "1.2–1.8 h", "97 %", "a", "b")),
        ({"to": None, "by": "cost among those within the target"},
         ("cut 1.5 h\n  with units = 1\n  by cost, of those with a supply shortfall in at most 5 %", "1.2–1.8 h",
          "97 %",
          "a", "none")),
        ({"at": {}, "unit": "", "by": "cost", "low": None, "high": None, "seen_in": 0.0},
         ("cut 1.5\n  by cost, whatever the reliability", "-", "0 %\nnot sure", "a", "b")),
    ],
)  # fmt: skip
def test_break_evens_in_a_table(change, words):
    """Where, by what, its range, how often seen, and who is best on either side."""
    ((table),) = break_even_tables(what_if(changes=[{**CHANGE, **change}]))
    assert table.rows == (words,)


def test_a_budget_is_told_with_the_break_even():
    """Reliability at equal cost says what cost."""
    found = {**what_if(changes=[CHANGE]), "budget": 5000.0}
    assert (
        "chance of a supply shortfall, of those for at most USD 5,000 a year"
        in break_even_tables(found)[0].rows[0][0]
    )


def test_points_are_told_and_the_target_marked():
    """The star is at chances within the target; a long list is cut and said to be."""
    (table,) = best_tables(what_if(complete=False))
    assert table.rows[0] == (
        "1 h / 1",
        "2 % (0–12) *\n0 h (none seen)\nUSD 100 (no interval)",
        "30 % (20–40)\n0 h (none seen)\nUSD 100 (no interval)",
    )
    assert "Stopped: 6 of 9 points are shown." in asked(what_if(complete=False))
    (long,) = best_tables(what_if(cuts=[f"{hour} h" for hour in range(1, 41)], cost=None))
    assert (len(long.rows), "44 more points are not shown" in long.note) == (36, True)


def test_without_a_break_even_the_reason_is_told():
    """One strategy, one value, or the same best everywhere."""
    assert "same at all values" in no_break_even(what_if())
    assert "One strategy alone" in no_break_even({**what_if(), "strategies": ["a"]})
    assert "One value alone" in no_break_even(what_if(cuts=["1 h"], units=["1"]))
    assert no_break_even(what_if(changes=[CHANGE])) == ""
    assert break_even_tables(what_if()) == []


@pytest.mark.parametrize("measure", ["chance", "hours", "cost"])
def test_heat_maps_and_lines_are_drawn(measure):
    """A panel a strategy with its figures in the cells; the contour goes round what meets the target."""
    figure = heat_map(what_if(), measure)
    panels = figure.axes
    assert [panel.get_title(loc="left") for panel in panels] == ["a", "b"]
    assert len(panels[0].texts) == 6
    if measure == "chance":
        assert panels[0].texts[0].get_text() == "2 %\n(0–12)"
        assert len(panels[0].lines) == 8  # round four cells of 2 x 2: 1 h and 2 h, both units
        assert len(panels[1].lines) == 0
    drawn = lines(what_if(changes=[CHANGE]), measure)
    told = [text.get_text() for text in drawn.legends[0].get_texts()]
    assert told[:2] == ["a", "b"]
    assert ("break-even and its range" in told) == (measure == "chance")
    at = [[text.get_text() for text in panel.texts] for panel in drawn.axes]
    assert at == ([["break-even 1.5 h"], []] if measure == "chance" else [[], []])


def test_what_has_no_price_is_left_blank():
    """Without prices a strategy has dashes and no line; where none has any, there is no chart."""
    found = what_if()
    for each in found["points"]:
        each["strategies"]["a"]["annual_cost"] = None
    assert heat_map(found, "cost").axes[0].texts[0].get_text() == "-"
    assert [line.get_label() for line in lines(found, "cost").axes[0].lines] == ["b"]
    for draw in (heat_map, lines):
        with pytest.raises(O2simError, match="states no prices, so there is no cost to draw"):
            draw(what_if(cost=None), "cost")


def test_panels_wrap_and_the_rest_of_the_row_is_empty():
    """Four strategies are drawn in two rows of three panels."""
    found = what_if()
    found["strategies"] = ["a", "b", "a", "b"]
    assert sum(panel.axison for panel in heat_map(found).axes) == 4


def test_words_and_narrow_ranges_have_axes_of_their_own():
    """Values that are no numbers stand side by side; values that multiply stand on a logarithmic axis."""
    assert lines(what_if(cuts=("watched", "2 h"))).axes[0].get_xscale() == "linear"
    assert lines(what_if(cuts=("1 h", "2 h", "3 h"))).axes[0].get_xscale() == "linear"
    assert lines(what_if()).axes[0].get_xscale() == "log"
    with pytest.raises(O2simError, match="a heat map needs two fields"):
        heat_map({**what_if(), "vary": what_if()["vary"][:1]})
