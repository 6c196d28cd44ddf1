"""A room that is a box gets its walls, floor and ceiling at one go; what can only be one thing is filled in."""

from typing import Any

from models.survey import Room
from web.forms.box import BOX, filled_in, uncut, with_box
from web.forms.faults import faults_of
from web.forms.fields import form_of, part_from_form, with_row_added
from web.forms.sections import survey_choices, with_tables
from web.routes.jobs import room_lines

ROOM = {"id": "k", "name": "Kitchen", "use": "kitchen", "length_m": 3.0, "width_m": 4.5, "height_m": 2.4}
SIDES = {"box.long_1": "wall:outside", "box.short_2": "wall:neighbour", "box.floor": "floor:ground"}


def test_each_side_that_is_named_gets_the_size_of_the_room() -> None:
    rows = with_box(ROOM, SIDES | {"box.ceiling": "", "box.short_1": "nonsense"})["elements"]
    # The longer of 3.0 and 4.5 m is the long wall; the floor is 3.0 x 4.5 = 13.5 m2, by hand.
    assert rows == [
        {"id": "e1", "kind": "wall", "faces": "outside", "length_m": 4.5, "height_m": 2.4},
        {"id": "e2", "kind": "wall", "faces": "neighbour", "length_m": 3.0, "height_m": 2.4},
        {"id": "e3", "kind": "floor", "faces": "ground", "area_m2": 13.5},
    ]


def test_a_side_of_a_room_without_sizes_is_put_in_without_them() -> None:
    assert with_box({"id": "k", "length_m": "3,x"}, {"box.long_1": "wall:outside"})["elements"] == [
        {"id": "e1", "kind": "wall", "faces": "outside"}
    ]


def test_every_side_offered_is_one_that_a_survey_takes() -> None:
    for name, _, options in BOX:
        for value, _ in options:
            if value:
                room = with_box(ROOM, {name: value})
                for row in room["elements"]:
                    row |= {"construction": "c1", "space": "crawl_space"}
                Room.model_validate(room)


GONE_ID = "01a21409-60d7-7ff4-bf9e-787773453fb3"
CONSTRUCTIONS = [
    {"id": "c1", "by": "table", "table": "wall_by_age", "row": "cavity", "name": "Wall"},
    {"id": "c2", "by": "table", "table": "element", "row": "window: triple glazed", "name": "Window"},
    {"id": "c3", "by": "suspended_floor", "name": "Floor"},
    {"id": "c4", "by": "u_value", "name": "New wall"},
]


def _survey(*others: dict[str, Any]) -> dict[str, Any]:
    return {"rooms": [ROOM, *others], "constructions": CONSTRUCTIONS}


def test_a_surface_is_built_as_the_only_construction_that_fits_it() -> None:
    room = filled_in(with_box(ROOM, SIDES), _survey())
    assert [row.get("construction") for row in room["elements"]] == ["c1", None, "c3"]


def test_a_surface_is_built_as_its_like_in_other_rooms_unless_they_differ() -> None:
    other = {"id": "h", "elements": [{"id": "e1", "kind": "wall", "faces": "outside", "construction": "c4"}]}
    assert filled_in(with_box(ROOM, SIDES), _survey(other))["elements"][0]["construction"] == "c4"
    third = {"id": "b", "elements": [{"id": "e1", "kind": "wall", "faces": "outside", "construction": "c1"}]}
    assert "construction" not in filled_in(with_box(ROOM, SIDES), _survey(other, third))["elements"][0]


def test_an_opening_is_cut_from_the_only_wall_it_can_be_in_and_said_to_be_uncut_where_there_are_two() -> None:
    one = {**ROOM, "elements": [{"id": "e1", "kind": "wall", "faces": "outside"}]}
    window = {"id": "e9", "kind": "window", "faces": "outside"}
    room = filled_in({**one, "elements": [*one["elements"], window]}, _survey())
    assert room["elements"][1]["within"] == "e1" and list(uncut(room)) == []
    two = filled_in({**one, "elements": [*one["elements"], {**one["elements"][0], "id": "e2"}, window]}, _survey())
    assert "within" not in two["elements"][2] and list(uncut(two)) == ["e9"]


def test_what_the_surveyor_chose_stays() -> None:
    chosen = {"id": "e1", "kind": "wall", "faces": "outside", "construction": "c4"}
    assert filled_in({**ROOM, "elements": [chosen]}, _survey())["elements"] == [chosen]


def test_a_window_is_added_in_one_go() -> None:
    room, name = with_row_added(Room, ROOM, "elements:window")
    assert name == "elements.0" and room["elements"] == [{"id": "e1", "kind": "window", "faces": "outside"}]
    assert with_row_added(Room, ROOM, "elements:nonsense")[0]["elements"] == [{"id": "e1"}]
    assert with_row_added(Room, ROOM, "emitters:panel")[0]["emitters"] == [{"id": "r1", "kind": "panel"}]


def test_a_construction_that_is_looked_up_needs_no_table_and_no_name() -> None:
    rows = [{"id": "c1", "by": "table", "row": "sandstone_or_limestone"}, {"id": "c2", "by": "table", "name": "Mine"}]
    stone, mine = with_tables({"constructions": rows})["constructions"]
    assert stone["table"] == "stone_by_thickness" and stone["name"] == "Stone wall: sandstone or limestone"
    assert mine["name"] == "Mine" and "row" not in mine


def test_a_room_that_was_taken_out_is_not_named_by_its_mark() -> None:
    wall = {"id": "e1", "kind": "wall", "faces": "room", "construction": "c1", "area_m2": 5, "beside_room": GONE_ID}
    room = {**ROOM, "elements": [wall]}
    survey = {"rooms": [room], "constructions": CONSTRUCTIONS}
    assert room_lines(room, survey) == ["wall 'e1' is next to a room that is no longer in the survey"]
    (row,) = form_of(Room, room, choices=survey_choices(survey, room)).lists[0].rows
    beside = next(one for one in row.inputs if one.name.endswith("beside_room"))
    assert (GONE_ID, "what is no longer in the survey") in beside.options


def test_what_is_seldom_said_is_folded_until_it_is_said_or_wrong() -> None:
    plain = form_of(Room, ROOM)
    assert "air_changes_per_h" in [one.name for one in plain.more]
    said = form_of(Room, {**ROOM, "air_changes_per_h": 99}, faults=faults_of(Room, {**ROOM, "air_changes_per_h": 99}))
    assert "air_changes_per_h" in [one.name for one in said.inputs]
    assert "notes" in [one.name for one in form_of(Room, {**ROOM, "notes": "damp"}).inputs]


def test_what_nobody_called_otherwise_reads_as_measured_and_is_not_marked() -> None:
    known = form_of(Room, ROOM).known
    assert known is not None and known.value == "measured"
    assert "known" not in part_from_form(Room, {"length_m": "3", "known": "measured"}, before=ROOM)
    mixed = {**ROOM, "known": {"length_m": "told"}}
    both = form_of(Room, mixed).known
    assert both is not None and both.value == "" and both.options[0] == ("", "each as marked before")
    assert part_from_form(Room, {"known": ""}, before=mixed)["known"] == {"length_m": "told"}
    assert part_from_form(Room, {"known": "measured"}, before=mixed)["known"] == {"length_m": "measured"}
