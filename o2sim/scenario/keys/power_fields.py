"""The keys of the concentrators and of the power chain behind them; fields.py has the rest of the table."""

from __future__ import annotations

from o2sim.scenario.keys.field import (
    COMMON,
    CONVENTION,
    HIGHEST_FLOW,
    LONGEST,
    WHO_2019,
    Field,
    Section,
    whole_field,
)
from o2sim.scenario.keys.field import time_field as _time

HIGHEST_POWER = "1000 kW"
ASSUMED = "assumption of o2sim"

CONCENTRATORS = Section(
    (
        whole_field("count", "units at the facility", None, 0, 1_000, required=True, summed=True),
        Field("rated_flow", "flow", "flow one unit can give", required=True, least="0.01 L/min",
              most=HIGHEST_FLOW),
        whole_field("outlets", "patients one unit can serve at once", "1", 1, 100, mark=CONVENTION),
        Field("power", "power", "drawn while running, whatever the flow", mark=WHO_2019, most=HIGHEST_POWER,
              otherwise="70 W per L/min of rated flow"),
        Field("failure", "law of duration", "time to failure", least="1 min", most=LONGEST,
              words=(("never", None),), otherwise="never fails"),
        Field("failure_clock", "word", "what wears a unit: running hours or calendar time",
              words=(("running", "running"), ("calendar", "calendar")), otherwise="running", mark=COMMON),
        Field("repair", "law of duration", "out of service; without a crew the wait for the technician included",
              least="1 min", most=LONGEST, otherwise="needed with failure, cut_damage or drift"),
        Field("never_repaired", "share", "share of failures after which a unit is written off", "0 %",
              CONVENTION),
        Field("cut_damage", "share", "chance that a unit fails as the grid comes back, without a stabiliser",
              "0 %", CONVENTION),
        whole_field("crew", "technicians: as many units can be under repair at once", None, 1, 1_000,
                    words=(("unlimited", None),), otherwise="unlimited, each unit its own"),
        Field("travel", "law of duration", "a technician's way to the facility, before a repair; needs a crew",
              most=LONGEST, least="0 s", otherwise="no time"),
        _time("start_up", "low concentration for so long after each start", "0 min", CONVENTION),
        Field("drift", "law of duration", "running time in which a unit falls from 93 % to 82 % oxygen",
              least="1 min", most=LONGEST, words=(("never", None),), otherwise="never drifts"),
        Field("oxygen_monitor", "true or false", "units with a monitor are taken out at the alarm level", "false",
              CONVENTION),
        Field("alarm_level", "share", "oxygen at which the monitor alarms", "82 %", WHO_2019, least="50 %",
              most="92.9 %"),
        _time("analyser_check", "time between checks with an analyser, from midnight on; finds units below 82 %",
              None, least="1 min", words=(("never", None),), otherwise="never"),
        _time("service_every", "running time between preventive services, which undo drift", None, least="1 h",
              words=(("never", None),), otherwise="never"),
        _time("service_time", "out of service for a preventive service", "4 h", ASSUMED),
    )
)  # fmt: skip
_FROM = Field("from", "clock", "when it begins", required=True)
_TO = Field("to", "clock", "when it ends; past midnight where it is not after `from`", required=True)
WINDOW = Section((_FROM, _TO))
SHEDDING = Section((_FROM, _TO, Field("days", "weekdays", "days on which it begins", otherwise="every day")))
GRID = Section(
    (
        Field("up", "law of duration", "time with power", least="1 min", most=LONGEST, otherwise="file instead"),
        Field("down", "law of duration", "length of a power cut", least="1 min", most=LONGEST,
              otherwise="file instead"),
        Field("file", "text", "recorded cuts: a CSV file with columns start,end or start,hours",
              otherwise="up and down"),
    ),
    instead=(("file", ("up", "down")), ("up", ("file",)), ("down", ("file",))),
)  # fmt: skip
VOLTAGE = Section(
    (
        Field("good", "law of duration", "time with a usable voltage", required=True, least="1 min", most=LONGEST),
        Field("bad", "law of duration", "time with a voltage no unit can use", required=True, least="1 min",
              most=LONGEST),
    )
)  # fmt: skip
REFUEL = Section(
    (
        Field("reorder_at", "volume", "fuel is ordered when the tank holds this or less", required=True,
              most="1000000 L"),
        Field("lead_time", "law of duration", "from order to a full tank", required=True, least="1 min",
              most=LONGEST),
    )
)  # fmt: skip
FUEL = Section(
    (
        Field("idle", "fuel rate", "used without load", "0.95 L/h", ASSUMED, most="1000 L/h"),
        Field("per_kW", "fuel rate", "more for each kW of load", "0.26 L/h", ASSUMED, most="10 L/h"),
    )
)  # fmt: skip
DERATING = Section(
    (
        Field("lost", "share", "share of the stated power lost for each 1,000 m", required=True, most="50 %"),
        Field("above", "length", "above this height", "300 m", COMMON, most="6000 m"),
    )
)  # fmt: skip
GENERATOR = Section(
    (
        Field("started_by", "word", "who starts it: for staff it is a job, before all others", "operator",
              CONVENTION, words=(("operator", False), ("staff", True))),
        Field("start_when", "word", "started when the grid fails, or later, when the battery is low",
              words=(("grid fails", False), ("battery low", True)), otherwise="grid fails", mark=CONVENTION),
        Field("start_below", "share", "the battery is low at or below this charge; needs start_when: battery low",
              mark=ASSUMED, otherwise="30 % where it starts when the battery is low"),
        _time("start_delay", "from the loss of the grid, or a low battery, to power; or the staff's job", "5 min",
              ASSUMED),
        _time("night_delay", "the same at night, for an operator", None, otherwise="start_delay"),
        Field("night", "section", "when night_delay holds", section=WINDOW, otherwise="from 20:00 to 06:00"),
        Field("start_chance", "share", "chance that it starts; else it stays failed until repaired", "100 %",
              CONVENTION),
        Field("running_failure", "law of duration", "running time to a failure", least="1 min", most=LONGEST,
              words=(("never", None),), otherwise="never fails"),
        Field("repair", "law of duration", "failed for so long", "2 days", CONVENTION, least="1 min",
              most=LONGEST),
        Field("hours", "list of sections", "times of day when it may run", section=WINDOW,
              otherwise="at any time"),
        Field("power", "power", "the most it gives", least="1 W", most=HIGHEST_POWER, words=(("no limit", None),),
              otherwise="no limit"),
        Field("derating", "section", "the power that is lost with altitude; needs a power", section=DERATING,
              words=(("none", None),), otherwise="none: the stated power holds at any altitude"),
        Field("base_load", "power", "what else hangs on it", "0 W", CONVENTION, most=HIGHEST_POWER),
        Field("fuel", "section", "fuel used", section=FUEL),
        Field("tank", "volume", "fuel it holds, full at first", least="0.1 L", most="1000000 L",
              words=(("no limit", None),), otherwise="fuel without end"),
        Field("refuel", "section", "how the tank is filled again", section=REFUEL,
              otherwise="the tank is never filled again"),
    )
)  # fmt: skip
BATTERY = Section(
    (
        Field("usable", "energy", "what it gives from full to empty, full at first", required=True,
              most="100 MWh"),
        Field("charge", "power", "the most it takes while charged", required=True, most="10 MW"),
        Field("charge_efficiency", "share", "stored of what it takes", "85 %", "lead-acid, common practice",
              least="1 %"),
        Field("inverter", "power", "the most the inverter gives", least="1 W", most="10 MW",
              words=(("no limit", None),), otherwise="no limit"),
        Field("inverter_efficiency", "share", "given of what the inverter takes", "90 %", COMMON, least="1 %"),
        Field("reconnect", "share", "once empty in a cut it serves again from this charge on", "20 %", ASSUMED,
              least="1 %"),
        Field("gather", "true or false", "while it carries the units, patients are moved to as few as will do",
              "false", CONVENTION),
    )
)  # fmt: skip
SOLAR = Section(
    (
        Field("peak", "power", "panels at full sun", required=True, most="10 MW"),
        Field("clearness", "law of share", "what a day gives of a full day's sun, drawn for each day", "60 %",
              ASSUMED, most="100 %"),
        Field("sunrise", "clock", "a half sine from here", "06:00", ASSUMED),
        Field("sunset", "clock", "to here", "18:00", ASSUMED),
    )
)  # fmt: skip
NONE = (("none", None),)
POWER = Section(
    (
        Field("grid", "section", "times with and without power, in turn, or recorded", section=GRID,
              words=(("always", "always"), ("none", "none")), otherwise="always"),
        Field("load_shedding", "list of sections", "cuts by time of day, beside those of the grid",
              section=SHEDDING, otherwise="no load shedding"),
        Field("voltage", "section", "the grid is on, but its voltage unusable by turns", section=VOLTAGE,
              words=NONE, otherwise="always usable"),
        Field("stabiliser", "true or false", "units stand behind a voltage stabiliser: bad voltage and surges are "
              "kept from them", "false", CONVENTION),
        Field("generator", "section", "starts when the grid is lost", section=GENERATOR, words=NONE,
              otherwise="no generator"),
        Field("battery", "section", "battery with inverter: carries the units without a break", section=BATTERY,
              words=NONE, otherwise="no battery"),
        Field("solar", "section", "panels that charge the battery and feed its inverter", section=SOLAR,
              words=NONE, otherwise="no panels"),
        Field("shed_first", "word", "which unit stops when the power cannot carry all", "highest number",
              CONVENTION, words=(("highest number", "number"), ("fewest patients", "patients"))),
    )
)  # fmt: skip
