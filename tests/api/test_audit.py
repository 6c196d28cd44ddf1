"""The audit list: who, when, what, old, new, why, from where; only ever added to."""

from typing import Any

import pytest
from fastapi import FastAPI
from sqlalchemy.exc import DBAPIError
from sqlmodel import text
from starlette.testclient import TestClient

from api.store.engine import writing

API = "/api/v1"


def lines(client: TestClient, **wanted: Any) -> list[dict[str, Any]]:
    answer = client.get(f"{API}/audit", params=wanted)
    assert answer.status_code == 200, answer.text
    found: list[dict[str, Any]] = answer.json()["items"]
    return found


def test_a_line_says_who_when_what_old_new_why_and_from_where(client: TestClient) -> None:
    user = client.post(f"{API}/users", json={"name": "audit-kim", "full_name": "Kim", "role": "sales"}).json()
    client.patch(f"{API}/users/{user['id']}", json={"role": "office", "why": "runs the office from May"})
    newest, oldest = lines(client, subject=user["id"])
    assert (newest["action"], oldest["action"]) == ("user_changed", "user_created")
    assert (newest["old"], newest["new"]) == ({"role": "sales"}, {"role": "office"})
    assert newest["why"] == "runs the office from May"
    assert newest["actor"].startswith("key:") and newest["actor_name"] == "key owner"
    assert newest["at"].startswith("2026-03-02T09:00:00") and newest["client"] == "testclient"


def test_a_password_is_said_to_be_set_and_nothing_more(client: TestClient) -> None:
    user = client.post(f"{API}/users", json={"name": "audit-lee", "full_name": "Lee", "role": "sales"}).json()
    client.patch(f"{API}/users/{user['id']}", json={"password": "a very secret one"})
    (newest, _) = lines(client, subject=user["id"])
    assert newest["new"] == {"password": "set"} and "secret" not in str(newest)


def test_the_life_of_a_quote_is_in_the_list(client: TestClient, surveyed_job_id: str) -> None:
    quote = client.post(f"{API}/jobs/{surveyed_job_id}/quotes", json={"choices": {}}).json()
    asks = [one for one in quote["findings"] if one["strength"] == "ask"]
    named = [{"code": a["code"], "where": a["where"], "by": "A", "reason": "seen"} for a in asks]
    issued = client.post(f"{API}/quotes/{quote['id']}/issue", json={"accepted": named}).json()
    client.post(f"{API}/quotes/{quote['id']}/decline", json={"reason": "too dear"})
    found = lines(client, subject=quote["id"])
    assert [one["action"] for one in found] == ["quote_declined", "quote_issued", "quote_drafted"]
    assert (found[0]["old"], found[0]["new"], found[0]["why"]) == ("issued", "declined", "too dear")
    told, hashes = found[1]["new"], {one["suffix"]: one["sha256"] for one in issued["files"]}
    assert (told["number"], told["document_sha256"]) == (issued["number"], issued["document_sha256"])
    # Of the PDF the hash of the copy that names nobody: the list is only ever added to.
    assert told["csv_sha256"] == hashes["csv"] and told["pdf_sha256"] not in hashes.values()


@pytest.mark.parametrize("table", ["audit", "quote_event"])
@pytest.mark.parametrize("statement", ["UPDATE {} SET at = at", "DELETE FROM {}"])
def test_the_database_only_lets_lines_be_added(
    app: FastAPI, client: TestClient, surveyed_job_id: str, table: str, statement: str
) -> None:
    client.post(f"{API}/jobs/{surveyed_job_id}/quotes", json={"choices": {}})
    with pytest.raises(DBAPIError, match="only added"), writing(app.state.engine) as session:
        session.execute(text(statement.format(table)))


def test_pages_hold_every_line_once(client: TestClient) -> None:
    for number in range(7):
        client.post(f"{API}/jobs", json={"label": f"audited {number}"})
    seen: list[str] = []
    cursor: str | None = None
    while True:
        params: dict[str, Any] = {"limit": 3, "action": "job_created"} | ({"cursor": cursor} if cursor else {})
        page = client.get(f"{API}/audit", params=params).json()
        seen += [one["id"] for one in page["items"]]
        cursor = page["next_cursor"]
        if cursor is None:
            break
    assert len(seen) == len(set(seen)) >= 7 and seen == sorted(seen, reverse=True)
    assert client.get(f"{API}/audit", params={"cursor": "x"}).status_code == 422


def test_who_changed_a_survey_is_told_with_numbers_and_without_texts(client: TestClient, job_id: str) -> None:
    """Numbers as they were and are; a text may name somebody, and the list can never be taken out again."""
    path = f"{API}/jobs/{job_id}/survey/rooms/hall"
    room = {"id": "hall", "name": "Wilhelmina's hall", "use": "hall", "height_m": 2.3}
    assert client.put(path, json=room).status_code == 201
    assert client.put(path, json=room).status_code == 200, "the same again is no change"
    assert client.put(path, json=room | {"height_m": 2.45, "name": "Hall"}).status_code == 200
    assert client.delete(path).status_code == 204
    items = client.get(f"{API}/audit", params={"action": "survey_changed"}).json()["items"]
    gone, changed, made = [one for one in items if one["subject"] == job_id]
    assert made["old"] is None and gone["new"] is None
    assert (changed["old"]["height_m"], changed["new"]["height_m"]) == (2.3, 2.45)
    assert changed["new"]["name"] == "(text or list)" and changed["detail"] == {"part": "room", "id": "hall"}
    assert changed["actor"] and "Wilhelmina" not in str(items)
