"""Options and the curve against single estimates, hand arithmetic and identities."""

import dataclasses
from datetime import date
from itertools import pairwise
from types import SimpleNamespace
from typing import Any

import pytest

from models.document import COST_KEYS, curve_document, options_document, without_cost
from models.estimate import Choices, UnknownChoice, estimate
from models.options import CURVE_FLOW_TEMPS_C, FlowCurve, day_steps, flow_curve, options
from models.survey import Survey

TODAY = date(2026, 11, 25)
NAMES = ("thornlea", "alder_row", "weir_cottages")


@pytest.fixture(scope="module")
def surveys(households: dict[str, Any]) -> dict[str, Survey]:
    return {name: Survey.model_validate(households[name]["survey"]) for name in NAMES}


@pytest.fixture(scope="module")
def curves(surveys: dict[str, Survey], rules: Any) -> dict[str, FlowCurve]:
    return {name: flow_curve(survey, Choices(), rules, today=TODAY) for name, survey in surveys.items()}


def test_an_option_is_the_estimate_at_its_choices(surveys: dict[str, Survey], rules: Any) -> None:
    survey = surveys["thornlea"]
    sets = [
        Choices(), Choices(flow_temp_c=52), Choices(emitters="keep"), Choices(heat_loss_method="standard"),
        Choices(outdoor_unit_sku="UNT-140", frost_protection="glycol"), Choices(base_type="standard_slab"),
        Choices(works_start_on=date(2027, 6, 7)),
    ]  # fmt: skip
    answer = options(survey, sets, rules, today=TODAY)
    for its, choices in zip(answer.estimates, sets, strict=True):
        alone = estimate(survey, choices, rules, today=TODAY)
        for field in dataclasses.fields(alone):
            if field.name != "rules":
                assert getattr(its, field.name) == getattr(alone, field.name), (choices, field.name)


def test_an_option_that_names_nothing_there_is_refused(surveys: dict[str, Survey], rules: Any) -> None:
    with pytest.raises(UnknownChoice, match="NO-SUCH"):
        options(surveys["thornlea"], [Choices(), Choices(cylinder_sku="NO-SUCH")], rules, today=TODAY)


def test_the_curve_runs_from_35_to_55_in_steps_of_one(curves: dict[str, FlowCurve]) -> None:
    # 55 - 35 + 1 = 21 points.
    assert CURVE_FLOW_TEMPS_C[0] == 35 and CURVE_FLOW_TEMPS_C[-1] == 55 and len(CURVE_FLOW_TEMPS_C) == 21
    for curve in curves.values():
        assert [point.flow_temp_c for point in curve.points] == list(CURVE_FLOW_TEMPS_C)


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("flow_temp_c", [35, 42, 47, 50, 53, 55])
def test_a_point_is_the_estimate_at_its_temperature(
    surveys: dict[str, Survey], curves: dict[str, FlowCurve], rules: Any, name: str, flow_temp_c: int
) -> None:
    point = next(point for point in curves[name].points if point.flow_temp_c == flow_temp_c)
    alone = estimate(surveys[name], Choices(flow_temp_c=flow_temp_c), rules, today=TODAY)
    candidate = alone.design.flow.candidates[0]
    for field in ("purchase_pence", "seasonal_ratio", "running_pence_per_year", "whole_cost_pence", "feasible",
                  "emitters_changed", "unit_sku", "unit_count", "electricity_kwh_per_year"):  # fmt: skip
        assert getattr(point, field) == getattr(candidate, field), field
    assert point.governing_room_id == alone.design.emitters.governing_room_id
    assert point.return_temp_c == alone.design.emitters.return_temp_c
    if point.feasible:
        assert alone.plan is not None
        assert (point.days, point.person_hours) == (alone.plan.days, alone.plan.person_hours)
        stops = {finding.message for finding in alone.findings if finding.strength == "stop"}
        assert set(point.other_stops) <= stops
    else:
        assert point.days is None and point.person_hours is None and point.reasons
        assert set(point.reasons) <= {finding.message for finding in alone.findings}


@pytest.mark.parametrize("name", NAMES)
def test_whole_cost_is_purchase_and_fifteen_years_of_running(curves: dict[str, FlowCurve], name: str) -> None:
    for point in curves[name].points:
        assert point.purchase_pence == point.emitter_pence + point.unit_pence
        assert point.running_pence_per_year is not None and point.whole_cost_pence is not None
        assert point.whole_cost_pence == point.purchase_pence + 15 * point.running_pence_per_year


@pytest.mark.parametrize("name", NAMES)
def test_running_is_electricity_at_the_surveyed_price(
    surveys: dict[str, Survey], curves: dict[str, FlowCurve], name: str
) -> None:
    tariff = float(surveys[name].tariffs.electricity_pence_per_kwh)
    for point in curves[name].points:
        assert point.running_pence_per_year == pytest.approx(point.electricity_kwh_per_year * tariff, abs=0.51)


@pytest.mark.parametrize("name", NAMES)
def test_the_best_is_the_cheapest_of_those_that_heat_the_house(curves: dict[str, FlowCurve], name: str) -> None:
    curve = curves[name]
    best = [point for point in curve.points if point.best]
    assert [point.flow_temp_c for point in best] == [curve.best_flow_temp_c]
    assert best[0].feasible
    # MIS 3005-D (from memory): emitters meet the load of every room; money decides among those that leave fewest short.
    fewest = min(point.rooms_short for point in curve.points if point.feasible)
    alike = [point for point in curve.points if point.feasible and point.rooms_short == fewest]
    assert best[0].rooms_short == fewest
    assert best[0].whole_cost_pence == min(point.whole_cost_pence for point in alike)
    cheaper = [p for p in curve.points if p.feasible and p.whole_cost_pence < best[0].whole_cost_pence]
    assert bool(cheaper) is any("leave more rooms short" in sentence for sentence in curve.sentences)
    assert f"{curve.best_flow_temp_c:g} °C costs least over 15 years" in curve.sentences[0]
    assert best[0].governing_room is not None and best[0].governing_room in curve.sentences[0]


@pytest.mark.parametrize("name", NAMES)
def test_warmer_water_never_asks_for_dearer_emitters_and_lowers_the_ratio(
    curves: dict[str, FlowCurve], name: str
) -> None:
    points = curves[name].points
    for cooler, warmer in pairwise(points):
        if cooler.feasible:
            assert warmer.feasible and warmer.emitter_pence <= cooler.emitter_pence
        if cooler.unit_sku == warmer.unit_sku:
            assert warmer.seasonal_ratio < cooler.seasonal_ratio


def _points(*days: int | None, feasible: bool = True) -> list[Any]:
    return [SimpleNamespace(flow_temp_c=45.0 + place, feasible=feasible, days=day) for place, day in enumerate(days)]


def test_a_day_more_is_said_where_it_begins() -> None:
    # 45, 46 °C take 5 days, 47 °C and up 4: below 47 °C the work takes a day more.
    steps = list(day_steps(_points(5, 5, 4, 4)))
    assert [(step.below_temp_c, step.flow_temp_c, step.days_below, step.days) for step in steps] == [(46, 47, 5, 4)]
    assert steps[0].sentence == "below 47 °C the work takes a day more: 5 instead of 4"


def test_days_more_upwards_and_points_without_a_plan() -> None:
    assert [step.sentence for step in day_steps(_points(3, None, 5))] == [
        "from 47 °C up the work takes 2 days more: 5 instead of 3"
    ]
    assert list(day_steps(_points(3, 5, feasible=False))) == []
    assert list(day_steps(_points(4, 4, 4))) == []


def test_the_steps_of_the_real_curve_stand_where_its_days_change(curves: dict[str, FlowCurve]) -> None:
    for curve in curves.values():
        planned = [point for point in curve.points if point.feasible and point.days is not None]
        changes = [
            (cooler.flow_temp_c, warmer.flow_temp_c)
            for cooler, warmer in pairwise(planned)
            if cooler.days != warmer.days
        ]
        assert [(step.below_temp_c, step.flow_temp_c) for step in curve.day_steps] == changes
        assert all(step.sentence in curve.sentences for step in curve.day_steps)


def test_a_wanted_temperature_is_left_out_of_account(
    surveys: dict[str, Survey], curves: dict[str, FlowCurve], rules: Any
) -> None:
    again = flow_curve(surveys["alder_row"], Choices(flow_temp_c=40), rules, today=TODAY)
    assert again == curves["alder_row"]


def test_no_unit_is_enough_and_no_place_for_a_cylinder(households: dict[str, Any], rules: Any) -> None:
    record = households["alder_row"]["survey"] | {"cylinder_place": None}
    curve = flow_curve(Survey.model_validate(record), Choices(), rules, today=TODAY)
    feasible = [point for point in curve.points if point.feasible]
    assert feasible and all(point.days is None and point.other_stops for point in feasible)
    small = rules.offers.outdoor_units[:0]
    none = dataclasses.replace(rules, offers=dataclasses.replace(rules.offers, outdoor_units=small))
    curve = flow_curve(Survey.model_validate(households["alder_row"]["survey"]), Choices(), none, today=TODAY)
    assert curve.best_flow_temp_c is None and not any(point.feasible for point in curve.points)
    assert "none of the flow temperatures tried" in curve.sentences[0]


def _keys(node: Any) -> set[str]:
    if isinstance(node, dict):
        return set(node) | {key for value in node.values() for key in _keys(value)}
    return {key for value in node for key in _keys(value)} if isinstance(node, list) else set()


def test_the_document_without_cost(surveys: dict[str, Survey], curves: dict[str, FlowCurve], rules: Any) -> None:
    answer = options(surveys["weir_cottages"], [Choices(), Choices(flow_temp_c=50)], rules, today=TODAY)
    document = options_document(answer, curves["weir_cottages"])
    assert len(document["options"]) == len(document["summary"]) == 2
    assert {"purchase_pence", "emitter_pence", "unit_pence", "whole_cost_pence"} <= _keys(document["curve"])
    shown = without_cost(document)
    assert not _keys(shown) & COST_KEYS
    assert shown["curve"]["points"][0].keys() >= {"running_pence_per_year", "seasonal_ratio", "days", "best"}
    assert shown["summary"] == document["summary"]
    assert curve_document(curves["weir_cottages"]) == document["curve"]
    for summary, its in zip(document["summary"], answer.estimates, strict=True):
        assert summary["customer_pays_pence"] == its.price.customer_pays_pence
        assert summary["days"] == its.plan.days
