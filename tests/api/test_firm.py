"""The firm's record over the wire: an offer does not go out without it, and the seal holds it as it was at issue."""

import json
from collections.abc import Callable, Iterator
from datetime import timedelta
from typing import Any

import pytest
from sqlmodel import select
from starlette.testclient import TestClient

from api.app import create_api
from api.security import create_api_key
from api.settings import Settings
from api.startup import put_demo_firm_in_force
from api.store.engine import reading, writing
from models.records import Audit, Quote, Role

API = "/api/v1"
FIRM = f"{API}/rule-sets/firm"
RECORD = {
    "name": "Any Heating Ltd",
    "address": ["1 Any Street", "Anytown"],
    "postcode": "ZZ1 1ZZ",
    "telephone": "01632 960001",
    "email": "office@any.example",
    "company_number": "SC123456",
    "registered_in": "Scotland",
    "vat_number": "GB831495816",
    "registrations": [{"scheme": "Register of gas work", "number": "12"}],
    "bank": None,
}


@pytest.fixture
def own(new_settings: Callable[..., Settings]) -> Iterator[TestClient]:
    """An owner in front of a new service that nobody told yet whose it is."""
    app = create_api(new_settings())
    key = create_api_key(app.state.engine, role=Role.OWNER, label="owner", now=app.state.settings.fixed_now)
    yield TestClient(app, headers={"Authorization": f"Bearer {key}"})
    app.state.engine.dispose()


def written(client: TestClient, record: dict[str, Any]) -> str:
    head = client.post(f"{FIRM}/drafts", json={}).json()
    saved = client.put(f"{FIRM}/drafts/{head['id']}", json={"content": {"firm": record}})
    assert saved.status_code == 200, saved.text
    return str(head["id"])


def published(client: TestClient, record: dict[str, Any], **body: Any) -> str:
    set_id = written(client, record)
    done = client.post(f"{FIRM}/drafts/{set_id}/publish", json=body)
    assert done.status_code == 200, done.text
    return set_id


def drafted(client: TestClient, new_job: Callable[..., str]) -> dict[str, Any]:
    return dict(client.post(f"{API}/jobs/{new_job(client, survey=True)}/quotes", json={}).json())


def accepting_all(draft: dict[str, Any]) -> dict[str, Any]:
    asks = [one for one in draft["findings"] if one["strength"] == "ask"]
    return {"accepted": [{"code": a["code"], "where": a["where"], "by": "A", "reason": "seen"} for a in asks]}


def test_no_offer_goes_out_before_the_firm_is_written_down_and_none_is_made_up(
    own: TestClient, new_job: Callable[..., str]
) -> None:
    draft = drafted(own, new_job)
    address = f"{API}/quotes/{draft['id']}"
    assert draft["document"]["firm"] is None and draft["total_pence"] > 0, "the price is as good without"
    assert [one["code"] for one in draft["findings"] if one["strength"] == "stop"] == ["firm_missing"]
    refused = own.post(f"{address}/issue", json=accepting_all(draft))
    assert refused.status_code == 409
    assert [one["code"] for one in refused.json()["stops"]] == ["firm_missing"]
    published(own, RECORD)
    shown = own.get(address).json()
    assert shown["document"]["firm"] == RECORD
    assert "stop" not in [one["strength"] for one in shown["findings"]]
    issued = own.post(f"{address}/issue", json=accepting_all(shown))
    assert issued.status_code == 200, issued.text
    assert own.get(f"{address}/document").json()["firm"] == RECORD


def test_a_draft_goes_out_under_the_record_of_the_day_and_keeps_it(
    own: TestClient, new_job: Callable[..., str]
) -> None:
    published(own, RECORD)
    draft = drafted(own, new_job)
    address = f"{API}/quotes/{draft['id']}"
    rules = draft["document"]["basis"]["rules_version"]
    published(own, RECORD | {"telephone": "01632 960002"})
    assert own.get(address).json()["document"]["firm"]["telephone"] == "01632 960002"
    assert own.post(f"{address}/issue", json=accepting_all(draft)).status_code == 200
    sealed = own.get(f"{address}/document").content
    published(own, RECORD | {"name": "Somebody Else"})
    assert own.get(f"{address}/document").content == sealed
    shown = own.get(address).json()["document"]
    assert shown["firm"] == json.loads(sealed)["firm"] == RECORD | {"telephone": "01632 960002"}
    # Who makes the offer is no part of what the figures rest on.
    assert json.loads(sealed)["basis"]["rules_version"] == rules
    # Erasing the customer leaves the firm, which is no data of theirs.
    erased = own.post(f"{API}/jobs/{draft['job_id']}/party/erasure", json={"reason": "asked for it"})
    assert erased.status_code == 200
    assert own.get(f"{address}/document").content == sealed


def test_what_cannot_be_right_is_refused_entry_by_entry(own: TestClient) -> None:
    head = own.post(f"{FIRM}/drafts", json={}).json()
    assert head["content"] == {"firm": {}}
    empty = own.post(f"{FIRM}/drafts/{head['id']}/publish", json={})
    assert empty.status_code == 422 and "empty" in empty.json()["detail"]
    wrong = RECORD | {"vat_number": "GB831495817", "email": "nowhere", "company_number": "12"}
    refused = own.put(f"{FIRM}/drafts/{head['id']}", json={"content": {"firm": wrong}})
    assert refused.status_code == 422
    assert {one["field"] for one in refused.json()["errors"]} == {"vat_number", "email", "company_number"}
    assert own.get(f"{FIRM}/versions/{head['id']}").json()["content"] == {"firm": {}}
    for content in ({"firm": []}, {"firm": "Any"}, {}, {"rates": {}}):
        assert own.put(f"{FIRM}/drafts/{head['id']}", json={"content": content}).status_code == 422


def test_two_editors_do_not_write_over_each_other(own: TestClient) -> None:
    set_id = own.post(f"{FIRM}/drafts", json={}).json()["id"]
    path, edition = f"{FIRM}/drafts/{set_id}", own.get(f"{FIRM}/versions/{set_id}").headers["etag"]
    first = own.put(path, json={"content": {"firm": RECORD}}, headers={"If-Match": edition})
    assert first.status_code == 200
    second = own.put(path, json={"content": {"firm": RECORD | {"name": "B"}}}, headers={"If-Match": edition})
    assert second.status_code == 412
    assert own.get(f"{FIRM}/versions/{set_id}").json()["content"]["firm"]["name"] == "Any Heating Ltd"


def test_the_record_has_versions_a_day_an_undo_and_an_audit(own: TestClient) -> None:
    published(own, RECORD)
    set_id = written(own, RECORD | {"telephone": "01632 960002", "vat_number": None})
    [row] = own.post(f"{FIRM}/drafts/{set_id}/effect").json()["rows"]
    assert row["lines_changed"] == [
        "telephone: 01632 960001 becomes 01632 960002", "no longer: VAT number, GB831495816",
    ]  # fmt: skip
    today = own.app.state.settings.fixed_now.date()  # type: ignore[attr-defined]
    later = {"valid_from": (today + timedelta(days=7)).isoformat()}
    assert own.post(f"{FIRM}/drafts/{set_id}/publish", json=later).status_code == 200
    book, engine = own.app.state.rules_book, own.app.state.engine  # type: ignore[attr-defined]
    with reading(engine) as session:
        by_day = {days: book.firm_in_force(session, today + timedelta(days=days)) for days in (0, 6, 7)}
        actions = session.exec(select(Audit.action).where(Audit.subject == set_id).order_by(Audit.at, Audit.id)).all()  # type: ignore[arg-type]
    assert [by_day[days]["telephone"][-1] for days in (0, 6, 7)] == ["1", "1", "2"]
    assert actions == ["rules_drafted", "rules_changed", "rules_published"]
    changed = own.get(f"{API}/audit", params={"subject": set_id, "action": "rules_changed"}).json()["items"][0]
    assert changed["old"] == {"telephone": "01632 960001", "VAT number": "GB831495816"}
    assert changed["new"] == {"version": "firm-0002", "telephone": "01632 960002", "VAT number": "none"}
    assert own.get(f"{API}/repricing-runs").json()["items"] == [], "no price rests on it"
    undone = own.post(f"{FIRM}/versions/{set_id}/undo")
    assert undone.status_code == 200
    with reading(engine) as session:
        assert book.firm_in_force(session, today + timedelta(days=7)) == RECORD


def test_vat_without_a_number_is_accepted_by_a_named_person_or_not_at_all(
    own: TestClient, new_job: Callable[..., str]
) -> None:
    published(own, RECORD | {"vat_number": None})
    # Priced for works after the zero rate for installed materials ends (31 March 2027), so that there is VAT.
    job_id = new_job(own, survey=True)
    draft = own.post(f"{API}/jobs/{job_id}/quotes", json={"choices": {"works_start_on": "2027-06-07"}}).json()
    assert draft["document"]["price"]["vat_pence"] > 0
    asked = [one for one in draft["findings"] if one["code"] == "firm_without_vat_number"]
    assert [one["strength"] for one in asked] == ["ask"]
    rest = {"accepted": [one for one in accepting_all(draft)["accepted"] if one["where"] != "the firm"]}
    refused = own.post(f"{API}/quotes/{draft['id']}/issue", json=rest)
    assert refused.status_code == 409 and [one["code"] for one in refused.json()["asks"]] == ["firm_without_vat_number"]
    assert own.post(f"{API}/quotes/{draft['id']}/issue", json=accepting_all(draft)).status_code == 200


def test_a_database_of_an_earlier_release_opens_and_its_drafts_wait_for_the_firm(
    new_settings: Callable[..., Settings], new_job: Callable[..., str]
) -> None:
    settings = new_settings()
    app = create_api(settings)
    key = create_api_key(app.state.engine, role=Role.OWNER, label="owner", now=settings.fixed_now)  # type: ignore[arg-type]
    draft = drafted(TestClient(app, headers={"Authorization": f"Bearer {key}"}), new_job)
    with writing(app.state.engine) as session:
        # As the release before wrote it: no rules of this kind, no such block in a kept draft.
        kept = session.get_one(Quote, draft["id"])
        document = json.loads(kept.workings)
        del document["firm"]
        kept.workings = json.dumps(document).encode()
    app.state.engine.dispose()
    again = TestClient(create_api(settings), headers={"Authorization": f"Bearer {key}"})
    address = f"{API}/quotes/{draft['id']}"
    assert again.get(address).json()["document"]["firm"] is None
    published(again, RECORD)
    shown = again.get(address).json()
    assert shown["document"]["firm"] == RECORD
    assert again.post(f"{address}/issue", json=accepting_all(shown)).status_code == 200
    again.app.state.engine.dispose()  # type: ignore[attr-defined]


def test_a_demo_puts_its_firm_in_force_once_and_never_over_a_written_one(
    new_settings: Callable[..., Settings],
) -> None:
    for own_first in (False, True):
        settings = new_settings()
        app = create_api(settings)
        now = settings.fixed_now
        assert now is not None
        key = create_api_key(app.state.engine, role=Role.OWNER, label="owner", now=now)
        client = TestClient(app, headers={"Authorization": f"Bearer {key}"})
        if own_first:
            published(client, RECORD)
        for _ in range(2):
            put_demo_firm_in_force(app.state.engine, settings, now=now)
        with reading(app.state.engine) as session:
            firm = app.state.rules_book.firm_in_force(session, now.date())
        assert firm["name"] == ("Any Heating Ltd" if own_first else "Hobbleworth Warm Works Ltd")
        assert len(client.get(FIRM).json()["items"]) == 1
        app.state.engine.dispose()
