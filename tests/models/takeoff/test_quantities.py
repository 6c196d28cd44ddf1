"""What the take-off measures. Expected values are hand arithmetic over the fixtures, shown beside each."""

from dataclasses import replace
from decimal import Decimal

import pytest

from models.design.results import FrostProtection
from models.takeoff.quantities import FLAGS, PLAN_QUANTITIES, QUANTITY_UNITS, UnknownExtra, take_off

EXPECTED = {
    "one": "1",
    "units": "1",
    "ground_units": "1",
    "wall_units": "0",
    "unit_mass_kg": "126",
    "cylinders": "1",
    "rooms_total": "3",
    "rooms_disturbed": "3",  # living room + bedroom (removed emitter, and the cylinder) + where the pipes come in
    "storeys": "2",
    "emitters_total": "4",  # hall 1, living room 2, bedroom 1
    "emitters_added": "1",
    "emitters_swapped": "1",
    "emitters_removed_only": "1",
    "emitters_fan_assisted": "0",
    "emitters_valve_only": "1",
    "valve_pairs_thermostatic": "2",  # swapped and added, both in the living room
    "valve_pairs_plain": "1",  # the kept one with bad valves hangs in the sensor room
    "emitter_run_m": "4.5",
    "tails_renewed": "0",
    "tail_15_run_m": "0",
    "tail_22_run_m": "0",
    "floor_lift_rooms": "1",
    "base_area_m2": "0.78",
    "base_volume_m3": "0.117",
    "base_perimeter_m": "3.8",
    "sub_base_m3": "0.078",  # 0.78 x 0.1
    "dig_m3": "0.156",
    "soakaway_dig_m3": "0.324",
    "soakaway_wrap_m2": "2.88",
    "soakaway_standing_pipe_m": "0.9",
    "gravel_20mm_m3": "0.284",
    "gravel_10mm_m3": "0.031",
    "spoil_m3": "0.57",  # 0.156 + 0.324 + 2.0 x 0.3 x 0.15
    "condensate_pipe_m": "1.2",
    "route_outside_m": "3",
    "route_buried_m": "2",
    "route_inside_m": "5.4",
    "route_surface_m": "8.4",
    "changes_outside": "3",
    "changes_inside": "5",
    "changes_surface": "8",
    "penetrations": "2",
    "primary_od_mm": "28",
    "primary_tube_m": "16.8",  # 2 x 8.4
    "outdoor_pipe_supports": "3",  # at 0.5, 1.7 and 2.9 m of 3.0 m
    "system_volume_l": "75.5",
    "glycol_l": "0",
    "antifreeze_valves": "2",
    "volumisers": "1",
    "discharge_od_mm": "22",
    "discharge_run_m": "4",
    "discharge_bends": "3",
    "main_upgrade_m": "6",
    "hardness_mg_per_l": "240",
    "cable_route_m": "12",
    "unit_cable_m": "12",
    "breaker_a": "25",
    "bonding_m": "15",
    "loft_tanks": "1",
    "loft_tanks_m3": "0.2",
    "asbestos_samples": "2",
}


def test_every_quantity_by_hand(survey, design):
    measured = take_off(survey=survey, design=design, extras=frozenset(), cold=False).quantities
    assert {name: quantity.value for name, quantity in measured.items()} == {
        name: Decimal(value) for name, value in EXPECTED.items()
    }


def test_every_quantity_and_flag_is_answered_and_no_other(survey, design, stopped_design):
    for each in (design, stopped_design):
        measured = take_off(survey=survey, design=each, extras=frozenset(), cold=False)
        assert set(measured.quantities) == set(QUANTITY_UNITS) - PLAN_QUANTITIES
        assert set(measured.flags) == FLAGS
        for name, quantity in measured.quantities.items():
            assert quantity.unit == QUANTITY_UNITS[name]
            assert quantity.sentence


def test_flags_of_the_house(survey, design):
    flags = take_off(survey=survey, design=design, extras=frozenset(), cold=True).flags
    assert {name for name, set_ in flags.items() if set_} == {
        "ground_mount", "rapid_slab", "slab_base", "condensate_soakaway", "buried_route", "antifreeze_valves",
        "timber_floor", "old_cylinder", "cylinder_moves", "oil", "oil_tank_goes", "scrap_credit", "loft_tanks",
        "extension_board", "bonding_needed", "new_stopcock", "main_upgrade", "heavy_unit", "hard_dig", "stone_wall",
        "long_carry", "hard_water", "planning_needed", "certificate_missing", "asbestos_suspected", "cylinder_fitted",
        "emitters_changed", "floor_lifted", "cold_weather", "boiler_goes", "fuel_line", "blended_hot_water",
    }  # fmt: skip


def test_what_a_stop_left_out_measures_nothing(survey, stopped_design):
    measured = take_off(survey=survey, design=stopped_design, extras=frozenset(), cold=False)
    still_there = {name for name, quantity in measured.quantities.items() if quantity.value}
    assert still_there == {
        "one", "rooms_total", "rooms_disturbed", "storeys", "emitters_total", "emitters_added", "emitters_swapped",
        "emitters_removed_only", "emitters_valve_only", "valve_pairs_thermostatic", "valve_pairs_plain",
        "emitter_run_m", "floor_lift_rooms", "main_upgrade_m", "hardness_mg_per_l", "cable_route_m", "loft_tanks",
        "loft_tanks_m3",
        "asbestos_samples",
    }  # fmt: skip
    assert measured.chosen == {}


def test_what_the_design_chose_and_the_pieces_with_their_rooms(survey, design):
    measured = take_off(survey=survey, design=design, extras=frozenset(), cold=False)
    assert measured.chosen == {
        "outdoor_unit": "UNT-080", "cylinder": "CYL-180", "cable": "ELE-SW6", "heating_vessel": "PRI-X12",
        "drinking_vessel": "CYL-X18", "volumiser": "PRI-V25",
    }  # fmt: skip
    assert [(piece.sku, piece.where) for piece in measured.schedules["emitters"]] == [
        ("RAD-2212", "Living room"),
        ("RAD-2210", "Living room"),
    ]


def test_glycol_replaces_the_valves(survey, design):
    glycol = replace(design, frost=FrostProtection("glycol", 0.25, 0, ""))
    measured = take_off(survey=survey, design=glycol, extras=frozenset(), cold=False)
    assert measured.quantities["glycol_l"].value == Decimal("18.875")  # 25 % of 75.5 L
    assert measured.quantities["antifreeze_valves"].value == 0
    assert measured.flags["glycol"] and not measured.flags["antifreeze_valves"]


def test_two_units_each_have_their_own_cable_condensate_pipe_and_first_support(survey, design):
    two = replace(design, unit=replace(design.unit, count=2))
    quantities = take_off(survey=survey, design=two, extras=frozenset(), cold=False).quantities
    assert quantities["unit_cable_m"].value == 24
    assert quantities["condensate_pipe_m"].value == Decimal("2.4")
    assert quantities["outdoor_pipe_supports"].value == 4  # two at the hoses, then 1.7 and 2.9 m


def test_extras_are_flags_and_an_unknown_one_is_refused(survey, design):
    flags = take_off(survey=survey, design=design, extras=frozenset({"metering", "accumulator"}), cold=False).flags
    assert flags["metering"] and flags["accumulator"]
    with pytest.raises(UnknownExtra, match="sauna"):
        take_off(survey=survey, design=design, extras=frozenset({"sauna"}), cold=False)


def test_an_oil_tank_goes_when_the_customer_adds_it_and_only_with_oil(changed_survey, design):
    asked = frozenset({"oil_tank_goes"})
    oil = changed_survey("existing", oil_tank_goes=False)
    gas = changed_survey("existing", fuel="mains_gas")
    assert take_off(survey=oil, design=design, extras=asked, cold=False).flags["oil_tank_goes"]
    assert not take_off(survey=oil, design=design, extras=frozenset(), cold=False).flags["oil_tank_goes"]
    assert not take_off(survey=gas, design=design, extras=asked, cold=False).flags["oil_tank_goes"]


def test_hot_water_is_blended_for_a_bath_or_a_hot_store(changed_survey, design):
    no_bath = changed_survey("hot_water", baths=0)
    hot = replace(design, hot_water=replace(design.hot_water, store_temp_c=55))
    flag = "blended_hot_water"
    assert not take_off(survey=no_bath, design=design, extras=frozenset(), cold=False).flags[flag]
    assert take_off(survey=no_bath, design=hot, extras=frozenset(), cold=False).flags[flag]
