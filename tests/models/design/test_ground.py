from typing import Any

import pytest

from models.design.ground import ground_floors
from models.reference import load
from models.survey import ByU, GroundSlab, House, SuspendedFloor

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
