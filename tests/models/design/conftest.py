"""What the tests about the place of a unit share: an invented unit, an invented position, the shipped tables."""

from collections.abc import Callable
from typing import Any

import pytest

from models.catalogue import OutdoorUnit
from models.reference.place import PlaceReference, load_place
from models.survey.house import House
from models.survey.site import Position

UNIT: dict[str, Any] = {
    "sku": "UNT-X", "name": "Unit X", "defrost_included": True, "own_loss_pa": 10000, "nominal_flow_l_per_s": 0.3,
    "minimum_flow_l_per_s": 0.1, "maximum_flow_l_per_s": 0.5, "minimum_volume_l": 40, "connection_od_mm": 28,
    "width_mm": 1100, "depth_mm": 400, "height_mm": 1000, "mass_kg": 100, "clear_back_mm": 250, "clear_left_mm": 300,
    "clear_right_mm": 500, "clear_front_mm": 1000, "clear_above_mm": 500, "refrigerant": "R290", "charge_kg": 0.8,
    "water_l": 2.5, "wall_bracket_allowed": True, "cascade_allowed": True, "phases": "single",
    "maximum_current_a": 16, "breaker_a": 20, "condensate_l_per_day": 30,
    "zones": [
        {"against": "wall", "mount": "ground", "reach_m": 1.0, "above_top_m": 0},
        {"against": "wall", "mount": "wall", "reach_m": 1.0, "above_top_m": 0, "below_mounting_m": 1.0},
    ],
    "pump_curve": [{"flow_l_per_s": 0, "head_pa": 60000}, {"flow_l_per_s": 0.5, "head_pa": 20000}],
    "ratings": [
        {"outdoor_temp_c": outdoor, "flow_temp_c": flow, "output_w": 6000, "input_w": 2000, "minimum_output_w": 2000,
         "sound_power_dba": 57}
        for outdoor in (-5, 7) for flow in (35, 55)
    ],
}  # fmt: skip

POSITION: dict[str, Any] = {
    "id": "rear", "name": "rear wall", "wall": "masonry", "clear_back_mm": 300, "clear_left_mm": 600,
    "clear_right_mm": 900, "clear_front_mm": 3000, "reflecting_surfaces": 2, "boundary_m": 3.0, "path_m": 4.0,
    "faces_highway": "no", "ground": "loam", "water_table": "low", "percolation": "passes", "frost_depth_mm": 450,
    "isolator": {"distance_m": 0.4, "height_m": 1.4, "in_sight_and_reach": "yes"}, "condensate_to": "soakaway",
    "condensate_run_m": 0.8, "route_outside_m": 2, "route_inside_m": 4,
    "windows": [{"name": "next door, bedroom", "distance_m": 12, "height_m": 0.5}],
}  # fmt: skip

HOUSE: dict[str, Any] = {
    "nation": "england", "place": "an invented place", "altitude_m": 100, "weather_station": "Manchester",
    "climate_region": 7, "dwelling_type": "semi_detached", "age_band": "D", "storeys": 2, "bedrooms": 3,
    "occupants": 4, "listed": "no", "conservation_area": "no", "slab_area_m2": 50, "exposed_perimeter_m": 21,
}  # fmt: skip


@pytest.fixture
def make_unit() -> Callable[..., OutdoorUnit]:
    """An invented outdoor unit with some attributes changed."""
    return lambda **changes: OutdoorUnit.model_validate(UNIT | changes)


@pytest.fixture
def make_position() -> Callable[..., Position]:
    """An invented position with some values changed."""
    return lambda **changes: Position.model_validate(POSITION | changes)


@pytest.fixture
def make_house() -> Callable[..., House]:
    """An invented house with some values changed."""
    return lambda **changes: House.model_validate(HOUSE | changes)


@pytest.fixture
def place() -> PlaceReference:
    """The tables about the place of a unit as they ship."""
    return load_place()
