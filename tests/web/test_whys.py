"""Why a figure is what it is: every link of a page leads somewhere, in words, without cost for who may not see it."""

import html
import json
import re
from datetime import UTC, date, datetime
from typing import Any
from urllib.parse import unquote

import pytest
from fastapi.testclient import TestClient

from api import security
from api.render.wording import figure, pounds
from api.settings import Settings
from api.store.seed_files import demo_households, rules_from_folder
from models.document import estimate_document, without_cost
from models.estimate import Choices, estimate
from models.records import Role
from models.survey import Survey
from web.whys import Reasons, value_words

OF = re.compile(r'class="why" href="[^"]*of=([^"]+)"')
JOB = re.compile(r'href="(/jobs/[0-9a-f-]{36})"')


@pytest.fixture(scope="module")
def documents() -> list[dict[str, Any]]:
    """The demo households worked out with all reasons."""
    rules, day = rules_from_folder(), date(2026, 11, 25)
    surveys = [Survey.model_validate(one["survey"]) for one in demo_households()]
    return [estimate_document(estimate(survey, Choices(), rules, today=day), why=True) for survey in surveys]


@pytest.fixture(scope="module")
def jobs(browser: TestClient) -> list[str]:
    return [job for job in dict.fromkeys(JOB.findall(browser.get("/jobs").text))][-3:][::-1]


def reader_of(like: TestClient, settings: Settings, role: Role) -> TestClient:
    """A browser of somebody of a role."""
    engine, now = like.app.state.engine, datetime.now(UTC)  # type: ignore[attr-defined]
    name = f"why-{role}"
    user = security.create_user(engine, name=name, full_name=name, role=role, password=None, now=now)
    token = security.create_signin_link(engine, settings, user.id, now=now)
    client = TestClient(like.app, follow_redirects=False)
    assert client.get(f"/sign-in/link?token={token}").status_code == 303
    return client


def csrf_of(client: TestClient) -> str:
    return re.search(r'name="csrf" value="([^"]+)"', client.get("/jobs").text)[1]  # type: ignore[index]


def test_every_why_of_a_page_has_a_reason(
    browser: TestClient, jobs: list[str], documents: list[dict[str, Any]]
) -> None:
    for job, document in zip(jobs, documents, strict=True):
        text = browser.get(f"{job}/estimate").text
        paths = [unquote(html.unescape(path)) for path in OF.findall(text)]
        reasons = Reasons(document)
        # Rooms, bill lines and parts each have one; the house, its parts and the price besides.
        least = len(document["design"]["rooms"]) * 2 + len(document["bill"]["lines"]) + 20
        assert len(paths) > least
        assert [path for path in paths if not reasons.at(path)] == []


def test_where_nothing_was_chosen_no_why_leads_nowhere(browser: TestClient, jobs: list[str]) -> None:
    # Unit 3 gives far less than this house loses, so no unit and no pipe to it are chosen.
    choices = {"outdoor_unit_sku": "UNT-030"}
    page = browser.get(f"{jobs[0]}/estimate", params=choices)
    survey = Survey.model_validate(demo_households()[0]["survey"])
    worked_out = estimate(survey, Choices(**choices), rules_from_folder(), today=date.today())
    reasons = Reasons(estimate_document(worked_out, why=True))
    paths = [unquote(html.unescape(path)) for path in OF.findall(page.text)]
    assert "none chosen" in page.text and len(paths) > 50
    assert [path for path in paths if not reasons.at(path)] == []


def test_a_reason_shows_formula_numbers_clause_and_how_inputs_are_known(browser: TestClient, jobs: list[str]) -> None:
    text = browser.get(f"{jobs[0]}/estimate/why", params={"of": "design.rooms.G2.ventilation_w"}).text
    assert "Lounge: heat in the air" in text and "BS EN 12831-1:2017" in text
    assert "measured" in text and "assumed" in text and "Formula:" in text
    assert "of=design.rooms.G2.air_changes_per_h" in text
    assert "of=design.design_outdoor_temp_c" in text


def test_the_numbers_of_a_reason_lead_on(documents: list[dict[str, Any]]) -> None:
    reasons = Reasons(documents[0])
    lines = {line.what: line for line in reasons.reason("design.rooms.G2.transmission_w").numbers}
    assert lines["Lounge, outer wall: heat loss"].of == "design.rooms.G2.elements.outer-wall.loss_w"
    house = {line.of for line in reasons.reason("design.ventilation_w").numbers}
    assert "design.rooms.G2.ventilation_w" in house


def test_all_figures_are_listed_and_none_is_missing(browser: TestClient, jobs: list[str]) -> None:
    text = browser.get(f"{jobs[0]}/estimate/why").text
    for words in ("Lounge: heat loss", "Outdoor unit: output at the coldest", "Full price", "The work: days"):
        assert words in text
    assert browser.get(f"{jobs[0]}/estimate/why", params={"of": "design.nothing"}).status_code == 404


def test_the_page_shows_other_methods_next_door_and_every_position(
    browser: TestClient, jobs: list[str], documents: list[dict[str, Any]]
) -> None:
    for job, document in zip(jobs, documents, strict=True):
        text, design = html.unescape(browser.get(f"{job}/estimate").text), document["design"]
        for other in design["other_methods"]:
            assert f"{figure(other['heat_loss_w'])} W, " in text
        if abs(design["neighbour_at_10_w"] - design["neighbour_heated_w"]) > 1:
            assert f"{figure(design['neighbour_at_10_w'])} W with it at 10 °C" in text
        for position in design["positions"]:
            name = position["name"][:1].upper() + position["name"][1:]
            chosen = position["position_id"] == design["position_id"]
            assert f"<summary>{name}: {'chosen' if chosen else ''}" in text
        ranking = design["position_ranking"]
        if len(ranking) > 1:
            assert "shortest pipe route" in text
            table = text[text.index("shortest pipe route") :]
            places = [table.index(one["name"][1:]) for one in ranking]
            assert places == sorted(places)
            assert all(message[1:] in table for one in ranking for message in one["stopped_by"])
        for value in design["u_values"]:
            assert f"of=design.u_values.{value['construction_id']}" in text


def test_a_reason_opens_at_the_choices_of_its_estimate(browser: TestClient, jobs: list[str]) -> None:
    at_45 = browser.get(f"{jobs[1]}/estimate", params={"flow_temp_c": "48"}).text
    address = re.search(r'class="why" href="([^"]+of=design.heat_loss_w)"', at_45)
    assert address is not None and "flow_temp_c=48" in address[1]
    text = browser.get(html.unescape(address[1].replace("heat_loss_w", "flow_temp_c"))).text
    assert "48" in text


def test_who_may_not_see_cost_gets_no_reason_with_cost(
    browser: TestClient, settings: Settings, documents: list[dict[str, Any]], jobs: list[str]
) -> None:
    of = {"of": "design.rooms.G1.emitter_action"}
    assert "At cost" in browser.get(f"{jobs[0]}/estimate/why", params=of).text
    sales = reader_of(browser, settings, Role.SALES)
    headers = {"x-csrf-token": csrf_of(sales), "content-type": "application/json"}
    job = sales.post("/jobs/new", data={"csrf": csrf_of(sales), "label": "Whys of sales"}).headers["location"]
    saved = sales.put(f"/api/v1{job}/survey", content=json.dumps(demo_households()[0]["survey"]), headers=headers)
    assert saved.status_code == 200
    shown = sales.get(f"{job}/estimate/why", params=of)
    assert shown.status_code == 200 and "At cost" not in shown.text
    assert sales.get(f"{job}/estimate/why", params={"of": "price.cost_pence"}).status_code == 404
    every = sales.get(f"{job}/estimate/why").text
    assert ": price<" in every and ": cost<" not in every and "Margin" not in every
    hidden = Reasons(without_cost(documents[0]))
    assert not [path for path in hidden.entries if path.rpartition(".")[2] in ("cost_pence", "margin_pence")]


def test_accounts_read_an_estimate_on_the_page_and_over_the_api_and_draft_none(
    browser: TestClient, settings: Settings, jobs: list[str]
) -> None:
    accounts = reader_of(browser, settings, Role.ACCOUNTS)
    page = accounts.get(f"{jobs[0]}/estimate", params={"priced_on": "2026-03-02"})
    assert page.status_code == 200 and "Full price" in page.text and "Draft a quote" not in page.text
    headers = {"x-csrf-token": csrf_of(accounts)}
    body = {"choices": {"priced_on": "2026-03-02"}}
    answered = accounts.post(f"/api/v1{jobs[0]}/estimate", json=body, headers=headers)
    assert answered.status_code == 200
    assert pounds(answered.json()["price"]["total_pence"]) in page.text
    refused = accounts.post(f"/api/v1{jobs[0]}/quotes", json=body, headers=headers)
    assert refused.status_code == 403
    assert accounts.post(f"{jobs[0]}/quotes", data={"csrf": csrf_of(accounts)}).status_code == 403


def test_assumptions_that_move_the_most_are_shown_with_what_they_move(browser: TestClient, jobs: list[str]) -> None:
    text = browser.get(f"{jobs[0]}/estimate/assumed").text
    assert "The 3 assumptions that move the unit or the price most" in text
    assert "Air changes" in text and "30 % less" in text and "30 % more" in text
    assert re.search(r"[+−][0-9,]+ W", text) and re.search(r"[+−]£[0-9,.]+", text)
    assert "<html" not in browser.get(f"{jobs[0]}/estimate/assumed", params={"bare": "1"}).text


def test_the_api_says_of_a_stored_survey_what_assumptions_move(browser: TestClient, jobs: list[str]) -> None:
    headers = {"x-csrf-token": csrf_of(browser)}
    address = f"/api/v1{jobs[0]}/estimate?include=sensitivity"
    read, posted = browser.get(address), browser.post(address, json={}, headers=headers)
    text = browser.get(f"{jobs[0]}/estimate/assumed").text
    for answer in (read, posted):
        movers = answer.json()["sensitivity"]["movers"]
        assert len(movers) == 3
        for swing in movers[0]["swings"]:
            heat_w = abs(round(swing["heat_loss_change_w"]))
            assert (f"{heat_w:,} W" if heat_w else "no change") in text


def test_the_whys_of_a_draft_quote_open(browser: TestClient, jobs: list[str]) -> None:
    draft = browser.post(f"{jobs[2]}/quotes", data={"csrf": csrf_of(browser)}).headers["location"]
    text = browser.get(draft).text
    assert f'href="{draft}/why?of=price.total_pence"' in text
    reason = browser.get(f"{draft}/why", params={"of": "price.total_pence"}).text
    assert "Full price" in reason and "£" in reason


def test_values_read_as_people_write_them() -> None:
    assert value_words(6729.795, "W") == "6,730 W"
    assert value_words("12.5000", "£") == "£12.50"
    assert value_words(190192, "p") == "£1,901.92"
    assert value_words(0.05, "1") == "5 %"
    assert value_words(3.4312, "1", "seasonal_ratio") == "3.43"
    assert value_words(1.05, "W/m2K") == "1.05 W/m²K"
    assert value_words(True, "") == "yes" and value_words(None, "W") == "–"
