"""A year of running against degree days, EN 14825 bins and the regulation on energy labels."""

import csv
import math
from decimal import Decimal
from pathlib import Path
from statistics import NormalDist
from typing import Any

import pytest

from models.catalogue import OutdoorUnit, PumpPoint, Rating
from models.design.performance import performance
from models.design.results import Climate, CylinderChoice, HeatLoss
from models.physics.seasonal import (
    SPREAD_K,
    HeatingYear,
    degree_days_kd,
    heat_kwh,
    heat_paid_for_w,
    load_ratio,
    seasonal_ratio_of_label,
    temperature_bins,
)
from models.reference import load
from models.sources import COMMON_PRACTICE
from models.survey import ExistingSystem, Tariffs
from models.units import DAYS_OF_MONTHS

DATA = Path(__file__).parent / "data"
BINS = list(csv.DictReader((DATA / "en14825_average_climate_bins.csv").read_text().splitlines()))
DEGREE_DAYS = list(csv.DictReader((DATA / "uk_standard_degree_days.csv").read_text().splitlines()))
BASES = ((18.5, "HDD18.5"), (15.5, "HDD15.5"), (10.0, "HDD10.0"))


@pytest.mark.oracle(
    question="performance", source="EN 14825, average climate", standing="published",
    tolerance="0.000001: the column has six places",
)  # fmt: skip
@pytest.mark.parametrize("row", BINS, ids=lambda row: f"{row['Tj_C']} C")
def test_part_load_ratio_of_a_bin(row: dict[str, str]) -> None:
    ratio = load_ratio(outdoor_temp_c=float(row["Tj_C"]), base_temp_c=16, design_outdoor_temp_c=-10)
    assert ratio == pytest.approx(float(row["part_load_ratio"]), abs=1e-6)


@pytest.mark.oracle(
    question="performance", source="EN 14825; Regulation (EU) 811/2013 Annex VII 4(c)", standing="published",
    tolerance="0.001 h and 0.00005: the case's own, printed to four places", case="SCOP-0",
)  # fmt: skip
def test_hours_weighted_by_load(cases: dict[str, Any]) -> None:
    case = cases["SCOP-0"]
    inputs, expected = case["inputs"], case["expected"]
    line = {"base_temp_c": inputs["T_load_zero"], "design_outdoor_temp_c": inputs["T_design"]}
    bins = tuple(zip(inputs["T"], inputs["H"], strict=True))
    assert bins == tuple((float(row["Tj_C"]), float(row["hours"])) for row in BINS), "the printed table, row by row"
    assert sum(hours for _, hours in bins) == expected["sum_hours"]
    weighted = sum(hours * load_ratio(outdoor_temp_c=t, **line) for t, hours in bins)
    assert weighted == pytest.approx(expected["sum_h_times_load_fraction"], abs=case["tolerance"])
    assert round(weighted) == expected["HHE_published"]
    for t, ratio in expected["part_load"].items():
        assert load_ratio(outdoor_temp_c=float(t), **line) == pytest.approx(ratio, abs=5e-5)


@pytest.mark.oracle(
    question="performance", source="Regulation (EU) 811/2013 Annex VII 4(f); EN 14825", standing="published",
    tolerance="1e-9: the case's own", case="SCOP-2",
)  # fmt: skip
@pytest.mark.parametrize("index", range(4))
def test_seasonal_ratio_of_a_label(cases: dict[str, Any], index: int) -> None:
    case = cases["SCOP-2"]
    ratio = seasonal_ratio_of_label(efficiency_ratio=case["inputs"]["eta_s"][index])
    assert ratio == pytest.approx(case["expected"]["SCOP"][index], abs=case["tolerance"])


@pytest.mark.oracle(
    question="performance", source="EN 14825:2022 7.7.2.2", standing="second computation",
    tolerance="0.000001: the case's own", case="SCOP-3",
)  # fmt: skip
@pytest.mark.parametrize("index", range(5))
def test_part_load_degradation(cases: dict[str, Any], index: int) -> None:
    case = cases["SCOP-3"]
    ratio = case["inputs"]["CR"][index]
    factor = ratio / heat_paid_for_w(ratio, 1.0)
    assert factor == pytest.approx(case["expected"]["factor"][index], abs=case["tolerance"])


@pytest.mark.oracle(
    question="performance", source="SAP Appendix U Table U1, summed by month", standing="second computation",
    tolerance="0.05 K day: the case's own", case="HDD-1",
)  # fmt: skip
@pytest.mark.parametrize(
    "region", ["UK", "Thames", "SW_England", "Midlands", "West_Scotland", "East_Scotland", "Highland"]
)
def test_degree_days_of_a_region_by_month(cases: dict[str, Any], region: str) -> None:
    case = cases["HDD-1"]
    means = load().regions[case["inputs"]["regions"][region]].monthly_mean_temp_c
    whole_months = [(mean, 24.0 * days) for mean, days in zip(means, DAYS_OF_MONTHS, strict=True)]
    assert degree_days_kd(whole_months, base_temp_c=case["inputs"]["base"]) == pytest.approx(
        case["expected"][region], abs=case["tolerance"]
    )


def spread_degree_days(mean: float, spread: float, base: float) -> float:
    """Mean of the positive differences to a base of a normal variable: the textbook formula."""
    z = (base - mean) / spread
    return (base - mean) * NormalDist().cdf(z) + spread * NormalDist().pdf(z)


def mean_that_gives(degree_days_a_day: float, spread: float, base: float) -> float:
    low, high = -30.0, 50.0
    for _ in range(100):
        middle = (low + high) / 2
        low, high = (middle, high) if spread_degree_days(middle, spread, base) > degree_days_a_day else (low, middle)
    return low


def months(spread: float) -> tuple[float, ...]:
    """The monthly means that give the printed degree days to 18.5 °C."""
    return tuple(
        mean_that_gives(float(row["HDD18.5"]) / days, spread, 18.5)
        for row, days in zip(DEGREE_DAYS[:12], DAYS_OF_MONTHS, strict=True)
    )


@pytest.mark.oracle(
    question="performance", source="published UK 20-year standard degree days", standing="published",
    tolerance="1 %: one spread for every month and region", case="HDD-2",
)  # fmt: skip
@pytest.mark.parametrize(("base", "expected"), [(18.5, "base18p5"), (15.5, "base15p5"), (10.0, "base10")])
def test_bins_give_the_published_degree_days(cases: dict[str, Any], base: float, expected: str) -> None:
    bins = temperature_bins(months(SPREAD_K))
    assert degree_days_kd(bins, base_temp_c=base) == pytest.approx(cases["HDD-2"]["expected"][expected], rel=0.01)


@pytest.mark.oracle(
    question="performance", source="published UK 20-year standard degree days, columns and printed totals",
    standing="published", tolerance="exact", case="HDD-2",
)  # fmt: skip
def test_published_columns_add_up(cases: dict[str, Any]) -> None:
    for (_, column), total in zip(BASES, cases["HDD-2"]["expected"].values(), strict=True):
        assert sum(int(row[column]) for row in DEGREE_DAYS[:12]) == int(DEGREE_DAYS[12][column]) == total


def test_spread_is_still_the_one_that_fits_the_published_degree_days() -> None:
    def fault(spread: float) -> float:
        return math.fsum(
            (spread_degree_days(mean, spread, base) * days - float(row[column])) ** 2
            for mean, row, days in zip(months(spread), DEGREE_DAYS[:12], DAYS_OF_MONTHS, strict=True)
            for base, column in BASES[1:]
        )

    steps = [SPREAD_K + step / 4 for step in range(-6, 7)]
    assert min(steps, key=fault) == SPREAD_K


@pytest.mark.oracle(
    question="performance", source="CIBSE Guide A Table 2.5: not undercut in 99 % of the hours", standing="published",
    tolerance="within a factor of two of 88 h: a station against the mean of its region",
)  # fmt: skip
@pytest.mark.parametrize(("station", "region"), [("Birmingham", 6), ("Manchester", 7)])
def test_hours_colder_than_the_design_temperature_are_about_one_in_a_hundred(station: str, region: int) -> None:
    reference = load()
    design = reference.stations[station].temp_99_c
    bins = temperature_bins(reference.regions[region].monthly_mean_temp_c)
    colder = sum(hours for t, hours in bins if t + 0.5 <= design)
    split = sum(hours * (design - t + 0.5) for t, hours in bins if t - 0.5 < design < t + 0.5)
    assert 0.5 <= (colder + split) / 87.6 <= 2


@pytest.mark.oracle(
    question="performance", source="CIBSE TM41", standing="second computation", tolerance="0.01 kWh: the case's own",
    case="ENERGY-1",
)  # fmt: skip
def test_heat_of_a_year_from_degree_days(cases: dict[str, Any]) -> None:
    case = cases["ENERGY-1"]
    heat = heat_kwh(loss_coefficient_w_per_k=case["inputs"]["HLC_W_K"], degree_days_kd=case["inputs"]["HDD"])
    assert heat == pytest.approx(case["expected"]["kWh"], abs=case["tolerance"])


@pytest.mark.oracle(
    question="performance", source="linear interpolation of the seasonal ratio in flow temperature",
    standing="second computation", tolerance="0.01 kWh: the case's own", case="ENERGY-2",
)  # fmt: skip
def test_electricity_of_a_year(cases: dict[str, Any]) -> None:
    """A unit whose ratio is that of the case at 35 and 55 °C flow and, for hot water, at 60 °C."""
    case = cases["ENERGY-2"]
    inputs, expected = case["inputs"], case["expected"]
    by_flow = {35: inputs["scop35"], 55: inputs["scop55"], 60: inputs["dhw_spf"]}
    ratings = tuple(
        Rating(outdoor_temp_c=t, flow_temp_c=f, output_w=10000 * ratio, input_w=10000, minimum_output_w=1,
               sound_power_dba=50)
        for t in (-20, 20) for f, ratio in by_flow.items()
    )  # fmt: skip
    unit = OutdoorUnit(
        sku="U", name="unit", ratings=ratings, defrost_included=True,
        pump_curve=(PumpPoint(flow_l_per_s=0, head_pa=1), PumpPoint(flow_l_per_s=1, head_pa=0)), own_loss_pa=0,
        nominal_flow_l_per_s=1, minimum_flow_l_per_s=1, maximum_flow_l_per_s=1, minimum_volume_l=0,
        connection_od_mm=28, width_mm=1, depth_mm=1, height_mm=1, mass_kg=1, clear_back_mm=0, clear_left_mm=0,
        clear_right_mm=0, clear_front_mm=0, clear_above_mm=0, refrigerant="R290", charge_kg=0, water_l=0,
        wall_bracket_allowed=False, cascade_allowed=False, phases="single", maximum_current_a=1, breaker_a=1,
        condensate_l_per_day=1,
    )  # fmt: skip
    hours = 4000.0
    load_w = inputs["space_kWh"] * 1000 / hours
    year = HeatingYear(
        15.5, 200, -4, 20, inputs["flow"], 40, 1.3, 2062, hours, inputs["space_kWh"],
        ((5, hours, load_w, inputs["flow"], 40),),
    )  # fmt: skip
    answer = performance(
        heat_loss=HeatLoss("-", (), 0, 0, 0, 4800, 100, 48, 200, 20),
        climate=Climate("-", 0, -4, "-", 0, -4, 10, (10.0,) * 12, "-", COMMON_PRACTICE),
        year=year, unit=unit, count=1,
        hot_water=CylinderChoice(
            2, 100, 150, 55, None, None, None, None, None, inputs["dhw_kWh"], 0, 0, ()
        ),
        tariffs=Tariffs(electricity_pence_per_kwh=Decimal(25)), existing=ExistingSystem(fuel="none"),
        pipe_loss_outside_w=0.0, above_station_m=0.0,
    )  # fmt: skip
    assert answer is not None
    assert answer.space_seasonal_ratio == pytest.approx(expected["scop45_linear"], abs=1e-5)
    assert answer.space_electricity_kwh == pytest.approx(expected["space_el"], abs=case["tolerance"])
    assert answer.hot_water_electricity_kwh == pytest.approx(expected["dhw_el"], abs=case["tolerance"])
    assert answer.electricity_kwh == pytest.approx(expected["total"], abs=case["tolerance"])
