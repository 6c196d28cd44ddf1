"""Formulas of the water side over their whole range against general-purpose libraries that know nothing of houses.

`fluids` for friction, `ht` for pipes that lose heat, `CoolProp` for water and glycol, `pint` for dimensions. They stand
in the test extra and are imported without asking: where one is missing the run fails instead of checking less.
`CoolProp` takes seconds to import, so that only the tests that ask it do.
"""

import math
from itertools import product
from typing import Any

import fluids as friction_library
import ht
import pint
import pytest

from models.design.electrical import voltage_drop_v
from models.design.hot_water import reheat_minutes
from models.design.system_volume import content_l, vessel_l
from models.physics.conduction import insulated_pipe_loss_w_per_m
from models.physics.fluids import (
    GLYCOL_RANGE_C,
    GLYCOL_RANGE_RATIO,
    WATER_RANGE_C,
    Fluid,
    flow_l_per_s,
    freezing_temp_c,
    head_m,
    propylene_glycol,
    water,
)
from models.physics.friction import (
    COPPER_ROUGHNESS_MM,
    LAMINAR_BELOW,
    PLASTIC_ROUGHNESS_MM,
    TURBULENT_FROM,
    darcy_factor,
    gradient_pa_per_m,
    reynolds,
    velocity_m_per_s,
)

ABSOLUTE_ZERO_C = -273.15
PRESSURE_PA = 2e5
"""Of a sealed circuit: a bar over the atmosphere."""
LIBRARY_LAMINAR_BELOW = 2040.0
"""Where `fluids` leaves laminar flow; between this and 4000 no formula holds and conventions differ."""


def library(question: str, source: str, tolerance: str) -> Any:
    return pytest.mark.oracle(question=question, source=source, standing="second computation", tolerance=tolerance)


def spread(low: float, high: float, count: int) -> list[float]:
    """Numbers from low to high in equal ratios."""
    return [low * (high / low) ** (step / (count - 1)) for step in range(count)]


# --- friction --------------------------------------------------------------------------------------------------------

ROUGHNESSES = [0.0, *spread(1e-7, 0.05, 15)]


@library("primary_pipework", "fluids, Colebrook solved exactly", "1e-8: the same equation")
def test_friction_factor_of_turbulent_flow_over_the_moody_chart() -> None:
    for re, rough in product(spread(TURBULENT_FROM, 1e8, 25), ROUGHNESSES):
        expected = friction_library.friction_factor(Re=re, eD=rough, Method="Colebrook")
        found = darcy_factor(reynolds=re, relative_roughness_ratio=rough)
        assert found == pytest.approx(expected, rel=1e-8), (re, rough)


@library("primary_pipework", "fluids, laminar friction factor", "1e-12: the same equation")
def test_friction_factor_of_laminar_flow_whatever_the_roughness() -> None:
    for re, rough in product([*spread(1e-3, 2000, 15), LAMINAR_BELOW - 1e-6], ROUGHNESSES):
        expected = friction_library.friction.friction_laminar(re)
        assert darcy_factor(reynolds=re, relative_roughness_ratio=rough) == pytest.approx(expected, rel=1e-12)


@library("primary_pipework", "fluids, the laminar and the turbulent factor at its ends", "never outside the two")
def test_friction_factor_between_laminar_and_turbulent_lies_between_the_two() -> None:
    steps = [LAMINAR_BELOW + (TURBULENT_FROM - LAMINAR_BELOW) * n / 20 for n in range(21)]
    for rough in ROUGHNESSES:
        turbulent = friction_library.friction_factor(Re=TURBULENT_FROM, eD=rough, Method="Colebrook")
        ends = sorted((friction_library.friction.friction_laminar(LAMINAR_BELOW), turbulent))
        found = [darcy_factor(reynolds=re, relative_roughness_ratio=rough) for re in steps]
        assert all(ends[0] * (1 - 1e-12) <= factor <= ends[1] * (1 + 1e-12) for factor in found)
        assert found == sorted(found) or found == sorted(found, reverse=True)


@library("primary_pipework", "fluids one_phase_dP with CoolProp's water and glycol", "0.6 %: viscosity to 0.5 %")
def test_pressure_drop_of_every_tube_at_every_flow() -> None:
    """0.02 to 2 m/s in tubes of 6 to 54 mm, cold and hot water and two mixtures, copper and plastic."""
    for name, ratio, temp_c in (
        ("Water", 0.0, 5), ("Water", 0.0, 47.5), ("Water", 0.0, 75), ("MPG", 0.257, 5), ("MPG", 0.4, 52.5)
    ):  # fmt: skip
        density, _, viscosity = outside(name, ratio, temp_c)
        liquid = water(temp_c=temp_c) if not ratio else propylene_glycol(temp_c=temp_c, mass_ratio=ratio)
        for bore_mm, v, rough_mm in product(
            (4.8, 7.0, 13.6, 20.2, 26.2, 39.6, 51.6), spread(0.02, 2, 9), (COPPER_ROUGHNESS_MM, PLASTIC_ROUGHNESS_MM)
        ):
            area_m2 = math.pi / 4 * (bore_mm / 1000) ** 2
            re = density * v * bore_mm / 1000 / viscosity
            if LIBRARY_LAMINAR_BELOW * 0.99 < re < TURBULENT_FROM * 1.01:
                continue
            expected_pa = friction_library.one_phase_dP(
                m=density * v * area_m2, rho=density, mu=viscosity, D=bore_mm / 1000, roughness=rough_mm / 1000, L=1,
                Method="Colebrook",
            )  # fmt: skip
            q_l_per_s = 1000 * v * area_m2
            found = gradient_pa_per_m(flow_l_per_s=q_l_per_s, bore_mm=bore_mm, roughness_mm=rough_mm, fluid=liquid)
            assert found == pytest.approx(expected_pa, rel=0.006), (name, ratio, temp_c, bore_mm, v)


# --- water and glycol ------------------------------------------------------------------------------------------------


def outside(name: str, ratio: float, temp_c: float) -> tuple[float, float, float]:
    """Density, heat capacity and viscosity by CoolProp: IAPWS-95 for water, Melinder for mixtures."""
    import CoolProp.CoolProp as coolprop

    medium = f"INCOMP::{name}[{ratio}]" if ratio else name
    kelvin = temp_c - ABSOLUTE_ZERO_C
    density, capacity, viscosity = (coolprop.PropsSI(key, "T", kelvin, "P", PRESSURE_PA, medium) for key in "DCV")
    return density, capacity, viscosity


@library("fluids", "CoolProp, IAPWS-95 at 2 bar", "0.02, 0.1 and 0.05 %: what the equations themselves claim")
def test_water_from_freezing_to_boiling() -> None:
    low_c, high_c = WATER_RANGE_C
    for step in range(201):
        temp_c = max(low_c + (high_c - low_c) * step / 200, 0.01)  # IAPWS-95 begins at the triple point
        density, capacity, viscosity = outside("Water", 0, temp_c)
        found = water(temp_c=temp_c)
        assert found.density_kg_per_m3 == pytest.approx(density, rel=0.0002), temp_c
        assert found.heat_capacity_j_per_kgk == pytest.approx(capacity, rel=0.001), temp_c
        assert found.viscosity_pa_s == pytest.approx(viscosity, rel=0.0005), temp_c


@library("fluids", "CoolProp, Melinder (2010) by mass", "0.02, 0.05 and 0.5 %: a refit of the same tables")
def test_glycol_by_concentration_and_temperature() -> None:
    (low_c, high_c), (least, most) = GLYCOL_RANGE_C, GLYCOL_RANGE_RATIO
    for step, part in product(range(31), range(13)):
        temp_c, ratio = low_c + (high_c - low_c) * step / 30, least + (most - least) * part / 12
        if temp_c < freezing_temp_c(mass_ratio=ratio) + 0.1:
            continue
        density, capacity, viscosity = outside("MPG", ratio, temp_c)
        found = propylene_glycol(temp_c=temp_c, mass_ratio=ratio)
        assert found.density_kg_per_m3 == pytest.approx(density, rel=0.0002), (temp_c, ratio)
        assert found.heat_capacity_j_per_kgk == pytest.approx(capacity, rel=0.0005), (temp_c, ratio)
        assert found.viscosity_pa_s == pytest.approx(viscosity, rel=0.005), (temp_c, ratio)


@library("frost_protection", "CoolProp, freezing point of propylene glycol and water", "0.1 K: a refit")
def test_freezing_point_by_concentration() -> None:
    import CoolProp.CoolProp as coolprop

    least, most = GLYCOL_RANGE_RATIO
    for part in range(25):
        ratio = least + (most - least) * part / 24
        expected_c = coolprop.PropsSI("T_freeze", "T", 300, "P", PRESSURE_PA, f"INCOMP::MPG[{ratio}]") + ABSOLUTE_ZERO_C
        assert freezing_temp_c(mass_ratio=ratio) == pytest.approx(expected_c, abs=0.1), ratio


# --- heat from pipes -------------------------------------------------------------------------------------------------


@library("conduction", "ht, R_cylinder: resistance of a hollow cylinder", "1e-9: the same equation")
def test_insulated_pipe_over_sizes_insulations_and_winds() -> None:
    for od_mm, thick_mm, conductivity, surface in product(
        (8, 15, 22, 28, 35, 42, 54), (1, 9, 19, 25, 32, 60), (0.025, 0.038, 0.05), (5, 10, 25, 40)
    ):
        inner_m, outer_m = od_mm / 1000, (od_mm + 2 * thick_mm) / 1000
        around_m2 = math.pi * outer_m
        resistance_k_per_w = ht.conduction.R_cylinder(Di=inner_m, Do=outer_m, k=conductivity, L=1) + 1 / (
            surface * around_m2
        )
        loss_w_per_m = insulated_pipe_loss_w_per_m(
            od_mm=od_mm, insulation_mm=thick_mm, insulation_conductivity_w_per_mk=conductivity,
            surface_coefficient_w_per_m2k=surface, fluid_temp_c=47.5, air_temp_c=-3.6,
        )  # fmt: skip
        assert loss_w_per_m == pytest.approx(51.1 / resistance_k_per_w, rel=1e-9)


@library("conduction", "ht, cylindrical_heat_transfer with the same coefficient outside", "1e-9: the same equation")
def test_bare_pipe_loses_what_its_surface_gives() -> None:
    for od_mm, surface in product((15, 22, 28, 42), (5, 10, 25)):
        loss_w_per_m = insulated_pipe_loss_w_per_m(
            od_mm=od_mm, insulation_mm=0, insulation_conductivity_w_per_mk=0.04,
            surface_coefficient_w_per_m2k=surface, fluid_temp_c=45, air_temp_c=-3,
        )  # fmt: skip
        # a wall of no thickness that conducts without limit
        whole = ht.conduction.cylindrical_heat_transfer(
            Ti=45, To=-3, hi=1e12, ho=surface, Di=od_mm / 1000 * (1 - 1e-12), ts=[1e-12], ks=[1e9]
        )
        assert loss_w_per_m == pytest.approx(whole["UA"] * 48, rel=1e-6)


# --- dimensions ------------------------------------------------------------------------------------------------------

UNITS = pint.UnitRegistry()


def dimensions(question: str) -> Any:
    return library(question, "pint, the formula written with its units", "1e-12: factors of ten must vanish")


@dimensions("primary_pipework")
def test_dimensions_of_flow_velocity_reynolds_and_head() -> None:
    liquid = Fluid(990.0, 4180.0, 5.7e-4)
    density, capacity = 990 * UNITS.kg / UNITS.m**3, 4180 * UNITS.J / UNITS.kg / UNITS.K
    viscosity, bore = 5.7e-4 * UNITS.Pa * UNITS.s, 26.2 * UNITS.mm
    flow = 8 * UNITS.kW / (density * capacity * 5 * UNITS.K)
    found = flow_l_per_s(heat_w=8000, delta_t_k=5, fluid=liquid)
    assert found == pytest.approx(flow.to("L/s").magnitude, rel=1e-12)
    velocity = flow / (math.pi / 4 * bore**2)
    v = velocity_m_per_s(flow_l_per_s=found, bore_mm=26.2)
    assert v == pytest.approx(velocity.to("m/s").magnitude, rel=1e-12)
    number = density * velocity * bore / viscosity
    re = reynolds(velocity_m_per_s=v, bore_mm=26.2, fluid=liquid)
    assert re == pytest.approx(number.to("dimensionless").magnitude, rel=1e-12)
    factor = darcy_factor(reynolds=re, relative_roughness_ratio=0.0015 / 26.2)
    gradient = factor / bore * density * velocity**2 / 2
    found_pa = gradient_pa_per_m(flow_l_per_s=found, bore_mm=26.2, roughness_mm=0.0015, fluid=liquid)
    assert found_pa == pytest.approx(gradient.to("Pa/m").magnitude, rel=1e-12)
    head = 20 * UNITS.kPa / (density * UNITS.standard_gravity)
    assert head_m(pressure_pa=20_000, density_kg_per_m3=990) == pytest.approx(head.to("m").magnitude, rel=1e-9)


@dimensions("system_volume")
def test_dimensions_of_content_and_vessel() -> None:
    content = math.pi / 4 * (20.2 * UNITS.mm) ** 2 * 40 * UNITS.m
    assert content_l(length_m=40, bore_mm=20.2) == pytest.approx(content.to("L").magnitude, rel=1e-12)
    # Boyle in absolute pressures: p0 V = pe (V - taken)
    low, high = 2.0 * UNITS.bar, 3.5 * UNITS.bar
    vessel = 5 * UNITS.L * high / (high - low)
    assert vessel_l(taken_l=5, charge_bar=1.0, final_bar=2.5) == pytest.approx(vessel.to("L").magnitude, rel=1e-12)


@dimensions("electrical")
def test_dimensions_of_voltage_drop() -> None:
    drop = 7.3 * UNITS.mV / UNITS.A / UNITS.m * 23 * UNITS.A * 18 * UNITS.m
    found = voltage_drop_v(drop_mv_per_a_m=7.3, current_a=23, length_m=18)
    assert found == pytest.approx(drop.to("V").magnitude, rel=1e-12)


@library("hot_water", "pint: stored heat over power", "0.6 %: BS 6700 rounds 4.186 kJ/kgK into its 14.3")
def test_dimensions_of_reheat() -> None:
    heat = 180 * UNITS.L * 1 * UNITS.kg / UNITS.L * 4.186 * UNITS.kJ / UNITS.kg / UNITS.K * 40 * UNITS.K
    found = reheat_minutes(volume_l=180, delta_t_k=40, power_w=7000)
    assert found == pytest.approx((heat / (7 * UNITS.kW)).to("min").magnitude, rel=0.006)
