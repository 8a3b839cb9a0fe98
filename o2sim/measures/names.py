"""The measures that several questions ask for, by their names in JSON."""

from __future__ import annotations

CHANCE = "stock_out_probability"
ANY = "interruption_probability"
STOCK_OUTS = "stock_outs_per_year"
SUPPLY_HOURS = "unserved_hours_for_want_of_supply"
HOURS = "unserved_patient_hours"
SHORT = "short_patient_hours"
DEFICIT = "oxygen_deficit_patient_hours"
FILL = "fill_rate"
IN_SHOCKS = "short_hours_in_shocks"
MET = "share_of_losses_met_by_backup"
BATTERY_LEFT = "battery_at_the_end"
COST = "annual_cost"
NEEDED = "cylinders_needed"
NOT_BOUGHT = "cylinders_needed_and_not_bought"
BROKEN = "unit_hours_broken_without_repair"
ALL = "all"  # of interruptions, those of any length
