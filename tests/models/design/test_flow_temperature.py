"""The choice among flow temperatures. Sums are hand arithmetic."""

from dataclasses import replace

import pytest

from models.design.flow_temperature import choose_flow_temperature
from models.design.results import FlowCandidate, FlowChoice


def candidate(flow: float, purchase: int, running: int | None, *, feasible: bool = True) -> FlowCandidate:
    return FlowCandidate(flow, "UNT-T", 1, 0, 0.0, purchase, 3.5, running, None, feasible, False, "")


def choose(*candidates: FlowCandidate, wanted: float | None = None) -> FlowChoice:
    return choose_flow_temperature(candidates=candidates, delta_t_k=5, years=15, wanted_c=wanted)


def test_least_of_purchase_and_fifteen_years() -> None:
    # 40: 500000 + 15 x 60000 = 1400000; 45: 420000 + 15 x 64000 = 1380000; 50: 380000 + 15 x 70000 = 1430000
    choice = choose(candidate(40, 500000, 60000), candidate(45, 420000, 64000), candidate(50, 380000, 70000))
    assert choice.flow_temp_c == 45
    assert [each.whole_cost_pence for each in choice.candidates] == [1400000, 1380000, 1430000]
    assert [each.taken for each in choice.candidates] == [False, True, False]
    assert choice.candidates[0].reason == "purchase and running together cost more"
    assert "15 years" in choice.rule
    assert choice.findings == ()


def test_no_room_is_left_short_for_the_sake_of_money() -> None:
    # MIS 3005-D (from memory): emitters meet the load of every room. 40: 300000 + 15 x 60000 = 1200000 is the least,
    # 45: 1380000 heats every room.
    choice = choose(
        replace(candidate(40, 300000, 60000), rooms_short=2), candidate(45, 420000, 64000), candidate(50, 420000, 70000)
    )
    assert choice.flow_temp_c == 45
    assert choice.candidates[0].reason == "leaves 2 rooms short of heat"
    # Where every one leaves a room short the rule says so.
    choice = choose(
        replace(candidate(50, 300000, 60000), rooms_short=2), replace(candidate(55, 420000, 64000), rooms_short=1)
    )
    assert choice.flow_temp_c == 55 and "none of the flow temperatures tried heats every room" in choice.rule


def test_equal_cost_goes_to_the_cooler_water() -> None:
    assert choose(candidate(50, 350000, 70000), candidate(45, 410000, 66000)).flow_temp_c == 45


def test_what_does_not_heat_the_house_is_not_taken_however_cheap() -> None:
    choice = choose(candidate(35, 100, 100, feasible=False), candidate(50, 400000, 70000))
    assert choice.flow_temp_c == 50
    assert choice.candidates[0].reason == "does not heat every room"


def test_without_running_cost_only_where_no_other_has_one() -> None:
    assert choose(candidate(40, 100, None), candidate(45, 400000, 60000)).flow_temp_c == 45
    assert choose(candidate(40, 300, None), candidate(45, 200, None)).flow_temp_c == 45


def test_wanted_wins_and_says_what_it_costs() -> None:
    choice = choose(candidate(45, 420000, 64000), candidate(55, 350000, 76000), wanted=55)
    assert choice.flow_temp_c == 55
    # 350000 + 15 x 76000 = 1490000, less 1380000 = 110000 pence
    assert [(f.code, f.strength) for f in choice.findings] == [("wanted_flow_temperature_dearer", "note")]
    assert "more than at 45 °C" in choice.findings[0].message
    assert choice.candidates[0].reason == "purchase and running together cost less"


def test_wanted_that_does_not_heat_the_house_is_asked_about() -> None:
    choice = choose(candidate(35, 100, 100, feasible=False), candidate(50, 400000, 70000), wanted=35)
    assert choice.flow_temp_c == 35
    assert [(f.code, f.strength) for f in choice.findings] == [("wanted_flow_temperature_not_enough", "ask")]


def test_none_feasible_shows_the_hottest_with_a_finding() -> None:
    choice = choose(candidate(45, 1, 1, feasible=False), candidate(55, 2, 2, feasible=False))
    assert choice.flow_temp_c == 55
    assert [f.code for f in choice.findings] == ["no_flow_temperature_enough"]


def test_unknown_wish_and_no_candidates_are_refused() -> None:
    with pytest.raises(ValueError, match="42 °C is not among"):
        choose(candidate(45, 1, 1), wanted=42)
    with pytest.raises(ValueError, match="at least one"):
        choose()
