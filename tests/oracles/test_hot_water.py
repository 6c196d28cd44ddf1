"""Outside cases of hot water: store, reheat, energy."""

from typing import Any

import pytest

from models.design.hot_water import (
    SAP_DELTA_T_K,
    SAP_MONTH_FACTOR_RATIO,
    daily_draw_l,
    daily_hot_water_l,
    design_people,
    hot_water_energy_kwh,
    mixed_water_l,
    occupancy,
    reheat_minutes,
    store_needed_l,
)
from models.units import DAYS_OF_MONTHS


@pytest.mark.oracle(
    question="hot_water",
    source="BS 6700:2006 Annex C",
    standing="published",
    tolerance="0.1 %",
    case="DHW-011",
)
def test_heat_up_time(cases: dict[str, Any]) -> None:
    given, expected = cases["DHW-011"]["inputs"], cases["DHW-011"]["expected"]
    found = reheat_minutes(volume_l=given["V"], delta_t_k=given["T"], power_w=1000 * given["P"])
    assert found == pytest.approx(expected["minutes"], rel=0.001)


@pytest.mark.oracle(
    question="hot_water",
    source="installation-scheme guidance, 45 L per person per day",
    standing="published",
    tolerance="exact",
    case="DHW-031",
)
def test_daily_volume(cases: dict[str, Any]) -> None:
    given, expected = cases["DHW-031"]["inputs"], cases["DHW-031"]["expected"]
    people = design_people(occupants=1, bedrooms=given["bedrooms"])
    assert people == expected["people"]
    assert daily_draw_l(people=people) == expected["L_per_day"]


@pytest.mark.oracle(
    question="hot_water",
    source="heat balance",
    standing="second computation",
    tolerance="exact",
    case="DHW-032",
)
def test_mixed_water(cases: dict[str, Any]) -> None:
    given, expected = cases["DHW-032"]["inputs"], cases["DHW-032"]["expected"]
    found = mixed_water_l(
        volume_l=given["V"], store_temp_c=given["Ts"], cold_temp_c=given["Tc"], mixed_temp_c=given["Tm"]
    )
    assert found == pytest.approx(expected["V40"])


@pytest.mark.oracle(
    question="hot_water",
    source="SAP 2012 Tables 1b, 1c, 1d, published test case",
    standing="published",
    tolerance="0.001 kWh a month",
    case="SAP2012-DHW",
)
def test_energy_of_a_year(cases: dict[str, Any]) -> None:
    given, expected = cases["SAP2012-DHW"]["inputs"], cases["SAP2012-DHW"]["expected"]
    assert list(SAP_MONTH_FACTOR_RATIO) == given["factors"]
    assert list(SAP_DELTA_T_K) == given["dT"]
    assert list(DAYS_OF_MONTHS) == given["days"]
    litres = daily_hot_water_l(people=given["N"])
    assert litres == pytest.approx(given["Vd_average"])
    months = hot_water_energy_kwh(litres_per_day=litres, heat_capacity_j_per_kgk=4180)
    assert months == pytest.approx(expected["with_4p18_kWh"], abs=0.001)
    assert sum(months) == pytest.approx(expected["annual_with_4p18"], abs=0.001)
    year = sum(hot_water_energy_kwh(litres_per_day=litres, heat_capacity_j_per_kgk=4190))
    assert year == pytest.approx(expected["annual_with_4p190"], abs=0.001)


@pytest.mark.oracle(
    question="hot_water",
    source="SAP 2012 Table 1b",
    standing="published",
    tolerance="0.001",
    case="SAP-OCC",
)
def test_occupancy(cases: dict[str, Any]) -> None:
    given, expected = cases["SAP-OCC"]["inputs"], cases["SAP-OCC"]["expected"]
    for area_m2, people, litres in zip(given["TFA"], expected["N"], expected["Vd_average_SAP2012"], strict=True):
        assert occupancy(floor_area_m2=area_m2) == pytest.approx(people, abs=0.001)
        assert daily_hot_water_l(people=occupancy(floor_area_m2=area_m2)) == pytest.approx(litres, abs=0.001)


@pytest.mark.oracle(
    question="hot_water",
    source="common practice, no source: stores that the trade fits by bedrooms",
    standing="common practice",
    tolerance="the range that the trade fits: 2 bedrooms up to 150 L, 3 up to 180, 4 from 190 to 215 L",
)
@pytest.mark.parametrize(("bedrooms", "low_l", "high_l"), [(2, 100, 150), (3, 150, 180), (4, 190, 215)])
def test_store_by_bedrooms(bedrooms: int, low_l: float, high_l: float) -> None:
    draw_l = daily_draw_l(people=design_people(occupants=1, bedrooms=bedrooms))
    assert low_l < store_needed_l(draw_l_per_day=draw_l, store_temp_c=50) <= high_l
