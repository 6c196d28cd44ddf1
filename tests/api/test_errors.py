"""One shape of error on every path of the contract."""

import re
import uuid
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from fastapi import FastAPI
from sqlalchemy.exc import OperationalError
from starlette.testclient import TestClient

from models.records import Role

METHODS = ("GET", "POST", "PUT", "PATCH", "DELETE")
MEMBERS = {"type", "title", "status", "detail", "instance", "request_id", "errors"}
FAULT_MEMBERS = {"where", "field", "value", "message", "expected", "path", "code"}
OPEN = {"/health/live"}
# These two are also addresses of sections that do not exist.
SECTION_LIKE = {"/api/v1/jobs/{job_id}/survey/rooms", "/api/v1/jobs/{job_id}/survey/positions"}


def operations(app: FastAPI) -> Iterator[tuple[str, str]]:
    for path, methods in app.openapi()["paths"].items():
        for method in methods:
            yield method.upper(), path


def filled(path: str, **values: str) -> str:
    """An address on a path: the given values, a section and a kind that exist, otherwise ids of nothing."""
    known = {"section": "house", "kind": "recipes"} | values
    return re.sub(r"\{(\w+)\}", lambda found: known.get(found[1], str(uuid.uuid4())), path)


def sent(app: FastAPI, method: str, path: str) -> dict[str, Any]:
    """What a request of an operation sends: the first example of the contract, an empty object or table, or nothing."""
    body = app.openapi()["paths"][path][method.lower()].get("requestBody")
    if body is None:
        return {}
    media_type, content = next(iter(body["content"].items()))
    if "json" not in media_type:
        return {"content": b"sku\n", "headers": {"Content-Type": media_type}}
    examples = [one["value"] for one in content.get("examples", {}).values()]
    return {"json": examples[0] if examples else {}}


def check_problem(answer: Any, status: int | tuple[int, ...]) -> dict[str, Any]:
    """The one shape of every error (RFC 9457 with our members)."""
    statuses = (status,) if isinstance(status, int) else status
    where = f"{answer.request.method} {answer.request.url}: {answer.status_code} {answer.text[:300]}"
    assert answer.status_code in statuses, where
    assert answer.headers["content-type"] == "application/problem+json", where
    problem: dict[str, Any] = answer.json()
    assert set(problem) >= MEMBERS, where
    assert problem["status"] == answer.status_code, where
    assert problem["type"].startswith("/problems/"), where
    assert problem["title"] and problem["detail"], where
    assert problem["instance"] == answer.request.url.path, where
    assert problem["request_id"] == answer.headers["x-request-id"], where
    for fault in problem["errors"]:
        assert set(fault) == FAULT_MEMBERS, where
    return problem


def test_no_key_on_any_path(app: FastAPI, stranger: TestClient) -> None:
    for method, path in operations(app):
        answer = stranger.request(method, filled(path), **sent(app, method, path))
        if path in OPEN:
            assert answer.status_code == 200
        else:
            check_problem(answer, 401)
            assert answer.headers["www-authenticate"] == "Bearer"


@pytest.mark.parametrize(
    "header", ["Bearer", "Bearer ", "Bearer nothing-known", "Basic YTpi", "nonsense", "Bearer " + "a" * 5000]
)
def test_a_key_that_is_not_in_use(stranger: TestClient, header: str) -> None:
    check_problem(stranger.get("/api/v1/jobs", headers={"Authorization": header}), 401)


def test_a_session_cookie_that_is_not_in_use(stranger: TestClient) -> None:
    check_problem(stranger.get("/api/v1/jobs", headers={"Cookie": "footing_session=nothing"}), 401)


def test_wrong_method_on_any_path(app: FastAPI, client: TestClient) -> None:
    taken: dict[str, set[str]] = {}
    for method, path in operations(app):
        taken.setdefault(path, set()).add(method)
    for path, methods in taken.items():
        for method in set(METHODS) - methods:
            answer = client.request(method, filled(path), json={} if method in ("POST", "PUT", "PATCH") else None)
            if path in SECTION_LIKE and method in ("PUT", "DELETE"):
                check_problem(answer, 422)
            else:
                check_problem(answer, 405)


def test_unknown_ids_on_any_path(app: FastAPI, client: TestClient) -> None:
    for method, path in operations(app):
        if "_id}" not in path:
            continue
        request = sent(app, method, path)
        # Without an example in the contract the empty object that is sent may be looked at first.
        check_problem(client.request(method, filled(path), **request), (404, 422) if request == {"json": {}} else 404)


@pytest.mark.parametrize("odd", ["x", "0", "%00", "%2e%2e", "a" * 300, "é🛋", "00000000-0000-0000-0000-00000000000G"])
def test_odd_ids_on_any_path(app: FastAPI, client: TestClient, odd: str) -> None:
    for method, path in operations(app):
        if "{" not in path:
            continue
        address = filled(path, **dict.fromkeys(re.findall(r"\{(\w+)\}", path), odd))
        check_problem(client.request(method, address, **sent(app, method, path)), (404, 405, 422))


@pytest.mark.parametrize("address", ["/api/v1", "/api/v1/", "/api/v1/jobs/", "/api/v2/jobs", "/nothing"])
def test_addresses_of_nothing(client: TestClient, address: str) -> None:
    check_problem(client.get(address), 404)


@pytest.mark.parametrize("query", ["limit=0", "limit=100000", "limit=x", "cursor=%25%25", "cursor=", "cursor=bm90IGE"])
def test_a_list_asked_for_in_the_wrong_way(client: TestClient, query: str) -> None:
    problem = check_problem(client.get(f"/api/v1/jobs?{query}"), 422)
    assert problem["detail"]


@pytest.mark.parametrize(
    ("query", "said"),
    [
        ("limit=x", "limit is x; give a whole number"),
        ("limit=0", "limit is 0; give 1 or more"),
        ("limit=9999", "limit is 9999; give 500 or less"),
    ],
)
def test_what_is_wrong_in_an_address_is_said_in_plain_words(client: TestClient, query: str, said: str) -> None:
    problem = check_problem(client.get(f"/api/v1/quotes?{query}"), 422)
    assert problem["detail"] == said and problem["errors"][0]["where"] == "the address"


def test_who_may_not_is_told_what_in_words(client_of: Callable[[Role | None], TestClient]) -> None:
    problem = check_problem(client_of(Role.ACCOUNTS).post("/api/v1/jobs", json={"label": "x"}), 403)
    assert problem["detail"] == "the role accounts may not write anything down"


def test_an_empty_cursor_is_the_beginning_of_what_happened_to_quotes(client: TestClient) -> None:
    assert client.get("/api/v1/quotes?changed_since=").json() == client.get("/api/v1/quotes").json()


def test_no_body_where_one_is_needed(app: FastAPI, client: TestClient) -> None:
    for method, path in operations(app):
        if "requestBody" not in app.openapi()["paths"][path][method.lower()]:
            continue
        check_problem(client.request(method, filled(path)), (404, 415, 422))


def test_something_broken_says_nothing_of_itself(client: TestClient, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_: object, **__: object) -> None:
        raise RuntimeError("secret detail of the code")

    monkeypatch.setattr("api.routes.jobs.jobs.jobs_before", broken)
    problem = check_problem(client.get("/api/v1/jobs"), 500)
    assert "secret" not in str(problem)


def test_a_locked_database_asks_to_try_again(client: TestClient, monkeypatch: pytest.MonkeyPatch) -> None:
    def locked(*_: object, **__: object) -> None:
        raise OperationalError("SELECT", {}, Exception("database is locked"))

    monkeypatch.setattr("api.routes.jobs.jobs.jobs_before", locked)
    answer = client.get("/api/v1/jobs")
    check_problem(answer, 503)
    assert answer.headers["retry-after"] == "1"


def test_a_request_id_of_the_client_is_kept(client: TestClient) -> None:
    answer = client.get("/api/v1/nothing", headers={"X-Request-Id": "phone-17"})
    assert check_problem(answer, 404)["request_id"] == "phone-17"
    forged = client.get("/api/v1/nothing", headers={"X-Request-Id": 'a"b<script>'})
    assert "script" not in check_problem(forged, 404)["request_id"]


# --- whose jobs ---


def test_sales_people_see_only_their_own_jobs(
    app: FastAPI, client: TestClient, sales: TestClient, new_job: Callable[..., str]
) -> None:
    own, other = new_job(sales), new_job(client)
    assert sales.get(f"/api/v1/jobs/{own}").status_code == 200
    for method, path in operations(app):
        if "{job_id}" not in path:
            continue
        answer = sales.request(method, filled(path, job_id=other), **sent(app, method, path))
        check_problem(answer, 404)
    listed = [job["id"] for job in sales.get("/api/v1/jobs?limit=200").json()["items"]]
    assert own in listed
    assert other not in listed
    assert client.get(f"/api/v1/jobs/{own}").status_code == 200, "the owner sees the jobs of all"
