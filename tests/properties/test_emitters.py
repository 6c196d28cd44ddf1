"""What must hold of emitters whatever the house."""

import itertools
from typing import Any

from hypothesis import given, settings, strategies as st

from models.catalogue import EmitterProduct
from models.design.emitters import emitter_cost, emitter_options, emitter_schedule
from models.design.results import EmitterPrices, EmitterSchedule, Offer, RoomLoss
from models.physics.emission import output_ratio
from models.survey import Emitter, Room, WallSpace

exponents = st.sampled_from((1.2, 1.29, 1.33))


@st.composite
def offers(draw: Any, exponent: Any = exponents) -> tuple[Offer[EmitterProduct], ...]:
    return tuple(
        Offer(
            EmitterProduct(
                sku=f"P-{index}", name=f"panel {index}", kind="panel", type="T22", height_mm=600,
                length_mm=draw(st.integers(400, 2000)), depth_mm=draw(st.sampled_from((60, 100, 155))),
                output_50k_w=draw(st.integers(300, 4000)), exponent=draw(exponent), water_l=4,
            ),
            draw(st.integers(1000, 40000)),
            0.0,
        )
        for index in range(draw(st.integers(0, 8)))
    )  # fmt: skip


@st.composite
def rooms(draw: Any, exponent: Any = exponents) -> Room:
    emitters = tuple(
        Emitter(
            id=f"e{index}", kind="panel", type="T11", height_mm=600, length_mm=1000,
            output_50k_w=draw(st.integers(200, 2500)), exponent=draw(exponent),
            valves=draw(st.sampled_from(("thermostatic", "manual"))),
            condition=draw(st.sampled_from(("sound", "sound", "sound", "leaking"))),
            keep_wish=draw(st.booleans()),
        )
        for index in range(draw(st.integers(0, 2)))
    )  # fmt: skip
    held = [
        WallSpace(id=f"h{emitter.id}", length_mm=draw(st.integers(500, 2000)), height_mm=600, emitter=emitter.id)
        for emitter in emitters
    ]
    free = [
        WallSpace(id=f"f{index}", length_mm=draw(st.integers(500, 2000)), height_mm=600, depth_mm=160, run_m=2)
        for index in range(draw(st.integers(0, 2)))
    ]
    return Room(
        id="r", name="Room", use="living", length_m=4, width_m=3, height_m=2.4, emitters=emitters,
        wall_spaces=(*held, *free),
    )  # fmt: skip


def prices_of(offered: tuple[Offer[EmitterProduct], ...]) -> EmitterPrices:
    return EmitterPrices(offered, 4000, 0.7, 1.75, 0.35, 900, 320, 1950, 3.5, 600)


def schedule(room: Room, needed: float, prices: EmitterPrices, flow: float) -> EmitterSchedule:
    loss = RoomLoss("r", "Room", "living", 0, 20, 12, 28.8, 1, needed, 0, 0, 0, needed, ())
    options = emitter_options(rooms=(room,), losses={"r": loss}, prices=prices, tubes={})
    return emitter_schedule(options=options, flow_temp_c=flow, delta_t_k=5)


@given(st.floats(0.1, 60), st.floats(0.1, 60), st.floats(1, 1.6))
def test_warmer_water_gives_more(one: float, other: float, exponent: float) -> None:
    cooler, warmer = sorted((one, other))
    assert output_ratio(excess_k=cooler, exponent=exponent) <= output_ratio(excess_k=warmer, exponent=exponent)


@settings(max_examples=60, deadline=None)
@given(rooms(), offers(), st.integers(0, 3000), st.sampled_from(((35, 40), (40, 45), (35, 55), (45, 50))))
def test_warmer_flow_never_costs_more_where_the_room_is_heated(
    room: Room, offered: Any, needed: int, flows: tuple[int, int]
) -> None:
    cooler, warmer = (schedule(room, needed, prices_of(offered), flow).rooms[0] for flow in flows)
    if cooler.short_w == 0:
        assert warmer.short_w == 0
        assert warmer.cost_pence <= cooler.cost_pence


@settings(max_examples=60, deadline=None)
@given(
    rooms(st.just(1.3)), offers(st.just(1.3)), st.integers(0, 5000),
    st.sampled_from(((35, 40), (40, 45), (35, 55), (45, 50))),
)  # fmt: skip
def test_warmer_flow_never_costs_more_even_where_it_stays_cold(
    room: Room, offered: Any, needed: int, flows: tuple[int, int]
) -> None:
    cooler, warmer = (schedule(room, needed, prices_of(offered), flow) for flow in flows)
    assert warmer.cost_pence <= cooler.cost_pence


@settings(max_examples=60, deadline=None)
@given(rooms(), offers(), st.integers(0, 3000))
def test_the_choice_is_as_cheap_as_trying_everything(room: Room, offered: Any, needed: int) -> None:
    prices = prices_of(offered)
    answer = schedule(room, needed, prices, 45).rooms[0]

    def given_w(rated: float, exponent: float) -> float:
        return float(rated * (22.5 / 50) ** exponent)

    held = {space.emitter: space for space in room.wall_spaces if space.emitter}
    choices: list[list[tuple[int, float, int]]] = []
    for emitter in room.emitters:
        space = held[emitter.id]
        unsound = emitter.condition == "leaking"
        valves = 1950 + 1400 if emitter.valves == "manual" else 0  # 0.35 h x 4000
        here = [(2800, 0.0, 0)] if unsound else [(valves, given_w(emitter.output_50k_w, emitter.exponent), 0)]
        if unsound or not emitter.keep_wish:
            # 1950 + 0.7 h x 4000 + 900
            here += [
                (offer.cost_pence + 5650, given_w(offer.item.output_50k_w, offer.item.exponent), not unsound)
                for offer in offered
                if offer.item.length_mm <= space.length_mm and offer.item.depth_mm <= space.depth_mm
            ]
        choices.append(here)
    for space in room.wall_spaces:
        if space.emitter is None:
            # 1950 + 1.75 h x 4000 + 600 + 2 m x 320
            choices.append([(0, 0.0, 0)] + [
                (offer.cost_pence + 10190, given_w(offer.item.output_50k_w, offer.item.exponent), 1)
                for offer in offered
                if offer.item.length_mm <= space.length_mm and offer.item.depth_mm <= space.depth_mm
            ])  # fmt: skip
    all_ways = [
        (sum(pick[0] for pick in way), sum(pick[1] for pick in way))
        for way in itertools.product(*choices)
        if sum(pick[2] for pick in way) <= 3
    ]
    enough = [cost for cost, output in all_ways if output >= needed * (1 - 1e-9)]
    if enough:
        assert answer.short_w == 0
        assert answer.cost_pence == min(enough)
    else:
        assert abs(answer.output_w - max(output for _, output in all_ways)) < 1e-6


@settings(max_examples=40, deadline=None)
@given(rooms(), offers(), st.integers(0, 3000), st.integers(30, 55))
def test_a_room_is_the_sum_of_its_steps(room: Room, offered: Any, needed: int, flow: int) -> None:
    answer = schedule(room, needed, prices_of(offered), flow).rooms[0]
    assert answer.output_w == sum(step.output_w for step in answer.steps)
    assert answer.short_w == 0 or abs(answer.short_w - (answer.needed_w - answer.output_w)) < 1e-9
    places = [step.wall_space_id for step in answer.steps if step.action == "add"]
    assert len(places) == len(set(places))


@settings(max_examples=60, deadline=None)
@given(rooms(), offers(), st.integers(0, 4000), st.integers(30, 55))
def test_ranking_agrees_with_the_whole_schedule(room: Room, offered: Any, needed: int, flow: int) -> None:
    loss = RoomLoss("r", "Room", "living", 0, 20, 12, 28.8, 1, needed, 0, 0, 0, needed, ())
    options = emitter_options(rooms=(room,), losses={"r": loss}, prices=prices_of(offered), tubes={})
    whole = emitter_schedule(options=options, flow_temp_c=flow, delta_t_k=5)
    cost = emitter_cost(options=options, flow_temp_c=flow, delta_t_k=5)
    changed = sum(step.action in ("swap", "add") for step in whole.rooms[0].steps)
    stops = any(finding.strength == "stop" for finding in whole.findings)
    assert (cost.cost_pence, cost.fit_hours, cost.changed, cost.stops) == (
        whole.cost_pence, whole.fit_hours, changed, stops,
    )  # fmt: skip
