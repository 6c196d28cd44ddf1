import pytest

from models.physics.conduction import (
    TooManySections,
    equivalent_ground_u_w_per_m2k,
    floor_over_void,
    insulated_pipe_loss_w_per_m,
    layers_resistance,
    slab_on_ground,
)
from models.reference import load
from models.survey import Layer, LayerPath


def layer(name: str, *paths: dict[str, float]) -> Layer:
    return Layer(name=name, paths=tuple(LayerPath(**path) for path in paths))


def resistance(*layers: Layer):
    return layers_resistance(layers=layers, inside_surface_m2k_per_w=0.13, outside_surface_m2k_per_w=0.04)


def test_one_homogeneous_layer_adds_its_resistance_to_those_of_the_surfaces() -> None:
    # 0.13 + 0.1 / 0.5 + 0.04 = 0.37 m2K/W
    result = resistance(layer("block", {"thickness_mm": 100, "conductivity_w_per_mk": 0.5}))
    assert result.upper_m2k_per_w == pytest.approx(0.37)
    assert result.lower_m2k_per_w == pytest.approx(0.37)
    assert result.u_w_per_m2k == pytest.approx(1 / 0.37)
    assert result.in_range


def test_bridges_in_two_layers_cross() -> None:
    # Two layers, each half 1 and half 3 m2K/W. Sections: 1+1, 1+3, 3+1, 3+3, a quarter each, plus 0.17 of surfaces.
    halves = ({"share_ratio": 0.5, "resistance_m2k_per_w": 1}, {"share_ratio": 0.5, "resistance_m2k_per_w": 3})
    result = resistance(layer("studs", *halves), layer("battens", *halves))
    assert result.upper_m2k_per_w == pytest.approx(1 / (0.25 / 2.17 + 0.5 / 4.17 + 0.25 / 6.17))
    # Lower: each layer 1 / (0.5/1 + 0.5/3) = 1.5
    assert result.lower_m2k_per_w == pytest.approx(0.17 + 1.5 + 1.5)
    assert result.total_m2k_per_w == pytest.approx((result.upper_m2k_per_w + result.lower_m2k_per_w) / 2)


def test_a_layer_bridged_by_nothing_at_all_counts_as_nothing_below() -> None:
    hole = ({"share_ratio": 0.5, "resistance_m2k_per_w": 0}, {"share_ratio": 0.5, "resistance_m2k_per_w": 10})
    result = resistance(layer("holes", *hole))
    assert result.lower_m2k_per_w == pytest.approx(0.17)
    assert not result.in_range


def test_more_sections_than_can_be_worked_out_are_refused_by_the_name_of_the_layer() -> None:
    quarters = [{"share_ratio": 0.25, "resistance_m2k_per_w": r} for r in (1, 2, 3, 4)]
    with pytest.raises(TooManySections, match="layer 'seventh'"):
        resistance(*(layer(name, *quarters) for name in ("1", "2", "3", "4", "5", "6", "seventh")))


def test_a_slab_takes_the_form_for_well_insulated_floors_from_equal_thickness_on() -> None:
    # B' = 10 / (0.5 x 20) = 1 m; d_t = 0.3 + 1.5 x (0.17 + Rf + 0.04) = 1 m at Rf = 0.25667: then
    # U = 1.5 / (0.457 x 1 + 1) = 1.0295 (EN ISO 13370, 8.1)
    result = slab_on_ground(
        area_m2=10,
        exposed_perimeter_m=20,
        wall_thickness_m=0.3,
        insulation_m2k_per_w=0.7 / 1.5 - 0.21 + 1e-12,
        ground_conductivity_w_per_mk=1.5,
        inside_surface_m2k_per_w=0.17,
        outside_surface_m2k_per_w=0.04,
    )
    assert result.deep
    assert result.u_w_per_m2k == pytest.approx(1.5 / 1.457)


def test_a_suspended_floor_without_a_void_loss_is_only_the_ground() -> None:
    result = floor_over_void(
        area_m2=50,
        exposed_perimeter_m=30,
        wall_thickness_m=0.3,
        insulation_m2k_per_w=0.2,
        floor_above_ground_m=0,
        vent_area_m2_per_m=0,
        void_wall_u_w_per_m2k=1.5,
        wind_speed_m_per_s=5,
        wind_shielding_ratio=0.05,
        ground_conductivity_w_per_mk=1.5,
        inside_surface_m2k_per_w=0.17,
        outside_surface_m2k_per_w=0.04,
    )
    assert result.void_u_w_per_m2k == 0
    assert result.u_w_per_m2k == pytest.approx(1 / (0.34 + 0.2 + 1 / result.ground_u_w_per_m2k))


def test_earth_deeper_around_a_wall_takes_less() -> None:
    wall = load().heat_loss.ground_equivalent["wall"]
    shallow, deep = (
        equivalent_ground_u_w_per_m2k(constants=wall, characteristic_m=5, depth_m=z, u_w_per_m2k=1.5) for z in (0.5, 3)
    )
    assert 0 < deep < shallow


def test_no_insulation_is_a_bare_pipe() -> None:
    # π x 0.028 m x 10 W/m2K x 48 K = 42.22 W/m
    bare_w_per_m = insulated_pipe_loss_w_per_m(
        od_mm=28, insulation_mm=0, insulation_conductivity_w_per_mk=0.04, surface_coefficient_w_per_m2k=10,
        fluid_temp_c=45, air_temp_c=-3,
    )  # fmt: skip
    assert bare_w_per_m == pytest.approx(42.22, abs=0.005)
