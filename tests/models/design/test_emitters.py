"""The choice of emitters. Outputs by the characteristic equation with n = 1, so that they can be done in the head.

At 45/40 °C in a room of 20 °C the excess is 22.5 K: every emitter with n = 1 gives 0.45 of its rated output.
Costs, pence: a swap is offer + 2000 valves + 0.5 h x 4000 + 1000 parts = offer + 5000; an addition is offer + 2000
valves + 1.5 h x 4000 + 500 parts = offer + 8500, and 300 for each metre of run.
"""

from typing import Any

import pytest

from models.catalogue import EmitterProduct
from models.design.emitters import WHY, emitter_cost, emitter_options, emitter_schedule
from models.design.results import EmitterPrices, EmitterSchedule, Offer, RoomLoss
from models.reference.load import Tube
from models.survey import Emitter, Pipework, Room, WallSpace

TUBES = {8: Tube(8, 0.6), 10: Tube(10, 0.6), 15: Tube(15, 0.7)}


def product(sku: str, output: float, cost: int, *, length: int = 1000, kind: str = "panel", depth: int = 100) -> Any:
    item = EmitterProduct(
        sku=sku, name=f"panel {sku}", kind=kind, type="T22", height_mm=600, length_mm=length, depth_mm=depth,
        output_50k_w=output, exponent=1.0, water_l=5,
    )  # fmt: skip
    return Offer(item, cost, 9.9)


SMALL, MIDDLE, LARGE = product("S", 1000, 5000, length=600), product("M", 2000, 9000), product("L", 4000, 20000)
RAIL = product("RAIL", 1500, 4000, length=500, kind="towel_rail")


def prices(*offers: Any) -> EmitterPrices:
    return EmitterPrices(
        offers=offers or (LARGE, MIDDLE, SMALL), labour_pence_per_h=4000, swap_hours=0.5, add_hours=1.5,
        valve_hours=0.25, swap_parts_pence=1000, add_parts_pence_per_m=300, valve_pair_pence=2000, assumed_run_m=3.5,
        add_parts_pence=500,
    )  # fmt: skip


def old(id: str = "old", **more: Any) -> Emitter:
    given = {"kind": "panel", "type": "T11", "height_mm": 600, "length_mm": 1000, "output_50k_w": 1000,
             "exponent": 1.0, "valves": "thermostatic", "condition": "sound", "water_l": 3, "tail_mm": 15}  # fmt: skip
    return Emitter(id=id, **given | more)


def space(id: str, emitter: str | None = None, **more: Any) -> WallSpace:
    return WallSpace(id=id, **{"length_mm": 1200, "height_mm": 600, "emitter": emitter} | more)


def room(*, emitters: tuple[Emitter, ...] = (), spaces: tuple[WallSpace, ...] = (), use: Any = "living") -> Room:
    return Room(
        id="r", name="Snug", use=use, length_m=4, width_m=3, height_m=2.4, emitters=emitters, wall_spaces=spaces
    )


def loss(needed_w: float, temp_c: float = 20) -> RoomLoss:
    return RoomLoss("r", "Snug", "living", 0, temp_c, 12, 28.8, 1, needed_w, 0, 0, 0, needed_w, ())


def schedule(
    one: Room, needed_w: float, *offers: Any, flow: float = 45, policy: Any = "least_cost"
) -> EmitterSchedule:
    options = emitter_options(
        rooms=(one,), losses={"r": loss(needed_w)}, prices=prices(*offers), tubes=TUBES, policy=policy
    )
    return emitter_schedule(options=options, flow_temp_c=flow, delta_t_k=5)


HELD = room(emitters=(old(),), spaces=(space("w1", "old"),))
TWO = room(emitters=(old(),), spaces=(space("w1", "old"), space("w2", run_m=2)))


def codes(answer: EmitterSchedule) -> list[tuple[str, str]]:
    return [(finding.code, finding.strength) for finding in answer.findings]


def test_what_is_enough_is_kept_at_no_cost() -> None:
    answer = schedule(HELD, 440)  # 0.45 x 1000 = 450
    kept = answer.rooms[0]
    assert (kept.action, kept.cost_pence, kept.fit_hours, kept.short_w) == ("keep", 0, 0, 0)
    assert kept.output_w == kept.output_before_w == pytest.approx(450)
    assert kept.why == "needs 440 W, has 450 W at 45/40 °C: kept"
    assert answer.findings == ()
    assert answer.water_l == 3


def test_the_cheapest_swap_that_is_enough() -> None:
    swapped = schedule(HELD, 800).rooms[0]  # M gives 900, S 450, L 1800
    assert (swapped.action, swapped.steps[0].sku, swapped.steps[0].emitter_id) == ("swap", "M", "old")
    assert (swapped.cost_pence, swapped.fit_hours) == (14000, 0.5)  # 9000 + 5000
    assert swapped.output_w == pytest.approx(900)
    assert swapped.why == "needs 800 W, has 450 W at 45/40 °C: panel T11 600 × 1000 swapped for panel M, then 900 W"


def test_an_addition_where_it_is_cheaper_than_a_swap() -> None:
    # swap to L 25000; swap to M and add S 14000 + 14100; add M 9000 + 8500 + 2 x 300 = 18100: 450 + 900 = 1350
    added = schedule(TWO, 1300).rooms[0]
    assert (added.action, added.cost_pence, added.fit_hours) == ("add", 18100, 1.5)
    assert [step.action for step in added.steps] == ["keep", "add"]
    assert added.steps[1].run_m == 2
    assert added.steps[1].wall_space_id == "w2"


def test_a_swap_and_an_addition_together() -> None:
    # 1700 W: L alone gives 1800 for 25000; M and M 900 + 900 for 14000 + 18100 = 32100
    assert schedule(TWO, 1700).rooms[0].cost_pence == 25000
    # 2200 W: add L beside the old one 450 + 1800 = 2250 for 20000 + 8500 + 600 = 29100; L and S for 25000 + 14100
    assert schedule(TWO, 2200).rooms[0].cost_pence == 29100
    # 2600 W: swap M, add L 900 + 1800 = 2700 for 14000 + 29100; swap L, add M the same for 25000 + 18100
    both = schedule(TWO, 2600).rooms[0]
    assert (both.action, both.cost_pence) == ("swap_and_add", 43100)


def test_three_wall_spaces_take_at_most_three_changes() -> None:
    spaces = tuple(space(f"w{i}", run_m=0) for i in range(5))
    bare = room(spaces=spaces)
    # S gives 450 for 13500, M 900 for 17500, L 1800 for 28500: 5000 W wants three L
    most = schedule(bare, 5000).rooms[0]
    assert [step.sku for step in most.steps] == ["L", "L", "L"]
    assert most.cost_pence == 3 * 28500
    short = schedule(bare, 6000).rooms[0]
    assert (short.action, len(short.steps), short.output_w) == ("short", 3, pytest.approx(5400))
    # 2600 W: L and M 46000; three M 52500 give 2700
    assert schedule(bare, 2600).rooms[0].cost_pence == 46000


def test_a_product_must_fit_length_height_and_depth() -> None:
    for measure in ({"length_mm": 999}, {"height_mm": 599}, {"depth_mm": 99}):
        narrow = room(spaces=(space("w1", run_m=0, **measure),))
        assert schedule(narrow, 800, MIDDLE).rooms[0].action == "short"
    exact = room(spaces=(space("w1", run_m=0, length_mm=1000, height_mm=600, depth_mm=100),))
    assert schedule(exact, 800, MIDDLE).rooms[0].action == "add"


def test_without_a_wall_space_a_swap_is_no_larger_than_the_old_one() -> None:
    tight = room(emitters=(old(length_mm=700),))
    assert schedule(tight, 800, MIDDLE, SMALL).rooms[0].action == "short"
    assert schedule(room(emitters=(old(),)), 800, MIDDLE, SMALL).rooms[0].action == "swap"


def test_towel_rails_only_where_there_is_water() -> None:
    bare = (space("w1", run_m=0),)
    assert schedule(room(spaces=bare), 300, RAIL, MIDDLE).rooms[0].steps[0].sku == "M"
    assert schedule(room(spaces=bare, use="bathroom"), 300, RAIL, MIDDLE).rooms[0].steps[0].sku == "RAIL"
    assert schedule(room(spaces=bare, use="living"), 300, RAIL).rooms[0].action == "short"


def test_what_leaks_is_never_kept() -> None:
    leaking = room(emitters=(old(condition="leaking"),), spaces=(space("w1", "old"),))
    swapped = schedule(leaking, 300).rooms[0]  # S gives 450
    assert (swapped.action, swapped.steps[0].sku, swapped.cost_pence) == ("swap", "S", 10000)
    nothing = schedule(leaking, -50).rooms[0]
    assert (nothing.needed_w, nothing.action) == (0, "none_needed")
    assert [step.action for step in nothing.steps] == ["remove"]
    unfit = schedule(leaking, 0, product("XL", 9000, 1, length=3000))
    assert ("unsound_emitter_without_successor", "ask") in codes(unfit)


def test_what_the_customer_wishes_to_keep_is_not_swapped() -> None:
    dear = room(emitters=(old(keep_wish=True),), spaces=(space("w1", "old"), space("w2", run_m=0)))
    assert [step.action for step in schedule(dear, 800).rooms[0].steps] == ["keep", "add"]
    torn = room(emitters=(old(keep_wish=True, condition="corroded"),), spaces=(space("w1", "old"),))
    assert codes(schedule(torn, 300)) == [("wish_against_condition", "ask")]


def test_keeping_everything_changes_only_what_is_unsound() -> None:
    answer = schedule(TWO, 800, policy="keep")
    assert [step.action for step in answer.rooms[0].steps] == ["keep"]
    assert answer.rooms[0].action == "short"
    leaking = room(emitters=(old(condition="leaking"),), spaces=(space("w1", "old"),))
    assert schedule(leaking, 300, policy="keep").rooms[0].action == "swap"


@pytest.mark.parametrize(("valves", "new"), [("thermostatic", False), ("manual", True), ("unknown", True)])
def test_worn_or_unknown_valves_of_a_kept_emitter_are_renewed(valves: str, new: bool) -> None:
    answer = schedule(room(emitters=(old(valves=valves),)), 400)
    kept = answer.rooms[0]
    assert kept.steps[0].new_valves is new
    assert kept.cost_pence == (3000 if new else 0)  # 2000 + 0.25 h x 4000
    assert kept.fit_hours == (0.25 if new else 0)
    assert codes(answer) == ([("emitter_valves_assumed", "note")] if valves == "unknown" else [])


def test_an_assumed_run_is_costed_and_said_once() -> None:
    answer = schedule(room(spaces=(space("w1"), space("w2"))), 2500)
    added = answer.rooms[0]  # L and M: 28500 + 17500 + 2 x 3.5 m x 300
    assert added.cost_pence == 46000 + 2100
    assert all(step.run_m == 3.5 and step.run_assumed for step in added.steps)
    assert codes(answer) == [("emitter_run_assumed", "note")]


@pytest.mark.parametrize(
    ("needed", "strength"), [(1850, "ask"), (1990, "ask"), (2010, "stop"), (3000, "stop")], ids=str
)
def test_a_room_short_of_heat(needed: float, strength: str) -> None:
    answer = schedule(HELD, needed)  # L gives 1800: a tenth short at 2000
    short = answer.rooms[0]
    assert (short.action, short.steps[0].sku, short.short_w) == ("short", "L", pytest.approx(needed - 1800))
    assert codes(answer) == [("room_short_of_heat", strength)]
    assert "1,800 W at 45/40 °C" in answer.findings[0].message


def test_a_room_without_emitter_or_wall_space_is_computed_all_the_same() -> None:
    answer = schedule(room(), 600)
    bare = answer.rooms[0]
    assert (bare.action, bare.needed_w, bare.short_w, bare.steps) == ("short", 600, 600, ())
    assert codes(answer) == [("room_short_of_heat", "stop")]
    assert codes(schedule(room(), 80)) == [("room_short_of_heat", "ask")]
    assert schedule(room(), 0).rooms[0].action == "none_needed"


def test_water_no_warmer_than_the_room_leaves_it_cold() -> None:
    assert schedule(HELD, 300, flow=22).rooms[0].output_w == 0  # 22/17 is below 20 °C


def test_thin_tails_are_asked_about() -> None:
    # bore 6.8 mm at 1 m/s: 36.3 mm2 x 1 m/s x 4180 x 992 J/m3K x 5 K = 753 W; bore 8.8 mm: 1261 W
    thin = room(emitters=(old(tail_mm=8, output_50k_w=2000),))
    assert codes(schedule(thin, 700)) == []
    answer = schedule(thin, 800)
    assert codes(answer) == [("branch_too_small", "ask")]
    assert "carry 753 W" in answer.findings[0].message
    assert codes(schedule(room(emitters=(old(tail_mm=10, output_50k_w=4000),)), 1200)) == []
    assert codes(schedule(room(emitters=(old(tail_mm=10, output_50k_w=4000),)), 1300)) == [("branch_too_small", "ask")]


def test_unknown_output_is_estimated_from_kind_and_size_and_said() -> None:
    # type 11, 0.6 m x 1.0 m at 1630 W/m2 = 978 W at 50 K (from memory); n = 1: 0.45 of it
    answer = schedule(room(emitters=(old(output_50k_w="unknown"),)), 400)
    assert answer.rooms[0].output_w == pytest.approx(0.45 * 978)
    assert codes(answer) == [("emitter_output_assumed", "note")]
    single = schedule(room(emitters=(old(output_50k_w="unknown", type="plain"),)), 100)
    assert single.rooms[0].output_w == pytest.approx(0.45 * 0.6 * 930)
    lost = schedule(room(emitters=(old(output_50k_w="unknown", height_mm=None),)), 0)
    assert lost.rooms[0].output_w == 0
    assert codes(lost) == [("emitter_output_unknown", "ask")]


def test_a_floor_gives_no_more_than_its_surface_may() -> None:
    floor = room(emitters=(old(kind="floor_heating", output_50k_w=9000, mixing_valve="yes"),))
    answer = schedule(floor, 1000)
    assert answer.rooms[0].output_w == pytest.approx(12 * 8.92 * 9**1.1)  # 29 °C in 20 °C over 12 m2
    assert codes(answer) == [("floor_at_its_limit", "note")]
    # q = 8.92 x 9^1.1 = 100.0 W/m2; 9000 W at 50 K over 12 m2 give 15 W/m2K: 6.7 K, and half of 5 K on top of 20 °C
    assert "at most 29 °C" in answer.findings[0].message


@pytest.mark.parametrize(
    ("mixing", "code", "strength"),
    [("yes", "floor_at_its_limit", "note"), ("unknown", "floor_at_its_limit", "ask"),
     ("no", "floor_surface_too_hot", "stop")],
)  # fmt: skip
def test_a_floor_that_nothing_mixes_down_is_refused(mixing: str, code: str, strength: str) -> None:
    floor = room(emitters=(old(kind="floor_heating", output_50k_w=9000, mixing_valve=mixing),))
    assert codes(schedule(floor, 300)) == [(code, strength)]
    options = emitter_options(rooms=(floor,), losses={"r": loss(300)}, prices=prices(), tubes=TUBES)
    assert emitter_cost(options=options, flow_temp_c=45, delta_t_k=5).stops is (mixing == "no")
    # at 26/21 °C: 3.5 K x 15 W/m2K = 53 W/m2, well below the 100 W/m2 of the limit
    assert not emitter_cost(options=options, flow_temp_c=26, delta_t_k=5).stops


def test_a_floor_by_its_build() -> None:
    # K_H 3.368 W/m2K by hand in tests/models/physics/test_floor_heating.py; 35/30 in 20 °C: 12.33 K; 12 m2
    built = old(
        kind="floor_heating", output_50k_w="unknown", pipe_spacing_mm=150, covering_m2k_per_w=0.1, screed_mm=45
    )
    answer = schedule(room(emitters=(built,)), 400, flow=35)
    assert answer.rooms[0].output_w == pytest.approx(3.368 * 12.3315 * 12, rel=1e-3)
    assert codes(answer) == []
    unseen = schedule(room(emitters=(built.model_copy(update={"screed_mm": "unknown"}),)), 400, flow=35)
    assert unseen.rooms[0].output_w == pytest.approx(3.0 * 12.3315 * 12, rel=1e-3)
    assert codes(unseen) == [("floor_build_unknown", "note")]
    wide = schedule(room(emitters=(built.model_copy(update={"pipe_spacing_mm": 400}),)), 0, flow=35)
    assert (wide.rooms[0].output_w, codes(wide)) == (0, [("floor_outside_formula", "ask")])


def test_what_the_customer_brings_is_hung_without_its_price() -> None:
    brought = room(emitters=(old(customer_supplies=True, output_50k_w=3000),), spaces=(space("w1", "old"),))
    answer = schedule(brought, 800)
    own = answer.rooms[0]
    assert [(step.action, step.sku) for step in own.steps] == [("swap", None)]
    assert own.cost_pence == 5000  # 2000 valves + 0.5 h x 4000 + 1000 parts, no offer
    assert own.output_w == pytest.approx(0.45 * 3000)
    assert own.output_before_w == 0
    assert codes(answer) == [("emitter_supplied_by_customer", "ask")]


def loop(*places: int | None) -> tuple[tuple[Room, ...], dict[str, RoomLoss]]:
    rooms = tuple(
        Room(
            id=f"r{n}", name=f"Room {n}", use="living", length_m=4, width_m=3, height_m=2.4,
            emitters=(old(f"e{n}", output_50k_w=2000, loop_place=place),),
        )
        for n, place in enumerate(places)
    )  # fmt: skip
    return rooms, {room.id: loss(needed) for room, needed in zip(rooms, (500, 300, 200), strict=False)}


def test_later_emitters_of_a_single_pipe_see_cooler_water() -> None:
    # order r1, r0, r2 with 300, 500 and 200 of 1000 W; 45/40 °C, drop 5 K; behind each room 45 - 1.5 = 43.5,
    # 45 - 4.0 = 41.0 and 45 - 5.0 = 40.0 °C; n = 1: 2000 W x (T - 20) / 50
    rooms, losses = loop(2, 1, 3)
    pipe = Pipework(layout="single_pipe")
    options = emitter_options(rooms=rooms, losses=losses, prices=prices(), tubes=TUBES, pipework=pipe)
    answer = emitter_schedule(options=options, flow_temp_c=45, delta_t_k=5)
    given = {room.room_id: room.output_w for room in answer.rooms}
    assert given["r1"] == pytest.approx(2000 * 23.5 / 50)
    assert given["r0"] == pytest.approx(2000 * 21.0 / 50)
    assert given["r2"] == pytest.approx(2000 * 20.0 / 50)
    assert codes(answer) == [("single_pipe", "ask")]
    assert "Room 2" in answer.findings[0].message and "50 %" in answer.findings[0].message


def test_a_single_pipe_of_unknown_order_counts_every_emitter_as_the_last() -> None:
    rooms, losses = loop(1, None, 2)
    pipe = Pipework(layout="single_pipe")
    options = emitter_options(rooms=rooms, losses=losses, prices=prices(), tubes=TUBES, pipework=pipe)
    answer = emitter_schedule(options=options, flow_temp_c=45, delta_t_k=5)
    assert [room.output_w for room in answer.rooms] == pytest.approx([2000 * 20.0 / 50] * 3)  # 40 °C in 20 °C
    assert codes(answer) == [("single_pipe_order_unknown", "stop")]


def test_tails_of_plastic_have_a_smaller_bore_and_the_branches_stand_in_for_unseen_ones() -> None:
    # plastic 10 mm: bore 7.0 mm (from memory): 38.5 mm2 x 1 m/s x 4180 x 992 x 5 K = 798 W; copper 1261 W
    thin = room(emitters=(old(tail_mm="unknown", output_50k_w=4000),))
    for material, limit in (("plastic", "798"), ("copper", "1,261")):
        pipe = Pipework(branch_mm=10, material=material)
        options = emitter_options(
            rooms=(thin,), losses={"r": loss(1300)}, prices=prices(), tubes=TUBES, pipework=pipe
        )
        answer = emitter_schedule(options=options, flow_temp_c=45, delta_t_k=5)
        assert codes(answer) == [("branch_too_small", "ask")]
        assert f"they carry {limit} W" in answer.findings[0].message


def test_the_governing_room_needs_the_hottest_water() -> None:
    rooms = tuple(
        Room(
            id=id, name=id, use="living", length_m=4, width_m=3, height_m=2.4, emitters=(old(output_50k_w=rated),)
        )
        for id, rated in (("easy", 3000), ("hard", 1100), ("none", 1000))
    )
    losses = {"easy": loss(450), "hard": loss(450), "none": loss(0)}
    options = emitter_options(rooms=rooms, losses=losses, prices=prices(), tubes=TUBES)
    answer = emitter_schedule(options=options, flow_temp_c=45, delta_t_k=5)
    assert answer.governing_room_id == "hard"
    assert answer.cost_pence == sum(one.cost_pence for one in answer.rooms)


def test_sentence_fills_from_a_room() -> None:
    one = schedule(HELD, 800).rooms[0]
    told = WHY.sentence.format(**{name: getattr(one, name) for name in one.__slots__})
    assert told.startswith("Snug needs 800 W; it has 450 W today and 900 W afterwards")
