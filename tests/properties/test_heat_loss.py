"""What must hold for the heat loss of any house."""

import math
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given, settings, strategies as st

from models.design.ground import ground_floors
from models.design.heat_loss import METHODS, SOURCE, heat_loss
from models.design.results import Climate, HeatLoss
from models.design.u_values import u_values
from models.design.ventilation import room_air
from models.reference import Reference, load
from models.survey import ByLayers, ByU, Element, ExistingSystem, House, Layer, LayerPath, Room, Supply, Survey, Tariffs


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


few = settings(max_examples=40, deadline=None)
temps_c = st.floats(8, 26)
areas_m2 = st.floats(0.5, 60)
us = st.floats(0.05, 6)
outside = st.tuples(
    st.sampled_from(["wall", "roof", "floor"]),
    st.sampled_from(["outside", "ground", "unheated", "neighbour"]),
    areas_m2,
    us,
)


@st.composite
def houses(draw: st.DrawFn) -> Survey:
    """Houses of 2 to 6 rooms of which each has outer elements and one inner element to some other room."""
    count = draw(st.integers(2, 6))
    constructions = []
    rooms = []
    for number in range(count):
        elements = []
        for at, (kind, faces, area_m2, u) in enumerate(draw(st.lists(outside, min_size=1, max_size=3))):
            constructions.append(by_u(f"{number}.{at}", u))
            space = "room_1_external_wall" if faces == "unheated" else None
            elements.append(
                Element(
                    id=f"e{at}", kind=kind, faces=faces, construction=f"{number}.{at}", area_m2=area_m2, space=space
                )
            )
        beside = (number + draw(st.integers(1, count - 1))) % count
        constructions.append(by_u(f"{number}.inner", draw(us)))
        elements.append(
            Element(
                id="inner",
                kind="wall",
                faces="room",
                construction=f"{number}.inner",
                area_m2=draw(areas_m2),
                beside_room=f"room {beside}",
            )
        )
        rooms.append(
            Room(
                id=f"room {number}",
                name=f"room {number}",
                use="living",
                wanted_temp_c=draw(temps_c),
                length_m=draw(st.floats(1, 9)),
                width_m=draw(st.floats(1, 9)),
                height_m=draw(st.floats(2, 6)),
                elements=elements,
            )
        )
    return survey_of(*rooms, constructions=tuple(constructions))


@few
@given(houses(), st.floats(-15, 5))
def test_flows_between_rooms_add_up_to_exactly_nothing(survey: Survey, outdoor_c: float) -> None:
    result = worked_out(survey, outdoors(outdoor_c), load())
    assert sum(room.to_rooms_w for room in result.rooms) == 0.0


@few
@given(houses(), st.floats(-15, 5), st.sampled_from([0.0, 12.5]))
def test_rooms_less_what_they_pass_on_are_the_house(survey: Survey, outdoor_c: float, reheat: float) -> None:
    result = worked_out(survey, outdoors(outdoor_c), with_defaults(reheat_w_per_m2=reheat))
    assert sum(room.heat_loss_w - room.to_rooms_w for room in result.rooms) == pytest.approx(result.heat_loss_w)
    parts_w = result.transmission_w + result.ventilation_w + result.reheat_w
    assert parts_w == pytest.approx(result.heat_loss_w)
    for room in result.rooms:
        assert room.heat_loss_w == pytest.approx(room.transmission_w + room.ventilation_w + room.reheat_w)
        assert sum(loss.loss_w for loss in room.elements) == pytest.approx(room.transmission_w, abs=1e-9)
        inner_w = sum(loss.loss_w for loss in room.elements if loss.faces == "room")
        assert inner_w == pytest.approx(room.to_rooms_w, abs=1e-9)


@few
@given(outside, st.floats(1, 3), st.sampled_from(["area", "u"]))
def test_more_area_or_u_never_means_less_loss(given_outside: tuple[str, str, float, float], times: float, what: str):
    kind, faces, area_m2, u = given_outside
    losses_w = []
    for factor in (1.0, times):
        element = Element(
            id="e",
            kind=kind,
            faces=faces,
            construction="c",
            area_m2=area_m2 * (factor if what == "area" else 1),
            space="crawl_space" if faces == "unheated" else None,
        )
        construction = by_u("c", min(u * (factor if what == "u" else 1), 7.0))
        room = Room(
            id="r", name="r", use="living", wanted_temp_c=21, length_m=4, width_m=4, height_m=5, elements=(element,)
        )
        survey = survey_of(room, constructions=(construction,))
        result = worked_out(survey, outdoors(-3), with_defaults(party_wall_policy="neighbour_at_10"))
        losses_w.append(result.heat_loss_w)
    assert losses_w[1] >= losses_w[0]


@few
@given(houses(), st.floats(-15, 5), st.floats(0, 10))
def test_a_warmer_outside_never_means_more_loss(survey: Survey, outdoor_c: float, warmer_k: float) -> None:
    reference = load()
    cold = worked_out(survey, outdoors(outdoor_c), reference)
    mild = worked_out(survey, outdoors(min(outdoor_c + warmer_k, 7.0), 12.0), reference)
    assert mild.heat_loss_w <= cold.heat_loss_w + 1e-9
    for before, after in zip(cold.rooms, mild.rooms, strict=True):
        assert after.heat_loss_w <= before.heat_loss_w + 1e-9


methods = st.sampled_from(sorted(METHODS))


@few
@given(houses(), st.floats(-15, 5), methods)
def test_every_method_gives_numbers_that_hang_together(survey: Survey, outdoor_c: float, method: str) -> None:
    result = worked_out(survey, outdoors(outdoor_c), load(), method)
    assert sum(room.to_rooms_w for room in result.rooms) == 0.0
    for other in (result, *result.other_methods):
        assert math.isfinite(other.heat_loss_w)
        assert other.transmission_w + other.ventilation_w == pytest.approx(other.heat_loss_w)
    for room in result.rooms:
        assert room.heat_loss_w == pytest.approx(room.transmission_w + room.ventilation_w + room.reheat_w)
    assert sum(room.ventilation_w for room in result.rooms) == pytest.approx(result.rooms_ventilation_w)
    if all(room.room_temp_c >= 10 for room in result.rooms):
        assert result.neighbour_heated_w <= result.neighbour_at_10_w + 1e-9


def doubled(survey: Survey) -> Survey:
    """All areas and volumes twice as large: rooms twice as long, elements twice the area."""
    rooms = [
        room.model_copy(
            update={
                "length_m": room.length_m * 2,
                "elements": tuple(e.model_copy(update={"area_m2": e.gross_area_m2 * 2}) for e in room.elements),
            }
        )
        for room in survey.rooms
    ]
    return survey.model_copy(update={"rooms": tuple(rooms)})


@few
@given(houses(), st.floats(-15, 5), methods)
def test_twice_the_house_loses_twice_as_much(survey: Survey, outdoor_c: float, method: str) -> None:
    once = worked_out(survey, outdoors(outdoor_c), load(), method)
    twice = worked_out(doubled(survey), outdoors(outdoor_c), load(), method)
    assert twice.heat_loss_w == pytest.approx(2 * once.heat_loss_w, abs=1e-6)
    for before, after in zip(once.rooms, twice.rooms, strict=True):
        assert after.heat_loss_w == pytest.approx(2 * before.heat_loss_w, abs=1e-6)


@few
@given(houses(), st.integers(0, 5), st.floats(0, 4), methods)
def test_a_warmer_room_never_means_less_for_it(survey: Survey, which: int, warmer_k: float, method: str) -> None:
    at = which % len(survey.rooms)
    rooms = list(survey.rooms)
    rooms[at] = rooms[at].model_copy(update={"wanted_temp_c": (rooms[at].wanted_temp_c or 0) + warmer_k})
    warmer = survey.model_copy(update={"rooms": tuple(rooms)})
    before = worked_out(survey, outdoors(-3), load(), method)
    after = worked_out(warmer, outdoors(-3), load(), method)
    assert after.rooms[at].heat_loss_w >= before.rooms[at].heat_loss_w - 1e-6
    assert after.heat_loss_w >= before.heat_loss_w - 1e-6


def one_room(**more: Any) -> Survey:
    wall = Element(id="e", kind="wall", faces="outside", construction="c", area_m2=30)
    house = more.pop("house", {})
    construction = more.pop("construction", by_u("c", 1.0))
    given_room = {"use": "living", "wanted_temp_c": 21, "length_m": 4, "width_m": 4, "height_m": 2.5} | more
    return survey_of(Room(id="r", name="r", elements=(wall,), **given_room), constructions=(construction,), house=house)


@few
@given(st.floats(0, 10), st.floats(0, 10))
def test_more_air_never_means_less_loss(changes: float, more: float) -> None:
    losses = [
        worked_out(one_room(air_changes_per_h=n), outdoors(-3), load(), "room_air_changes").heat_loss_w
        for n in (changes, changes + more)
    ]
    assert losses[1] >= losses[0]


@few
@given(st.floats(0.5, 25), st.floats(0, 25), st.floats(0, 60), st.floats(0, 60))
def test_a_leakier_envelope_never_means_less_loss(tight: float, more: float, extract: float, vents: float) -> None:
    losses = [
        worked_out(
            one_room(
                house={"air_permeability_m3_per_h_m2": q},
                extract_m3_per_h=extract,
                background_vents_m3_per_h=vents,
            ),
            outdoors(-3),
            load(),
            "standard",
        ).heat_loss_w
        for q in (tight, tight + more)
    ]
    assert losses[1] >= losses[0] - 1e-9


@few
@given(st.floats(0, 300), st.floats(0, 300), st.floats(0.02, 0.1), methods)
def test_more_insulation_never_means_a_larger_load(mm: float, more_mm: float, conductivity: float, method: str) -> None:
    losses = []
    for thickness_mm in (mm, mm + more_mm):
        layers = [Layer(name="brick", paths=(LayerPath(thickness_mm=220, conductivity_w_per_mk=0.77),))]
        if thickness_mm >= 0.001:
            path = LayerPath(thickness_mm=thickness_mm, conductivity_w_per_mk=conductivity)
            layers.append(Layer(name="insulation", paths=(path,)))
        wall = ByLayers(by="layers", id="c", name="wall", layers=tuple(layers))
        losses.append(worked_out(one_room(construction=wall), outdoors(-3), load(), method).heat_loss_w)
    assert losses[1] <= losses[0]
