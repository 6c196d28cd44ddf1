from dataclasses import replace
from typing import Any

import pytest

from models.design.ground import ground_floors
from models.design.heat_loss import METHODS, SOURCE, WHY, WHY_ROOM, OutdoorTooWarm, UnknownMethod, heat_loss
from models.design.results import Climate, HeatLoss
from models.design.u_values import u_values
from models.design.ventilation import room_air
from models.physics.conduction import equivalent_ground_u_w_per_m2k
from models.reference import Reference, load
from models.survey import (
    BasementWall,
    ByLayers,
    ByU,
    Element,
    ExistingSystem,
    GroundSlab,
    House,
    Layer,
    LayerPath,
    Position,
    Room,
    Supply,
    Survey,
    SuspendedFloor,
    Tariffs,
)


def survey_of(*rooms: Room, constructions: tuple[Any, ...], house: dict[str, Any] | None = None, **more: Any) -> Survey:
    return Survey(
        label="test house",
        house=House(
            **{
                "nation": "england",
                "place": "Nether Fallow",
                "altitude_m": 96,
                "weather_station": "Birmingham",
                "climate_region": 6,
                "dwelling_type": "detached",
                "age_band": "D",
                "storeys": 2,
                "bedrooms": 3,
                "occupants": 4,
                "slab_area_m2": 50,
                "exposed_perimeter_m": 21,
            }
            | (house or {})
        ),
        constructions=constructions,
        rooms=rooms,
        existing=ExistingSystem(fuel="oil"),
        supply=Supply(cable_route_m=10),
        tariffs=Tariffs(electricity_pence_per_kwh=25),
        **more,
    )


def outdoors(temp_c: float, annual_mean_temp_c: float = 10.0) -> Climate:
    return Climate("-", 0, temp_c, "per_100m", 0, temp_c, annual_mean_temp_c, (annual_mean_temp_c,) * 12, "-", SOURCE)


def worked_out(survey: Survey, climate: Climate, reference: Reference, method: str | None = None) -> HeatLoss:
    parts = {"constructions": survey.constructions, "house": survey.house, "reference": reference}
    return heat_loss(
        survey=survey,
        climate=climate,
        u_values=u_values(**parts) | ground_floors(**parts),
        air=room_air(rooms=survey.rooms, house=survey.house, reference=reference),
        reference=reference,
        method=method,
    )


def with_defaults(**defaults: Any) -> Reference:
    reference = load()
    return replace(reference, defaults=replace(reference.defaults, **defaults))


def by_u(construction_id: str, u_w_per_m2k: float) -> ByU:
    return ByU(by="u_value", id=construction_id, name=construction_id, u_w_per_m2k=u_w_per_m2k)


def room(*elements: Element, room_id: str = "r", **more: Any) -> Room:
    """A bedroom of 4 by 5 by 2.5 m at 20 °C with one air change an hour."""
    given = {"name": room_id, "use": "bedroom", "wanted_temp_c": 20, "air_changes_per_h": 1.0}
    size = {"length_m": 4, "width_m": 5, "height_m": 2.5}
    return Room(id=room_id, elements=elements, **(given | size | more))


def element(**more: Any) -> Element:
    return Element(**({"id": "e", "kind": "wall", "faces": "outside", "construction": "one", "area_m2": 10} | more))


def loss_of(*elements: Element, construction: Any = None, reference: Reference | None = None, **more: Any):
    """The losses of the elements of one room at 20 °C, -4 °C outdoors, 10 °C in the mean of the year."""
    construction = construction or by_u("one", 1.0)
    survey = survey_of(room(*elements, **more), constructions=(construction,))
    return worked_out(survey, outdoors(-4), reference or load()).rooms[0].elements


def codes(result: HeatLoss) -> list[str]:
    """The findings but for the comparison of methods, which has its own test."""
    return [finding.code for finding in result.findings if finding.code != "methods_differ"]


def test_a_wall_with_its_bridges() -> None:
    # 10 m2 x (1.0 + 0.1) W/m2K x 24 K = 264 W
    (loss,) = loss_of(element())
    assert (loss.area_m2, loss.u_w_per_m2k, loss.thermal_bridge_w_per_m2k) == (10, 1.0, 0.1)
    assert (loss.temperature_factor_ratio, loss.other_side_temp_c) == (1.0, -4)
    assert loss.loss_w == pytest.approx(264)


# BS EN 12831-1:2017 Annex B (from memory): 10 m2 x (1 + ΔU) x 24 K
@pytest.mark.parametrize(
    ("bridge", "loss_w"), [("new_attested", 244.8), ("new_by_rules", 252), ("internal_insulation", 276)]
)
def test_the_bridge_addition_is_the_default_that_is_named(bridge: str, loss_w: float) -> None:
    (loss,) = loss_of(element(), reference=with_defaults(thermal_bridge=bridge))
    assert loss.loss_w == pytest.approx(loss_w)


def test_openings_come_off_what_they_are_cut_from() -> None:
    wall = element(id="wall", area_m2=None, length_m=4, height_m=2.5)
    windows = element(id="window", kind="window", area_m2=None, length_m=1.2, height_m=1, count=2, within="wall")
    door = element(id="door", kind="door", area_m2=1.6, within="wall")
    # 4 x 2.5 - 2 x 1.2 - 1.6 = 6.0 m2
    assert [loss.area_m2 for loss in loss_of(wall, windows, door)] == pytest.approx([6.0, 2.4, 1.6])


# BS EN 12831-1:2017 Table B.2 (from memory): factor x 10 m2 x 1.0 W/m2K x 24 K, no bridges
@pytest.mark.parametrize(
    ("space", "factor"), [("room_1_external_wall", 0.4), ("roof_space_uninsulated", 0.9), ("internal_circulation", 0)]
)
def test_unheated_spaces(space: str, factor: float) -> None:
    (loss,) = loss_of(element(faces="unheated", space=space))
    assert loss.loss_w == pytest.approx(factor * 240)
    assert loss.other_side_temp_c == pytest.approx(20 - factor * 24)
    assert loss.thermal_bridge_w_per_m2k == 0


def test_every_space_of_the_survey_has_a_factor() -> None:
    factors = load().heat_loss.unheated_space_factor_ratio
    spaces = Element.model_fields["space"].annotation.__args__[0].__args__
    assert set(factors) == set(spaces)


def test_the_ground_is_at_the_annual_mean() -> None:
    floor = element(kind="floor", faces="ground")
    # 10 m2 x 1.0 W/m2K x (20 - 10) K = 100 W, x 1.45 with the yearly swing
    assert loss_of(floor)[0].loss_w == pytest.approx(145)
    (plain,) = loss_of(floor, reference=with_defaults(ground_factor="annual_mean"))
    assert plain.loss_w == pytest.approx(100)
    assert plain.temperature_factor_ratio == pytest.approx(10 / 24)
    assert plain.thermal_bridge_w_per_m2k == 0


def test_high_groundwater_takes_more() -> None:
    clear = {f"clear_{side}_mm": 1000 for side in ("back", "left", "right", "front")}
    place = {"id": "p", "name": "patio", "reflecting_surfaces": 2, "route_outside_m": 1, "route_inside_m": 1}
    losses = {}
    for water_table in ("low", "high"):
        survey = survey_of(
            room(element(kind="floor", faces="ground")),
            constructions=(by_u("one", 1.0),),
            positions=(Position(**clear, **place, water_table=water_table),),
        )
        losses[water_table] = worked_out(survey, outdoors(-4), load()).rooms[0].transmission_w
    # BS EN 12831-1:2017 Annex B (from memory): 1.15 where groundwater is within 1 m
    assert losses["high"] == pytest.approx(1.15 * losses["low"])


@pytest.mark.parametrize("faces", ["outside", "ground", "unheated"])
def test_a_suspended_floor_loses_to_outdoor_air_through_its_own_void(faces: str) -> None:
    floor = SuspendedFloor(by="suspended_floor", id="one", name="timber floor", insulation_m2k_per_w=0.2)
    space = {"space": "crawl_space"} if faces == "unheated" else {}
    (loss,) = loss_of(element(kind="floor", faces=faces, **space), construction=floor)
    assert loss.loss_w == pytest.approx(loss.u_w_per_m2k * 10 * 24)
    assert (loss.temperature_factor_ratio, loss.thermal_bridge_w_per_m2k) == (1.0, 0.0)


def test_a_slab_is_on_the_ground_whatever_the_survey_says_it_faces() -> None:
    slab = GroundSlab(by="ground_slab", id="one", name="slab")
    assert loss_of(element(kind="floor"), construction=slab)[0].other_side_temp_c == 10


def test_layers_against_earth_take_the_equivalent_u() -> None:
    # 0.13 + 0.83 + 0.04 = 1.0 m2K/W: U = 1.0 as if in air; a basement wall 2.5 m deep, Annex E
    layers = (Layer(name="stone", paths=(LayerPath(resistance_m2k_per_w=0.83),)),)
    wall = ByLayers(by="layers", id="one", name="basement wall", layers=layers)
    survey = survey_of(room(element(faces="ground"), storey=-1), constructions=(wall,))
    result = worked_out(survey, outdoors(-4), load())
    # 0.93328 / (-2.1552 + 1 + 3.966^0.45325 + 1.1006^-1.0068) - 0.0692
    #   3.966^0.45325 = 1.8672, 1.1006^-1.0068 = 0.9080; 0.93328 / 1.6200 - 0.0692 = 0.5069
    (loss,) = result.rooms[0].elements
    assert loss.u_w_per_m2k == pytest.approx(0.5069, abs=2e-4)
    assert "ground_u_by_equivalent" in codes(result)
    floor = load().heat_loss.ground_equivalent["floor"]
    at_ground = survey_of(room(element(kind="floor", faces="ground")), constructions=(wall,))
    (loss,) = worked_out(at_ground, outdoors(-4), load()).rooms[0].elements
    # B' = 50 / (21 / 2)
    assert loss.u_w_per_m2k == pytest.approx(
        equivalent_ground_u_w_per_m2k(constants=floor, characteristic_m=100 / 21, depth_m=0, u_w_per_m2k=1.0)
    )


def test_the_party_wall_policy() -> None:
    survey = survey_of(room(element(faces="neighbour")), constructions=(by_u("one", 0.5),))
    heated = worked_out(survey, outdoors(-4), with_defaults(party_wall_policy="neighbour_heated"))
    cold = worked_out(survey, outdoors(-4), with_defaults(party_wall_policy="neighbour_at_10"))
    # 10 m2 x 0.5 W/m2K x (20 - 10) K = 50 W
    assert (heated.transmission_w, heated.neighbour_check_w) == (0, pytest.approx(50))
    assert (cold.transmission_w, cold.neighbour_check_w) == (pytest.approx(50), 0)
    assert heated.heat_loss_w + heated.neighbour_check_w == pytest.approx(cold.heat_loss_w)
    for result in (heated, cold):
        assert result.neighbour_heated_w == pytest.approx(heated.heat_loss_w)
        assert result.neighbour_at_10_w == pytest.approx(cold.heat_loss_w)
    for result, word in ((heated, "heated"), (cold, "unheated")):
        (finding,) = [finding for finding in result.findings if finding.code == "party_wall_policy"]
        assert f"taken as {word}" in finding.message and "50 W" in finding.message


def test_a_flow_between_rooms_stands_in_both() -> None:
    warm = room(element(faces="room", kind="ceiling", beside_room="cool"), room_id="warm")
    cool = room(room_id="cool", wanted_temp_c=18)
    result = worked_out(survey_of(warm, cool, constructions=(by_u("one", 1.7),)), outdoors(-4), load())
    # 10 m2 x 1.7 W/m2K x 2 K = 34 W
    assert [each.to_rooms_w for each in result.rooms] == pytest.approx([34, -34])
    assert [each.transmission_w for each in result.rooms] == pytest.approx([34, -34])
    assert result.transmission_w == 0
    here, there = (each.elements[0] for each in result.rooms)
    assert (here.kind, here.other_side_temp_c) == ("ceiling", 18)
    assert (there.kind, there.other_side_temp_c) == ("floor", 20)
    assert here.loss_w == -there.loss_w


def test_ventilation_and_heat_recovery() -> None:
    # 0.34 x 1.0 1/h x 50 m3 x 24 K = 408 W; with 75 % recovered 102 W
    for recovery, ventilation_w in ((0.0, 408), (0.75, 102)):
        survey = survey_of(room(element(), heat_recovery_ratio=recovery), constructions=(by_u("one", 1.0),))
        assert worked_out(survey, outdoors(-4), load()).ventilation_w == pytest.approx(ventilation_w)


def test_the_house_in_one_view() -> None:
    survey = survey_of(
        room(element(), room_id="a"),
        room(element(), room_id="b", wanted_temp_c=16, height_m=3),
        constructions=(by_u("one", 1.0),),
    )
    result = worked_out(survey, outdoors(-4), with_defaults(reheat_w_per_m2=10))
    # fabric 11 W/K x (24 + 20) K = 484 W; air 0.34 x (50 x 24 + 60 x 20) = 816 W; reheat 10 x 40 = 400 W
    assert (result.transmission_w, result.ventilation_w, result.reheat_w) == pytest.approx((484, 816, 400))
    assert result.heat_loss_w == pytest.approx(1700)
    assert (result.floor_area_m2, result.heat_loss_w_per_m2) == pytest.approx((40, 42.5))
    # mean (20 x 50 + 16 x 60) / 110 = 17.818 °C; coefficient without reheat 1300 / 21.818 = 59.58 W/K
    assert result.mean_room_temp_c == pytest.approx(1960 / 110)
    assert result.loss_coefficient_w_per_k == pytest.approx(1300 / (1960 / 110 + 4))


def test_a_room_without_a_wish_takes_the_temperature_of_its_use() -> None:
    # UK national annex to BS EN 12831:2003 (from memory): bathroom 22 °C
    survey = survey_of(Room(id="r", name="r", use="bathroom", length_m=2, width_m=2, height_m=2.4), constructions=())
    assert worked_out(survey, outdoors(-4), load()).rooms[0].room_temp_c == 22


def test_a_room_below_four_metres_has_no_height_correction() -> None:
    (low,) = loss_of(element(kind="roof"), height_m=3.99)
    (high,) = loss_of(element(kind="roof"), height_m=4.0)
    assert low.temperature_factor_ratio == 1.0
    # function 49: 1 K/m x (4 - 1) m = 3 K over 24 K
    assert high.temperature_factor_ratio == pytest.approx(1 + 3 / 24)


def test_height_counts_towards_unheated_spaces_and_neighbours_too() -> None:
    (loft,) = loss_of(element(kind="ceiling", faces="unheated", space="roof_space_insulated"), height_m=5)
    # function 9 to 11: 0.7 + (24 - 20) / 24
    assert loft.temperature_factor_ratio == pytest.approx(0.7 + 4 / 24)
    cold = with_defaults(party_wall_policy="neighbour_at_10")
    (party,) = loss_of(element(faces="neighbour"), reference=cold, height_m=5)
    # θ*air = 20 + 1 x (2.5 - 1) = 21.5 °C: 10 m2 x 1 W/m2K x 11.5 K
    assert party.loss_w == pytest.approx(115)


def test_what_was_assumed_is_said_once() -> None:
    survey = survey_of(
        room(element(), room_id="a", air_changes_per_h=None),
        room(element(), room_id="b", air_changes_per_h=None),
        room(element(), room_id="c"),
        constructions=(by_u("one", 1.0),),
    )
    result = worked_out(survey, outdoors(-4), load())
    assert codes(result) == ["air_changes_assumed"]
    assert "2 of 3 rooms" in result.findings[0].message and "a, b" in result.findings[0].message


def test_a_room_without_elements_is_noted() -> None:
    result = worked_out(survey_of(room(), constructions=()), outdoors(-4), load())
    assert codes(result) == ["room_without_elements"]


def test_a_room_that_its_neighbours_heat_is_noted_by_name() -> None:
    warm = room(element(faces="room", area_m2=100, beside_room="store"), room_id="warm")
    store = room(room_id="store", wanted_temp_c=10, air_changes_per_h=0.1)
    result = worked_out(survey_of(warm, store, constructions=(by_u("one", 2.0),)), outdoors(-4), load())
    (finding,) = [finding for finding in result.findings if finding.code == "room_gains_heat"]
    # 100 x 2 x 10 = 2000 W in, 0.34 x 5 x 14 = 23.8 W out
    assert (finding.where, "1976 W" in finding.message) == ("store", True)


def test_the_findings_of_constructions_are_handed_on() -> None:
    steel = LayerPath(share_ratio=0.02, thickness_mm=100, conductivity_w_per_mk=50)
    wool = LayerPath(share_ratio=0.98, thickness_mm=100, conductivity_w_per_mk=0.035)
    wall = ByLayers(by="layers", id="one", name="cold store", layers=(Layer(name="panel", paths=(steel, wool)),))
    result = worked_out(survey_of(room(element()), constructions=(wall,)), outdoors(-4), load())
    assert codes(result) == ["bridged_layers_out_of_range"]


def test_broken_input_is_named() -> None:
    survey = survey_of(room(element()), constructions=(by_u("one", 1.0),))
    for field in ("heat_loss_method", "thermal_bridge", "party_wall_policy"):
        with pytest.raises(UnknownMethod, match="'guess'"):
            worked_out(survey, outdoors(-4), with_defaults(**{field: "guess"}))
    with pytest.raises(UnknownMethod, match="'guess'; there are room_air_changes, standard, simplified"):
        worked_out(survey, outdoors(-4), load(), "guess")
    with pytest.raises(OutdoorTooWarm, match="room 'r' is wanted at 20 °C"):
        worked_out(survey, outdoors(20), load())


def test_the_sentences_fill_from_the_results() -> None:
    survey = survey_of(room(element()), constructions=(by_u("one", 1.0),))
    result = worked_out(survey, outdoors(-4), load())

    def filled(why: Any, value: Any) -> str:
        return why.sentence.format(**{name: getattr(value, name) for name in value.__slots__})

    # 264 + 408 = 672 W
    assert filled(WHY, result).startswith("672 W")
    assert filled(WHY_ROOM, result.rooms[0]).startswith("r at 20 °C: 672 W")


# BS EN 12831-1:2017, simplified method (from memory): outside 1.0 with walls by their outer area (1.25), unheated and
# next door 0.5, heated 0.3, ground 0.3 of the U in air; over 24 K.
@pytest.mark.parametrize(
    ("given", "policy", "loss_w"),
    [
        ({}, "neighbour_heated", 10 * 1.25 * 1.1 * 24),
        ({"kind": "roof"}, "neighbour_heated", 10 * 1.1 * 24),
        ({"faces": "unheated", "space": "room_1_external_wall"}, "neighbour_heated", 0.5 * 240),
        ({"faces": "neighbour"}, "neighbour_heated", 0.3 * 240),
        ({"faces": "neighbour"}, "neighbour_at_10", 0.5 * 240),
        ({"kind": "floor", "faces": "ground"}, "neighbour_heated", 1.45 * 100),  # U to the ground as it was given
    ],
)
def test_simplified_factors(given: dict[str, Any], policy: str, loss_w: float) -> None:
    survey = survey_of(room(element(**given)), constructions=(by_u("one", 1.0),))
    result = worked_out(survey, outdoors(-4), with_defaults(party_wall_policy=policy), "simplified")
    assert result.transmission_w == pytest.approx(loss_w)
    assert result.rooms[0].elements[0].loss_w == pytest.approx(loss_w)
    assert result.neighbour_at_10_w - result.neighbour_heated_w == pytest.approx(
        0.2 * 240 if given.get("faces") == "neighbour" else 0
    )


def test_simplified_ground_takes_the_u_of_layers_in_air() -> None:
    # 0.13 + 0.83 + 0.04 = 1.0 m2K/W: 0.3 x 10 m2 x 1.0 W/m2K x 24 K
    layers = (Layer(name="stone", paths=(LayerPath(resistance_m2k_per_w=0.83),)),)
    wall = ByLayers(by="layers", id="one", name="basement wall", layers=layers)
    survey = survey_of(room(element(faces="ground"), storey=-1), constructions=(wall,))
    result = worked_out(survey, outdoors(-4), load(), "simplified")
    assert result.transmission_w == pytest.approx(72)
    assert "ground_u_by_equivalent" not in codes(result)


def test_simplified_openings_come_off_the_outer_wall() -> None:
    window = element(id="window", kind="window", area_m2=2, within="e")
    survey = survey_of(room(element(), window), constructions=(by_u("one", 1.0),))
    wall, glass = worked_out(survey, outdoors(-4), load(), "simplified").rooms[0].elements
    assert (wall.area_m2, glass.area_m2) == pytest.approx((10.5, 2))


# Simplified method (from memory): 0.25 from 1995, 0.5 from 1977, 1.0 before; a band counts by its first year.
@pytest.mark.parametrize(
    ("band", "changes"), [("A", 1.0), ("F", 1.0), ("G", 0.5), ("H", 0.5), ("I", 0.25), ("M", 0.25)]
)
def test_simplified_air_of_the_house_goes_by_its_age_and_that_of_rooms_does_not(band: str, changes: float) -> None:
    survey = survey_of(room(element()), constructions=(by_u("one", 1.0),), house={"age_band": band})
    result = worked_out(survey, outdoors(-4), load(), "simplified")
    # 0.34 x 50 m3 x 24 K = 408 W at one air change
    assert result.ventilation_w == pytest.approx(408 * changes)
    assert (result.rooms[0].ventilation_w, result.rooms_ventilation_w) == pytest.approx((204, 204))


def test_standard_air_with_heat_recovery() -> None:
    # Two rooms of 50 m3 with 10 m2 of envelope, 2 m3/hm2 by test: 2 x 20 x 0.05 = 2 m3/h of infiltration, 1 each;
    # with the wind on it min(2; 1 x 2) = 2. Fans cover more than the 25 m3/h needed.
    # Supply of 40 m3/h at -4 + 0.8 x 26 = 16.8 °C: 0.34 x 40 x 3.2 = 43.52 W.
    survey = survey_of(
        room(element(), room_id="a", supply_m3_per_h=40, heat_recovery_ratio=0.8),
        room(element(), room_id="b", extract_m3_per_h=40, wanted_temp_c=22),
        constructions=(by_u("one", 1.0),),
        house={"air_permeability_m3_per_h_m2": 2.0},
    )
    result = worked_out(survey, outdoors(-4), load(), "standard")
    assert result.rooms[0].ventilation_w == pytest.approx(0.34 * 2 * 24 + 43.52)
    assert result.rooms[1].ventilation_w == pytest.approx(0.34 * 2 * 26)
    assert result.ventilation_w == pytest.approx(0.34 * 1 * 24 + 43.52 + 0.34 * 1 * 26)
    assert result.rooms_ventilation_w == pytest.approx(0.34 * 2 * 50 + 43.52)
    assert codes(result) == []


def test_supply_without_extract_recovers_nothing() -> None:
    survey = survey_of(
        room(element(), supply_m3_per_h=40, heat_recovery_ratio=0.8),
        constructions=(by_u("one", 1.0),),
        house={"air_permeability_m3_per_h_m2": 2.0},
    )
    # blown in 40 m3/h at -4 °C, and the leaks: (2 x 10) x 0.05 / (1 + 8 / 0.05 x (40 / 20)^2) = 0.00156 m3/h;
    # one room: all of it, since min(q_env; 2 q_leak) is q_env
    leak = 1 / (1 + 160 * 4)
    result = worked_out(survey, outdoors(-4), load(), "standard")
    assert result.ventilation_w == pytest.approx(0.34 * 24 * (40 + leak))


def test_what_the_standard_method_assumed_is_said() -> None:
    survey = survey_of(room(element(), extract_m3_per_h="unknown"), constructions=(by_u("one", 1.0),))
    result = worked_out(survey, outdoors(-4), load(), "standard")
    assert codes(result) == ["air_tightness_assumed", "air_flows_unknown"]
    assert "12 m3/h" in result.findings[0].message and "class IV" in result.findings[0].message


def test_all_methods_run_on_the_same_survey() -> None:
    survey = survey_of(
        room(element(), element(id="p", faces="neighbour"), room_id="a"),
        room(element(id="i", faces="room", beside_room="a"), element(), room_id="b", wanted_temp_c=16),
        constructions=(by_u("one", 1.0),),
    )
    reference = with_defaults(reheat_w_per_m2=5)
    results = {name: worked_out(survey, outdoors(-4), reference, name) for name in METHODS}
    for name, result in results.items():
        assert (result.method_name, result.method) == (name, METHODS[name])
        assert {other.method for other in result.other_methods} == set(METHODS) - {name}
        assert sum(each.to_rooms_w for each in result.rooms) == 0.0
        for other in result.other_methods:
            chosen = results[other.method]
            assert other.heat_loss_w == pytest.approx(chosen.heat_loss_w)
            assert other.transmission_w == pytest.approx(chosen.transmission_w)
            assert other.ventilation_w == pytest.approx(chosen.ventilation_w)
            outwards_w = sum(each.heat_loss_w - each.to_rooms_w for each in chosen.rooms)
            assert other.sum_of_rooms_w == pytest.approx(outwards_w)


def test_methods_that_differ_are_noted() -> None:
    # three air changes are surveyed; the standard method needs 0.5 1/h, 204 W, the simplified 1.0 1/h at that age
    survey = survey_of(room(element(), air_changes_per_h=3), constructions=(by_u("one", 1.0),))
    (finding,) = [f for f in worked_out(survey, outdoors(-4), load()).findings if f.code == "methods_differ"]
    # 264 + 1224 W; simplified 330 + 408 W
    assert finding.strength == "note"
    assert "1,488 W by room air changes" in finding.message and "738 W by simplified" in finding.message
    # 264 + 204 W by all three: a roof has no outer area, and age band G has 0.5 1/h
    alike = survey_of(
        room(element(kind="roof"), air_changes_per_h=0.5), constructions=(by_u("one", 1.0),), house={"age_band": "G"}
    )
    assert "methods_differ" not in [f.code for f in worked_out(alike, outdoors(-4), load()).findings]


def test_a_basement_wall_is_in_the_ground_whatever_the_survey_says_it_faces() -> None:
    wall = BasementWall(by="basement_wall", id="one", name="wall", depth_m=2.5)
    (loss,) = loss_of(element(), construction=wall, storey=-1)
    assert (loss.other_side_temp_c, loss.thermal_bridge_w_per_m2k) == (10, 0)
    assert loss.loss_w == pytest.approx(1.45 * loss.u_w_per_m2k * 10 * 10)
