"""A file of prices over the wire: shown first, ticked, taken into a draft, published, undone."""

from collections.abc import Callable, Iterator
from time import process_time
from typing import Any

import pytest
from starlette.testclient import TestClient

from api.app import create_api
from api.security import create_api_key
from api.settings import Settings
from models.records import Role

API = "/api/v1"
CSV = {"content-type": "text/csv"}


@pytest.fixture(scope="module")
def office(new_settings: Callable[..., Settings]) -> Iterator[TestClient]:
    """The office in front of a database of its own."""
    app = create_api(new_settings())
    key = create_api_key(app.state.engine, role=Role.OFFICE, label="office", now=app.state.settings.fixed_now)
    with TestClient(app, headers={"Authorization": f"Bearer {key}"}) as client:
        yield client


def first_list(office: TestClient) -> str:
    items = office.get(f"{API}/price-lists").json()["items"]
    return str(next(one["id"] for one in items if one["state"] == "published"))


def sent(office: TestClient, list_id: str, data: str | bytes, **params: Any) -> dict[str, Any]:
    body = data.encode() if isinstance(data, str) else data
    done = office.post(f"{API}/price-lists/{list_id}/imports", content=body, params=params, headers=CSV)
    assert done.status_code == 200, done.text
    return dict(done.json())


def count(office: TestClient) -> int:
    return len(office.get(f"{API}/price-lists").json()["items"])


def test_dry_run_writes_nothing_and_the_tick_is_needed(office: TestClient) -> None:
    list_id, lists = first_list(office), count(office)
    # 2480 to 2860 is 15.3 %, 3210 stays or goes to 2920 + 1 %: 2949.20, by hand.
    text = "sku,cost_gbp\nUNT-060,2860\nUNT-080,2949.20\nUNT-040,two\n"
    shown = sent(office, list_id, text)
    assert shown["dry_run"] and shown["price_list"] is None
    assert [(one["sku"], one["change_ratio"], one["needs_tick"]) for one in shown["changed"]] == [
        ("UNT-060", "0.153226", True),
        ("UNT-080", "0.010000", False),
    ]
    assert shown["rejected"] == [{"row": 4, "sku": "UNT-040", "reason": "cost_gbp 'two' is not a number"}]
    assert count(office) == lists
    done = sent(office, list_id, text, dry_run="false")
    assert done["held_back"] == ["UNT-060"]
    draft = done["price_list"]
    assert draft["state"] == "draft" and draft["based_on"] == list_id
    ticked = sent(office, draft["id"], text, dry_run="false", ticked=["UNT-060"])
    assert ticked["held_back"] == [] and ticked["price_list"]["id"] == draft["id"]
    # The same file once more changes nothing, and makes no draft.
    again = sent(office, draft["id"], text, dry_run="false", ticked=["UNT-060"])
    assert again["price_list"] is None and again["changed"] == [] and again["unchanged_count"] == 2
    assert count(office) == lists + 1


def test_a_file_that_changes_nothing_makes_no_draft(office: TestClient) -> None:
    list_id, lists = first_list(office), count(office)
    exported = office.get(f"{API}/price-lists/{list_id}/lines.csv")
    assert exported.headers["content-type"].startswith("text/csv")
    done = sent(office, list_id, exported.content, dry_run="false")
    assert (done["added"], done["changed"], done["rejected"]) == ([], [], [])
    assert done["price_list"] is None and done["untouched_count"] == 0
    assert count(office) == lists
    confirmed = sent(office, list_id, exported.content, dry_run="false", confirm="true")
    assert confirmed["price_list"]["state"] == "draft"


def test_a_form_with_a_file_works_like_the_bare_body(office: TestClient) -> None:
    path = f"{API}/price-lists/{first_list(office)}/imports"
    done = office.post(path, files={"file": ("spring.csv", b"sku;cost_gbp\nUNT-060;2490\n", "text/csv")})
    assert done.status_code == 200, done.text
    assert [one["new_cost_gbp"] for one in done.json()["changed"]] == ["2490.0000"]
    assert office.post(path, files={"other": b"x"}).status_code == 422
    assert office.post(path, content=b"", headers=CSV).status_code == 422
    assert office.post(path, content=b"{}", headers={"content-type": "application/json"}).status_code == 415
    broken = office.post(path, content=b"price\n1\n", headers=CSV)
    assert broken.status_code == 422 and "there is no column price" in broken.json()["detail"]


def test_a_key_makes_one_draft(office: TestClient) -> None:
    path = f"{API}/price-lists/{first_list(office)}/imports"
    lists = count(office)
    headers = CSV | {"Idempotency-Key": "spring"}
    answers = [
        office.post(path, content=b"sku,cost_gbp\nUNT-030,1900\n", params={"dry_run": "false"}, headers=headers)
        for _ in range(2)
    ]
    assert answers[0].json() == answers[1].json()
    assert count(office) == lists + 1
    other = office.post(path, content=b"sku,cost_gbp\nUNT-030,1901\n", params={"dry_run": "false"}, headers=headers)
    assert other.status_code == 409


def test_import_publish_undo(office: TestClient) -> None:
    list_id = first_list(office)
    draft = sent(office, list_id, "sku,cost_gbp\nUNT-030,1950\n", dry_run="false")["price_list"]
    assert draft is not None
    published = office.post(f"{API}/price-lists/{draft['id']}/publish", json={})
    assert published.status_code == 200, published.text
    undone = office.post(f"{API}/price-lists/{draft['id']}/undo").json()
    before = office.get(f"{API}/price-lists/{list_id}/lines.csv").content
    after = office.get(f"{API}/price-lists/{undone['id']}/lines.csv").content
    assert before == after


def test_50_000_rows_are_taken_within_seconds(office: TestClient, say: Callable[[str], None]) -> None:
    head = "sku,group,description,unit,pack_size,cost_gbp,supplier,supplier_code,lead_time_days,held,margin_class,"
    head += "vat_class,sales_nominal,charged_by"
    rows = [f"BIG-{n},Pipe,Part {n},each,1,{n % 90 + 1}.10,Fenwold,F{n},2,stock,PIPE,installed,4001,pack"
            for n in range(50_000)]  # fmt: skip
    data = "\n".join([head, *rows]).encode()
    started = process_time()
    done = sent(office, first_list(office), data, dry_run="false")
    took_s = process_time() - started
    assert len(done["added"]) == 50_000
    draft = done["price_list"]["id"]
    started = process_time()
    again = sent(office, draft, data, dry_run="false")
    again_s = process_time() - started
    assert (again["changed"], again["added"], again["unchanged_count"]) == ([], [], 50_000)
    started = process_time()
    assert office.post(f"{API}/price-lists/{draft}/publish", json={}).status_code == 200
    publish_s = process_time() - started
    say(
        f"50,000 new rows into a draft: {took_s:.1f} s of this process; the same file again: {again_s:.1f} s; "
        f"published: {publish_s:.1f} s"
    )
    # Far from what it takes: what grows with the square of the rows took minutes.
    assert max(took_s, again_s, publish_s) < 60
