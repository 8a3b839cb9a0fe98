"""Litres of oxygen (15 °C, 1 atm) by water capacity, gauge pressure and temperature, and the way back.

Oxygen is not an ideal gas at cylinder pressures: at 137 bar and 15 °C a cylinder holds 7 % more than bar times
litres says. The relation, density by pressure and temperature, is the short equation of state of Span and Wagner
(Int. J. Thermophys. 24, 2003, 41-109). The atmosphere is taken as 101.325 kPa everywhere (at 2,000 m it is 80
kPa: an error of 0.2 % of a full cylinder), the shell as rigid.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from types import MappingProxyType

from o2sim.errors import QuantityError

GAS_PER_LITRE = 60_000  # where gas is counted in whole numbers: 1/60 mL, what 1 mL/min gives in a second
ATMOSPHERE_KPA = 101.325
STANDARD_C = 15.0  # the litres of medical gas cylinders are counted at 15 °C and 1 atm
KELVIN = 273.15
KPA_PER_PSI = 6.894757293168361  # pound-force (0.45359237 kg x 9.80665 m/s2) per square inch (0.0254 m squared)
HIGHEST_KPA = 40_000.0  # gauge; beyond any cylinder of compressed oxygen
COLDEST_C, HOTTEST_C = -40.0, 70.0
RESIDUAL_KPA = 800.0  # 5 % of a 16,000 kPa fill (common practice)
FLOW_LOST_KPA = 400.0  # near a regulator's outlet pressure (common practice)

# Litres per psi, in respiratory-care handbooks (from memory): nominal cubic feet x 28.3168 / 2,200 psi. They are
# straight lines through that point, not water capacities.
US_FACTORS_L_PER_PSI: Mapping[str, float] = MappingProxyType({"D": 0.16, "E": 0.28, "G": 2.41, "H": 3.14})

# R. Span and W. Wagner, Equations of state for technical applications II: non-polar fluids, Int. J. Thermophys.
# 24 (2003) 41-109: coefficients for oxygen (from memory; the tests compare with another equation, from which
# this one differs by up to 0.17 % within 0-30 MPa and -10 to 55 °C, inside the 0.2 % its authors state).
_GAS_CONSTANT = 8.31451  # J/(mol K), as in that paper
_CRITICAL_K = 154.595
_CRITICAL_MOL_L = 13.63
_TERMS = (  # (n, d, t, c): n delta^d tau^t exp(-delta^c), without the exponential where c is 0
    (0.88878286369701, 1, 0.25, 0),
    (-2.4879433312148, 1, 1.125, 0),
    (0.59750190775886, 1, 1.5, 0),
    (0.0096501817061881, 2, 1.375, 0),
    (0.071970428712770, 3, 0.25, 0),
    (0.00022337443000195, 7, 0.875, 0),
    (0.18558686391474, 2, 0.625, 1),
    (-0.038129368035760, 5, 1.75, 1),
    (-0.15352245383006, 1, 3.625, 2),
    (-0.026726814910919, 4, 3.625, 2),
    (-0.025675298677127, 3, 14.5, 3),
    (0.0095714302123668, 4, 12.0, 3),
)
_DENSEST_MOL_L = 30.0  # above the density at HIGHEST_KPA and COLDEST_C, about 21 mol/L


def _checked(name: str, value: float, low: float, high: float, unit: str) -> float:
    """Return value as a float, or raise QuantityError where it is not a number from low to high."""
    if not low <= value <= high:  # False for nan too
        top = f"from {low:g} to {high:g} {unit}" if math.isfinite(high) else f"{low:g} {unit} or more"
        raise QuantityError(f"found a {name} of {value:g} {unit}; allowed: {top}")
    return float(value)


def _litres(name: str, value: float) -> float:
    return _checked(name, value, 0.0, 1e9, "L")


def _temperature(value: float) -> float:
    return _checked("temperature", value, COLDEST_C, HOTTEST_C, "°C")


def _gauge(value: float) -> float:
    return _checked("gauge pressure", value, 0.0, HIGHEST_KPA, "kPa")


def _pressure_kpa(density_mol_l: float, temperature_c: float) -> float:
    """Return the absolute pressure of oxygen of a density: rho R T (1 + delta times the slope of alpha^r)."""
    kelvin = temperature_c + KELVIN
    delta, tau = density_mol_l / _CRITICAL_MOL_L, _CRITICAL_K / kelvin
    factor = 1.0
    for n, d, t, c in _TERMS:
        power = delta**c if c else 0.0
        factor += n * delta**d * tau**t * (d - c * power) * math.exp(-power)
    return density_mol_l * _GAS_CONSTANT * kelvin * factor


@lru_cache(maxsize=4096)
def _density_mol_l(absolute_kpa: float, temperature_c: float) -> float:
    """Return the density at a pressure, by halving: pressure rises with density everywhere above 155 K."""
    low, high = 0.0, _DENSEST_MOL_L
    for _ in range(60):  # 30 mol/L / 2^60: beyond the last bit
        middle = (low + high) / 2
        if _pressure_kpa(middle, temperature_c) < absolute_kpa:
            low = middle
        else:
            high = middle
    return high


def compressibility(pressure_kpa_abs: float, temperature_c: float) -> float:
    """Return the real-gas factor Z = p / (rho R T), dimensionless, at an absolute pressure (kPa, above 0).

    Raises QuantityError outside 0 to 40 MPa gauge and -40 to 70 °C, as all functions here.
    """
    _checked("pressure (absolute)", pressure_kpa_abs, 1.0, HIGHEST_KPA + ATMOSPHERE_KPA, "kPa")
    density = _density_mol_l(pressure_kpa_abs, _temperature(temperature_c))
    return pressure_kpa_abs / (density * _GAS_CONSTANT * (temperature_c + KELVIN))


def total_litres(water_capacity_l: float, gauge_kpa: float, temperature_c: float) -> float:
    """Return the litres of oxygen (15 °C, 1 atm) in a cylinder, the gas left at gauge zero included."""
    _litres("water capacity", water_capacity_l)
    density = _density_mol_l(_gauge(gauge_kpa) + ATMOSPHERE_KPA, _temperature(temperature_c))
    return water_capacity_l * density / _density_mol_l(ATMOSPHERE_KPA, STANDARD_C)


def content_litres(water_capacity_l: float, gauge_kpa: float, temperature_c: float) -> float:
    """Return the litres above gauge zero: what o2sim counts as the content of a cylinder."""
    return total_litres(water_capacity_l, gauge_kpa, temperature_c) - total_litres(
        water_capacity_l, 0.0, temperature_c
    )


def gauge_kpa(water_capacity_l: float, litres: float, temperature_c: float) -> float:
    """Return the gauge reading (kPa) when a cylinder holds litres in all: the way back from total_litres.

    A content above gauge zero needs total_litres at gauge zero added first. Raises QuantityError where the
    litres would be at less than gauge zero or more than 40 MPa.
    """
    _litres("water capacity", water_capacity_l)
    _litres("amount of gas", litres)
    if water_capacity_l == 0.0:
        raise QuantityError("found a water capacity of 0 L; allowed: more than 0 L")
    density = litres / water_capacity_l * _density_mol_l(ATMOSPHERE_KPA, STANDARD_C)
    if density > _DENSEST_MOL_L:
        raise QuantityError(
            f"found {litres:g} L in {water_capacity_l:g} L of water capacity: more than can be filled"
        )
    reading = _pressure_kpa(density, _temperature(temperature_c)) - ATMOSPHERE_KPA
    return _gauge(0.0 if -1e-6 < reading < 0.0 else reading)  # a rounding error is not a vacuum


def content_at(
    gauge_kpa: float, full_content_l: float, filling_pressure_kpa: float, temperature_c: float = STANDARD_C
) -> float:
    """Return the litres at a gauge reading of a cylinder with a stated content at its filling pressure.

    The stated content is scaled by the real-gas relation at temperature_c, so no water capacity is needed.
    """
    _litres("full content", full_content_l)
    full = content_litres(1.0, filling_pressure_kpa, temperature_c)
    if full == 0.0:
        raise QuantityError("found a filling pressure of 0 kPa; allowed: more than 0 kPa")
    return full_content_l * (content_litres(1.0, gauge_kpa, temperature_c) / full)


def usable_minutes(content_l: float, reserve_l: float, flow_l_min: float, leak_l_min: float) -> float:
    """Return the minutes until content_l falls to reserve_l at a flow and a leak; inf where nothing flows."""
    usable = _litres("content", content_l) - _litres("reserve", reserve_l)
    outflow = _checked("flow", flow_l_min, 0.0, math.inf, "L/min") + _checked(
        "leak", leak_l_min, 0.0, math.inf, "L/min"
    )
    if usable <= 0.0:
        return 0.0
    return usable / outflow if outflow else math.inf


@dataclass(frozen=True)
class CylinderLasts:
    """How long a cylinder lasts from a gauge reading: litres (15 °C, 1 atm) and minutes, never negative.

    content_l is all above gauge zero; the other pairs run to the residual pressure, where it is to be changed,
    and to the pressure where the flow is lost.
    """

    content_l: float
    to_residual_l: float
    to_flow_lost_l: float
    minutes_to_residual: float
    minutes_to_flow_lost: float


@dataclass(frozen=True)
class CylinderSize:
    """The size of a cylinder in exactly one of three ways, each None where it is not the one used.

    water_capacity_l; or full_content_l at filling_pressure_kpa; or us_factor_l_per_psi. The first two follow the
    real gas; the factor is the handbook's straight line, so its answers are the handbook's.
    """

    water_capacity_l: float | None = None
    full_content_l: float | None = None
    filling_pressure_kpa: float | None = None
    us_factor_l_per_psi: float | None = None

    def __post_init__(self) -> None:
        """Refuse none or several ways, and a stated content without its filling pressure."""
        ways = (self.water_capacity_l, self.full_content_l, self.us_factor_l_per_psi)
        count = sum(way is not None for way in ways)
        if count != 1:
            raise QuantityError(
                f"found {count} sizes; allowed: one of water capacity, full content with filling pressure, L/psi"
            )
        _checked("size", sum(way for way in ways if way is not None), 1e-6, 1e9, "(L or L/psi)")
        if (self.full_content_l is None) != (self.filling_pressure_kpa is None):
            raise QuantityError("found a full content or a filling pressure alone; allowed: both together")

    def content(self, gauge_kpa: float, temperature_c: float) -> float:
        """Return the litres above gauge zero at a reading."""
        if self.us_factor_l_per_psi is not None:
            return self.us_factor_l_per_psi * _gauge(gauge_kpa) / KPA_PER_PSI
        if self.full_content_l is not None and self.filling_pressure_kpa is not None:
            return content_at(gauge_kpa, self.full_content_l, self.filling_pressure_kpa, temperature_c)
        assert self.water_capacity_l is not None  # one of the three, by __post_init__
        return content_litres(self.water_capacity_l, gauge_kpa, temperature_c)


def cylinder_lasts(
    size: CylinderSize,
    gauge_kpa: float,
    flow_l_min: float,
    *,
    residual_kpa: float = RESIDUAL_KPA,
    flow_lost_kpa: float = FLOW_LOST_KPA,
    leak_l_min: float = 0.0,
    temperature_c: float = STANDARD_C,
) -> CylinderLasts:
    """Return how long a cylinder lasts from a gauge reading (kPa) at a flow and a leak (L/min).

    size is a CylinderSize, such as CylinderSize(water_capacity_l=47). Litres are of 15 °C and 1 atm;
    times, in minutes, run to the residual pressure and to the pressure where the flow is lost; inf where nothing
    flows, 0 where the gauge is already there. Raises QuantityError for a negative, missing or impossible figure.
    Source of the content: the short equation of state of Span and Wagner, as the module says.
    """
    content = size.content(gauge_kpa, temperature_c)
    residual = size.content(residual_kpa, temperature_c)
    lost = size.content(flow_lost_kpa, temperature_c)
    return CylinderLasts(
        content_l=content,
        to_residual_l=max(0.0, content - residual),
        to_flow_lost_l=max(0.0, content - lost),
        minutes_to_residual=usable_minutes(content, residual, flow_l_min, leak_l_min),
        minutes_to_flow_lost=usable_minutes(content, lost, flow_l_min, leak_l_min),
    )
