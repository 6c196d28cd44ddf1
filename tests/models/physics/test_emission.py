"""What emitters and floors give off. Expected values are hand arithmetic, shown beside the check."""

import math

import pytest

from models.physics.emission import (
    excess_temp_k,
    floor_limit_w_per_m2,
    floor_output_w_per_m2,
    floor_temp_c,
    flow_and_return_c,
    log_mean_excess_k,
    mean_water_temp_c,
    output_ratio,
    output_w,
)


def test_excess_is_the_arithmetic_mean_above_the_room() -> None:
    assert excess_temp_k(flow_temp_c=45, return_temp_c=40, room_temp_c=20) == 22.5  # (45 + 40) / 2 - 20


def test_log_mean_lies_below_the_arithmetic_mean() -> None:
    # 35/30 in 20 °C: (15 - 10) / ln(15 / 10) = 5 / 0.405465 = 12.3315
    assert log_mean_excess_k(flow_temp_c=35, return_temp_c=30, room_temp_c=20) == pytest.approx(12.3315, abs=1e-4)
    assert log_mean_excess_k(flow_temp_c=35, return_temp_c=35, room_temp_c=20) == 15


@pytest.mark.parametrize(("flow", "back"), [(35, 20), (35, 15), (30, 35)])
def test_log_mean_needs_water_warmer_than_the_room(flow: float, back: float) -> None:
    with pytest.raises(ValueError, match="flow >= return > room"):
        log_mean_excess_k(flow_temp_c=flow, return_temp_c=back, room_temp_c=20)


@pytest.mark.parametrize("excess_k", [0, -5])
def test_water_no_warmer_than_the_room_gives_nothing(excess_k: float) -> None:
    assert output_ratio(excess_k=excess_k, exponent=1.3) == 0


def test_output_at_rated_conditions_is_the_rated_output() -> None:
    # 75/65 in 20 °C is 50 K
    assert output_w(output_50k_w=1078, exponent=1.29, flow_temp_c=75, return_temp_c=65, room_temp_c=20) == 1078


def test_water_temperature_for_a_load_inverts_the_output() -> None:
    # half the rated output at n = 1: half of 50 K above the room
    assert mean_water_temp_c(load_w=500, emitters=[(1000, 1.0)], room_temp_c=20) == pytest.approx(45)
    assert mean_water_temp_c(load_w=0, emitters=[(1000, 1.3)], room_temp_c=21) == 21
    assert mean_water_temp_c(load_w=100, emitters=[], room_temp_c=21) is None


def test_water_temperature_of_unlike_emitters_gives_exactly_the_load() -> None:
    mean_c = mean_water_temp_c(load_w=900, emitters=[(1200, 1.33), (700, 1.2)], room_temp_c=20)
    assert mean_c is not None
    given = 1200 * ((mean_c - 20) / 50) ** 1.33 + 700 * ((mean_c - 20) / 50) ** 1.2
    assert given == pytest.approx(900, rel=1e-8)


def test_curve_temperatures_at_full_and_at_no_load() -> None:
    design = {"flow_temp_c": 45.0, "return_temp_c": 40.0, "room_temp_c": 20.0, "exponent": 1.3}
    assert flow_and_return_c(load_ratio=1.0, **design) == pytest.approx((45, 40))
    assert flow_and_return_c(load_ratio=0.0, **design) == (20, 20)
    with pytest.raises(ValueError, match="not negative"):
        flow_and_return_c(load_ratio=-0.1, **design)


def test_floor_temperature_inverts_the_floor_output() -> None:
    given = floor_output_w_per_m2(floor_temp_c=27, room_temp_c=20)
    assert floor_temp_c(output_w_per_m2=given, room_temp_c=20) == pytest.approx(27)
    assert floor_output_w_per_m2(floor_temp_c=19, room_temp_c=20) == 0
    with pytest.raises(ValueError, match="not negative"):
        floor_temp_c(output_w_per_m2=-1, room_temp_c=20)


def test_floor_limit_where_people_stay() -> None:
    # 29 °C in a room of 20 °C: 8.92 x 9^1.1
    assert floor_limit_w_per_m2(zone="occupied", room_temp_c=20) == pytest.approx(8.92 * math.exp(1.1 * math.log(9)))
    assert floor_limit_w_per_m2(zone="perimeter", room_temp_c=20) > floor_limit_w_per_m2(
        zone="bathroom", room_temp_c=20
    )
