"""Money: rounding, margin, splitting."""

from decimal import Decimal

import pytest
from hypothesis import given, strategies as st

from models.money import Pence, line_pence, pence, split, unit_price, with_margin
from models.units import exact, whole_up

D = Decimal


@pytest.mark.parametrize(
    ("amount", "whole"), [("0.5", 1), ("1.5", 2), ("2.5", 3), ("2.4999", 2), ("-0.5", -1), ("-2.5", -3)]
)
def test_pence_round_half_away_from_zero(amount, whole):
    assert pence(D(amount)) == whole


def test_a_unit_price_has_four_places():
    assert unit_price(D("6.83335")) == D("6.8334")
    assert unit_price(D(2) / 3) == D("0.6667")


def test_a_line_is_rounded_once():
    # 3 x 0.3333 = 0.9999 pounds = 99.99 pence; rounding the unit price to pence first would give 99
    assert line_pence(D(3), D("0.3333")) == 100


def test_margin_is_refused_where_it_leaves_no_price():
    for ratio in ("1", "1.2", "-0.1"):
        with pytest.raises(ValueError, match="at least 0 and below 1"):
            with_margin(D(100), D(ratio))


def test_a_split_by_largest_remainder():
    # 100 in thirds: 33.33.. each, the odd penny to the first; 10 by 1:2:3 = 1.67, 3.33, 5.00
    assert split(Pence(100), [1, 1, 1]) == [34, 33, 33]
    assert split(Pence(10), [1, 2, 3]) == [2, 3, 5]
    assert split(Pence(-100), [1, 1, 1]) == [-34, -33, -33]


@pytest.mark.parametrize("weights", [[], [0, 0], [1, -1]])
def test_a_split_needs_weights(weights):
    with pytest.raises(ValueError, match="weights"):
        split(Pence(100), weights)


@given(
    st.integers(-(10**9), 10**9),
    st.lists(st.integers(0, 10**6), min_size=1, max_size=8).filter(any),
)
def test_a_split_adds_up_and_no_share_is_a_penny_off(total, weights):
    shares = split(Pence(total), weights)
    assert sum(shares) == total
    for share, weight in zip(shares, weights, strict=True):
        assert abs(share * sum(weights) - total * weight) < sum(weights)


@given(st.integers(0, 10**9), st.integers(0, 99))
def test_the_margin_is_that_share_of_the_selling_price(cost_pence, percent):
    sell = with_margin(D(cost_pence), D(percent) / 100)
    assert abs((sell - cost_pence) - sell * percent / 100) < D("0.000001")


def test_float_dust_is_gone_before_a_ceiling():
    # in floats 3 x 1.1 / 0.3 is 11.000000000000002
    assert whole_up(3 * 1.1 / 0.3) == 11
    assert whole_up(11.000001) == 12
    assert exact(0.1 + 0.2) == D("0.3")
