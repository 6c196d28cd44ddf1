"""The curve's ends, its order, and what lies outside it."""

import pytest

from models.design.heating_curve import WHY, curve_at, heating_curve

DESIGN = {
    "flow_temp_c": 45.0, "delta_t_k": 5.0, "room_temp_c": 20.0, "design_outdoor_temp_c": -3.4, "base_temp_c": 15.5,
    "exponent": 1.3,
}  # fmt: skip


def test_curve_runs_from_design_to_base_by_whole_degrees() -> None:
    curve = heating_curve(**DESIGN)
    assert [point.outdoor_temp_c for point in curve.points] == [-3.4, *map(float, range(-3, 16)), 15.5]
    first, last = curve.points[0], curve.points[-1]
    assert (first.load_ratio, first.flow_temp_c, first.return_temp_c) == pytest.approx((1, 45, 40))
    assert (last.load_ratio, last.flow_temp_c, last.return_temp_c) == (0, 20, 20)


def test_whole_degrees_are_not_doubled_at_the_ends() -> None:
    curve = heating_curve(**DESIGN | {"design_outdoor_temp_c": -4.0, "base_temp_c": 16.0})
    assert [point.outdoor_temp_c for point in curve.points] == [float(degree) for degree in range(-4, 17)]


def test_milder_weather_wants_cooler_water() -> None:
    flows = [point.flow_temp_c for point in heating_curve(**DESIGN).points]
    assert flows == sorted(flows, reverse=True)
    assert len(set(flows)) == len(flows)


def test_colder_than_design_the_curve_goes_on() -> None:
    assert curve_at(outdoor_temp_c=-8, **DESIGN).flow_temp_c > 45


def test_base_below_design_is_refused() -> None:
    with pytest.raises(ValueError, match="above design"):
        heating_curve(**DESIGN | {"base_temp_c": -5.0})


def test_sentence_fills_from_a_point() -> None:
    point = curve_at(outdoor_temp_c=-3.4, **DESIGN)
    told = WHY.sentence.format(**{name: getattr(point, name) for name in point.__slots__})
    assert told.startswith("at -3.4 °C outside the house takes 1.00")
