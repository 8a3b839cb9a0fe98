"""The hours of the day in; a day that ends before it begins noted."""

from __future__ import annotations

from typing import Any

from o2sim.scenario.building.built import Setting
from o2sim.scenario.building.reader import Values


def day_hours(setting: Setting, values: Values) -> dict[str, Any]:
    """Check that the day ends after it begins."""
    values.need_all()
    if values["from"] >= values["to"]:
        found = "found a day that ends before it begins"
        raise setting.problems.add(values.at("to", "from"), found, "from before to")
    return {}
