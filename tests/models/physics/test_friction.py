import math

import fluids
import pytest

from models.physics.fluids import water
from models.physics.friction import (
    LAMINAR_BELOW,
    TURBULENT_FROM,
    darcy_factor,
    gradient_pa_per_m,
    heating_pipe_bore_mm,
    reynolds,
    velocity_m_per_s,
)
from models.reference import load


def test_the_factor_satisfies_colebrook_white() -> None:
    """1/sqrt f = -2 log10(k/3.7d + 2.51/(Re sqrt f)), put back into itself."""
    for re in (4000.0, 2e4, 1e6):
        for rough in (1e-6, 5e-5, 0.01):
            f = darcy_factor(reynolds=re, relative_roughness_ratio=rough)
            assert 1 / math.sqrt(f) == pytest.approx(-2 * math.log10(rough / 3.7 + 2.51 / (re * math.sqrt(f))), 1e-9)


def test_the_general_library_agrees() -> None:
    for re in (4000.0, 1e4, 1e5, 5e6):
        for rough in (2e-5, 1e-3, 0.02):
            expected = fluids.friction_factor(Re=re, eD=rough, Method="Colebrook")
            assert darcy_factor(reynolds=re, relative_roughness_ratio=rough) == pytest.approx(expected, rel=1e-8)


def test_laminar_flow_is_poiseuilles() -> None:
    """dp/L = 128 mu q / (pi d4); 0.005 L/s in 13.6 mm at 20 C has Re of about 470."""
    liquid = water(temp_c=20)
    expected = 128 * liquid.viscosity_pa_s * 5e-6 / (math.pi * 0.0136**4)
    found = gradient_pa_per_m(flow_l_per_s=0.005, bore_mm=13.6, roughness_mm=0.0015, fluid=liquid)
    assert found == pytest.approx(expected, rel=1e-9)


def test_no_step_at_either_end_of_the_transition() -> None:
    for re in (LAMINAR_BELOW, TURBULENT_FROM):
        below = darcy_factor(reynolds=re * (1 - 1e-9), relative_roughness_ratio=1e-4)
        assert darcy_factor(reynolds=re, relative_roughness_ratio=1e-4) == pytest.approx(below, rel=1e-6)


def test_still_water_loses_nothing_and_no_reynolds_number_is_refused() -> None:
    assert gradient_pa_per_m(flow_l_per_s=0, bore_mm=20, roughness_mm=0.0015, fluid=water(temp_c=50)) == 0
    with pytest.raises(ValueError, match="above 0"):
        darcy_factor(reynolds=0, relative_roughness_ratio=0.001)


def test_velocity_and_reynolds_by_hand() -> None:
    """1 L/s through 1000 mm2 (35.682 mm bore) is 1 m/s; Re = 998.2 x 1 x 0.035682 / 0.0010016 = 35 560."""
    bore_mm = math.sqrt(4000 / math.pi)
    v = velocity_m_per_s(flow_l_per_s=1, bore_mm=bore_mm)
    assert v == pytest.approx(1)
    assert reynolds(velocity_m_per_s=v, bore_mm=bore_mm, fluid=water(temp_c=20)) == pytest.approx(35_560, rel=0.001)


@pytest.mark.parametrize(
    ("size_mm", "material", "reckoned_mm", "bore_mm"),
    [
        (15, "copper", 15, 13.6),  # BS EN 1057: 15 - 2 x 0.7
        (6, "copper", 6, 4.8),  # 6 - 2 x 0.6, not in the table of new tube
        (25, "unknown", 22, 20.2),  # no copper of 25 mm: the next smaller, 22 - 2 x 0.9
        (25, "steel", 25, 27.4),  # BS EN 10255 medium: 33.7 - 2 x 3.2, near enough
        (9, "plastic", 10, 7.0),  # none is smaller
    ],
)
def test_bore_of_a_heating_pipe(size_mm: int, material: str, reckoned_mm: int, bore_mm: float) -> None:
    found = heating_pipe_bore_mm(size_mm=size_mm, material=material, tubes=load().tubes)
    assert found == (reckoned_mm, pytest.approx(bore_mm))
