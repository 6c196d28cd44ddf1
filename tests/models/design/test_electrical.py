"""The supply with the new load, checked by hand."""

import pytest

from models.catalogue import Cable
from models.design.electrical import electrical
from models.survey.site import Supply

CABLES = tuple(
    Cable(sku=f"CAB-{size}", size_mm2=size, clipped_a=clipped, buried_a=buried, in_insulation_a=inside,
          drop_mv_per_a_m=drop)
    for size, clipped, buried, inside, drop in ((10, 85, 71, 46, 4.4), (4, 49, 42, 18, 11), (6, 62, 53, 34, 7.3))
)  # fmt: skip
SUPPLY = {
    "phases": "single", "cutout_a": 80, "looped": "no", "earthing": "tn_c_s", "bonding_sound": "yes", "spare_ways": 2,
    "demand_before_a": 30, "cable_route_m": 12, "cable_method": "clipped",
}  # fmt: skip


@pytest.fixture
def wired(make_unit, make_position, place):
    def judge(*, unit=None, position=None, count=1, immersion_w=3000, cables=CABLES, **supply):
        result = electrical(
            supply=Supply.model_validate(SUPPLY | supply),
            unit=make_unit(**(unit or {})),
            count=count,
            immersion_w=immersion_w,
            cables=cables,
            position=make_position(**(position or {})),
            place_reference=place,
        )
        return result, {finding.code: finding for finding in result.findings}

    return judge


def test_demand_adds_up(wired):
    # 30 + 16 + 3000/230 = 59.04 A: below 60 A, so the operator is told afterwards
    result, said = wired()
    assert result.demand_after_a == pytest.approx(59.043, abs=1e-3)
    assert result.demand_after_a == result.demand_before_a + result.unit_current_a + result.immersion_current_a
    assert result.network == "notify" and "28 days" in said["network_notify"].message
    assert {f.strength for f in said.values()} == {"note"}


@pytest.mark.parametrize(
    ("supply", "network", "code"),
    [
        ({"demand_before_a": 31}, "apply", "network_apply"),  # 60.04 A
        ({"cutout_a": "unknown"}, "apply", "network_apply"),
        ({"looped": "yes"}, "apply", "supply_looped"),
        ({"looped": "unknown"}, "not_known", "supply_not_known"),
        ({"demand_before_a": "unknown"}, "not_known", "supply_not_known"),
    ],
)
def test_when_the_network_operator_is_asked_first(wired, supply, network, code):
    result, said = wired(**supply)
    assert result.network == network and said[code].strength == "ask"


def test_an_unknown_demand_is_not_guessed(wired):
    result, _ = wired(demand_before_a="unknown")
    assert result.demand_before_a is None and result.demand_after_a is None


def test_more_than_the_cutout_stops(wired):
    assert wired(demand_before_a=55)[1]["cutout_too_small"].strength == "stop"


def test_the_smallest_cable_that_passes(wired):
    # 4 mm2: 11 x 16 x 12 / 1000 = 2.112 V, 0.92 % of 230 V
    result, _ = wired()
    assert result.cable.size_mm2 == 4 and result.voltage_drop_ratio == pytest.approx(2.112 / 230)


def test_the_method_of_running_sets_what_a_cable_carries(wired):
    assert wired(cable_method="in_insulation")[0].cable.size_mm2 == 6  # 4 mm2 carries 18 A in insulation, not 20 A
    result, said = wired(cable_method="unknown")
    assert result.cable.size_mm2 == 6 and said["cable_method_not_known"].strength == "ask"
    assert wired(cable_method="buried", unit={"breaker_a": 50})[0].cable.size_mm2 == 6  # 42, 53, 71 A


def test_a_long_route_takes_a_larger_cable(wired):
    # 5 % of 230 V is 11.5 V: at 70 m 4 mm2 drops 12.32 V, 6 mm2 8.18 V
    assert wired(cable_route_m=70)[0].cable.size_mm2 == 6


def test_no_cable_is_a_stop(wired):
    result, said = wired(cable_route_m=200)  # 10 mm2: 14.08 V
    assert result.cable is None and result.voltage_drop_ratio is None
    assert said["no_cable_fits"].strength == "stop" and "200 m" in said["no_cable_fits"].message


def test_a_breaker_below_the_current_is_a_stop(wired):
    assert wired(unit={"breaker_a": 15})[1]["breaker_below_current"].strength == "stop"


def test_three_phases(wired):
    assert wired(unit={"phases": "three"})[1]["three_phase_unit"].strength == "stop"
    assert "three_phase_unit" not in wired(unit={"phases": "three"}, phases="three")[1]
    assert wired(phases="unknown")[1]["phases_not_known"].strength == "ask"


@pytest.mark.parametrize(("spare", "count", "board"), [(2, 1, False), (1, 1, True), (2, 2, True), ("unknown", 1, True)])
def test_an_extension_board_where_ways_are_short(wired, spare, count, board):
    result, said = wired(spare_ways=spare, count=count)
    assert result.extension_board is board
    assert ("spare_ways_not_known" in said) is (spare == "unknown")


@pytest.mark.parametrize(
    ("sound", "needed", "code"),
    [("yes", False, None), ("no", True, "bonding_unsound"), ("unknown", True, "bonding_not_known")],
)
def test_bonding(wired, sound, needed, code):
    result, said = wired(bonding_sound=sound)
    assert result.bonding_needed is needed
    assert code is None or code in said


def test_earthing(wired):
    assert wired(earthing="tt")[1]["earthing_tt"].strength == "note"
    assert wired(earthing="unknown")[1]["earthing_not_known"].strength == "ask"


def test_the_isolator_and_the_electrician(wired):
    result, said = wired()
    assert "electrician" in result.isolator and "1.40 m" in result.isolator
    assert "registered electrician" in said["electrician_only"].message
    far = {"isolator": {"distance_m": 6, "height_m": 1, "in_sight_and_reach": "no"}}
    assert wired(position=far)[1]["isolator_out_of_reach"].strength == "ask"
    assert "not recorded" in wired(position={"isolator": None})[0].isolator
