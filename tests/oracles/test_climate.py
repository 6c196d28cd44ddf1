"""Outdoor temperatures of a place: CIBSE Guide A Table 2.5 for design, SAP 2012 Appendix U Table U1 for the months."""

from datetime import date
from typing import Any

import pytest

from models.estimate import Choices, estimate
from models.survey import Survey


def _climate(rules: Any, households: Any, **house: Any) -> Any:
    record = households["smallest"]["survey"]
    survey = Survey.model_validate(record | {"house": record["house"] | house})
    return estimate(survey, Choices(), rules, today=date(2026, 11, 25)).design.climate


@pytest.mark.oracle(
    question="climate",
    source="CIBSE Guide A Table 2.5 (Birmingham 96 m, Manchester 75 m; 99 %)",
    standing="published",
    tolerance="1e-9 K: read from the table",
    through_estimate=True,
)
@pytest.mark.parametrize(("station", "altitude_m", "temp_c"), [("Birmingham", 96, -3.4), ("Manchester", 75, -2.2)])
def test_design_temperature_at_the_station(
    station: str, altitude_m: float, temp_c: float, rules: Any, households: Any
) -> None:
    found = _climate(rules, households, weather_station=station, altitude_m=altitude_m)
    assert found.design_outdoor_temp_c == pytest.approx(temp_c, abs=1e-9)


@pytest.mark.oracle(
    question="climate",
    source="CIBSE Guide A, 0.6 K for every 100 m",
    standing="from memory",
    tolerance="1e-9 K: hand arithmetic",
    through_estimate=True,
)
def test_design_temperature_up_the_hill(rules: Any, households: Any) -> None:
    # 346 m is 250 m above the station: -3.4 - 0.6 x 2.5 = -4.9 °C
    assert _climate(rules, households, altitude_m=346).design_outdoor_temp_c == pytest.approx(-4.9, abs=1e-9)


@pytest.mark.oracle(
    question="climate",
    source="SAP 2012 Appendix U Table U1, regions 1 Thames and 6 Midlands",
    standing="published",
    tolerance="1e-9 K: read from the table; the mean, worked out apart from this project, to its four decimals",
    through_estimate=True,
)
@pytest.mark.parametrize(
    ("region", "months_c", "mean_c"),
    [
        (1, (5.1, 5.6, 7.4, 9.9, 13.0, 16.0, 17.9, 17.8, 15.2, 11.6, 8.0, 5.1), 11.0814),
        (6, (4.3, 4.8, 6.6, 9.0, 11.8, 14.8, 16.6, 16.5, 14.0, 10.5, 7.1, 4.2), 10.0463),
    ],
)
def test_months_of_the_region(
    region: int, months_c: tuple[float, ...], mean_c: float, rules: Any, households: Any
) -> None:
    found = _climate(rules, households, climate_region=region)
    assert found.monthly_mean_temp_c == pytest.approx(months_c, abs=1e-9)
    assert found.annual_mean_temp_c == pytest.approx(mean_c, abs=5e-5)
