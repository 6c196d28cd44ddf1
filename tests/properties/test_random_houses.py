"""Any survey that the schema accepts gets an answer: no exception, no NaN, and the sums of design.md section 3.

The surveys are drawn from the JSON schema of `Survey` itself, so that a new field is drawn as soon as it exists.
"""

import json
import math
import random
from datetime import date
from typing import Any

import pytest
from hypothesis import HealthCheck, Phase, given, settings, strategies as st
from pydantic import ValidationError

import models.survey
from models.document import estimate_document
from models.estimate import Choices, estimate
from models.survey import Survey

TODAY = date(2026, 11, 25)
SCHEMA = Survey.model_json_schema()
STATIONS = ("Belfast", "Birmingham", "Cardiff", "Edinburgh", "Glasgow", "London", "Manchester", "Plymouth")
ROWS = {
    "wall_by_age": ("solid_brick", "cavity", "filled_cavity", "timber_frame", "system_built", "cob"),
    "stone_by_thickness": ("granite_or_whinstone", "sandstone_or_limestone"),
    "element": ("roof: pitched; 100 mm at joists", "window: single glazed", "party wall: filled cavity"),
}


def draw(node: dict[str, Any], chance: random.Random, depth: int = 0) -> Any:
    """A value that a schema node allows."""
    if "$ref" in node:
        return draw(SCHEMA["$defs"][node["$ref"].split("/")[-1]], chance, depth)
    if "const" in node:
        return node["const"]
    if "enum" in node:
        return chance.choice(node["enum"])
    if "anyOf" in node or "oneOf" in node:
        return draw(chance.choice(node.get("anyOf") or node["oneOf"]), chance, depth)
    kind = node.get("type")
    if kind == "object":
        required = set(node.get("required", ()))
        return {
            name: draw(inner, chance, depth + 1)
            for name, inner in node.get("properties", {}).items()
            if name != "known" and (name in required or chance.random() < 0.7)
        }
    if kind == "array":
        return [draw(node["items"], chance, depth + 1) for _ in range(chance.randint(node.get("minItems", 0), 3))]
    if kind in ("number", "integer"):
        low = node.get("minimum", node.get("exclusiveMinimum", 0))
        high = node.get("maximum", node.get("exclusiveMaximum", low + 100))
        if kind == "integer":
            return chance.randint(int(low) + ("exclusiveMinimum" in node), int(high))
        value = low + (high - low) * chance.random() ** 2
        return value if value > low or "minimum" in node else (low + high) / 2
    if kind == "boolean":
        return chance.random() < 0.5
    if kind == "null":
        return None
    return "".join(chance.choice("abcdefg ä🙂ع") for _ in range(chance.randint(3, 9))).strip() or "name"


def house(chance: random.Random) -> dict[str, Any]:
    """A drawn survey whose parts refer to each other as they should."""
    survey = draw(SCHEMA, chance)
    survey["house"]["weather_station"] = chance.choice(STATIONS)
    survey["constructions"] = [
        draw({"$ref": f"#/$defs/{kind}"}, chance)
        for kind in chance.choices([d["$ref"].split("/")[-1] for d in _construction_kinds()], k=3)
    ]
    for number, construction in enumerate(survey["constructions"]):
        construction["id"] = f"c{number}"
        if construction["by"] == "table":
            construction["row"] = chance.choice(ROWS[construction["table"]])
            construction["thickness_mm"] = chance.randint(150, 900)
        for layer in construction.get("layers", ()):
            path = {"thickness_mm": chance.uniform(5, 300), "conductivity_w_per_mk": chance.uniform(0.02, 2)}
            layer["paths"] = [path]
    survey["rooms"] = survey["rooms"] or [draw({"$ref": "#/$defs/Room"}, chance)]
    ids = [f"r{number}" for number in range(len(survey["rooms"]))]
    for number, room in enumerate(survey["rooms"]):
        room |= {"id": ids[number], "name": f"{room['name']} {number}"}
        for place, element in enumerate(room.get("elements", ())):
            element |= {"id": f"e{place}", "construction": f"c{chance.randint(0, 2)}", "within": None}
            element |= {"length_m": chance.uniform(0.5, 9), "height_m": chance.uniform(0.5, 5)}
            if element["faces"] == "room" and len(ids) > 1:
                element["beside_room"] = chance.choice([other for other in ids if other != room["id"]])
            else:
                element["beside_room"] = None
                element["faces"] = "outside" if element["faces"] == "room" else element["faces"]
            if element["faces"] == "unheated":
                element["space"] = "roof_space_insulated"
        for place, emitter in enumerate(room.get("emitters", ())):
            emitter["id"] = f"m{place}"
        for place, space in enumerate(room.get("wall_spaces", ())):
            space |= {"id": f"w{place}", "emitter": None}
    survey["tariffs"] = {"electricity_pence_per_kwh": "26.1", "fuel_pence_per_kwh": chance.choice(["unknown", "7.4"])}
    for number, position in enumerate(survey.get("positions", ())):
        position["id"] = f"p{number}"
    if survey.get("cylinder_place"):
        survey["cylinder_place"]["room"] = None
    return survey


def _construction_kinds() -> list[dict[str, Any]]:
    items = SCHEMA["properties"]["constructions"]["items"]
    return items.get("oneOf") or items["anyOf"]


def check(chance: random.Random, rules: Any) -> bool:
    """Whether the drawn survey was accepted by the schema; if so, its estimate is sound."""
    try:
        survey = Survey.model_validate(house(chance))
    except ValidationError:
        return False
    choices = Choices(
        flow_temp_c=chance.choice([None, 35, 45, 55]),
        frost_protection=chance.choice([None, "valves", "glycol"]),
        emitters=chance.choice(["keep", "least_cost"]),
        works_start_on=chance.choice([None, date(2027, 6, 1)]),
    )
    result = estimate(survey, choices, rules, today=TODAY)
    text = json.dumps(estimate_document(result), allow_nan=False)
    assert text
    loss = result.design.heat_loss
    assert math.fsum(room.to_rooms_w for room in loss.rooms) == 0.0
    assert sum(room.heat_loss_w - room.to_rooms_w for room in loss.rooms) == pytest.approx(
        loss.transmission_w + loss.rooms_ventilation_w + loss.reheat_w, rel=1e-9, abs=1e-6
    )
    stopped = any(finding.strength == "stop" for finding in result.findings)
    if stopped:
        assert result.price is None or result.price.total_pence is None
    elif result.price is not None:
        assert result.price.total_pence == result.price.net_pence + result.price.vat_pence
    return True


@settings(
    max_examples=150,
    deadline=None,
    suppress_health_check=list(HealthCheck),
    derandomize=True,
    database=None,
    phases=(Phase.generate,),
)
@given(chance=st.randoms(use_true_random=False))
def test_any_accepted_survey_gets_a_sound_answer(chance: random.Random, rules: Any) -> None:
    # Draws like the two below, but leans to the ends of every range; without shrinking, which takes minutes here.
    check(chance, rules)


@pytest.mark.long
@settings(
    max_examples=10_000,
    deadline=None,
    suppress_health_check=list(HealthCheck),
    database=None,
    phases=(Phase.generate,),
)
@given(chance=st.randoms(use_true_random=False))
def test_ten_thousand_surveys_from_the_ends_of_every_range(chance: random.Random, rules: Any) -> None:
    check(chance, rules)


@pytest.mark.parametrize(
    ("part", "field", "value"),
    [
        # A suspended floor over 6e-237 m2: its U-value divided by zero.
        ("House", "slab_area_m2", 6.3e-237),
        ("House", "exposed_perimeter_m", 5e-324),
        ("BasementFloor", "depth_m", 1e-200),
        ("LayerPath", "thickness_mm", 1e-300),
        ("Room", "length_m", 1e-9),
        ("NeighbourWindow", "distance_m", 1e-300),
    ],
)
def test_a_size_that_nobody_can_measure_is_refused(part: str, field: str, value: float) -> None:
    with pytest.raises(ValidationError) as refused:
        getattr(models.survey, part).model_validate({field: value})
    assert any(fault["loc"] == (field,) and "greater" in fault["msg"] for fault in refused.value.errors())


def test_the_smallest_slab_with_a_void_that_is_still_and_tight(rules: Any, households: dict[str, Any]) -> None:
    """The house on which the drawn surveys broke: no air through the void, no height of it, hardly any floor."""
    survey = households["smallest"]["survey"]
    floor = {
        "by": "suspended_floor", "id": "void", "name": "floor", "insulation_m2k_per_w": 0, "floor_above_ground_m": 0,
        "vent_area_m2_per_m": 0, "wind_speed_m_per_s": 0, "wind_shielding_ratio": 0,
    }  # fmt: skip
    survey = survey | {
        "house": survey["house"] | {"slab_area_m2": 0.0001, "exposed_perimeter_m": 500},
        "constructions": [*survey["constructions"], floor],
    }
    result = estimate(Survey.model_validate(survey), Choices(), rules, today=TODAY)
    assert math.isfinite(result.design.u_values["void"].u_w_per_m2k)
    assert json.dumps(estimate_document(result), allow_nan=False)


def test_most_drawn_surveys_are_accepted(rules: Any) -> None:
    accepted = [check(random.Random(seed), rules) for seed in range(350)]
    assert sum(accepted) > 200, f"only {sum(accepted)} of {len(accepted)} were accepted"


@pytest.mark.long
def test_a_hundred_thousand_random_houses(rules: Any) -> None:
    accepted = sum(check(random.Random(seed), rules) for seed in range(10_000, 110_000))
    assert accepted > 60_000
