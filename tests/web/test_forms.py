"""Forms made from the survey's models: nothing is lost on the way through a page, half-typed or whole."""

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from pydantic import BaseModel

import seed_data
from models.estimate import Choices
from models.survey import Room, Survey
from web.forms.faults import fault_lines, faults_of
from web.forms.fields import (
    Group,
    field_kinds,
    form_of,
    number_text,
    number_value,
    part_from_form,
    well_typed,
    with_row_added,
    with_row_removed,
)
from web.forms.sections import POSITION, ROOM, SECTIONS, Section, survey_choices
from web.forms.words import CHOICES, CHOICES_HERE, HINTS, LABELS, choice_words

HOUSEHOLDS = sorted((Path(seed_data.__file__).parent / "households").glob("*.json"))


def posted(group: Group) -> dict[str, str]:
    """What a browser posts for a form that nobody touched."""
    fields: dict[str, str] = {}
    for one in [*group.inputs, *group.more, *([group.known] if group.known else [])]:
        if one.kind == "yes_no":
            fields[f"{one.name}.shown"] = "1"
            if one.value:
                fields[one.name] = "yes"
        else:
            fields[one.name] = one.value
    for inner in group.groups:
        fields[f"{inner.name}.shown"] = "1"
        if inner.optional and inner.present:
            fields[f"{inner.name}.there"] = "yes"
        if inner.present or not inner.optional:
            fields |= posted(inner)
    for rows in group.lists:
        fields[f"{rows.name}.rows"] = str(len(rows.rows))
        for row in rows.rows:
            fields |= {f"{row.name}.id": row.key} if row.key else {}
            fields |= {f"{row.name}.by": row.by} if row.by else {}
            fields |= posted(row)
    return fields


def parts() -> Iterator[Any]:
    """Every part of every household that ships, with the section that shows it."""
    for path in HOUSEHOLDS:
        survey = json.loads(path.read_text("utf-8"))["survey"]
        for section in SECTIONS:
            if survey.get(section.name) is not None:
                yield pytest.param(section, survey[section.name], survey, id=f"{path.stem}-{section.name}")
        for section, key in ((ROOM, "rooms"), (POSITION, "positions")):
            for body in survey.get(key, ()):
                yield pytest.param(section, body, survey, id=f"{path.stem}-{body['id']}")


@pytest.mark.parametrize(("section", "body", "survey"), list(parts()))
def test_an_untouched_form_changes_nothing(section: Section, body: Any, survey: dict[str, Any]) -> None:
    record = section.record(body)
    form = posted(form_of(section.model, record, choices=survey_choices(survey, record)))
    again = section.model.model_validate(part_from_form(section.model, form, before=record))
    assert again.model_dump(exclude_unset=True) == section.model.model_validate(record).model_dump(exclude_unset=True)


def models_of(model: type[BaseModel]) -> Iterator[type[BaseModel]]:
    """A model and all models within it."""
    yield model
    for kind in field_kinds(model):
        for part in kind.parts:
            yield from models_of(part)


def test_every_field_has_its_words() -> None:
    found = {one for model in (Survey, Choices) for one in models_of(model)} - {Survey}
    names = {f"{model.__name__}.{kind.name}" for model in found for kind in field_kinds(model)}
    assert names - set(LABELS) == set()
    values = {
        f"{model.__name__}.{kind.name}.{value}"
        for model in found
        for kind in field_kinds(model)
        for value in kind.values
    }
    assert {name for name in values if name not in CHOICES_HERE and name.rpartition(".")[2] not in CHOICES} == set()


@pytest.mark.parametrize(
    ("typed", "kept"),
    [("2.4", 2.4), (" 2.40 ", 2.4), ("1,200", 1200), ("2,4", "2,4"), ("3.x", "3.x"), ("-1", -1), ("nan", "nan")],
)
def test_what_was_typed_as_a_number(typed: str, kept: Any) -> None:
    assert number_value(typed, per_cent=False, whole=False) == kept


def test_a_ratio_is_per_cent_on_the_page_only() -> None:
    assert number_text(0.85, per_cent=True) == "85"
    assert number_value("85", per_cent=True, whole=False) == 0.85


HALF = {
    "id": "r", "name": "Hall", "use": "hall", "length_m": "3,x", "height_m": 240,
    "elements": [{"id": "e1", "kind": "wall", "faces": "outside", "length_m": 4.2}, {"id": "e2"}],
}  # fmt: skip


def test_a_half_typed_room_says_what_is_missing_in_the_surveyors_words() -> None:
    faults = faults_of(Room, HALF)
    assert faults["length_m"] == "'3,x' is not a number"
    assert faults["width_m"] == "missing"
    assert faults_of(Room, {**HALF, "length_m": "4,6"})["length_m"] == "'4,6' is not a number: write 4.6"
    assert "write 2.4" in faults["height_m"]
    assert faults["elements.1.kind"] == "missing"
    assert "Width of the room: missing" in fault_lines(Room, HALF)
    assert "wall space s1, Length free: missing" in fault_lines(Room, {**HALF, "wall_spaces": [{"id": "s1"}]})
    assert "surface e2, What it is: missing" in fault_lines(Room, HALF)


def test_half_typed_figures_stand_in_the_form_and_are_left_out_of_what_is_kept() -> None:
    group = form_of(Room, HALF)
    assert next(one.value for one in group.inputs if one.name == "length_m") == "3,x"
    kept = well_typed(Room, HALF)
    assert "length_m" not in kept and kept["height_m"] == 240 and len(kept["elements"]) == 2


def test_rows_are_added_with_a_fresh_id_and_taken_out() -> None:
    more, name = with_row_added(Room, HALF, "elements")
    assert name == "elements.2" and more["elements"][2] == {"id": "e3"}
    fewer = with_row_removed(Room, more, "elements.0")
    assert [one["id"] for one in fewer["elements"]] == ["e2", "e3"]
    assert HALF["elements"][0]["id"] == "e1" and len(HALF["elements"]) == 2


@pytest.mark.parametrize("where", ["nonsense", "elements.9", "elements.x.y", "length_m", "", "."])
def test_a_row_that_is_not_there_changes_nothing(where: str) -> None:
    assert with_row_removed(Room, HALF, where)["elements"] == HALF["elements"]
    assert with_row_added(Room, HALF, f"elements.{where}")[0]["elements"] == HALF["elements"]


def test_a_row_keeps_its_own_values_when_the_one_before_was_taken_out_elsewhere() -> None:
    form = {"elements.rows": "1", "elements.0.id": "e2", "elements.0.kind": "door"}
    part = part_from_form(Room, form, before=HALF)
    assert part["elements"] == [{"id": "e2", "kind": "door"}]


def test_a_default_that_nobody_changed_stays_a_default() -> None:
    form = posted(form_of(Room, {"id": "r", "elements": [], "wall_spaces": [{"id": "s1", "length_mm": 900}]}))
    part = part_from_form(Room, form, before={"id": "r", "wall_spaces": [{"id": "s1", "length_mm": 900}]})
    assert "heat_recovery_ratio" not in part and "depth_mm" not in part["wall_spaces"][0]


def test_a_choice_that_two_values_share_reads_as_its_own_value() -> None:
    assert choice_words("House", "age_band", "I") == "I · 1996 to 2002"
    assert choice_words("House", "air_tightness", "I").startswith("I · very tight")


def test_fields_of_floor_heating_stand_aside_for_other_kinds_unless_they_hold_something() -> None:
    row = {"id": "r1", "kind": "panel", "screed_mm": 65}
    inputs = {one.name: one for one in form_of(Room, {"emitters": [row]}).lists[1].rows[0].inputs}
    assert inputs["emitters.0.pipe_spacing_mm"].only == inputs["emitters.0.mixing_valve"].only == "floor_heating"
    assert inputs["emitters.0.screed_mm"].only == "" and inputs["emitters.0.height_mm"].only == ""


def test_the_distance_of_a_window_is_measured_to_the_assessment_position() -> None:
    """MCS 020, from memory: 1 m in front of the centre of the neighbour's window."""
    assert "1 m in front of the centre" in HINTS["NeighbourWindow.distance_m"]
