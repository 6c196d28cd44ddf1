"""Price lists in the office: drafted, changed, published, undone, and never changed once published."""

import json
from collections.abc import Callable, Iterator
from datetime import date, timedelta
from typing import Any

import pytest
from sqlalchemy import text
from sqlalchemy.exc import DBAPIError
from starlette.testclient import TestClient

from api.app import create_api
from api.security import create_api_key
from api.settings import Settings
from api.store import prices
from api.store.engine import reading, writing
from models.records import Role

API = "/api/v1"
TODAY = date(2026, 3, 2)


@pytest.fixture(scope="module")
def office(new_settings: Callable[..., Settings]) -> Iterator[TestClient]:
    """The office in front of a database of its own."""
    app = create_api(new_settings())
    key = create_api_key(app.state.engine, role=Role.OFFICE, label="office", now=app.state.settings.fixed_now)
    with TestClient(app, headers={"Authorization": f"Bearer {key}"}) as client:
        yield client


def key_of(client: TestClient, role: Role) -> dict[str, str]:
    state = client.app.state  # type: ignore[attr-defined]
    key = create_api_key(state.engine, role=role, label=str(role), now=state.settings.fixed_now)
    return {"Authorization": f"Bearer {key}"}


def draft(client: TestClient, **body: Any) -> dict[str, Any]:
    made = client.post(f"{API}/price-lists", json=body)
    assert made.status_code == 201, made.text
    assert made.headers["location"].endswith(made.json()["id"])
    return dict(made.json())


def in_force(client: TestClient, on: date = TODAY) -> str:
    with reading(client.app.state.engine) as session:  # type: ignore[attr-defined]
        found = prices.list_in_force(session, on)
    assert found is not None
    return found


def cost(client: TestClient, list_id: str, sku: str) -> str:
    found = client.get(f"{API}/price-lists/{list_id}/lines", params={"search": sku}).json()["items"]
    (one,) = [line for line in found if line["sku"] == sku]
    return str(one["cost_gbp"])


def publish(client: TestClient, list_id: str, **body: Any) -> dict[str, Any]:
    done = client.post(f"{API}/price-lists/{list_id}/publish", json=body)
    assert done.status_code == 200, done.text
    return dict(done.json())


def test_a_draft_is_changed_and_published_from_its_day(office: TestClient) -> None:
    before = in_force(office)
    head = draft(office, note="dearer units")
    assert head["state"] == "draft" and head["based_on"] == before
    saved = office.put(f"{API}/price-lists/{head['id']}/lines/UNT-060", json={"cost_gbp": "2500.10"})
    assert saved.status_code == 200, saved.text
    assert saved.json()["cost_gbp"] == "2500.10" and saved.json()["priced_on"] == "2026-03-02"
    assert in_force(office) == before
    first_day = TODAY + timedelta(days=9)
    assert publish(office, head["id"], valid_from=first_day.isoformat())["state"] == "published"
    assert in_force(office) == before
    assert in_force(office, first_day - timedelta(days=1)) == before
    assert in_force(office, first_day) == head["id"]
    assert cost(office, head["id"], "UNT-060") == "2500.1000"
    assert cost(office, before, "UNT-060") == "2480.0000"
    retired = office.post(f"{API}/price-lists/{head['id']}/retire")
    assert retired.json()["state"] == "retired"
    assert in_force(office, first_day) == before


def test_undo_publishes_the_former_lines_as_a_new_version(office: TestClient) -> None:
    before = in_force(office)
    head = draft(office)
    office.put(f"{API}/price-lists/{head['id']}/lines/UNT-060", json={"cost_gbp": "1"})
    publish(office, head["id"])
    assert in_force(office) == head["id"]
    undone = office.post(f"{API}/price-lists/{head['id']}/undo")
    assert undone.status_code == 200, undone.text
    again = undone.json()
    assert again["id"] not in (before, head["id"])
    assert in_force(office) == again["id"]
    with reading(office.app.state.engine) as session:  # type: ignore[attr-defined]
        assert prices.lines_of(session, again["id"]) == prices.lines_of(session, before)


def test_what_is_published_stays_whoever_asks(office: TestClient) -> None:
    list_id = in_force(office)
    refused = office.put(f"{API}/price-lists/{list_id}/lines/UNT-060", json={"cost_gbp": "1"})
    assert refused.status_code == 409
    engine = office.app.state.engine  # type: ignore[attr-defined]
    for statement in (
        "UPDATE price_line SET cost_gbp = 1 WHERE list_id = :id",
        "DELETE FROM price_line WHERE list_id = :id",
        "INSERT INTO price_line SELECT list_id, 'X-1', place, line_group, description, unit, pack_size, cost_gbp, "
        "supplier, supplier_code, lead_time_days, held, margin_class, vat_class, sales_nominal, charged_by, role, "
        "attributes, ends_on, substitute, priced_on FROM price_line WHERE list_id = :id AND sku = 'UNT-060'",
        "UPDATE price_list SET valid_from = '2020-01-01' WHERE id = :id",
        "UPDATE price_list SET state = 'draft' WHERE id = :id",
        "DELETE FROM price_list WHERE id = :id",
        "UPDATE rule_set SET content = '{}' WHERE state = 'published'",
    ):
        with pytest.raises(DBAPIError, match="what was published cannot be changed"), writing(engine) as session:
            session.connection().execute(text(statement), {"id": list_id} if ":id" in statement else {})


def test_two_people_at_one_draft_get_a_412(office: TestClient) -> None:
    head = draft(office)
    path = f"{API}/price-lists/{head['id']}"
    tag = office.get(path).headers["etag"]
    first = office.put(f"{path}/lines/UNT-060", json={"cost_gbp": "2490"}, headers={"If-Match": tag})
    second = office.put(f"{path}/lines/UNT-060", json={"cost_gbp": "2500"}, headers={"If-Match": tag})
    assert (first.status_code, second.status_code) == (200, 412)
    assert cost(office, head["id"], "UNT-060") == "2490.0000"
    assert office.post(f"{path}/publish", json={}, headers={"If-Match": tag}).status_code == 412


@pytest.mark.parametrize(
    ("cells", "said"),
    [
        ({"cost_gbp": "12,40"}, "cost_gbp"),
        ({"cost_gbp": "-1"}, "below nothing"),
        ({"held": "somewhere"}, "held"),
        ({"ends_on": "soon"}, "ends_on"),
        ({"substitute": "UNT-060"}, "its own place"),
        ({"attributes": "od_mm"}, "od_mm=28"),
    ],
)
def test_a_line_that_cannot_be_is_refused(office: TestClient, cells: dict[str, str], said: str) -> None:
    head = draft(office)
    refused = office.put(f"{API}/price-lists/{head['id']}/lines/UNT-060", json=cells)
    assert refused.status_code == 422
    assert said in refused.json()["detail"]


def test_a_list_that_would_break_estimates_is_not_published(office: TestClient) -> None:
    head = draft(office)
    path = f"{API}/price-lists/{head['id']}"
    office.put(f"{path}/lines/UNT-060", json={"margin_class": "NONE"})
    refused = office.post(f"{path}/publish", json={})
    assert refused.status_code == 409
    assert "UNT-060 (NONE)" in refused.json()["detail"]
    office.put(f"{path}/lines/UNT-060", json={"margin_class": "UNIT", "substitute": "NOT-THERE"})
    assert "NOT-THERE" in office.post(f"{path}/publish", json={}).json()["detail"]
    assert office.get(path).json()["state"] == "draft"
    past = office.post(f"{path}/publish", json={"valid_from": "2026-03-01"})
    assert past.status_code == 422


def test_uplift_is_previewed_then_written(office: TestClient) -> None:
    head = draft(office)
    path = f"{API}/price-lists/{head['id']}/uplifts"
    wanted = {"change_ratio": "0.04", "round_to_gbp": "0.05", "margin_class": "UNIT"}
    shown = office.post(path, json=wanted).json()
    # 2480.00 × 1.04 = 2579.20, by hand.
    (unit,) = [one for one in shown["changed"] if one["sku"] == "UNT-060"]
    assert (unit["old_cost_gbp"], unit["new_cost_gbp"]) == ("2480.0000", "2579.2000")
    assert cost(office, head["id"], "UNT-060") == "2480.0000"
    done = office.post(path, json=wanted | {"dry_run": False}).json()
    assert done["changed"] == shown["changed"]
    assert cost(office, head["id"], "UNT-060") == "2579.2000"
    changes = office.get(f"{API}/price-lists/{head['id']}/changes").json()
    assert {one["sku"] for one in changes["changed"]} == {one["sku"] for one in shown["changed"]}


def test_stale_lines_are_listed_and_confirmed(office: TestClient) -> None:
    head = draft(office)
    path = f"{API}/price-lists/{head['id']}"
    # A draft is copied: prices that nobody confirmed count from 1 January, the first list's day, 60 days before.
    lines = [len(office.get(f"{path}/stale", params={"days": days}).json()["items"]) for days in (59, 60)]
    assert lines[0] > 150 and lines[1] == 0
    office.put(f"{path}/lines/UNT-060", json={"priced_on": "2025-01-01"})
    assert [one["sku"] for one in office.get(f"{path}/stale", params={"days": 90}).json()["items"]] == ["UNT-060"]
    office.post(f"{path}/confirmations", json={"skus": ["UNT-060"]})
    assert office.get(f"{path}/stale", params={"days": 90}).json()["items"] == []


@pytest.mark.parametrize("role", [Role.SALES, Role.ACCOUNTS])
def test_only_those_with_the_right_edit(office: TestClient, role: Role) -> None:
    headers = key_of(office, role)
    list_id = in_force(office)
    path = f"{API}/price-lists/{list_id}"
    asked: list[tuple[str, str, dict[str, Any]]] = [
        ("POST", f"{API}/price-lists", {"json": {}}),
        ("PUT", f"{path}/lines/UNT-060", {"json": {"cost_gbp": "1"}}),
        ("POST", f"{path}/imports", {"content": b"sku\n", "headers": {"content-type": "text/csv"}}),
        ("POST", f"{path}/uplifts", {"json": {"change_ratio": "0.1"}}),
        ("POST", f"{path}/confirmations", {"json": {"skus": ["UNT-060"]}}),
        ("POST", f"{path}/publish", {"json": {}}),
        ("POST", f"{path}/undo", {}),
        ("POST", f"{path}/retire", {}),
    ]
    for method, address, more in asked:
        more["headers"] = headers | more.get("headers", {})
        assert office.request(method, address, **more).status_code == 403, address
    sees = role is not Role.SALES
    for address in (f"{path}/lines.csv", f"{path}/stale", f"{path}/changes", f"{API}/repricing-runs"):
        assert office.get(address, headers=headers).status_code == (200 if sees else 403)
    lines = office.get(f"{path}/lines", headers=headers).json()["items"]
    assert ("cost_gbp" in lines[0]) is sees
    # A search by supplier tells sales nothing about suppliers.
    found = office.get(f"{path}/lines", params={"search": "oxmere"}, headers=headers).json()["items"]
    assert bool(found) is sees


def test_every_change_is_in_the_audit_with_old_and_new(office: TestClient) -> None:
    head = draft(office)
    office.put(f"{API}/price-lists/{head['id']}/lines/UNT-060", json={"cost_gbp": "2481"})
    with reading(office.app.state.engine) as session:  # type: ignore[attr-defined]
        rows = session.connection().execute(
            text("SELECT action, detail FROM audit WHERE subject = :id ORDER BY id"), {"id": head["id"]}
        ).all()
    assert [row.action for row in rows] == ["price_list_drafted", "price_line_changed"]
    (change,) = json.loads(rows[1].detail)["changed"]
    assert ["cost_gbp", "2480.0000", "2481.0000"] in change["fields"]
