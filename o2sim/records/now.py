"""Makes the count from which a run begins of the sheets of today, each part with its sheet and row."""

from __future__ import annotations

from typing import Any

from o2sim.records.books import BY_NAME, Records
from o2sim.records.columns import columns_of
from o2sim.records.findings import Findings
from o2sim.records.supply_rows import OnPatient, PowerToday, Today, UnitToday
from o2sim.scenario.changing.count import Counted

TODAY, PATIENTS, ORDER, UNITS, POWER = "Today", "On patients", "On order", "Units today", "Power today"
_KPA, _ML = "kPa", 1_000  # gauges stand in kPa, flows in mL/min


def now_of_records(records: Records) -> Counted:
    """Return the count of the sheets Today, On patients, On order, Units today and Power today.

    Without rows on On patients it is unknown who is on oxygen; a blank that is not needed is unknown too.
    Part-used cylinders on the rack have no column. Raises RecordsError where Today has no row, a patient is on a
    manifold, or nothing says whether a unit works.
    """
    findings = Findings(records.file.name)
    if not records.today:
        findings.wrong(TODAY, "", "", "found no row", "one row with Counted at, Full and Empty", "fill it in")
    _check(records, findings)
    findings.stop()
    (today,) = records.today
    made = _Made()
    _stock(made, today)
    for place, order in enumerate(records.on_order, 1):
        made.add("on_order", {"ordered": order.ordered or "unknown", "count": order.cylinders})
        made.rows(f"on_order[{place}]", ORDER, order, {"ordered": "ordered", "count": "cylinders"})
    for place, patient in enumerate(records.on_patients, 1):
        made.add("on_oxygen", _patient(patient))
        fields = {
            "class": "class_",
            "flow": "flow_ml_min",
            "begun": "begun",
            "gauge": "gauge_kpa",
            "source": "source",
        }
        made.rows(f"on_oxygen[{place}]", PATIENTS, patient, fields)
    if records.units_today:
        _units(made, records.units_today)
    for power in records.power_today:
        _power(made, power)
    return Counted(made.values, records.file.name, made.places)


class _Made:
    """The values of the section so far, and the places they came from."""

    def __init__(self) -> None:
        self.values: dict[str, Any] = {}
        self.places: dict[str, str] = {}

    def add(self, key: str, value: object) -> None:
        """Add an entry to a list."""
        self.values.setdefault(key, []).append(value)

    def rows(self, key: str, sheet: str, row: Any, fields: dict[str, str]) -> None:
        """Note the row that a key came from, and the columns of the keys below it."""
        heads = {column.name: column.short for column in columns_of(BY_NAME[sheet].record)}
        self.places[f"now.{key}" if key else "now"] = f"{sheet}, row {row.row}"
        for name, column in fields.items():
            self.places[f"now.{key}.{name}" if key else f"now.{name}"] = (
                f"{sheet}, row {row.row} ({heads[column]})"
            )


def _check(records: Records, findings: Findings) -> None:
    for patient in records.on_patients:
        if patient.source == "manifold":
            hint = "a count has no line for what is on the banks"
            allowed = "cylinder, concentrator or none"
            findings.wrong(PATIENTS, f"row {patient.row}", "Source", "found manifold", allowed, hint)
    for unit in records.units_today:
        if unit.working is None and unit.down_since is None:
            findings.wrong(
                UNITS, f"row {unit.row}", "Working", "found nothing", "yes or no", "say whether it works"
            )


def _stock(made: _Made, today: Today) -> None:
    made.values["counted"] = today.counted
    made.values["cylinders"] = {"full": today.full, "empty": today.empty}
    made.rows("", TODAY, today, {"counted": "counted"})
    made.rows("cylinders", TODAY, today, {"full": "full", "empty": "empty"})
    if today.next_order is not None:
        made.values["next_review"] = today.next_order
        made.places["now.next_review"] = f"{TODAY}, row {today.row} (Next order day)"


def _patient(row: OnPatient) -> dict[str, Any]:
    found: dict[str, Any] = {"class": row.class_}
    if row.flow_ml_min is not None:
        found["flow"] = f"{row.flow_ml_min / _ML:.12g} L/min"
    if row.begun is not None:
        found["begun"] = row.begun
    if row.source is not None:
        found["source"] = row.source
    if row.gauge_kpa is not None:
        found["gauge"] = f"{row.gauge_kpa:.12g} {_KPA}"
    return found


def _units(made: _Made, rows: tuple[UnitToday, ...]) -> None:
    """Set which units work; hour meters of those that work come first where they are known, for all are alike."""
    working = [row for row in rows if row.working]
    down = [row for row in rows if not row.working]
    metered = [row for row in working if row.meter_h is not None]
    made.values["concentrators"] = {
        "working": len(working),
        "down": [{"since": row.down_since or "unknown"} for row in down],
        "meters": [f"{row.meter_h:.12g} h" for row in metered],
    }
    made.places["now.concentrators"] = UNITS
    for place, row in enumerate(down, 1):
        made.rows(f"concentrators.down[{place}]", UNITS, row, {"since": "down_since"})
    for place, row in enumerate(metered, 1):
        made.places[f"now.concentrators.meters[{place}]"] = f"{UNITS}, row {row.row} (Meter)"


def _power(made: _Made, row: PowerToday) -> None:
    made.values["grid"] = {"up": "unknown" if row.on is None else row.on, "since": row.since or "unknown"}
    made.rows("grid", POWER, row, {"up": "on", "since": "since"})
    if row.battery_percent is not None:
        made.values["battery"] = f"{row.battery_percent:.12g} %"
        made.places["now.battery"] = f"{POWER}, row {row.row} (Battery %)"
    if row.tank_l is not None:
        made.values["fuel"] = f"{row.tank_l:.12g} L"
        made.places["now.fuel"] = f"{POWER}, row {row.row} (Tank L)"
