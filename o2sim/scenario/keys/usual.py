"""What the numbers of a scenario usually are, by key: least, most, how they are written, where that comes from.

A number outside is legal and may be right. What lies in the range raises no doubt, and every default does.
"""

from __future__ import annotations

from dataclasses import dataclass

from o2sim.scenario.keys.field import COMMON
from o2sim.scenario.keys.sources import FROM_MEMORY, LIVES_7_YEARS, TESTS, WHO_2016, WHO_2019

MONEY_OF_RANGES = ("USD", "EUR", "GBP")  # of like worth: in no other currency is a price judged by its range
THREE_DECIMALS = ("BHD", "IQD", "JOD", "KWD", "LYD", "OMR", "TND")  # ISO 4217, from memory: 1.450 is no slip
_STOCK = "how many there are, not how many are used in a year, nor litres of gas"
_HANDS = f"{COMMON}: minutes, not hours"
_SHELLS = f"shells from 1 L to 50 L are in use, liquid apart: {COMMON}"
_PRICES = f"{FROM_MEMORY}: lists of suppliers and agencies, in dollars"


@dataclass(frozen=True)
class Usual:
    """The usual range of one key, as one would write it; of a law, that of its mean.

    units: how it is usually written, the likeliest first: tried in place of the unit found. A 0 raises no doubt
    unless zero says why it should, and the key unless is not stated beside it; nor does the number fine. spread:
    how far beyond the range the least and the most that a law gives may lie, as factors. low, high: the likely
    cause, and what to do, where no other unit explains the number. instead: the key that a number above the range
    looks like.
    """

    least: str
    most: str
    units: tuple[str, ...]
    source: str
    low: str = "check the number and its unit"
    high: str = "check the number and its unit"
    zero: str = ""
    unless: str = ""
    fine: str = ""
    spread: tuple[float, float] = (20.0, 10.0)
    instead: str = ""


_DAYS, _HOURS, _MINUTES = ("days", "h", "weeks", "months"), ("h", "days", "min"), ("min", "h", "s")
_FLOW, _PRESSURE = ("L/min", "L/h", "mL/min"), ("bar", "kPa", "psi", "MPa")
_W, _KWH, _PERCENT = ("W", "kW"), ("kWh", "Wh"), ("%",)
_STAFF = Usual("10 s", "1 h", _MINUTES, _HANDS)


def _count(most: str, high: str = "how many there are at the facility, not in a district or a year") -> Usual:
    return Usual("0", most, (), f"{COMMON}: one facility, not a country", high=high)


def _share(least: str, most: str = "100 %", source: str = COMMON, high: str = "", fine: str = "") -> Usual:
    return Usual(least, most, _PERCENT, source, high=high or "of which whole is it the share?", fine=fine)


def _price(least: str, most: str, per: str = "", **more: str) -> Usual:
    low = "is the number in thousands, or the price of something else?"
    high = "is it the price of all together, or in another currency?"
    return Usual(f"{least} USD{per}", f"{most} USD{per}", (), _PRICES, low, high, **more)  # type: ignore[arg-type]


_LIFE = Usual("1 year", "50 years", ("years",), LIVES_7_YEARS)
_BOUGHT = {  # least and most to buy one
    "cylinders": ("20", "2000"), "regulators": ("5", "1000"), "splitters": ("5", "1000"),
    "humidifiers": ("1", "300"), "oximeters": ("5", "5000"), "concentrators": ("200", "10000"),
    "oxygen_monitor": ("10", "5000"), "analyser": ("20", "5000"), "generator": ("200", "500000"),
    "battery": ("50", "1000000"), "solar": ("50", "2000000"), "stabiliser": ("10", "50000"),
    "manifold": ("200", "500000"),
}  # fmt: skip
USUAL: dict[str, Usual] = {
    "horizon": Usual("7 days", "20 years", ("days",), "a year shows all seasons",
                     low="shorter than a week: stock and lead times do not show; write horizon: 365 days"),
    "warm_up": Usual("1 day", "1 year", ("days", "weeks"), "some lead times and reviews: " + COMMON),
    "tolerated_gap": Usual(
        "10 s", "1 h", ("min", "s"), "a few minutes: assumed",
        high="hours without oxygen would count as no interruption; write tolerated_gap: 10 min"),
    "shortfall.recovery": Usual("10 s", "1 day", _MINUTES, "assumed"),
    "shortfall.enough": _share("5 %"),
    "altitude": Usual("1 m", "4500 m", ("m", "ft"), "the highest towns lie at 5,000 m: from memory"),
    "response_time": _STAFF,
    "night.response_time": _STAFF, "night.change_time": _STAFF, "night.connect_time": _STAFF,
    "staff.connect_time": _STAFF,
    "staff.day": _count("100", "who connect and change at once, not all who are employed"),
    "staff.night": _count("100", "who connect and change at once, not all who are employed"),
    "store.fetch_by_day": Usual("10 s", "2 h", _MINUTES, COMMON),
    "store.fetch_by_night": Usual("10 s", "4 h", _MINUTES, COMMON),
    "moving.time": Usual("1 min", "4 h", _MINUTES, COMMON),
    "transfer.after": Usual("5 min", "3 days", _HOURS, "assumed"),
    "transfer.travel": Usual("5 min", "3 days", _HOURS, "assumed"),
    "patients.*.admissions": Usual(
        "1 / year", "100 / day", ("/ month", "/ year", "/ day"), "a hospital of 1,000 beds admits about 100 a day",
        high="it is a rate of one class in one facility, not a count of months or of a country"),
    "patients.*.hypoxaemic": _share(
        "1 %", "60 %", "8 to 43 % of the sick admitted, by age and illness: from memory",
        "the share of all admissions in need; where admissions counts only those in need, write hypoxaemic: 100 %",
        fine="100 %"),
    "patients.*.recognised": _share("10 %"),
    "patients.*.given_without_need": _share("1 %", "60 %"),
    "patients.*.flow": Usual(
        "0.1 L/min", "15 L/min", _FLOW, WHO_2016, spread=(10.0, 1.0),
        high="flowmeters end at 15 L/min, and no concentrator gives more than 20; high-flow devices are not "
             "modelled"),
    "patients.*.duration": Usual("2 h", "60 days", _DAYS, "a few days: " + COMMON),
    "patients.*.weaned_late": Usual("10 min", "14 days", ("h", "days"), "assumed"),
    "patients.*.flow_steps[].after": Usual("1 h", "60 days", ("h", "days"), COMMON),
    "patients.*.flow_steps[].share": _share("5 %"),
    "patients.*.surges[].length": Usual("1 day", "1 year", ("days", "weeks", "months"), COMMON),
    "patients.*.overdispersion": Usual("1", "20", (), "assumed", high="variance over mean of a day's admissions"),
    "cylinders.water_capacity": Usual(
        "1 L", "80 L", ("L", "mL"), _SHELLS, instead="content",
        high="it is the volume of the shell; the gas in a full one is content"),
    "cylinders.content": Usual(
        "100 L", "16000 L", ("L", "m3"), f"shells of 1 L to 50 L at 10 to 30 MPa: {COMMON}",
        low="it is the gas in a full cylinder; the volume of the shell is water_capacity"),
    "cylinders.filling_pressure": Usual(
        "10 MPa", "30 MPa", _PRESSURE, COMMON, low="is a digit missing? most are filled to 13.7, 15 or 20 MPa"),
    "cylinders.fill_temperature": Usual("0 degC", "50 degC", ("degC", "degF"), COMMON),
    "cylinders.residual_pressure": Usual("100 kPa", "5 MPa", _PRESSURE, COMMON),
    "cylinders.flow_lost_below": Usual("50 kPa", "2 MPa", _PRESSURE, COMMON),
    "cylinders.gauge_error": Usual("20 kPa", "2 MPa", _PRESSURE, COMMON),
    "cylinders.fleet": _count("999", _STOCK), "cylinders.full_at_start": _count("999", _STOCK),
    "cylinders.regulators": _count("499"), "cylinders.regulator_sets[].count": _count("499"),
    "cylinders.regulator_sets[].flowmeter.low": Usual("0.01 L/min", "5 L/min", _FLOW, COMMON),
    "cylinders.regulator_sets[].flowmeter.high": Usual("0.1 L/min", "30 L/min", _FLOW, COMMON),
    "cylinders.splitters.count": _count("99"),
    "now.cylinders.full": _count("999", _STOCK), "now.cylinders.empty": _count("999", _STOCK),
    "now.on_order[].count": _count("499"), "now.on_oxygen[].count": _count("99"),
    "now.on_oxygen[].flow": Usual("0.1 L/min", "15 L/min", _FLOW, WHO_2016, high="flowmeters end at 15 L/min"),
    "now.on_oxygen[].gauge": Usual("2 bar", "30 MPa", _PRESSURE, COMMON),
    "cylinders.leak": Usual("1 mL/min", "5 L/min", ("mL/min", "L/h"), "drops at joints, not a patient's flow"),
    "cylinders.gauge_check": Usual(
        "5 min", "1 day", ("h",), COMMON,
        high="looks rarer than one a day; write the time between two looks, such as gauge_check: 4 h"),
    "cylinders.change_time": _STAFF,
    "cylinders.timed.kept": _share("10 %"),
    "cylinders.left_open": _share("0.1 %", "50 %"),
    "cylinders.missed_check.day": _share("0.5 %", "95 %"), "cylinders.missed_check.night": _share("0.5 %", "95 %"),
    "cylinders.send_part_used.below": _share("2 %", "80 %"),
    "cylinders.unusable": _share("0.1 %", "30 %"), "cylinders.refused": _share("0.1 %", "30 %"),
    "cylinders.underfilled.share": _share("1 %", "80 %"), "cylinders.underfilled.content": _share("20 %"),
    "cylinders.loss": Usual("1 / year", "1 / day", ("/ year", "/ month"), "assumed", spread=(100.0, 1.0)),
    "cylinders.backup.count": _count("199"),
    "cylinders.backup.open_time": Usual("5 s", "30 min", _MINUTES, _HANDS),
    "noticed.by_relatives.after": Usual("10 s", "4 h", _MINUTES, "assumed"),
    "noticed.by_oximeter.after": Usual("5 s", "1 h", _MINUTES, "assumed"),
    "noticed.by_oximeter.count": _count("499"),
    "bedside.humidifiers": _count("999"),
    "manifold.bank": _count("60"), "manifold.outlets": _count("499"), "manifold.reserve": _count("60"),
    "manifold.changeover_pressure": Usual("100 kPa", "5 MPa", _PRESSURE, COMMON),
    "manifold.bank_change_time": Usual("1 min", "4 h", _MINUTES, COMMON),
    "manifold.gauge_check": Usual("5 min", "1 day", ("h",), COMMON, high="looks rarer than one a day"),
    "manifold.leak": Usual("1 mL/min", "20 L/min", ("mL/min", "L/h"), COMMON),
    "wards.*.regulators": _count("299"), "wards.*.concentrators": _count("99"),
    "wards.*.bedside_cylinders": _count("299"),
    "resupply.review": Usual("6 h", "60 days", ("days", "h", "weeks"), "daily to monthly: " + COMMON),
    "resupply.lead_time": Usual("1 h", "90 days", _DAYS, "hours by an own lorry to weeks: " + COMMON),
    "resupply.order_up_to": _count("999"), "resupply.reorder_point": _count("999"),
    "resupply.vehicle_capacity": _count("499"), "resupply.minimum_order": _count("499"),
    "resupply.road_closures[].chance_per_day": _share("0.1 %", "60 %"),
    "resupply.road_closures[].length": Usual("1 h", "180 days", _DAYS, COMMON),
    "resupply.supplier_outages[].chance_per_day": _share("0.1 %", "60 %"),
    "resupply.supplier_outages[].length": Usual("1 h", "180 days", _DAYS, COMMON),
    "shocks.*.rate": Usual("0.01 / year", "60 / year", ("/ year", "/ month"), "assumed"),
    "shocks.*.severity": Usual("0.2", "5", (), "assumed", high="it multiplies lengths: a mean of 1 leaves them"),
    "shocks.*.road": Usual("1 h", "180 days", _DAYS, COMMON),
    "shocks.*.power": Usual("10 min", "90 days", _DAYS, COMMON),
    "shocks.*.supplier": Usual("1 h", "1 year", _DAYS, COMMON),
    "shocks.*.patients.length": Usual("1 day", "1 year", ("days", "weeks", "months"), COMMON),
    "shocks.*.patients.multiplier": Usual("1", "20", (), "assumed", high="times the admissions of other days"),
    "resupply.part_delivery.share": _share("5 %"),
    "resupply.emergency.lead_time": Usual("30 min", "30 days", ("h", "days"), COMMON),
    "resupply.emergency.cover": Usual("30 min", "14 days", ("h", "days"), COMMON),
    "resupply.emergency.days_of_cover": Usual("6 h", "30 days", ("days", "h"), COMMON),
    "concentrators.count": _count("199"),
    "concentrators.rated_flow": Usual(
        "0.5 L/min", "20 L/min", _FLOW, WHO_2019, low="what one unit can give, not what a patient needs",
        high="what one unit can give, not all of them; a plant that fills cylinders is no concentrator here"),
    "concentrators.outlets": _count("10", "the patients that one unit serves, not those of all"),
    "concentrators.power": Usual("40 W", "2 kW", _W, WHO_2019 + ": about 70 W per L/min",
                                 high="what one unit draws, not all of them"),
    "concentrators.failure": Usual("100 h", "20 years", ("h", "days", "months", "years"), COMMON),
    "concentrators.repair": Usual("1 h", "2 years", _DAYS, COMMON),
    "concentrators.drift": Usual("100 h", "20 years", ("h", "days", "months", "years"), COMMON),
    "concentrators.travel": Usual("10 min", "90 days", ("days", "h"), COMMON),
    "concentrators.start_up": Usual("10 s", "1 h", _MINUTES, COMMON),
    "concentrators.analyser_check": Usual("1 h", "1 year", _DAYS, COMMON),
    "concentrators.service_every": Usual("100 h", "20000 h", ("h", "days", "months"), COMMON),
    "concentrators.service_time": Usual("10 min", "30 days", ("h", "days"), COMMON),
    "concentrators.never_repaired": _share("0.5 %", "80 %"), "concentrators.cut_damage": _share("0.001 %", "10 %"),
    "concentrators.start_surge": Usual("1.5", "6", (), "2 to 3 times the running watts, from memory"),
    "concentrators.units[].count": _count("99"),
    "concentrators.units[].age": Usual("1 month", "20 years", ("years", "months", "h"), COMMON),
    "power.generator.peak": Usual("500 W", "1 MW", _W[::-1], COMMON),
    "power.grid.up": Usual("10 min", "1 year", _HOURS, "hours to weeks: " + COMMON),
    "power.grid.down": Usual("2 min", "14 days", ("min", "h", "days"), "minutes to days: " + COMMON),
    "power.voltage.good": Usual("10 min", "1 year", _HOURS, COMMON),
    "power.voltage.bad": Usual("2 min", "14 days", ("min", "h", "days"), COMMON),
    "power.generator.power": Usual("500 W", "500 kW", _W[::-1], COMMON),
    "power.generator.base_load": Usual("20 W", "300 kW", _W[::-1], COMMON),
    "power.generator.start_delay": Usual("3 s", "2 h", _MINUTES, COMMON),
    "power.generator.night_delay": Usual("3 s", "8 h", _MINUTES, COMMON),
    "power.generator.start_chance": _share("50 %"),
    "power.generator.running_failure": Usual("10 h", "20000 h", ("h", "days", "months"), COMMON),
    "power.generator.repair": Usual("1 h", "1 year", _DAYS, COMMON),
    "power.generator.fuel.idle": Usual("0.05 L/h", "50 L/h", ("L/h",), COMMON),
    "power.generator.fuel.per_kW": Usual("0.1 L/h", "1 L/h", ("L/h",), "trade fuel charts: about 0.3 L/kWh"),
    "power.generator.tank": Usual("1 L", "20000 L", ("L", "m3"), COMMON),
    "power.generator.refuel.lead_time": Usual("10 min", "60 days", ("h", "days"), COMMON),
    "power.generator.derating.lost": _share("1 %", "25 %"),
    "power.battery.usable": Usual("200 Wh", "500 kWh", _KWH, COMMON),
    "power.battery.charge": Usual("50 W", "200 kW", _W[::-1], COMMON),
    "power.battery.inverter": Usual("100 W", "200 kW", _W[::-1], COMMON),
    "power.battery.charge_efficiency": _share("40 %"), "power.battery.inverter_efficiency": _share("40 %"),
    "power.battery.reconnect": _share("2 %", "95 %"),
    "power.battery.age": Usual("1 day", "15 years", ("years", "months"), COMMON),
    "power.battery.fade.per_cycle": _share("0.002 %", "0.5 %", high="with one full cycle, not in a year"),
    "power.battery.fade.per_year": _share("0.3 %", "20 %", high="of new, in one year at 25 degC"),
    "power.battery.fade.heat": Usual("5 degC", "45 degC", ("degC", "degF"), COMMON,
                                     high="the mean of the year where it stands, not of the hottest hour"),
    "power.battery.peak": Usual("200 W", "400 kW", _W[::-1], COMMON),
    "power.solar.peak": Usual("50 W", "500 kW", _W[::-1], COMMON), "power.solar.clearness": _share("10 %"),
    "costs.discount_rate": _share("0.5 %", "30 %", "usual in health economics, from memory"),
    **{f"costs.{kind}.price": _price(*ends) for kind, ends in _BOUGHT.items()},
    **{f"costs.{kind}.life": _LIFE for kind in _BOUGHT},
    **{f"costs.{kind}.installation": _price("0.5", "200000") for kind in _BOUGHT},
    "costs.freight": _share("1 %", "60 %", "assumed"),
    "costs.duty": _share("0.5 %", "60 %", "assumed: medical devices are often free of it"),
    "costs.installation": _share("0.5 %", "50 %", "assumed"),
    "costs.cylinders.test": _price("2", "150"),
    "costs.cylinders.test_every": Usual("5 years", "12 years", ("years",), TESTS),
    "costs.staff.wage": _price("200", "80000", "/year"),
    "costs.staff.hours_a_year": Usual("1000 h", "2300 h", ("h",), COMMON, high="is it of one post?"),
    "costs.staff.posts": Usual("0.02", "20", (), COMMON, high="posts that oxygen takes, not all of the hospital"),
    "costs.staff.look": Usual("10 s", "15 min", _MINUTES, _HANDS),
    "costs.staff.connect": Usual("1 min", "1 h", _MINUTES, _HANDS),
    "costs.staff.fetch": Usual("1 min", "2 h", _MINUTES, _HANDS),
    "costs.staff.filter": Usual("1 min", "1 h", _MINUTES, _HANDS),
    "costs.staff.filter_every": Usual("1 day", "90 days", ("days", "weeks"), f"weekly: {WHO_2019}"),
    "costs.training.price": _price("2", "3000"),
    "costs.training.persons": _count("499", "those who handle oxygen, trained each time"),
    "costs.training.every": Usual("1 year", "10 years", ("years",), "assumed"),
    "costs.cylinders.refill": _price(
        "1", "300", zero="no price for a refill: is the gas free? write the supplier's price of one cylinder"),
    "costs.cylinders.rent": _price("0.5", "500", "/year"),
    "costs.concentrators.service": _price("1", "3000", "/year"),
    "costs.concentrators.repair": _price("1", "5000"),
    "costs.generator.service": _price("5", "50000", "/year"),
    "costs.manifold.service": _price("5", "50000", "/year"),
    "costs.transport.trip": _price("1", "5000", zero="does a delivery cost nothing? write the carrier's price of "
                                   "a trip, or under transport the price of each cylinder", unless="cylinder"),
    "costs.transport.cylinder": _price("0.05", "200"),
    "costs.emergency.trip": _price("1", "20000"), "costs.emergency.cylinder": _price("0.05", "1000"),
    "funds.fees.amount": _price("0.05", "300"), "funds.fees.paid_by": _share("1 %"),
    "funds.allotment.delay": Usual("1 h", "1 year", _DAYS, "assumed"),
    "funds.approval": Usual("1 h", "180 days", _DAYS, "assumed"),
    "funds.supplier.due": Usual("1 day", "1 year", _DAYS, "30 days: " + COMMON),
    "costs.electricity": _price("0.005", "2", "/kWh"),
    "costs.fuel": _price("0.01", "5", "/L"),
    "costs.consumables": _price("0.05", "300"), "costs.transfer": _price("0.5", "10000"),
}  # fmt: skip
_MODELS = ("rated_flow", "outlets", "power", "failure", "repair", "drift", "travel", "start_up", "analyser_check",
           "service_every", "service_time", "never_repaired", "cut_damage", "start_surge")  # fmt: skip
USUAL |= {f"concentrators.models.*.{key}": USUAL[f"concentrators.{key}"] for key in _MODELS}
USUAL |= {
    f"concentrators.models.*.{key}": USUAL[f"costs.concentrators.{other}"]
    for key, other in (
        ("price", "price"),
        ("life", "life"),
        ("service_price", "service"),
        ("repair_price", "repair"),
    )
}
_OF_A_SIZE = (  # of cylinders: as of all where they are alike
    "water_capacity", "content", "filling_pressure", "fill_temperature", "residual_pressure", "flow_lost_below",
    "fleet", "full_at_start", "leak", "unusable", "refused", "underfilled.share", "underfilled.content", "loss",
)  # fmt: skip
USUAL |= {f"cylinders.sizes.*.{key}": USUAL[f"cylinders.{key}"] for key in _OF_A_SIZE}
USUAL |= {"cylinders.sizes.*.refill": _price("1", "300"), "cylinders.sizes.*.price": _price("20", "2000")}
