"""Which emitters stay, are swapped or are added, room by room, at least cost for one flow temperature.

BS EN 442-2:2014 for what an emitter gives; the choice itself is common practice.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from decimal import Decimal
from math import ceil, inf, pi
from typing import Literal, NamedTuple

from models.design.results import EmitterAction, EmitterPrices, EmitterSchedule, EmitterStep, RoomEmitters, RoomLoss
from models.findings import Finding
from models.frozen import quickly_made
from models.money import pence
from models.physics.emission import (
    FLOOR_TEMP_LIMIT_C,
    RATED_EXCESS_K,
    floor_limit_w_per_m2,
    floor_temp_c,
    log_mean_excess_k,
    mean_water_temp_c,
    output_ratio,
)
from models.physics.floor_heating import floor_coefficient_w_per_m2k
from models.physics.friction import BORES_OF_MATERIAL_MM, THIN_COPPER_WALLS_MM
from models.reference.floor_heating import load_floor_heating
from models.reference.load import Tube
from models.sources import COMMON_PRACTICE, Source, Why
from models.survey import Emitter, Pipework, Room, WallSpace
from models.units import UNKNOWN, exact, per_cent

SOURCE = Source("BS EN 442-2:2014", "characteristic equation, arithmetic mean excess temperature")
WHY = Why(
    sentence="{name} needs {needed_w:,.0f} W; it has {output_before_w:,.0f} W today and {output_w:,.0f} W afterwards: "
    "{why}",
    source=SOURCE,
)
FROM_MEMORY = Source("typical outputs of steel radiators", standing="from memory")

Policy = Literal["least_cost", "keep"]
FanPolicy = Literal["not_in_bedrooms", "anywhere", "nowhere"]

PANEL_W_PER_M2 = {
    "10": 930.0, "11": 1630.0, "20": 1700.0, "21": 2200.0, "22": 2850.0, "33": 3950.0,
}  # fmt: skip
"""Output at 50 K per m2 of front face by panel type; a panel of unknown type counts as type 10, the safe side."""
PANEL_WATER_L_PER_M2 = {"10": 4.7, "11": 5.0, "20": 9.6, "21": 9.7, "22": 9.7, "33": 14.5}
PANEL_UNKNOWN_TYPE = "10"
PANEL_ALIASES = {"P1": "10", "K1": "11", "P2": "20", "P+": "21", "K2": "22", "K3": "33"}
FACE_W_PER_M2 = {"column": 2000.0, "towel_rail": 650.0, "fan_assisted": 3000.0}
FACE_WATER_L_PER_M2 = {"column": 25.0, "towel_rail": 5.0, "fan_assisted": 1.5}
UNKNOWN_SIZE_WATER_L = 6.0
FLOOR_W_PER_M2K = 3.0
"""Of a floor of unknown build, per kelvin of mean water above the room: pipes 200 mm apart under thin wood."""
FLOOR_WATER_L_PER_M2 = 0.9
FLOOR_EXPONENT = 1.0
FLOOR_PIPE_OD_M = 0.016
FLOOR_SCREED_W_PER_MK = 1.2
"""Pipe and cement screed of floor heating: the usual ones (from memory)."""
FLOOR_SOURCE = Source("BS EN 1264-2:2021", "system type A; surface temperature limits")

WET_ROOMS = frozenset({"bathroom", "shower_room", "toilet"})
WET_KINDS = frozenset({"panel", "column", "towel_rail"})
DRY_KINDS = frozenset({"panel", "column", "fan_assisted"})
STILL_KINDS = DRY_KINDS - {"fan_assisted"}
STILL_ROOMS = frozenset({"bedroom"})
"""Where a fan is heard most: common practice, no source."""
UNSOUND = frozenset({"leaking", "corroded"})
WORN_VALVES = frozenset({"manual", "seized", "none", "unknown"})

OWN_DEPTH_MM = 110
"""Depth left for a swap where no wall space was surveyed around the emitter: that of an ordinary wall space."""
EXCESS_ENDS_K = (0.5, 75.0)
"""Mean water above the room, from hardly warm to beyond any flow temperature that may be chosen."""
HOTTEST_FLOW_C = 65.0
"""Beyond this no flow is offered as a remedy: common practice, no source."""
MOST_CHANGES = 3
SHORT_STOP_RATIO = 0.10
SHORT_COUNTS_RATIO = 0.04
"""As much as an emitter may give less than its plate says (EN 442-1, from memory): no reason for hotter water."""
SMALL_NEED_W = 100.0
TAIL_VELOCITY_M_PER_S = 1.0
NEW_TAILS_OD_MM = (15, 22)
"""Copper that renewed tails are made of: what emitters are sold with and the next size (common practice)."""
WATER_J_PER_M3K = 4180.0 * 992.0
LOOP_SOURCE = Source("common practice: half the water of a single pipe goes through an emitter", "", "common practice")
LAST_ON_LOOP_RATIO = 0.5
"""Where on the loop nobody knows, the emitter counts as the last: its water is half the circuit's drop below the
mean."""
_HAIR_RATIO = 1e-9
_FLOOR = 0.0
"""Stands in the place of an exponent for the law of floors: output goes with the logarithmic mean (BS EN 1264-2)."""


class _Rated(NamedTuple):
    """What an emitter is rated at, and the most that a floor may give (infinite for anything else)."""

    output_50k_w: float
    exponent: float
    limit_w: float


class _Product(NamedTuple):
    """An offer boiled down to what the choice asks of it."""

    length_mm: int
    height_mm: int
    depth_mm: int
    kind: str
    output_50k_w: float
    exponent: float
    sku: str
    name: str
    water_l: float


@quickly_made
@dataclass(frozen=True, slots=True)
class _Option:
    """One thing that can be done at one emitter or wall space. An addition's pipe run stands at its slot.

    `law` is the place of its exponent among those of the house.
    """

    cost_pence: int
    output_50k_w: float
    exponent: float
    law: int
    limit_w: float
    action: Literal["keep", "swap", "add", "remove", "nothing"]
    hours_h: float
    product: _Product | None


Picks = Sequence[Sequence[_Option]]
"""The option taken at each slot of each room."""


class _Floor(NamedTuple):
    """A heated floor: what keeps its water cool, its area, and the surface temperature that it may have."""

    mixing: Literal["yes", "no", "unknown"]
    area_m2: float
    limit_temp_c: float


_Ratios = list[float]
"""Output as a share of that at 50 K, for each exponent of the house in its place."""
_LINEAR = 1.0
"""What gives nothing has an exponent too; it comes first among those of any house."""
_NOTHING = _Option(0, 0.0, _LINEAR, 0, inf, "nothing", 0.0, None)


@quickly_made
@dataclass(frozen=True, slots=True)
class _Slot:
    """An emitter that is there, or a free wall space, with everything that can be done there, cheapest first.

    `run_pence` comes on top of every product. `counted` is False where something must change in any case.
    """

    options: tuple[_Option, ...]
    run_pence: int
    counted: bool
    emitter_id: str | None
    wall_space_id: str | None
    description: str
    water_l: float
    new_valves: bool
    valves_assumed: bool
    tail_mm: int | None
    run_m: float
    run_assumed: bool
    floor: _Floor | None = None
    tail_run_m: float | None = None
    tail_run_assumed: bool = False


@quickly_made
@dataclass(frozen=True, slots=True)
class _RoomOptions:
    """`cooler_ratio`: how far the room's water is below the circuit's mean, as a share of its drop (single pipe).

    `narrow_w_per_k` is what its narrowest tails carry for each kelvin of drop.
    """

    room_id: str
    name: str
    room_temp_c: float
    needed_w: float
    slots: tuple[_Slot, ...]
    as_found: tuple[_Rated, ...]
    cooler_ratio: float
    fans_left_out: bool = False
    narrow_w_per_k: float = inf


_Fits = Callable[[frozenset[str], float, float, float], tuple[_Option, ...]]


@dataclass(frozen=True, slots=True)
class EmitterRange:
    """The offers with all costs of a swap and of an addition in them, and which of them fit where.

    Made once for a price list.
    """

    prices: EmitterPrices
    exponents: tuple[float, ...]
    swaps_that_fit: _Fits
    adds_that_fit: _Fits


@dataclass(frozen=True, slots=True)
class EmitterOptions:
    """What could be done in every room, whatever the flow temperature: made once, asked for each candidate."""

    rooms: tuple[_RoomOptions, ...]
    exponents: tuple[float, ...]
    tail_bore_mm: Mapping[int, float]
    findings: tuple[Finding, ...]
    radiators: bool = True
    floors_alone: bool = False
    new_tail_bore_mm: Mapping[int, float] = field(default_factory=dict)
    prices: EmitterPrices | None = None


# By identity, with the prices held so that it stays theirs: a price list is asked far more often than it changes.
_ranges: dict[int, EmitterRange] = {}
_MOST_RANGES = 64
_MOST_SPACES = 4096


def emitter_range(*, prices: EmitterPrices) -> EmitterRange:
    """The offers ready to choose from, cheapest first, remembered for the price list.

    Common practice, no source: a step costs its offer with a pair of valves, the hours of a swap or an addition at
    the labour rate, and its parts; the pipe run of an addition comes on top. Those hours hold for every product, so
    the offer's own `fit_hours` are not added to them.
    """
    remembered = _ranges.get(id(prices))
    if remembered is not None and remembered.prices is prices:
        return remembered
    if len(_ranges) >= _MOST_RANGES:
        _ranges.clear()
    made = _ranges[id(prices)] = _range(prices)
    return made


def _range(prices: EmitterPrices) -> EmitterRange:
    swap_pence = _labour_pence(prices, prices.swap_hours) + prices.swap_parts_pence
    add_pence = _labour_pence(prices, prices.add_hours) + prices.add_parts_pence
    exponents = [_LINEAR]
    swaps, adds = [], []
    for offer in prices.offers:
        item = offer.item
        law = _law(exponents, item.exponent)
        product = _Product(
            item.length_mm, item.height_mm, item.depth_mm, item.kind, item.output_50k_w, item.exponent, item.sku,
            item.name, item.water_l,
        )  # fmt: skip
        goods_pence = offer.cost_pence + prices.valve_pair_pence
        swap = _Option(
            goods_pence + swap_pence, item.output_50k_w, item.exponent, law, inf, "swap", prices.swap_hours, product
        )
        swaps.append(swap)
        adds.append(replace(swap, cost_pence=goods_pence + add_pence, action="add", hours_h=prices.add_hours))
    return EmitterRange(
        prices,
        tuple(exponents),
        _fitting(sorted(swaps, key=_order)),
        _fitting(sorted(adds, key=_order)),
    )


def emitter_options(
    *,
    rooms: Sequence[Room],
    losses: Mapping[str, RoomLoss],
    prices: EmitterPrices,
    tubes: Mapping[int, Tube],
    policy: Policy = "least_cost",
    pipework: Pipework | None = None,
    fans: FanPolicy = "not_in_bedrooms",
) -> EmitterOptions:
    """Everything that can be done about the emitters of each room, with its cost, before a flow temperature is known.

    Common practice, no source: a product fits a wall space when its length, height and depth do; wet rooms take
    panels, columns or towel rails, other rooms no towel rails; a convector with a fan hangs only where the room's own
    `fan_accepted` lets it, or else `fans`; a leaking or corroded emitter is never kept, one that the customer wishes
    to keep is never swapped. A swap or an addition brings a pair of valves, a kept emitter only
    where its own are worn or unknown. `policy` "keep" changes nothing but unsound emitters. An emitter that the
    customer supplies is hung at the cost of a swap without its own price.

    `pipework` is that of the house: its material gives the bore of the tails, its branches the size of those that
    were not looked at, a single pipe the water of each room (see `loop_places`). Raises KeyError for a room without a
    loss.
    """
    offered = emitter_range(prices=prices)
    valve_pence = prices.valve_pair_pence + _labour_pence(prices, prices.valve_hours)
    removal = replace(
        _NOTHING, cost_pence=_labour_pence(prices, prices.swap_hours), action="remove", hours_h=prices.swap_hours
    )
    notes = _Notes([], [], [], [], [], [], [], [])
    single_pipe = pipework is not None and pipework.layout == "single_pipe"
    cooler = loop_places(rooms=rooms, losses=losses) if single_pipe else {}
    branch_mm = None if pipework is None or pipework.branch_mm == UNKNOWN else pipework.branch_mm
    hung_pence = prices.valve_pair_pence + prices.swap_parts_pence + _labour_pence(prices, prices.swap_hours)
    bores_mm = {od_mm: tube.bore_mm for od_mm, tube in tubes.items()}
    new_bores_mm = {od_mm: bores_mm[od_mm] for od_mm in NEW_TAILS_OD_MM if od_mm in bores_mm}
    if pipework is not None:
        bores_mm |= BORES_OF_MATERIAL_MM.get(pipework.material, {})
    floors = others = 0
    exponents = list(offered.exponents)
    made: list[_RoomOptions] = []
    for room in rooms:
        loss = losses[room.id]
        wet = room.use in WET_ROOMS
        fans_left_out = not wet and not _fan_accepted(room, fans)
        kinds = WET_KINDS if wet else STILL_KINDS if fans_left_out else DRY_KINDS
        spaces = {space.emitter: space for space in room.wall_spaces if space.emitter is not None}
        as_found: list[_Rated] = []
        slots: list[_Slot] = []
        for emitter in room.emitters:
            rated = _rated(room, emitter, loss.room_temp_c, notes)
            law = _law(exponents, rated.exponent)
            if emitter.kind == "floor_heating":
                floors += 1
            else:
                others += 1
            space = spaces.get(emitter.id)
            tail_run = _tail_run(emitter, space, policy, prices)
            if emitter.customer_supplies:
                notes.customer_supplies.append(room.name)
                hung = _Option(
                    hung_pence, rated.output_50k_w, rated.exponent, law, rated.limit_w, "swap", prices.swap_hours, None
                )
                slots.append(_supplied_slot(room, emitter, hung, space, branch_mm, tail_run))
                continue
            as_found.append(rated)
            worn = emitter.valves in WORN_VALVES
            keep = _Option(
                valve_pence if worn else 0, rated.output_50k_w, rated.exponent, law, rated.limit_w, "keep",
                prices.valve_hours if worn else 0.0, None,
            )  # fmt: skip
            slots.append(
                _emitter_slot(
                    room, emitter, keep, removal, space, kinds, offered.swaps_that_fit, policy, notes, branch_mm,
                    tail_run,
                )
            )  # fmt: skip
        if policy == "least_cost":
            slots += [
                _free_slot(space, kinds, offered.adds_that_fit, prices)
                for space in room.wall_spaces
                if space.emitter is None
            ]
        made.append(
            _RoomOptions(
                room.id, room.name, loss.room_temp_c, max(loss.heat_loss_w, 0.0), tuple(slots), tuple(as_found),
                cooler.get(room.id, LAST_ON_LOOP_RATIO) if single_pipe else 0.0, fans_left_out,
                min((tail_limit_w(bore_mm=tail_bore_mm(od_mm=slot.tail_mm, bores_mm=bores_mm), delta_t_k=1.0)
                     for slot in slots if slot.tail_mm is not None), default=inf),
            )
        )  # fmt: skip
    findings = _survey_findings(notes)
    if single_pipe and floors + others:
        findings.append(_single_pipe(made, cooler))
    cold = any(not room.emitters and losses[room.id].heat_loss_w > 0 for room in rooms)
    floors_alone = floors > 0 and others == 0 and not cold
    return EmitterOptions(
        tuple(made), tuple(exponents), bores_mm, tuple(findings), others > 0, floors_alone, new_bores_mm, prices
    )


def _law(exponents: list[float], exponent: float) -> int:
    """The place of an exponent, which is put at the end where it is not yet there."""
    if exponent not in exponents:
        exponents.append(exponent)
    return exponents.index(exponent)


def _fan_accepted(room: Room, fans: FanPolicy) -> bool:
    """Whether a convector with a fan may hang in a room: its own word, else the rule."""
    if room.fan_accepted != UNKNOWN:
        return room.fan_accepted == "yes"
    return fans == "anywhere" or (fans == "not_in_bedrooms" and room.use not in STILL_ROOMS)


def loop_places(*, rooms: Sequence[Room], losses: Mapping[str, RoomLoss]) -> dict[str, float]:
    """How far the water of each room on a single pipe is below the circuit's mean, as a share of the circuit's drop.

    Common practice, no source: half the water of the pipe goes through an emitter and falls twice as far as the pipe
    does there, so that its mean is the pipe's temperature behind it: flow - drop x (heat of all rooms up to and with
    this one) / (heat of all). A room stands where its last emitter does. Nothing where an emitter has no place.
    """
    places = {room.id: max(e.loop_place or 0 for e in room.emitters) for room in rooms if room.emitters}
    if not places or any(emitter.loop_place is None for room in rooms for emitter in room.emitters):
        return {}
    heat_w = {room_id: max(losses[room_id].heat_loss_w, 0.0) for room_id in places}
    all_w = sum(heat_w.values())
    if all_w <= 0:
        return {}
    found, so_far_w = {}, 0.0
    for room_id in sorted(places, key=places.__getitem__):
        so_far_w += heat_w[room_id]
        found[room_id] = so_far_w / all_w - 0.5
    return found


def emitter_schedule(
    *, options: EmitterOptions, flow_temp_c: float, delta_t_k: float, picks: Picks | None = None
) -> EmitterSchedule:
    """The emitters of all rooms at one flow temperature, each room at least cost.

    BS EN 442-2:2014 for outputs; of all combinations of at most three changes in a room the cheapest that gives
    what the room needs, otherwise the one that gives most, with a finding. Warmer water never costs more where the
    room's need is met. `picks` are those that `emitter_cost` made of the same options at the same temperatures.
    """
    return_temp_c = flow_temp_c - delta_t_k
    mean_c = (flow_temp_c + return_temp_c) / 2
    at = f"{flow_temp_c:g}/{return_temp_c:g} °C"
    ratios_by_temp: dict[tuple[float, float], _Ratios] = {}
    rooms: list[RoomEmitters] = []
    findings = list(options.findings)
    runs_assumed: list[str] = []
    valves_assumed: list[str] = []
    hottest_c, governing = -inf, None
    water_l = 0.0
    floors_cool: list[tuple[str, float]] = []
    with_fans: list[str] = []
    for place, room in enumerate(options.rooms):
        cooler_k = room.cooler_ratio * delta_t_k
        ratios = _ratios_at(room.room_temp_c, mean_c - cooler_k, delta_t_k, options.exponents, ratios_by_temp)
        picked = _cheapest(room.slots, room.needed_w, ratios) if picks is None else picks[place]
        steps: list[EmitterStep] = []
        cost_pence, hours_h, output_w = 0, 0.0, 0.0
        final: list[tuple[float, float]] = []
        words: list[str] = []
        tails: list[_Tails] = []
        done: set[str] = set()
        for slot, option in zip(room.slots, picked, strict=True):
            action = option.action
            if action == "nothing":
                continue
            rated_w, limit_w, product = option.output_50k_w, option.limit_w, option.product
            step_w = rated_w * ratios[option.law]
            if slot.floor is not None and rated_w > 0:
                if step_w > limit_w:
                    findings.append(_floor_at_limit(room, slot, option, slot.floor, step_w, delta_t_k, at))
                    step_w = limit_w
                elif step_w > 0:
                    floors_cool.append((room.name, _surface_c(room, slot.floor, step_w)))
            steps.append(_step(slot, action, product, step_w))
            water_l += steps[-1].water_l
            done.add(action)
            cost_pence += option.cost_pence
            hours_h += option.hours_h
            output_w += step_w
            if rated_w > 0:
                final.append((rated_w, FLOOR_EXPONENT if by_log_mean(option.exponent) else option.exponent))
            if slot.tail_mm is not None:
                tails.append(_Tails(slot, step_w, len(steps) - 1))
            if action == "keep":
                if slot.valves_assumed:
                    valves_assumed.append(room.name)
            else:
                words.append(_words(slot, action, product))
                if product is not None and product.kind == "fan_assisted":
                    with_fans.append(room.name)
                if action == "add":
                    cost_pence += slot.run_pence
                    if slot.run_assumed:
                        runs_assumed.append(room.name)
        needed_w = room.needed_w
        for narrow in _narrow_tails(options, room, tails, output_w, delta_t_k):
            findings.append(_tail(room, narrow, delta_t_k))
            if narrow.new_od_mm is not None:
                cost_pence += narrow.cost_pence
                hours_h += narrow.hours_h
                renewed = replace(
                    steps[narrow.step], new_tail_od_mm=narrow.new_od_mm, tail_run_m=narrow.slot.tail_run_m or 0.0
                )
                steps[narrow.step] = renewed
                words.append(f"tails of {renewed.description} renewed in {narrow.new_od_mm} mm")
        short_w = needed_w - output_w if output_w < needed_w * (1 - _HAIR_RATIO) else 0.0
        before_w = 0.0
        for rated_w, exponent, limit_w in room.as_found:
            before_w += min(rated_w * ratios[options.exponents.index(exponent)], limit_w)
        rooms.append(
            RoomEmitters(
                room.room_id, room.name, needed_w, before_w, output_w, short_w,
                _action(done, short_w), tuple(steps), cost_pence, hours_h,
                _why(room, before_w, output_w, at, words, short_w),
            )
        )  # fmt: skip
        if short_w > 0:
            enough_c = mean_water_temp_c(load_w=needed_w, emitters=final, room_temp_c=room.room_temp_c)
            findings.append(
                _short(
                    room, output_w, short_w, at, inf if enough_c is None else enough_c + cooler_k + delta_t_k / 2
                )
            )
        if needed_w > 0 and not _enough_at(hottest_c - cooler_k - room.room_temp_c, final, needed_w):
            wanted_c = mean_water_temp_c(load_w=needed_w, emitters=final, room_temp_c=room.room_temp_c)
            wanted_c = inf if wanted_c is None else wanted_c + cooler_k
            if wanted_c > hottest_c:
                hottest_c, governing = wanted_c, room.room_id
    findings += _assumption_findings(runs_assumed, valves_assumed)
    if with_fans:
        findings.append(_fans_heard(with_fans))
    if floors_cool and options.radiators:
        findings.append(_floors_beside_radiators(floors_cool, at))
    return EmitterSchedule(
        flow_temp_c,
        return_temp_c,
        tuple(rooms),
        sum([room.cost_pence for room in rooms]),
        sum([room.fit_hours for room in rooms]),
        governing,
        water_l,
        tuple(findings),
    )


@quickly_made
@dataclass(frozen=True, slots=True)
class EmitterCost:
    """What ranks a flow temperature: cost and hours of the emitters, how many change, and whether a room stays cold.

    `stops` says that `emitter_schedule` would bring a *stop* at this flow temperature; `picks` spares it the search;
    `rooms_short` counts the rooms whose lack is more than a tolerance of output.
    """

    flow_temp_c: float
    cost_pence: int
    fit_hours: float
    changed: int
    stops: bool
    picks: Picks | None = None
    rooms_short: int = 0


def emitter_cost(*, options: EmitterOptions, flow_temp_c: float, delta_t_k: float) -> EmitterCost:
    """What the emitters would cost at one flow temperature: `emitter_schedule` without its rooms, words and findings.

    BS EN 442-2:2014 and common practice as there.
    """
    mean_c = (flow_temp_c + flow_temp_c - delta_t_k) / 2
    ratios_by_temp: dict[tuple[float, float], _Ratios] = {}
    cost_pence, changed, hours_h, stops, rooms_short = 0, 0, 0.0, False, 0
    picks: list[list[_Option]] = []
    for room in options.rooms:
        mean_here_c = mean_c - room.cooler_ratio * delta_t_k
        ratios = _ratios_at(room.room_temp_c, mean_here_c, delta_t_k, options.exponents, ratios_by_temp)
        output_w = room_hours_h = 0.0
        picked = _cheapest(room.slots, room.needed_w, ratios)
        picks.append(picked)
        for slot, option in zip(room.slots, picked, strict=True):
            step_w = option.output_50k_w * ratios[option.law]
            if step_w > option.limit_w:
                stops = stops or (slot.floor is not None and slot.floor.mixing == "no")
                step_w = option.limit_w
            output_w += step_w
            cost_pence += option.cost_pence
            room_hours_h += option.hours_h
            if option.product is not None:
                changed += 1
                cost_pence += slot.run_pence
        if room.needed_w > room.narrow_w_per_k * delta_t_k:
            tails = [
                _Tails(slot, min(option.output_50k_w * ratios[option.law], option.limit_w), 0)
                for slot, option in zip(room.slots, picked, strict=True)
                if slot.tail_mm is not None
            ]
            for narrow in _narrow_tails(options, room, tails, output_w, delta_t_k):
                cost_pence += narrow.cost_pence
                room_hours_h += narrow.hours_h
        hours_h += room_hours_h
        if output_w < room.needed_w * (1 - _HAIR_RATIO):
            stops = stops or _is_stop(room, room.needed_w - output_w)
            rooms_short += counts_as_short(needed_w=room.needed_w, short_w=room.needed_w - output_w)
    return EmitterCost(flow_temp_c, cost_pence, hours_h, changed, stops, picks, rooms_short)


def _ratios_at(
    room_temp_c: float,
    mean_c: float,
    delta_t_k: float,
    exponents: tuple[float, ...],
    known: dict[tuple[float, float], _Ratios],
) -> _Ratios:
    """Output ratios in a room, worked out once for each room temperature and water."""
    ratios = known.get((room_temp_c, mean_c))
    if ratios is None:
        # `output_ratio` for all exponents at once.
        share = (mean_c - room_temp_c) / RATED_EXCESS_K
        ratios = known[room_temp_c, mean_c] = (
            [share**n for n in exponents] if share > 0 else [0.0] * len(exponents)
        )
        if _FLOOR in exponents:
            ratios[exponents.index(_FLOOR)] = _floor_ratio(mean_c, delta_t_k, room_temp_c)
    return ratios


def by_log_mean(exponent: float) -> bool:
    """Whether an exponent of the choice stands for the law of floors, which has the logarithmic mean for its excess."""
    return exponent == _FLOOR


def output_share(*, exponent: float, mean_water_temp_c: float, delta_t_k: float, room_temp_c: float) -> float:
    """Output as a share of that at 50 K, as the schedule has it.

    BS EN 442-2:2014, characteristic equation; floors of known build by BS EN 1264-2 (see `by_log_mean`).
    """
    if by_log_mean(exponent):
        return _floor_ratio(mean_water_temp_c, delta_t_k, room_temp_c)
    return output_ratio(excess_k=mean_water_temp_c - room_temp_c, exponent=exponent)


def _floor_ratio(mean_c: float, delta_t_k: float, room_temp_c: float) -> float:
    """Output of a floor as a share of that at 50 K; none where its return is no warmer than the room."""
    flow_c, return_c = mean_c + delta_t_k / 2, mean_c - delta_t_k / 2
    if return_c <= room_temp_c:
        return 0.0
    excess_k = log_mean_excess_k(flow_temp_c=flow_c, return_temp_c=return_c, room_temp_c=room_temp_c)
    return excess_k / RATED_EXCESS_K


# --- what can be done ------------------------------------------------------------------------------------------------


class _Notes(NamedTuple):
    """Names gathered on the way through the survey, for one finding each."""

    output_assumed: list[str]
    output_unknown: list[str]
    wish_overruled: list[str]
    condition_unknown: list[str]
    cannot_be_swapped: list[str]
    customer_supplies: list[str]
    floor_unknown: list[str]
    floor_outside: list[tuple[str, str]]


def _labour_pence(prices: EmitterPrices, hours_h: float) -> int:
    return pence(exact(hours_h) * Decimal(prices.labour_pence_per_h))


def _order(option: _Option) -> tuple[int, float, str]:
    return option.cost_pence, -option.output_50k_w, option.product.sku if option.product else ""


def _fitting(offered: Sequence[_Option]) -> _Fits:
    """A question, its answers remembered: the offers of some kinds that fit a length, height and depth.

    Leaves out an offer where another costs no more and gives no less, whatever the water: outputs of two exponents
    cross at most once, so that giving no less at both ends of `EXCESS_ENDS_K` is giving no less between them.
    """
    cool_ratio, hot_ratio = (excess_k / RATED_EXCESS_K for excess_k in EXCESS_ENDS_K)
    measures = [
        (*option.product[:4], option.output_50k_w * cool_ratio**option.exponent,
         option.output_50k_w * hot_ratio**option.exponent, option)
        for option in offered if option.product is not None
    ]  # fmt: skip
    remembered: dict[tuple[frozenset[str], float, float, float], tuple[_Option, ...]] = {}

    def fits(kinds: frozenset[str], length_mm: float, height_mm: float, depth_mm: float) -> tuple[_Option, ...]:
        key = (kinds, length_mm, height_mm, depth_mm)
        found = remembered.get(key)
        if found is not None:
            return found
        kept: list[tuple[float, float]] = []
        options: list[_Option] = []
        for length, height, depth, kind, cool_w, hot_w, option in measures:
            if length > length_mm or height > height_mm or depth > depth_mm or kind not in kinds:
                continue
            for other_cool_w, other_hot_w in kept:
                if other_cool_w >= cool_w and other_hot_w >= hot_w:
                    break
            else:
                kept.append((cool_w, hot_w))
                options.append(option)
        if len(remembered) >= _MOST_SPACES:
            remembered.clear()
        found = remembered[key] = tuple(options)
        return found

    return fits


def _free_slot(space: WallSpace, kinds: frozenset[str], fits: _Fits, prices: EmitterPrices) -> _Slot:
    assumed = space.run_m == "assumed"
    run_m = prices.assumed_run_m if space.run_m == "assumed" else space.run_m
    run_pence = pence(exact(run_m) * Decimal(prices.add_parts_pence_per_m))
    found = fits(kinds, space.length_mm, space.height_mm, space.depth_mm)
    return _Slot((_NOTHING, *found), run_pence, True, None, space.id, "", 0.0, True, False, None, run_m, assumed)


def _emitter_slot(
    room: Room,
    emitter: Emitter,
    keep: _Option,
    removal: _Option,
    space: WallSpace | None,
    kinds: frozenset[str],
    fits: _Fits,
    policy: Policy,
    notes: _Notes,
    branch_mm: int | None,
    tail_run: tuple[float | None, bool],
) -> _Slot:
    unsound = emitter.condition in UNSOUND
    found: tuple[_Option, ...] = ()
    if unsound or (policy == "least_cost" and not emitter.keep_wish):
        if emitter.kind == "floor_heating":
            found = ()
        elif space is not None:
            found = fits(kinds, space.length_mm, space.height_mm, space.depth_mm)
        elif emitter.length_mm is not None and emitter.height_mm is not None:
            found = fits(kinds, emitter.length_mm, emitter.height_mm, OWN_DEPTH_MM)
    if unsound:
        if emitter.keep_wish:
            notes.wish_overruled.append(room.name)
        if not found:
            notes.cannot_be_swapped.append(room.name)
    elif emitter.condition == UNKNOWN:
        notes.condition_unknown.append(room.name)
    stays = removal if unsound else keep
    options = (stays, *found)
    if found and found[0].cost_pence < stays.cost_pence:
        options = tuple(sorted(options, key=_order))
    is_floor = emitter.kind == "floor_heating"
    return _Slot(
        options,
        0,
        not unsound,
        emitter.id,
        space.id if space is not None else None,
        _described(emitter),
        _water_l(room, emitter),
        emitter.valves in WORN_VALVES,
        emitter.valves == UNKNOWN,
        _tail_mm(emitter, branch_mm),
        0.0,
        False,
        _Floor(emitter.mixing_valve, room.floor_area_m2, FLOOR_TEMP_LIMIT_C[_zone(room)]) if is_floor else None,
        *tail_run,
    )


def _tail_mm(emitter: Emitter, branch_mm: int | None) -> int | None:
    """Size of an emitter's tails: its own, else that of the house's branches, which floors do not hang on."""
    if emitter.tail_mm != UNKNOWN:
        return emitter.tail_mm
    return None if emitter.kind == "floor_heating" else branch_mm


def _tail_run(
    emitter: Emitter, space: WallSpace | None, policy: Policy, prices: EmitterPrices
) -> tuple[float | None, bool]:
    """Way of renewed tails and whether it was assumed; None where what is there stays as it is."""
    if policy == "keep" or emitter.kind == "floor_heating":
        return None, False
    if space is None or space.run_m == "assumed":
        return prices.assumed_run_m, True
    return space.run_m, False


def _supplied_slot(
    room: Room,
    emitter: Emitter,
    hung: _Option,
    space: WallSpace | None,
    branch_mm: int | None,
    tail_run: tuple[float | None, bool],
) -> _Slot:
    """An emitter that the customer brings: it is hung, and nothing else takes its place."""
    return _Slot(
        (hung,), 0, False, emitter.id, space.id if space is not None else None, _described(emitter),
        _water_l(room, emitter), True, False, _tail_mm(emitter, branch_mm), 0.0, False, None, *tail_run,
    )  # fmt: skip


def _zone(room: Room) -> str:
    return "bathroom" if room.use in WET_ROOMS else "occupied"


def _described(emitter: Emitter) -> str:
    words = [emitter.kind.replace("_", " ")]
    if emitter.type:
        words.append(emitter.type)
    height_mm, length_mm = emitter.height_mm, emitter.length_mm
    if height_mm is not None and length_mm is not None:
        words.append(f"{height_mm} × {length_mm}")
    return " ".join(words)


# --- what is there today ---------------------------------------------------------------------------------------------


def _rated(room: Room, emitter: Emitter, room_temp_c: float, notes: _Notes) -> _Rated:
    """Rated output of an emitter, estimated from kind, type and face where it was not known."""
    if emitter.kind == "floor_heating":
        return _rated_floor(room, emitter, room_temp_c, notes)
    if emitter.output_50k_w != UNKNOWN:
        return _Rated(emitter.output_50k_w, emitter.exponent, inf)
    face_m2 = _face_m2(emitter)
    if face_m2 is None:
        notes.output_unknown.append(room.name)
        return _Rated(0.0, emitter.exponent, inf)
    notes.output_assumed.append(room.name)
    if emitter.kind == "panel":
        return _Rated(PANEL_W_PER_M2[_panel_type(emitter)] * face_m2, emitter.exponent, inf)
    return _Rated(FACE_W_PER_M2[emitter.kind] * face_m2, emitter.exponent, inf)


def _rated_floor(room: Room, emitter: Emitter, room_temp_c: float, notes: _Notes) -> _Rated:
    """A floor by BS EN 1264-2 where its build is known, else by what a usual floor gives."""
    limit_w = 0.0
    if FLOOR_TEMP_LIMIT_C[_zone(room)] > room_temp_c:
        limit_w = floor_limit_w_per_m2(zone=_zone(room), room_temp_c=room_temp_c) * room.floor_area_m2
    if emitter.output_50k_w != UNKNOWN:
        return _Rated(emitter.output_50k_w, emitter.exponent, limit_w)
    spacing_mm, covering, screed_mm = emitter.pipe_spacing_mm, emitter.covering_m2k_per_w, emitter.screed_mm
    if spacing_mm == UNKNOWN or covering == UNKNOWN or screed_mm == UNKNOWN:
        notes.floor_unknown.append(room.name)
        return _Rated(FLOOR_W_PER_M2K * RATED_EXCESS_K * room.floor_area_m2, _FLOOR, limit_w)
    coefficient = floor_coefficient_w_per_m2k(
        pipe_spacing_m=spacing_mm / 1000,
        covering_m2k_per_w=covering,
        screed_m=screed_mm / 1000,
        screed_conductivity_w_per_mk=FLOOR_SCREED_W_PER_MK,
        pipe_od_m=FLOOR_PIPE_OD_M,
        table=load_floor_heating(),
    )
    if coefficient is None:
        notes.floor_outside.append(
            (room.name, f"pipes {spacing_mm} mm apart, {screed_mm} mm of screed, covering of {covering:g} m2K/W")
        )
        return _Rated(0.0, _FLOOR, limit_w)
    return _Rated(coefficient * RATED_EXCESS_K * room.floor_area_m2, _FLOOR, limit_w)


def _panel_type(emitter: Emitter) -> str:
    """Number of panels and of convectors as two digits, out of what the surveyor wrote ("T22", "22", "K2")."""
    written = emitter.type.upper()
    for name in PANEL_W_PER_M2:
        if name in written:
            return name
    for alias, name in PANEL_ALIASES.items():
        if alias in written:
            return name
    return PANEL_UNKNOWN_TYPE


def _face_m2(emitter: Emitter) -> float | None:
    height_mm, length_mm = emitter.height_mm, emitter.length_mm
    return None if height_mm is None or length_mm is None else height_mm * length_mm / 1e6


def _water_l(room: Room, emitter: Emitter) -> float:
    if emitter.water_l != UNKNOWN:
        return emitter.water_l
    if emitter.kind == "floor_heating":
        return FLOOR_WATER_L_PER_M2 * room.floor_area_m2
    face_m2 = _face_m2(emitter)
    if face_m2 is None:
        return UNKNOWN_SIZE_WATER_L
    if emitter.kind == "panel":
        return PANEL_WATER_L_PER_M2[_panel_type(emitter)] * face_m2
    return FACE_WATER_L_PER_M2[emitter.kind] * face_m2


# --- the choice ------------------------------------------------------------------------------------------------------

_Line = list[tuple[int, float, _Option]]


def _cheapest(slots: tuple[_Slot, ...], needed_w: float, ratios: _Ratios) -> list[_Option]:
    """One option a slot: the cheapest combination that gives what is needed, or else the one that gives most."""
    enough_w = needed_w * (1 - _HAIR_RATIO)
    if len(slots) == 1:
        return [_first_enough(slots[0], ratios, enough_w)]
    first = [slot.options[0] for slot in slots]
    given_w = 0.0
    for option in first:
        output_w = option.output_50k_w * ratios[option.law]
        given_w += output_w if output_w < option.limit_w else option.limit_w
    if given_w >= enough_w:
        return first
    lines = [_line(slot, ratios, enough_w) for slot in slots]
    if len(lines) == 2:
        return _cheapest_pair(lines[0], lines[1], enough_w)
    return _cheapest_of_many(lines, [slot.counted for slot in slots], enough_w)


def _first_enough(slot: _Slot, ratios: _Ratios, enough_w: float) -> _Option:
    """The cheapest option that is enough, or else the one that gives most."""
    options = slot.options
    best, most_w = options[0], -1.0
    # Only a floor has a limit, and a floor has no choice: limits are left out here.
    if len(options) == 1:
        return best
    for option in options:
        output_w = option.output_50k_w * ratios[option.law]
        if output_w > most_w:
            best, most_w = option, output_w
            if output_w >= enough_w:
                break
    return best


def _line(slot: _Slot, ratios: _Ratios, enough_w: float) -> _Line:
    """The options that give more than every cheaper one, with cost and output, up to the first that is enough."""
    run_pence = slot.run_pence
    if len(slot.options) == 1:
        only = slot.options[0]
        return [(only.cost_pence, min(only.output_50k_w * ratios[only.law], only.limit_w), only)]
    line: _Line = []
    most_w = -1.0
    for option in slot.options:
        output_w = option.output_50k_w * ratios[option.law]
        if output_w > most_w:
            cost_pence = option.cost_pence
            line.append((cost_pence if option.product is None else cost_pence + run_pence, output_w, option))
            if output_w >= enough_w:
                break
            most_w = output_w
    return line


def _cheapest_pair(one: _Line, other: _Line, enough_w: float) -> list[_Option]:
    best_pence: int | None = None
    best = [one[-1][2], other[-1][2]]
    j = len(other) - 1
    for cost_pence, output_w, option in one:
        if output_w + other[j][1] < enough_w:
            continue
        while j > 0 and output_w + other[j - 1][1] >= enough_w:
            j -= 1
        together_pence = cost_pence + other[j][0]
        if best_pence is None or together_pence < best_pence:
            best_pence, best = together_pence, [option, other[j][2]]
    return best


def _cheapest_of_many(lines: Sequence[_Line], counted: Sequence[bool], enough_w: float) -> list[_Option]:
    """Three slots or more: cost against output slot by slot, dropping what is beaten, at most `MOST_CHANGES`."""
    states: list[tuple[int, float, int, tuple[_Option, ...]]] = [(0, 0.0, 0, ())]
    for line, counts in zip(lines, counted, strict=True):
        grown = []
        for cost, output, changes, picks in states:
            for more_pence, more_w, option in line:
                changed = changes + (counts and option.product is not None)
                if changed <= MOST_CHANGES:
                    grown.append((cost + more_pence, output + more_w, changed, (*picks, option)))
        grown.sort(key=lambda state: (state[0], -state[1], state[2]))
        states = []
        most_w = [-1.0] * (MOST_CHANGES + 1)
        for state in grown:
            output_w = min(state[1], enough_w)
            if output_w > max(most_w[: state[2] + 1]):
                most_w[state[2]] = output_w
                states.append(state)
    for state in states:
        if state[1] >= enough_w:
            return list(state[3])
    return list(max(states, key=lambda state: state[1])[3])


# --- the answer ------------------------------------------------------------------------------------------------------


def _enough_at(excess_k: float, emitters: list[tuple[float, float]], needed_w: float) -> bool:
    """Whether emitters give enough at an excess temperature: spares finding at which they just do."""
    if excess_k <= 0:
        return False
    given_w = 0.0
    for rated_w, exponent in emitters:
        given_w += rated_w * output_ratio(excess_k=excess_k, exponent=exponent)
    return given_w >= needed_w


def _step(slot: _Slot, action: str, product: _Product | None, output_w: float) -> EmitterStep:
    """What happens at a slot."""
    if product is not None and action == "add":
        return EmitterStep(
            "add", None, slot.wall_space_id, product.sku, product.name, output_w, product.water_l, slot.run_m,
            slot.run_assumed, True, product.kind == "fan_assisted",
        )  # fmt: skip
    if product is not None:
        return EmitterStep(
            "swap", slot.emitter_id, slot.wall_space_id, product.sku, product.name, output_w, product.water_l, 0.0,
            False, True, product.kind == "fan_assisted",
        )  # fmt: skip
    if action == "swap":
        return EmitterStep(
            "swap", slot.emitter_id, slot.wall_space_id, None, f"customer's own {slot.description}", output_w,
            slot.water_l, 0.0, False, True,
        )  # fmt: skip
    if action == "keep":
        return EmitterStep(
            "keep", slot.emitter_id, slot.wall_space_id, None, slot.description, output_w, slot.water_l, 0.0, False,
            slot.new_valves,
        )  # fmt: skip
    return EmitterStep(
        "remove", slot.emitter_id, slot.wall_space_id, None, slot.description, 0.0, 0.0, 0.0, False, False
    )


def _action(done: set[str], short_w: float) -> EmitterAction:
    if short_w > 0:
        return "short"
    if "swap" in done:
        return "swap_and_add" if "add" in done else "swap"
    if "add" in done:
        return "add"
    return "keep" if "keep" in done else "none_needed"


def _words(slot: _Slot, action: str, product: _Product | None) -> str:
    if product is None:
        return f"customer's own {slot.description} hung" if action == "swap" else f"{slot.description} taken out"
    return f"{product.name} added" if action == "add" else f"{slot.description} swapped for {product.name}"


def _why(room: _RoomOptions, before_w: float, output_w: float, at: str, words: list[str], short_w: float) -> str:
    told = f"needs {room.needed_w:,.0f} W, has {before_w:,.0f} W at {at}"
    if words:
        told += f": {', '.join(words)}, then {output_w:,.0f} W"
    elif short_w <= 0:
        told += ": kept" if room.as_found else ": nothing needed"
    return f"{told}; {short_w:,.0f} W short, and nothing that fits gives more" if short_w > 0 else told


# --- findings --------------------------------------------------------------------------------------------------------


def _survey_findings(notes: _Notes) -> list[Finding]:
    """What is to be said about the emitters that are there, whatever the flow temperature."""
    said: list[Finding] = []
    if notes.output_assumed:
        said.append(
            Finding(
                "emitter_output_assumed",
                "note",
                _listed(notes.output_assumed),
                f"the output of {len(notes.output_assumed)} emitters is not known; it was estimated from kind and size",
                str(FROM_MEMORY),
                "read the type and size off the emitter and look its output up",
            )
        )
    if notes.output_unknown:
        said.append(
            Finding(
                "emitter_output_unknown",
                "ask",
                _listed(notes.output_unknown),
                f"neither output nor size of {len(notes.output_unknown)} emitters is known; they count as giving 0 W",
                str(SOURCE),
                "measure height and length of the emitter",
            )
        )
    if notes.wish_overruled:
        said.append(
            Finding(
                "wish_against_condition",
                "ask",
                _listed(notes.wish_overruled),
                "the customer wishes to keep an emitter that leaks or is corroded; it does not stay in this design",
                str(COMMON_PRACTICE),
                "agree the swap with the customer, or have the emitter repaired and surveyed again",
            )
        )
    if notes.cannot_be_swapped:
        said.append(
            Finding(
                "unsound_emitter_without_successor",
                "ask",
                _listed(notes.cannot_be_swapped),
                "an emitter leaks or is corroded and nothing offered fits its place; it is taken out",
                str(COMMON_PRACTICE),
                "survey the wall space around it, or offer an emitter that fits",
            )
        )
    if notes.customer_supplies:
        said.append(
            Finding(
                "emitter_supplied_by_customer",
                "ask",
                _listed(notes.customer_supplies),
                f"the customer brings {len(notes.customer_supplies)} emitters: they are hung but not in the bill, and "
                "the firm answers for its work, not for them; their output is taken as surveyed",
                str(COMMON_PRACTICE),
                "see the maker's output at 50 K to EN 442, the connections and the brackets before the day of the "
                "work, and write down who answers for them",
            )
        )
    if notes.floor_unknown:
        said.append(
            Finding(
                "floor_build_unknown",
                "note",
                _listed(notes.floor_unknown),
                f"spacing, screed or covering of the floor heating is not known; {FLOOR_W_PER_M2K:g} W/m2 for each "
                "kelvin are taken",
                str(FROM_MEMORY),
                "find the drawings, or look with a thermal camera while it runs",
            )
        )
    for name, build in notes.floor_outside:
        said.append(
            Finding(
                "floor_outside_formula",
                "ask",
                name,
                f"{build}: outside what the formula holds for (50 to 375 mm, at most 65 mm, at most 0.15 m2K/W); the "
                "floor counts as giving 0 W",
                str(load_floor_heating().source),
                "give its output from its maker's design",
            )
        )
    if notes.condition_unknown:
        said.append(
            Finding(
                "emitter_condition_unknown",
                "note",
                _listed(notes.condition_unknown),
                f"the condition of {len(notes.condition_unknown)} emitters was not seen; they count as sound",
                str(COMMON_PRACTICE),
                "look for rust and weeping joints before the day of the work",
            )
        )
    return said


def _assumption_findings(runs_assumed: list[str], valves_assumed: list[str]) -> list[Finding]:
    said: list[Finding] = []
    if runs_assumed:
        said.append(
            Finding(
                "emitter_run_assumed",
                "note",
                _listed(runs_assumed),
                f"the pipe run to {_emitters(len(runs_assumed), 'new ')} was not seen and is assumed",
                str(COMMON_PRACTICE),
                "lift a board and measure the run",
            )
        )
    if valves_assumed:
        said.append(
            Finding(
                "emitter_valves_assumed",
                "note",
                _listed(valves_assumed),
                f"the valves of {_emitters(len(valves_assumed))}, to be kept, are not known; new ones are counted in",
                str(COMMON_PRACTICE),
                "look at the valves",
            )
        )
    return said


def _emitters(count: int, which: str = "") -> str:
    return f"{count} {which}emitter{'' if count == 1 else 's'}"


def _fans_heard(names: Sequence[str]) -> Finding:
    return Finding(
        "fan_heard",
        "note",
        _listed(names),
        f"{'a convector with a fan is' if len(names) == 1 else f'{len(names)} convectors with a fan are'} chosen, "
        "because that costs least: the fan is heard while it heats, wants a fused spur beside it and a filter cleaned "
        "now and then",
        str(COMMON_PRACTICE),
        "ask the household; where it does not want a fan, say so in the room, and a radiator takes its place",
    )


def _is_stop(room: _RoomOptions, short_w: float) -> bool:
    return short_w > SHORT_STOP_RATIO * room.needed_w and room.needed_w >= SMALL_NEED_W


def counts_as_short(*, needed_w: float, short_w: float) -> bool:
    """Whether a room lacks more than the tolerance of an emitter's output, so that hotter water is worth looking at.

    EN 442-1 (from memory): 4 %.
    """
    return short_w > SHORT_COUNTS_RATIO * needed_w


def _short(room: _RoomOptions, output_w: float, short_w: float, at: str, enough_flow_c: float) -> Finding:
    """A room short of heat, with the flow at which what fits there would be enough, where a heat pump reaches it."""
    warmer = f"a flow of {ceil(enough_flow_c)} °C, " if enough_flow_c <= HOTTEST_FLOW_C else ""
    return Finding(
        "room_short_of_heat",
        "stop" if _is_stop(room, short_w) else "ask",
        room.name,
        f"{room.name} needs {room.needed_w:,.0f} W; the most that fits gives {output_w:,.0f} W at {at}: "
        f"{short_w:,.0f} W short",
        str(SOURCE),
        f"{warmer}another wall space, or insulation"
        + ("; or a convector with a fan, if its noise is accepted in this room" if room.fans_left_out else ""),
    )


def tail_limit_w(*, bore_mm: float, delta_t_k: float) -> float:
    """Heat that tails of a bore carry without being heard, W: 1 m/s through the bore. Common practice, no source."""
    return TAIL_VELOCITY_M_PER_S * pi / 4 * (bore_mm / 1000) ** 2 * WATER_J_PER_M3K * delta_t_k


class _Tails(NamedTuple):
    """The tails of an emitter, what it could give, and its place among the steps of its room."""

    slot: _Slot
    output_w: float
    step: int


class _Narrow(NamedTuple):
    """Tails that carry more than they should, and what renewing them takes; `new_od_mm` is None where none is."""

    slot: _Slot
    step: int
    carried_w: float
    limit_w: float
    enough_od_mm: int | None
    new_od_mm: int | None
    cost_pence: int
    hours_h: float


def tail_bore_mm(*, od_mm: int, bores_mm: Mapping[int, float]) -> float:
    """Bore of tails by the house's tubes; of a size they lack that of thin copper, mm. BS EN 1057, from memory."""
    return bores_mm.get(od_mm, od_mm - THIN_COPPER_WALLS_MM)


def _narrow_tails(
    options: EmitterOptions, room: _RoomOptions, tails: Sequence[_Tails], output_w: float, delta_t_k: float
) -> Iterator[_Narrow]:
    """The tails of a room that are too narrow for their share of its heat, with the size that is not.

    Renewed only where emitters may change and the firm has rows of hours for it: what is not priced is not promised.
    """
    if output_w <= 0 or room.needed_w <= room.narrow_w_per_k * delta_t_k:
        return
    prices = options.prices
    for slot, step_w, step in tails:
        carried_w = room.needed_w * step_w / output_w
        bore_mm = tail_bore_mm(od_mm=slot.tail_mm or 0, bores_mm=options.tail_bore_mm)
        limit_w = tail_limit_w(bore_mm=bore_mm, delta_t_k=delta_t_k)
        if carried_w <= limit_w:
            continue
        enough_od_mm = next(
            (od_mm for od_mm, bore_mm in options.new_tail_bore_mm.items()
             if tail_limit_w(bore_mm=bore_mm, delta_t_k=delta_t_k) >= carried_w),
            None,
        )  # fmt: skip
        if enough_od_mm is None or slot.tail_run_m is None or prices is None or not prices.tail_hours:
            yield _Narrow(slot, step, carried_w, limit_w, enough_od_mm, None, 0, 0.0)
            continue
        run_m = slot.tail_run_m
        hours_per_m, pence_per_m = {
            15: (prices.tail_15_hours_per_m, prices.tail_15_parts_pence_per_m),
            22: (prices.tail_22_hours_per_m, prices.tail_22_parts_pence_per_m),
        }[enough_od_mm]
        hours_h = prices.tail_hours + hours_per_m * run_m
        run_pence = pence(exact(run_m) * Decimal(pence_per_m))
        cost_pence = prices.tail_parts_pence + run_pence + _labour_pence(prices, hours_h)
        yield _Narrow(slot, step, carried_w, limit_w, enough_od_mm, enough_od_mm, cost_pence, hours_h)


def _tail(room: _RoomOptions, narrow: _Narrow, delta_t_k: float) -> Finding:
    slot = narrow.slot
    if narrow.new_od_mm is not None:
        way = f"{slot.tail_run_m:g} m one way{', assumed,' if slot.tail_run_assumed else ''}"
        remedy = (
            f"accept that its tails are renewed in {narrow.new_od_mm} mm back to the mains, {way} in the bill and the "
            "plan; look first how they can run"
        )
    elif narrow.enough_od_mm is not None:
        remedy = (
            f"renew these tails in {narrow.enough_od_mm} mm back to the mains, which is not priced here, or accept "
            "that the room warms more slowly and the water is heard in the coldest weather"
        )
    else:
        remedy = "feed it by two pairs of tails, which is not priced here, or hang a second emitter"
    return Finding(
        "branch_too_small",
        "ask",
        room.name,
        f"the {slot.tail_mm} mm tails of {slot.description} would carry {narrow.carried_w:,.0f} W; at {delta_t_k:g} K "
        f"and {TAIL_VELOCITY_M_PER_S:g} m/s they carry {narrow.limit_w:,.0f} W",
        str(COMMON_PRACTICE),
        remedy,
    )


def _surface_c(room: _RoomOptions, floor: _Floor, output_w: float) -> float:
    return floor_temp_c(output_w_per_m2=output_w / floor.area_m2, room_temp_c=room.room_temp_c)


def _floor_at_limit(
    room: _RoomOptions,
    slot: _Slot,
    option: _Option,
    floor: _Floor,
    unmixed_w: float,
    delta_t_k: float,
    at: str,
) -> Finding:
    """A floor that would be too hot at the flow of the system: *note* with a mixing valve, *stop* without one."""
    limit_w = option.limit_w
    exponent = FLOOR_EXPONENT if by_log_mean(option.exponent) else option.exponent
    excess_k = RATED_EXCESS_K * float((limit_w / option.output_50k_w) ** (1 / exponent))
    warmest_c = room.room_temp_c + excess_k + delta_t_k / 2
    message = (
        f"unmixed water of {at} would bring the surface of {slot.description} to "
        f"{_surface_c(room, floor, unmixed_w):.1f} °C, over the {floor.limit_temp_c:g} °C that it may have; it is "
        f"held to {limit_w:,.0f} W by a flow of at most {warmest_c:.0f} °C"
    )
    if floor.mixing == "no":
        return Finding(
            "floor_surface_too_hot",
            "stop",
            room.name,
            f"{message}, and nothing mixes it down",
            str(FLOOR_SOURCE),
            f"a mixing valve with a pump for the floor, or a flow of at most {warmest_c:.0f} °C for the whole house",
        )
    return Finding(
        "floor_at_its_limit",
        "note" if floor.mixing == "yes" else "ask",
        room.name,
        message if floor.mixing == "yes" else f"{message}; whether a valve mixes it down is not recorded",
        str(FLOOR_SOURCE),
        f"set its mixing valve to {warmest_c:.0f} °C"
        if floor.mixing == "yes"
        else "look for a mixing valve at the manifold; without one this cannot be quoted",
    )


def _floors_beside_radiators(floors: Sequence[tuple[str, float]], at: str) -> Finding:
    hottest = max(floors, key=lambda floor: floor[1])
    return Finding(
        "floor_heating_beside_radiators",
        "note",
        _listed([name for name, _ in floors]),
        f"radiators and floor heating share water of {at}; the warmest floor, {hottest[0]}, has a surface of "
        f"{hottest[1]:.1f} °C",
        str(FLOOR_SOURCE),
        "balance the floor apart from the radiators, and limit its flow temperature against a fault",
    )


def _single_pipe(rooms: Sequence[_RoomOptions], cooler: Mapping[str, float]) -> Finding:
    if not cooler:
        return Finding(
            "single_pipe_order_unknown",
            "stop",
            "heating pipes",
            "one pipe runs from emitter to emitter and their order is not known: later ones see cooler water; every "
            "emitter is reckoned as the last",
            str(LOOP_SOURCE),
            "trace the loop and number its emitters, or convert it to two pipes and survey it so",
        )
    last = max((room for room in rooms if room.room_id in cooler), key=lambda room: room.cooler_ratio)
    return Finding(
        "single_pipe",
        "ask",
        "heating pipes",
        f"one pipe runs from emitter to emitter: the water of {last.name}, the last of {len(cooler)} rooms, is "
        f"{per_cent(last.cooler_ratio)} of the circuit's drop below its mean; the design counts on the order as "
        "surveyed",
        str(LOOP_SOURCE),
        "convert the loop to two pipes, which is not priced here, or accept the design for the loop as it is",
    )


def _listed(names: Sequence[str]) -> str:
    return ", ".join(dict.fromkeys(names))
