"""Variations after acceptance: at the quote's own prices, by name and time, without touching the quote."""

from collections.abc import Callable
from decimal import ROUND_HALF_UP, Decimal
from typing import Any

import pytest
from fastapi import FastAPI
from sqlalchemy.exc import DBAPIError
from sqlmodel import text
from starlette.testclient import TestClient

from api.app import create_api
from api.security import create_api_key
from api.settings import Settings
from api.startup import put_demo_firm_in_force
from api.store.engine import writing
from models.records import Role

API = "/api/v1"
SEIZED = {
    "reason": "seized_valves", "note": "two lockshields in the hall do not turn",
    "parts": [{"sku": "EMT-TRV", "quantity": "2"}], "hours": [{"trade": "engineer", "hours_h": "1.5"}],
}  # fmt: skip


def issued_on(client: TestClient, job_id: str) -> dict[str, Any]:
    quote = client.post(f"{API}/jobs/{job_id}/quotes", json={"choices": {}}).json()
    asks = [one for one in quote["findings"] if one["strength"] == "ask"]
    accepted = [{"code": a["code"], "where": a["where"], "by": "A. Owner", "reason": "seen"} for a in asks]
    found: dict[str, Any] = client.post(f"{API}/quotes/{quote['id']}/issue", json={"accepted": accepted}).json()
    return found


@pytest.fixture
def issued(client: TestClient, surveyed_job_id: str) -> dict[str, Any]:
    return issued_on(client, surveyed_job_id)


@pytest.fixture
def accepted(client: TestClient, issued: dict[str, Any]) -> str:
    assert client.post(f"{API}/quotes/{issued['id']}/accept", json={}).status_code == 200
    return f"{API}/quotes/{issued['id']}"


def half_up(amount: Decimal) -> int:
    return int(amount.quantize(Decimal(1), ROUND_HALF_UP))


def test_a_variation_adds_to_the_order_and_leaves_the_quote(client: TestClient, accepted: str) -> None:
    before = client.get(f"{accepted}/document").content
    quote = client.get(accepted).json()
    assert quote["order_value_pence"] == quote["total_pence"]
    made = client.post(f"{accepted}/variations", json=SEIZED)
    assert made.status_code == 201, made.text
    # By hand: 19.50 / 0.72 = 27.0833, two 54.17; 30.50 / 0.62 = 49.1935, 1.5 h 73.79; 0 % until 31 March 2027.
    assert (made.json()["net_pence"], made.json()["vat_pence"]) == (5_417 + 7_379, 0)
    assert client.get(accepted).json()["order_value_pence"] == quote["total_pence"], "it waits for approval"
    one = f"{accepted}/variations/{made.json()['id']}"
    assert client.post(f"{one}/approve", json={}).status_code == 422, "approved by name"
    decided = client.post(f"{one}/approve", json={"by": "A. Customer", "reason": "seen on site"}).json()
    assert (decided["state"], decided["decided_by"]) == ("approved", "A. Customer") and decided["decided_at"]
    after = client.get(accepted).json()
    assert after["order_value_pence"] == quote["total_pence"] + 12_796
    assert after["total_pence"] == quote["total_pence"] and after["state"] == "accepted"
    assert client.get(f"{accepted}/document").content == before
    assert client.post(f"{one}/approve", json={"by": "B"}).status_code == 409
    events = [event["event"] for event in after["events"]]
    assert events == ["drafted", "issued", "accepted", "varied"]


def test_a_refused_variation_adds_nothing(client: TestClient, accepted: str) -> None:
    made = client.post(f"{accepted}/variations", json=SEIZED).json()
    refused = client.post(f"{accepted}/variations/{made['id']}/refuse", json={"by": "A. Customer"})
    assert refused.json()["state"] == "refused"
    quote = client.get(accepted).json()
    assert quote["order_value_pence"] == quote["total_pence"]
    assert [one["place"] for one in client.get(f"{accepted}/variations").json()] == [1]


def test_a_variation_keeps_the_prices_of_its_quote_when_others_are_published(
    new_settings: Callable[..., Settings], new_job: Callable[..., str]
) -> None:
    app = create_api(new_settings())
    put_demo_firm_in_force(app.state.engine, app.state.settings, now=app.state.settings.fixed_now)
    key = create_api_key(app.state.engine, role=Role.OWNER, label="owner", now=app.state.settings.fixed_now)
    client = TestClient(app, headers={"Authorization": f"Bearer {key}"})
    quote = issued_on(client, new_job(client, survey=True))
    accepted = f"{API}/quotes/{quote['id']}"
    assert client.post(f"{accepted}/accept", json={}).status_code == 200
    head = client.post(f"{API}/price-lists", json={}).json()["id"]
    raised = client.post(f"{API}/price-lists/{head}/uplifts", json={"change_ratio": "0.4", "dry_run": False})
    assert raised.status_code == 200, raised.text
    assert client.post(f"{API}/price-lists/{head}/publish", json={}).status_code == 200
    line = client.get(accepted).json()["document"]["bill"]["lines"][0]
    made = client.post(
        f"{accepted}/variations",
        json={"reason": "damaged_part_replaced", "note": "cracked", "parts": [{"sku": line["sku"], "quantity": "3"}]},
    ).json()
    assert made["net_pence"] == half_up(Decimal(line["unit_sell_gbp"]) * 300)
    app.state.engine.dispose()


@pytest.mark.parametrize(
    ("change", "status"),
    [
        ({"parts": [{"sku": "NOWHERE", "quantity": "1"}]}, 422),
        ({"hours": [{"trade": "plasterer", "hours_h": "1"}]}, 422),
        ({"parts": [], "hours": []}, 422),
        ({"parts": [{"sku": "EMT-TRV", "quantity": "1.2345"}]}, 422),
        ({"reason": "because"}, 422),
    ],
)
def test_what_is_not_a_variation(client: TestClient, accepted: str, change: dict[str, Any], status: int) -> None:
    answer = client.post(f"{accepted}/variations", json={**SEIZED, **change})
    assert answer.status_code == status and answer.json()["detail"]


def test_only_an_accepted_quote_has_variations(client: TestClient, issued: dict[str, Any]) -> None:
    assert client.post(f"{API}/quotes/{issued['id']}/variations", json=SEIZED).status_code == 409


def test_the_database_refuses_to_change_a_variation(app: FastAPI, client: TestClient, accepted: str) -> None:
    made = client.post(f"{accepted}/variations", json=SEIZED).json()
    for statement in ("UPDATE variation SET total_pence = 1 WHERE id = :id", "DELETE FROM variation WHERE id = :id"):
        with pytest.raises(DBAPIError, match="stays"), writing(app.state.engine) as session:
            session.execute(text(statement), {"id": made["id"]})


def test_sales_people_see_a_variation_without_cost(
    client: TestClient, sales: TestClient, new_job: Callable[..., str]
) -> None:
    job_id = new_job(sales, survey=True)
    quote = sales.post(f"{API}/jobs/{job_id}/quotes", json={"choices": {}}).json()
    asks = [one for one in quote["findings"] if one["strength"] == "ask"]
    named = [{"code": a["code"], "where": a["where"], "by": "S", "reason": "seen"} for a in asks]
    assert sales.post(f"{API}/quotes/{quote['id']}/issue", json={"accepted": named}).status_code == 200
    assert sales.post(f"{API}/quotes/{quote['id']}/accept", json={}).status_code == 200
    made = sales.post(f"{API}/quotes/{quote['id']}/variations", json=SEIZED)
    assert made.status_code == 201 and "cost" not in made.text
    assert "cost_pence" in client.get(f"{API}/quotes/{quote['id']}/variations").text
