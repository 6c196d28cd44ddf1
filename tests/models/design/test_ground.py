from typing import Any

import pytest

from models.design.ground import ground_floors
from models.reference import load
from models.survey import BasementFloor, BasementWall, ByU, GroundSlab, House, SuspendedFloor

HOUSE = House(
    nation="england",
    place="Nether Fallow",
    altitude_m=96,
    weather_station="Birmingham",
    climate_region=6,
    dwelling_type="semi_detached",
    age_band="F",
    storeys=2,
    bedrooms=3,
    occupants=4,
    slab_area_m2=50,
    exposed_perimeter_m=21,
)


def floor(construction: Any, **house: object):
    changed = HOUSE.model_copy(update=house)
    return ground_floors(constructions=[construction], house=changed, reference=load())[construction.id]


def slab(**more: object) -> GroundSlab:
    return GroundSlab(by="ground_slab", id="g", name="kitchen floor", **more)


def timber(**more: object) -> SuspendedFloor:
    return SuspendedFloor(by="suspended_floor", id="s", name="timber floor", **more)


def test_the_sentence_holds_the_numbers() -> None:
    # B' = 50 / 10.5 = 4.76 m, d_t = 0.3 + 1.5 x 0.21 = 0.615 m
    how = floor(slab()).how
    assert "kitchen floor" in how and "50 m2" in how and "21 m" in how and "B' 4.76 m" in how and "0.6" in how


def test_insulation_that_was_not_seen_is_assumed() -> None:
    assert floor(slab()).assumed
    assert not floor(slab(insulation_m2k_per_w=1.0)).assumed
    assert floor(timber()).assumed
    assert not floor(timber(insulation_m2k_per_w=0.2)).assumed


@pytest.mark.parametrize(
    ("worse", "better"),
    [
        (slab(insulation_m2k_per_w=0), slab(insulation_m2k_per_w=2)),
        (timber(insulation_m2k_per_w=0.2), timber(insulation_m2k_per_w=2)),
        (timber(vent_area_m2_per_m=0.003), timber(vent_area_m2_per_m=0.0015)),
        (timber(wind_speed_m_per_s=6), timber(wind_speed_m_per_s=4)),
        (timber(wind_shielding_ratio=0.1), timber(wind_shielding_ratio=0.02)),
        (timber(floor_above_ground_m=0.6), timber(floor_above_ground_m=0.3)),
        (timber(void_wall_u_w_per_m2k=2), timber(void_wall_u_w_per_m2k=1)),
    ],
)
def test_each_property_of_the_floor_counts(worse: Any, better: Any) -> None:
    assert floor(better).u_w_per_m2k < floor(worse).u_w_per_m2k


@pytest.mark.parametrize(
    ("field", "worse", "better"),
    [
        ("slab_area_m2", 40, 60),
        ("exposed_perimeter_m", 25, 15),
        ("slab_wall_thickness_mm", 200, 500),
        ("ground_conductivity_w_per_mk", 2.0, 1.5),
    ],
)
def test_each_property_of_the_house_counts(field: str, worse: float, better: float) -> None:
    for construction in (slab(), timber()):
        assert floor(construction, **{field: better}).u_w_per_m2k < floor(construction, **{field: worse}).u_w_per_m2k


def test_only_ground_floors_are_answered() -> None:
    wall = ByU(by="u_value", id="w", name="wall", u_w_per_m2k=1)
    assert ground_floors(constructions=[wall], house=HOUSE, reference=load()) == {}


def test_a_heated_basement() -> None:
    # EN ISO 13370 (from memory), 50 m2 with 21 m of edge, 2.5 m deep, ground 1.5 W/mK, walls 300 mm:
    # floor: B' = 4.7619, d_t = 0.3 + 1.5 x 0.21 = 0.615, d_t + z/2 = 1.865;
    #   U = 3 / (14.9600 + 1.865) x ln(14.9600 / 1.865 + 1) = 0.17831 x 2.19960 = 0.3922
    below = BasementFloor(by="basement_floor", id="f", name="cellar floor", depth_m=2.5)
    assert floor(below).u_w_per_m2k == pytest.approx(0.3922, abs=1e-4)
    # wall of 0.3 m2K/W: d_w = 1.5 x (0.13 + 0.3 + 0.04) = 0.705;
    #   U = 3 / (π x 2.5) x (1 + 0.5 x 0.615 / 3.115) x ln(2.5 / 0.705 + 1) = 0.38197 x 1.09872 x 1.51427 = 0.6355
    wall = BasementWall(by="basement_wall", id="w", name="cellar wall", depth_m=2.5, resistance_m2k_per_w=0.3)
    assert floor(wall).u_w_per_m2k == pytest.approx(0.6355, abs=1e-4)
    assert "cellar wall: down to 2.5 m" in floor(wall).how
    assert floor(below).assumed and not floor(wall).assumed


@pytest.mark.parametrize("field", ["depth_m", "resistance_m2k_per_w", "floor_insulation_m2k_per_w"])
def test_deeper_or_better_basement_walls_lose_less(field: str) -> None:
    given = {"depth_m": 1.5, "resistance_m2k_per_w": 0.5, "floor_insulation_m2k_per_w": 0.0}
    walls = [
        BasementWall(by="basement_wall", id="w", name="w", **(given | {field: given[field] + more})) for more in (0, 1)
    ]
    if field == "floor_insulation_m2k_per_w":
        # the foot's heat then goes by the wall: no less, EN ISO 13370
        assert floor(walls[1]).u_w_per_m2k >= floor(walls[0]).u_w_per_m2k
    else:
        assert floor(walls[1]).u_w_per_m2k < floor(walls[0]).u_w_per_m2k


def test_a_basement_at_no_depth_is_a_slab() -> None:
    shallow = BasementFloor(by="basement_floor", id="f", name="f", depth_m=0.001)
    assert floor(shallow).u_w_per_m2k == pytest.approx(floor(slab()).u_w_per_m2k, rel=1e-3)
