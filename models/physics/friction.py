"""What a liquid loses on its way through a straight pipe: bore, velocity, Reynolds number, Darcy factor, gradient."""

import math
from collections.abc import Mapping

from models.physics.fluids import Fluid
from models.reference.load import Tube
from models.sources import Source

SOURCE = Source("Colebrook and White (1937/1939)", "as CIBSE Guide C (2001) 4.2 uses it")
COPPER_ROUGHNESS_MM = 0.0015
"""CIBSE Guide C (2001) Table 4.1, copper and other drawn tube."""
PLASTIC_ROUGHNESS_MM = 0.007
"""Cross-linked polyethylene, makers' usual figure (from memory)."""
STEEL_ROUGHNESS_MM = 0.046
"""CIBSE Guide C (2001) Table 4.1, commercial steel (from memory)."""
ROUGHNESS_OF_MATERIAL_MM: Mapping[str, float] = {"plastic": PLASTIC_ROUGHNESS_MM, "steel": STEEL_ROUGHNESS_MM}

PLASTIC_BORES_MM = {10: 7.0, 15: 11.6, 22: 17.7, 28: 22.5}
STEEL_BORES_MM = {15: 16.1, 20: 21.7, 25: 27.4, 32: 36.1, 40: 42.0, 50: 53.1}
"""Bores of heating pipe by nominal size: BS 7291 and BS EN 10255 medium, from memory."""
BORES_OF_MATERIAL_MM: Mapping[str, Mapping[int, float]] = {"plastic": PLASTIC_BORES_MM, "steel": STEEL_BORES_MM}
"""Of what has a table of its own; anything else is reckoned as copper, in bore and in roughness."""
THIN_COPPER_WALLS_MM = 1.2
"""Both walls of a copper tube of a size that the table lacks: the thin ones (BS EN 1057, from memory)."""
_COPPER_BEYOND_THE_TABLE_MM = (6, 12)
"""Sizes of copper tube that heating was piped in and that the table of new tube lacks."""
ASSUMED_MAIN_MM = 22
ASSUMED_BRANCH_MM = 15
"""Nominal sizes of heating pipes that nobody looked at (common practice, no source)."""

LAMINAR_BELOW = 2300.0
TURBULENT_FROM = 4000.0
_SMALL_STEP = 1e-10
_MOST_STEPS = 50


def heating_pipe_bore_mm(*, size_mm: int, material: str, tubes: Mapping[int, Tube]) -> tuple[int, float]:
    """The nominal size that a heating pipe of the house is reckoned in, and its bore, mm.

    BS EN 1057, BS 7291, BS EN 10255 by material. `tubes` are those of copper by outside diameter. A size that the
    material is not made in counts as the next smaller one, on the safe side for friction; one below all as the
    smallest.
    """
    bores = BORES_OF_MATERIAL_MM.get(material)
    if bores is None:
        if size_mm in tubes:
            return size_mm, tubes[size_mm].bore_mm
        bores = {od_mm: od_mm - THIN_COPPER_WALLS_MM for od_mm in _COPPER_BEYOND_THE_TABLE_MM}
        bores |= {od_mm: tube.bore_mm for od_mm, tube in tubes.items()}
    reckoned_mm = max((made_mm for made_mm in bores if made_mm <= size_mm), default=min(bores))
    return reckoned_mm, bores[reckoned_mm]


def velocity_m_per_s(*, flow_l_per_s: float, bore_mm: float) -> float:
    """Mean velocity in a full round pipe, v = q / A."""
    return 4000 * flow_l_per_s / (math.pi * bore_mm * bore_mm)


def reynolds(*, velocity_m_per_s: float, bore_mm: float, fluid: Fluid) -> float:
    """Reynolds number, Re = rho v d / mu."""
    return fluid.density_kg_per_m3 * velocity_m_per_s * bore_mm / (1000 * fluid.viscosity_pa_s)


def darcy_factor(*, reynolds: float, relative_roughness_ratio: float) -> float:
    """Darcy friction factor f of dp = f L/d rho v2/2, iterated until it stands still.

    Colebrook-White (1939), 1/sqrt f = -2 log10(k/3.7d + 2.51/(Re sqrt f)), from Re 4000 up; 64/Re below 2300; a
    straight line in Re between the two, where no formula holds. Raises ValueError for Re not above 0.
    """
    if reynolds <= 0:
        raise ValueError(f"a Reynolds number is above 0, not {reynolds:g}")
    if reynolds < LAMINAR_BELOW:
        return 64 / reynolds
    if reynolds < TURBULENT_FROM:
        low = 64 / LAMINAR_BELOW
        high = _colebrook(TURBULENT_FROM, relative_roughness_ratio)
        return low + (high - low) * (reynolds - LAMINAR_BELOW) / (TURBULENT_FROM - LAMINAR_BELOW)
    return _colebrook(reynolds, relative_roughness_ratio)


def gradient_pa_per_m(*, flow_l_per_s: float, bore_mm: float, roughness_mm: float, fluid: Fluid) -> float:
    """Pressure loss of a metre of straight pipe by Darcy-Weisbach, dp/L = f/d rho v2/2. No flow, no loss.

    CIBSE Guide C (2001) 4.2. Bore and roughness above 0; any flow from 0 up.
    """
    velocity = velocity_m_per_s(flow_l_per_s=flow_l_per_s, bore_mm=bore_mm)
    number = reynolds(velocity_m_per_s=velocity, bore_mm=bore_mm, fluid=fluid)
    if number < LAMINAR_BELOW:
        # 64/Re put into Darcy-Weisbach, with Re cancelled out: it would be infinite as the flow comes to rest.
        return 32e6 * fluid.viscosity_pa_s * velocity / (bore_mm * bore_mm)
    factor = darcy_factor(reynolds=number, relative_roughness_ratio=roughness_mm / bore_mm)
    return 500 * factor / bore_mm * fluid.density_kg_per_m3 * velocity * velocity


def _colebrook(reynolds: float, relative_roughness_ratio: float) -> float:
    """Newton's method on x = 1/sqrt f; three or four steps to 1e-10."""
    rough, smooth = relative_roughness_ratio / 3.7, 2.51 / reynolds
    x = 6.0
    for _ in range(_MOST_STEPS):
        inside = rough + smooth * x
        step = (x + 2 * math.log10(inside)) / (1 + 2 * smooth / (math.log(10) * inside))
        x -= step
        if abs(step) < _SMALL_STEP:
            return 1 / (x * x)
    raise ArithmeticError(f"no friction factor found at Re {reynolds:g}, k/d {relative_roughness_ratio:g}")
