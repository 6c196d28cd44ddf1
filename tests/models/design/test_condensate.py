"""Meltwater: the pit and its gravel, and where a soakaway will not do. Sizes are common practice, no source."""

import math

import pytest

from models.design.condensate import condensate, side_needed_m


@pytest.fixture
def drained(make_unit, make_position, place):
    def judge(*, unit=None, count=1, **position):
        result = condensate(
            position=make_position(**position), unit=make_unit(**(unit or {})), count=count, place_reference=place
        )
        return result, {finding.code: finding.strength for finding in result.findings}

    return judge


def test_the_pit_is_deeper_where_the_frost_is(drained):
    assert drained(frost_depth_mm=450)[0].depth_m == 0.6
    assert drained(frost_depth_mm=700)[0].depth_m == pytest.approx(0.85)  # 150 mm below the frost
    result, said = drained(frost_depth_mm="unknown")
    assert result.depth_m == 0.6 and said["frost_depth_assumed"] == "note"


def test_the_pit_grows_with_the_water_and_the_ground(drained):
    def width_m(ground, litres, count=1):
        return drained(ground=ground, unit={"condensate_l_per_day": litres}, count=count)[0].width_m

    # 30 L / 0.35 voids / 0.6 m = 0.1429 m2, side 0.378: the next size is 400 mm. Half and double the water: 300, 550.
    assert width_m("loam", 30) == 0.4
    assert width_m("sand_or_gravel", 30) == 0.3
    assert width_m("clay", 30) == 0.55
    assert width_m("loam", 30, count=2) == 0.55


def test_the_parts_fill_the_pit(drained):
    pit, _ = drained()
    pipe_m3 = math.pi / 4 * 0.110**2 * 0.6
    assert pit.gravel_20mm_m3 + pit.gravel_10mm_m3 + pipe_m3 == pytest.approx(pit.volume_m3)
    # 0.4 x 0.4 x 0.6 m; two bags of 25 kg at 1,600 kg/m3; bottom, top and four sides
    assert pit.volume_m3 == pytest.approx(0.096)
    assert pit.gravel_10mm_m3 == pytest.approx(0.03125)
    assert pit.wrap_m2 == pytest.approx(2 * 0.16 + 4 * 0.24)


@pytest.mark.parametrize("fault", [{"percolation": "fails"}, {"water_table": "high"}])
@pytest.mark.parametrize("to", ["soakaway", "unknown"])
def test_a_soakaway_that_will_not_drain_stops(drained, fault, to):
    result, said = drained(condensate_to=to, **fault)
    assert result.to == "undecided" and result.volume_m3 == 0
    assert said["soakaway_will_not_drain"] == "stop"
    assert drained(condensate_to="gully", **fault)[0].to == "gully"


def test_what_is_not_known_is_asked(drained):
    result, said = drained(condensate_to="unknown", percolation="unknown")
    assert result.to == "soakaway"
    assert said["condensate_place_assumed"] == said["percolation_not_known"] == "ask"


def test_more_water_than_a_pit_can_take_stops(drained):
    result, said = drained(ground="clay", unit={"condensate_l_per_day": 200})
    assert result.to == "undecided" and said["soakaway_too_large"] == "stop"


@pytest.mark.parametrize(
    ("to", "run_m", "heated"),
    [("soakaway", 1.5, False), ("soakaway", 1.6, True), ("gully", 0.5, True)],
)
def test_trace_heat_for_a_long_run_or_a_gully(drained, to, run_m, heated):
    result, _ = drained(condensate_to=to, condensate_run_m=run_m)
    assert result.trace_heated is heated and result.pipe_m == run_m


def test_a_gully_is_trapped_and_outside_the_zone(drained):
    _, said = drained(condensate_to="gully")
    assert said["gully_trapped"] == "note" and said["gully_not_recorded"] == "ask"
    gully = {"what": "gully", "name": "yard gully", "distance_m": 2.0}
    assert "gully_not_recorded" not in drained(condensate_to="gully", openings=[gully])[1]
    assert "gully_not_recorded" not in drained(condensate_to="gully", unit={"refrigerant": "R410A"})[1]


def test_the_side_of_a_pit_by_hand():
    # 42 L in voids of 0.35 at 0.6 m deep: 0.2 m2, side 0.4472 m
    assert side_needed_m(daily_l=42, held_days=1, void_ratio=0.35, depth_m=0.6) == pytest.approx(0.44721, abs=1e-5)
