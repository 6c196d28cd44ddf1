"""The life of a quote: drafted, issued under a number without gaps, sealed for good, answered; and the feed of it."""

import hashlib
import json
import re
import threading
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest
from fastapi import FastAPI
from starlette.testclient import TestClient

from api.app import create_api
from api.security import create_api_key
from api.services.quotes import party_hash
from api.settings import Settings
from api.store import jobs, prices, quotes
from api.store.engine import reading, writing
from models.catalogue import PriceList
from models.document import COST_KEYS
from models.records import Job, Party, Quote, QuoteEvent, QuoteState, Role

NOW = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
"""When the service of these tests stands still: see conftest."""
DAY = NOW.date()


def drafted(client: TestClient, job_id: str, **choices: Any) -> dict[str, Any]:
    answer = client.post(f"/api/v1/jobs/{job_id}/quotes", json={"choices": choices})
    assert answer.status_code == 201, answer.text[:500]
    quote: dict[str, Any] = answer.json()
    assert answer.headers["location"] == f"/api/v1/quotes/{quote['id']}"
    return quote


def accepting_all(quote: dict[str, Any]) -> dict[str, Any]:
    asks = [one for one in quote["findings"] if one["strength"] == "ask"]
    return {
        "accepted": [
            {"code": one["code"], "where": one["where"], "by": "A. Owner", "reason": "seen on site"} for one in asks
        ]
    }


def issued(client: TestClient, job_id: str, **choices: Any) -> dict[str, Any]:
    quote = drafted(client, job_id, **choices)
    answer = client.post(f"/api/v1/quotes/{quote['id']}/issue", json=accepting_all(quote))
    assert answer.status_code == 200, answer.text[:500]
    found: dict[str, Any] = answer.json()
    return found


def sealed(client: TestClient, quote: dict[str, Any]) -> bytes:
    answer = client.get(f"/api/v1/quotes/{quote['id']}/document")
    assert answer.status_code == 200
    digest = hashlib.sha256(answer.content).hexdigest()
    assert answer.headers["etag"] == f'"{digest}"'
    assert client.get(f"/api/v1/quotes/{quote['id']}").json()["document_sha256"] == digest
    return answer.content


def everything(client: TestClient, since: str | None = None, limit: int = 500) -> tuple[list[dict[str, Any]], str]:
    """All events of the feed after a cursor, page by page, and the cursor to go on with."""
    items: list[dict[str, Any]] = []
    while True:
        params: dict[str, Any] = {"limit": limit} | ({} if since is None else {"changed_since": since})
        page = client.get("/api/v1/quotes", params=params).json()
        items += page["items"]
        since = page["next_cursor"]
        if not page["more"]:
            return items, since


# --- what keeps a draft from being issued ---


def test_a_draft_is_not_issued_while_a_stop_stands(
    client: TestClient, new_job: Callable[..., str], household: dict[str, Any]
) -> None:
    household["survey"]["cylinder_place"].update(width_mm=300, depth_mm=300, height_mm=700)
    job_id = new_job(client, survey=True)
    quote = drafted(client, job_id)
    assert quote["total_pence"] is None
    answer = client.post(f"/api/v1/quotes/{quote['id']}/issue", json=accepting_all(quote))
    assert answer.status_code == 409
    problem = answer.json()
    assert problem["type"] == "/problems/findings_stand"
    assert {one["strength"] for one in problem["stops"]} == {"stop"}
    stop = problem["stops"][0]
    by_name = {"code": stop["code"], "where": stop["where"], "by": "A. Owner", "reason": "never mind"}
    body = accepting_all(quote)
    body["accepted"].append(by_name)
    assert client.post(f"/api/v1/quotes/{quote['id']}/issue", json=body).status_code == 409, "nobody accepts a stop"
    after = client.get(f"/api/v1/quotes/{quote['id']}").json()
    assert (after["state"], after["number"], after["document_sha256"]) == ("drafted", None, None)
    assert client.get(f"/api/v1/quotes/{quote['id']}/document").status_code == 409


def test_a_draft_is_not_issued_before_each_ask_is_accepted_by_name_and_reason(
    client: TestClient, surveyed_job_id: str
) -> None:
    quote = drafted(client, surveyed_job_id)
    address = f"/api/v1/quotes/{quote['id']}/issue"
    full = accepting_all(quote)
    assert len(full["accepted"]) >= 2
    refused = client.post(address, json={})
    assert refused.status_code == 409
    assert {one["code"] for one in refused.json()["asks"]} == {one["code"] for one in full["accepted"]}
    assert client.post(address, json={"accepted": full["accepted"][1:]}).status_code == 409
    for missing in ("by", "reason"):
        for value in (None, "", "  "):
            body = json.loads(json.dumps(full))
            body["accepted"][0][missing] = value
            assert client.post(address, json=body).status_code == 422
    elsewhere = {**full["accepted"][0], "where": "another place"}
    assert client.post(address, json={"accepted": [elsewhere, *full["accepted"]]}).status_code == 409
    assert client.post(address, json=full).status_code == 200
    found = client.get(f"/api/v1/quotes/{quote['id']}").json()
    assert {(one["code"], one["by"], one["reason"]) for one in found["accepted"]} == {
        (one["code"], "A. Owner", "seen on site") for one in full["accepted"]
    }


def test_a_draft_of_an_older_survey_is_not_issued(client: TestClient, surveyed_job_id: str) -> None:
    quote = drafted(client, surveyed_job_id)
    client.put(f"/api/v1/jobs/{surveyed_job_id}/survey/notes", json="the customer wants it sooner")
    answer = client.post(f"/api/v1/quotes/{quote['id']}/issue", json=accepting_all(quote))
    assert answer.status_code == 409
    assert "survey was changed" in answer.json()["detail"]


def test_a_draft_holds_the_figures_of_the_estimate(client: TestClient, surveyed_job_id: str) -> None:
    quote = drafted(client, surveyed_job_id, flow_temp_c=45)
    estimate = client.post(f"/api/v1/jobs/{surveyed_job_id}/estimate", json={"choices": {"flow_temp_c": 45}}).json()
    for name in ("net_pence", "vat_pence", "total_pence", "grant_pence", "customer_pays_pence"):
        assert quote[name] == estimate["price"][name]
    assert quote["document"]["bill"]["lines"] == estimate["bill"]["lines"]
    assert quote["choices"]["flow_temp_c"] == 45


# --- numbers ---


def numbers_of(client: TestClient) -> list[int]:
    """The numbers of the first quote of each job that was ever issued, in the order of issue; revisions left out."""
    found = [one["quote"]["number"] for one in everything(client)[0] if one["event"] == "issued"]
    assert all(re.fullmatch(r"2026-\d{4}(-[2-9])?", number) for number in found)
    return [int(number.removeprefix("2026-")) for number in found if len(number) == len("2026-0001")]


def test_numbers_follow_each_other_without_gaps(client: TestClient, new_job: Callable[..., str]) -> None:
    first = issued(client, new_job(client, survey=True))
    refused = drafted(client, new_job(client, survey=True))
    assert client.post(f"/api/v1/quotes/{refused['id']}/issue", json={}).status_code == 409
    second = issued(client, new_job(client, survey=True))
    assert int(second["number"][-4:]) == int(first["number"][-4:]) + 1, "a refused issue takes no number"
    found = numbers_of(client)
    assert found == list(range(1, len(found) + 1))


def test_ten_issuers_at_once_get_ten_numbers_without_gaps(client: TestClient, new_job: Callable[..., str]) -> None:
    drafts = [drafted(client, new_job(client, survey=True)) for _ in range(10)]
    barrier = threading.Barrier(10)
    answers: list[tuple[int, str]] = []

    def issue(quote: dict[str, Any]) -> None:
        barrier.wait()
        answer = client.post(f"/api/v1/quotes/{quote['id']}/issue", json=accepting_all(quote))
        answers.append((answer.status_code, answer.json().get("number")))

    threads = [threading.Thread(target=issue, args=(quote,)) for quote in drafts]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert {status for status, _ in answers} == {200}
    assert len({number for _, number in answers}) == 10
    found = numbers_of(client)
    assert sorted(found) == list(range(1, len(found) + 1))


def test_one_draft_issued_by_eight_at_once_is_issued_once(client: TestClient, surveyed_job_id: str) -> None:
    quote = drafted(client, surveyed_job_id)
    statuses: list[int] = []

    def issue() -> None:
        answer = client.post(f"/api/v1/quotes/{quote['id']}/issue", json=accepting_all(quote))
        statuses.append(answer.status_code)

    threads = [threading.Thread(target=issue) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(statuses) == [200] + [409] * 7
    events = client.get(f"/api/v1/quotes/{quote['id']}").json()["events"]
    assert [one["event"] for one in events] == ["drafted", "issued"]


def test_an_issue_sent_twice_under_one_key_is_one_issue(client: TestClient, surveyed_job_id: str) -> None:
    quote = drafted(client, surveyed_job_id)
    address, headers = f"/api/v1/quotes/{quote['id']}/issue", {"Idempotency-Key": quote["id"]}
    first = client.post(address, json=accepting_all(quote), headers=headers)
    again = client.post(address, json=accepting_all(quote), headers=headers)
    assert (first.status_code, again.status_code) == (200, 200)
    assert again.content == first.content
    assert client.post(address, json={}, headers=headers).status_code == 409
    assert client.post(address, json=accepting_all(quote)).status_code == 409, "without the key it is issued already"


# --- sealed for good ---


def test_sealed_bytes_stay_when_prices_survey_job_and_state_change(
    app: FastAPI, client: TestClient, surveyed_job_id: str, household: dict[str, Any]
) -> None:
    quote = issued(client, surveyed_job_id)
    before = sealed(client, quote)
    document = json.loads(before)
    assert document["quote"]["number"] == quote["number"]
    assert document["price"]["total_pence"] == quote["total_pence"]
    assert date.fromisoformat(document["quote"]["valid_until"]) == DAY + timedelta(days=30)

    tomorrow = DAY + timedelta(days=1)
    with writing(app.state.engine) as session:
        listed = prices.list_in_force(session, DAY)
        assert listed is not None
        old = prices.load_price_list(session, listed)
        dearer = tuple(
            line.model_copy(update={"cost_gbp": line.cost_gbp + Decimal("10")}) for line in old.lines.values()
        )
        version = f"dearer {quote['id']}"[:40]
        if prices.list_in_force(session, tomorrow) == listed:
            prices.seed_price_list(session, PriceList.of(version, tomorrow, dearer, firm=True))
    room = {**household["survey"]["rooms"][1], "height_m": 3.0}
    assert client.put(f"/api/v1/jobs/{surveyed_job_id}/survey/rooms/{room['id']}", json=room).status_code == 200
    client.patch(f"/api/v1/jobs/{surveyed_job_id}", json={"label": "Renamed", "party": {"name": "B. Customer"}})
    assert client.post(f"/api/v1/quotes/{quote['id']}/accept", json={"by": "the customer"}).status_code == 200

    assert sealed(client, quote) == before
    assert client.get(f"/api/v1/quotes/{quote['id']}").json()["total_pence"] == quote["total_pence"]
    other = drafted(client, surveyed_job_id, priced_on=tomorrow.isoformat())
    assert other["net_pence"] > quote["net_pence"], "a new draft takes the new prices and the new survey"


def test_an_erased_customer_leaves_the_sealed_bytes_and_the_hash_whole(
    app: FastAPI, client: TestClient, new_job: Callable[..., str]
) -> None:
    job_id = new_job(client, survey=True)
    party = {"name": "Erasmus Gone", "address": "1 Forgotten Way", "contact": "01 234"}
    client.patch(f"/api/v1/jobs/{job_id}", json={"party": party})
    quote = issued(client, job_id)
    before = sealed(client, quote)
    for text in party.values():
        assert text.encode() not in before, "the sealed bytes do not hold the person"
    with writing(app.state.engine) as session:
        kept = session.get_one(Party, session.get_one(Job, job_id).party_id)
        kept.name = kept.address = kept.contact = ""
        kept.erased_at = NOW
        session.add(kept)
    assert sealed(client, quote) == before
    with reading(app.state.engine) as session:
        row = session.get_one(Quote, quote["id"])
        assert row.party_salt is not None
        assert row.party_hash == json.loads(before)["quote"]["party_hash"]
        meant = jobs.new_party(**party)
        assert party_hash(row.party_salt, meant) == row.party_hash, "who still has the letter can prove it"
        assert party_hash(row.party_salt, jobs.new_party(name="B", address="", contact="")) != row.party_hash


# --- accept, decline, withdraw ---

ALLOWED = {
    "drafted": {"withdraw": "withdrawn"},
    "issued": {"accept": "accepted", "decline": "declined", "withdraw": "withdrawn"},
    "accepted": dict[str, str](),
    "declined": dict[str, str](),
    "withdrawn": dict[str, str](),
    "superseded": dict[str, str](),
}


def in_state(client: TestClient, job_id: str, state: str) -> dict[str, Any]:
    if state == "drafted":
        return drafted(client, job_id)
    quote = issued(client, job_id)
    if state == "superseded":
        issued(client, job_id)
    for step, after in ALLOWED["issued"].items():
        if after == state:
            assert client.post(f"/api/v1/quotes/{quote['id']}/{step}", json={}).status_code == 200
    return quote


@pytest.mark.parametrize("state", ALLOWED)
def test_each_step_from_each_state(client: TestClient, new_job: Callable[..., str], state: str) -> None:
    allowed = ALLOWED[state] | ({"issue": "issued"} if state == "drafted" else {})
    quote = in_state(client, new_job(client, survey=True), state)
    address = f"/api/v1/quotes/{quote['id']}"
    for step in {"accept", "decline", "withdraw", "issue"} - set(allowed):
        answer = client.post(f"{address}/{step}", json=accepting_all(quote) if step == "issue" else {})
        assert answer.status_code == 409, step
        assert client.get(address).json()["state"] == state, step
    for step, after in allowed.items():
        body = accepting_all(quote) if step == "issue" else {"by": "the customer", "reason": "by telephone"}
        answer = client.post(f"{address}/{step}", json=body)
        assert answer.status_code == 200, step
        assert (answer.json()["state"], answer.json()["events"][-1]["event"]) == (after, after)
        if step != "issue":
            event = answer.json()["events"][-1]
            assert (event["by"], event["reason"]) == ("the customer", "by telephone")
        quote = in_state(client, new_job(client, survey=True), state)
        address = f"/api/v1/quotes/{quote['id']}"


def test_a_quote_accepted_after_its_last_day_lapses(app: FastAPI, client: TestClient, surveyed_job_id: str) -> None:
    quote = issued(client, surveyed_job_id)
    settings: Settings = app.state.settings
    last, late = (settings.model_copy(update={"fixed_now": NOW + timedelta(days=days)}) for days in (30, 31))
    key = create_api_key(app.state.engine, role=Role.OWNER, label="later", now=NOW)
    headers = {"Authorization": f"Bearer {key}", "Idempotency-Key": f"late {quote['id']}"}
    address = f"/api/v1/quotes/{quote['id']}"
    with TestClient(create_api(late)) as later:
        for _ in range(2):
            answer = later.post(f"{address}/accept", json={}, headers=headers)
            assert answer.status_code == 409
            assert answer.json()["type"] == "/problems/conflict"
    assert client.get(address).json()["state"] == "lapsed"
    with TestClient(create_api(last)) as on_the_day:
        other = issued(client, surveyed_job_id)
        answer = on_the_day.post(
            f"/api/v1/quotes/{other['id']}/accept", json={}, headers={"Authorization": f"Bearer {key}"}
        )
        assert answer.status_code == 200, "the last day counts"


def test_quotes_of_a_job_the_newest_first(client: TestClient, surveyed_job_id: str) -> None:
    made = [drafted(client, surveyed_job_id)["id"] for _ in range(3)]
    found = client.get(f"/api/v1/jobs/{surveyed_job_id}/quotes").json()
    assert [one["id"] for one in found] == made[::-1]
    assert [one["revision"] for one in found] == [3, 2, 1]


# --- the feed ---


def test_the_feed_gives_everything_once_in_order_whatever_the_page(
    client: TestClient, new_job: Callable[..., str]
) -> None:
    _, start = everything(client)
    quote = issued(client, new_job(client, survey=True))
    client.post(f"/api/v1/quotes/{quote['id']}/accept", json={"by": "the customer"})
    withdrawn = drafted(client, new_job(client, survey=True))
    client.post(f"/api/v1/quotes/{withdrawn['id']}/withdraw", json={})
    expected = [
        (quote["id"], "drafted"), (quote["id"], "issued"), (quote["id"], "accepted"),
        (withdrawn["id"], "drafted"), (withdrawn["id"], "withdrawn"),
    ]  # fmt: skip
    for limit in (1, 2, 500):
        items, _ = everything(client, start, limit)
        assert [(one["quote"]["id"], one["event"]) for one in items] == expected
    items, end = everything(client)
    assert [one["seq"] for one in items] == list(range(1, len(items) + 1)), "the order has no gaps"
    nothing, same = everything(client, end)
    assert (nothing, same) == ([], end), "asked again, the cursor stays"
    assert items[-1]["quote"]["state"] == "withdrawn"


def test_the_feed_misses_nothing_of_two_quotes_that_interleave(
    app: FastAPI, client: TestClient, new_job: Callable[..., str]
) -> None:
    """One transaction takes its place in the order first and commits last: the other may not overtake it."""
    one, other = (drafted(client, new_job(client, survey=True))["id"] for _ in range(2))
    _, cursor = everything(client)
    taken, other_began = threading.Event(), threading.Event()
    polled: list[dict[str, Any]] = []

    def slow() -> None:
        with writing(app.state.engine) as session:
            quotes.add_event(session, session.get_one(Quote, one), QuoteState.WITHDRAWN, by="slow", now=NOW)
            session.flush()
            taken.set()
            other_began.wait(5)
            threading.Event().wait(0.3)

    def quick() -> None:
        taken.wait(5)
        other_began.set()
        with writing(app.state.engine) as session:
            quotes.add_event(session, session.get_one(Quote, other), QuoteState.WITHDRAWN, by="quick", now=NOW)

    threads = [threading.Thread(target=slow), threading.Thread(target=quick)]
    for thread in threads:
        thread.start()
    while any(thread.is_alive() for thread in threads):
        items, cursor = everything(client, cursor)
        polled += items
        threading.Event().wait(0.02)
    items, cursor = everything(client, cursor)
    polled += items
    assert [(event["quote"]["id"], event["by"]) for event in polled] == [(one, "slow"), (other, "quick")]


def test_the_feed_misses_nothing_while_many_write(
    app: FastAPI, client: TestClient, new_job: Callable[..., str]
) -> None:
    drafts = [drafted(client, new_job(client, survey=True))["id"] for _ in range(6)]
    _, start = everything(client)
    cursor, polled = start, []

    def live(quote_id: str) -> None:
        for number in range(5):
            with writing(app.state.engine) as session:
                row = session.get_one(Quote, quote_id)
                quotes.add_event(session, row, QuoteState.DRAFTED, by=f"{number}", now=NOW)

    threads = [threading.Thread(target=live, args=(quote_id,)) for quote_id in drafts]
    for thread in threads:
        thread.start()
    while any(thread.is_alive() for thread in threads):
        items, cursor = everything(client, cursor, 3)
        polled += items
    items, cursor = everything(client, cursor)
    polled += items
    assert polled == everything(client, start)[0], "asked for bit by bit or all at once, it is the same"
    assert len(polled) == 30
    with reading(app.state.engine) as session:
        assert session.get(QuoteEvent, polled[-1]["seq"]) is not None


# --- who may not see cost ---


def keys_in(node: Any) -> set[str]:
    if isinstance(node, dict):
        return set(node) | {key for value in node.values() for key in keys_in(value)}
    return {key for value in node for key in keys_in(value)} if isinstance(node, list) else set()


def texts_in(node: Any) -> list[str]:
    if isinstance(node, dict):
        return [text for value in node.values() for text in texts_in(value)]
    if isinstance(node, list):
        return [text for value in node for text in texts_in(value)]
    return [node] if isinstance(node, str) else []


ABOUT_COST = re.compile(r"\bmargin\b|\bmark-?up\b|\bis cost\b|\bcosts? (us|the firm)\b|\bpurchase price\b", re.I)


def test_cost_is_absent_for_sales_people(
    client: TestClient, sales: TestClient, new_job: Callable[..., str], household: dict[str, Any]
) -> None:
    seen = client.post("/api/v1/estimates?include=why", json=household).json()
    assert keys_in(seen) & COST_KEYS >= {"cost_pence", "margin_pence", "margin_class"}, "the owner does see it"
    assert any(ABOUT_COST.search(text) for text in texts_in(seen)), "the words are those of our own answers"
    job_id = new_job(sales, survey=True)
    quote = issued(sales, job_id)
    listed = sales.get("/api/v1/price-lists?limit=1").json()["items"][0]["id"]
    answers = {
        "estimate": sales.post("/api/v1/estimates?include=why", json=household),
        "estimate of a job": sales.get(f"/api/v1/jobs/{job_id}/estimate?include=why"),
        "quote": sales.get(f"/api/v1/quotes/{quote['id']}"),
        "sealed document": sales.get(f"/api/v1/quotes/{quote['id']}/document"),
        "sealed document, read by the owner": client.get(f"/api/v1/quotes/{quote['id']}/document"),
        "whys": sales.get(f"/api/v1/quotes/{quote['id']}/why"),
        "feed": sales.get("/api/v1/quotes"),
        "price lines": sales.get(f"/api/v1/price-lists/{listed}/lines?limit=200"),
    }
    hidden = COST_KEYS | {"cost_gbp"}
    for what, answer in answers.items():
        assert answer.status_code == 200, what
        assert not keys_in(answer.json()) & hidden, what
        found = [text for text in texts_in(answer.json()) if ABOUT_COST.search(text)]
        assert found == [], what
    lines = client.get(f"/api/v1/price-lists/{listed}/lines?limit=1").json()["items"]
    assert "cost_gbp" in lines[0]
    assert answers["estimate"].json()["price"]["total_pence"] == seen["price"]["total_pence"]


def test_any_figure_of_a_quote_opens(client: TestClient, surveyed_job_id: str) -> None:
    quote = issued(client, surveyed_job_id)
    rooms = client.get(f"/api/v1/quotes/{quote['id']}/why?path=design.rooms.").json()
    assert rooms and all(path.startswith("design.rooms.") for path in rooms)
    one = next(why for path, why in rooms.items() if path.endswith(".heat_loss_w"))
    assert one["formula"] and one["numbers"] and one["source"]
    assert client.get(f"/api/v1/quotes/{quote['id']}/why?path=nothing.here").json() == {}
