"""Revisions, differences, discount and margin, and that nothing which is published later changes an issued quote."""

import hashlib
import io
import json
import re
import threading
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from fastapi import FastAPI
from pypdf import PdfReader
from sqlalchemy.exc import DBAPIError
from sqlmodel import text
from starlette.testclient import TestClient

from api.app import create_api
from api.security import create_api_key
from api.services.repricing import work_off
from api.settings import Settings
from api.startup import put_demo_firm_in_force
from api.store import prices, quotes
from api.store.engine import reading, writing
from models.document import COST_KEYS
from models.pricing.rates import Rates
from models.records import Quote, Role
from models.reference import money_rules

API = "/api/v1"


def drafted(client: TestClient, job_id: str, **choices: Any) -> dict[str, Any]:
    answer = client.post(f"{API}/jobs/{job_id}/quotes", json={"choices": choices})
    assert answer.status_code == 201, answer.text[:500]
    found: dict[str, Any] = answer.json()
    return found


def accepting_all(quote: dict[str, Any]) -> dict[str, Any]:
    return {
        "accepted": [
            {"code": one["code"], "where": one["where"], "by": "A. Owner", "reason": "seen on site"}
            for one in quote["findings"]
            if one["strength"] == "ask"
        ]
    }


def issued(client: TestClient, job_id: str, **choices: Any) -> dict[str, Any]:
    quote = drafted(client, job_id, **choices)
    answer = client.post(f"{API}/quotes/{quote['id']}/issue", json=accepting_all(quote))
    assert answer.status_code == 200, answer.text[:500]
    found: dict[str, Any] = answer.json()
    return found


# --- numbers of revisions ---


def test_a_second_quote_of_a_job_is_a_revision_and_replaces_the_first(
    client: TestClient, surveyed_job_id: str
) -> None:
    first = issued(client, surveyed_job_id)
    second = issued(client, surveyed_job_id, flow_temp_c=50)
    third = issued(client, surveyed_job_id, flow_temp_c=55)
    assert second["number"] == f"{first['number']}-2" and third["number"] == f"{first['number']}-3"
    states = {one["id"]: one["state"] for one in client.get(f"{API}/jobs/{surveyed_job_id}/quotes").json()}
    assert [states[one["id"]] for one in (first, second, third)] == ["superseded", "superseded", "issued"]


def test_ten_writers_at_one_job_get_its_revisions_without_gaps_or_doubles(
    client: TestClient, surveyed_job_id: str, new_job: Callable[..., str]
) -> None:
    quotes = [drafted(client, surveyed_job_id) for _ in range(5)]
    others = [drafted(client, new_job(client, survey=True)) for _ in range(5)]
    numbers: dict[str, str] = {}
    ready = threading.Barrier(10)

    def issue(quote: dict[str, Any]) -> None:
        ready.wait()
        answer = client.post(f"{API}/quotes/{quote['id']}/issue", json=accepting_all(quote))
        assert answer.status_code == 200, answer.text[:300]
        numbers[quote["id"]] = answer.json()["number"]

    threads = [threading.Thread(target=issue, args=(one,)) for one in (*quotes, *others)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    of_job = sorted(numbers[one["id"]] for one in quotes)
    assert of_job == [of_job[0], *(f"{of_job[0]}-{place}" for place in (2, 3, 4, 5))]
    firsts = sorted([of_job[0], *(numbers[one["id"]] for one in others)])
    counts = [int(number.removeprefix("2026-")) for number in firsts]
    assert counts == list(range(counts[0], counts[0] + 6)), "every job takes the next number"


def test_what_changes_after_acceptance_is_no_new_quote(client: TestClient, surveyed_job_id: str) -> None:
    first = issued(client, surveyed_job_id)
    assert client.post(f"{API}/quotes/{first['id']}/accept", json={}).status_code == 200
    late = drafted(client, surveyed_job_id)
    answer = client.post(f"{API}/quotes/{late['id']}/issue", json=accepting_all(late))
    assert answer.status_code == 409 and "variation" in answer.json()["detail"]


# --- differences ---


def test_a_revision_is_compared_with_the_last_that_went_out_not_with_a_draft_between(
    client: TestClient, surveyed_job_id: str
) -> None:
    first = issued(client, surveyed_job_id)
    drafted(client, surveyed_job_id, flow_temp_c=50)
    third = drafted(client, surveyed_job_id)
    assert client.get(f"{API}/quotes/{third['id']}/difference").json()["from_id"] == first["id"]


def test_the_difference_between_revisions_is_said_in_words(client: TestClient, surveyed_job_id: str) -> None:
    first = drafted(client, surveyed_job_id, flow_temp_c=55)
    second = drafted(client, surveyed_job_id, flow_temp_c=45)
    found = client.get(f"{API}/quotes/{second['id']}/difference").json()
    assert (found["from_id"], found["to_id"]) == (first["id"], second["id"])
    said = [change["sentence"] for change in found["changes"]]
    assert "Flow temperature: 45 °C instead of 55 °C" in said
    assert {"unit", "rooms", "quantities", "total"} <= {change["about"] for change in found["changes"]}
    back = client.get(f"{API}/quotes/{first['id']}/difference", params={"from": second["id"]}).json()
    assert "Flow temperature: 55 °C instead of 45 °C" in [change["sentence"] for change in back["changes"]]
    assert client.get(f"{API}/quotes/{first['id']}/difference").status_code == 404


# --- discount, margin, firm prices ---


@pytest.mark.parametrize(
    ("role", "ratio", "status"),
    [(Role.SALES, "0.02", 201), (Role.SALES, "0.0201", 403), (Role.OFFICE, "0.05", 201), (Role.OFFICE, "0.06", 403),
     (Role.OWNER, "0.30", 201)],
)  # fmt: skip
def test_a_discount_is_given_by_those_who_may(
    client_of: Callable[[Role | None], TestClient], new_job: Callable[..., str], role: Role, ratio: str, status: int
) -> None:
    who = client_of(role)
    job_id = new_job(who, survey=True)
    answer = who.post(f"{API}/jobs/{job_id}/quotes", json={"choices": {"discount_ratio": ratio}})
    assert answer.status_code == status, answer.text[:300]
    if status == 403:
        assert "owner may" in answer.json()["detail"]
        return
    (line,) = [part for part in answer.json()["document"]["price"]["parts"] if part["code"] == "discount"]
    assert line["sell_pence"] < 0


def test_below_the_floor_nothing_goes_out_without_an_approval(
    client: TestClient, client_of: Callable[[Role | None], TestClient], surveyed_job_id: str
) -> None:
    low = drafted(client, surveyed_job_id, discount_ratio="0.25")
    assert low["needs_approval"]
    address = f"{API}/quotes/{low['id']}"
    refused = client.post(f"{address}/issue", json=accepting_all(low))
    assert refused.status_code == 409 and "margin floor" in refused.json()["detail"]
    assert client_of(Role.ACCOUNTS).post(f"{address}/approval", json={"reason": "so be it"}).status_code == 403
    approved = client_of(Role.OFFICE).post(f"{address}/approval", json={"reason": "third house in this street"})
    assert approved.status_code == 200
    assert [one["reason"] for one in approved.json()["approvals"]] == ["third house in this street"]
    assert client.post(f"{address}/issue", json=accepting_all(low)).status_code == 200
    plain = drafted(client, surveyed_job_id)
    assert client.post(f"{API}/quotes/{plain['id']}/approval", json={"reason": "x"}).status_code == 409


def test_prices_that_are_only_indicative_are_not_issued(app: FastAPI, client: TestClient, surveyed_job_id: str) -> None:
    quote = drafted(client, surveyed_job_id)
    with writing(app.state.engine) as session:
        kept = session.get_one(Quote, quote["id"])
        workings = json.loads(kept.workings)
        workings["basis"]["price_list_firm"] = False
        kept.workings = json.dumps(workings).encode()
        session.add(kept)
    answer = client.post(f"{API}/quotes/{quote['id']}/issue", json=accepting_all(quote))
    assert answer.status_code == 409 and "indicative" in answer.json()["detail"]


# --- nothing later changes what was issued ---


@pytest.fixture
def own(new_settings: Callable[..., Settings]) -> Iterator[TestClient]:
    """An owner in front of a database of their own, so that what they publish touches no other test."""
    app = create_api(new_settings())
    put_demo_firm_in_force(app.state.engine, app.state.settings, now=app.state.settings.fixed_now)
    key = create_api_key(app.state.engine, role=Role.OWNER, label="owner", now=app.state.settings.fixed_now)
    yield TestClient(app, headers={"Authorization": f"Bearer {key}"})
    app.state.engine.dispose()


def test_an_issued_quote_stays_whatever_is_published_or_changed_later(
    own: TestClient, new_job: Callable[..., str], monkeypatch: pytest.MonkeyPatch
) -> None:
    client = own
    quote = issued(client, new_job(client, survey=True))
    address = f"{API}/quotes/{quote['id']}"

    def now() -> tuple[bytes, str, Any, Any]:
        shown = client.get(address).json()
        return client.get(f"{address}/document").content, shown["document_sha256"], shown["document"], shown["findings"]

    before = now()
    assert hashlib.sha256(before[0]).hexdigest() == before[1]
    # New prices, half as much again.
    head = client.post(f"{API}/price-lists", json={}).json()["id"]
    raised = client.post(f"{API}/price-lists/{head}/uplifts", json={"change_ratio": "0.5", "dry_run": False})
    assert raised.status_code == 200, raised.text
    assert client.post(f"{API}/price-lists/{head}/publish", json={}).status_code == 200
    # Other tax rates, and other rates and rules in the code and in its files.
    rules = money_rules.load_money_rules()
    series = rules.vat["installed_energy_saving_materials"]
    dearer = replace(series, values=tuple(replace(one, value="0.20") for one in series.values))
    taxed = replace(rules, vat={**rules.vat, series.name: dearer})
    book = client.app.state.rules_book  # type: ignore[attr-defined]

    def changed(rates: Rates) -> Rates:
        return replace(rates, margin_floor_ratio=Decimal("0.9"), exclusions=(), survey_hours_h=Decimal(70))

    in_force = type(book).in_force
    monkeypatch.setattr(
        type(book), "in_force",
        lambda self, session, on: (
            lambda found: replace(
                found, money=taxed, rates=changed(found.rates), labour=replace(found.labour, hours=()),
                recipes=found.recipes[:10],
            )
        )(in_force(self, session, on)),
    )  # fmt: skip
    assert now() == before
    assert client.get(f"{address}/verification").json()["document_holds"] is True
    # The feed tells the amounts of the issue.
    items = client.get(f"{API}/quotes", params={"limit": 500}).json()["items"]
    fed = {item["quote"]["total_pence"] for item in items if item["quote"]["id"] == quote["id"]}
    assert fed == {quote["total_pence"]}


@pytest.mark.parametrize(
    "change", ["document = NULL", "total_pence = 1", "number = 'x'", "workings = document", "document_sha256 = 'x'"]
)
def test_the_database_itself_refuses_to_change_what_was_issued(
    app: FastAPI, client: TestClient, surveyed_job_id: str, change: str
) -> None:
    quote = issued(client, surveyed_job_id)
    for statement in (f"UPDATE quote SET {change} WHERE id = :id", "DELETE FROM quote_prices WHERE quote_id = :id"):
        with pytest.raises(DBAPIError, match="stay"), writing(app.state.engine) as session:
            session.execute(text(statement), {"id": quote["id"]})


# --- what the quote says beside its sums ---


def test_the_sealed_quote_says_its_tax_points_extras_exclusions_and_notices(
    client: TestClient, surveyed_job_id: str
) -> None:
    quote = issued(client, surveyed_job_id)
    price = json.loads(client.get(f"{API}/quotes/{quote['id']}/document").content)["price"]
    assert [stage["trigger"] for stage in price["stages"]] == ["payment", "payment", "completion"]
    assert sum(stage["vat_pence"] for stage in price["stages"]) == price["vat_pence"]
    assert sum(stage["total_pence"] for stage in price["stages"]) == price["total_pence"]
    assert date.fromisoformat(price["if_late"]["change_on"]) == date(2027, 4, 1)
    assert price["if_late"]["total_pence"] > price["total_pence"]
    assert price["extras"] and price["exclusions"]
    assert {notice["code"] for notice in price["notices"]} >= {"right_to_cancel", "request_to_start_sooner"}


def test_the_offer_ends_no_later_than_a_subcontract_price(client: TestClient, surveyed_job_id: str) -> None:
    quote = issued(client, surveyed_job_id)
    held = [one["held_until"] for one in quote["document"]["price"]["subcontract"]]
    assert quote["valid_until"] == min(["2026-04-01", *held])


# --- cost ---


def _numbers(node: Any, key: str = "") -> set[str]:
    """The values that stand under keys of cost, as they would be written."""
    if isinstance(node, dict):
        return {value for name, inner in node.items() for value in _numbers(inner, name)}
    if isinstance(node, list):
        return {value for inner in node for value in _numbers(inner, key)}
    return {str(node)} if key in COST_KEYS and node is not None else set()


def _everything(node: Any) -> set[str]:
    if isinstance(node, dict):
        return {value for name, inner in node.items() if name not in COST_KEYS for value in _everything(inner)}
    if isinstance(node, list):
        return {value for inner in node for value in _everything(inner)}
    return {str(node)}


def test_no_cost_is_in_anything_that_sales_people_may_read(
    app: FastAPI, client: TestClient, sales: TestClient, new_job: Callable[..., str], household: dict[str, Any]
) -> None:
    """Walks every GET of the contract as sales over a job of theirs, and what is worked out without being stored:
    estimates, options, reasons, assumptions, differences. Cost values are those that the owner sees."""
    job_id = new_job(sales, survey=True)
    quote = issued(sales, job_id)
    assert sales.post(f"{API}/quotes/{quote['id']}/accept", json={}).status_code == 200
    made = sales.post(
        f"{API}/quotes/{quote['id']}/variations",
        json={"reason": "seized_valves", "note": "two in the hall", "parts": [{"sku": "EMT-TRV", "quantity": "2"}]},
    )
    assert made.status_code == 201, made.text
    owners = client.get(f"{API}/quotes/{quote['id']}").json()
    with reading(app.state.engine) as session:
        price_list = prices.load_price_list(session, str(prices.list_in_force(session, date(2026, 3, 2))))
    seen_by_owner = _numbers(owners["document"]) | _numbers([one["document"] for one in owners["variations"]])
    costs = seen_by_owner | {str(line.cost_gbp) for line in price_list.lines.values()}
    # Where a price is passed on at cost, its amount is no secret: labour of the survey, days, fees, credits.
    open_values = _everything(sales.get(f"{API}/quotes/{quote['id']}").json()["document"])
    secret = {value for value in costs - open_values if len(value.strip("0.-£")) >= 4}
    secret |= {f"£{Decimal(int(value)) / 100:,.2f}" for value in secret if value.isdigit()}
    assert len(secret) > 100
    walked = 0
    lists = sales.get(f"{API}/price-lists").json()["items"]
    known = {"job_id": job_id, "quote_id": quote["id"], "list_id": lists[0]["id"], "section": "house",
             "room_id": owners["document"]["design"]["rooms"][0]["room_id"], "kind": "rates"}  # fmt: skip
    survey, second = household["survey"], drafted(sales, job_id)["id"]
    asked: list[tuple[str, str, Any]] = [
        ("POST", f"{API}/estimates?include=why&include=sensitivity&include=days", {"survey": survey}),
        ("POST", f"{API}/options", {"survey": survey, "choices": [{"flow_temp_c": 45}, {"flow_temp_c": 55}]}),
        ("POST", f"{API}/jobs/{job_id}/estimate?include=why", {}),
        ("GET", f"{API}/jobs/{job_id}/estimate?include=why", None),
        ("GET", f"{API}/quotes/{second}/difference?from={quote['id']}", None),
        ("GET", f"{API}/quotes/{second}/why", None),
    ]
    for path, methods in app.openapi()["paths"].items():
        if "get" in methods:
            asked.append(("GET", re.sub(r"\{(\w+)\}", lambda found: known.get(found[1], found[0]), path), None))
    for method, address, body in asked:
        answer = sales.request(method, address, json=body)
        assert answer.status_code < 500, f"{address}: {answer.text[:200]}"
        if answer.status_code != 200:
            assert body is None, f"{address}: {answer.text[:200]}"
            continue
        walked += 1
        said = answer.text
        if answer.headers["content-type"] == "application/pdf":
            said = "\n".join(page.extract_text() for page in PdfReader(io.BytesIO(answer.content)).pages)
            assert "Materials and work" in said
        for key in COST_KEYS:
            assert f'"{key}":' not in said, f"{address} holds {key}"
        words = set(re.split(r"[\s\":;=()\[\]{}]+|,(?!\d{3}\b)", said))
        assert not words & secret, f"{address} holds {sorted(words & secret)[:5]}"
    assert walked >= 18


# --- the reasons ---


def test_the_sealed_bytes_of_the_reasons_stay_apart_from_the_quote(
    own: TestClient, new_job: Callable[..., str]
) -> None:
    """Each figure of an issued quote opens with what was used; the quote itself stays narrow."""
    client, engine = own, own.app.state.engine  # type: ignore[attr-defined]
    quote = issued(client, new_job(client, survey=True))
    address = f"{API}/quotes/{quote['id']}"
    assert "why" not in quote["document"] and "why" not in client.get(f"{address}/document").json()
    whys = client.get(f"{address}/why").json()
    head = json.loads(client.get(f"{address}/document").content)["quote"]
    with reading(engine) as session:
        kept = quotes.whys_of(session, quote["id"])
        assert kept is not None
        assert hashlib.sha256(kept.body).hexdigest() == kept.sha256 == head["why_sha256"]
        assert json.loads(kept.body) == whys, "the owner sees all of it"
        packed = session.execute(text("SELECT length(body) FROM quote_why")).scalar_one()
        row = session.execute(text("SELECT length(workings) + length(document) FROM quote")).scalar_one()
    assert len(kept.body) > 5 * packed and row < 200_000
    for line in quote["document"]["bill"]["lines"]:
        numbers = {one["name"]: one["value"] for one in whys[f"bill.lines.{line['line_id']}.sell_pence"]["numbers"]}
        assert (numbers["sell_pence"], numbers["charged"]) == (line["sell_pence"], line["charged"])
    head_id = client.post(f"{API}/price-lists", json={}).json()["id"]
    client.post(f"{API}/price-lists/{head_id}/uplifts", json={"change_ratio": "0.5", "dry_run": False})
    assert client.post(f"{API}/price-lists/{head_id}/publish", json={}).status_code == 200
    assert client.get(f"{address}/why").json() == whys
    assert client.get(f"{address}/verification").json()["why_holds"] is True
    for statement in ("UPDATE quote_why SET sha256 = 'x'", "DELETE FROM quote_why"):
        with pytest.raises(DBAPIError, match="stay"), writing(engine) as session:
            session.execute(text(statement))


def test_the_reasons_of_a_re_priced_draft_are_those_of_its_present_amounts(
    own: TestClient, new_job: Callable[..., str]
) -> None:
    its = own.app.state  # type: ignore[attr-defined]
    draft = drafted(own, new_job(own, survey=True))
    address = f"{API}/quotes/{draft['id']}"
    before = own.get(f"{address}/why").json()
    head_id = own.post(f"{API}/price-lists", json={}).json()["id"]
    own.post(f"{API}/price-lists/{head_id}/uplifts", json={"change_ratio": "0.07", "dry_run": False})
    assert own.post(f"{API}/price-lists/{head_id}/publish", json={}).status_code == 200
    work_off(its.engine, its.rules_book, now=lambda: its.settings.fixed_now, today=lambda: date(2026, 3, 2))
    shown, whys = own.get(address).json(), own.get(f"{address}/why").json()
    assert shown["total_pence"] > draft["total_pence"] and whys.keys() == before.keys()
    changed = {path for path in whys if whys[path] != before[path]}
    assert changed and all(path.startswith(("bill.", "price.")) for path in changed)
    for line in shown["document"]["bill"]["lines"]:
        its_numbers = {one["name"]: one["value"] for one in whys[f"bill.lines.{line['line_id']}.sell_pence"]["numbers"]}
        assert its_numbers["sell_pence"] == line["sell_pence"]
    total = {one["name"]: one["value"] for one in whys["price.total_pence"]["numbers"]}
    assert total["total_pence"] == shown["total_pence"]
    sealed = own.post(f"{address}/issue", json=accepting_all(shown))
    assert sealed.status_code == 200, sealed.text[:300]
    assert own.get(f"{address}/why").json() == whys


def test_a_draft_of_an_earlier_release_holds_its_reasons_inside_and_is_issued_all_the_same(
    own: TestClient, new_job: Callable[..., str]
) -> None:
    engine = own.app.state.engine  # type: ignore[attr-defined]
    draft = drafted(own, new_job(own, survey=True))
    address = f"{API}/quotes/{draft['id']}"
    whys = own.get(f"{address}/why").json()
    with writing(engine) as session:
        kept = session.get_one(Quote, draft["id"])
        kept.workings = json.dumps(json.loads(kept.workings) | {"why": whys}).encode()
        session.add(kept)
        session.execute(text("DELETE FROM quote_why"))
    assert own.get(f"{address}/why").json() == whys and "why" not in own.get(address).json()["document"]
    issue = own.post(f"{address}/issue", json=accepting_all(draft))
    assert issue.status_code == 200, issue.text[:300]
    assert own.get(f"{address}/why").json() == whys
    verified = own.get(f"{address}/verification").json()
    assert (verified["document_holds"], verified["why_holds"]) == (True, None)
