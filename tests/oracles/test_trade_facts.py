"""Facts of the trade, through the whole estimate. Common practice, no source; each with a tolerance of our own."""

from datetime import date
from typing import Any

import pytest

from models.estimate import Choices, Estimate, estimate
from models.survey import Survey

TODAY = date(2026, 11, 25)


def fact(question: str, tolerance: str) -> Any:
    return pytest.mark.oracle(
        question=question, source="common practice, no source", standing="common practice", tolerance=tolerance,
        through_estimate=True,
    )  # fmt: skip


def _estimate(rules: Any, record: dict[str, Any], **choices: Any) -> Estimate:
    return estimate(Survey.model_validate(record["survey"]), Choices(**choices), rules, today=TODAY)


@fact("heating_curve", "1.5 K: the house's mean room temperature and base differ from the rule's")
@pytest.mark.parametrize("name", ["alder_row", "thornlea"])
def test_curve_of_45_at_about_minus_4_runs_at_about_35_at_7_outside(
    name: str, rules: Any, households: dict[str, Any]
) -> None:
    result = _estimate(rules, households[name], flow_temp_c=45)
    assert -4.5 < result.design.climate.design_outdoor_temp_c < -2
    at_7 = next(point for point in result.design.curve.points if point.outdoor_temp_c == 7)
    assert at_7.flow_temp_c == pytest.approx(35, abs=1.5)


@fact("outdoor_unit", "none: the next smaller unit is below the heat loss")
@pytest.mark.parametrize("name", ["alder_row", "thornlea", "weir_cottages"])
def test_unit_is_the_next_size_above_the_heat_loss(name: str, rules: Any, households: dict[str, Any]) -> None:
    design = _estimate(rules, households[name]).design
    assert design.unit.capacity_w is not None
    assert design.unit.capacity_w >= design.heat_loss.heat_loss_w
    smaller = [c.capacity_w for c in design.unit.considered if c.capacity_w and c.capacity_w < design.unit.capacity_w]
    assert all(capacity < design.heat_loss.heat_loss_w for capacity in smaller)


@fact("hot_water", "20 L: what cylinders come in")
def test_four_bedrooms_take_a_store_of_about_200_litres(rules: Any, households: dict[str, Any]) -> None:
    design = _estimate(rules, households["thornlea"]).design
    assert design.hot_water.volume_l == pytest.approx(200, abs=20)


@fact("condensate", "50 mm; a couple of bags is 2 or 3")
def test_soakaway_is_600_deep_around_a_110_pipe_in_two_gravels(rules: Any, households: dict[str, Any]) -> None:
    result = _estimate(rules, households["alder_row"])
    pit = result.design.condensate
    assert pit is not None and result.bill is not None
    assert pit.depth_m == pytest.approx(0.6, abs=0.05)
    lines = {line.sku: line for line in result.bill.lines}
    assert "110 mm" in lines["SOK-P11"].description
    assert "20 mm" in lines["SOK-GRV"].description and lines["SOK-GRV"].used > lines["SOK-G10"].used
    assert lines["SOK-G10"].used in (2, 3)


@fact("condensate", "none: deeper is deeper")
def test_soakaway_is_deeper_where_frost_goes_deeper(rules: Any, households: dict[str, Any]) -> None:
    record = households["alder_row"]["survey"]
    first = {**record["positions"][0], "frost_depth_mm": 750}
    deep = _estimate(rules, {"survey": {**record, "positions": [first, *record["positions"][1:]]}})
    assert deep.design.condensate is not None
    assert deep.design.condensate.depth_m > 0.75


@fact("hot_water", "none: one valve")
@pytest.mark.parametrize("name", ["alder_row", "thornlea", "weir_cottages"])
def test_one_diverting_valve_so_that_heating_and_hot_water_never_run_together(
    name: str, rules: Any, households: dict[str, Any]
) -> None:
    result = _estimate(rules, households[name])
    assert result.bill is not None
    valves = [line for line in result.bill.lines if line.sku == "PRI-DIV"]
    assert [line.used for line in valves] == [1]


@fact("frost_protection", "none: never both")
@pytest.mark.parametrize("method", ["valves", "glycol"])
def test_antifreeze_valves_or_glycol_and_never_both(method: str, rules: Any, households: dict[str, Any]) -> None:
    result = _estimate(rules, households["alder_row"], frost_protection=method)
    assert result.bill is not None
    skus = {line.sku for line in result.bill.lines}
    assert {"PRI-AFV", "WAT-INH"} <= skus if method == "valves" else "PRI-AFV" not in skus
    assert ("WAT-GLY" in skus) == (method == "glycol")
    assert ("WAT-INH" in skus) == (method == "valves")


@fact("takeoff", "the bill of a real house has 65 to 100 lines")
@pytest.mark.parametrize("name", ["alder_row", "thornlea", "weir_cottages"])
def test_bill_of_a_house_has_a_usual_number_of_lines(name: str, rules: Any, households: dict[str, Any]) -> None:
    result = _estimate(rules, households[name])
    assert result.bill is not None
    assert 65 <= len(result.bill.lines) <= 100
    assert all(line.used > 0 for line in result.bill.lines)
