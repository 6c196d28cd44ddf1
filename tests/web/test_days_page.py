"""The days of a job and a quote on pages: the chart, what if, papers to print; cost stays with whoever may see it."""

import re
from datetime import UTC, datetime

import pytest
from fastapi.testclient import TestClient

from api import security
from api.settings import Settings
from api.store.seed_files import demo_households
from models.records import Role

SUPPLIERS = ("Oxmere Heat Supply", "Fenwold Plumbing Stores")
"""Two of the seed price list."""


@pytest.fixture(scope="module")
def job(browser: TestClient) -> str:
    page = browser.get("/jobs").text
    found = re.search(r'href="(/jobs/[0-9a-f-]{36})"[^>]*>(?:(?!</a>).)*Weir Cottages', page, re.S)
    assert found is not None
    return found[1]


def test_the_days_of_a_job_lead_from_its_estimate(browser: TestClient, job: str) -> None:
    estimate = browser.get(f"{job}/estimate?flow_temp_c=50").text
    assert f'href="{job}/days?flow_temp_c=50"' in estimate
    page = browser.get(f"{job}/days?flow_temp_c=50").text
    assert "these are off: the heating from" in page and "<svg" in page
    assert "Before strip-out starts" in page and SUPPLIERS[0] in page
    assert f'href="{job}/days/print?flow_temp_c=50"' in page and f'href="{job}/days/what-if?flow_temp_c=50"' in page


def test_what_if_without_a_script_is_a_page_of_its_own(browser: TestClient, job: str) -> None:
    page = browser.get(f"{job}/days/what-if").text
    for words in ("Rain, Wales", "The cylinder is damaged", "The electrician comes on day", "A standard slab instead"):
        assert words in page, words
    assert page.startswith("<!doctype html>") and "The plan then" in page
    bare = browser.get(f"{job}/days/what-if?bare=1").text
    assert "<html" not in bare and "Rain, Wales" in bare


def test_papers_hold_each_day_and_its_cautions(browser: TestClient, job: str) -> None:
    page = browser.get(f"{job}/days/print").text
    assert "Delivery checks" in page and "To bring for day 1" in page and "electrician</h2>" in page
    assert "maker&#39;s instructions and local codes come first" in page or "maker's instructions" in page


def test_a_quote_keeps_its_own_days(browser: TestClient, job: str) -> None:
    form = re.search(r'name="csrf" value="([^"]+)"', browser.get(f"{job}/estimate").text)
    assert form is not None
    drafted = browser.post(f"{job}/quotes", data={"csrf": form[1]})
    assert drafted.status_code == 303
    at = drafted.headers["location"]
    assert f'href="{at}/days"' in browser.get(at).text
    days, printed = browser.get(f"{at}/days"), browser.get(f"{at}/days/print")
    assert days.status_code == printed.status_code == 200 and "these are off" in days.text
    assert "Rain, Wales" in browser.get(f"{at}/days/what-if").text
    assert browser.get("/quotes/0192f1a0-0000-7000-8000-000000000000/days").status_code == 404


def test_sales_sees_what_to_bring_but_no_supplier(browser: TestClient, job: str, settings: Settings) -> None:
    assert SUPPLIERS[0] in browser.get(f"{job}/days").text
    engine, now = browser.app.state.engine, datetime.now(UTC)  # type: ignore[attr-defined]
    user = security.create_user(engine, name="days", full_name="Sales", role=Role.SALES, password=None, now=now)
    seller = TestClient(browser.app, follow_redirects=False)
    seller.get(f"/sign-in/link?token={security.create_signin_link(engine, settings, user.id, now=now)}")
    token = re.search(r'name="csrf" value="([^"]+)"', seller.get("/jobs").text)
    assert token is not None
    made = seller.post("/jobs/new", data={"csrf": token[1], "label": "Of sales"})
    assert made.status_code == 303, made.text
    own = made.headers["location"]
    saved = seller.put(f"/api/v1{own}/survey", json=demo_households()[2]["survey"], headers={"x-csrf-token": token[1]})
    assert saved.status_code == 200, saved.text
    for path in ("days", "days/print"):
        text = seller.get(f"{own}/{path}").text
        assert "for day" in text and not any(supplier in text for supplier in SUPPLIERS)
    assert seller.get(f"{job}/days").status_code == 404


def test_a_survey_that_is_not_complete_says_what_is_missing(browser: TestClient) -> None:
    token = re.search(r'name="csrf" value="([^"]+)"', browser.get("/jobs").text)
    assert token is not None
    empty = browser.post("/jobs/new", data={"csrf": token[1], "label": "Nothing seen yet"}).headers["location"]
    for path in ("days", "days/print", "days/what-if"):
        answer = browser.get(f"{empty}/{path}")
        assert answer.status_code == 422 and "<html" in answer.text, path
