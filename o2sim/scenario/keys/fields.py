"""Every key of a scenario file in one place: its kind, limits, default, where the default comes from, and help."""

from __future__ import annotations

from collections.abc import Iterator
from typing import get_args

from o2sim.quantities import units
from o2sim.scenario.keys.field import (
    COMMON,
    CONVENTION,
    HIGHEST_FLOW,
    HIGHEST_GAUGE,
    LONGEST,
)
from o2sim.scenario.keys.field import Field as Field
from o2sim.scenario.keys.field import FieldKind as FieldKind
from o2sim.scenario.keys.field import Section as Section
from o2sim.scenario.keys.field import time_field as _time
from o2sim.scenario.keys.field import whole_field as _whole
from o2sim.scenario.keys.record import section_of
from o2sim.scenario.text.problems import listing
from o2sim.scenario.types.bedside_types import DEVICES, VALVES, Bedside, RegulatorSet, Splitters
from o2sim.scenario.types.manifold_types import Manifold
from o2sim.scenario.types.power_types import Concentrators, Power
from o2sim.scenario.types.types import EXAMPLE, OURS
from o2sim.scenario.types.ward_types import MOST_WARDS, Moving, StoreAccess, Ward

LONGEST_TEXT = 2_000  # characters

IF_UNSERVED = (("wait", "wait"), ("transfer", "transfer"))
SEASON = Section(
    (
        Field("peak", "month or date", "when admissions are highest; a month means its 15th"),
        Field("ratio", "number", "admissions at the peak over those at the trough", least="1", most="1000"),
        Field("monthly_factors", "numbers", "twelve factors from January on, scaled to a mean of 1 by day"),
    ),
    instead=(
        ("monthly_factors", ("peak", "ratio")),
        ("peak", ("monthly_factors",)),
        ("ratio", ("monthly_factors",)),
    ),
)
SURGE = Section(
    (
        Field("from", "date", "first day", required=True),
        Field("length", "law of duration", "how long it lasts", required=True, most=LONGEST),
        Field("multiplier", "number", "of admissions", required=True, least="1", most="1000"),
    )
)
FLOW_STEP = Section(
    (
        _time("after", "from when on, since oxygen was begun", required=True, least="1 s"),
        Field("share", "share", "of the first flow", required=True, least="1 %"),
    )
)
REGISTER = Section(
    (
        Field("file", "text", "a CSV file with columns arrival, class, flow (L/min) and hours", required=True),
        Field(
            "use",
            "word",
            "admissions as they were, or whole recorded days drawn at random",
            "replay",
            CONVENTION,
            words=(("replay", False), ("resample", True)),
        ),
    )
)
TRANSFER = Section(
    (
        _time("after", "sent on when unserved for so long, at least the tolerated gap", required=True),
        _time("travel", "time on the way", required=True),
        Field("oxygen", "word", "whether the vehicle carries its own", "on board", CONVENTION,
              words=(("on board", True), ("none", False))),
    )
)  # fmt: skip
PATIENT_CLASS = Section(
    (
        Field("admissions", "rate", "all admissions of the class, the yearly mean", required=True,
              most="10000 / day", recorded=True),
        Field("hypoxaemic", "share", "the share of them that needs oxygen", "100 %", CONVENTION),
        Field("flow", "law of flow", "prescribed flow of one patient", required=True, most=HIGHEST_FLOW,
              recorded=True),
        Field("duration", "law of duration", "time on oxygen", required=True, most=LONGEST, recorded=True),
        _whole("priority", "1 is served first; a modelling order, not triage", "1", 1, 9, mark=CONVENTION),
        Field("ward", "text", "where they lie; needed where wards are named", otherwise="no wards"),
        Field("if_unserved", "word", "what one who cannot be served on arrival does", words=IF_UNSERVED,
              otherwise="if_unserved of the scenario"),
        Field("recognised", "share", "of those in need, the share found and given oxygen", "100 %", CONVENTION),
        Field("given_without_need", "share", "of the others, the share given oxygen all the same", "0 %",
              CONVENTION),
        Field("weaned_late", "law of duration", "how much longer than needed oxygen is given", least="0 s",
              most=LONGEST, words=(("never", None),), otherwise="weaned when the need ends"),
        Field("season", "section", "how admissions swing over the year", section=SEASON,
              words=(("none", None),), otherwise="no season"),
        Field("surges", "list of sections", "times with more admissions", section=SURGE, otherwise="no surges"),
        Field("overdispersion", "number", "variance over mean of the number of admissions a day", "1",
              "Poisson", least="1", most="1000"),
        Field("flow_steps", "list of sections", "how the flow is turned down as a patient improves",
              section=FLOW_STEP, otherwise="the flow stays as it is"),
        Field("transfer", "section", "those of the class who wait too long are sent on", section=TRANSFER,
              words=(("none", None),), otherwise="transfer of the scenario"),
        Field("register", "register", "recorded patients on oxygen, in place of admissions, flow and duration",
              section=REGISTER, words=(("none", None),), otherwise="admissions are drawn"),
        Field("size", "word", "of prongs, catheters and masks, for `o2sim equipment`",
              words=tuple((word, word) for word in ("preterm", "newborn", "infant", "child", "adult")),
              otherwise="the list names the class instead"),
        Field("delivery", "word", "how oxygen is given; counts where humidifiers or delivery sets are limited",
              words=tuple((word, word) for word in DEVICES), otherwise="limited by nothing"),
    ),
    instead=(
        ("register", ("admissions", "flow", "duration", "hypoxaemic", "given_without_need", "season", "surges",
                      "overdispersion", "flow_steps")),
        ("admissions", ("register",)),
    ),
)  # fmt: skip
MISSED_CHECK = Section(
    (
        Field("day", "share", "chance that a check of one gauge is not made by day", "0 %", CONVENTION),
        Field("night", "share", "the same by night", "0 %", CONVENTION),
    )
)
DAY_HOURS = Section(
    (
        Field("from", "clock", "when the day's staff begin", "07:00", CONVENTION),
        Field("to", "clock", "when the night's staff begin", "19:00", CONVENTION),
    )
)
STAFF = Section(
    (
        _whole("day", "staff who connect and change by day", None, 1, 1_000, required=True),
        _whole("night", "staff who connect and change by night", None, 1, 1_000, required=True),
        _time(
            "connect_time",
            "to connect one who arrives or waits, or to move one back to a unit",
            "0 min",
            CONVENTION,
        ),
    )
)
UNDERFILLED = Section(
    (
        Field("share", "share", "of the delivered cylinders that work", required=True),
        Field("content", "law of share", "what such a one holds, of a full one", required=True, most="100 %"),
    )
)
CYLINDERS = Section(
    (
        Field("water_capacity", "volume", "volume of the shell", least="0.1 L", most="10000 L",
              otherwise="content instead"),
        Field("filling_pressure", "pressure", "gauge pressure of a full cylinder", "13.7 MPa", COMMON,
              least="100 kPa", most=HIGHEST_GAUGE),
        Field("fill_temperature", "temperature", "temperature at which the filling pressure is read", "15 degC",
              "the temperature at which litres are counted", least="-40 degC", most="70 degC"),
        Field("content", "volume", "gas in a full cylinder, in place of water capacity and temperature",
              least="1 L", most="10000000 L", otherwise="from water_capacity"),
        Field("residual_pressure", "pressure", "taken off service at this gauge pressure", "800 kPa", COMMON,
              most=HIGHEST_GAUGE),
        Field("flow_lost_below", "pressure", "gauge pressure at which a set flow fades", "400 kPa", COMMON,
              most=HIGHEST_GAUGE),
        _whole("fleet", "cylinders in all places together", None, 0, 100_000, required=True),
        _whole("full_at_start", "full ones when the warm-up starts", None, 0, 100_000, otherwise="fleet"),
        _whole("regulators", "sets of regulator and flowmeter", None, 0, 100_000,
               otherwise="fleet; with wards their sum"),
        Field("regulator_sets", "list of sections", "kinds of sets by flowmeter and valve, in place of regulators",
              section=section_of(RegulatorSet), otherwise="regulators, for any flow"),
        Field("valve", "word", "fitting of the cylinders", words=VALVES, otherwise="fits any regulator"),
        Field("splitters", "section", "several patients on one cylinder, each at a flow of its own",
              section=section_of(Splitters), words=(("none", None),), otherwise="one patient on a cylinder"),
        Field("leak", "flow", "lost at the joints while a cylinder is open", "0 L/min", CONVENTION,
              most=HIGHEST_FLOW),
        _time("gauge_check", "time between looks at the gauges, from midnight on", "2 h", COMMON,
              words=(("watched", 0),)),
        Field("check_times", "clock times", "looks at the gauges at clock times, in place of gauge_check",
              otherwise="gauge_check"),
        Field("missed_check", "section", "chance that a look at one gauge is missed", section=MISSED_CHECK,
              otherwise="none is missed"),
        Field("gauge_error", "pressure", "one standard deviation of a gauge, drawn for each cylinder", "0 kPa",
              CONVENTION, most="5 MPa"),
        Field("change_when", "word", "when a look leads to a change: at residual pressure, or also when the "
              "cylinder will not last until the next look", "residual", COMMON,
              words=(("residual", "residual"), ("will_not_last", "will_not_last"))),
        Field("left_open", "share", "of cylinders taken off, the share left open until empty", "0 %", CONVENTION),
        _time("change_time", "time to change a cylinder", "10 min", COMMON),
        Field("unusable", "share", "of delivered cylinders, found out on opening and set aside: another change",
              "0 %", CONVENTION, most="50 %"),
        Field("underfilled", "section", "delivered cylinders that hold less than a full one", section=UNDERFILLED,
              words=(("none", None),), otherwise="all are full"),
        Field("refused", "share", "of empties, when they are to be filled: condemned, gone from the fleet",
              "0 %", CONVENTION),
        Field("loss", "rate", "cylinders of the fleet that go missing, those not in use", "0 / year", CONVENTION,
              most="100 / day"),
    ),
    instead=(
        ("content", ("water_capacity", "fill_temperature")),
        ("water_capacity", ("content",)),
        ("check_times", ("gauge_check",)),
        ("gauge_check", ("check_times",)),
        ("regulators", ("regulator_sets",)),
        ("regulator_sets", ("regulators",)),
    ),
)  # fmt: skip
ROAD_CLOSURE = Section(
    (
        Field("from", "date", "first day", otherwise="the first day of the run, where there is a chance"),
        Field("to", "date", "last day, inclusive", otherwise="the last day of the run, where there is a chance"),
        Field("chance_per_day", "share", "chance that a closure starts on a day",
              otherwise="closed on all the days"),
        Field("length", "law of duration", "how long a drawn closure lasts", most=LONGEST,
              otherwise="needed with chance_per_day"),
    )
)  # fmt: skip
PART_DELIVERY = Section(
    (
        Field("chance", "share", "that an order is not delivered whole", required=True),
        Field("share", "law of share", "what comes of such an order, at least one cylinder", required=True,
              most="100 %"),
    )
)  # fmt: skip
EMERGENCY = Section(
    (
        _whole("below", "ordered when full, part-used and in an emergency order are fewer", None, 1, 100_000,
               otherwise="cover instead"),
        _time("cover", "or when the shelf lasts a shorter time at the present flow", otherwise="below instead",
              least="1 min"),
        _time("days_of_cover", "or when what is on hand, in use too, lasts a shorter time at the greater of the "
              "last 7 days' use and the season's mean need", otherwise="below instead", least="1 min"),
        _whole("up_to", "level of full ones that an emergency order restores", None, 1, 100_000,
               otherwise="reorder_point, at least `below`"),
        Field("lead_time", "law of duration", "from emergency order to delivery on open roads", required=True,
              least="0 s", most=LONGEST),
        _whole("vehicle_capacity", "cylinders one emergency trip can carry", None, 1, 100_000,
               words=(("none", None),), otherwise="no limit"),
        _whole("minimum_order", "no emergency order is placed for fewer", "1", 1, 100_000, mark=CONVENTION),
    ),
    instead=(
        ("below", ("cover", "days_of_cover")),
        ("cover", ("below", "days_of_cover")),
        ("days_of_cover", ("below", "cover")),
    ),
)  # fmt: skip
RESUPPLY = Section(
    (
        _time("review", "time between reviews of the stock, or `continuous`", "7 days", COMMON, "1 min",
              words=(("continuous", None),)),
        _whole("reorder_point", "order when full and on order are at or below this", None, 0, 100_000,
               otherwise="order_up_to - 1"),
        _whole("order_up_to", "level that an order restores", None, 0, 100_000, otherwise="fleet of cylinders"),
        Field("lead_time", "law of duration", "from order to delivery on open roads", required=True,
              least="0 s", most=LONGEST),
        _whole("vehicle_capacity", "cylinders one trip can carry", None, 1, 100_000, words=(("none", None),),
               otherwise="no limit"),
        _whole("minimum_order", "no order is placed for fewer", "1", 1, 100_000, mark=CONVENTION),
        Field("overtaking", "word", "whether a later order may arrive before an earlier one", "not allowed",
              COMMON,
              words=(("allowed", True), ("not allowed", False), ("true", True), ("false", False))),
        Field("road_closures", "list of sections", "days without deliveries, dated or drawn", section=ROAD_CLOSURE,
              otherwise="roads always open"),
        Field("mode", "word", "full for empty at the door, or the place's own cylinders sent to be filled",
              "exchange", COMMON, words=(("exchange", False), ("own cylinders", True))),
        Field("part_delivery", "section", "the supplier brings a part of an order, the rest is cancelled",
              section=PART_DELIVERY, words=(("none", None),), otherwise="orders come whole"),
        Field("supplier_outages", "list of sections", "days on which no order is taken up, dated or drawn",
              section=ROAD_CLOSURE, otherwise="the supplier always delivers"),
        Field("no_delivery", "weekdays", "days of the week without deliveries", otherwise="any day"),
        Field("emergency", "section", "an order outside the rule when the shelf is low", section=EMERGENCY,
              words=(("none", None),), otherwise="no emergency orders"),
    )
)  # fmt: skip
_PRICE = Field("price", "money", "to buy one", "0")
_LIFE = _time("life", "years it lasts", "10 years", COMMON, "1 day")
_SALVAGE = Field("salvage", "money", "what one brings at the end of its life", "0")
_UPKEEP = Field("service", "money a year", "each unit", "0")
COSTS = Section(
    (
        Field("currency", "currency", "three capitals; every price is in it", "USD", CONVENTION),
        Field("discount_rate", "share", "a year, real", "3 %", "usual in health economics, from memory"),
        Field("cylinders", "section", "", section=Section((
            _PRICE, _LIFE, _SALVAGE,
            Field("rent", "money a year", "each", "0"),
            Field("refill", "money", "each cylinder filled", "0"),
        ))),
        Field("regulators", "section", "", section=Section((_PRICE, _LIFE, _SALVAGE))),
        Field("splitters", "section", "flow splitters", section=Section((_PRICE, _LIFE, _SALVAGE))),
        Field("humidifiers", "section", "where their number is limited", section=Section((
            _PRICE, _LIFE, _SALVAGE))),
        Field("concentrators", "section", "", section=Section((
            _PRICE, _LIFE, _SALVAGE,
            _UPKEEP,
            Field("repair", "money", "each failure", "0"),
        ))),
        Field("oxygen_monitor", "section", "each unit's, where units have one", section=Section((
            _PRICE, _LIFE, _SALVAGE))),
        Field("analyser", "section", "one, where units are checked with it", section=Section((
            _PRICE, _LIFE, _SALVAGE))),
        Field("generator", "section", "the generator, where there is one", section=Section((
            _PRICE, _LIFE, _SALVAGE, _UPKEEP))),
        Field("battery", "section", "battery and inverter", section=Section((_PRICE, _LIFE, _SALVAGE))),
        Field("solar", "section", "all panels together", section=Section((_PRICE, _LIFE, _SALVAGE))),
        Field("stabiliser", "section", "all stabilisers together", section=Section((_PRICE, _LIFE, _SALVAGE))),
        Field("manifold", "section", "the manifold with its pipework and outlets", section=Section((
            _PRICE, _LIFE, _SALVAGE, _UPKEEP))),
        Field("transport", "section", "", section=Section((
            Field("trip", "money", "each delivery", "0"),
            Field("cylinder", "money", "each cylinder delivered", "0"),
        ))),
        Field("emergency", "section", "on top of refill and transport, for emergency orders", section=Section((
            Field("trip", "money", "each delivery", "0"),
            Field("cylinder", "money", "each cylinder delivered", "0"),
        ))),
        Field("electricity", "money a kWh", "price of electricity from the grid", "0"),
        Field("fuel", "money a litre", "price of the generator's fuel", "0"),
        Field("consumables", "money", "each patient", "0"),
        Field("transfer", "money", "each patient transferred", "0"),
    )
)  # fmt: skip
ALLOCATION = Section(
    (
        Field("preempt", "true or false",
              "in the model a higher priority may take a source from the lowest when none is free",
              "false", CONVENTION),
        _whole("reserve", "the last cylinders on hand, kept for high priorities", "0", 0, 1_000, mark=CONVENTION),
        _whole("reserve_priority", "the reserve is for this priority and lower numbers", "1", 1, 9,
               mark=CONVENTION),
        Field("first_unit", "word", "which concentrator with room a patient gets", "lowest number", CONVENTION,
              words=tuple((word, word) for word in ("lowest number", "least loaded", "most loaded"))),
        Field("reduced_flow", "word", "who takes a part of the prescribed flow from a concentrator rather than "
              "nothing: those who need more than its rated flow, nobody, or anybody", "above rated flow",
              "nobody gives nothing beside a concentrator",
              words=tuple((word, word) for word in ("above rated flow", "never", "any"))),
        Field("two_units", "true or false", "a flow above the rated flow may come from two concentrators", "false",
              CONVENTION),
    )
)  # fmt: skip
SOURCES = Field("sources", "sources", "where oxygen comes from, the first choice first", required=True)
# What a strategy may change: laid over the scenario key by key, for that strategy alone.
CHANGEABLE = (
    _time("response_time", "staff connect another source after a loss of supply", "5 min", COMMON),
    Field("if_unserved", "word", "what one who cannot be served on arrival does", "wait", CONVENTION,
          words=IF_UNSERVED),
    Field("transfer", "section", "patients who wait too long are sent on", section=TRANSFER,
          words=(("none", None),), otherwise="nobody is sent on"),
    Field("return_to_concentrator", "true or false", "patients go back from cylinders when one has room", "true",
          CONVENTION),
    Field("patients", "named sections", "classes of patients", required=True, section=PATIENT_CLASS, most="50"),
    Field("cylinders", "section", "cylinders, all of one type", section=CYLINDERS, otherwise="no cylinders"),
    Field("resupply", "section", "the reorder rule and the road", section=RESUPPLY, words=(("none", None),),
          otherwise="no resupply"),
    Field("manifold", "section", "two banks of cylinders that feed piped outlets", section=section_of(Manifold),
          otherwise="no manifold"),
    Field("concentrators", "section", "a number of like units", section=section_of(Concentrators),
          otherwise="no concentrators"),
    Field("power", "section", "the grid and what stands behind it", section=section_of(Power),
          otherwise="the grid is always up"),
    Field("staff", "section", "hands to connect and change; others wait their turn", section=STAFF,
          otherwise="somebody is always free"),
    Field("day_hours", "section", "what counts as day for staff and checks", section=DAY_HOURS,
          otherwise="07:00 to 19:00"),
    Field("allocation", "section", "who gives way to whom, and which unit comes first", section=ALLOCATION,
          otherwise="no pre-emption, no reserve, the lowest-numbered unit, reduced flow above the rated flow"),
    Field("wards", "named sections", "sources are shared within a ward only", section=section_of(Ward), most=MOST_WARDS,
          words=(("none", None),), otherwise="one ward, everything is shared"),
    Field("store", "section", "the central store, from where cylinders are fetched", section=section_of(StoreAccess),
          otherwise="cylinders are at hand"),
    Field("moving", "section", "an idle unit is moved to another ward where somebody waits", section=section_of(Moving),
          words=(("never", None),), otherwise="units stay on their ward"),
    Field("bedside", "section", "humidifiers and delivery sets, whatever the source", section=section_of(Bedside),
          otherwise="unlimited"),
    Field("costs", "section", "prices", section=COSTS, otherwise="no costs are told"),
)  # fmt: skip
OPTIONS = Section(
    (
        Field("of", "text", "the strategy that is varied", required=True),
        Field("vary", "choices", "what is varied, in every combination: a dotted key of a strategy with a list of "
              "values, or a name with named sets of changes", required=True),
    )
)  # fmt: skip
STRATEGY = Section((SOURCES, *CHANGEABLE))
TOP = Section(
    (
        Field("name", "text", "what the facility is called", otherwise="the name of the file"),
        Field("about", "text", "a line about it", ""),
        Field("figures", "word", "`ours` once every figure here is the hospital's own: sheets to hang up need it",
              EXAMPLE, CONVENTION, words=((EXAMPLE, EXAMPLE), (OURS, OURS))),
        Field("start", "date", "first day of the horizon", "2027-01-01", CONVENTION),
        _time("horizon", "how long is counted", "365 days", CONVENTION, "1 min"),
        _time("warm_up", "run before the horizon, not counted", "0 days", CONVENTION),
        _time("tolerated_gap", "a longer gap is an interruption; for counting, not a safe time", "10 min",
              CONVENTION),
        Field("altitude", "length", "above the sea; concentrators give less above 2000 m", "0 m", CONVENTION,
              most="6000 m"),
        *CHANGEABLE,
        Field("strategies", "named sections", "named changes to the scenario to compare", section=STRATEGY,
              most="20", otherwise="one for each source there is, and mixed where there are several"),
        Field("options", "section", "what might be bought, for `o2sim compare --options`", section=OPTIONS,
              otherwise="no options"),
    )
)  # fmt: skip

_ALLOWED = {
    "date": "a date such as 2027-04-01",
    "month or date": "a month such as may, or a date such as 2027-05-15",
    "text": f"a text of at most {LONGEST_TEXT} characters",
    "currency": "three capital letters such as USD",
    "clock": "a time of day such as 07:00",
    "clock times": "a list of times of day such as [06:00, 14:00, 22:00], in order",
    "numbers": "a list of twelve numbers, January first",
    "sources": "a list of concentrator, cylinder and manifold, each at most once",
    "register": "a mapping such as {file: admissions.csv}",
    "money": "money such as 648 USD",
    "money a year": "money such as 30 USD/year",
    "money a kWh": "money such as 0.18 USD/kWh",
    "money a litre": "money such as 1.10 USD/L",
    "fuel rate": "litres of fuel an hour such as 0.95 L/h",
    "weekdays": "a list of days such as [mon, tue, sat]",
    "choices": "keys with lists of values such as {cylinders.fleet: [20, 40, 60]}",
}


def allowed(item: Field) -> str:
    """Return what may stand at a key, for messages."""
    words = [word for word, _ in item.words]
    plain = item.kind.removeprefix("law of ")
    if item.kind == "word":
        return listing(words)
    if item.kind == "whole":
        text = f"a whole number from {item.least} to {item.most}"
    elif plain in get_args(units.Kind):
        text = units.allowed(plain)  # type: ignore[arg-type]
    elif item.kind in ("section", "list of sections"):
        assert item.section is not None
        text = (
            f"{'a list of mappings' if item.kind != 'section' else 'a mapping'} of {', '.join(item.section.names)}"
        )
    elif item.kind == "named sections":
        text = f"a mapping of names, each with {', '.join(item.section.names) if item.section else ''}"
    else:
        text = _ALLOWED.get(item.kind, item.kind)
    if item.kind.startswith("law of "):
        text += ", or a law such as {gamma: {mean: ..., sd: ...}}"
    return f"{text}, or {listing(words)}" if words else text


def documented(section: Section = TOP, path: str = "") -> Iterator[tuple[str, Field]]:
    """Yield (dotted path, field) for every key; `*` stands for a name, `[]` for a place in a list."""
    for field in section.fields:
        here = f"{path}{field.name}"
        yield here, field
        if field.name == "strategies":
            yield "strategies.*.sources", SOURCES  # and all that is CHANGEABLE
        elif field.section is not None:
            inside = {"named sections": ".*.", "list of sections": "[]."}.get(field.kind, ".")
            yield from documented(field.section, here + inside)


def home(name: str) -> str:
    """Return where a key belongs, for one that stands in the wrong place; an empty text for an unknown name."""
    for path, field in documented():
        if field.name == name:
            above = path.rpartition(".")[0].removesuffix(".*").removesuffix("[]")
            return f"it belongs in {above}; check the indentation" if above else "it belongs at the left margin"
    return ""
