import math
from typing import Any

import pytest

from models.catalogue import OutdoorUnit
from models.design.primary_pipework import (
    WHY,
    IndexCircuit,
    assumed_longest_run_m,
    circuit_fluid,
    elbow_equivalent_m,
    index_circuit,
    primary,
    valve_set_loss_pa,
)
from models.design.results import Primary
from models.physics.fluids import Fluid, water
from models.reference.load import load
from models.survey import Pipework, Position

NO_INDEX = IndexCircuit(0, 0, 22, 15, "none")


def unit(**change: Any) -> OutdoorUnit:
    rating = {"input_w": 2000, "minimum_output_w": 2000, "sound_power_dba": 55, "output_w": 8000}
    return OutdoorUnit.model_validate(
        {
            "sku": "T-1", "name": "test unit", "defrost_included": True, "own_loss_pa": 13000,
            "nominal_flow_l_per_s": 0.38, "minimum_flow_l_per_s": 0.19, "maximum_flow_l_per_s": 0.61,
            "minimum_volume_l": 50, "connection_od_mm": 28, "width_mm": 1100, "depth_mm": 420, "height_mm": 1050,
            "mass_kg": 126, "clear_back_mm": 300, "clear_left_mm": 300, "clear_right_mm": 300, "clear_front_mm": 1000,
            "clear_above_mm": 500, "refrigerant": "R290", "charge_kg": 0.7, "water_l": 2.9,
            "wall_bracket_allowed": False, "cascade_allowed": True, "phases": "single", "maximum_current_a": 17,
            "breaker_a": 25, "condensate_l_per_day": 40,
            "pump_curve": [{"flow_l_per_s": 0, "head_pa": 68000}, {"flow_l_per_s": 0.38, "head_pa": 57000},
                           {"flow_l_per_s": 0.72, "head_pa": 17000}],
            "ratings": [rating | {"outdoor_temp_c": o, "flow_temp_c": f} for o in (-15, 20) for f in (35, 65)],
        } | change
    )  # fmt: skip


def position(**change: Any) -> Position:
    return Position.model_validate(
        {
            "id": "p", "name": "rear wall", "clear_back_mm": 300, "clear_left_mm": 600, "clear_right_mm": 600,
            "clear_front_mm": 2000, "reflecting_surfaces": 2, "route_outside_m": 2.5, "route_inside_m": 4.5,
            "changes_outside": 3, "changes_inside": 5,
        } | change
    )  # fmt: skip


def solved(**change: Any) -> Primary:
    arguments: dict[str, Any] = {
        "position": position(), "unit": unit(), "count": 1, "heat_w": 8000.0, "flow_temp_c": 50.0, "delta_t_k": 5.0,
        "glycol_ratio": 0.0, "index": NO_INDEX, "heat_lost_w_per_m": None, "reference": load(),
    }  # fmt: skip
    return primary(**(arguments | change))


def codes(found: Primary) -> set[tuple[str, str]]:
    return {(finding.code, finding.strength) for finding in found.findings}


def test_eight_kilowatts_take_28_mm_and_every_number_follows() -> None:
    """HYD-031 gives 225.5 Pa/m; hand: 14 m + 3 m tails + 20 elbows x 0.83 + 6 valves x 0.60 = 37.2 m, 8388 Pa.

    Kv 10, 16, 10 at 1.393 m3/h and the strainer's 10: (0.01940 x 3 + 0.00758) bar x 0.98919 = 6508 Pa.
    """
    found = solved()
    assert found.od_mm == 28
    assert found.equivalent_length_m == pytest.approx(37.2)
    assert found.length_m == 14
    assert found.fixed_loss_pa == pytest.approx(6508, rel=0.005)
    assert found.pressure_drop_pa == pytest.approx(8388 + 6508, rel=0.01)
    assert found.pump_available_pa == pytest.approx(
        57000 - 13000 * (0.3870 / 0.38) ** 2 - 0.007 / 0.34 * 40000, rel=0.01
    )
    assert found.water_l == pytest.approx(14 * 0.53913, rel=0.001)
    assert [(t.od_mm, t.reason) for t in found.tried][:2] == [(22, "too fast"), (28, "passes")]
    assert found.findings == ()
    values = {name: getattr(found, name) for name in Primary.__slots__}
    assert "28 mm copper carries 0.387 L/s" in WHY.sentence.format(**values)


def test_heat_lost_outside_counts_both_pipes() -> None:
    """2 x 2.5 m x 9 W/m = 45 W."""
    assert solved(heat_lost_w_per_m={28: 9.0}).heat_lost_outside_w == pytest.approx(45)


def test_a_buried_length_has_its_own_bore() -> None:
    """10 m of 26 mm bore hold 5.309 L; copper is 14 m of 0.53913 L/m."""
    found = solved(position=position(route_buried_m=5))
    assert found.water_l == pytest.approx(14 * 0.53913 + 5.309, rel=0.001)
    assert found.length_m == 24
    assert found.pressure_drop_pa > solved().pressure_drop_pa


def test_a_buried_pipe_that_is_too_small_stops() -> None:
    """1.5 m/s x 530.9 mm2 = 0.796 L/s, 16.5 kW at 5 K; 18 kW is more."""
    found = solved(heat_w=18000, unit=unit(pump_curve=strong()), position=position(route_buried_m=5))
    assert found.od_mm is None
    assert ("primary_pipe_too_small", "stop") in codes(found)
    assert "buried" in next(f.message for f in found.findings if f.strength == "stop")


def strong() -> list[dict[str, float]]:
    return [{"flow_l_per_s": 0, "head_pa": 200000}, {"flow_l_per_s": 3, "head_pa": 200000}]


def test_a_buried_pipe_beyond_the_gradient_is_noted() -> None:
    found = solved(heat_w=11000, unit=unit(pump_curve=strong()), position=position(route_buried_m=5))
    assert ("buried_pipe_loses_much", "note") in codes(found)


def test_a_pump_too_weak_for_the_index_circuit_gets_a_second_pump() -> None:
    found = solved(index=IndexCircuit(38000, 20, 22, 15, "long"))
    assert found.od_mm == 28
    assert found.separation_needed
    assert ("separation_needed", "note") in codes(found)
    assert found.fixed_loss_pa == pytest.approx(solved().fixed_loss_pa)
    assert "38000 Pa" in found.findings[0].message


def test_a_larger_tube_comes_before_a_second_pump() -> None:
    """28 mm leaves about 27 kPa for the index circuit, 35 mm about 5.5 kPa more."""
    found = solved(index=IndexCircuit(30000, 20, 22, 15, "long"))
    assert (found.od_mm, found.separation_needed) == (35, False)


def test_a_pump_too_weak_for_the_route_stops() -> None:
    weak = [{"flow_l_per_s": 0, "head_pa": 16000}, {"flow_l_per_s": 1, "head_pa": 15000}]
    found = solved(unit=unit(pump_curve=weak))
    assert found.od_mm is None
    assert found.velocity_m_per_s is None
    assert ("primary_pipe_too_small", "stop") in codes(found)


def test_a_flow_beyond_the_pump_curve_stops_and_says_so() -> None:
    found = solved(heat_w=16000)
    assert found.pump_available_pa is None
    assert codes(found) == {("primary_pipe_too_small", "stop"), ("flow_above_unit", "ask")}
    assert "beyond the curve" in next(f.message for f in found.findings if f.strength == "stop")


def test_too_much_heat_for_42_mm_stops() -> None:
    """HYD-051: 42 mm serves 25.47 kW at 5 K."""
    found = solved(heat_w=27000, unit=unit(pump_curve=strong()))
    assert found.od_mm is None
    assert "42 mm" in next(f.message for f in found.findings if f.strength == "stop")


def test_two_units_share_through_a_header() -> None:
    found = solved(count=2, heat_w=14000)
    assert found.separation_needed
    assert found.od_mm == 35
    assert found.flow_l_per_s == pytest.approx(14000 / 8000 * solved().flow_l_per_s)


def test_a_long_route_and_a_small_flow_are_said() -> None:
    assert ("route_long", "ask") in codes(solved(position=position(route_inside_m=13)))
    assert ("flow_below_unit", "note") in codes(solved(heat_w=3000))


def test_glycol_needs_more_flow_and_more_pressure() -> None:
    mixed, plain = solved(glycol_ratio=0.25), solved()
    assert mixed.flow_l_per_s > plain.flow_l_per_s
    assert mixed.gradient_pa_per_m is not None
    assert plain.gradient_pa_per_m is not None
    assert mixed.gradient_pa_per_m > plain.gradient_pa_per_m


def test_elbows_beyond_the_table_keep_length_over_bore() -> None:
    """0.83 m x 32.6 / 26.2 = 1.033 m."""
    assert elbow_equivalent_m(od_mm=28, bore_mm=26.2, reference=load()) == 0.83
    assert elbow_equivalent_m(od_mm=35, bore_mm=32.6, reference=load()) == pytest.approx(1.033, abs=0.001)


def test_valve_set_by_hand() -> None:
    """1 m3/h of 1000 kg/m3: 100 000 x (1/100 + 1/256 + 1/100 + 1/100) = 3390.6 Pa."""
    liquid = Fluid(1000, 4180, 0.0005)
    assert valve_set_loss_pa(flow_l_per_s=1 / 3.6, unit_flow_l_per_s=1 / 3.6, fluid=liquid) == pytest.approx(
        3390.6, 1e-4
    )


def circuit(pipework: Pipework, **change: Any) -> IndexCircuit:
    arguments: dict[str, Any] = {
        "pipework": pipework, "floor_area_m2": 100.0, "storeys": 2, "heat_loss_w": 6000.0, "farthest_emitter_w": 1200.0,
        "flow_temp_c": 50.0, "delta_t_k": 5.0, "glycol_ratio": 0.0, "reference": load(),
    }  # fmt: skip
    return index_circuit(**(arguments | change))


KNOWN = {"main_mm": 22, "branch_mm": 15, "material": "copper", "layout": "two_pipe", "longest_run_m": 15}


def test_a_run_without_mains_is_the_branch_and_the_valves() -> None:
    """5 m of 15 mm only: 10 m x 1.25 at the gradient of 0.0581 L/s, and (0.209/0.8)2 bar x 0.98919 = 6.75 kPa."""
    found = circuit(Pipework.model_validate(KNOWN | {"longest_run_m": 5}))
    q = 1200 / (water(temp_c=47.5).density_kg_per_m3 * 4180.5 * 5) * 1000
    valves_pa = 1e5 * (3.6 * q / 0.8) ** 2 * 0.98919
    # Re 9430, f = 0.03154 (fluids 1.3.1, Colebrook): 0.03154 / 0.0136 x 989.19 x 0.3996^2 / 2 = 183.1 Pa/m.
    assert found.loss_pa == pytest.approx(10 * 1.25 * 183.1 + valves_pa, rel=0.005)


def test_what_is_not_known_is_assumed_and_said() -> None:
    found = circuit(Pipework())
    assert {(f.code, f.strength) for f in found.findings} == {
        ("index_run_assumed", "note"),
        ("heating_main_size_unknown", "ask"),
        ("heating_branch_size_unknown", "ask"),
    }
    assert (found.main_mm, found.branch_mm) == (22, 15)
    # Two sides of a 50 m2 square and 2.5 m up: 2 x 7.071 + 2.5 = 16.642 m.
    assert found.run_m == pytest.approx(16.642, abs=0.001)
    assert assumed_longest_run_m(floor_area_m2=50, storeys=1) == pytest.approx(14.142, abs=0.001)


def test_narrow_branches_lose_more_than_wide_ones() -> None:
    wide = circuit(Pipework.model_validate(KNOWN))
    narrow = circuit(Pipework.model_validate(KNOWN | {"branch_mm": 10}))
    plastic = circuit(Pipework.model_validate(KNOWN | {"material": "plastic"}))
    single = circuit(Pipework.model_validate(KNOWN | {"layout": "single_pipe"}))
    assert narrow.loss_pa > wide.loss_pa
    assert plastic.loss_pa > wide.loss_pa
    assert single.loss_pa > wide.loss_pa


def test_mains_that_can_be_heard_are_said() -> None:
    """1.0 m/s x 320.47 mm2 = 0.3205 L/s, 6.63 kW at 5 K and 47.5 C."""
    pipework = Pipework.model_validate(KNOWN)
    assert circuit(pipework, heat_loss_w=6560.0).findings == ()
    heard = circuit(pipework, heat_loss_w=6700.0).findings
    assert [(f.code, f.strength) for f in heard] == [("heating_mains_fast", "note")]
    # 1.5 m/s is 9.94 kW: above it the pipe wears
    assert circuit(pipework, heat_loss_w=9900.0).findings[0].strength == "note"
    worn = circuit(pipework, heat_loss_w=10000.0).findings[0]
    assert worn.strength == "ask" and "trace the mains" in worn.remedy


def test_a_manifold_has_half_of_its_run_in_branches() -> None:
    found = circuit(Pipework.model_validate(KNOWN | {"layout": "manifold", "branch_mm": 10, "material": "plastic"}))
    assert "7.5 m of 10 mm" in found.sentence


def test_an_unusual_size_is_reckoned_with_the_next_smaller() -> None:
    found = circuit(Pipework.model_validate(KNOWN | {"main_mm": 25}))
    assert found.main_mm == 22
    assert [f.code for f in found.findings] == ["heating_main_size_unusual"]
    assert circuit(Pipework.model_validate(KNOWN | {"main_mm": 25, "material": "steel"})).findings == ()


def test_circuit_water_is_at_its_mean_temperature() -> None:
    assert circuit_fluid(flow_temp_c=50, delta_t_k=5, glycol_ratio=0) == water(temp_c=47.5)
    assert math.isclose(
        circuit_fluid(flow_temp_c=50, delta_t_k=5, glycol_ratio=0.25).density_kg_per_m3, 1007, rel_tol=0.002
    )


def test_connections_larger_than_the_tube_are_said() -> None:
    """8 kW at 5 K take 28 mm; a unit with connections of 35 mm wants its full size beside it."""
    assert ("primary_smaller_than_connection", "note") not in codes(solved())
    found = solved(unit=unit(connection_od_mm=35))
    assert found.od_mm == 28 and ("primary_smaller_than_connection", "note") in codes(found)
