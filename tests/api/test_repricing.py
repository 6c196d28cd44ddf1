"""Open drafts under new prices: the same amounts as a second route, nothing lost by a kill, choices that are others."""

import json
import threading
from collections.abc import Callable, Iterator
from datetime import date, timedelta
from decimal import ROUND_HALF_UP, Decimal
from typing import Any

import pytest
from sqlalchemy import text
from starlette.testclient import TestClient

from api.app import create_api
from api.security import create_api_key
from api.services import repricing
from api.services.repricing import DIFFERS, work_off
from api.settings import Settings
from api.store.engine import reading, writing
from api.store.seed_files import demo_households
from models.estimate import Choices, estimate
from models.records import Quote, Role
from models.survey import Survey

API = "/api/v1"
TODAY = date(2026, 3, 2)
AMOUNTS = ("net_pence", "vat_pence", "total_pence", "grant_pence", "customer_pays_pence")


@pytest.fixture
def owner(new_settings: Callable[..., Settings]) -> Iterator[TestClient]:
    """The owner in front of a new database. No background: the tests say when it works."""
    app = create_api(new_settings())
    key = create_api_key(app.state.engine, role=Role.OWNER, label="owner", now=app.state.settings.fixed_now)
    yield TestClient(app, headers={"Authorization": f"Bearer {key}"})
    app.state.engine.dispose()


def drafted(client: TestClient, place: int = 0, **choices: Any) -> str:
    household = demo_households()[place]
    job = client.post(f"{API}/jobs", json={"label": "12 Any Lane"}).json()["id"]
    assert client.put(f"{API}/jobs/{job}/survey", json=household["survey"]).status_code == 200
    wanted = {"choices": household.get("choices", {}) | choices}
    made = client.post(f"{API}/jobs/{job}/quotes", json=wanted)
    assert made.status_code == 201, made.text
    return str(made.json()["id"])


def state(client: TestClient) -> Any:
    return client.app.state  # type: ignore[attr-defined]


def work(client: TestClient, on: date = TODAY) -> int:
    its = state(client)
    return work_off(its.engine, its.rules_book, now=lambda: its.settings.fixed_now, today=lambda: on)


def publish(client: TestClient, changes: dict[str, dict[str, str]], **body: Any) -> str:
    head = client.post(f"{API}/price-lists", json={}).json()["id"]
    for sku, cells in changes.items():
        saved = client.put(f"{API}/price-lists/{head}/lines/{sku}", json=cells)
        assert saved.status_code in (200, 201), saved.text
    done = client.post(f"{API}/price-lists/{head}/publish", json=body)
    assert done.status_code == 200, done.text
    return str(head)


def uplift(client: TestClient, ratio: str) -> str:
    head = client.post(f"{API}/price-lists", json={}).json()["id"]
    done = client.post(f"{API}/price-lists/{head}/uplifts", json={"change_ratio": ratio, "dry_run": False})
    assert done.status_code == 200, done.text
    assert client.post(f"{API}/price-lists/{head}/publish", json={}).status_code == 200
    return str(head)


def quote(client: TestClient, quote_id: str) -> dict[str, Any]:
    found = client.get(f"{API}/quotes/{quote_id}")
    assert found.status_code == 200, found.text
    return dict(found.json())


def run(client: TestClient) -> dict[str, Any]:
    return dict(client.get(f"{API}/repricing-runs").json()["items"][0])


def basis(client: TestClient, quote_id: str) -> Any:
    with reading(state(client).engine) as session:
        return repricing.basis_of(session, quote_id)


def test_amounts_are_those_of_a_second_route(owner: TestClient) -> None:
    """What a whole estimate of the same house comes to under the new list, and the goods summed again in Decimal."""
    ids = [drafted(owner, place, flow_temp_c=55) for place in range(3)]
    before = [quote(owner, one) for one in ids]
    uplift(owner, "0.07")
    work(owner)
    done = run(owner)
    assert (done["state"], done["total"], done["done"]) == ("done", len(ids), len(ids))
    its = state(owner)
    for place, (quote_id, was) in enumerate(zip(ids, before, strict=True)):
        now = quote(owner, quote_id)
        if was["total_pence"] is None:
            assert now["total_pence"] is None
            continue
        household = demo_households()[place]
        choices = Choices.model_validate(household.get("choices", {}) | {"flow_temp_c": 55})
        with reading(its.engine) as session:
            rules = its.rules_book.in_force(session, TODAY)
        fresh = estimate(
            Survey.model_validate(household["survey"]), choices, rules, today=TODAY, effort="thorough"
        )
        assert fresh.price is not None and fresh.bill is not None
        bought = {line.sku: line.charged for line in fresh.bill.lines}
        if bought == {line["sku"]: Decimal(line["charged"]) for line in was["document"]["bill"]["lines"]}:
            assert [now[name] for name in AMOUNTS] == [getattr(fresh.price, name) for name in AMOUNTS]
        goods = Decimal(0)
        for line in now["document"]["bill"]["lines"]:
            unit = rules.price_list.lines[line["sku"]]
            margin = Decimal(0) if unit.cost_gbp <= 0 else rules.rates.margin_ratio_by_class[unit.margin_class]
            sell = (unit.cost_gbp / (1 - margin)).quantize(Decimal("0.0001"), ROUND_HALF_UP)
            amount = (sell * Decimal(line["charged"]) * 100).quantize(Decimal(1), ROUND_HALF_UP)
            assert line["sell_pence"] == amount, line["sku"]
            goods += amount
        document = now["document"]
        assert document["bill"]["sell_pence"] == goods
        assert document["price"]["net_pence"] == goods + sum(part["sell_pence"] for part in document["price"]["parts"])
        assert document["price"]["total_pence"] == now["total_pence"] != was["total_pence"]
        assert document["basis"]["price_list_version"] == rules.price_list.version
        # Quantities and hours stay.
        assert [line["charged"] for line in document["bill"]["lines"]] == [
            line["charged"] for line in was["document"]["bill"]["lines"]
        ]
        assert document["labour_plan"] == was["document"]["labour_plan"]


def test_the_list_that_a_draft_was_made_by_changes_no_amount(owner: TestClient) -> None:
    quote_id = drafted(owner)
    was = quote(owner, quote_id)
    publish(owner, {})
    work(owner)
    now = quote(owner, quote_id)
    assert [now[name] for name in AMOUNTS] == [was[name] for name in AMOUNTS]
    assert now["document"]["bill"] == was["document"]["bill"]
    assert run(owner)["changed"] == 0
    assert basis(owner, quote_id).choice == "same"


def test_an_issued_quote_and_one_of_another_day_stay(owner: TestClient) -> None:
    fixed = drafted(owner, priced_on="2026-03-01")
    withdrawn = drafted(owner)
    assert owner.post(f"{API}/quotes/{withdrawn}/withdraw", json={"reason": "no longer wanted"}).status_code == 200
    before = {one: quote(owner, one) for one in (fixed, withdrawn)}
    uplift(owner, "0.10")
    work(owner)
    assert {one: quote(owner, one)["total_pence"] for one in before} == {
        one: was["total_pence"] for one, was in before.items()
    }


def test_a_list_for_later_waits_for_its_day(owner: TestClient) -> None:
    quote_id = drafted(owner)
    total = quote(owner, quote_id)["total_pence"]
    first_day = TODAY + timedelta(days=20)
    publish(owner, {"UNT-060": {"cost_gbp": "9000"}, "UNT-080": {"cost_gbp": "9000"}}, valid_from=first_day.isoformat())
    assert work(owner) == 0
    assert run(owner)["state"] == "waiting"
    assert quote(owner, quote_id)["total_pence"] == total
    assert work(owner, first_day) >= 1
    assert run(owner)["state"] == "done"


def test_a_kill_at_any_point_is_resumed_without_loss_or_doubling(
    owner: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    ids = [drafted(owner) for _ in range(5)]
    uplift(owner, "0.05")
    monkeypatch.setattr(repricing, "BATCH", 2)
    its = state(owner)
    real = repricing.Repricer.price_of
    calls = 0

    class Killed(BaseException):
        pass

    def dies(self: Any, draft: Any, **how: Any) -> Any:
        nonlocal calls
        calls += 1
        if calls in (2, 6):
            raise Killed
        return real(self, draft, **how)

    monkeypatch.setattr(repricing.Repricer, "price_of", dies)
    seen = []
    for _ in range(3):
        try:
            work(owner)
            break
        except Killed:
            # Whole batches or nothing: the cursor stands where the drafts stand.
            with reading(its.engine) as session:
                done = session.connection().execute(text("SELECT done FROM repricing_run")).scalar_one()
                new = session.connection().execute(
                    text("SELECT count(*) FROM draft_basis WHERE document_stale = :yes"), {"yes": True}
                ).scalar_one()
            assert done == new and done % 2 == 0
            seen.append(done)
    assert seen == [0, 2]
    finished = run(owner)
    assert (finished["state"], finished["done"], finished["total"]) == ("done", 5, 5)
    assert len({quote(owner, one)["total_pence"] for one in ids}) == 1
    assert work(owner) == 0


def test_two_processes_take_turns(owner: TestClient, monkeypatch: pytest.MonkeyPatch) -> None:
    ids = [drafted(owner) for _ in range(6)]
    uplift(owner, "0.05")
    monkeypatch.setattr(repricing, "BATCH", 1)
    faults: list[BaseException] = []

    def one() -> None:
        try:
            work(owner)
        except BaseException as fault:
            faults.append(fault)

    threads = [threading.Thread(target=one) for _ in range(2)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert faults == []
    done = run(owner)
    assert (done["state"], done["done"], done["changed"]) == ("done", 6, 6)
    assert len({quote(owner, one_id)["total_pence"] for one_id in ids}) == 1


def test_a_cheaper_rival_is_said(owner: TestClient) -> None:
    """Another unit of the same size class becomes far cheaper: the draft says what a fresh estimate would choose."""
    quote_id = drafted(owner)
    chosen = quote(owner, quote_id)["document"]["design"]["outdoor_unit"]["sku"]
    flow = quote(owner, quote_id)["document"]["design"]["flow_temp_c"]
    radiators = [line for line in _lines(owner) if line["sku"].startswith("RAD-")]
    publish(owner, {line["sku"]: {"cost_gbp": "0.01"} for line in radiators})
    work(owner)
    after = basis(owner, quote_id)
    assert after.choice == "differs"
    said = repricing.choice_words(after)
    assert said[0] == DIFFERS
    its = state(owner)
    with reading(its.engine) as session:
        rules = its.rules_book.in_force(session, TODAY)
    fresh = estimate(Survey.model_validate(demo_households()[0]["survey"]),
                     Choices.model_validate(demo_households()[0].get("choices", {})), rules, today=TODAY)  # fmt: skip
    if fresh.design.flow.flow_temp_c != flow:
        assert any("flow temperature" in one for one in said), said
    if fresh.design.unit.unit is not None and fresh.design.unit.unit.sku != chosen:
        assert any(fresh.design.unit.unit.sku in one for one in said), said
    assert run(owner)["differ"] == 1


def _lines(client: TestClient) -> list[dict[str, Any]]:
    list_id = client.get(f"{API}/price-lists").json()["items"][0]["id"]
    found: list[dict[str, Any]] = []
    cursor = None
    while True:
        params = {"limit": 100} | ({"cursor": cursor} if cursor else {})
        page = client.get(f"{API}/price-lists/{list_id}/lines", params=params).json()
        found += page["items"]
        cursor = page["next_cursor"]
        if cursor is None:
            return found


def test_a_radiator_that_is_no_longer_sold_names_its_substitute_and_is_checked_against_its_room(
    owner: TestClient,
) -> None:
    quote_id = drafted(owner, flow_temp_c=55)
    rooms = quote(owner, quote_id)["document"]["design"]["rooms"]
    used = [step["sku"] for room in rooms for step in room["emitter_steps"] if step["sku"]]
    assert used, "the demo house needs new radiators at 55 °C"
    gone = used[0]
    others = [line["sku"] for line in _lines(owner) if line["role"] == "emitter" and line["sku"] not in used]
    total = quote(owner, quote_id)["total_pence"]
    publish(owner, {gone: {"ends_on": "2026-03-01", "substitute": others[0]}})
    work(owner)
    after = basis(owner, quote_id)
    said = " ".join(repricing.choice_words(after))
    assert gone in after.note and quote(owner, quote_id)["total_pence"] == total
    assert after.choice == "differs"
    assert f"{gone} was sold until 01 March 2026, {others[0]} is its substitute" in said
    fresh = quote(owner, drafted(owner, flow_temp_c=55))["document"]["design"]["rooms"]
    for room in fresh:
        assert gone not in [step["sku"] for step in room["emitter_steps"]]
        # Checked again: whatever was chosen instead covers the room, or the room says by how much it is short.
        assert room["emitter_output_w"] + room["emitter_short_w"] >= room["heat_loss_w"] - 0.5


def test_settling_writes_what_was_shown(owner: TestClient) -> None:
    quote_id = drafted(owner)
    uplift(owner, "0.03")
    work(owner)
    shown = quote(owner, quote_id)["document"]
    its = state(owner)
    with writing(its.engine) as session:
        record = session.get_one(Quote, quote_id)
        repricing.settle(session, record, its.rules_book)
    with reading(its.engine) as session:
        record = session.get_one(Quote, quote_id)
        kept = json.loads(record.workings)
        assert repricing.current_workings(session, record, its.rules_book) == record.workings
    assert kept["price"]["total_pence"] == shown["price"]["total_pence"]
    assert kept["bill"] == shown["bill"]
    assert not basis(owner, quote_id).document_stale
