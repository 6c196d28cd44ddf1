"""Hard cases of water side and place that a heating engineer tried by hand, each through a whole estimate.

Strengths and remedies are the judgement of the trade (common practice, no source); arithmetic stands beside the check.
"""

import copy
from collections.abc import Callable
from datetime import date
from typing import Any

import pytest

from models.document import estimate_document
from models.estimate import Choices, Estimate, estimate
from models.findings import Finding
from models.survey import Survey

TODAY = date(2026, 11, 25)


@pytest.fixture
def work(rules: Any, households: dict[str, Any]) -> Any:
    def run(name: str, edit: Callable[[dict[str, Any]], Any] = lambda survey: None, **choices: Any) -> Estimate:
        survey = copy.deepcopy(households[name]["survey"])
        edit(survey)
        return estimate(Survey.model_validate(survey), Choices(**choices), rules, today=TODAY)

    return run


def said(result: Estimate, code: str) -> Finding:
    found = [finding for finding in result.findings if finding.code == code]
    assert found, f"{code} is not among {sorted({finding.code for finding in result.findings})}"
    return found[0]


def codes(result: Estimate) -> set[str]:
    return {finding.code for finding in result.findings}


def room(survey: dict[str, Any], room_id: str) -> dict[str, Any]:
    found: dict[str, Any] = next(room for room in survey["rooms"] if room["id"] == room_id)
    return found


def test_a_radiator_that_the_customer_brings_has_a_reason_too(work: Any) -> None:
    def own(survey: dict[str, Any]) -> None:
        room(survey, "G2")["emitters"][0] |= {"output_50k_w": 5200, "exponent": 1.29, "customer_supplies": True}

    why = estimate_document(work("alder_row", own, flow_temp_c=50), why=True)["why"]
    step = next(entry for path, entry in why.items() if path.startswith("design.rooms.G2.emitter_steps."))
    values = {number["name"]: number["value"] for number in step["numbers"]}
    # 50/45 °C in 21 °C is 26.5 K
    assert values["output_w"] == pytest.approx(5200 * (26.5 / 50) ** 1.29, rel=1e-6)
    assert step["inputs"]


def test_a_hybrid_on_the_gas_grid_gets_no_grant_that_nobody_confirmed(work: Any) -> None:
    result = work("thornlea", lambda survey: survey["existing"].update(fuel="hybrid"))
    assert said(result, "grant_not_known").strength == "ask"
    assert result.price.grant_pence == 0
    assert work("thornlea").price.grant_pence > 0


def test_a_discharge_that_cannot_fall_is_said_in_words(work: Any) -> None:
    result = work("alder_row", lambda survey: survey["cylinder_place"].update(discharge_falls="no"))
    message = said(result, "cylinder_does_not_fit").message
    assert "relief discharge falls all the way: no" in message and "1 needed" not in message


def test_softened_water_grows_no_scale(work: Any) -> None:
    hard = {"hardness_mg_per_l": 340}
    assert "hard_water" in codes(work("alder_row", lambda survey: survey["hot_water"].update(hard, softened="no")))
    soft = work("alder_row", lambda survey: survey["hot_water"].update(hard, softened="yes"))
    assert "hard_water" not in codes(soft) and "softened_water" in codes(soft)


@pytest.mark.parametrize(("what", "height_m", "inside"), [
    # the case of the size 8 unit is 1.05 m high and the zone ends there; light well and drain count at any depth
    ("window", 0.9, True), ("window", 1.1, False), ("light_well", -1.5, True), ("drain", -0.5, True),
    ("basement_opening", -2.0, True), ("socket", 0.4, True), ("socket", 1.2, False),
])  # fmt: skip
def test_what_lies_in_the_zone_says_how_far_the_unit_must_move(
    work: Any, what: str, height_m: float, inside: bool
) -> None:
    def near(survey: dict[str, Any]) -> None:
        it = {"what": what, "name": "the thing", "distance_m": 0.63, "height_m": height_m}
        survey["positions"] = [survey["positions"][0] | {"openings": [it]}]

    result = work("alder_row", near, outdoor_unit_sku="UNT-080")
    code = "ignition_in_zone" if what == "socket" else "opening_in_zone"
    assert (code in codes(result)) is inside
    if inside:
        # the zone reaches 1.00 m: 1.00 - 0.63
        assert "0.37 m further away" in said(result, code).remedy
        assert result.price.customer_pays_pence is None
