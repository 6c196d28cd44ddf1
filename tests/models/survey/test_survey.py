"""What hangs together in a survey, in the surveyor's words, and how each value is known."""

from typing import Any

import pytest
from pydantic import ValidationError

from models.survey import Element, Emitter, Layer, LayerPath, Room, Supply, Survey, room_faults
from models.survey.known import assumed_values
from models.survey.site import told_apart


def wall(**change: Any) -> dict[str, Any]:
    of_wall = {"id": "w1", "kind": "wall", "faces": "outside", "construction": "brick", "length_m": 4, "height_m": 2.5}
    return of_wall | change


def survey(*elements: dict[str, Any], **change: Any) -> dict[str, Any]:
    room = {"id": "r1", "name": "Hall", "use": "hall", "length_m": 4, "width_m": 3, "height_m": 2.4}
    return {
        "label": "test",
        "house": {
            "nation": "england", "place": "Nether Fallow", "altitude_m": 140, "weather_station": "Birmingham",
            "climate_region": 6, "dwelling_type": "detached", "age_band": "E", "storeys": 1, "bedrooms": 1,
            "occupants": 1, "slab_area_m2": 50, "exposed_perimeter_m": 21,
        },
        "constructions": [{"by": "u_value", "id": "brick", "name": "brick", "u_w_per_m2k": 1.7}],
        "rooms": [room | {"elements": list(elements)}, room | {"id": "r2", "name": "Study", "use": "study"}],
        "existing": {"fuel": "oil"},
        "supply": {"cable_route_m": 10},
        "tariffs": {"electricity_pence_per_kwh": "25"},
    } | change  # fmt: skip


@pytest.mark.parametrize(
    ("element", "said"),
    [
        (wall(length_m=None), "wall 'w1' has neither an area nor a length and a height"),
        (wall(construction="stone"), "is built of 'stone', which is not among the constructions"),
        (wall(faces="room"), "faces another room of the house but does not say which"),
        (wall(faces="room", beside_room="r9"), "is next to room 'r9', which does not exist"),
        (wall(faces="room", beside_room="r1"), "is next to its own room"),
        (wall(beside_room="r2"), "names a room beside it ('r2') but faces outside"),
        (wall(faces="unheated"), "faces an unheated space but does not say of which kind"),
        (wall(within="w1"), "is cut from 'w1', which is not another element of this room"),
    ],
)
def test_an_element_that_does_not_hang_together_is_named(element: dict[str, Any], said: str) -> None:
    with pytest.raises(ValidationError) as refused:
        Survey.model_validate(survey(element))
    assert "room 'Hall': wall 'w1'" in str(refused.value) and said in str(refused.value)


def test_openings_fill_their_wall_but_no_more() -> None:
    """The wall has 4 x 2.5 = 10 m2; two windows of 2 x 2.5 m make 10 m2, three make 15 m2."""
    window = {"id": "win", "kind": "window", "within": "w1", "length_m": 2}
    Survey.model_validate(survey(wall(), wall(**window, count=2)))
    with pytest.raises(ValidationError, match=r"in wall 'w1' take 15\.00 m2 but it has only 10\.00 m2"):
        Survey.model_validate(survey(wall(), wall(**window, count=3)))


def test_names_and_ids_stand_once() -> None:
    twice = survey()
    twice["rooms"][1] |= {"id": "r1", "name": "HALL"}
    with pytest.raises(ValidationError, match="room id 'r1' stands 2 times") as refused:
        Survey.model_validate(twice)
    assert "room name 'hall' stands 2 times" in str(refused.value)


def test_a_room_alone_is_checked_against_what_the_house_has() -> None:
    room = Room.model_validate(survey(wall(faces="room", beside_room="r2"))["rooms"][0])
    assert room_faults(room, constructions={"brick"}, rooms={"r1", "r2"}) == ()
    (fault,) = room_faults(room, constructions={"brick"}, rooms={"r1"})
    assert "next to room 'r2', which does not exist" in fault


@pytest.mark.parametrize(
    "path",
    [
        {},
        {"thickness_mm": 100},
        {"thickness_mm": 100, "conductivity_w_per_mk": 0.5, "resistance_m2k_per_w": 0.2},
    ],
)
def test_a_material_is_said_in_one_way(path: dict[str, float]) -> None:
    with pytest.raises(ValidationError, match="either a thickness and a conductivity, or a resistance"):
        LayerPath.model_validate(path)


def test_the_shares_of_a_layer_fill_it() -> None:
    studs = [{"share_ratio": 0.15, "resistance_m2k_per_w": 0.8}, {"share_ratio": 0.8, "resistance_m2k_per_w": 3.5}]
    with pytest.raises(ValidationError, match=r"add up to 0\.95, they must add up to 1"):
        Layer.model_validate({"name": "studs", "paths": studs})


def test_sizes_by_hand() -> None:
    """Three windows of 1.2 x 1.5 m are 5.4 m2; 4 x 3 m under a slope of 2.1 m on average hold 25.2 m3."""
    assert Element.model_validate(wall(length_m=1.2, height_m=1.5, count=3)).gross_area_m2 == pytest.approx(5.4)
    room = Room.model_validate(survey()["rooms"][0] | {"mean_height_m": 2.1})
    assert (room.floor_area_m2, room.volume_m3) == (12, pytest.approx(25.2))


def test_how_a_value_is_known() -> None:
    emitter = Emitter.model_validate({"id": "e", "kind": "panel", "height_mm": 600, "known": {"height_mm": "told"}})
    assert [emitter.how_known(field) for field in ("height_mm", "kind", "exponent")] == ["told", "measured", "assumed"]
    with pytest.raises(ValidationError, match="known names 'hight_mm', and there is no such field here"):
        Emitter.model_validate({"id": "e", "kind": "panel", "known": {"hight_mm": "told"}})


def test_what_nobody_saw_is_listed_and_what_is_not_asked_is_not() -> None:
    panel = {"id": "p", "kind": "panel", "output_50k_w": 900, "exponent": 1.3, "known": {"exponent": "assumed"}}
    with_emitter = survey()
    with_emitter["rooms"][0]["emitters"] = [panel]
    with_emitter["supply"]["loads"] = [{"kind": "shower", "rated_kw": 9}]
    listed = assumed_values(Survey.model_validate(with_emitter))
    assert "Hall, p: exponent" in listed and "Hall, p: water_l" in listed
    assert "Hall, p: output_50k_w" not in listed, "it was given"
    assert not any("screed" in one for one in listed), "asked of floor heating only"
    assert not any("demand_before_a" in one for one in listed), "summed from the loads"
    assert "supply: demand_before_a" in assumed_values(Survey.model_validate(survey()))


def test_things_called_alike_are_told_apart() -> None:
    assert told_apart(["window", "door", "window", "window"]) == ("window", "door", "window (2)", "window (3)")


def test_a_supply_that_nobody_saw_is_unknown_not_nothing() -> None:
    supply = Supply.model_validate({"cable_route_m": 10})
    assert (supply.demand_before_a, supply.cutout_a, supply.spare_ways) == ("unknown", "unknown", "unknown")
