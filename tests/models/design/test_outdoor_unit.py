"""The choice of the outdoor unit, with units whose ratings are flat so that they can be read off."""

from typing import Any

import pytest

from models.catalogue import OutdoorUnit, PumpPoint, Rating
from models.design.outdoor_unit import WHY, choose_unit, rank_unit, units_outdoors
from models.design.results import Climate, Offer, UnitChoice
from models.physics.rating import rating_grid
from models.physics.seasonal import HeatingYear, YearOfHeat, year_of_heat
from models.sources import COMMON_PRACTICE

CLIMATE = Climate("-", 0, -3, "per_100m", 0, -3, 10, (10.0,) * 12, "-", COMMON_PRACTICE)


def offer(sku: str, output: float, cost: int, *, least: float = 1000, **more: Any) -> Offer[OutdoorUnit]:
    ratings = tuple(
        Rating(outdoor_temp_c=t, flow_temp_c=f, output_w=output, input_w=output / 3, minimum_output_w=least,
               sound_power_dba=57)
        for t in (-10, 10) for f in (35, 55)
    )  # fmt: skip
    given = {
        "sku": sku, "name": f"unit {sku}", "ratings": ratings, "defrost_included": True,
        "pump_curve": (PumpPoint(flow_l_per_s=0, head_pa=60000), PumpPoint(flow_l_per_s=0.5, head_pa=20000)),
        "own_loss_pa": 5000, "nominal_flow_l_per_s": 0.3, "minimum_flow_l_per_s": 0.1, "maximum_flow_l_per_s": 0.5,
        "minimum_volume_l": 30, "connection_od_mm": 28, "width_mm": 1000, "depth_mm": 400, "height_mm": 800,
        "mass_kg": 90, "clear_back_mm": 200, "clear_left_mm": 200, "clear_right_mm": 200, "clear_front_mm": 1000,
        "clear_above_mm": 500, "refrigerant": "R290", "charge_kg": 0.5, "water_l": 2, "wall_bracket_allowed": True,
        "cascade_allowed": False, "phases": "single", "maximum_current_a": 12, "breaker_a": 16,
        "condensate_l_per_day": 20,
    }  # fmt: skip
    return Offer(OutdoorUnit(**given | more), cost, 0.0)


FOUR, SIX, EIGHT = offer("U-4", 4000, 200000), offer("U-6", 6000, 250000), offer("U-8", 8000, 300000)
QUIET = offer("U-6Q", 5900, 320000)


def choose(
    *offers: Offer[OutdoorUnit], loss_w: float, flow: float = 45, wanted: str | None = None, year: Any = None
) -> UnitChoice:
    def heated(unit: OutdoorUnit, count: int) -> YearOfHeat:
        return year_of_heat(
            rating_grid(unit), year=year, count=count, defrost_included=unit.defrost_included, pipe_loss_outside_w=0.0
        )

    units = units_outdoors(offers=offers or (FOUR, QUIET, SIX, EIGHT), climate=CLIMATE)
    return choose_unit(
        units=units, heat_loss_w=loss_w, climate=CLIMATE, flow_temp_c=flow,
        heated=None if year is None else heated, wanted_sku=wanted,
    )  # fmt: skip


def sku_of(choice: UnitChoice) -> str | None:
    return choice.unit.sku if choice.unit else None


def codes(choice: UnitChoice) -> list[tuple[str, str]]:
    return [(finding.code, finding.strength) for finding in choice.findings]


def test_next_size_above_the_heat_loss_with_its_figures() -> None:
    choice = choose(loss_w=5000)
    assert (sku_of(choice), choice.count, choice.capacity_w, choice.input_w) == ("U-6", 1, 6000, 2000)
    assert choice.cover_ratio == pytest.approx(1.2)
    assert (choice.minimum_output_w, choice.sound_power_dba) == pytest.approx((1000, 57))
    assert choice.hours_below_minimum_h is None
    assert choice.findings == ()


def test_every_unit_is_shown_with_its_reason() -> None:
    reasons = {each.sku: (each.taken, each.reason) for each in choose(loss_w=5000).considered}
    assert reasons == {
        "U-4": (False, "1,000 W short of the heat loss"),
        "U-6Q": (False, "the same size, and no cheaper"),
        "U-6": (True, "the next size above the heat loss"),
        "U-8": (False, "larger than needed"),
    }


def test_a_unit_that_just_covers_is_enough_and_a_watt_less_is_not() -> None:
    assert sku_of(choose(loss_w=4000)) == "U-4"
    assert sku_of(choose(loss_w=4001)) == "U-6"


def test_quiet_one_of_the_same_size_where_it_is_cheaper_or_asked_for() -> None:
    cheap_quiet = offer("U-6Q", 5900, 240000)
    assert sku_of(choose(SIX, cheap_quiet, loss_w=5000)) == "U-6Q"
    asked = choose(loss_w=5000, wanted="U-6Q")
    assert (sku_of(asked), asked.findings) == ("U-6Q", ())
    assert {each.reason for each in asked.considered if each.taken} == {"asked for"}


def test_beyond_the_makers_range_is_said_with_the_point() -> None:
    choice = choose(loss_w=5000, flow=60)
    assert choice.unit is None
    assert codes(choice) == [("no_unit_large_enough", "stop")]
    assert choice.considered[0].reason.startswith("outside the maker's range at -3 °C / 60 °C")
    assert choice.considered[0].capacity_w is None


def test_defrosting_left_out_of_the_ratings_comes_off() -> None:
    choice = choose(offer("U-6", 6000, 1, defrost_included=False), loss_w=5300)
    assert choice.capacity_w == pytest.approx(5400)  # a tenth less
    assert choice.cover_ratio == pytest.approx(5400 / 5300)


def test_two_where_one_is_not_enough_and_the_maker_allows_it() -> None:
    pair = offer("U-6", 6000, 250000, cascade_allowed=True)
    choice = choose(pair, EIGHT, loss_w=10000)
    assert (sku_of(choice), choice.count, choice.capacity_w, choice.input_w) == ("U-6", 2, 12000, 4000)
    assert choice.considered[0].reason == "the next size above the heat loss, 2 together since one is not enough"


def test_none_large_enough_is_a_stop_without_a_unit() -> None:
    choice = choose(loss_w=10000)
    assert (choice.unit, choice.count, choice.capacity_w) == (None, 0, None)
    assert codes(choice) == [("no_unit_large_enough", "stop")]
    assert "10,000 W" in choice.findings[0].message
    assert "8,000 W" in choice.findings[0].message


@pytest.mark.parametrize(("loss", "strength"), [(6300, "ask"), (6660, "ask"), (6700, "stop")], ids=str)
def test_wanted_unit_that_is_short(loss: float, strength: str) -> None:
    choice = choose(loss_w=loss, wanted="U-6")  # nine tenths of the loss at 6667 W
    assert codes(choice) == [("unit_short_of_heat_loss", strength)]
    assert sku_of(choice) == (None if strength == "stop" else "U-6")
    assert choice.capacity_w == 6000


def test_wanted_unit_that_is_far_too_small_comes_twice_where_allowed() -> None:
    choice = choose(offer("U-6", 6000, 1, cascade_allowed=True), loss_w=9000, wanted="U-6")
    assert (sku_of(choice), choice.count, choice.findings) == ("U-6", 2, ())


@pytest.mark.parametrize(("wanted", "flow"), [("U-9", 45.0), ("U-6", 60.0)])
def test_wanted_unit_that_cannot_be_had(wanted: str, flow: float) -> None:
    choice = choose(loss_w=5000, wanted=wanted, flow=flow)
    assert choice.unit is None
    assert codes(choice) == [("wanted_unit_not_possible", "stop")]


def test_half_as_much_again_is_asked_about() -> None:
    assert codes(choose(EIGHT, loss_w=5400)) == []  # 1.48
    assert codes(choose(EIGHT, loss_w=5300)) == [("unit_oversized", "ask")]  # 1.51
    assert "no smaller unit" in choose(EIGHT, loss_w=5300).findings[0].remedy
    smaller = choose(EIGHT, SIX, loss_w=5300, wanted="U-8").findings[0].remedy
    assert SIX.item.name in smaller and "6,000 W" in smaller


@pytest.mark.parametrize(("mild_hours", "expected"), [(100, None), (1200, "note"), (4000, "ask")])
def test_hours_below_the_least_output(mild_hours: float, expected: str | None) -> None:
    # cold: 1000 h at 2000 W = 2000 kWh; mild: 900 W, below the least output of 1000 W
    # 90 / 2090 = 4 %; 1080 / 3080 = 35 %; 3600 / 5600 = 64 % of the heat
    bins = ((0, 1000, 2000, 40, 36), (9, mild_hours, 900, 32, 30))
    choice = choose(SIX, loss_w=5000, year=HeatingYear(15.5, 200, -3, 20, 45, 40, 1.3, 0, 0, 0, bins))
    assert choice.hours_below_minimum_h == mild_hours
    assert codes(choice) == ([("cycles_in_mild_weather", expected)] if expected else [])


def test_a_house_without_loss_takes_the_smallest_and_knows_no_cover() -> None:
    choice = choose(loss_w=0)
    assert (sku_of(choice), choice.cover_ratio) == ("U-4", None)


def test_sentence_fills_from_the_choice() -> None:
    choice = choose(loss_w=5000)
    told = WHY.sentence.format(**{name: getattr(choice, name) for name in choice.__slots__})
    assert told == "1 × unit U-6: 6,000 W at design conditions, 1.20 of the heat loss"


@pytest.mark.parametrize("flow", [30, 35, 45, 55, 60])
@pytest.mark.parametrize("wanted", [None, "U-4", "U-8", "U-9"])
@pytest.mark.parametrize("loss_w", [0, 900, 3999, 4000, 4500, 5950, 8000, 8800, 9000, 15000, 17000])
def test_the_ranking_takes_the_unit_that_the_choice_takes(loss_w: float, wanted: str | None, flow: float) -> None:
    units = units_outdoors(offers=(FOUR, QUIET, SIX, EIGHT), climate=CLIMATE)
    ranked = rank_unit(units=units, heat_loss_w=loss_w, flow_temp_c=flow, wanted_sku=wanted)
    choice = choose(loss_w=loss_w, flow=flow, wanted=wanted)
    assert (ranked.unit, ranked.count) == (choice.unit, choice.count)


def test_a_loss_next_to_nothing_has_no_cover() -> None:
    """6 kW over 1e-310 W is more than a float holds, and no number at all in JSON."""
    choice = choose(SIX, loss_w=1e-310)
    assert choice.cover_ratio is None
