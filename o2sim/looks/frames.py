"""A result in, a data frame out: the unit in each column's name, where the name does not say it."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from typing import TYPE_CHECKING, Any

from o2sim import tabular
from o2sim.errors import O2simError
from o2sim.measures.measures import summarise
from o2sim.money.cost import FUEL_PER_LITRE
from o2sim.questions.choose.comparison import Comparison
from o2sim.questions.choose.options import CHANCE, HOURS
from o2sim.questions.compare import rows as result_rows
from o2sim.questions.drivers.drivers import Drivers
from o2sim.questions.equipment import text as equipment
from o2sim.questions.equipment.to_buy import ToBuy
from o2sim.questions.facilities import tables as facility_table
from o2sim.questions.facilities.many_facilities import FacilityStudy
from o2sim.questions.size.sizing import Sizing
from o2sim.questions.trace import timeline
from o2sim.questions.trace.tracing import Trace
from o2sim.questions.whatif.whatif import COST, SUPPLY_HOURS, WhatIf
from o2sim.runs.convergence import convergence
from o2sim.runs.study import Study
from o2sim.scenario.changing.levers import Lever
from o2sim.shown import frame

if TYPE_CHECKING:
    import pandas as pd

ENDS = ("low", "high")
HOURS_UNIT = " (h/year)"


@frame.register(Study)
def _study(result: Study, of: str = "measures") -> pd.DataFrame:
    return _chosen(of, {
        "measures": lambda: _measures(summarise(result)),
        "replications": lambda: _replications(result),
        "convergence": lambda: _convergence(result),
        "days": lambda: tabular.data_frame(result_rows.DAILY_HEADS, result_rows.daily_rows(result)),
    })  # fmt: skip


def _convergence(study: Study) -> pd.DataFrame:
    columns = ("replications", "estimate", *ENDS)
    found = convergence(study)["strategies"]
    rows = [(name, *(each[column] for column in columns)) for name, many in found.items() for each in many]
    return tabular.data_frame(("strategy", *columns), rows)


def _replications(study: Study) -> pd.DataFrame:
    """Return the totals of each replication; fuel and energy, counted finely inside, in litres and kWh."""
    frame = tabular.data_frame(result_rows.replication_columns(study), result_rows.replication_rows(study))
    fine = {"grid_charging_ws": ("grid_charging_kwh", 3_600_000)}
    fine |= {
        name: (f"{name}_litres", FUEL_PER_LITRE) for name in ("fuel_used", "fuel_for_oxygen", "fuel_received")
    }
    for name, (_, one) in fine.items():
        frame[name] = frame[name] / one
    money = currency_of(study)
    cost = {"cost_per_year": f"cost_per_year ({money})"} if money else {}
    return frame.rename(columns={**cost, **{name: told for name, (told, _) in fine.items()}})


def currency_of(study: Study) -> str:
    """Return the currency of a study's prices, "" without prices."""
    hospitals = (study.scenario.hospitals[name] for name in study.outcomes)
    return next((each.costs.currency for each in hospitals if each.costs is not None), "")


def _measures(summary: Mapping[str, Any]) -> pd.DataFrame:
    units = summary["units"]
    rows = [
        (*row, units.get(str(row[1]).removeprefix("difference in "), ""))
        for row in result_rows.summary_rows(summary)
    ]
    return tabular.data_frame(("strategy", "measure", "part", "estimate", "low", "high", "note", "unit"), rows)


@frame.register(Comparison)
def _comparison(result: Comparison, of: str = "options") -> pd.DataFrame:
    return _chosen(of, {
        "options": lambda: _options(result),
        "differences": lambda: _differences(result.summary),
        "measures": lambda: _measures(result.summary),
    })  # fmt: skip


def _options(result: Comparison) -> pd.DataFrame:
    decision, strategies = result.decision, result.summary["strategies"]
    keys = list(dict.fromkeys(key for fact in decision["options"].values() for key in fact["choices"]))
    money = decision["currency"]
    heads = [
        "name", *keys, *_ended(CHANCE), *_ended(HOURS, HOURS_UNIT), "fill_rate",
        *_ended(COST, f" ({money}/year)"), f"first_year_capital ({money})", "dominated_by", "chosen",
    ]  # fmt: skip
    rows = []
    for name, fact in decision["options"].items():
        item = strategies[name]
        cells = [name, *(fact["choices"].get(key, "") for key in keys)]
        cells += [*_numbers(item[CHANCE]), *_numbers(item[HOURS]), fact["fill_rate"], *_numbers(item[COST])]
        rows.append([*cells, fact["first_year_capital"], fact["dominated_by"] or "", name == decision["chosen"]])
    frame = tabular.data_frame(heads, rows)
    return frame if money else frame[[head for head in heads if not head.endswith((" ()", " (/year)"))]]


def _differences(summary: Mapping[str, Any]) -> pd.DataFrame:
    units = summary["units"]
    rows = [
        (each["from"], each["to"], each["measure"], *_numbers(each), units.get(each["measure"], ""))
        for each in summary["differences"]
    ]
    return tabular.data_frame(("from", "to", "measure", "difference", *ENDS, "unit"), rows)


@frame.register(Sizing)
def _sizing(result: Sizing) -> pd.DataFrame:
    said = result.result
    levers = [_read(each) for each in said["vary"]]
    money = said["currency"] if any(point.get("annual_cost") is not None for point in said["curve"]) else None
    columns = ("replications", "failures", "estimate", *ENDS, "status")
    heads = [*(each.heading for each in levers), *columns, "enough"]
    rows = []
    for point in said["curve"]:
        cells = [_value(each, point["values"][each.path]) for each in levers]
        cells += [*(point[column] for column in columns), point["values"] == result.answer]
        rows.append(cells if money is None else [*cells, point.get("annual_cost")])
    return tabular.data_frame(heads if money is None else [*heads, f"{COST} ({money}/year)"], rows)


@frame.register(WhatIf)
def _whatif(result: WhatIf, of: str = "points") -> pd.DataFrame:
    return _chosen(of, {
        "points": lambda: _points(result),
        "measures": lambda: tabular.data_frame(result.columns, result.rows()),
        "break-evens": lambda: _break_evens(result),
    })  # fmt: skip


@frame.register(Drivers)
def _drivers(result: Drivers) -> pd.DataFrame:
    return tabular.data_frame(result.columns, result.rows())


def _points(result: WhatIf) -> pd.DataFrame:
    said = result.result
    measures = [name for name in said["units"] if any(
        each[name] is not None for point in said["points"] for each in point["strategies"].values())]  # fmt: skip
    heads = [*(each.heading for each in result.levers), "strategy"]
    units = {COST: f" ({said['currency']}/year)", HOURS: HOURS_UNIT, SUPPLY_HOURS: HOURS_UNIT}
    for name in measures:
        heads += _ended(name, units.get(name, ""))
    rows = []
    for point in said["points"]:
        where = [_value(each, point["values"][each.path]) for each in result.levers]
        for strategy, item in point["strategies"].items():
            rows.append([*where, strategy, *(cell for name in measures for cell in _numbers(item[name]))])
    return tabular.data_frame(heads, rows)


def _break_evens(result: WhatIf) -> pd.DataFrame:
    heads = ("field", "unit", "at", "value", *ENDS, "by", "from", "to", "seen_in")
    rows = []
    for each in result.result["break_evens"]:
        at = ", ".join(f"{path} = {text}" for path, text in each["at"].items())
        rows.append([each.get(head) if head != "at" else at for head in heads])
    return tabular.data_frame(heads, rows)


@frame.register(ToBuy)
def _to_buy(result: ToBuy) -> pd.DataFrame:
    heads = ("strategy", "list", "group", "item", "quantity", "unit", "highest", "limited", "basis", "why")
    rows = []
    for strategy, item in result.result["strategies"].items():
        for name in equipment.LISTS:
            for entry in item[name]:
                why = "; ".join(text for text in (entry["rule"], entry["figures"]) if text)
                told = [entry[key] for key in ("quantity", "unit", "highest", "limited", "basis")]
                rows.append([strategy, name, entry["group"], entry["item"].strip(), *told, why])
    return tabular.data_frame(heads, rows)


@frame.register(FacilityStudy)
def _facilities(result: FacilityStudy) -> pd.DataFrame:
    return tabular.data_frame(facility_table.CSV_COLUMNS, facility_table.csv_rows(result.result))


@frame.register(Trace)
def _trace(result: Trace) -> pd.DataFrame:
    hospital = result.scenario.hospitals[result.strategy]
    return tabular.data_frame(timeline.CSV_COLUMNS, timeline.csv_rows(hospital, result.outcome.log))


def _chosen(of: str, makers: Mapping[str, Callable[[], pd.DataFrame]]) -> pd.DataFrame:
    if of not in makers:
        raise O2simError(f"to_frame: found of={of!r}; allowed: {', '.join(makers)}")
    return makers[of]()


def _read(asked: Mapping[str, Any]) -> Lever:
    """Return a field of a result with its values as numbers in its unit."""
    from o2sim.scenario.changing.levers import design

    ((lever,), _) = design([asked["field"]], [[text] for text in asked["values"]])
    return lever


def _value(lever: Lever, text: str) -> float | str:
    """Return a value as a number in the field's unit, as a text where it is none."""
    if lever.numbers is None:
        return text
    number = lever.numbers[lever.values.index(text)]
    return int(number) if number.is_integer() else number


def _ended(name: str, unit: str = "") -> list[str]:
    return [f"{name}{end}{unit}" for end in ("", "_low", "_high")]


def _numbers(item: Mapping[str, Any] | None) -> Iterator[float | None]:
    """Yield the middle of an estimate and its ends; None where there is no number."""
    if item is None:
        yield from (None, None, None)
        return
    yield item["estimate"] if "estimate" in item else item["mean"]
    yield from (item[end] for end in ENDS)
