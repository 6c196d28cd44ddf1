"""How large a hot-water store does the household need, which one goes into its place, and what does it take a year?

Stored hot water can scald and, kept lukewarm, can carry legionella; unvented stores are for qualified people only.
"""

import math
from collections.abc import Iterator, Mapping, Sequence

from models.catalogue import Cylinder
from models.design.results import CylinderChoice, Offer, SpaceCheck
from models.findings import Finding
from models.sources import COMMON_PRACTICE, Source, Why
from models.survey import CylinderPlace, HotWater, Survey
from models.units import DAYS_A_YEAR, DAYS_OF_MONTHS, counted, per_cent

SOURCE = Source("installation-scheme guidance", "45 L a person a day, people = bedrooms + 1", "from memory")
WHY = Why(
    sentence=(
        "{people:g} people draw {draw_l_per_day:.0f} L a day at 60 C; the busiest spell before a reheat needs a store "
        "of {store_needed_l:.0f} L at {store_temp_c:g} C"
    ),
    source=SOURCE,
)
REHEAT_SOURCE = Source("BS 6700:2006", "Annex C, M = VT/(14.3 P)")
ENERGY_SOURCE = Source("SAP 2012", "Tables 1b, 1c and 1d")
STANDING_SOURCE = Source("BS EN 12897", "standing heat loss at 65 °C in air of 20 °C", "from memory")

LITRES_PER_PERSON_DAY = 45.0
DRAW_TEMP_C = 60.0
STORE_TEMP_C = 50.0
COLD_TEMP_C = 10.0
MIXED_TEMP_C = 40.0
RULE_PEOPLE_AT_MOST = 6
"""Beyond this the bedrooms no longer stand for people; those who live there still count."""

PEAK_SHARE_RATIO = 0.6
"""Share of the day's draw that falls into its busiest spell, before the unit has put anything back."""
USABLE_RATIO = 0.85
"""Share of the store that comes out hot before the cold below reaches the outlet."""
USE_RATIO = {"low": 0.8, "usual": 1.0, "high": 1.25}
POWER_SHOWER_RATIO = 0.10
"""More for each shower with a pump."""
EXTRA_BATH_RATIO = 0.15
"""More for each bath beyond what the house size leads one to expect: one, or two from four bedrooms."""
TWO_BATHS_FROM_BEDROOMS = 4

COIL_W_PER_M2K = 400.0
COIL_DELTA_T_K = 10.0
"""Together 4 kW a square metre of coil, the trade's quarter of a square metre a kilowatt (from memory)."""
SLOW_REHEAT_MINUTES = 120.0
BS_6700_FACTOR = 14.3

WEAK_DYNAMIC_BAR = 1.5
WEAK_FLOW_L_PER_MIN = 20.0
ACCUMULATOR_STATIC_BAR = 2.0
"""What an unvented store wants of the main, and the pressure that can fill an accumulator (common practice)."""
HARD_WATER_MG_PER_L = 200.0
SHOWER_L_PER_MIN = 10.0
"""Of a mixing shower on mains pressure (common practice, no source)."""

WATER_HEAT_CAPACITY_J_PER_KGK = 4190.0
DECLARED_STORE_TEMP_C = 65.0
AIR_AROUND_STORE_C = 20.0
"""At which a maker declares the standing loss, and the air that a store stands in here too."""
HYGIENE_TEMP_C = 60.0
HYGIENE_WEEKS = 52
SAP_MONTH_FACTOR_RATIO = (1.10, 1.06, 1.02, 0.98, 0.94, 0.90, 0.90, 0.94, 0.98, 1.02, 1.06, 1.10)
SAP_DELTA_T_K = (41.2, 41.4, 40.1, 37.6, 36.4, 33.9, 30.4, 33.4, 33.5, 36.3, 39.4, 39.9)
"""How much more than the mean is drawn in each month, and how far it is heated: SAP 2012 Tables 1c and 1d."""


def occupancy(*, floor_area_m2: float) -> float:
    """Number of people that the assessment assumes in a dwelling, N.

    SAP 2012 Table 1b: 1 up to 13.9 m2, then 1 + 1.76 (1 - exp(-0.000349 (TFA - 13.9)2)) + 0.0013 (TFA - 13.9).
    """
    over_m2 = floor_area_m2 - 13.9
    if over_m2 <= 0:
        return 1.0
    return 1 + 1.76 * (1 - math.exp(-0.000349 * over_m2 * over_m2)) + 0.0013 * over_m2


def daily_hot_water_l(*, people: float) -> float:
    """Hot water of an average day, Vd,average = 25 N + 36 L. SAP 2012 Table 1b."""
    return 25 * people + 36


def hot_water_energy_kwh(*, litres_per_day: float, heat_capacity_j_per_kgk: float) -> tuple[float, ...]:
    """Energy content of the hot water drawn, January to December, kWh a month.

    SAP 2012 Tables 1c and 1d: cp Vd factor dT days / 3600.
    """
    each = heat_capacity_j_per_kgk * litres_per_day / 3_600_000
    return tuple(
        each * factor * delta_t * days
        for factor, delta_t, days in zip(SAP_MONTH_FACTOR_RATIO, SAP_DELTA_T_K, DAYS_OF_MONTHS, strict=True)
    )


def reheat_minutes(*, volume_l: float, delta_t_k: float, power_w: float) -> float:
    """Time to heat a store through, minutes. BS 6700:2006 Annex C, M = VT/(14.3 P) with P in kW. Power above 0."""
    return volume_l * delta_t_k / (BS_6700_FACTOR * power_w / 1000)


def mixed_water_l(*, volume_l: float, store_temp_c: float, cold_temp_c: float, mixed_temp_c: float) -> float:
    """Water at the tap's temperature that a store gives with cold mixed in: V (Ts - Tc)/(Tm - Tc). Heat balance."""
    return volume_l * (store_temp_c - cold_temp_c) / (mixed_temp_c - cold_temp_c)


def standing_loss_kwh_per_year(*, declared_kwh_per_day: float, store_temp_c: float) -> float:
    """Heat that a store gives to the air around it in a year, kWh, from the loss that its maker declares for a day.

    BS EN 12897 (from memory): declared at 65 °C in air of 20 °C; it goes with the difference between store and air.
    """
    share = (store_temp_c - AIR_AROUND_STORE_C) / (DECLARED_STORE_TEMP_C - AIR_AROUND_STORE_C)
    return declared_kwh_per_day * share * DAYS_A_YEAR


def hygiene_kwh_per_year(*, volume_l: float, store_temp_c: float) -> float:
    """Heat of a year's weekly cycles from the temperature of the store to 60 °C, kWh.

    HSE L8 for the cycle (from memory); heat balance. What cools down again by itself is not given back.
    """
    lifted_k = HYGIENE_TEMP_C - store_temp_c
    return HYGIENE_WEEKS * volume_l * WATER_HEAT_CAPACITY_J_PER_KGK * lifted_k / 3_600_000


def design_people(*, occupants: int, bedrooms: int) -> int:
    """People whom the store is made for: those who live there or bedrooms + 1, whichever is more.

    Installation-scheme guidance (from memory): a house outlives its household. The rule counts up to 6 people.
    """
    return max(occupants, min(bedrooms + 1, RULE_PEOPLE_AT_MOST))


def daily_draw_l(*, people: float) -> float:
    """Design draw of a day at 60 C, 45 L a person. Installation-scheme guidance (from memory)."""
    return LITRES_PER_PERSON_DAY * people


def use_ratio(*, hot_water: HotWater, bedrooms: int) -> float:
    """How much more or less than usual the household draws: its habits, pumped showers, baths beyond the usual.

    Common practice, no source.
    """
    usual_baths = 2 if bedrooms >= TWO_BATHS_FROM_BEDROOMS else 1
    extra_baths = max(0, hot_water.baths - usual_baths)
    return USE_RATIO[hot_water.use] * (
        1 + POWER_SHOWER_RATIO * hot_water.power_showers + EXTRA_BATH_RATIO * extra_baths
    )


def store_needed_l(*, draw_l_per_day: float, store_temp_c: float) -> float:
    """Store that outlasts the busiest spell of the day; the store is not the daily draw.

    Common practice, no source: 0.6 of the day's draw before a reheat, 0.85 of the store usable; the draw at 60 C is
    turned into the same heat at the temperature of the store. Five people (225 L a day at 60 C) need 199 L at 50 C.
    """
    at_store_l = mixed_water_l(
        volume_l=draw_l_per_day, store_temp_c=DRAW_TEMP_C, cold_temp_c=COLD_TEMP_C, mixed_temp_c=store_temp_c
    )
    return at_store_l * PEAK_SHARE_RATIO / USABLE_RATIO


def coil_limit_w(*, coil_area_m2: float) -> float:
    """Heat that the coil passes on at 10 K between circuit and store, W. 400 W/m2K, from memory."""
    return coil_area_m2 * COIL_W_PER_M2K * COIL_DELTA_T_K


def cylinder_choice(
    *,
    survey: Survey,
    offers: tuple[Offer[Cylinder], ...],
    reheat_power_w: float | None,
    space: Mapping[str, SpaceCheck],
    wanted_sku: str | None,
    least_power_w: float | None = None,
) -> CylinderChoice:
    """The smallest store that is large enough and goes into its place, and what it does.

    The rule of `store_needed_l`; BS 6700 for the reheat; SAP 2012 for the year. `reheat_power_w` is what the units
    give while they heat the store, None where there is no unit, `least_power_w` what one of them gives at least on a
    warm day; `space` holds the check of each cylinder by SKU and is empty where the survey has no cylinder place.
    The energy counts the people who live there; where their number was only assumed, SAP's for the floor area. Never
    silently downsized: where what is needed does not fit, the stop `cylinder_does_not_fit` names the measures and
    `cylinder` is None. Raises KeyError for an unlisted `wanted_sku`.
    """
    house, hot_water = survey.house, survey.hot_water
    ratio = use_ratio(hot_water=hot_water, bedrooms=house.bedrooms)
    people = design_people(occupants=house.occupants, bedrooms=house.bedrooms)
    draw = daily_draw_l(people=people) * ratio
    needed = store_needed_l(draw_l_per_day=draw, store_temp_c=STORE_TEMP_C)

    by_size = sorted(offers, key=lambda offer: (offer.item.volume_l, offer.cost_pence, offer.item.sku))
    cylinder, chosen_findings = _chosen(survey, by_size, needed, space, wanted_sku)
    findings = [*chosen_findings, *_use_findings(hot_water, people, ratio), *_main_findings(survey)]
    findings.extend(_old_store_findings(survey))
    considered = tuple(_considered(offer.item, needed, space, cylinder) for offer in by_size)
    power_w = minutes = mixed_l = None
    standing_kwh = hygiene_kwh = 0.0
    if cylinder is not None:
        mixed_l = mixed_water_l(
            volume_l=cylinder.volume_l,
            store_temp_c=STORE_TEMP_C,
            cold_temp_c=COLD_TEMP_C,
            mixed_temp_c=MIXED_TEMP_C,
        )
        standing_kwh = standing_loss_kwh_per_year(
            declared_kwh_per_day=cylinder.standing_loss_kwh_per_day, store_temp_c=STORE_TEMP_C
        )
        hygiene_kwh = hygiene_kwh_per_year(volume_l=cylinder.volume_l, store_temp_c=STORE_TEMP_C)
        if reheat_power_w is not None:
            power_w = min(reheat_power_w, coil_limit_w(coil_area_m2=cylinder.coil_area_m2))
            minutes = reheat_minutes(volume_l=cylinder.volume_l, delta_t_k=STORE_TEMP_C - COLD_TEMP_C, power_w=power_w)
        findings.extend(_store_findings(cylinder, reheat_power_w, power_w, minutes))
        if least_power_w is not None:
            findings.extend(_coil_findings(cylinder, least_power_w))
    return CylinderChoice(
        people=people,
        draw_l_per_day=draw,
        store_needed_l=needed,
        store_temp_c=STORE_TEMP_C,
        cylinder=cylinder,
        volume_l=cylinder.volume_l if cylinder else None,
        mixed_40c_l=mixed_l,
        reheat_power_w=power_w,
        reheat_minutes=minutes,
        hot_water_kwh_per_year=sum(
            hot_water_energy_kwh(
                litres_per_day=daily_hot_water_l(people=_living_there(survey)) * ratio,
                heat_capacity_j_per_kgk=WATER_HEAT_CAPACITY_J_PER_KGK,
            )
        ),
        standing_loss_kwh_per_year=standing_kwh,
        hygiene_kwh_per_year=hygiene_kwh,
        considered=considered,
        findings=tuple(findings),
    )


def _living_there(survey: Survey) -> float:
    """The people whose hot water the year counts; where their number was only assumed, SAP's for the floor area."""
    if survey.house.how_known("occupants") == "assumed":
        return occupancy(floor_area_m2=sum(room.floor_area_m2 for room in survey.rooms))
    return float(survey.house.occupants)


def _fits(cylinder: Cylinder, space: Mapping[str, SpaceCheck]) -> bool:
    check = space.get(cylinder.sku)
    return check is not None and check.fits


def _failing(check: SpaceCheck) -> str:
    return ", ".join(
        f"{what}: no" if there is False else f"{what}: {needed:g} needed, {there:g} there"
        for what, needed, there, ok in check.checks
        if not ok
    )


def _considered(cylinder: Cylinder, needed_l: float, space: Mapping[str, SpaceCheck], taken: Cylinder | None) -> str:
    check = space.get(cylinder.sku)
    if taken is not None and cylinder.sku == taken.sku:
        verdict = "taken"
    elif cylinder.volume_l < needed_l:
        verdict = f"smaller than the {needed_l:.0f} L needed"
    elif check is None:
        verdict = "no place for it"
    elif not check.fits:
        verdict = f"does not fit: {_failing(check)}"
    else:
        verdict = "larger than needed"
    return f"{cylinder.sku}, {cylinder.volume_l:g} L: {verdict}"


def _chosen(
    survey: Survey,
    by_size: Sequence[Offer[Cylinder]],
    needed_l: float,
    space: Mapping[str, SpaceCheck],
    wanted_sku: str | None,
) -> tuple[Cylinder | None, tuple[Finding, ...]]:
    """The cylinder to take and what is to be said about it, or None with a stop that says why."""
    place = survey.cylinder_place
    wanted = None if wanted_sku is None else {offer.item.sku: offer.item for offer in by_size}[wanted_sku]
    if place is None:
        return None, (_no_place(survey, needed_l),)
    will_do = [wanted] if wanted is not None else [offer.item for offer in by_size if offer.item.volume_l >= needed_l]
    if not will_do:
        return None, (_none_large_enough(by_size, needed_l),)
    first = will_do[0]
    taken = next((cylinder for cylinder in will_do if _fits(cylinder, space)), None)
    if taken is None:
        fitting = [offer.item for offer in by_size if _fits(offer.item, space)]
        check = space[first.sku]
        stops = [finding for finding in check.findings if finding.strength == "stop"]
        return None, (*stops, _does_not_fit(place, first, check, fitting, needed_l))
    said: tuple[Finding, ...] = ()
    if taken.volume_l < needed_l:
        said = (_smaller_than_needed(place, taken, needed_l),)
    elif taken is not first:
        said = (_larger_because_it_fits(place, first, space[first.sku], taken),)
    return taken, (*said, *space[taken.sku].findings)


def _no_place(survey: Survey, needed_l: float) -> Finding:
    combi = survey.existing.boiler == "combi"
    return Finding(
        "no_cylinder_place",
        "stop",
        "hot water",
        f"{needed_l:.0f} L of stored hot water are needed and the survey names no place for a cylinder"
        + ("; the combination boiler never had one" if combi else ""),
        str(SOURCE),
        "find a place of about 0.6 by 0.6 m, in a cupboard, a utility room or a garage",
    )


def _none_large_enough(by_size: Sequence[Offer[Cylinder]], needed_l: float) -> Finding:
    largest_l = by_size[-1].item.volume_l if by_size else 0
    return Finding(
        "no_cylinder_large_enough",
        "stop",
        "hot water",
        f"{needed_l:.0f} L are needed; the largest cylinder in the catalogue has {largest_l:g} L",
        str(SOURCE),
        "put a larger cylinder into the catalogue",
    )


def _does_not_fit(
    place: CylinderPlace, first: Cylinder, check: SpaceCheck, fitting: Sequence[Cylinder], needed_l: float
) -> Finding:
    """`fitting` are the cylinders of any size that do go into the place, the smallest first."""
    if not fitting:
        instead = "no cylinder of the catalogue fits there"
    elif fitting[-1].volume_l >= needed_l:
        instead = f"{fitting[-1].name} fits and is large enough"
    else:
        smaller = fitting[-1]
        instead = (
            f"the largest that fits is {smaller.name} of {smaller.volume_l:g} L: "
            f"{per_cent(smaller.volume_l / needed_l)} of what is needed, so that the hot water would run out in "
            "the busiest spell of the day"
        )
    return Finding(
        "cylinder_does_not_fit",
        "stop",
        place.name,
        f"{first.name} is needed for {needed_l:.0f} L and does not go into its place ({_failing(check)}); {instead}",
        str(COMMON_PRACTICE),
        "another place, or a household that accepts less hot water by choosing the smaller cylinder by name"
        if fitting
        else "another place",
    )


def _smaller_than_needed(place: CylinderPlace, taken: Cylinder, needed_l: float) -> Finding:
    return Finding(
        "cylinder_smaller_than_needed",
        "ask",
        place.name,
        f"{taken.name} was asked for: {taken.volume_l:g} L where {needed_l:.0f} L are needed; the hot water "
        "can run out in the busiest spell of the day",
        str(SOURCE),
        "the household accepts it, or takes the larger cylinder",
    )


def _larger_because_it_fits(place: CylinderPlace, first: Cylinder, check: SpaceCheck, taken: Cylinder) -> Finding:
    return Finding(
        "cylinder_larger_because_it_fits",
        "note",
        place.name,
        f"{first.name} would be enough but does not fit ({_failing(check)}); {taken.name} does",
        str(COMMON_PRACTICE),
    )


def _use_findings(hot_water: HotWater, people: int, ratio: float) -> Iterator[Finding]:
    if ratio > 1:
        yield Finding(
            "hot_water_use_high",
            "note",
            "hot water",
            f"{people} people are counted as drawing {per_cent(ratio - 1)} more than usual: use {hot_water.use}, "
            f"pumped showers {hot_water.power_showers}, baths {hot_water.baths}",
            str(COMMON_PRACTICE),
            "shower heads that use less water, if the household wants a smaller store",
        )


def _store_findings(
    cylinder: Cylinder, unit_power_w: float | None, power_w: float | None, minutes: float | None
) -> list[Finding]:
    found = [
        Finding(
            "stored_water_caution",
            "note",
            cylinder.name,
            f"stored at {STORE_TEMP_C:g} °C and heated to {HYGIENE_TEMP_C:g} °C once a week against legionella: fit a "
            "blending valve against scalding; unvented stores are fitted and notified by a person qualified for them",
            "HSE L8 and Approved Document G3 (from memory)",
            "follow the maker's instructions",
        )
    ]
    if unit_power_w is not None and power_w is not None and power_w < unit_power_w:
        found.append(
            Finding(
                "coil_limits_reheat",
                "note",
                cylinder.name,
                f"its coil of {cylinder.coil_area_m2:g} m2 passes on {power_w / 1000:.1f} kW of the "
                f"{unit_power_w / 1000:.1f} kW that the unit can give",
                str(COMMON_PRACTICE),
                "a cylinder with a larger coil",
            )
        )
    if minutes is not None and minutes > SLOW_REHEAT_MINUTES:
        found.append(
            Finding(
                "reheat_slow",
                "note",
                cylinder.name,
                f"heating the store through takes {minutes:.0f} minutes, in which the heating stands still",
                str(REHEAT_SOURCE),
                "heat it at night or at noon",
            )
        )
    return found


def _coil_findings(cylinder: Cylinder, least_power_w: float) -> list[Finding]:
    """Whether the coil takes at least what a unit cannot give less than, in the warmest weather it is rated for."""
    limit_w = coil_limit_w(coil_area_m2=cylinder.coil_area_m2)
    if limit_w >= least_power_w:
        return []
    return [
        Finding(
            "coil_below_least_output",
            "ask",
            cylinder.name,
            f"its coil of {cylinder.coil_area_m2:g} m2 passes on {limit_w / 1000:.1f} kW, less than the "
            f"{least_power_w / 1000:.1f} kW that the unit gives at least on a warm day: it stops and starts while it "
            "heats the store, and the store may not become as hot as set",
            str(COMMON_PRACTICE),
            "a cylinder with a larger coil, or a unit with a smaller least output",
        )
    ]


def _old_store_findings(survey: Survey) -> list[Finding]:
    """What becomes of a store that is there already, where somebody could think that it may stay."""
    old = survey.existing.cylinder
    if old is None or old.kind == "vented":
        return []
    what = {
        "unvented": "its coil was made for a boiler: too little surface for the flow temperature of a heat pump",
        "thermal_store": "it must be kept hotter than a heat pump can heat it well",
    }[old.kind]
    return [
        Finding(
            "old_store_does_not_suit",
            "note",
            "hot water",
            f"the {old.kind.replace('_', ' ')} that is there is replaced: {what}",
            str(COMMON_PRACTICE),
            "where its record shows a coil for heat pumps, it may stay: ask its maker",
        )
    ]


def _main_findings(survey: Survey) -> Iterator[Finding]:
    """What the cold main and its water mean for an unvented store."""
    hot_water = survey.hot_water
    yield from _weak_main(hot_water)
    yield from _shared_main(hot_water)
    yield from _hard_water(hot_water)
    yield from _pumped_showers(hot_water)
    yield from _softener_not_looked_for(hot_water)
    if survey.house.often_empty == "yes":
        yield Finding(
            "store_stands_unused",
            "note",
            "hot water",
            f"the house is often empty: water that stands lukewarm can carry legionella; heat the store to "
            f"{HYGIENE_TEMP_C:g} °C and run every tap before it is used again",
            "HSE L8 (from memory)",
            "programme the hygiene cycle for the day before people come",
        )
    yield from _softened(hot_water)


def _weak_main(hot_water: HotWater) -> Iterator[Finding]:
    pressure, flow = hot_water.dynamic_pressure_bar, hot_water.main_flow_l_per_min
    weak = []
    if pressure != "unknown" and pressure < WEAK_DYNAMIC_BAR:
        weak.append(f"{pressure:g} bar while running, less than {WEAK_DYNAMIC_BAR:g} bar")
    if flow != "unknown" and flow < WEAK_FLOW_L_PER_MIN:
        weak.append(f"{flow:g} L/min, less than {WEAK_FLOW_L_PER_MIN:g} L/min")
    if weak:
        yield Finding(
            "main_weak",
            "ask",
            "cold main",
            f"the main gives {' and '.join(weak)}: an unvented store wants more",
            str(COMMON_PRACTICE),
            _ways_to_more_water(hot_water),
        )
    missing = [what for what, value in (("pressure while running", pressure), ("flow", flow)) if value == "unknown"]
    if missing:
        yield Finding(
            "main_not_measured",
            "ask",
            "cold main",
            f"{' and '.join(missing)} of the cold main was not measured",
            str(COMMON_PRACTICE),
            "measure both at the kitchen tap before an unvented store is ordered",
        )


def _ways_to_more_water(hot_water: HotWater) -> str:
    upgrade = (
        f"renew {hot_water.main_upgrade_m:g} m of the main, which is in the bill, and measure again before the "
        "store is ordered"
        if hot_water.main_upgrade_m > 0
        else "renew the main"
    )
    static = hot_water.static_pressure_bar
    if static == "unknown":
        return f"{upgrade}; measure the static pressure to see whether an accumulator would help"
    if static >= ACCUMULATOR_STATIC_BAR:
        return f"{upgrade}, or an accumulator, which {static:g} bar at rest can fill"
    return f"{upgrade}; {static:g} bar at rest is too little to fill an accumulator"


def _shared_main(hot_water: HotWater) -> Iterator[Finding]:
    flow, wanted_l_per_min = hot_water.main_flow_l_per_min, hot_water.showers * SHOWER_L_PER_MIN
    if flow != "unknown" and hot_water.showers > 1 and flow < wanted_l_per_min:
        yield Finding(
            "showers_share_main",
            "note",
            "cold main",
            f"{hot_water.showers} showers at once want {wanted_l_per_min:g} L/min, the main gives {flow:g} L/min: "
            "each gets less when another runs",
            str(COMMON_PRACTICE),
            "flow limiters on the showers",
        )


def _hard_water(hot_water: HotWater) -> Iterator[Finding]:
    hardness = hot_water.hardness_mg_per_l
    if hardness != "unknown" and hardness > HARD_WATER_MG_PER_L and hot_water.softened != "yes":
        yield Finding(
            "hard_water",
            "note",
            "cold main",
            f"{hardness:g} mg/L is hard: scale will grow on immersion heater and coil",
            str(COMMON_PRACTICE),
            "scale reduction before the store, which is not priced here",
        )


def _pumped_showers(hot_water: HotWater) -> Iterator[Finding]:
    if hot_water.power_showers:
        yield Finding(
            "shower_pump_comes_out",
            "ask",
            "showers",
            f"{counted(hot_water.power_showers, 'pumped or rainfall shower')}: a pump may not draw on an unvented "
            "store and comes out; such a shower takes what the main gives, and more hot water than usual",
            str(COMMON_PRACTICE),
            "agree with the household what its showers will give, measured at the main",
        )


def _softener_not_looked_for(hot_water: HotWater) -> Iterator[Finding]:
    if hot_water.softened == "unknown":
        yield Finding(
            "softener_not_looked_for",
            "note",
            "cold main",
            "whether the water is softened is not recorded; makers of cylinders and inhibitors may not allow it",
            str(COMMON_PRACTICE),
            "look under the kitchen sink",
        )


def _softened(hot_water: HotWater) -> Iterator[Finding]:
    if hot_water.softened == "yes":
        yield Finding(
            "softened_water",
            "ask",
            "cold main",
            "the water is softened: check the cylinder maker's limits, keep a hard drinking tap and fill the "
            "heating circuit with water that its inhibitor allows",
            str(COMMON_PRACTICE),
            "fill the circuit from the unsoftened main, and have the limits of cylinder and coil in writing",
        )
