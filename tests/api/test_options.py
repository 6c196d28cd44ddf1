"""POST /options and the sensitivity of POST /estimates: over HTTP, with and without the right to see cost."""

import json
from collections.abc import Callable
from typing import Any

import pytest
from starlette.testclient import TestClient

from models.document import COST_KEYS
from models.records import Role

URL = "/api/v1/options"
COST_BLIND = (Role.SALES,)


@pytest.fixture
def request_body(household: dict[str, Any]) -> dict[str, Any]:
    return {"survey": household["survey"], "choices": [{}, {"flow_temp_c": 52, "emitters": "keep"}]}


def _keys(node: Any) -> set[str]:
    if isinstance(node, dict):
        return set(node) | {key for value in node.values() for key in _keys(value)}
    return {key for value in node for key in _keys(value)} if isinstance(node, list) else set()


def test_options_are_the_estimates_of_their_choices(client: TestClient, request_body: dict[str, Any]) -> None:
    answer = client.post(URL, json=request_body)
    assert answer.status_code == 200, answer.text
    document = answer.json()
    assert len(document["options"]) == len(document["summary"]) == 2
    for option, choices in zip(document["options"], request_body["choices"], strict=True):
        alone = client.post("/api/v1/estimates", json={"survey": request_body["survey"], "choices": choices})
        assert option == alone.json()
    assert document["summary"][1]["flow_temp_c"] == 52
    assert document["options"][1]["design"]["flow_temp_c"] == 52


def test_the_curve_and_its_best(client: TestClient, request_body: dict[str, Any]) -> None:
    curve = client.post(URL, json=request_body).json()["curve"]
    assert [point["flow_temp_c"] for point in curve["points"]] == [float(temp_c) for temp_c in range(35, 56)]
    best = [point for point in curve["points"] if point["best"]]
    assert [point["flow_temp_c"] for point in best] == [curve["best_flow_temp_c"]]
    assert best[0]["whole_cost_pence"] == best[0]["purchase_pence"] + 15 * best[0]["running_pence_per_year"]
    assert curve["years"] == 15 and curve["sentences"]


def test_without_curve_and_without_choices(client: TestClient, request_body: dict[str, Any]) -> None:
    document = client.post(URL, json={"survey": request_body["survey"], "curve": False}).json()
    assert "curve" not in document and len(document["options"]) == 1


@pytest.mark.parametrize("role", COST_BLIND)
def test_cost_is_absent_without_the_right(
    client_of: Callable[[Role], TestClient], request_body: dict[str, Any], role: Role
) -> None:
    with client_of(Role.OWNER) as owner, client_of(role) as blind:
        seen = owner.post(URL, json=request_body).json()
        shown = blind.post(URL, json=request_body).json()
        why = blind.post("/api/v1/estimates?include=why", json={"survey": request_body["survey"]})
        seen_why = owner.post("/api/v1/estimates?include=why", json={"survey": request_body["survey"]}).json()
    assert {"purchase_pence", "whole_cost_pence", "emitter_pence", "unit_pence", "cost_pence"} <= _keys(seen)
    assert not _keys(shown) & COST_KEYS
    assert shown["curve"]["points"][0].keys() >= {"running_pence_per_year", "seasonal_ratio", "best", "days"}
    assert not {key for key in _keys(why.json()) if key.rpartition(".")[2] in COST_KEYS}
    sold = {line["unit_sell_gbp"] for line in (*seen_why["bill"]["lines"], *seen_why["price"]["parts"])}
    for line in seen_why["bill"]["lines"]:
        # Four places below £100 may be the size of a pack; tests/models/test_why.py looks at those.
        if line["cost_unit_gbp"] not in sold and float(line["cost_unit_gbp"]) >= 100:
            assert f'"{line["cost_unit_gbp"]}"' not in why.text


def test_sensitivity_is_answered_where_asked_for(client: TestClient, household: dict[str, Any]) -> None:
    plain = client.post("/api/v1/estimates", json=household).json()
    both = client.post("/api/v1/estimates?include=sensitivity&include=why", json=household).json()
    assert "sensitivity" not in plain and "why" not in plain
    assert len(both["sensitivity"]["movers"]) <= 3 and both["sensitivity"]["movers"][0]["sentence"]
    assert "design.heat_loss_w" in both["why"]


@pytest.mark.parametrize(
    ("body", "field"),
    [
        ({"choices": [{"cylinder_sku": "NO-SUCH"}]}, "cylinder_sku"),
        ({"choices": []}, "choices"),
        ({"choices": [{}] * 9}, "choices"),
        ({"choices": [{"flow_temp": 40}]}, "flow_temp"),
        ({"choices": [{}], "curves": True}, "curves"),
    ],
)
def test_what_is_refused_names_the_field(
    client: TestClient, request_body: dict[str, Any], body: dict[str, Any], field: str
) -> None:
    answer = client.post(URL, json={"survey": request_body["survey"], **body})
    assert answer.status_code == 422, answer.text
    assert answer.headers["content-type"] == "application/problem+json"
    assert field in {fault["field"] for fault in answer.json()["errors"]}, answer.text


def test_the_option_at_fault_is_named(client: TestClient, request_body: dict[str, Any]) -> None:
    body = request_body | {"choices": [{}, {"position_id": "nowhere"}]}
    fault = client.post(URL, json=body).json()["errors"][0]
    assert (fault["where"], fault["field"], fault["path"]) == ("option 2", "position_id", "choices.1.position_id")


def test_nobody_gets_an_answer_without_a_key(stranger: TestClient, request_body: dict[str, Any]) -> None:
    assert stranger.post(URL, json=request_body).status_code == 401


def test_it_is_in_the_contract(client: TestClient) -> None:
    document = client.app.openapi()  # type: ignore[attr-defined]
    operation = document["paths"][URL]["post"]
    body = operation["requestBody"]["content"]["application/json"]
    assert body["schema"] == {"$ref": "#/components/schemas/OptionsRequest"} and body["examples"]
    schema = document["components"]["schemas"]["OptionsRequest"]
    assert set(schema["properties"]) == {"survey", "choices", "curve"}
    answer = operation["responses"]["200"]["content"]["application/json"]["schema"]
    assert set(answer["properties"]) == {"options", "summary", "curve"}
    assert {"401", "422"} <= set(operation["responses"])
    assert json.dumps(document)


def test_the_promised_fields_of_the_curve_are_there(client: TestClient, request_body: dict[str, Any]) -> None:
    document = client.app.openapi()  # type: ignore[attr-defined]
    schema = document["paths"][URL]["post"]["responses"]["200"]["content"]["application/json"]["schema"]["properties"]
    answer = client.post(URL, json=request_body).json()
    assert set(answer["curve"]) == set(schema["curve"]["properties"])
    point = schema["curve"]["properties"]["points"]["items"]["properties"]
    assert set(answer["curve"]["points"][0]) == set(point)
    assert set(answer["summary"][0]) == set(schema["summary"]["items"]["properties"])
