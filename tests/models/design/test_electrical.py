"""The supply with the new load, checked by hand."""

import pytest
from hypothesis import HealthCheck, given, settings, strategies as st

from models.catalogue import Cable
from models.design.electrical import electrical
from models.reference.place import LOADS
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
    def judge(
        *, unit=None, position=None, count=1, immersion_w=3000, cables=CABLES, old_cylinder_goes=False,
        heated_by_electricity=False, **supply,
    ):  # fmt: skip
        result = electrical(
            supply=Supply.model_validate(SUPPLY | supply),
            unit=make_unit(**(unit or {})),
            count=count,
            immersion_w=immersion_w,
            cables=cables,
            position=make_position(**(position or {})),
            place_reference=place,
            old_cylinder_goes=old_cylinder_goes,
            heated_by_electricity=heated_by_electricity,
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
    unknown = wired(phases="unknown")[1]["phases_not_known"]
    assert (unknown.strength, unknown.message.endswith("needs one")) == ("ask", True)


@pytest.mark.parametrize(("spare", "count", "board"), [(2, 1, False), (1, 1, True), (2, 2, True), ("unknown", 1, True)])
def test_an_extension_board_where_ways_are_short(wired, spare, count, board):
    result, said = wired(spare_ways=spare, count=count)
    assert result.extension_board is board
    assert ("spare_ways_not_known" in said) is (spare == "unknown")


def test_an_immersion_heater_above_its_circuit_is_asked_about(wired):
    # 3 kW / 230 V = 13.04 A on 16 A; 6 kW take 26.1 A
    assert "immersion_above_breaker" not in wired()[1]
    said = wired(immersion_w=6000)[1]["immersion_above_breaker"]
    assert said.strength == "ask" and "26.1 A" in said.message and "16 A" in said.message


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


# --- demand from the loads -------------------------------------------------------------------------------------------

LIGHTS = {"kind": "lighting", "count": 2, "breaker_a": 6}
RINGS = {"kind": "sockets", "count": 2, "breaker_a": 32}
COOKER = {"kind": "cooker", "rated_kw": 7.36, "control_socket": True}
SHOWER = {"kind": "shower", "rated_kw": 9.2}
CHARGER = {"kind": "ev_charger", "breaker_a": 32}
HOUSE = [LIGHTS, RINGS, COOKER]
# lighting 66 % of 12 = 7.92; sockets 32 + 40 % of 32 = 44.8; cooker 32 A: 10 + 30 % of 22 + 5 = 21.6
HOUSE_A = 7.92 + 44.8 + 21.6  # 74.32
NEW_A = 16 + 3000 / 230  # the unit and its immersion heater: 29.04


def by_loads(wired, loads, **more):
    return wired(demand_before_a="unknown", loads=loads, **({"cutout_a": 200} | more))


def test_the_demand_of_today_is_summed_where_nobody_measured_it(wired):
    result, said = by_loads(wired, HOUSE)
    assert result.demand_before_a == pytest.approx(HOUSE_A)
    assert result.demand_after_a == pytest.approx(HOUSE_A + NEW_A)
    assert result.demand_basis == "from_loads" and "74.3 A" in said["demand_from_loads"].message
    assert "5 loads" in said["demand_from_loads"].message
    assert [(one.kind, one.count_before, one.connected_before_a) for one in result.loads] == [
        ("lighting", 2, 12), ("sockets", 2, 64), ("cooker", 1, pytest.approx(32))
    ]  # fmt: skip
    assert sum(one.counted_before_a for one in result.loads) == pytest.approx(result.demand_before_a)
    assert "supply_not_known" not in said and said["network_apply"].strength == "ask"


def test_what_goes_is_counted_before_and_not_after(wired):
    # storage heaters 4 x 2.3 kW = 4 x 10 A without diversity; a panel heater of 2.3 kW = 10 A, whole up to 10 A
    gone = [{"kind": "storage_heater", "count": 4, "rated_kw": 2.3, "goes": True},
            {"kind": "fixed_heating", "rated_kw": 2.3}]  # fmt: skip
    result, _ = by_loads(wired, [*HOUSE, *gone])
    assert result.demand_before_a == pytest.approx(HOUSE_A + 40 + 10)
    assert result.demand_after_a == pytest.approx(HOUSE_A + 10 + NEW_A)
    heaters = next(one for one in result.loads if one.kind == "storage_heater")
    assert (heaters.count_before, heaters.count_after, heaters.counted_after_a) == (4, 0, 0)


def test_the_immersion_heater_of_the_old_cylinder_goes_with_it(wired):
    old = [*HOUSE, {"kind": "immersion", "rated_kw": 3}]
    result, said = by_loads(wired, old, old_cylinder_goes=True)
    assert result.demand_before_a == pytest.approx(HOUSE_A + 3000 / 230)
    assert result.demand_after_a == pytest.approx(HOUSE_A + NEW_A), "the new one alone"
    assert "old_immersion_goes" in said
    stays, said = by_loads(wired, old)
    assert stays.demand_after_a == pytest.approx(HOUSE_A + 3000 / 230 + NEW_A)
    assert "old_immersion_goes" not in said


def test_electric_heating_of_today_is_looked_for_among_what_goes(wired):
    boiler = {"kind": "electric_boiler", "rated_kw": 9.2}
    _, said = by_loads(wired, [*HOUSE, boiler], heated_by_electricity=True)
    assert said["old_heating_not_among_loads"].strength == "ask"
    # 9.2 kW / 230 V = 40 A before and nothing after
    result, said = by_loads(wired, [*HOUSE, boiler | {"goes": True}], heated_by_electricity=True)
    assert "old_heating_not_among_loads" not in said
    assert result.demand_before_a == pytest.approx(HOUSE_A + 40)
    assert result.demand_after_a == pytest.approx(HOUSE_A + NEW_A)
    assert "old_heating_in_demand" in wired(heated_by_electricity=True)[1]
    assert "old_heating_in_demand" not in wired(heated_by_electricity=True, demand_before_a="unknown")[1]
    assert "old_heating_in_demand" not in wired()[1]


def test_a_measured_demand_stands_before_the_loads(wired):
    result, said = wired(demand_before_a=30, loads=HOUSE)
    assert (result.demand_before_a, result.demand_basis) == (30, "measured")
    assert "74.3 A" in said["demand_stands_before_loads"].message and result.loads
    told, said = wired(demand_before_a=30, loads=HOUSE, known={"demand_before_a": "told"})
    assert (told.demand_before_a, told.demand_basis) == (30, "told")
    assumed, _ = wired(demand_before_a=30, loads=HOUSE, known={"demand_before_a": "assumed"}, cutout_a=200)
    assert (assumed.demand_before_a, assumed.demand_basis) == (pytest.approx(HOUSE_A), "from_loads")


def test_what_goes_is_not_taken_off_a_measured_demand(wired):
    heaters = {"kind": "storage_heater", "count": 4, "rated_kw": 2.3, "goes": True}
    result, said = wired(demand_before_a=30, loads=[*HOUSE, heaters])
    assert result.demand_after_a == pytest.approx(30 + NEW_A)
    assert "not taken off" in said["demand_stands_before_loads"].message


def test_without_loads_or_demand_it_stays_unknown(wired):
    result, said = wired(demand_before_a="unknown")
    assert (result.demand_basis, result.loads) == ("unknown", ())
    assert "list the loads" in said["supply_not_known"].remedy


def test_a_load_without_a_rating_cannot_be_summed(wired):
    result, said = by_loads(wired, [*HOUSE, {"kind": "other", "name": "kiln"}, {"kind": "shower"}])
    assert result.demand_before_a is None and result.network == "not_known"
    assert "kiln, electric shower" in said["load_not_rated"].message
    assert said["load_not_rated"].strength == said["supply_not_known"].strength == "ask"


def test_a_list_without_lights_or_sockets_is_not_whole(wired):
    result, said = by_loads(wired, [COOKER])
    assert "no lighting and no socket circuit" in said["loads_incomplete"].message
    assert said["loads_incomplete"].strength == "ask" and result.demand_before_a == pytest.approx(21.6)
    assert "loads_incomplete" not in by_loads(wired, HOUSE)[1]


def test_a_load_above_its_breaker_is_shown_to_the_electrician(wired):
    # 9.2 kW / 230 V = 40 A
    _, said = by_loads(wired, [*HOUSE, SHOWER | {"breaker_a": 32}])
    assert "40.0 A on a breaker of 32 A" in said["load_above_breaker"].message
    assert "load_above_breaker" not in by_loads(wired, [*HOUSE, SHOWER | {"breaker_a": 40}])[1]


def test_a_charge_point_counts_whole_unless_it_limits_itself(wired):
    whole, _ = by_loads(wired, [*HOUSE, CHARGER])
    assert whole.demand_before_a == pytest.approx(HOUSE_A + 32)
    # 100 A leave 25.68 A today; with the new 29.04 A the rest takes 103.36 A and nothing is left
    held, said = by_loads(wired, [*HOUSE, CHARGER | {"limited": True}], cutout_a=100)
    assert held.demand_before_a == pytest.approx(100)
    assert held.demand_after_a == pytest.approx(HOUSE_A + NEW_A)
    assert "32.0 A give way" in said["load_limited"].message and said["load_limited"].strength == "ask"
    # 120 A leave 16.64 A
    some, _ = by_loads(wired, [*HOUSE, CHARGER | {"limited": True}], cutout_a=120)
    assert some.demand_after_a == pytest.approx(120)
    assert some.loads[-1].counted_after_a == pytest.approx(120 - HOUSE_A - NEW_A)
    free, said = by_loads(wired, [*HOUSE, CHARGER | {"limited": True}], cutout_a=200)
    assert free.demand_after_a == pytest.approx(HOUSE_A + NEW_A + 32) and said["load_limited"].strength == "note"
    unseen, _ = by_loads(wired, [*HOUSE, CHARGER | {"limited": True}], cutout_a="unknown")
    assert unseen.demand_after_a == pytest.approx(HOUSE_A + NEW_A + 32), "no cut-out to keep to is known"


def test_a_sum_above_the_cutout_asks_and_says_what_helps(wired):
    # 7.92 + 32 + 16.6 + 32 + 29.04 = 117.56 A; without the charge point 85.56 A
    small = [LIGHTS, RINGS | {"count": 1}, COOKER | {"control_socket": False}, CHARGER]
    _, said = by_loads(wired, small, cutout_a=100)
    found = said["cutout_too_small"]
    assert found.strength == "ask" and "117.6 A" in found.message and "by the sum of the loads" in found.message
    assert found.remedy.startswith("let the charge point limit itself")
    assert "the rest takes 85.6 A" in found.remedy and "measured" in found.remedy
    assert "larger cut-out" not in found.remedy and found.remedy.endswith("three phases")
    _, said = by_loads(wired, [*small, SHOWER], cutout_a=80)
    assert "charge point" not in said["cutout_too_small"].remedy, "it would not be enough"
    assert "larger cut-out, at most 100 A" in said["cutout_too_small"].remedy
    # 85.56 + 40 A: without the shower it fits
    _, said = by_loads(wired, [*small[:3], SHOWER], cutout_a=100)
    assert "feed the shower from the new cylinder: the rest takes 85.6 A" in said["cutout_too_small"].remedy


def test_already_today_over_the_cutout(wired):
    _, said = by_loads(wired, HOUSE, cutout_a=60)
    assert "74.3 A" in said["cutout_too_small_today"].message and said["cutout_too_small_today"].strength == "ask"


def test_on_three_phases_it_is_said_that_all_is_summed_on_one(wired):
    assert "on one phase" in by_loads(wired, HOUSE, phases="three")[1]["demand_from_loads"].message
    assert "on one phase" not in by_loads(wired, HOUSE)[1]["demand_from_loads"].message


ANY_LOAD = st.fixed_dictionaries(
    {"kind": st.sampled_from(LOADS), "count": st.integers(1, 4), "breaker_a": st.sampled_from([6, 16, 32, 40]),
     "goes": st.booleans(), "control_socket": st.booleans(), "limited": st.booleans()}
)  # fmt: skip


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None, max_examples=60)
@given(
    loads=st.lists(ANY_LOAD, min_size=1, max_size=6), one=ANY_LOAD, cutout_a=st.sampled_from([60, 80, 100, "unknown"])
)
def test_more_load_never_lowers_and_removal_never_raises_the_demand(wired, loads, one, cutout_a):
    less, _ = by_loads(wired, loads, cutout_a=cutout_a)
    more, _ = by_loads(wired, [*loads, one], cutout_a=cutout_a)
    gone, _ = by_loads(wired, [*loads, one | {"goes": True}], cutout_a=cutout_a)
    assert more.demand_before_a >= less.demand_before_a - 1e-9
    assert more.demand_after_a >= less.demand_after_a - 1e-9
    assert gone.demand_after_a == pytest.approx(less.demand_after_a), "what goes leaves the rest as it is"
    assert sum(its.counted_before_a for its in more.loads) == pytest.approx(more.demand_before_a)
    added_a = more.unit_current_a + more.immersion_current_a
    assert sum(its.counted_after_a for its in more.loads) + added_a == pytest.approx(more.demand_after_a)


def test_what_is_added_to_the_demand_is_said(wired):
    """Two units of 17 A without diversity are 34 A; 3 kW at 230 V are 13.04 A."""
    said = wired(unit={"maximum_current_a": 17, "breaker_a": 25}, count=2, immersion_w=3000)[1]["diversity_used"]
    assert "34.0 A of outdoor units (100 % of their maximum) and 13.0 A of immersion heater (100 %)" in said.message
