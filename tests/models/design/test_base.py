"""The base under a unit. Sizes are common practice, no source; the arithmetic is beside each check."""

import pytest

from models.design.base import base


@pytest.fixture
def built(make_unit, make_position, place):
    def judge(*, unit=None, count=1, wanted=None, cold=False, **position):
        result = base(
            position=make_position(**position),
            unit=make_unit(**(unit or {})),
            count=count,
            wanted=wanted,
            cold=cold,
            place_reference=place,
        )
        return result, {finding.code: finding.strength for finding in result.findings}

    return judge


def test_a_slab_by_hand(built):
    # 1.1 x 0.4 m and 150 mm each side: 1.4 x 0.7 = 0.98 m2; 100 mm thick; 100 mm sub-base and 50 mm below ground
    slab, _ = built()
    assert slab.type == "rapid_slab" and "saves a day" in slab.reason
    assert (slab.length_m, slab.width_m) == pytest.approx((1.4, 0.7))
    assert slab.area_m2 == pytest.approx(0.98)
    assert slab.volume_m3 == pytest.approx(0.098)
    assert slab.perimeter_m == pytest.approx(4.2)
    assert slab.dig_m3 == pytest.approx(0.98 * 0.15)


@pytest.mark.parametrize(
    ("ground", "thickness_m"),
    [("sand_or_gravel", 0.1), ("loam", 0.1), ("rubble_or_rock", 0.1), ("clay", 0.15), ("unknown", 0.15)],
)
def test_soft_and_unknown_ground_take_a_thicker_slab(built, ground, thickness_m):
    slab, said = built(ground=ground)
    assert slab.thickness_m == thickness_m
    assert ("ground_not_known" in said) is (ground == "unknown")


def test_two_units_stand_in_a_row_with_the_larger_side_clearance_between(built):
    # 2 x 1.1 + 0.5 + 2 x 0.15 = 3.0
    assert built(count=2)[0].length_m == pytest.approx(3.0)


def test_blocks_need_no_concrete(built):
    blocks, said = built(wanted="preformed")
    assert (blocks.type, blocks.thickness_m, blocks.volume_m3) == ("preformed", 0.0, 0.0)
    assert blocks.dig_m3 == pytest.approx(0.98 * 0.1) and "preformed_not_suitable" not in said


@pytest.mark.parametrize(
    ("unit", "position", "words"),
    [
        ({"mass_kg": 131}, {}, "131 kg"),
        ({}, {"ground": "clay"}, "clay"),
        ({}, {"slope_ratio": 0.1}, "1 in 10"),
    ],
)
def test_blocks_are_refused_where_they_would_settle(built, unit, position, words):
    slab, said = built(wanted="preformed", unit=unit, **position)
    assert slab.type == "rapid_slab" and words in slab.reason
    assert said["preformed_not_suitable"] == "ask"


def test_a_slope_of_one_in_twenty_still_takes_blocks(built):
    assert built(wanted="preformed", slope_ratio=0.05)[0].type == "preformed"


def test_a_slope_takes_more_digging(built):
    # 1.4 m long, 1 in 10: the cut is 0.14 m at the upper edge, 0.07 m in the mean, 0.98 x 0.07 = 0.0686 m3
    flat, _ = built()
    slab, said = built(slope_ratio=0.1)
    assert slab.dig_m3 - flat.dig_m3 == pytest.approx(0.0686)
    assert said["ground_slopes"] == "note" and "ground_too_steep" not in said
    # 1 in 5: an edge that holds the earth back is wanted
    steep, said = built(slope_ratio=0.2)
    assert steep.dig_m3 - flat.dig_m3 == pytest.approx(0.1372)
    assert said["ground_too_steep"] == "ask" and "ground_slopes" not in said


def test_the_cold_prefers_blocks_and_warns_about_concrete(built):
    assert built(cold=True)[0].type == "preformed"
    slab, said = built(cold=True, ground="clay")
    assert slab.type == "rapid_slab" and "concrete_in_the_cold" in said
    assert built(cold=True, wanted="standard_slab")[0].type == "standard_slab"


def test_a_wall_takes_a_bracket(built):
    bracket, said = built(mount="wall", wanted="standard_slab")
    assert (bracket.type, bracket.area_m2, bracket.dig_m3) == ("wall_bracket", 0.0, 0.0) and said == {}
    assert "no place" in bracket.reason and built(mount="wall")[0].reason == "the unit hangs on the wall"


def test_digging_has_its_caution(built):
    assert built()[1]["dig_with_care"] == "note"
