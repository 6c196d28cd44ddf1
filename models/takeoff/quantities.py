"""Measures a design: named quantities, each with a unit and a sentence, and the flags that rows may ask for."""

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal


@dataclass(frozen=True, slots=True)
class Quantity:
    """One measured quantity at six decimal places, with the sentence that says how it came about."""

    name: str
    value: Decimal
    unit: str
    sentence: str


@dataclass(frozen=True, slots=True)
class ScheduleLine:
    """One item that the design chose piece by piece, and the room or place where it goes."""

    sku: str
    quantity: Decimal
    where: str
    sentence: str


@dataclass(frozen=True, slots=True)
class TakeOff:
    """Everything that rows may ask of a design.

    `chosen` names the SKU that the design chose for a role (outdoor_unit, cylinder, cable, heating_vessel,
    drinking_vessel, volumiser); `schedules` the lists of pieces (emitters).
    """

    quantities: Mapping[str, Quantity]
    flags: Mapping[str, bool]
    chosen: Mapping[str, str]
    schedules: Mapping[str, tuple[ScheduleLine, ...]]


QUANTITY_UNITS: Mapping[str, str] = {
    "one": "job",
    "units": "each",
    "ground_units": "each",
    "wall_units": "each",
    "cylinders": "each",
    "rooms_total": "room",
    "rooms_disturbed": "room",
    "storeys": "each",
    "emitters_total": "each",
    "emitters_added": "each",
    "emitters_swapped": "each",
    "emitters_removed_only": "each",
    "emitters_valve_only": "each",
    "emitter_run_m": "m",
    "floor_lift_rooms": "room",
    "base_area_m2": "m2",
    "base_volume_m3": "m3",
    "base_perimeter_m": "m",
    "sub_base_m3": "m3",
    "dig_m3": "m3",
    "soakaway_dig_m3": "m3",
    "soakaway_wrap_m2": "m2",
    "soakaway_standing_pipe_m": "m",
    "gravel_20mm_m3": "m3",
    "gravel_10mm_m3": "m3",
    "spoil_m3": "m3",
    "condensate_pipe_m": "m",
    "route_outside_m": "m",
    "route_buried_m": "m",
    "route_inside_m": "m",
    "route_surface_m": "m",
    "changes_outside": "each",
    "changes_inside": "each",
    "changes_surface": "each",
    "penetrations": "each",
    "primary_od_mm": "mm",
    "primary_tube_m": "m",
    "outdoor_pipe_supports": "each",
    "system_volume_l": "L",
    "glycol_l": "L",
    "antifreeze_valves": "each",
    "volumisers": "each",
    "unit_mass_kg": "kg",
    "discharge_od_mm": "mm",
    "discharge_run_m": "m",
    "discharge_bends": "each",
    "main_upgrade_m": "m",
    "hardness_mg_per_l": "mg/L",
    "cable_route_m": "m",
    "breaker_a": "A",
    "bonding_m": "m",
    "loft_tanks": "each",
    "asbestos_samples": "each",
    "plan_days": "day",
    "heating_off_nights": "night",
}
"""Every quantity that a row may name; the last two come from the plan and are for the bill only."""

FLAGS: frozenset[str] = frozenset(
    {
        "ground_mount", "wall_mount", "rapid_slab", "standard_slab", "slab_base", "preformed_base",
        "condensate_soakaway", "condensate_gully", "trace_heated", "buried_route", "glycol", "antifreeze_valves",
        "separation", "two_units", "timber_floor", "inlet_group_included", "old_cylinder", "cylinder_moves",
        "combi", "oil", "oil_tank_goes", "scrap_credit", "loft_tanks", "extension_board", "bonding_needed",
        "new_stopcock", "main_upgrade", "heavy_unit", "hard_dig", "stone_wall", "long_carry", "hard_water",
        "network_apply", "planning_needed", "certificate_missing", "asbestos_suspected", "metering", "accumulator",
        "cylinder_fitted", "emitters_changed", "floor_lifted", "cold_weather",
    }
)  # fmt: skip
"""Every flag that a row may name."""
