"""Words about numbers that everyone shares."""

import random

from models.units import dyadic


def test_flows_of_a_hundred_megawatts_still_add_up_to_nothing() -> None:
    """Flows of 12 MW between the rooms of a drawn house left 9e-10 W over when the grid was too fine for them."""
    chance = random.Random(20)
    for _ in range(2000):
        flows_w = [dyadic(chance.uniform(-8e7, 8e7)) for _ in range(6)]
        rooms_w = [sum(flows_w)] + [-flow_w for flow_w in flows_w]
        assert sum(rooms_w) == 0.0
        assert all(abs(dyadic(flow_w / 7) - flow_w / 7) <= 2**-25 for flow_w in flows_w)
