"""Which outdoor unit: the next size above the heat loss, at least cost.

BS EN 14511 ratings, interpolated; the rule of choice is common practice.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from models.catalogue import OutdoorUnit
from models.design.results import Climate, Offer, UnitChoice, UnitConsidered
from models.findings import Finding
from models.physics.rating import UnitState, rating_grid, unit_state
from models.physics.seasonal import HeatingYear, defrost_factor, year_of_heat
from models.sources import COMMON_PRACTICE, Source, Why

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


@dataclass(frozen=True, slots=True)
class _Set:
    """One or two like units at design conditions."""

    offer: Offer[OutdoorUnit]
    state: UnitState
    count: int
    capacity_w: float
    cost_pence: int


def choose_unit(
    *,
    offers: Sequence[Offer[OutdoorUnit]],
    heat_loss_w: float,
    climate: Climate,
    flow_temp_c: float,
    year: HeatingYear | None,
    wanted_sku: str | None = None,
) -> UnitChoice:
    """The outdoor unit for a heat loss at design outdoor and flow temperature.

    Common practice, no source: the next size above the heat loss; of one size the cheapest; two like units where one
    is not enough and the maker allows it. `wanted_sku` overrides and brings a finding where it is short. `year` gives
    the hours below the least output; None leaves them out, for ranking flow temperatures. The unit is None where
    none is enough, or where the wanted one gives less than 0.9 of the heat loss.
    """
    outdoor_c = climate.design_outdoor_temp_c
    singles: list[_Set] = []
    out_of_range: list[Offer[OutdoorUnit]] = []
    for offer in offers:
        state = unit_state(rating_grid(offer.item), outdoor_temp_c=outdoor_c, flow_temp_c=flow_temp_c)
        if state is None:
            out_of_range.append(offer)
            continue
        left = defrost_factor(outdoor_temp_c=outdoor_c, defrost_included=offer.item.defrost_included)
        singles.append(_Set(offer, state, 1, state.output_w * left, offer.cost_pence))
    at = f"{outdoor_c:g} °C / {flow_temp_c:g} °C"
    if wanted_sku is not None:
        taken, findings = _wanted(singles, out_of_range, wanted_sku, heat_loss_w, at)
    else:
        taken = _next_size(singles, heat_loss_w)
        if taken is None:
            taken = _next_size(_twins(singles), heat_loss_w)
        findings = [] if taken is not None else [_none_enough(singles, heat_loss_w, at)]
    considered = _considered(offers, singles, taken, heat_loss_w, at, wanted_sku)
    if taken is None:
        return UnitChoice(None, 0, None, None, None, None, None, None, considered, tuple(findings))
    cover = taken.capacity_w / heat_loss_w if heat_loss_w > 0 else None
    unit = taken.offer.item
    if cover is not None and cover > OVERSIZED_RATIO:
        findings.append(_oversized(taken, heat_loss_w, cover))
    left = defrost_factor(outdoor_temp_c=outdoor_c, defrost_included=unit.defrost_included)
    if heat_loss_w < taken.state.minimum_output_w * left:
        findings.append(_below_minimum(taken, heat_loss_w, taken.state.minimum_output_w * left, at))
    hours_below_h = None
    if year is not None:
        ran = year_of_heat(
            rating_grid(unit),
            year=year,
            count=taken.count,
            defrost_included=unit.defrost_included,
            pipe_loss_outside_w=0.0,
        )
        hours_below_h = ran.hours_below_minimum_h
        if ran.heat_kwh > 0:
            findings += _cycling(taken, hours_below_h, ran.heat_below_minimum_kwh / ran.heat_kwh)
    short = any(finding.strength == "stop" for finding in findings)
    return UnitChoice(
        None if short else unit,
        taken.count,
        taken.capacity_w,
        taken.count * taken.state.input_w,
        cover,
        taken.state.minimum_output_w * left,
        hours_below_h,
        taken.state.sound_power_dba,
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
        _Set(one.offer, one.state, MOST_UNITS, MOST_UNITS * one.capacity_w, MOST_UNITS * one.cost_pence)
        for one in singles
        if one.offer.item.cascade_allowed
    ]


def _wanted(
    singles: Sequence[_Set], out_of_range: Sequence[Offer[OutdoorUnit]], sku: str, heat_loss_w: float, at: str
) -> tuple[_Set | None, list[Finding]]:
    one = next((each for each in singles if each.offer.item.sku == sku), None)
    if one is None:
        ranged_out = next((offer for offer in out_of_range if offer.item.sku == sku), None)
        if ranged_out is None:
            why, remedy = f"{sku} is not among the units offered", "take a unit that the price list holds"
        else:
            why, remedy = _beyond(ranged_out.item, at), "take another unit or a cooler flow"
        return None, [Finding("wanted_unit_not_possible", "stop", sku, why, str(RATINGS), remedy)]
    if one.capacity_w < SHORT_STOP_RATIO * heat_loss_w:
        for two in _twins([one]):
            if two.capacity_w >= heat_loss_w:
                return two, []
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


def _beyond(unit: OutdoorUnit, at: str) -> str:
    grid = rating_grid(unit)
    return (
        f"outside the maker's range at {at}; it is rated from {grid.outdoor_temps_c[0]:g} to "
        f"{grid.outdoor_temps_c[-1]:g} °C outside and {grid.flow_temps_c[0]:g} to {grid.flow_temps_c[-1]:g} °C flow"
    )


def _considered(
    offers: Sequence[Offer[OutdoorUnit]],
    singles: Sequence[_Set],
    taken: _Set | None,
    heat_loss_w: float,
    at: str,
    wanted_sku: str | None,
) -> tuple[UnitConsidered, ...]:
    """Every unit offered with the reason why it was or was not taken."""
    by_sku = {each.offer.item.sku: each for each in singles}
    rows: list[UnitConsidered] = []
    for offer in offers:
        unit = offer.item
        each = by_sku.get(unit.sku)
        if each is None:
            rows.append(UnitConsidered(unit.sku, unit.name, 1, None, None, False, _beyond(unit, at)))
            continue
        is_taken = taken is not None and taken.offer is offer
        shown = taken if is_taken and taken is not None else each
        cover = shown.capacity_w / heat_loss_w if heat_loss_w > 0 else None
        if is_taken:
            reason = "asked for" if wanted_sku is not None else "the next size above the heat loss"
            if shown.count > 1:
                reason += f", {shown.count} together since one is not enough"
        elif each.capacity_w < heat_loss_w:
            reason = f"{heat_loss_w - each.capacity_w:,.0f} W short of the heat loss"
        elif wanted_sku is not None:
            reason = "another was asked for"
        elif taken is not None and each.capacity_w <= taken.capacity_w * SAME_SIZE_RATIO:
            reason = "the same size, and no cheaper"
        else:
            reason = "larger than needed"
        rows.append(UnitConsidered(unit.sku, unit.name, shown.count, shown.capacity_w, cover, is_taken, reason))
    return tuple(rows)


def _none_enough(singles: Sequence[_Set], heat_loss_w: float, at: str) -> Finding:
    most = max((*singles, *_twins(singles)), key=lambda each: each.capacity_w, default=None)
    if most is None:
        told = f"no unit on offer is rated at {at}"
    else:
        told = (
            f"the house loses {heat_loss_w:,.0f} W; the most on offer at {at} is {most.count} × "
            f"{most.offer.item.name} with {most.capacity_w:,.0f} W"
        )
    return Finding(
        "no_unit_large_enough",
        "stop",
        "outdoor unit",
        told,
        str(SOURCE),
        "insulate, choose a cooler flow, or offer a larger unit",
    )


def _oversized(taken: _Set, heat_loss_w: float, cover: float) -> Finding:
    return Finding(
        "unit_oversized",
        "ask",
        taken.offer.item.name,
        f"it gives {taken.capacity_w:,.0f} W at design conditions for a heat loss of {heat_loss_w:,.0f} W: "
        f"{cover:.2f} times as much",
        str(SOURCE),
        "offer a smaller unit; a large one switches on and off more often",
    )


def _below_minimum(taken: _Set, heat_loss_w: float, minimum_w: float, at: str) -> Finding:
    return Finding(
        "load_below_minimum",
        "ask",
        taken.offer.item.name,
        f"even at {at} the house takes {heat_loss_w:,.0f} W, less than the {minimum_w:,.0f} W that the unit gives at "
        "least: it switches on and off all winter",
        str(RATINGS),
        "offer a smaller unit, or add water that is always open so that it runs longer",
    )


def _cycling(taken: _Set, hours_h: float, heat_ratio: float) -> list[Finding]:
    if heat_ratio < CYCLES_NOTE_RATIO:
        return []
    return [
        Finding(
            "cycles_in_mild_weather",
            "ask" if heat_ratio >= CYCLES_ASK_RATIO else "note",
            taken.offer.item.name,
            f"for {hours_h:,.0f} hours a year, with {heat_ratio:.0%} of the heat, the house takes less than the least "
            f"output of the unit: it switches on and off then",
            str(SOURCE),
            "a unit with a smaller least output, or more water that is always open",
        )
    ]
