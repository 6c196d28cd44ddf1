"""A year of running on a unit with flat ratings: output 6 kW for 2 kW of power, so every kWh is three."""

from dataclasses import replace
from decimal import Decimal
from math import isfinite
from typing import Any

import pytest

from models.catalogue import OutdoorUnit, PumpPoint, Rating
from models.design.performance import WHY, bins, cheap_seasonal, hot_water_run, performance
from models.design.results import Climate, CylinderChoice, HeatLoss, MethodResult, Performance
from models.physics.rating import rating_grid
from models.physics.seasonal import HeatingYear, year_of_heat
from models.sources import COMMON_PRACTICE
from models.survey import ExistingSystem, Tariffs

CLIMATE = Climate("-", 0, -3, "per_100m", 0, -3, 10, (10.0,) * 12, "-", COMMON_PRACTICE)
LOSS = HeatLoss("standard", (), 4000, 1000, 0, 5000, 100, 50, 208, 20)
STORE = CylinderChoice(3, 120, 150, 50, None, None, None, None, None, 1800, 300, 0, ())
TARIFFS = Tariffs(electricity_pence_per_kwh=Decimal("30"), fuel_pence_per_kwh=Decimal("10"))
# 3000 h at 3000 W: 9000 kWh of heat, 3000 kWh of electricity
YEAR = HeatingYear(15.5, 208, -3, 20, 45, 40, 1.3, 1803, 3000, 9000, ((2, 3000, 3000, 40, 36),))


def unit(**more: Any) -> OutdoorUnit:
    ratings = tuple(
        Rating(outdoor_temp_c=t, flow_temp_c=f, output_w=6000, input_w=2000, minimum_output_w=1000, sound_power_dba=57)
        for t in (-10, 12) for f in (35, 55)
    )  # fmt: skip
    given = {
        "sku": "U-6", "name": "unit", "ratings": ratings, "defrost_included": True,
        "pump_curve": (PumpPoint(flow_l_per_s=0, head_pa=60000), PumpPoint(flow_l_per_s=0.5, head_pa=20000)),
        "own_loss_pa": 5000, "nominal_flow_l_per_s": 0.3, "minimum_flow_l_per_s": 0.1, "maximum_flow_l_per_s": 0.5,
        "minimum_volume_l": 30, "connection_od_mm": 28, "width_mm": 1000, "depth_mm": 400, "height_mm": 800,
        "mass_kg": 90, "clear_back_mm": 200, "clear_left_mm": 200, "clear_right_mm": 200, "clear_front_mm": 1000,
        "clear_above_mm": 500, "refrigerant": "R290", "charge_kg": 0.5, "water_l": 2, "wall_bracket_allowed": True,
        "cascade_allowed": False, "phases": "single", "maximum_current_a": 12, "breaker_a": 16,
        "condensate_l_per_day": 20,
    }  # fmt: skip
    return OutdoorUnit(**given | more)


def run(**more: Any) -> Performance:
    given = {
        "heat_loss": LOSS, "climate": CLIMATE, "year": YEAR, "unit": unit(), "count": 1, "hot_water": STORE,
        "tariffs": TARIFFS, "existing": ExistingSystem(fuel="none"), "pipe_loss_outside_w": 0.0,
        "above_station_m": 0.0,
    }  # fmt: skip
    answer = performance(**given | more)
    assert answer is not None
    return answer


def codes(answer: Performance) -> list[tuple[str, str]]:
    return [(finding.code, finding.strength) for finding in answer.findings]


def test_a_year_by_hand() -> None:
    answer = run()
    assert (answer.space_heat_kwh, answer.hot_water_kwh) == (9000, 2100)
    assert answer.space_electricity_kwh == pytest.approx(3000)
    assert answer.hot_water_electricity_kwh == pytest.approx(700)  # (1800 + 300) / 3
    assert answer.electricity_kwh == pytest.approx(3700)
    assert answer.seasonal_ratio == answer.space_seasonal_ratio == pytest.approx(3)
    assert answer.running_cost_pence == 111000  # 3700 x 30
    # By hand, of 3000 kWh for rooms: weather 10 % = 300; a kelvin is 3000 h / 24 / 1803 Kd = 0.06933, so 208 for the
    # rooms and 208 for the gains (5 W/m2 x 100 m2 / 208 W/K = 2.4 K lift the house to 20 °C from 17.6 °C outside, which
    # is not colder than the base); hot water a third of 1800 / 3 = 200; frost 5 % of all the heat, at 2 °C, = 150.
    # Upwards besides 25 W x 8760 h = 219; this unit takes no more for hotter water.
    kelvin = 3000 * 3000 / 24 / 1803
    less = [300, kelvin, kelvin, 200, 150]
    down = sum(each**2 for each in less) ** 0.5
    up = sum(each**2 for each in [*less, 219]) ** 0.5
    assert (answer.low_kwh, answer.high_kwh) == pytest.approx((3700 - down, 3700 + up))
    assert (answer.running_cost_low_pence, answer.running_cost_high_pence) == (
        round((3700 - down) * 30), round((3700 + up) * 30),
    )  # fmt: skip
    assert (answer.degree_days_kd, answer.backup_kwh, answer.hours_below_minimum_h) == (1803, 0, 0)
    assert (answer.fuel_now_kwh, answer.fuel_now_cost_pence, answer.saving_pence) == (None, None, None)
    assert answer.findings == ()


def test_the_spans_that_hang_on_the_house_by_hand() -> None:
    """Other methods, a house of little loss, frost that the ratings leave out, hotter water, a hill."""
    others = (MethodResult("simplified", 5500, 0, 0, 0), MethodResult("room_air_changes", 3500, 0, 0, 0))
    answer = run(heat_loss=replace(LOSS, other_methods=others), above_station_m=300.0)
    terms = {term.code: (term.less_kwh, term.more_kwh) for term in answer.range_terms}
    # 3500 of 5000 W is 30 % less, 5500 is 10 % more, of 3000 kWh
    assert terms["method"] == pytest.approx((900, 300))
    # 0.6 K for each 100 m: 1.8 K colder, which only adds
    assert terms["hill"] == pytest.approx((0, 1.8 * 3000 * 3000 / 24 / 1803))
    # 5 W/m2 x 100 m2 over 62.5 W/K lift the house by 8 K: 20 - 8 = 12 °C is 3.5 K below the base of 15.5 °C
    answer = run(heat_loss=replace(LOSS, loss_coefficient_w_per_k=62.5))
    terms = {term.code: (term.less_kwh, term.more_kwh) for term in answer.range_terms}
    kelvin = 3000 * 3000 / 24 / 1803
    assert terms["gains"] == pytest.approx((3.5 * kelvin, kelvin))
    assert "hill" not in terms and "method" not in terms
    # Left out of the ratings, defrosting is itself a tenth of the output: 3000 kWh / 0.9, and a tenth of that
    answer = run(unit=unit(defrost_included=False))
    terms = {term.code: (term.less_kwh, term.more_kwh) for term in answer.range_terms}
    assert terms["defrost"] == pytest.approx((3000 / 0.9 * 0.1,) * 2)
    # Power rising from 2000 W at 35 °C to 3000 W at 55 °C: 2250 W at 40 °C, 2500 W at 45 °C, a ninth more
    ratings = tuple(
        Rating(outdoor_temp_c=t, flow_temp_c=f, output_w=6000, input_w=p, minimum_output_w=1000, sound_power_dba=57)
        for t in (-10, 12) for f, p in ((35, 2000), (55, 3000))
    )  # fmt: skip
    answer = run(unit=unit(ratings=ratings))
    terms = {term.code: (term.less_kwh, term.more_kwh) for term in answer.range_terms}
    assert terms["curve"] == pytest.approx((0, 3000 * 2250 / 2000 / 9))


def test_a_loss_next_to_nothing_has_an_end_to_its_range() -> None:
    """Over 1e-310 W another method's 400 W is infinitely more, and 500 W of gains lift the house without end."""
    loss = replace(LOSS, heat_loss_w=1e-310, loss_coefficient_w_per_k=1e-311)
    loss = replace(loss, other_methods=(MethodResult("simplified", 400, 0, 0, 0),))
    answer = run(heat_loss=loss)
    assert all(isfinite(term.less_kwh) and isfinite(term.more_kwh) for term in answer.range_terms)
    assert isfinite(answer.high_kwh)


def test_ranking_gives_the_same_electricity_as_the_whole_answer() -> None:
    water = hot_water_run(unit=unit(), climate=CLIMATE, hot_water=STORE)
    space = year_of_heat(
        rating_grid(unit()), year=YEAR, count=1, defrost_included=unit().defrost_included, pipe_loss_outside_w=0.0
    )
    cheap = cheap_seasonal(space=space, water=water, tariffs=TARIFFS)
    whole = run()
    assert (cheap.electricity_kwh, cheap.seasonal_ratio, cheap.running_pence_per_year) == (
        whole.electricity_kwh, whole.seasonal_ratio, whole.running_cost_pence,
    )  # fmt: skip


def test_hygiene_cycles_are_direct_electric() -> None:
    answer = run(hot_water=replace(STORE, hygiene_kwh_per_year=100))
    assert answer.hot_water_kwh == 2200
    assert answer.hot_water_electricity_kwh == pytest.approx(800)


def test_a_store_hotter_than_the_unit_reaches_is_finished_by_the_immersion_heater() -> None:
    # 55 °C flow reaches 50 °C; cold water 10 °C: 40 of 50 K to 60 °C by the unit, the fifth left is 420 kWh
    answer = run(hot_water=replace(STORE, store_temp_c=60))
    assert answer.hot_water_electricity_kwh == pytest.approx(2100 * 0.8 / 3 + 420)
    assert codes(answer) == [("store_hotter_than_unit_reaches", "note")]


def test_heat_that_the_unit_lacks_is_said() -> None:
    year = replace(YEAR, bins=(*YEAR.bins, (-5, 10, 7000, 45, 40)))
    answer = run(year=year)
    assert answer.backup_kwh == pytest.approx(10)
    assert codes(answer) == [("direct_electric_heat_in_cold_hours", "note")]


def test_share_of_heat_below_the_least_output() -> None:
    year = replace(YEAR, bins=(*YEAR.bins, (12, 2000, 500, 28, 27)))
    answer = run(year=year)
    assert answer.hours_below_minimum_h == 2000
    assert answer.heat_below_minimum_ratio == pytest.approx(1000 / 10000)


@pytest.mark.parametrize(
    ("fuel", "used", "fuel_unit", "energy"),
    [
        ("oil", 1300, "litre", 13455),  # 10.35 kWh a litre gross, from memory
        ("lpg", 1900, "litre", 13490),  # 7.1
        ("mains_gas", 1200, "m3", 13320),  # 11.1
        ("coal", 1700, "kg", 13600),  # 8.0
        ("electric", 11000, "kwh", 11000),
    ],
)
def test_fuel_of_today_in_kilowatt_hours_and_money(fuel: Any, used: float, fuel_unit: Any, energy: float) -> None:
    existing = ExistingSystem(fuel=fuel, fuel_used=used, fuel_unit=fuel_unit, boiler_efficiency_ratio=0.82)
    answer = run(existing=existing)
    assert answer.fuel_now_kwh == pytest.approx(energy)
    assert answer.fuel_now_cost_pence == round(energy * 10)
    assert answer.saving_pence == round(energy * 10) - 111000
    assert answer.saving_low_pence == round(energy * 10) - answer.running_cost_high_pence
    assert answer.saving_high_pence == round(energy * 10) - answer.running_cost_low_pence
    assert codes(answer) == []


def test_without_a_fuel_price_there_is_no_saving_to_claim() -> None:
    tariffs = Tariffs(electricity_pence_per_kwh=Decimal("30"))
    answer = run(existing=ExistingSystem(fuel="oil", fuel_used=1300, fuel_unit="litre"), tariffs=tariffs)
    assert answer.fuel_now_kwh == pytest.approx(13455)
    assert (answer.fuel_now_cost_pence, answer.saving_pence) == (None, None)


def test_a_fuel_not_sold_by_that_unit_is_asked_about() -> None:
    answer = run(existing=ExistingSystem(fuel="coal", fuel_used=100, fuel_unit="litre"))
    assert answer.fuel_now_kwh is None
    assert codes(answer) == [("fuel_unit_unusual", "ask")]


@pytest.mark.parametrize(
    ("used", "agrees"),
    [
        (16800, True),  # 0.8 x 16800 - 1800 = 11640, 29 % more than 9000
        (17000, False),  # 11800, 31 % more
        (10200, True),  # 6360, 29 % less
        (10000, False),  # 6200, 31 % less
    ],
)
def test_fuel_that_disagrees_with_the_survey_is_asked_about(used: float, agrees: bool) -> None:
    answer = run(existing=ExistingSystem(fuel="oil", fuel_used=used, fuel_unit="kwh", boiler_efficiency_ratio=0.8))
    assert codes(answer) == ([] if agrees else [("fuel_disagrees", "ask")])
    if not agrees:
        assert "31 %" in answer.findings[0].message


def test_unknown_efficiency_is_told_by_the_kind_of_boiler() -> None:
    answer = run(existing=ExistingSystem(fuel="coal", fuel_used=40000, fuel_unit="kwh", boiler="back_boiler"))
    assert "0.68" in answer.findings[0].message
    assert "from memory" in answer.findings[0].message


def test_a_house_without_heat_to_deliver_has_no_performance() -> None:
    empty = replace(YEAR, bins=())
    nothing = performance(
        heat_loss=LOSS, climate=CLIMATE, year=empty, unit=unit(), count=1, hot_water=STORE, tariffs=TARIFFS,
        existing=ExistingSystem(fuel="none"), pipe_loss_outside_w=0.0, above_station_m=0.0,
    )  # fmt: skip
    assert nothing is None


def test_assumptions_are_said() -> None:
    told = " ".join(run(unit=unit(defrost_included=False)).assumptions)
    for part in ("15.5 °C", "208 W", "55 °C", "nine years and households in ten", "defrosting"):
        assert part in told


def test_bins_of_a_climate_are_remembered() -> None:
    assert bins(CLIMATE) is bins(CLIMATE)


def test_sentence_fills_from_the_answer() -> None:
    answer = run()
    told = WHY.sentence.format(**{name: getattr(answer, name) for name in answer.__slots__})
    assert "9,000 kWh of heating" in told
