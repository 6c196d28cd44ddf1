"""Nothing that is published, edited, restarted or erased later changes an issued quote: its bytes are compared.

The database is the same throughout; prices, recipes, tasks, rates, crews, calendars, stage plans and the record of the
firm are published over the wire, tax rates and defaults of the code change with a new process. Runs on both databases.
"""

import hashlib
import json
from collections.abc import Callable
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest
from starlette.testclient import TestClient

import models.document
import models.estimate
from api.app import create_api
from api.security import create_api_key
from api.services.rules import RulesBook
from api.settings import Settings
from api.startup import put_demo_firm_in_force
from models.records import Role
from models.reference import money_rules
from models.rules import Rules

API = "/api/v1"
TODAY = date(2026, 3, 2)
SEALED = (".pdf", ".csv", ".ubl.xml", "/document", "/why", "/days", "/difference", "/verification", "/variations")


def served(settings: Settings) -> TestClient:
    app = create_api(settings)
    put_demo_firm_in_force(app.state.engine, settings, now=settings.fixed_now)  # type: ignore[arg-type]
    key = create_api_key(app.state.engine, role=Role.OWNER, label="owner", now=settings.fixed_now)  # type: ignore[arg-type]
    return TestClient(app, headers={"Authorization": f"Bearer {key}"})


def issued(client: TestClient, job_id: str, **choices: Any) -> dict[str, Any]:
    draft = client.post(f"{API}/jobs/{job_id}/quotes", json={"choices": choices}).json()
    asks = [one for one in draft["findings"] if one["strength"] == "ask"]
    named = [{"code": a["code"], "where": a["where"], "by": "A. Owner", "reason": "seen"} for a in asks]
    answer = client.post(f"{API}/quotes/{draft['id']}/issue", json={"accepted": named})
    assert answer.status_code == 200, answer.text[:300]
    return dict(answer.json())


def everything(client: TestClient, quote: dict[str, Any]) -> dict[str, bytes]:
    """The bytes of every address that shows an issued quote."""
    address = f"{API}/quotes/{quote['id']}"
    shown = {}
    for part in ("", *SEALED, "/why?path=price."):
        answer = client.get(f"{address}{part}")
        assert answer.status_code == 200, f"{part}: {answer.text[:200]}"
        shown[part] = answer.content
    feed = client.get(f"{API}/quotes", params={"limit": 500}).json()["items"]
    shown["feed"] = json.dumps([one for one in feed if one["quote"]["id"] == quote["id"]]).encode()
    return shown


def publish_prices(client: TestClient) -> None:
    head = client.post(f"{API}/price-lists", json={}).json()["id"]
    raised = client.post(f"{API}/price-lists/{head}/uplifts", json={"change_ratio": "0.5", "dry_run": False})
    assert raised.status_code == 200
    assert client.post(f"{API}/price-lists/{head}/publish", json={}).status_code == 200


def publish_rules(client: TestClient, kind: str, change: Callable[[dict[str, Any]], None]) -> None:
    head = client.post(f"{API}/rule-sets/{kind}/drafts", json={}).json()
    content = head["content"]
    change(content)
    saved = client.put(f"{API}/rule-sets/{kind}/drafts/{head['id']}", json={"content": content})
    assert saved.status_code == 200, saved.text[:300]
    done = client.post(f"{API}/rule-sets/{kind}/drafts/{head['id']}/publish", json={})
    assert done.status_code == 200, done.text[:300]


def longer_hours(content: dict[str, Any]) -> None:
    for row in content["hours"]:
        row["amount"] = str(Decimal(row["amount"]) * Decimal("1.5"))


def more_parts(content: dict[str, Any]) -> None:
    for row in content["recipes"]:
        if row["part"].startswith("sku:") and row["amount"]:
            row["amount"] = str(Decimal(row["amount"]) * 2)


def other_rates(content: dict[str, Any]) -> None:
    for trade in content["rates"]["labour"].values():
        trade["cost_gbp_per_h"] = str(Decimal(trade["cost_gbp_per_h"]) * 2)


def another_firm(content: dict[str, Any]) -> None:
    content["firm"] |= {"name": "Quite Another Trader Ltd", "telephone": "01632 960999", "vat_number": None}


def other_reference(real: Callable[..., Rules]) -> Callable[..., Rules]:
    """Every rate of VAT 20 % and every grant £1, as a later release of the reference tables might say."""

    def changed(self: RulesBook, *given: Any, **named: Any) -> Rules:
        rules = real(self, *given, **named)
        money = money_rules.load_money_rules()
        vat = {
            name: replace(one, values=tuple(replace(v, value="0.20") for v in one.values))
            for name, one in money.vat.items()
        }
        return replace(rules, money=replace(money, vat=vat))

    return changed


def test_the_sealed_bytes_stay_whatever_is_published_restarted_or_defaulted_later(
    new_settings: Callable[..., Settings], new_job: Callable[..., str], monkeypatch: pytest.MonkeyPatch
) -> None:
    settings = new_settings()
    client = served(settings)
    job_id = new_job(client, survey=True)
    issued(client, job_id, flow_temp_c=50)
    quote = issued(client, job_id)
    before = everything(client, quote)
    assert hashlib.sha256(before["/document"]).hexdigest() == quote["document_sha256"]
    fresh = client.post(f"{API}/jobs/{job_id}/estimate", json={}).json()["price"]["total_pence"]

    def unchanged(what: str) -> None:
        after = everything(client, quote)
        assert {part for part in before if after[part] != before[part]} == set(), what

    seen = {fresh}

    def moves_a_fresh_estimate(what: str) -> None:
        """What was published does change what is worked out from now on, so that the comparison says something."""
        now = client.post(f"{API}/jobs/{job_id}/estimate", json={}).json()["price"]["total_pence"]
        assert now not in seen, what
        seen.add(now)

    publish_prices(client)
    unchanged("prices")
    moves_a_fresh_estimate("prices")
    for kind, change in (("labour_tasks", longer_hours), ("recipes", more_parts), ("rates", other_rates)):
        publish_rules(client, kind, change)
        unchanged(kind)
        moves_a_fresh_estimate(kind)
    publish_rules(client, "firm", another_firm)
    unchanged("the firm's record")
    sealed_firm = json.loads(before["/document"])["firm"]
    shown = json.loads(everything(client, quote)[""])["document"]["firm"]
    assert (sealed_firm["name"], shown) == ("Hobbleworth Warm Works Ltd", sealed_firm)
    fresh_firm = client.post(f"{API}/jobs/{job_id}/estimate", json={}).json()["firm"]
    assert (fresh_firm["name"], fresh_firm["vat_number"]) == ("Quite Another Trader Ltd", None)
    # A new process whose reference tables and defaults are others, on a later day, beyond the last day of the offer.
    client.app.state.engine.dispose()  # type: ignore[attr-defined]
    monkeypatch.setattr(RulesBook, "in_force", other_reference(RulesBook.in_force))
    monkeypatch.setattr(models.estimate, "CANDIDATE_FLOW_TEMPS_C", (55.0,))
    monkeypatch.setattr(models.document, "DOCUMENT_VERSION", 99)
    now = settings.fixed_now
    assert now is not None
    client = served(settings.model_copy(update={"fixed_now": now, "quote_valid_days": 1}))
    unchanged("another process, other tax rates and other defaults")
    moves_a_fresh_estimate("tax rates and defaults")
    # And a later revision of the job: of the first only its state and its events move, its bytes do not.
    assert issued(client, job_id)["number"] == f"{quote['number'].rpartition('-')[0]}-3"
    after = everything(client, quote)
    for part in SEALED:
        assert after[part] == before[part], part
    assert json.loads(after[""])["state"] == "superseded"
    # The customer is erased: what names them is gone, the rest is byte for byte what it was.
    done = client.post(f"{API}/jobs/{job_id}/party/erasure", json={"reason": "asked for it"})
    assert done.status_code == 200
    after = everything(client, quote)
    assert after["/document"] == before["/document"] and after["/why"] == before["/why"]
    assert json.loads(after["/document"])["firm"] == sealed_firm
    # Of PDF and UBL the copy that never held the name; its hash is the one that was told at issue.
    assert after[".csv"] == before[".csv"] and after[".pdf"] != before[".pdf"]
    audited = client.get(f"{API}/audit", params={"subject": quote["id"], "action": "quote_issued"}).json()
    told = audited["items"][0]["new"]
    assert hashlib.sha256(after[".pdf"]).hexdigest() == told["pdf_sha256"]
    assert hashlib.sha256(after[".ubl.xml"]).hexdigest() == told["ubl_sha256"]
    verified = json.loads(after["/verification"])
    assert (verified["document_holds"], verified["why_holds"], verified["party_holds"]) == (True, True, None)
    assert b"A. Customer" in before[""] and b"A. Customer" not in b"".join(after.values())
    client.app.state.engine.dispose()  # type: ignore[attr-defined]


def test_after_its_last_day_an_issued_quote_says_that_it_is_over(
    new_settings: Callable[..., Settings], new_job: Callable[..., str]
) -> None:
    settings = new_settings()
    client = served(settings)
    quote = issued(client, new_job(client, survey=True))
    assert quote["over"] is False
    now, last = settings.fixed_now, date.fromisoformat(quote["valid_until"])
    assert now is not None
    for days, over in ((0, False), (1, True)):
        later = served(settings.model_copy(update={"fixed_now": now + (last - TODAY) + timedelta(days=days)}))
        shown = later.get(f"{API}/quotes/{quote['id']}").json()
        # Nobody said anything, so no event is made up: the state is the last event, and `over` says what it means.
        assert (shown["state"], shown["over"]) == ("issued", over)
        assert later.get(f"{API}/quotes").json()["items"][-1]["quote"]["over"] is over
    assert later.post(f"{API}/quotes/{quote['id']}/accept", json={}).status_code == 409
    shown = later.get(f"{API}/quotes/{quote['id']}").json()
    assert (shown["state"], shown["over"]) == ("lapsed", False)
