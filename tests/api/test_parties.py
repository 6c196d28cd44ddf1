"""Erasing a customer: the name goes for good, the money and its hash stay."""

import hashlib
from collections.abc import Callable
from typing import Any

import pytest
from fastapi import FastAPI
from sqlmodel import select
from starlette.testclient import TestClient

from api.store.engine import reading
from models.records import Audit, Job, Party, Quote, QuoteEvent, Role

API = "/api/v1"
PARTY = {"name": "Wilhelmina Customer", "address": "77 Erasable Lane", "contact": "wilhelmina@example.org"}


@pytest.fixture
def quote(client: TestClient, household: dict[str, Any]) -> dict[str, Any]:
    job = client.post(f"{API}/jobs", json={"label": "77 Erasable Lane", "party": PARTY}).json()
    assert client.put(f"{API}/jobs/{job['id']}/survey", json=household["survey"]).status_code == 200
    made = client.post(f"{API}/jobs/{job['id']}/quotes", json={"choices": {}}).json()
    asks = [one for one in made["findings"] if one["strength"] == "ask"]
    named = [{"code": a["code"], "where": a["where"], "by": "A. Owner", "reason": "seen"} for a in asks]
    found: dict[str, Any] = client.post(f"{API}/quotes/{made['id']}/issue", json={"accepted": named}).json()
    return found


def erase(client: TestClient, job_id: str) -> Any:
    return client.post(f"{API}/jobs/{job_id}/party/erasure", json={"reason": "asked for it in a letter"})


def test_the_name_is_gone_everywhere_and_the_money_is_whole(
    app: FastAPI, client: TestClient, quote: dict[str, Any]
) -> None:
    address = f"{API}/quotes/{quote['id']}"
    before = client.get(f"{address}/document").content
    assert client.get(address).json()["party"]["name"] == PARTY["name"]
    assert client.get(f"{address}/verification").json()["party_holds"] is True
    done = erase(client, quote["job_id"])
    assert done.status_code == 200 and done.json()["quotes_kept"] == 1
    after = client.get(f"{address}/document").content
    assert after == before and hashlib.sha256(after).hexdigest() == quote["document_sha256"]
    shown = client.get(address).json()
    assert (shown["party"]["name"], shown["party"]["address"], shown["party"]["contact"]) == ("", "", "")
    assert shown["party"]["erased_at"] and shown["total_pence"] == quote["total_pence"]
    verified = client.get(f"{address}/verification").json()
    assert (verified["document_holds"], verified["party_holds"]) == (True, None)
    for text in (client.get(f"{API}/jobs/{quote['job_id']}").text, str(shown), after.decode()):
        assert "Wilhelmina" not in text and "Erasable" not in text and "wilhelmina" not in text
    # And nowhere in the tables that keep jobs, quotes, events and the audit list.
    with reading(app.state.engine) as session:
        for table in (Party, Job, Quote, QuoteEvent, Audit):
            for row in session.exec(select(table)):
                kept = " ".join(
                    value.decode("utf-8", "replace") if isinstance(value, bytes) else str(value)
                    for value in row.model_dump().values()
                )
                assert "Wilhelmina" not in kept and "Erasable" not in kept, table.__tablename__


def test_erased_is_erased(client: TestClient, quote: dict[str, Any]) -> None:
    assert erase(client, quote["job_id"]).status_code == 200
    assert erase(client, quote["job_id"]).status_code == 409
    again = client.patch(f"{API}/jobs/{quote['job_id']}", json={"party": PARTY})
    assert again.status_code == 409 and "erased" in again.json()["detail"]


def test_the_erasure_is_in_the_audit_list_without_the_name(client: TestClient, quote: dict[str, Any]) -> None:
    erase(client, quote["job_id"])
    (line, *_) = client.get(f"{API}/audit", params={"action": "party_erased"}).json()["items"]
    assert line["why"] == "asked for it in a letter" and "Wilhelmina" not in str(line)


def test_sales_people_do_not_erase(
    client_of: Callable[[Role | None], TestClient], new_job: Callable[..., str]
) -> None:
    sales = client_of(Role.SALES)
    assert erase(sales, new_job(sales)).status_code == 403
