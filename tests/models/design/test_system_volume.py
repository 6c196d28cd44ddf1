from typing import Any

import pytest

from models.catalogue import Cylinder, OutdoorUnit, Vessel, Volumiser
from models.design.results import (
    EmitterSchedule,
    EmitterStep,
    FrostProtection,
    Offer,
    Primary,
    RoomEmitters,
    SystemVolume,
)
from models.design.system_volume import WHY, charge_pressure_bar, system_volume, vessel_l
from models.reference.load import load
from models.survey import Survey

VESSELS = tuple(
    Offer(Vessel(sku=f"V-{use[0].upper()}{volume_l}", volume_l=volume_l, for_water=use), 3000 + volume_l, 0.5)
    for use, volume_l in (("heating", 12), ("heating", 18), ("heating", 24), ("drinking", 18), ("drinking", 24))
)
VOLUMISERS = (
    Offer(Volumiser(sku="V-25", volume_l=25), 14_000, 1),
    Offer(Volumiser(sku="V-40", volume_l=40), 18_500, 1),
)
PRIMARY = Primary(
    od_mm=28, wall_mm=0.9, flow_l_per_s=0.38, velocity_m_per_s=0.7, gradient_pa_per_m=225, pressure_drop_pa=15000,
    pump_available_pa=44000, length_m=14, equivalent_length_m=37, fixed_loss_pa=6000, separation_needed=False,
    water_l=7.5, heat_lost_outside_w=None, tried=(), index_circuit="",
)  # fmt: skip
CYLINDER = Cylinder(
    sku="T-210", name="cylinder 210", volume_l=210, coil_area_m2=2.8, coil_volume_l=14.5, standing_loss_kwh_per_day=1.4,
    diameter_mm=555, height_mm=1500, top_clearance_mm=150, mass_dry_kg=52, mass_full_kg=262, relief_outlet="G1/2",
    inlet_group_included=True, immersion_w=3000,
)  # fmt: skip
WATER = FrostProtection("valves", 0.0, 2, "")
GLYCOL = FrostProtection("glycol", 0.25, 0, "")


def unit(**change: Any) -> OutdoorUnit:
    rating = {"input_w": 2000, "minimum_output_w": 2000, "sound_power_dba": 55, "output_w": 8000}
    return OutdoorUnit.model_validate(
        {
            "sku": "T-1", "name": "test unit", "defrost_included": True, "own_loss_pa": 13000,
            "nominal_flow_l_per_s": 0.38, "minimum_flow_l_per_s": 0.19, "maximum_flow_l_per_s": 0.61,
            "minimum_volume_l": 20, "connection_od_mm": 28, "width_mm": 1100, "depth_mm": 420, "height_mm": 1050,
            "mass_kg": 126, "clear_back_mm": 300, "clear_left_mm": 300, "clear_right_mm": 300, "clear_front_mm": 1000,
            "clear_above_mm": 500, "refrigerant": "R290", "charge_kg": 0.7, "water_l": 3.0,
            "wall_bracket_allowed": False, "cascade_allowed": True, "phases": "single", "maximum_current_a": 17,
            "breaker_a": 25, "condensate_l_per_day": 40,
            "pump_curve": [{"flow_l_per_s": 0, "head_pa": 68000}, {"flow_l_per_s": 0.72, "head_pa": 17000}],
            "ratings": [rating | {"outdoor_temp_c": o, "flow_temp_c": f} for o in (-15, 20) for f in (35, 60)],
        } | change
    )  # fmt: skip


def survey(*, sensor: bool = True, valves: str = "thermostatic", storeys: int = 2) -> Survey:
    def room(name: str, **more: Any) -> dict[str, Any]:
        return {"id": name, "name": name, "use": "other", "length_m": 5, "width_m": 4, "height_m": 2.4} | more

    return Survey.model_validate(
        {
            "label": "test",
            "house": {
                "nation": "england", "place": "Nether Fallow", "altitude_m": 140, "weather_station": "Birmingham",
                "climate_region": 6, "dwelling_type": "semi_detached", "age_band": "E", "storeys": storeys,
                "bedrooms": 3, "occupants": 4, "slab_area_m2": 50, "exposed_perimeter_m": 21,
            },
            "constructions": [],
            "rooms": [
                room("hall", has_sensor=sensor, emitters=[{"id": "r", "kind": "panel", "valves": "thermostatic"}]),
                room("bath", emitters=[{"id": "r", "kind": "towel_rail", "valves": valves}]),
            ],
            "existing": {"fuel": "oil", "pipework": {"main_mm": 22, "branch_mm": 15}},
            "supply": {"cable_route_m": 10},
            "tariffs": {"electricity_pence_per_kwh": "25"},
        }
    )  # fmt: skip


def step(
    action: Any, emitter_id: str | None, water_l: float, *, run_m: float = 0.0, valves: bool = False
) -> EmitterStep:
    return EmitterStep(action, emitter_id, None, None, "", 1000, water_l, run_m, False, valves)


def schedule(*, hall_l: float = 8.0, bath_l: float = 4.0, more: tuple[EmitterStep, ...] = ()) -> EmitterSchedule:
    rooms = tuple(
        RoomEmitters(name, name, 1000, 1000, 1000, 0, "keep", steps, 0, 0, "")
        for name, steps in (("hall", (step("keep", "r", hall_l),)), ("bath", (step("keep", "r", bath_l), *more)))
    )
    return EmitterSchedule(50, 45, rooms, 0, 0, None, 0)


def solved(**change: Any) -> SystemVolume:
    arguments: dict[str, Any] = {
        "survey": survey(), "schedule": schedule(), "primary": PRIMARY, "longest_run_m": 15.0, "unit": unit(),
        "count": 1, "cylinder": CYLINDER, "frost": WATER, "vessels": VESSELS, "volumisers": VOLUMISERS,
        "reference": load(),
    }  # fmt: skip
    return system_volume(**(arguments | change))


def codes(found: SystemVolume) -> dict[str, str]:
    return {finding.code: finding.strength for finding in found.findings}


def test_the_sum_by_hand() -> None:
    """Pipes 7.5 + 30 m x 0.32047 + 12 m x 0.14527 = 18.857 L; emitters 12; unit and coil 17.5.

    Open: 7.5 + 3 + 8 = 18.5 of 20 L, so 25 L are added: 73.357 L. Growth to 60 C 1.679 % (IAPWS) = 1.232 L, reserve
    3 L. Two storeys of 2.5 m: 0.4905 + 0.3 = 0.7905 bar; 4.232 x 3.5 / (2.5 - 0.7905) = 8.66 L.
    """
    found = solved()
    assert found.pipes_l == pytest.approx(18.857, abs=0.001)
    assert found.emitters_l == 12
    assert found.unit_and_coil_l == 17.5
    assert found.total_l == pytest.approx(73.357, abs=0.001)
    assert found.expansion_ratio == pytest.approx(0.01679, abs=0.0001)
    assert found.reserve_l == 3
    assert found.vessel_needed_l == pytest.approx(8.66, abs=0.02)
    assert found.vessel is not None
    assert found.vessel.volume_l == 12
    assert (found.volumiser and found.volumiser.sku, found.volumiser_count) == ("V-25", 1)
    assert (found.open_l, found.minimum_l) == (43.5, 20)
    assert codes(found) == {"volumiser_needed": "note"}
    values = {name: getattr(found, name) for name in SystemVolume.__slots__}
    assert "73 L grow by 1.2 L" in WHY.sentence.format(**values)


@pytest.mark.parametrize(
    ("material", "main_mm", "branch_mm", "pipes_l"),
    [
        # bores of BS 7291: 17.7 mm 0.24606 L/m, 11.6 mm 0.10568 L/m; 7.5 + 30 x 0.24606 + 12 x 0.10568
        ("plastic", 22, 15, 16.150),
        # BS EN 10255 medium: 27.4 mm 0.58965 L/m, 16.1 mm 0.20358 L/m; 7.5 + 30 x 0.58965 + 12 x 0.20358
        ("steel", 25, 15, 27.632),
        # 28 mm is no size of steel pipe: reckoned as 25 mm, as its friction is
        ("steel", 28, 15, 27.632),
    ],
)
def test_the_water_of_the_heating_pipes_goes_by_their_material(
    material: str, main_mm: int, branch_mm: int, pipes_l: float
) -> None:
    seen = survey()
    pipework = seen.existing.pipework.model_copy(
        update={"material": material, "main_mm": main_mm, "branch_mm": branch_mm}
    )
    house = seen.model_copy(update={"existing": seen.existing.model_copy(update={"pipework": pipework})})
    assert solved(survey=house).pipes_l == pytest.approx(pipes_l, abs=0.002)


def test_enough_open_water_needs_no_volumiser() -> None:
    found = solved(survey=survey(valves="manual"))
    assert found.open_l == pytest.approx(22.5)
    assert (found.volumiser, found.volumiser_count, found.findings) == (None, 0, ())


def test_new_valves_close_and_the_sensor_room_stays_open() -> None:
    closed = solved(
        survey=survey(sensor=False, valves="manual"),
        schedule=schedule(bath_l=0, more=(step("swap", "r", 4, valves=True),)),
        volumisers=(),
    )
    assert closed.open_l == pytest.approx(10.5)
    assert solved(survey=survey(sensor=True), volumisers=()).open_l == pytest.approx(18.5)


def test_several_volumisers_by_the_cheapest_sum() -> None:
    """75 - 18.5 = 56.5 L short: 3 x 25 cost 420, 2 x 40 cost 370."""
    found = solved(unit=unit(minimum_volume_l=75))
    assert (found.volumiser and found.volumiser.sku, found.volumiser_count) == ("V-40", 2)
    assert found.open_l >= found.minimum_l


def test_a_gap_of_just_one_volumiser_takes_one() -> None:
    """33.2 - 7.5 - 0.7 = 25 L short, 25.000000000000004 in floats; 8.2 - 7.5 - 0.7 is nothing, and dust in floats."""
    closed = survey(sensor=False)
    one = {"survey": closed, "volumisers": VOLUMISERS[:1]}
    assert solved(**one, unit=unit(water_l=0.7, minimum_volume_l=33.2)).volumiser_count == 1
    assert solved(**one, unit=unit(water_l=0.7, minimum_volume_l=8.2 + 1e-12)).volumiser_count == 0


def test_no_volumiser_stops() -> None:
    assert codes(solved(volumisers=())) == {"no_volumiser": "stop"}


def test_an_added_emitter_brings_its_run_and_a_removed_one_takes_its_water() -> None:
    """2 x 4 m of new run and 2 x 3 m of branch in 15 mm: 14 x 0.14527 = 2.034 L more pipe."""
    more = solved(schedule=schedule(more=(step("add", None, 5, run_m=4),)))
    assert more.pipes_l - solved().pipes_l == pytest.approx(2.034, abs=0.001)
    assert more.emitters_l == 17
    assert solved(schedule=schedule(more=(step("remove", "r", 5),))).emitters_l == 12


def test_glycol_grows_more() -> None:
    assert solved(frost=GLYCOL).expansion_l > 1.3 * solved().expansion_l


def test_no_vessel_stops() -> None:
    found = solved(schedule=schedule(hall_l=500))
    assert found.vessel is None
    assert codes(found) == {"no_vessel_large_enough": "stop"}
    assert "24 L" in found.findings[0].message


@pytest.mark.parametrize(("store_l", "vessel"), [(150, 18), (200, 18), (210, 24), (300, 24)])
def test_drinking_water_vessel_by_store(store_l: float, vessel: float) -> None:
    """18 L up to a store of 200 L, 24 L above: common practice, no source."""
    found = solved(cylinder=CYLINDER.model_copy(update={"volume_l": store_l}))
    assert found.drinking_vessel is not None
    assert found.drinking_vessel.volume_l == vessel


def test_drinking_water_vessel_missing_or_not_needed() -> None:
    assert codes(solved(vessels=VESSELS[:3]))["no_drinking_vessel"] == "stop"
    assert solved(cylinder=None).drinking_vessel is None
    assert solved(cylinder=None).unit_and_coil_l == 3


def test_charge_pressure() -> None:
    """5 m: 0.4905 + 0.3 = 0.7905 bar; 2.5 m would be 0.545, below the 0.7 bar floor."""
    assert charge_pressure_bar(static_height_m=5) == pytest.approx(0.7905)
    assert charge_pressure_bar(static_height_m=2.5) == 0.7
    with pytest.raises(ValueError, match="not above the charge"):
        vessel_l(taken_l=1, charge_bar=2.5, final_bar=2.5)


def test_two_units_count_twice() -> None:
    found = solved(count=2)
    assert found.minimum_l == 40
    assert found.unit_and_coil_l == 20.5
