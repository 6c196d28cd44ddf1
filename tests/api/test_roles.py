"""Each role on each route: the table says who may come, and every route of the app has its row.

The things that are asked about are there (a job of the sales person, a draft and an issued quote, lists, rules, a user
and a key), so that a refusal is about the right and about nothing else.
"""

import re
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from fastapi import FastAPI
from starlette.testclient import TestClient

from models.records import Role

API = "/api/v1"
# Who may come, in the order sales (own jobs, no cost), office (everything but users), accounts (read), owner.
# A route without a row fails the test: write down who may come, then try it.
ROLES = (Role.SALES, Role.OFFICE, Role.ACCOUNTS, Role.OWNER)
TABLE = """
s o a w  GET     /health/live
s o a w  GET     /health/ready
- - - w  GET     /metrics
s o a w  GET     /api/v1/docs
s o a w  GET     /api/v1/openapi.json
s o a w  HEAD    /api/v1/openapi.json
s o a w  POST    /api/v1/estimates
s o a w  POST    /api/v1/options
s o a w  GET     /api/v1/jobs
s o - w  POST    /api/v1/jobs
s o a w  GET     /api/v1/jobs/{job_id}
s o - w  PATCH   /api/v1/jobs/{job_id}
s o a w  GET     /api/v1/jobs/{job_id}/estimate
s o a w  POST    /api/v1/jobs/{job_id}/estimate
s o a w  GET     /api/v1/jobs/{job_id}/photos
s o a w  GET     /api/v1/jobs/{job_id}/quotes
s o - w  POST    /api/v1/jobs/{job_id}/quotes
s o a w  GET     /api/v1/jobs/{job_id}/survey
s o - w  PUT     /api/v1/jobs/{job_id}/survey
s o a w  GET     /api/v1/jobs/{job_id}/survey/photos/{photo_id}
s o - w  PUT     /api/v1/jobs/{job_id}/survey/photos/{photo_id}
s o - w  DELETE  /api/v1/jobs/{job_id}/survey/photos/{photo_id}
s o a w  GET     /api/v1/jobs/{job_id}/survey/positions
s o a w  GET     /api/v1/jobs/{job_id}/survey/positions/{position_id}
s o - w  PUT     /api/v1/jobs/{job_id}/survey/positions/{position_id}
s o - w  DELETE  /api/v1/jobs/{job_id}/survey/positions/{position_id}
s o a w  GET     /api/v1/jobs/{job_id}/survey/rooms
s o a w  GET     /api/v1/jobs/{job_id}/survey/rooms/{room_id}
s o - w  PUT     /api/v1/jobs/{job_id}/survey/rooms/{room_id}
s o - w  DELETE  /api/v1/jobs/{job_id}/survey/rooms/{room_id}
s o a w  GET     /api/v1/jobs/{job_id}/survey/{section}
s o - w  PUT     /api/v1/jobs/{job_id}/survey/{section}
s o - w  DELETE  /api/v1/jobs/{job_id}/survey/{section}
s o a w  GET     /api/v1/quotes
s o a w  GET     /api/v1/quotes/{quote_id}
s o a w  GET     /api/v1/quotes/{quote_id}.csv
s o a w  GET     /api/v1/quotes/{quote_id}.pdf
s o a w  GET     /api/v1/quotes/{quote_id}.ubl.xml
s o a w  GET     /api/v1/quotes/{quote_id}/days
s o a w  GET     /api/v1/quotes/{quote_id}/difference
s o a w  GET     /api/v1/quotes/{quote_id}/document
s o a w  GET     /api/v1/quotes/{quote_id}/variations
s o a w  GET     /api/v1/quotes/{quote_id}/verification
s o a w  GET     /api/v1/quotes/{quote_id}/why
- o - w  POST    /api/v1/quotes/{quote_id}/approval
s o - w  POST    /api/v1/quotes/{quote_id}/issue
s o - w  POST    /api/v1/quotes/{quote_id}/accept
s o - w  POST    /api/v1/quotes/{quote_id}/decline
s o - w  POST    /api/v1/quotes/{quote_id}/withdraw
s o - w  POST    /api/v1/quotes/{quote_id}/variations
s o - w  POST    /api/v1/quotes/{quote_id}/variations/{variation_id}/approve
s o - w  POST    /api/v1/quotes/{quote_id}/variations/{variation_id}/refuse
s o a w  GET     /api/v1/price-lists
- o - w  POST    /api/v1/price-lists
s o a w  GET     /api/v1/price-lists/{list_id}
- o a w  GET     /api/v1/price-lists/{list_id}/changes
- o - w  POST    /api/v1/price-lists/{list_id}/confirmations
- o - w  POST    /api/v1/price-lists/{list_id}/imports
s o a w  GET     /api/v1/price-lists/{list_id}/lines
- o a w  GET     /api/v1/price-lists/{list_id}/lines.csv
- o - w  PUT     /api/v1/price-lists/{list_id}/lines/{sku}
- o - w  POST    /api/v1/price-lists/{list_id}/publish
- o - w  POST    /api/v1/price-lists/{list_id}/retire
- o a w  GET     /api/v1/price-lists/{list_id}/stale
- o - w  POST    /api/v1/price-lists/{list_id}/undo
- o - w  POST    /api/v1/price-lists/{list_id}/uplifts
- o a w  GET     /api/v1/repricing-runs
- o a w  GET     /api/v1/rule-sets
- o a w  GET     /api/v1/rule-sets/{kind}
- o - w  POST    /api/v1/rule-sets/{kind}/drafts
- o - w  PUT     /api/v1/rule-sets/{kind}/drafts/{set_id}
- o - w  POST    /api/v1/rule-sets/{kind}/drafts/{set_id}/effect
- o - w  POST    /api/v1/rule-sets/{kind}/drafts/{set_id}/publish
- o - w  PUT     /api/v1/rule-sets/{kind}/drafts/{set_id}/tables/{table}
- o a w  GET     /api/v1/rule-sets/{kind}/versions/{set_id}
- o - w  POST    /api/v1/rule-sets/{kind}/versions/{set_id}/retire
- o a w  GET     /api/v1/rule-sets/{kind}/versions/{set_id}/tables/{table}.csv
- o - w  POST    /api/v1/rule-sets/{kind}/versions/{set_id}/undo
s o a w  GET     /api/v1/sessions
- o - w  POST    /api/v1/jobs/{job_id}/party/erasure
- - - w  GET     /api/v1/users
- - - w  POST    /api/v1/users
- - - w  GET     /api/v1/users/{user_id}
- - - w  PATCH   /api/v1/users/{user_id}
- - - w  POST    /api/v1/users/{user_id}/sign-in-link
- - - w  DELETE  /api/v1/users/{user_id}/sessions
- - - w  GET     /api/v1/api-keys
- - - w  POST    /api/v1/api-keys
- - - w  DELETE  /api/v1/api-keys/{key_id}
- o - w  GET     /api/v1/audit
s o a w  DELETE  /api/v1/sessions
"""


def rows() -> Iterator[tuple[str, str, frozenset[Role]]]:
    """Method, path and who may come, line by line."""
    for line in filter(None, TABLE.splitlines()):
        *marks, method, path = line.split()
        yield method, path, frozenset(role for role, mark in zip(ROLES, marks, strict=True) if mark != "-")


def routes(found: Any, prefix: str = "") -> Iterator[tuple[str, str]]:
    """Every method and path of an app, also what its contract does not show."""
    for route in found:
        if hasattr(route, "path"):
            yield from ((method, prefix + route.path) for method in route.methods or ())
        else:
            yield from routes(route.original_router.routes, prefix + route.include_context.prefix)


def test_every_route_has_a_row_and_every_row_a_route(app: FastAPI) -> None:
    written = [(method, path) for method, path, _ in rows()]
    assert sorted(written) == sorted(set(routes(app.routes)))


@pytest.fixture
def there(client: TestClient, sales: TestClient, new_job: Callable[..., str]) -> dict[str, str]:
    """Ids of things that exist; the job is one of the sales person, its quote a draft."""
    job_id = new_job(sales, survey=True)
    rooms = sales.get(f"{API}/jobs/{job_id}/survey").json()["survey"]
    quote = sales.post(f"{API}/jobs/{job_id}/quotes", json={}).json()
    number = len(client.get(f"{API}/users").json())
    user = {"name": f"someone-{number}", "full_name": "Someone", "role": "sales"}
    return {
        "job_id": job_id,
        "quote_id": quote["id"],
        "variation_id": quote["id"],
        "photo_id": "boiler.jpg",
        "room_id": rooms["rooms"][0]["id"],
        "position_id": rooms["positions"][0]["id"],
        "section": "house",
        "list_id": client.post(f"{API}/price-lists", json={}).json()["id"],
        "sku": "UNT-060",
        "kind": "rates",
        "set_id": client.post(f"{API}/rule-sets/rates/drafts", json={}).json()["id"],
        "table": "rates",
        "user_id": client.post(f"{API}/users", json=user).json()["id"],
        "key_id": client.post(f"{API}/api-keys", json={"label": "k", "role": "sales"}).json()["id"],
    }


def request_of(app: FastAPI, method: str, path: str) -> dict[str, Any]:
    """What a request of an operation sends: the first example of the contract, or the least of its media type."""
    body = app.openapi()["paths"].get(path, {}).get(method.lower(), {}).get("requestBody")
    if body is None:
        return {}
    media_type, content = next(iter(body["content"].items()))
    if "json" not in media_type:
        return {"content": b"sku\n", "headers": {"Content-Type": media_type}}
    return {"json": next((one["value"] for one in content.get("examples", {}).values()), {})}


@pytest.mark.parametrize("role", ROLES)
def test_each_role_on_each_route(
    app: FastAPI, client_of: Callable[[Role | None], TestClient], there: dict[str, str], role: Role
) -> None:
    client = client_of(role)
    for method, path, roles in rows():
        address = re.sub(r"\{(\w+)\}", lambda found: there[found[1]], path)
        answer = client.request(method, address, **request_of(app, method, path))
        where = f"{role} {method} {path}: {answer.status_code} {answer.text[:200]}"
        if role in roles:
            assert answer.status_code not in (401, 403) and answer.status_code < 500, where
        else:
            assert answer.status_code == 403, where
            assert answer.json()["type"] == "/problems/not_allowed", where


@pytest.mark.parametrize("role", ROLES)
def test_each_role_on_the_firms_record(
    app: FastAPI, client: TestClient, client_of: Callable[[Role | None], TestClient], role: Role
) -> None:
    """The rows of the rules again, for the one kind of rules that no figure rests on."""
    head = client.post(f"{API}/rule-sets/firm/drafts", json={}).json()
    firm = {"kind": "firm", "set_id": head["id"], "table": "firm"}
    for method, path, roles in rows():
        if "{kind}" not in path:
            continue
        address = re.sub(r"\{(\w+)\}", lambda found: firm[found[1]], path)
        answer = client_of(role).request(method, address, **request_of(app, method, path))
        where = f"{role} {method} {path}: {answer.status_code} {answer.text[:200]}"
        allowed = answer.status_code not in (401, 403) and answer.status_code < 500
        assert allowed if role in roles else answer.status_code == 403, where


def test_nobody_without_a_key_or_session_comes_in(stranger: TestClient, there: dict[str, str], app: FastAPI) -> None:
    for method, path, _ in rows():
        if path in ("/health/live", "/api/v1/docs", "/api/v1/openapi.json"):
            continue
        address = re.sub(r"\{(\w+)\}", lambda found: there[found[1]], path)
        assert stranger.request(method, address, **request_of(app, method, path)).status_code == 401, f"{method} {path}"
