"""Facts of the trade and of the law about the place of a unit."""

from datetime import date

import pytest

from models.catalogue import OutdoorUnit
from models.design.base import base
from models.design.condensate import condensate
from models.design.refrigerant_zone import zone_checks
from models.reference.place import load_place
from models.survey.site import Position

PRACTICE = {"source": "common practice, no source", "standing": "common practice"}


def unit(**changes):
    rating = {"output_w": 6000, "input_w": 2000, "minimum_output_w": 2000, "sound_power_dba": 57}
    zone = {"against": "wall", "mount": "ground", "reach_m": 1.0, "above_top_m": 0}
    return OutdoorUnit.model_validate({
        "sku": "UNT-X", "name": "Unit X", "defrost_included": True, "own_loss_pa": 1, "nominal_flow_l_per_s": 0.3,
        "minimum_flow_l_per_s": 0.1, "maximum_flow_l_per_s": 0.5, "minimum_volume_l": 40, "connection_od_mm": 28,
        "width_mm": 1100, "depth_mm": 400, "height_mm": 1000, "mass_kg": 100, "clear_back_mm": 250,
        "clear_left_mm": 300, "clear_right_mm": 500, "clear_front_mm": 1000, "clear_above_mm": 500,
        "refrigerant": "R290", "charge_kg": 0.8, "water_l": 2.5, "wall_bracket_allowed": True,
        "cascade_allowed": True, "phases": "single", "maximum_current_a": 16, "breaker_a": 20,
        "condensate_l_per_day": 30, "zones": [zone],
        "pump_curve": [{"flow_l_per_s": 0, "head_pa": 60000}, {"flow_l_per_s": 0.5, "head_pa": 20000}],
        "ratings": [{"outdoor_temp_c": o, "flow_temp_c": f, **rating} for o in (-5, 7) for f in (35, 55)],
    } | changes)  # fmt: skip


def position(**changes):
    return Position.model_validate({
        "id": "rear", "name": "rear wall", "wall": "masonry", "clear_back_mm": 300, "clear_left_mm": 600,
        "clear_right_mm": 900, "clear_front_mm": 3000, "reflecting_surfaces": 2, "boundary_m": 3.0, "path_m": 4.0,
        "ground": "loam", "water_table": "low", "percolation": "passes", "frost_depth_mm": 450,
        "condensate_to": "soakaway", "route_outside_m": 2, "route_inside_m": 4,
    } | changes)  # fmt: skip


@pytest.mark.oracle(question="condensate", tolerance="50 mm: spades are not rulers", **PRACTICE)
@pytest.mark.parametrize("ground", ["sand_or_gravel", "loam"])
def test_a_soakaway_is_dug_about_600_mm_deep_and_300_to_450_mm_square(ground):
    pit = condensate(position=position(ground=ground), unit=unit(), count=1, place_reference=load_place())
    assert pit.depth_m == pytest.approx(0.6, abs=0.05)
    assert 0.25 <= pit.width_m <= 0.5


@pytest.mark.oracle(question="condensate", tolerance="half a bag", **PRACTICE)
def test_a_pit_is_filled_with_20_mm_gravel_and_a_couple_of_bags_of_10_mm_on_top():
    pit = condensate(position=position(), unit=unit(), count=1, place_reference=load_place())
    assert pit.gravel_10mm_m3 * 1600 / 25 == pytest.approx(2, abs=0.5)  # bags of 25 kg at 1,600 kg/m3
    assert pit.gravel_20mm_m3 > pit.gravel_10mm_m3
    assert load_place().soakaway.standing_pipe_od_mm == 110
    assert pit.standing_pipe_m == pytest.approx(pit.depth_m, abs=0.1)


@pytest.mark.oracle(question="condensate", tolerance="exact", **PRACTICE)
def test_clay_wants_a_larger_pit_and_deep_frost_a_deeper_one():
    place = load_place()
    loam = condensate(position=position(), unit=unit(), count=1, place_reference=place)
    clay = condensate(position=position(ground="clay"), unit=unit(), count=1, place_reference=place)
    frost = condensate(position=position(frost_depth_mm=800), unit=unit(), count=1, place_reference=place)
    assert clay.width_m > loam.width_m
    assert frost.depth_m > 0.8


@pytest.mark.oracle(question="base", tolerance="exact: the least of what is usual", **PRACTICE)
@pytest.mark.parametrize("ground", ["sand_or_gravel", "loam", "clay", "unknown"])
def test_a_slab_overhangs_by_150_mm_and_is_100_to_150_mm_thick_on_100_mm_of_sub_base(ground):
    slab = base(position=position(ground=ground), unit=unit(), count=1, wanted=None, cold=False,
                place_reference=load_place())  # fmt: skip
    assert slab.length_m >= 1.1 + 0.3 - 1e-9 and slab.width_m >= 0.4 + 0.3 - 1e-9
    assert 0.1 <= slab.thickness_m <= 0.15
    assert slab.sub_base_m == 0.1


# The maker's instructions rule: where the zone ends at the top of the case, an isolator above the top is not excluded
# by the zone; below the top it stands outside the reach; without a record nobody may say. Case 1.0 m high, reach 1 m.
@pytest.mark.oracle(question="refrigerant_zone", tolerance="exact", **PRACTICE)
@pytest.mark.parametrize(
    ("distance_m", "height_m", "zones", "stop"),
    [
        (0.3, 1.3, True, None),
        (0.3, 0.8, True, "isolator_in_zone"),
        (1.2, 0.8, True, None),
        (0.3, 1.3, False, "zone_not_recorded"),
    ],
)
def test_where_an_isolator_may_go(distance_m, height_m, zones, stop):
    isolator = {"distance_m": distance_m, "height_m": height_m, "in_sight_and_reach": "yes"}
    the_unit = unit() if zones else unit(zones=[])
    _, findings = zone_checks(position=position(isolator=isolator), unit=the_unit, place_reference=load_place())
    assert [f.code for f in findings if f.strength == "stop"] == ([stop] if stop else [])


# Re-keyed from the project's reference folder: SI 2015/596 Part 14 Class G before and after SI 2025/560.
@pytest.mark.oracle(
    question="siting", source="SI 2015/596 Part 14 Class G; SI 2025/560", standing="published", tolerance="exact"
)
def test_permitted_development_in_england_before_and_after_29_may_2025():
    old, _ = load_place().planning_at("england", date(2025, 5, 28))
    new, _ = load_place().planning_at("england", date(2025, 5, 29))
    assert (old.max_units_detached, old.max_units_other, old.max_volume_house_m3, old.boundary_m) == (1, 1, 0.6, 1.0)
    assert (new.max_units_detached, new.max_units_other, new.max_volume_house_m3) == (2, 1, 1.5)
    assert new.max_volume_flat_m3 == 0.6 and new.boundary_m == "none"


@pytest.mark.oracle(
    question="siting", source="SSI 2016/126 class 6H; SR 2023/95 class G; Welsh order before June 2026",
    standing="published", tolerance="exact",
)  # fmt: skip
def test_permitted_development_elsewhere():
    place, on = load_place(), date(2025, 10, 1)
    scotland, _ = place.planning_at("scotland", on)
    wales, _ = place.planning_at("wales", on)
    northern_ireland, _ = place.planning_at("northern_ireland", on)
    assert (scotland.max_units_other, scotland.max_protrusion_m, scotland.max_height_m) == (1, 1.0, 3.0)
    assert (wales.max_volume_house_m3, wales.boundary_m, wales.facing_highway) == (1.0, 3.0, "not_permitted")
    assert (northern_ireland.boundary_m, northern_ireland.max_height_m) == (1.0, 3.0)
