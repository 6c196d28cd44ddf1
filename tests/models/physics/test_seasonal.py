"""A year of weather and of running, on years simple enough to reckon by hand."""

import pytest

from models.physics.rating import RatingGrid
from models.physics.seasonal import (
    HeatingYear,
    YearBin,
    defrost_factor,
    degree_days_kd,
    heat_paid_for_w,
    heating_year,
    load_ratio,
    temperature_bins,
    unit_at,
    year_of_heat,
)
from models.units import DAYS_OF_MONTHS

MIDLANDS_C = (4.3, 4.8, 6.6, 9.0, 11.8, 14.8, 16.6, 16.5, 14.0, 10.5, 7.1, 4.2)
# output 6 kW, input 2 kW, least output 2 kW everywhere between -10 and 10 °C outside, 35 and 55 °C flow
FLAT = RatingGrid((-10.0, 10.0), (35.0, 55.0), (((6000, 2000, 2000, 55),) * 2,) * 2)


def year_of(*bins: YearBin) -> HeatingYear:
    return HeatingYear(15.5, 200, -5, 20, 45, 40, 1.3, 0, 0, 0, bins)


def run(grid: RatingGrid, *bins: YearBin, count: int = 1, pipe_loss_w: float = 0.0):  # type: ignore[no-untyped-def]
    return year_of_heat(
        grid, year=year_of(*bins), count=count, defrost_included=True, pipe_loss_outside_w=pipe_loss_w
    )


def test_bins_hold_every_hour_of_the_year_and_its_mean_temperature() -> None:
    bins = temperature_bins(MIDLANDS_C)
    assert sum(hours for _, hours in bins) == pytest.approx(8760)
    mean = sum(t * days for t, days in zip(MIDLANDS_C, DAYS_OF_MONTHS, strict=True)) / 365
    assert sum(t * hours for t, hours in bins) / 8760 == pytest.approx(mean, abs=0.01)


def test_bins_need_twelve_months() -> None:
    with pytest.raises(ValueError, match="twelve"):
        temperature_bins((4.0,) * 11)


def test_spread_adds_degree_days_to_those_of_monthly_means() -> None:
    spread = degree_days_kd(temperature_bins(MIDLANDS_C), base_temp_c=15.5)
    whole_months = [(mean, 24.0 * days) for mean, days in zip(MIDLANDS_C, DAYS_OF_MONTHS, strict=True)]
    assert spread > degree_days_kd(whole_months, base_temp_c=15.5)


def test_load_ratio_is_one_at_design_and_nothing_from_the_base_up() -> None:
    at = {"base_temp_c": 15.5, "design_outdoor_temp_c": -4.5}
    assert load_ratio(outdoor_temp_c=-4.5, **at) == 1
    assert load_ratio(outdoor_temp_c=5.5, **at) == 0.5
    assert load_ratio(outdoor_temp_c=20, **at) == 0
    assert load_ratio(outdoor_temp_c=-8.5, **at) == pytest.approx(1.2)
    with pytest.raises(ValueError, match="above design"):
        load_ratio(outdoor_temp_c=0, base_temp_c=-5, design_outdoor_temp_c=-4.5)


def test_heating_year_follows_load_line_and_curve() -> None:
    year = heating_year(
        monthly_mean_temp_c=MIDLANDS_C, loss_coefficient_w_per_k=200, base_temp_c=15.5, design_outdoor_temp_c=-4.5,
        room_temp_c=20, flow_temp_c=45, delta_t_k=5, exponent=1.3,
    )  # fmt: skip
    by_temp = {outdoor_c: (load_w, flow_c, return_c) for outdoor_c, _, load_w, flow_c, return_c in year.bins}
    assert by_temp[5.0][0] == pytest.approx(200 * 10.5)
    # (20 - 7.75) / (20 + 4.5) = 0.5 at 7.75 °C; at 8 °C the ratio is 12 / 24.5, the drop 5 K times that
    assert by_temp[8.0][1] - by_temp[8.0][2] == pytest.approx(5 * 12 / 24.5)
    assert max(by_temp) == 15  # the last whole degree below 15.5
    assert by_temp[-8.0][1] == pytest.approx(45)  # colder than design: no hotter than design
    assert year.space_heat_kwh == pytest.approx(200 * year.degree_days_kd * 24 / 1000)
    assert sum(load_w * hours_h for _, hours_h, load_w, _, _ in year.bins) / 1000 == pytest.approx(year.space_heat_kwh)


def test_at_full_output_a_kilowatt_hour_is_three() -> None:
    ran = run(FLAT, (0, 100, 4000, 45, 40))
    assert ran.heat_kwh == 400
    assert ran.electricity_kwh == pytest.approx(400 / 3)  # 6000 / 2000 = 3
    assert (ran.backup_kwh, ran.hours_below_minimum_h) == (0, 0)


def test_below_the_least_output_the_ratio_falls() -> None:
    ran = run(FLAT, (8, 100, 1000, 30, 28))
    # CR = 1000 / 2000 = 0.5: factor 0.5 / (0.9 x 0.5 + 0.1) = 0.909091; 100 kWh / (3 x 0.909091)
    assert ran.electricity_kwh == pytest.approx(100 / (3 * 0.9090909), rel=1e-6)
    assert (ran.hours_below_minimum_h, ran.heat_below_minimum_kwh) == (100, 100)


def test_what_the_units_cannot_give_is_direct_electric() -> None:
    cold = (-8, 10, 7000, 45, 40)
    one = run(FLAT, cold)
    assert one.backup_kwh == pytest.approx(10)  # (7000 - 6000) W x 10 h
    assert one.electricity_kwh == pytest.approx(10 + 60 / 3)
    assert run(FLAT, cold, count=2).backup_kwh == 0


def test_colder_or_hotter_than_rated_the_unit_stands_still() -> None:
    ran = run(FLAT, (-11, 10, 3000, 45, 40), (0, 10, 3000, 56, 51))
    assert ran.backup_kwh == ran.electricity_kwh == pytest.approx(60)


def test_pipe_loss_is_heat_that_the_unit_makes_and_the_house_does_not_get() -> None:
    # 95 W at design: water (45 + 40) / 2 = 42.5 °C less -5 °C is 47.5 K, so 2 W/K; here 42.5 - 0 = 42.5 K: 85 W
    ran = run(FLAT, (0, 100, 4000, 45, 40), pipe_loss_w=95)
    assert ran.pipe_loss_kwh == pytest.approx(8.5)
    assert ran.heat_kwh == 400
    assert ran.electricity_kwh == pytest.approx(408.5 / 3)


def test_beyond_the_mildest_or_coolest_rating_the_nearest_holds() -> None:
    grid = RatingGrid((0.0, 10.0), (35.0, 55.0), (((5000, 2000, 1, 5), (4000, 2000, 1, 5)), ((7000, 2000, 1, 5),) * 2))
    mild = unit_at(grid, outdoor_temp_c=14, flow_temp_c=30, defrost_included=True)
    assert mild == unit_at(grid, outdoor_temp_c=10, flow_temp_c=35, defrost_included=True) == (7000, 2000, 1)
    assert unit_at(grid, outdoor_temp_c=-0.1, flow_temp_c=40, defrost_included=True) is None
    assert unit_at(grid, outdoor_temp_c=5, flow_temp_c=55.1, defrost_included=True) is None


def test_defrosting_takes_a_tenth_in_frosty_weather_only() -> None:
    assert defrost_factor(outdoor_temp_c=0, defrost_included=False) == pytest.approx(0.9)
    assert defrost_factor(outdoor_temp_c=8, defrost_included=False) == 1
    assert defrost_factor(outdoor_temp_c=0, defrost_included=True) == 1


def test_switching_costs_nothing_where_nothing_is_given_or_the_unit_runs_through() -> None:
    """By EN 14825 nine tenths of what is given and a tenth of the least output: 0.9 x 500 + 0.1 x 2,000."""
    assert heat_paid_for_w(0.0, 2000) == 0
    assert heat_paid_for_w(500, 2000) == pytest.approx(650)
    assert heat_paid_for_w(2000, 2000) == 2000
    assert heat_paid_for_w(3000, 2000) == 3000


@pytest.mark.parametrize("defrost_included", [True, False])
@pytest.mark.parametrize("turned", [False, True], ids=["coldest first", "warmest first"])
def test_the_year_walks_the_ratings_as_one_look_at_a_time_does(turned: bool, defrost_included: bool) -> None:
    # output and input rise and fall from cell to cell, so that a wrong cell or weight shows; by hand, the first bin:
    # halfway between -10 and 0 °C and between 45 and 55 °C: (4200 + 3800 + 5400 + 5000) / 4 = 4600 W
    grid = RatingGrid(
        (-10.0, 0.0, 10.0),
        (35.0, 45.0, 55.0),
        (
            ((4600, 1700, 900, 55), (4200, 1900, 900, 56), (3800, 2100, 900, 57)),
            ((5900, 1600, 1000, 54), (5400, 1800, 1000, 55), (5000, 2050, 1000, 56)),
            ((7600, 1500, 1200, 53), (7100, 1750, 1200, 54), (6500, 1950, 1200, 55)),
        ),
    )
    first = unit_at(grid, outdoor_temp_c=-5, flow_temp_c=50, defrost_included=True)
    assert first is not None and first[0] == pytest.approx(4600)
    bins = [
        (-5, 10, 2000, 50, 45), (-10, 20, 2500, 55, 50), (0, 30, 2100, 45, 40),
        (3, 40, 1900, 41, 37), (7, 50, 1600, 36, 33), (14, 60, 1300, 30, 28),
    ]  # fmt: skip
    ran = year_of_heat(
        grid, year=year_of(*(reversed(bins) if turned else bins)), count=1, defrost_included=defrost_included,
        pipe_loss_outside_w=0.0,
    )  # fmt: skip
    taken_wh = 0.0
    for outdoor_c, hours_h, load_w, flow_c, _ in bins:
        state = unit_at(grid, outdoor_temp_c=outdoor_c, flow_temp_c=flow_c, defrost_included=defrost_included)
        assert state is not None and state[2] < load_w < state[0]
        taken_wh += load_w * hours_h * state[1] / state[0]
    assert ran.electricity_kwh == pytest.approx(taken_wh / 1000, rel=1e-12)


def test_a_load_next_to_nothing_takes_what_standing_by_takes() -> None:
    """Drawn surveys found a load of a denormal float: its part-load factor divided by it and came out infinite.

    By EN 14825 the power goes to (1 - Cd) x least output x input / output: 0.1 x 2,000 x 2,000 / 6,000 = 66.7 W.
    """
    ran = run(FLAT, (0, 100, 1e-310, 35, 30))
    assert ran.electricity_kwh == pytest.approx(0.1 * 2000 * 2000 / 6000 * 100 / 1000)
