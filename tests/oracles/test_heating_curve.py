"""The heating curve against the published formula at constant flow rate, and against what the trade expects."""

from typing import Any

import pytest

from models.design.heating_curve import curve_at
from models.physics.seasonal import heating_year


def at(inputs: dict[str, Any], base: float) -> Any:
    return curve_at(
        outdoor_temp_c=inputs["theta_e"], flow_temp_c=inputs["flow"], delta_t_k=inputs["flow"] - inputs["ret"],
        room_temp_c=inputs["theta_i"], design_outdoor_temp_c=inputs["theta_e_design"], base_temp_c=base,
        exponent=inputs["n"],
    )  # fmt: skip


def agrees(point: Any, case: dict[str, Any]) -> None:
    expected, tolerance = case["expected"], case["tolerance"]
    assert point.load_ratio == pytest.approx(expected["load_fraction"], abs=tolerance)
    assert point.flow_temp_c == pytest.approx(expected["flow"], abs=tolerance)
    assert point.return_temp_c == pytest.approx(expected["ret"], abs=tolerance)
    assert (point.flow_temp_c + point.return_temp_c) / 2 == pytest.approx(expected["mean"], abs=tolerance)


@pytest.mark.oracle(
    question="heating_curve", source="EN 442 characteristic with load fraction, as in the Modelica Buildings library",
    standing="published", tolerance="0.001: the case's own", case="HC-1",
)  # fmt: skip
def test_curve_with_the_load_gone_at_room_temperature(cases: dict[str, Any]) -> None:
    case = cases["HC-1"]
    agrees(at(case["inputs"], base=case["inputs"]["theta_i"]), case)


@pytest.mark.oracle(
    question="heating_curve", source="as HC-1 with the load gone at 16 °C", standing="second computation",
    tolerance="0.001: the case's own", case="HC-4",
)  # fmt: skip
def test_curve_with_the_load_gone_at_a_base(cases: dict[str, Any]) -> None:
    case = cases["HC-4"]
    agrees(at(case["inputs"], base=case["inputs"]["base"]), case)


@pytest.mark.oracle(
    question="heating_curve", source="common practice, no source: designed for 45 °C at -4 °C it runs at about 35 °C "
    "at 7 °C", standing="common practice",
    tolerance="1.5 K: 'about', and the rule does not say how warm the rooms are; the load is gone at room temperature",
)  # fmt: skip
@pytest.mark.parametrize("room", [19.0, 20.0, 21.0])
def test_forty_five_in_frost_is_about_thirty_five_in_mild_weather(room: float) -> None:
    design = {"theta_e": 7.0, "flow": 45.0, "ret": 40.0, "theta_i": room, "theta_e_design": -4.0, "n": 1.3}
    assert at(design, base=room).flow_temp_c == pytest.approx(35, abs=1.5)


@pytest.mark.oracle(
    question="heating_curve", source="common practice, no source: designed for 45 °C at -4 °C it runs at about 35 °C "
    "at 7 °C", standing="common practice", tolerance="1 K: 'about'",
)  # fmt: skip
def test_the_year_runs_on_that_curve() -> None:
    year = heating_year(
        monthly_mean_temp_c=(4.3, 4.8, 6.6, 9.0, 11.8, 14.8, 16.6, 16.5, 14.0, 10.5, 7.1, 4.2),
        loss_coefficient_w_per_k=200, base_temp_c=15.5, design_outdoor_temp_c=-4, room_temp_c=20, flow_temp_c=45,
        delta_t_k=5, exponent=1.3,
    )  # fmt: skip
    mild_flow_c = next(flow_c for outdoor_c, _, _, flow_c, _ in year.bins if outdoor_c == 7)
    assert mild_flow_c == pytest.approx(35, abs=1)
