"""Which outdoor unit: the next size above the heat loss, at least cost.

BS EN 14511 ratings, interpolated; the rule of choice is common practice.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

from models.catalogue import OutdoorUnit
from models.design.results import Climate, Offer, UnitChoice, UnitConsidered
from models.findings import Finding
from models.frozen import quickly_made
from models.physics.rating import RatingRow, output_in_row, rating_grid, rating_row, state_in_row
from models.physics.seasonal import YearOfHeat, defrost_factor
from models.sources import COMMON_PRACTICE, Source, Why
from models.units import NOTHING_W, per_cent

SOURCE = COMMON_PRACTICE
WHY = Why(
    sentence="{count} × {unit.name}: {capacity_w:,.0f} W at design conditions, {cover_ratio:.2f} of the heat loss",
    source=SOURCE,
)
RATINGS = Source("BS EN 14511-2:2022", "rating points, interpolated")

MOST_UNITS = 2
SAME_SIZE_RATIO = 1.05
"""Capacities within this of the smallest that is enough count as one size, of which the cheapest is taken."""
SHORT_STOP_RATIO = 0.9
OVERSIZED_RATIO = 1.5
CYCLES_NOTE_RATIO = 0.33
CYCLES_ASK_RATIO = 0.60
"""Shares of the year's heat delivered below the least output of the unit from which to say so, and to ask."""


class UnitOutdoors(NamedTuple):
    """A unit on offer at the design outdoor temperature. `row` is None where its maker does not rate it there."""

    offer: Offer[OutdoorUnit]
    row: RatingRow | None
    left_after_defrost_ratio: float


@quickly_made
@dataclass(frozen=True, slots=True)
class _Set:
    """One or two like units at design conditions."""

    offer: Offer[OutdoorUnit]
    row: RatingRow
    times: int
    capacity_w: float
    cost_pence: int
    left_after_defrost_ratio: float


def units_outdoors(*, offers: Sequence[Offer[OutdoorUnit]], climate: Climate) -> tuple[UnitOutdoors, ...]:
    """The units on offer at the design outdoor temperature, which every candidate flow temperature shares.

    BS EN 14511-2:2022 rating points, interpolated.
    """
    at_c = climate.design_outdoor_temp_c
    return tuple(
        [
            UnitOutdoors(
                offer,
                rating_row(rating_grid(offer.item), outdoor_temp_c=at_c),
                defrost_factor(outdoor_temp_c=at_c, defrost_included=offer.item.defrost_included),
            )
            for offer in offers
        ]
    )


@dataclass(frozen=True, slots=True)
class RankedUnit:
    """What a flow temperature would take; `unit` is None where none is enough."""

    unit: OutdoorUnit | None
    count: int


def rank_unit(
    *, units: Sequence[UnitOutdoors], heat_loss_w: float, flow_temp_c: float, wanted_sku: str | None = None
) -> RankedUnit:
    """The unit that `choose_unit` would take, without its words, for ranking flow temperatures."""
    singles = _singles(units, flow_temp_c)
    if wanted_sku is None:
        taken = _next_size(singles, heat_loss_w) or _next_size(_twins(singles), heat_loss_w)
        return RankedUnit(None, 0) if taken is None else RankedUnit(taken.offer.item, taken.times)
    one = next((each for each in singles if each.offer.item.sku == wanted_sku), None)
    if one is None:
        return RankedUnit(None, 0)
    taken = _wanted_set(one, heat_loss_w)
    short = taken.capacity_w < SHORT_STOP_RATIO * heat_loss_w
    return RankedUnit(None if short else taken.offer.item, taken.times)


def _singles(units: Sequence[UnitOutdoors], flow_temp_c: float) -> list[_Set]:
    """The units that their makers rate at a flow temperature."""
    singles = []
    for offer, row, left in units:
        if row is None:
            continue
        output_w = output_in_row(row, flow_temp_c=flow_temp_c)
        if output_w is not None:
            singles.append(_Set(offer, row, 1, output_w * left, offer.cost_pence, left))
    return singles


def choose_unit(
    *,
    units: Sequence[UnitOutdoors],
    heat_loss_w: float,
    climate: Climate,
    flow_temp_c: float,
    heated: Callable[[OutdoorUnit, int], YearOfHeat] | None,
    wanted_sku: str | None = None,
) -> UnitChoice:
    """The outdoor unit for a heat loss at design outdoor and flow temperature.

    Common practice, no source: the next size above the heat loss; of one size the cheapest; two like units where one
    is not enough and the maker allows it. `units` are those of `units_outdoors` in the same climate. `wanted_sku`
    overrides and brings a finding where it is short. `heated` answers what so many like units do in the heating year,
    for the hours below the least output; None leaves them out. The unit is None where none is enough, or where the
    wanted one gives less than 0.9 of the heat loss.
    """
    outdoor_c = climate.design_outdoor_temp_c
    singles = _singles(units, flow_temp_c)
    at = f"{outdoor_c:g} °C / {flow_temp_c:g} °C"
    if wanted_sku is not None:
        taken, findings = _wanted(singles, units, wanted_sku, heat_loss_w, at)
    else:
        taken = _next_size(singles, heat_loss_w)
        if taken is None:
            taken = _next_size(_twins(singles), heat_loss_w)
        findings = [] if taken is not None else [_none_enough(units, singles, heat_loss_w, at)]
    considered = _considered(units, singles, taken, heat_loss_w, at, wanted_sku)
    if taken is None:
        return UnitChoice(None, 0, None, None, None, None, None, None, considered, tuple(findings))
    cover = taken.capacity_w / heat_loss_w if heat_loss_w > NOTHING_W else None
    unit = taken.offer.item
    if cover is not None and cover > OVERSIZED_RATIO:
        findings.append(_oversized(taken, _next_size(singles, heat_loss_w), heat_loss_w, cover))
    state = state_in_row(taken.row, flow_temp_c=flow_temp_c)
    if state is None:
        raise AssertionError(f"{unit.sku} was taken outside its range at {at}")
    minimum_w = state.minimum_output_w * taken.left_after_defrost_ratio
    if heat_loss_w < minimum_w:
        findings.append(_below_minimum(taken, _next_size(singles, heat_loss_w), heat_loss_w, minimum_w, at))
    hours_below_h = None
    if heated is not None:
        ran = heated(unit, taken.times)
        hours_below_h = ran.hours_below_minimum_h
        if ran.heat_kwh > 0:
            findings += _cycling(taken, hours_below_h, ran.heat_below_minimum_kwh / ran.heat_kwh)
    short = any(finding.strength == "stop" for finding in findings)
    return UnitChoice(
        None if short else unit,
        taken.times,
        taken.capacity_w,
        taken.times * state.input_w,
        cover,
        minimum_w,
        hours_below_h,
        state.sound_power_dba,
        considered,
        tuple(findings),
    )


def _next_size(sets: Sequence[_Set], heat_loss_w: float) -> _Set | None:
    enough = [each for each in sets if each.capacity_w >= heat_loss_w]
    if not enough:
        return None
    smallest_w = min(each.capacity_w for each in enough)
    same_size = [each for each in enough if each.capacity_w <= smallest_w * SAME_SIZE_RATIO]
    return min(same_size, key=lambda each: (each.cost_pence, each.capacity_w, each.offer.item.sku))


def _twins(singles: Sequence[_Set]) -> list[_Set]:
    return [
        replace(one, times=MOST_UNITS, capacity_w=MOST_UNITS * one.capacity_w, cost_pence=MOST_UNITS * one.cost_pence)
        for one in singles
        if one.offer.item.cascade_allowed
    ]


def _wanted(
    singles: Sequence[_Set], units: Sequence[UnitOutdoors], sku: str, heat_loss_w: float, at: str
) -> tuple[_Set | None, list[Finding]]:
    one = next((each for each in singles if each.offer.item.sku == sku), None)
    if one is None:
        ranged_out = next((unit.offer for unit in units if unit.offer.item.sku == sku), None)
        if ranged_out is None:
            why, remedy = f"{sku} is not among the units offered", "take a unit that the price list holds"
        else:
            why, remedy = _beyond(ranged_out.item, at), "take another unit or a cooler flow"
        return None, [Finding("wanted_unit_not_possible", "stop", sku, why, str(RATINGS), remedy)]
    one = _wanted_set(one, heat_loss_w)
    if one.capacity_w >= heat_loss_w:
        return one, []
    cover = one.capacity_w / heat_loss_w
    return one, [
        Finding(
            "unit_short_of_heat_loss",
            "stop" if cover < SHORT_STOP_RATIO else "ask",
            one.offer.item.name,
            f"{one.offer.item.name} gives {one.capacity_w:,.0f} W at {at}; the house loses {heat_loss_w:,.0f} W: "
            f"{cover:.2f} of it",
            str(SOURCE),
            "take the next size, a cooler flow, or agree on direct electric heat in the coldest hours",
        )
    ]


def _wanted_set(one: _Set, heat_loss_w: float) -> _Set:
    """The wanted unit once, or twice where once is far too little and twice is enough."""
    if one.capacity_w < SHORT_STOP_RATIO * heat_loss_w:
        for two in _twins([one]):
            if two.capacity_w >= heat_loss_w:
                return two
    return one


def _beyond(unit: OutdoorUnit, at: str) -> str:
    grid = rating_grid(unit)
    return (
        f"outside the maker's range at {at}; it is rated from {grid.outdoor_temps_c[0]:g} to "
        f"{grid.outdoor_temps_c[-1]:g} °C outside and {grid.flow_temps_c[0]:g} to {grid.flow_temps_c[-1]:g} °C flow"
    )


def _considered(
    units: Sequence[UnitOutdoors],
    singles: Sequence[_Set],
    taken: _Set | None,
    heat_loss_w: float,
    at: str,
    wanted_sku: str | None,
) -> tuple[UnitConsidered, ...]:
    """Every unit offered with the reason why it was or was not taken."""
    by_sku = {each.offer.item.sku: each for each in singles}
    rows: list[UnitConsidered] = []
    for offer, _, _ in units:
        unit = offer.item
        each = by_sku.get(unit.sku)
        if each is None:
            rows.append(UnitConsidered(unit.sku, unit.name, 1, None, None, False, _beyond(unit, at)))
            continue
        is_taken = taken is not None and taken.offer is offer
        shown = taken if is_taken and taken is not None else each
        cover = shown.capacity_w / heat_loss_w if heat_loss_w > NOTHING_W else None
        if is_taken:
            reason = "asked for" if wanted_sku is not None else "the next size above the heat loss"
            if shown.times > 1:
                reason += f", {shown.times} together since one is not enough"
        elif each.capacity_w < heat_loss_w:
            reason = f"{heat_loss_w - each.capacity_w:,.0f} W short of the heat loss"
        elif wanted_sku is not None:
            reason = "another was asked for"
        elif taken is not None and each.capacity_w <= taken.capacity_w * SAME_SIZE_RATIO:
            reason = "the same size, and no cheaper"
        else:
            reason = "larger than needed"
        rows.append(UnitConsidered(unit.sku, unit.name, shown.times, shown.capacity_w, cover, is_taken, reason))
    return tuple(rows)


def _none_enough(
    units: Sequence[UnitOutdoors], singles: Sequence[_Set], heat_loss_w: float, at: str
) -> Finding:
    most = max((*singles, *_twins(singles)), key=lambda each: each.capacity_w, default=None)
    if most is None:
        told = f"no unit on offer is rated at {at}"
    else:
        told = (
            f"the house loses {heat_loss_w:,.0f} W; the most on offer at {at} is {most.times} × "
            f"{most.offer.item.name} with {most.capacity_w:,.0f} W"
        )
    return Finding(
        "no_unit_large_enough",
        "stop",
        "outdoor unit",
        told,
        str(SOURCE),
        f"insulate, {_cooler_flow(units, heat_loss_w)}or offer a larger unit",
    )


def _cooler_flow(units: Sequence[UnitOutdoors], heat_loss_w: float) -> str:
    """The coolest water as a way out, where it lets a unit on offer give enough."""
    coolest_c = min((unit.row.flow_temps_c[0] for unit in units if unit.row is not None), default=None)
    if coolest_c is None:
        return ""
    singles = _singles(units, coolest_c)
    enough = any(each.capacity_w >= heat_loss_w for each in (*singles, *_twins(singles)))
    return "choose a cooler flow, " if enough else ""


def sound_of_enough(
    *, units: Sequence[UnitOutdoors], heat_loss_w: float, flow_temp_c: float
) -> tuple[tuple[str, float], ...]:
    """Name and sound power, dB(A), of each unit that is enough by itself at a flow temperature, the cheapest first.

    BS EN 12102-1 as the maker's rating points have it. `units` are those of `units_outdoors`.
    """
    enough = [one for one in _singles(units, flow_temp_c) if one.capacity_w >= heat_loss_w]
    enough.sort(key=lambda one: (one.cost_pence, one.offer.item.sku))
    states = [(one.offer.item.name, state_in_row(one.row, flow_temp_c=flow_temp_c)) for one in enough]
    return tuple((name, state.sound_power_dba) for name, state in states if state is not None)


def _smaller(taken: _Set, enough: _Set | None) -> str:
    """The smaller unit that would be enough, or what else can be done where none is offered."""
    if enough is not None and enough.capacity_w < taken.capacity_w:
        return f"offer {enough.offer.item.name}, which gives {enough.capacity_w:,.0f} W"
    return "no smaller unit of the catalogue is enough: put one into it, or add water that is always open"


def _oversized(taken: _Set, enough: _Set | None, heat_loss_w: float, cover: float) -> Finding:
    return Finding(
        "unit_oversized",
        "ask",
        taken.offer.item.name,
        f"it gives {taken.capacity_w:,.0f} W at design conditions for a heat loss of {heat_loss_w:,.0f} W: "
        f"{cover:.2f} times as much",
        str(SOURCE),
        f"{_smaller(taken, enough)}; a large one switches on and off more often",
    )


def _below_minimum(taken: _Set, enough: _Set | None, heat_loss_w: float, minimum_w: float, at: str) -> Finding:
    return Finding(
        "load_below_minimum",
        "ask",
        taken.offer.item.name,
        f"even at {at} the house takes {heat_loss_w:,.0f} W, less than the {minimum_w:,.0f} W that the unit gives at "
        "least: it switches on and off all winter",
        str(RATINGS),
        f"{_smaller(taken, enough)}, so that it runs longer",
    )


def _cycling(taken: _Set, hours_h: float, heat_ratio: float) -> list[Finding]:
    if heat_ratio < CYCLES_NOTE_RATIO:
        return []
    return [
        Finding(
            "cycles_in_mild_weather",
            "ask" if heat_ratio >= CYCLES_ASK_RATIO else "note",
            taken.offer.item.name,
            f"for {hours_h:,.0f} hours a year, with {per_cent(heat_ratio)} of the heat, the house takes less than the "
            "least output of the unit: it switches on and off then",
            str(SOURCE),
            "a unit with a smaller least output, or more water that is always open",
        )
    ]
