"""Floor heating of type A against BS EN 1264-2 by hand, and where the formula ends."""

import pytest

from models.physics.floor_heating import floor_coefficient_w_per_m2k
from models.reference.floor_heating import load_floor_heating

TABLE = load_floor_heating()
USUAL = {
    "pipe_spacing_m": 0.15, "covering_m2k_per_w": 0.1, "screed_m": 0.045, "screed_conductivity_w_per_mk": 1.2,
    "pipe_od_m": 0.016, "table": TABLE,
}  # fmt: skip


def test_by_hand_at_a_tabled_point() -> None:
    # aB = (1/10.8 + 0.045/1) / (1/10.8 + 0.045/1.2 + 0.1) = 0.137593 / 0.230093 = 0.597990
    # aT = 1.156^(1 - 0.15/0.075) = 0.865052; aU = 1.035^(100 x 0) = 1; aD = 1.029^(250 x -0.004) = 0.971817
    # 6.7 x 0.597990 x 0.865052 x 0.971817 = 3.3682
    assert floor_coefficient_w_per_m2k(**USUAL) == pytest.approx(3.3682, abs=5e-4)


def test_by_hand_between_tabled_points() -> None:
    # spacing 0.175 m, covering 0.025: aT = 1.209; aU = (1.057 + 1.046 + 1.051 + 1.041) / 4 = 1.04875;
    # aD = (1.040 + 1.034 + 1.046 + 1.040) / 4 = 1.04; screed 0.035 m: exponent 1; pipe 20 mm: exponent 0
    # aB = 0.137593 / (0.092593 + 0.045 + 0.025) = 0.846243; 1.209^(1 - 0.175/0.075) = 1.209^-1.333333 = 0.776431
    # 6.7 x 0.846243 x 0.776431 x 1.04875 = 4.61683
    between = USUAL | {
        "pipe_spacing_m": 0.175, "covering_m2k_per_w": 0.025, "screed_m": 0.035, "screed_conductivity_w_per_mk": 1.0,
        "pipe_od_m": 0.020,
    }  # fmt: skip
    assert floor_coefficient_w_per_m2k(**between) == pytest.approx(4.6168, abs=2e-3)


@pytest.mark.parametrize(
    "beyond", [{"pipe_spacing_m": 0.376}, {"pipe_spacing_m": 0.04}, {"covering_m2k_per_w": 0.16}, {"screed_m": 0.066}]
)
def test_no_answer_beyond_the_formula(beyond: dict[str, float]) -> None:
    assert floor_coefficient_w_per_m2k(**USUAL | beyond) is None


@pytest.mark.parametrize(
    "worse", [{"pipe_spacing_m": 0.2}, {"covering_m2k_per_w": 0.12}, {"screed_m": 0.06}, {"pipe_od_m": 0.014}]
)
def test_wider_thicker_and_thinner_give_less(worse: dict[str, float]) -> None:
    less, usual = floor_coefficient_w_per_m2k(**USUAL | worse), floor_coefficient_w_per_m2k(**USUAL)
    assert less is not None and usual is not None and less < usual
