"""The options page: whole designs side by side as the API has them, the curve with its best, its days and no cost for
who may not see it."""

import json
import re
from datetime import UTC, datetime
from typing import Any

import pytest
from fastapi.testclient import TestClient

from api import security
from api.render.wording import figure, pounds
from api.settings import Settings
from api.store.seed_files import demo_households
from models.records import Role
from web.flow_chart import purchase_chart, years_chart

JOB = re.compile(r'href="(/jobs/[0-9a-f-]{36})"')


def csrf_of(client: TestClient) -> str:
    return re.search(r'name="csrf" value="([^"]+)"', client.get("/jobs").text)[1]  # type: ignore[index]


@pytest.fixture(scope="module")
def jobs(browser: TestClient) -> list[str]:
    return list(dict.fromkeys(JOB.findall(browser.get("/jobs").text)))[-3:][::-1]


def answered(browser: TestClient, household: int, choices: list[dict[str, Any]]) -> dict[str, Any]:
    body = {"survey": demo_households()[household]["survey"], "choices": choices, "curve": True}
    response = browser.post("/api/v1/options", json=body, headers={"x-csrf-token": csrf_of(browser)})
    assert response.status_code == 200
    document: dict[str, Any] = response.json()
    return document


def test_designs_stand_side_by_side_with_the_figures_of_the_api(browser: TestClient, jobs: list[str]) -> None:
    text = browser.get(
        f"{jobs[2]}/options",
        params={"1.flow_temp_c": "45", "2.flow_temp_c": "50", "3.emitters": "keep", "3.use": "yes", "4.use": "no"},
    ).text
    document = answered(browser, 2, [{"flow_temp_c": 45}, {"flow_temp_c": 50}, {"emitters": "keep"}])
    assert text.count("Whole estimate</a>") == 3
    for summary in document["summary"]:
        assert f"{figure(summary['seasonal_ratio'], 2)}</td>" in text
        if summary["total_pence"] is not None:
            assert pounds(summary["total_pence"]) in text and pounds(summary["customer_pays_pence"]) in text
    assert "flow temperature at the coldest 50 °C" in text


def test_without_a_choice_the_rules_the_best_flow_and_kept_emitters_are_shown(
    browser: TestClient, jobs: list[str]
) -> None:
    text = browser.get(f"{jobs[2]}/options").text
    best = answered(browser, 2, [{}])["curve"]["best_flow_temp_c"]
    assert "1: as Footing&#39;s rules choose" in text
    assert f"2: flow temperature at the coldest {best:g} °C" in text
    assert "3: emitters keep" in text


def test_the_curve_marks_the_best_and_the_day_more(browser: TestClient, jobs: list[str]) -> None:
    curve = answered(browser, 1, [{}])["curve"]
    text = browser.get(f"{jobs[1]}/options").text
    assert f"{curve['best_flow_temp_c']:g} °C: best" in text
    assert text.count('<tr class="best">') == 1 and "yes, best" in text
    for point in curve["points"]:
        assert f"{figure(point['seasonal_ratio'], 2)}</td>" in text
    assert curve["day_steps"] and all(step["sentence"][1:] in text for step in curve["day_steps"])
    assert 'class="cliff"' in text
    # 35 to 55 °C in steps of 1 K are 21 points.
    assert text.count('<circle class="heats"') + text.count('<circle class="cold"') >= 21


def point(flow_temp_c: float, ratio: float, purchase_pence: int, years_pence: int, days: int, best: bool) -> Any:
    return {
        "flow_temp_c": flow_temp_c, "seasonal_ratio": ratio, "purchase_pence": purchase_pence, "feasible": True,
        "whole_cost_pence": years_pence, "running_pence_per_year": 50_000, "days": days, "best": best,
    }  # fmt: skip


def test_points_stand_where_their_figures_say() -> None:
    points = [point(40, 4.0, 400_000, 900_000, 4, False), point(50, 3.0, 200_000, 800_000, 3, True)]
    chart = purchase_chart({"years": 15, "points": points})
    assert chart is not None
    # Axis marks 3.0 to 4.0 and £2,000 to £4,000 reach from edge to edge, so both points stand in corners.
    assert [mark for _, mark in chart.x_marks][:: len(chart.x_marks) - 1] == ["3.0", "4.0"]
    assert (chart.dots[0].x, chart.dots[0].y) == (408, 30) and (chart.dots[1].x, chart.dots[1].y) == (52, 210)
    years = years_chart({"years": 15, "points": points})
    assert years is not None and years.dots[0].y < years.dots[1].y
    # One cliff, half-way between the two temperatures: (60 + 400) / 2.
    assert years.cliffs == [230.0] and [words for _, _, words in years.step_labels] == ["4 days", "3 days"]


def test_a_cost_that_never_changes_still_makes_a_chart() -> None:
    points = [point(temp, 4.0 - temp / 100, 400_000, 900_000, 4, temp == 50) for temp in (40, 45, 50)]
    for chart in (purchase_chart({"years": 15, "points": points}), years_chart({"years": 15, "points": points})):
        assert chart is not None and len({dot.y for dot in chart.dots}) == 1 and len(chart.y_marks) > 1


def test_emitters_kept_at_every_temperature_are_shown_too(browser: TestClient, jobs: list[str]) -> None:
    for job in jobs:
        answer = browser.get(f"{job}/options", params={"emitters": "keep"})
        assert answer.status_code == 200 and "The same as figures" in answer.text


def test_one_point_alone_is_no_curve() -> None:
    assert purchase_chart({"years": 15, "points": [point(40, 4.0, 1, 2, 3, True)]}) is None
    assert years_chart({"years": 15, "points": [point(40, 4.0, 1, 2, 3, True)]}) is None


def test_who_may_not_see_cost_sees_the_curve_of_running_alone(browser: TestClient, settings: Settings) -> None:
    engine, now = browser.app.state.engine, datetime.now(UTC)  # type: ignore[attr-defined]
    user = security.create_user(engine, name="opt", full_name="Opt", role=Role.SALES, password=None, now=now)
    sales = TestClient(browser.app, follow_redirects=False)
    sales.get(f"/sign-in/link?token={security.create_signin_link(engine, settings, user.id, now=now)}")
    job = sales.post("/jobs/new", data={"csrf": csrf_of(sales), "label": "Options of sales"}).headers["location"]
    assert "cannot be laid side by side yet" in sales.get(f"{job}/options").text
    headers = {"x-csrf-token": csrf_of(sales), "content-type": "application/json"}
    sales.put(f"/api/v1{job}/survey", content=json.dumps(demo_households()[2]["survey"]), headers=headers)
    text = sales.get(f"{job}/options").text
    assert "running, £ a year" in text and "at cost" not in text.replace(", at cost; running", "")
    assert "15 years together" not in text


def test_a_choice_that_cannot_be_is_said_with_its_option(browser: TestClient, jobs: list[str]) -> None:
    text = browser.get(f"{jobs[2]}/options", params={"1.flow_temp_c": "45", "2.flow_temp_c": "90"}).text
    assert "Option 2: Flow temperature at the coldest: 90 cannot be right" in text
