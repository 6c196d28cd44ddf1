"""Base, pit, discharge, zone and clearances open: the numbers of each reason give its figure by hand."""

import copy
import math
from datetime import date
from typing import Any

import pytest

from models.document import estimate_document
from models.estimate import Choices, estimate
from models.survey import Survey
from web.whys import Reasons


@pytest.fixture(scope="module")
def document(households: dict[str, Any], rules: Any) -> dict[str, Any]:
    survey = copy.deepcopy(households["alder_row"]["survey"])
    survey["positions"][0] |= {"slope_ratio": 0.08, "frost_depth_mm": 500, "condensate_to": "soakaway"}
    choices = Choices(position_id=survey["positions"][0]["id"], base_type="standard_slab")
    answer = estimate(Survey.model_validate(survey), choices, rules, today=date(2026, 11, 25))
    return estimate_document(answer, why=True)


def numbers(document: dict[str, Any], path: str) -> dict[str, Any]:
    return {number["name"]: number["value"] for number in document["why"][path]["numbers"]}


def test_the_thickness_of_the_base_opens(document: dict[str, Any]) -> None:
    entry, base = document["why"]["design.base.thickness_m"], document["design"]["base"]
    ground = next(one["value"] for one in entry["inputs"] if one["what"] == "ground")
    assert numbers(document, "design.base.thickness_m")[f"{ground}: thickness_mm"] / 1000 == base["thickness_m"]


def test_what_is_dug_opens_with_its_slope(document: dict[str, Any]) -> None:
    n, base = numbers(document, "design.base.dig_m3"), document["design"]["base"]
    below_m = n["thickness_m"] - n["above_ground_mm"] / 1000
    cut_m = 0.08 * max(base["length_m"], base["width_m"]) / 2
    assert base["dig_m3"] == pytest.approx(n["area_m2"] * (n["sub_base_m"] + below_m + cut_m))


def test_the_pit_opens(document: dict[str, Any]) -> None:
    pit, n = document["design"]["condensate"], numbers(document, "design.condensate.width_m")
    side_m = math.sqrt(n["water_l_per_day"] * n["held_days"] / 1000 / (n["void_ratio"] * n["depth_m"]))
    assert n["side_needed_m"] == pytest.approx(side_m) and side_m <= pit["width_m"]
    # frost of 500 mm and 150 mm below it
    assert numbers(document, "design.condensate.depth_m")["depth_m"] == pit["depth_m"] == pytest.approx(0.65)
    top = numbers(document, "design.condensate.gravel_10mm_m3")
    assert top["top_bags"] * top["bag_kg"] / top["gravel_kg_per_m3"] == pytest.approx(pit["gravel_10mm_m3"])
    rest = numbers(document, "design.condensate.gravel_20mm_m3")
    pipe_m3 = math.pi / 4 * (rest["standing_pipe_od_mm"] / 1000) ** 2 * rest["standing_pipe_m"]
    assert rest["volume_m3"] - pipe_m3 - rest["gravel_10mm_m3"] == pytest.approx(pit["gravel_20mm_m3"])


def test_the_resistance_of_the_discharge_opens(document: dict[str, Any]) -> None:
    n = numbers(document, "design.discharge.resistance_m")
    resistance_m = document["design"]["discharge"]["resistance_m"]
    assert n["run_m"] + n["bends"] * n["bend_m"] == pytest.approx(resistance_m) and resistance_m <= n["limit_m"]
    # Table 3.1 of Approved Document G3: a bend of 22 mm counts as 0.8 m, of 28 mm as 1.0 m, of 35 mm as 1.4 m
    assert n["bend_m"] == pytest.approx({22: 0.8, 28: 1.0, 35: 1.4}[n["d2_od_mm"]])


def test_length_and_losses_of_the_primary_open(document: dict[str, Any]) -> None:
    primary, n = document["design"]["primary"], numbers(document, "design.primary.equivalent_length_m")
    tube_m = 2 * (n["route_outside_m"] + n["route_inside_m"]) + n["tails_m"] + n["elbows"] * n["elbow_m"]
    assert tube_m < primary["equivalent_length_m"] - 2 * n["route_buried_m"] < tube_m + n["valves"] * 2
    fixed = numbers(document, "design.primary.fixed_loss_pa")
    assert fixed["valve_set_pa"] <= fixed["fixed_loss_pa"] == primary["fixed_loss_pa"]


def test_every_clearance_and_everything_near_the_zone_opens(document: dict[str, Any]) -> None:
    reasons = Reasons(document)
    for position in document["design"]["positions"]:
        at = f"design.positions.{position['position_id']}"
        for side, needed_mm, there_mm, _ in position["clearances"]:
            assert numbers(document, f"{at}.clearances.{side}") == {"needed_mm": needed_mm, "there_mm": there_mm}
        for near in position["zone"]:
            assert numbers(document, f"{at}.zone.{near['name']}")["reach_m"] == near["reach_m"]
            assert position["name"].casefold() in reasons.title(f"{at}.zone.{near['name']}").casefold()
