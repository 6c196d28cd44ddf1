"""What must hold for the outdoor unit and the year of any house, through the whole estimate."""

import copy
import math
from datetime import date
from typing import Any

import pytest
from hypothesis import HealthCheck, Phase, given, settings, strategies as st

from models.estimate import Choices, Estimate, estimate
from models.survey import Survey

TODAY = date(2026, 11, 25)
NAMES = ("alder_row", "thornlea", "weir_cottages")
few = settings(
    max_examples=30, deadline=None, derandomize=True, phases=(Phase.generate,),
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)  # fmt: skip


def worked_out(
    households: Any, rules: Any, name: str, flow_c: float, *, walls_u: float, air_ratio: float, sku: str | None = None
) -> Estimate:
    """A demo household with one U-value for every outside wall and all its air changes scaled."""
    survey = copy.deepcopy(households[name]["survey"])
    survey["constructions"].append({"by": "u_value", "id": "any wall", "name": "any wall", "u_w_per_m2k": walls_u})
    for room in survey["rooms"]:
        room["air_changes_per_h"] = (room.get("air_changes_per_h") or 1.0) * air_ratio
        for element in room["elements"]:
            if element["kind"] == "wall" and element["faces"] == "outside":
                element["construction"] = "any wall"
    choices = Choices(flow_temp_c=flow_c, outdoor_unit_sku=sku)
    return estimate(Survey.model_validate(survey), choices, rules, today=TODAY)


def capacity_of(result: Estimate) -> float:
    """Of the units taken; no limit where none is enough, since a larger house would need more still."""
    unit = result.design.unit
    return math.inf if unit.unit is None or unit.capacity_w is None else unit.capacity_w


flows = st.sampled_from((35.0, 45.0, 55.0))
walls = st.floats(0.1, 4.0)
airs = st.floats(0.3, 3.0)


@few
@given(st.sampled_from(NAMES), flows, walls, st.floats(0, 1), airs)
def test_more_insulation_never_means_a_larger_unit(
    rules: Any, households: Any, name: str, flow_c: float, walls_u: float, left_ratio: float, air: float
) -> None:
    before = worked_out(households, rules, name, flow_c, walls_u=walls_u, air_ratio=air)
    after = worked_out(households, rules, name, flow_c, walls_u=walls_u * left_ratio, air_ratio=air)
    assert after.design.heat_loss.heat_loss_w <= before.design.heat_loss.heat_loss_w
    assert capacity_of(after) <= capacity_of(before)
    if before.design.performance is not None and after.design.performance is not None:
        assert after.design.performance.space_heat_kwh <= before.design.performance.space_heat_kwh + 1e-6


@few
@given(st.sampled_from(NAMES), flows, walls, airs, st.floats(1, 3))
def test_more_air_never_means_a_smaller_unit(
    rules: Any, households: Any, name: str, flow_c: float, walls_u: float, air: float, more: float
) -> None:
    still = worked_out(households, rules, name, flow_c, walls_u=walls_u, air_ratio=air)
    draughty = worked_out(households, rules, name, flow_c, walls_u=walls_u, air_ratio=air * more)
    assert draughty.design.heat_loss.heat_loss_w >= still.design.heat_loss.heat_loss_w
    assert capacity_of(draughty) >= capacity_of(still)


@pytest.mark.oracle(
    question="outdoor_unit", source="energy addition of two equal sources, 10 log10(2) = 3.0103 dB",
    standing="second computation", tolerance="1e-9 dB and W", through_estimate=True,
)  # fmt: skip
@pytest.mark.parametrize("flow_c", [45, 50, 55])
def test_two_units_give_twice_and_sound_three_decibels_more(rules: Any, households: Any, flow_c: float) -> None:
    big = worked_out(households, rules, "thornlea", flow_c, walls_u=3.0, air_ratio=2.0).design
    assert big.unit.unit is not None and big.unit.count == 2, "this house takes two"
    # The same house better insulated: one of the same is enough.
    sku = big.unit.unit.sku
    one = worked_out(households, rules, "thornlea", flow_c, walls_u=0.3, air_ratio=0.6, sku=sku).design
    assert one.unit.count == 1
    assert one.unit.capacity_w is not None and big.unit.capacity_w is not None
    assert big.unit.capacity_w == pytest.approx(2 * one.unit.capacity_w, rel=1e-9)
    assert big.unit.minimum_output_w == one.unit.minimum_output_w, "one of the two may stand still"
    louder = {at.where: at.level_dba for siting in big.sitings for at in siting.noise}
    quieter = {at.where: at.level_dba for siting in one.sitings for at in siting.noise}
    assert louder.keys() == quieter.keys() and louder
    for where, level_dba in louder.items():
        assert level_dba - quieter[where] == pytest.approx(10 * math.log10(2), abs=1e-9)
