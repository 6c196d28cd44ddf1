"""Recipes, labour tasks, rates, crews, calendars and stage plans by version: refused, tried out, published, undone."""

import copy
from collections.abc import Callable, Iterator
from datetime import date, timedelta
from typing import Any

import pytest
from starlette.testclient import TestClient

from api.app import create_api
from api.security import create_api_key
from api.services import rule_sets as service
from api.services.repricing import work_off
from api.settings import Settings
from api.store.engine import reading
from api.store.seed_files import TABLES_OF_KIND, contents_of_folder, demo_households
from models.records import Role

API = "/api/v1/rule-sets"
TODAY = date(2026, 3, 2)
Content = dict[str, Any]


@pytest.fixture(scope="module")
def office(new_settings: Callable[..., Settings]) -> Iterator[TestClient]:
    """The office in front of a database of its own."""
    app = create_api(new_settings())
    key = create_api_key(app.state.engine, role=Role.OFFICE, label="office", now=app.state.settings.fixed_now)
    yield TestClient(app, headers={"Authorization": f"Bearer {key}"})
    app.state.engine.dispose()


def draft(office: TestClient, kind: str) -> tuple[str, Content]:
    made = office.post(f"{API}/{kind}/drafts", json={})
    assert made.status_code == 201, made.text
    return str(made.json()["id"]), copy.deepcopy(made.json()["content"])


def save(office: TestClient, kind: str, set_id: str, content: Content) -> Any:
    return office.put(f"{API}/{kind}/drafts/{set_id}", json={"content": content})


def effect(office: TestClient, kind: str, set_id: str) -> list[dict[str, Any]]:
    shown = office.post(f"{API}/{kind}/drafts/{set_id}/effect")
    assert shown.status_code == 200, shown.text
    return list(shown.json()["rows"])


def estimated(office: TestClient, place: int = 0) -> dict[str, Any]:
    household = demo_households()[place]
    body = {"survey": household["survey"], "choices": household.get("choices", {})}
    done = office.post("/api/v1/estimates", json=body)
    assert done.status_code == 200, done.text
    return dict(done.json())


def test_every_kind_is_seeded_from_the_firms_files(office: TestClient) -> None:
    items = office.get(API).json()["items"]
    assert [one["kind"] for one in items] == list(TABLES_OF_KIND)
    # Nobody's firm is made up: until the office writes it down there is none.
    assert items.pop() == {"kind": "firm", "tables": ["firm"], "in_force": None}
    for one in items:
        found = office.get(f"{API}/{one['kind']}/versions/{one['in_force']['id']}").json()
        assert found["state"] == "published"
        assert found["content"] == contents_of_folder()[one["kind"]]


def first(table: str, **cells: str) -> Callable[[Content], None]:
    """A change of the first row of a table."""
    return lambda content: content[table][0].update(cells)


def entry(table: str, *path: str, value: Any) -> Callable[[Content], None]:
    """A change of an entry of a document."""

    def change(content: Content) -> None:
        node = content[table]
        for name in path[:-1]:
            node = node[name]
        node[path[-1]] = value

    return change


@pytest.mark.parametrize(
    ("kind", "change", "said"),
    [
        ("recipes", first("recipes", driver="unicorns"), "recipes.csv, row 2: there is no quantity 'unicorns'"),
        ("recipes", first("recipes", part="sku:NOT-THERE"), "recipes.csv, row 2: SKU NOT-THERE is not in price list"),
        ("recipes", first("recipes", part="chosen:spaceship"), "recipes.csv, row 2: the design chooses no 'spaceship'"),
        ("recipes", first("recipes", flag_1="moonlight"), "recipes.csv, row 2: there is no flag 'moonlight'"),
        ("recipes", first("recipes", amount="two"), "recipes.csv, row 2: amount 'two' is not a number"),
        ("recipes", first("recipes", colour="red"), "recipes.csv, row 2: there is no column colour"),
        ("labour_tasks", first("hours", task="DANCE"), "task_hours.csv, row 2"),
        ("labour_tasks", first("hours", driver="unicorns"), "task_hours.csv, row 2"),
        ("labour_tasks", first("order", after="DANCE"), "task_order.csv, row 2"),
        ("labour_tasks", first("factors", flag="moonlight"), "task_factors.csv, row 2"),
        ("labour_tasks", first("first_used", task="DANCE"), "first_used.csv, row 2: no task is called 'DANCE'"),
        ("labour_tasks", first("first_used", group="Kites"), "first_used.csv, row 2: no line of the price list"),
        ("labour_tasks", first("tasks", trade="juggler"), "labour_tasks.csv, row 2"),
        ("rates", entry("rates", "margin_ratio_by_class", "PIPE", value="1.2"), "PIPE is 1.2"),
        ("rates", entry("rates", "labour", "engineer", "cost_gbp_per_h", value="lots"), "'lots' is not a number"),
        ("stage_plans", entry("stages", "deposit_ratio", value="-0.1"), "deposit_ratio is -0.1"),
        ("crews", entry("crews", "usual_crew", value=9), "crew"),
        ("crews", entry("crews", "day", "start", value="soon"), "day"),
        ("calendars", first("bank_holidays", on="Easter"), "bank_holidays.csv, row 2: on 'Easter' is no date"),
        ("calendars", entry("waiting_times", "laboratory_days", value="a while"), "laboratory_days"),
        ("calendars", entry("waiting_times", "moon_days", value=3), "moon_days"),
    ],
)
def test_a_row_that_names_something_unknown_is_refused_with_its_place(
    office: TestClient, kind: str, change: Callable[[Content], None], said: str
) -> None:
    set_id, content = draft(office, kind)
    change(content)
    refused = save(office, kind, set_id, content)
    assert refused.status_code == 422, refused.text
    assert said in refused.json()["detail"]
    assert office.get(f"{API}/{kind}/versions/{set_id}").json()["content"] == contents_of_folder()[kind]


def test_a_rate_is_tried_out_published_and_undone(office: TestClient) -> None:
    before = estimated(office)
    set_id, content = draft(office, "rates")
    content["rates"]["labour"]["engineer"]["cost_gbp_per_h"] = "40.50"
    assert save(office, "rates", set_id, content).status_code == 200
    assert estimated(office)["price"] == before["price"]
    rows = effect(office, "rates", set_id)
    assert [row["what"] for row in rows] == ["household"] * 3
    row = rows[0]
    assert row["total_before_pence"] == before["price"]["total_pence"] < row["total_after_pence"]
    assert row["days_before"] == row["days_after"]
    assert any("Labour, engineer" in line for line in row["lines_changed"])
    published = office.post(f"{API}/rates/drafts/{set_id}/publish", json={})
    assert published.status_code == 200, published.text
    after = estimated(office)
    assert after["price"]["total_pence"] == row["total_after_pence"]
    # 40.50 with a margin of 0.38 of the selling price is 40.50 / 0.62 = 65.3226, by hand.
    (labour,) = [part for part in after["price"]["parts"] if part["code"] == "labour_engineer"]
    assert labour["unit_sell_gbp"] == "65.3226"
    assert after["basis"]["rules_version"] != before["basis"]["rules_version"]
    undone = office.post(f"{API}/rates/versions/{set_id}/undo")
    assert undone.status_code == 200, undone.text
    assert estimated(office)["price"] == before["price"]
    assert estimated(office)["basis"]["rules_version"] == before["basis"]["rules_version"]


def test_a_recipe_and_a_task_change_bill_and_days(office: TestClient) -> None:
    set_id, content = draft(office, "recipes")
    sku = next(row["part"] for row in content["recipes"] if row["part"].startswith("sku:") and row["driver"] == "one")
    content["recipes"] = [row for row in content["recipes"] if row["part"] != sku]
    assert save(office, "recipes", set_id, content).status_code == 200
    assert any(line.startswith("no longer:") for line in effect(office, "recipes", set_id)[0]["lines_changed"])
    set_id, content = draft(office, "labour_tasks")
    for row in content["tasks"]:
        if row["fixed_person_h"]:
            row["fixed_person_h"] = str(float(row["fixed_person_h"]) * 3)
    assert save(office, "labour_tasks", set_id, content).status_code == 200
    rows = effect(office, "labour_tasks", set_id)
    assert any(row["days_after"] > row["days_before"] for row in rows)


def _task_of(office: TestClient, group: str) -> set[str]:
    """For which task the parts of a group stand on a pick list of the second demo house."""
    household = demo_households()[1]
    body = {"survey": household["survey"], "choices": household.get("choices", {}) | {"priced_on": TODAY.isoformat()}}
    document = office.post("/api/v1/estimates?include=days", json=body).json()
    skus = {line["sku"] for line in document["bill"]["lines"] if line["group"] == group}
    lists = document["days"]["pick_lists"]
    return {line["task"] for one in lists for line in one["lines"] if line["sku"] in skus}


def test_the_task_that_needs_a_group_of_parts_first_is_changed_and_undone(office: TestClient) -> None:
    before = _task_of(office, "Sundries")
    set_id, content = draft(office, "labour_tasks")
    (row,) = [row for row in content["first_used"] if row["group"] == "Sundries"]
    row["task"] = "CLOSE-PAPERS"
    assert save(office, "labour_tasks", set_id, content).status_code == 200
    assert office.post(f"{API}/labour_tasks/drafts/{set_id}/publish", json={}).status_code == 200
    name = next(task["name"] for task in content["tasks"] if task["code"] == "CLOSE-PAPERS")
    assert _task_of(office, "Sundries") in ({"CLOSE-PAPERS"}, {name}) and before != _task_of(office, "Sundries")
    assert office.post(f"{API}/labour_tasks/versions/{set_id}/undo").status_code in (200, 201)
    assert _task_of(office, "Sundries") == before


def test_labour_rules_of_an_earlier_release_take_the_firms_files_for_what_they_lack(office: TestClient) -> None:
    before = _task_of(office, "Sundries")
    set_id, content = draft(office, "labour_tasks")
    del content["first_used"]
    assert save(office, "labour_tasks", set_id, content).status_code == 200
    assert office.post(f"{API}/labour_tasks/drafts/{set_id}/publish", json={}).status_code == 200
    assert _task_of(office, "Sundries") == before
    assert "first_used" in draft(office, "labour_tasks")[1]


def test_last_quotes_stand_beside_the_households(office: TestClient) -> None:
    household = demo_households()[2]
    job = office.post("/api/v1/jobs", json={"label": "Effect Lane"}).json()["id"]
    assert office.put(f"/api/v1/jobs/{job}/survey", json=household["survey"]).status_code == 200
    made = office.post(f"/api/v1/jobs/{job}/quotes", json={"choices": household.get("choices", {})})
    assert made.status_code == 201, made.text
    set_id, _ = draft(office, "stage_plans")
    rows = effect(office, "stage_plans", set_id)
    assert rows[-1]["what"] == "quote" and rows[-1]["label"].startswith("draft for job")
    assert rows[-1]["total_before_pence"] == made.json()["total_pence"]


def test_publishing_rates_re_prices_open_drafts(office: TestClient) -> None:
    household = demo_households()[2]
    job = office.post("/api/v1/jobs", json={"label": "Rates Lane"}).json()["id"]
    office.put(f"/api/v1/jobs/{job}/survey", json=household["survey"])
    quote = office.post(f"/api/v1/jobs/{job}/quotes", json={"choices": household.get("choices", {})}).json()
    set_id, content = draft(office, "rates")
    # Travel costs £10 a day more, passed on as it is: the price before weather rises by £10 for each day.
    travel = content["rates"]["per_job_day"]["travel"]
    travel["cost_gbp_per_day"] = str(float(travel["cost_gbp_per_day"]) + 10)
    save(office, "rates", set_id, content)
    assert office.post(f"{API}/rates/drafts/{set_id}/publish", json={}).status_code == 200
    its = office.app.state  # type: ignore[attr-defined]
    work_off(its.engine, its.rules_book, now=lambda: its.settings.fixed_now, today=lambda: TODAY)
    after = office.get(f"/api/v1/quotes/{quote['id']}").json()
    days = quote["document"]["labour_plan"]["days"]

    def travel_pence(document: dict[str, Any]) -> int:
        return next(part["sell_pence"] for part in document["price"]["parts"] if part["code"] == "travel")

    assert travel_pence(after["document"]) - travel_pence(quote["document"]) == 1000 * days
    assert after["total_pence"] > quote["total_pence"]
    office.post(f"{API}/rates/versions/{set_id}/undo")


def test_a_later_day_and_a_clash(office: TestClient) -> None:
    set_id, content = draft(office, "stage_plans")
    tag = office.get(f"{API}/stage_plans/versions/{set_id}").headers["etag"]
    content["stages"]["deposit_ratio"] = "0.10"
    path = f"{API}/stage_plans/drafts/{set_id}"
    assert office.put(path, json={"content": content}, headers={"If-Match": tag}).status_code == 200
    assert office.put(path, json={"content": content}, headers={"If-Match": tag}).status_code == 412
    later = TODAY + timedelta(days=30)
    assert office.post(f"{path}/publish", json={"valid_from": "2026-03-01"}).status_code == 422
    assert office.post(f"{path}/publish", json={"valid_from": later.isoformat()}).status_code == 200
    assert office.put(path, json={"content": content}).status_code == 409
    its = office.app.state  # type: ignore[attr-defined]
    with reading(its.engine) as session:
        ratios = [str(its.rules_book.in_force(session, day).rates.deposit_ratio)
                  for day in (TODAY, later - timedelta(days=1), later)]  # fmt: skip
    assert ratios == ["0.25", "0.25", "0.10"]


@pytest.mark.parametrize("kind", list(TABLES_OF_KIND))
def test_tables_go_to_a_spreadsheet_and_back_without_a_change(kind: str) -> None:
    content = contents_of_folder()[kind]
    for table in content:
        again = service.with_table(kind, content, table, service.table_csv(content, table))
        assert again == content


def test_a_table_from_a_spreadsheet(office: TestClient) -> None:
    set_id, _ = draft(office, "calendars")
    csv = office.get(f"{API}/calendars/versions/{set_id}/tables/bank_holidays.csv")
    more = csv.content + "england,2026-12-24,Closed\r\n".encode("cp1252")
    path = f"{API}/calendars/drafts/{set_id}/tables/bank_holidays"
    done = office.put(path, content=more, headers={"content-type": "text/csv"})
    assert done.status_code == 200, done.text
    rows = office.get(f"{API}/calendars/versions/{set_id}").json()["content"]["bank_holidays"]
    assert rows[-1] == {"nation": "england", "on": "2026-12-24", "name": "Closed"}
    live = office.put(path, content=b"nation,on,name\nengland,2026-12-24,=1+1\n", headers={"content-type": "text/csv"})
    assert live.status_code == 422 and "row 2" in live.json()["detail"]


def test_only_those_with_the_right_edit(office: TestClient) -> None:
    its = office.app.state  # type: ignore[attr-defined]
    set_id, content = draft(office, "rates")
    for role in (Role.SALES, Role.ACCOUNTS):
        key = create_api_key(its.engine, role=role, label=str(role), now=its.settings.fixed_now)
        headers = {"Authorization": f"Bearer {key}"}
        path = f"{API}/rates"
        asked: list[tuple[str, str, dict[str, Any]]] = [
            ("POST", f"{path}/drafts", {"json": {}}),
            ("PUT", f"{path}/drafts/{set_id}", {"json": {"content": content}}),
            ("PUT", f"{path}/drafts/{set_id}/tables/rates",
             {"content": b"entry,value\n", "headers": {"content-type": "text/csv"}}),
            ("POST", f"{path}/drafts/{set_id}/effect", {}),
            ("POST", f"{path}/drafts/{set_id}/publish", {"json": {}}),
            ("POST", f"{path}/versions/{set_id}/undo", {}),
            ("POST", f"{path}/versions/{set_id}/retire", {}),
        ]  # fmt: skip
        for method, address, more in asked:
            more["headers"] = headers | more.get("headers", {})
            assert office.request(method, address, **more).status_code == 403, address
        reads = 200 if role is Role.ACCOUNTS else 403
        assert office.get(f"{path}/versions/{set_id}", headers=headers).status_code == reads
