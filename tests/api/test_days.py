"""The days over HTTP: papers and what-ifs of an estimate and of a quote, with and without the right to see cost."""

from collections.abc import Callable
from typing import Any

import pytest
from starlette.testclient import TestClient

from models.document import COST_KEYS
from models.records import Role

ESTIMATES = "/api/v1/estimates"


def _keys(node: Any) -> set[str]:
    if isinstance(node, dict):
        return set(node) | {key for value in node.values() for key in _keys(value)}
    return {key for value in node for key in _keys(value)} if isinstance(node, list) else set()


def test_days_come_only_where_they_are_asked_for(client: TestClient, household: dict[str, Any]) -> None:
    plain = client.post(ESTIMATES, json=household).json()
    assert "days" not in plain and "what_if" not in plain
    answer = client.post(f"{ESTIMATES}?include=days&include=what_if", json=household).json()
    plan, days = answer["labour_plan"], answer["days"]
    assert plan["days"] <= plain["labour_plan"]["days"]
    on_sheets = sorted((one["day"], line["since"], line["code"]) for one in days["sheets"] for line in one["lines"])
    assert on_sheets == sorted((day, since, task["code"]) for task in plan["tasks"] for day, since, _ in task["pieces"])
    # every line of the bill that is bought stands on one pick list
    picked = sorted(line["sku"] for found in days["pick_lists"] for line in found["lines"])
    assert picked == sorted(line["sku"] for line in answer["bill"]["lines"] if float(line["bought"]))
    for said in answer["what_if"]:
        assert said["sentence"] and said["plan"]["days"] >= plan["lower_bound_days"], said["question"]
    rain, *mishaps = answer["what_if"]
    assert rain["runs"] == 1000 and rain["days_dry"] <= rain["days_half"] <= rain["days_four_of_five"]
    assert rain["days_dry"] == plan["days"]
    for said in mishaps:
        assert said["days_more"] == said["plan"]["days"] - plan["days"]
    again = client.post(f"{ESTIMATES}?include=what_if", json=household).json()
    assert again["what_if"] == answer["what_if"]


@pytest.mark.parametrize("role", [Role.SALES])
def test_who_may_not_see_cost_sees_no_supplier(
    client_of: Callable[[Role | None], TestClient], household: dict[str, Any], role: Role
) -> None:
    owners = client_of(Role.OWNER).post(f"{ESTIMATES}?include=days", json=household).json()["days"]
    answer = client_of(role).post(f"{ESTIMATES}?include=days&include=what_if", json=household)
    assert answer.status_code == 200 and not _keys(answer.json()) & COST_KEYS
    suppliers = {found["supplier"] for found in owners["pick_lists"]}
    assert suppliers and not any(supplier in answer.text for supplier in suppliers)


def test_the_days_of_a_quote_are_its_own(client: TestClient, sales: TestClient, surveyed_job_id: str) -> None:
    quote = client.post(f"/api/v1/jobs/{surveyed_job_id}/quotes", json={"choices": {}}).json()
    at = f"/api/v1/quotes/{quote['id']}/days"
    days = client.get(at).json()
    assert {sheet["day"] for sheet in days["sheets"]} == set(range(1, quote["document"]["labour_plan"]["days"] + 1))
    assert "what_if" not in days and "these are off" in days["services_sentence"]
    asked = client.get(f"{at}?include=what_if").json()
    assert asked["same_days"] and len(asked["what_if"]) >= 4
    assert {name: asked[name] for name in days} == days
    assert client.get(f"{at}?include=dice").status_code == 422
    assert sales.get(at).status_code == 404


def test_a_stop_leaves_no_days(client: TestClient, household: dict[str, Any]) -> None:
    household["survey"]["positions"] = []
    answer = client.post(f"{ESTIMATES}?include=days&include=what_if", json=household).json()
    assert answer["labour_plan"] is None and answer["days"] is None and answer["what_if"] == []


def test_it_is_in_the_contract(client: TestClient) -> None:
    contract = client.get("/api/v1/openapi.json").json()
    answer = contract["paths"]["/api/v1/quotes/{quote_id}/days"]["get"]["responses"]["200"]
    assert answer["content"]["application/json"]["schema"]["$ref"].endswith("/DaysPublic")
    assert "avoids it" in contract["components"]["schemas"]["WhatIfPublic"]["properties"]["sentence"]["examples"][0]
