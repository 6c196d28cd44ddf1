"""Words about numbers that everyone shares."""

import random
from decimal import ROUND_HALF_UP, Decimal

from hypothesis import example, given, strategies as st

from models.units import counted, dyadic, exact


def test_one_thing_is_not_many() -> None:
    assert [counted(count, "room") for count in (0, 1, 2)] == ["0 rooms", "1 room", "2 rooms"]


def test_flows_of_a_hundred_megawatts_still_add_up_to_nothing() -> None:
    """Flows of 12 MW between the rooms of a drawn house left 9e-10 W over when the grid was too fine for them."""
    chance = random.Random(20)
    for _ in range(2000):
        flows_w = [dyadic(chance.uniform(-8e7, 8e7)) for _ in range(6)]
        rooms_w = [sum(flows_w)] + [-flow_w for flow_w in flows_w]
        assert sum(rooms_w) == 0.0
        assert all(abs(dyadic(flow_w / 7) - flow_w / 7) <= 2**-25 for flow_w in flows_w)


NUMBERS = (
    st.floats(-2e9, 2e9)
    | st.decimals(-(10**6), 10**6, places=3).map(float)
    | st.integers(-(10**15), 10**15).map(lambda millionths: millionths / 1e6)
    | st.integers(-(10**9), 10**9).map(lambda halves: (halves + 0.5) / 1e6)
    | st.integers(-(10**6), 10**6)
)


@given(NUMBERS)
@example(2 * 8.4 / 1.2)
@example(0.0000005)
@example(999_999_999.999999)
@example(1e9)
def test_the_exact_value_is_the_printed_one_at_six_places(value: float) -> None:
    """By hand: print the float, read it as a decimal, round half up at the sixth place."""
    printed = Decimal(repr(float(value))).quantize(Decimal("0.000001"), ROUND_HALF_UP)
    assert exact(value) == printed
    assert exact(value).as_tuple().exponent == -6
