"""Ratings between their points."""

import pytest

from models.catalogue import OutdoorUnit, PumpPoint, Rating
from models.physics.rating import pump_head_pa, rating_grid, unit_state


def unit_of(*ratings: Rating) -> OutdoorUnit:
    return OutdoorUnit(
        sku="UNT-T", name="unit", ratings=ratings, defrost_included=True,
        pump_curve=(PumpPoint(flow_l_per_s=0, head_pa=60000), PumpPoint(flow_l_per_s=0.5, head_pa=20000)),
        own_loss_pa=5000, nominal_flow_l_per_s=0.3, minimum_flow_l_per_s=0.1, maximum_flow_l_per_s=0.5,
        minimum_volume_l=30, connection_od_mm=28, width_mm=1000, depth_mm=400, height_mm=800, mass_kg=90,
        clear_back_mm=200, clear_left_mm=200, clear_right_mm=200, clear_front_mm=1000, clear_above_mm=500,
        refrigerant="R290", charge_kg=0.5, water_l=2, wall_bracket_allowed=True, cascade_allowed=False,
        phases="single", maximum_current_a=12, breaker_a=16, condensate_l_per_day=20,
    )  # fmt: skip


def rating(outdoor: float, flow: float, output: float, power: float) -> Rating:
    return Rating(
        outdoor_temp_c=outdoor, flow_temp_c=flow, output_w=output, input_w=power, minimum_output_w=output / 3,
        sound_power_dba=55,
    )  # fmt: skip


GRID = (rating(-5, 35, 5000, 2000), rating(-5, 55, 4000, 2200), rating(5, 35, 7000, 1800), rating(5, 55, 6000, 2000))


def test_state_at_a_point_is_the_point_itself() -> None:
    state = unit_state(rating_grid(unit_of(*GRID)), outdoor_temp_c=5, flow_temp_c=55)
    assert state is not None
    assert (state.output_w, state.input_w) == (6000, 2000)


def test_state_in_the_middle_is_the_mean_of_the_four_points() -> None:
    state = unit_state(rating_grid(unit_of(*GRID)), outdoor_temp_c=0, flow_temp_c=45)
    assert state is not None
    assert state.output_w == pytest.approx(5500)  # (5000 + 4000 + 7000 + 6000) / 4
    assert state.input_w == pytest.approx(2000)  # (2000 + 2200 + 1800 + 2000) / 4


@pytest.mark.parametrize(("outdoor", "flow"), [(-6, 45), (6, 45), (0, 34), (0, 56)])
def test_no_state_beyond_the_makers_range(outdoor: float, flow: float) -> None:
    assert unit_state(rating_grid(unit_of(*GRID)), outdoor_temp_c=outdoor, flow_temp_c=flow) is None


def test_a_grid_with_a_hole_or_a_single_line_is_refused() -> None:
    with pytest.raises(ValueError, match=r"UNT-T has no rating at outdoor, flow \[\(5.0, 55.0\)\]"):
        rating_grid(unit_of(*GRID[:3], rating(-5, 45, 4500, 2100), rating(5, 45, 6500, 1900)))
    with pytest.raises(ValueError, match="two outdoor and two flow"):
        rating_grid(unit_of(*(rating(0, flow, 5000, 2000) for flow in (35, 45, 50, 55))))


def test_a_grid_is_remembered_by_its_own_ratings() -> None:
    one, other = unit_of(*GRID), unit_of(*GRID[:3], rating(5, 55, 6500, 2000))
    assert rating_grid(one) is rating_grid(one)
    assert rating_grid(one) != rating_grid(other)


def test_pump_head_between_points_and_none_beyond() -> None:
    curve = unit_of(*GRID).pump_curve
    assert pump_head_pa(curve, flow_l_per_s=0.25) == pytest.approx(40000)
    assert pump_head_pa(curve, flow_l_per_s=0.6) is None
