"""A groundworker who comes for half-days, where the settings have one: a trade like the electrician's."""

from collections.abc import Callable
from copy import deepcopy
from typing import Any

import pytest

from models.labour.plan import LabourPlan, plan
from models.labour.tasks import RefusedRow, labour_rules, labour_settings, needed_tasks
from models.takeoff.quantities import TakeOff

FILES = ("labour_tasks.csv", "task_hours.csv", "task_order.csv", "task_factors.csv")
Rows = dict[str, list[dict[str, str]]]


@pytest.fixture
def with_groundworker(settings: dict[str, Any]) -> dict[str, Any]:
    changed = deepcopy(settings)
    changed["groundworker_half_day"] = {"from": "08:00", "to": "12:30"}
    changed["people"].append({"name": "groundworker 1", "trade": "groundworker", "skills": []})
    return changed


@pytest.fixture
def dug(rows: Rows, take_off: Callable[..., TakeOff]) -> Callable[..., LabourPlan]:
    """The straightforward job with digging and casting done by the groundworker."""

    def make(settings: dict[str, Any], **quantities: str) -> LabourPlan:
        changed = deepcopy(rows)
        for row in changed["labour_tasks.csv"]:
            if row["code"] in ("GROUND-DIG", "GROUND-SOAKAWAY", "GROUND-SLAB", "GROUND-TRENCH"):
                row["trade"] = "groundworker"
        rules = labour_rules(*(changed[name] for name in FILES), settings)
        tasks = needed_tasks(rules, take_off("straightforward", **quantities))
        return plan(tasks, 2, rules.settings, starts_on=None, base_type="rapid_slab", cold=False, effort="thorough")

    return make


def test_he_comes_once_in_the_morning_if_his_work_fits(
    dug: Callable[..., LabourPlan], with_groundworker: dict[str, Any]
) -> None:
    result = dug(with_groundworker)
    (visit,) = [visit for visit in result.visits if visit.trade == "groundworker"]
    assert visit.booked == "half_day" and visit.people == ("groundworker 1",)
    for task in result.tasks:
        if task.trade == "groundworker":
            assert all(since >= "08:00" and until <= "12:30" for _, since, until in task.pieces)
    # dig 1.44 h, soakaway 1 h, slab 1.16 h by hand arithmetic of the rows: 3.6 h of a morning of 4.5
    assert visit.person_hours < 4


def test_more_than_a_morning_is_said_and_takes_longer(
    dug: Callable[..., LabourPlan], with_groundworker: dict[str, Any]
) -> None:
    result = dug(with_groundworker, dig_m3="1.2")
    assert "groundworker_half_day_too_short" in {finding.code for finding in result.findings}
    visits = [visit for visit in result.visits if visit.trade == "groundworker"]
    assert len(visits) == 2 or visits[0].booked == "whole_day"


def test_without_his_half_day_or_himself_there_is_no_plan(
    dug: Callable[..., LabourPlan], settings: dict[str, Any], with_groundworker: dict[str, Any]
) -> None:
    nobody = dug(settings)
    assert nobody.days is None and nobody.findings[0].code == "trade_missing"
    del with_groundworker["groundworker_half_day"]
    no_hours = dug(with_groundworker)
    assert no_hours.days is None and "enter the half-day" in no_hours.findings[0].remedy


def test_his_half_day_is_checked(with_groundworker: dict[str, Any]) -> None:
    with_groundworker["groundworker_half_day"] = {"from": "11:00", "to": "14:00"}
    with pytest.raises(RefusedRow, match="groundworker_half_day: lies within the day and not over the break"):
        labour_settings(with_groundworker)


def test_he_comes_alone(rows: Rows, settings: dict[str, Any]) -> None:
    changed = deepcopy(rows)
    next(row for row in changed["labour_tasks.csv"] if row["crew"] == "2")["trade"] = "groundworker"
    with pytest.raises(RefusedRow, match="the groundworker comes alone"):
        labour_rules(*(changed[name] for name in FILES), settings)
