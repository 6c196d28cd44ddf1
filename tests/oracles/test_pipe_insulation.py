"""Heat from pipes, with insulation and bare: EN ISO 12241, computed apart from this project."""

import math
from typing import Any

import pytest

from models.physics.conduction import insulated_pipe_loss_w_per_m

COMMON = {"question": "conduction", "source": "EN ISO 12241 formula", "standing": "second computation"}


@pytest.mark.parametrize(
    "case",
    [
        pytest.param(
            case,
            marks=pytest.mark.oracle(
                **COMMON, case=case, tolerance="0.2 %, 0.05 K: rounding of the case's last digits"
            ),
        )
        for case in ("INS-011", "INS-013", "INS-015")
    ],
)
def test_insulated_pipe(cases: Any, case: str) -> None:
    given, expected = cases[case]["inputs"], cases[case]["expected"]
    loss_w_per_m = insulated_pipe_loss_w_per_m(
        od_mm=given["od"],
        insulation_mm=given["s"],
        insulation_conductivity_w_per_mk=given["lam"],
        surface_coefficient_w_per_m2k=given["h"],
        fluid_temp_c=given["ti"],
        air_temp_c=given["ta"],
    )
    assert loss_w_per_m == pytest.approx(expected["W_per_m"], rel=0.002)
    # what leaves the surface: loss = h pi D (surface - air)
    around_m = math.pi * (given["od"] + 2 * given["s"]) / 1000
    surface_c = given["ta"] + loss_w_per_m / (given["h"] * around_m)
    assert surface_c == pytest.approx(expected["surface_C"], abs=0.05)


@pytest.mark.oracle(**COMMON, case="INS-021", tolerance="0.1 %: rounding of the case's last digits")
def test_bare_pipe(cases: Any) -> None:
    given, expected = cases["INS-021"]["inputs"], cases["INS-021"]["expected"]
    loss_w_per_m = insulated_pipe_loss_w_per_m(
        od_mm=given["od"],
        insulation_mm=0,
        insulation_conductivity_w_per_mk=0.04,
        surface_coefficient_w_per_m2k=given["h"],
        fluid_temp_c=given["ti"],
        air_temp_c=given["ta"],
    )
    assert loss_w_per_m == pytest.approx(expected["W_per_m"], rel=0.001)
