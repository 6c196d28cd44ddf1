"""The bins against hours that were measured: test reference years of the German weather service (TRY 2010, average of
1988 to 2007), as the package demandlib carries them. Region 1, the North Sea coast at Bremerhaven, and region 5, the
lower Rhine at Essen, are as mild and damp as England; region 4, inland at Potsdam, is not, and is the harder case.
"""

import math
from dataclasses import replace
from datetime import date
from importlib.resources import files
from itertools import accumulate
from typing import Any

import pytest

from models.estimate import Choices, estimate
from models.physics.seasonal import degree_days_kd, temperature_bins
from models.survey import Survey

SOURCE = "Deutscher Wetterdienst, test reference years 2010, hourly air temperature"
SEA, RHINE, INLAND = "01", "05", "04"
Hours = tuple[tuple[int, float], ...]


def hours_of(region: str) -> Hours:
    """Month and air temperature of each of the 8760 hours."""
    text = (files("demandlib") / "vdi" / "resources_weather" / f"TRY2010_{region}_Jahr.dat").read_text("latin-1")
    rows = text.split("***", 1)[1].splitlines()[1:]
    return tuple((int(row[2]), float(row[8])) for row in map(str.split, rows) if row)


YEARS = {region: hours_of(region) for region in (SEA, RHINE, INLAND)}


def means_of(hours: Hours) -> tuple[float, ...]:
    months = [[temp_c for month, temp_c in hours if month == number] for number in range(1, 13)]
    return tuple(math.fsum(month) / len(month) for month in months)


def measured_degree_days(hours: Hours, base_temp_c: float) -> float:
    return math.fsum(max(0.0, base_temp_c - temp_c) for _, temp_c in hours) / 24


def test_the_years_are_whole() -> None:
    assert all(len(hours) == 8760 for hours in YEARS.values())


@pytest.mark.oracle(
    question="performance", source=SOURCE, standing="published",
    tolerance="5 %: one spread of 4 K stands for every month and place",
)  # fmt: skip
@pytest.mark.parametrize("base_temp_c", [10.0, 15.5, 18.5])
@pytest.mark.parametrize("region", YEARS)
def test_degree_days_of_bins_are_those_of_the_hours(region: str, base_temp_c: float) -> None:
    hours = YEARS[region]
    ours = degree_days_kd(temperature_bins(means_of(hours)), base_temp_c=base_temp_c)
    assert ours == pytest.approx(measured_degree_days(hours, base_temp_c), rel=0.05)


@pytest.mark.oracle(
    question="performance", source=SOURCE, standing="published",
    tolerance="3 % of the year's hours at every degree: the spread is 3 to 4 K by the sea and 4 to 5 K inland",
)  # fmt: skip
@pytest.mark.parametrize("region", YEARS)
def test_as_many_hours_lie_below_each_degree(region: str) -> None:
    hours = YEARS[region]
    bins = temperature_bins(means_of(hours))
    for (degree_c, _), ours_h in zip(bins, accumulate(each for _, each in bins), strict=True):
        measured_h = sum(temp_c <= degree_c + 0.5 for _, temp_c in hours)
        assert ours_h / 8760 == pytest.approx(measured_h / 8760, abs=0.03), degree_c


@pytest.mark.oracle(
    question="performance", source=f"{SOURCE}; heat hour by hour, H (15.5 °C - outdoors)", standing="published",
    tolerance="3 %", through_estimate=True,
)  # fmt: skip
@pytest.mark.parametrize("region", YEARS)
def test_heat_of_a_year_through_the_estimate(region: str, rules: Any, households: dict[str, Any]) -> None:
    hours = YEARS[region]
    survey = Survey.model_validate(households["alder_row"]["survey"])
    reference = rules.reference
    place = survey.house.climate_region
    there = replace(reference.regions[place], monthly_mean_temp_c=means_of(hours))
    regions = (*reference.regions[:place], there, *reference.regions[place + 1 :])
    moved = replace(rules, reference=replace(reference, regions=regions))
    design = estimate(survey, Choices(), moved, today=date(2026, 11, 25)).design
    assert design.performance is not None
    by_hour_kwh = measured_degree_days(hours, 15.5) * 24 * design.heat_loss.loss_coefficient_w_per_k / 1000
    assert design.performance.space_heat_kwh == pytest.approx(by_hour_kwh, rel=0.03)
