"""A number is a number: JSON's true and false are refused wherever a size, a count or a choice of number is wanted."""

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from pydantic import ValidationError

from models.catalogue import Vessel
from models.estimate import Choices
from models.survey import Survey

HOUSEHOLDS = [Path("seed_data/households") / f"{name}.json" for name in ("thornlea", "weir_cottages")]
Step = str | int


def numbers_in(node: Any, path: tuple[Step, ...] = ()) -> Iterator[tuple[Step, ...]]:
    inner = node.items() if isinstance(node, dict) else enumerate(node) if isinstance(node, list) else ()
    for step, value in inner:
        if isinstance(value, (int, float)) and not isinstance(value, bool):
            yield (*path, step)
        yield from numbers_in(value, (*path, step))


def refused_at(survey: dict[str, Any], path: tuple[Step, ...], value: bool) -> bool:
    """Whether putting the value there is refused, by an error that names the field."""
    holder: Any = survey
    for step in path[:-1]:
        holder = holder[step]
    there, holder[path[-1]] = holder[path[-1]], value
    try:
        Survey.model_validate(survey)
    except ValidationError as error:
        return any(path[-1] in one["loc"] and one["input"] is value for one in error.errors())
    finally:
        holder[path[-1]] = there
    return False


@pytest.mark.parametrize("file", HOUSEHOLDS, ids=lambda file: file.stem)
@pytest.mark.parametrize("value", [True, False])
def test_no_number_of_a_survey_may_be_true_or_false(file: Path, value: bool) -> None:
    survey = json.loads(file.read_text())["survey"]
    by_field = {path[-1]: path for path in numbers_in(survey) if isinstance(path[-1], str)}
    assert len(by_field) > 20
    assert [field for field, path in by_field.items() if not refused_at(survey, path, value)] == []


def test_an_unknown_number_may_not_be_true_either() -> None:
    survey = json.loads(HOUSEHOLDS[0].read_text())["survey"]
    survey["supply"]["spare_ways"] = True
    survey["positions"][0]["boundary_m"] = True
    with pytest.raises(ValidationError) as refused:
        Survey.model_validate(survey)
    fields = {part for one in refused.value.errors() for part in one["loc"]}
    assert {"spare_ways", "boundary_m"} <= fields


@pytest.mark.parametrize("field", ["flow_temp_c", "reheat_w_per_m2", "discount_ratio"])
def test_no_number_of_the_choices_may_be_true(field: str) -> None:
    with pytest.raises(ValidationError) as refused:
        Choices.model_validate({field: True})
    assert {one["loc"][0] for one in refused.value.errors()} == {field}


def test_whole_numbers_with_a_point_and_numbers_in_text_are_taken_as_before() -> None:
    assert Choices.model_validate({"flow_temp_c": "45.5"}).flow_temp_c == 45.5
    assert Vessel.model_validate_json('{"sku": "V1", "volume_l": 18, "for_water": "heating"}').volume_l == 18.0
    with pytest.raises(ValidationError):
        Vessel.model_validate_json('{"sku": "V1", "volume_l": true, "for_water": "heating"}')


def test_what_is_true_or_false_stays_so() -> None:
    survey = json.loads(HOUSEHOLDS[0].read_text())["survey"]
    survey["rooms"][0]["has_sensor"] = True
    assert Survey.model_validate(survey).rooms[0].has_sensor is True
