"""A year of running: heat, electricity and cost, against the fuel of today.

CIBSE TM41:2006 load line over temperature bins; BS EN 14511 ratings; BS EN 14825:2022 part-load degradation.
"""

from dataclasses import dataclass
from decimal import Decimal
from math import sqrt

from models.catalogue import OutdoorUnit
from models.design.results import Climate, CylinderChoice, HeatLoss, Performance, RangeTerm
from models.findings import Finding
from models.frozen import quickly_made
from models.money import Pence, pence
from models.physics.rating import rating_grid
from models.physics.seasonal import (
    DEFROST_FROM_C,
    DEFROST_LOSS_RATIO,
    DEFROST_TO_C,
    HIGH_ABOVE_STATION_M,
    LAPSE_K_PER_100M,
    HeatingYear,
    YearOfHeat,
    temperature_bins,
    unit_at,
    year_of_heat,
)
from models.sources import COMMON_PRACTICE, Source, Why
from models.survey import ExistingSystem, Tariffs
from models.units import HOURS_A_YEAR_H, NOTHING_W, UNKNOWN, exact, per_cent

SOURCE = Source("CIBSE TM41:2006; BS EN 14825:2022", "degree-day load line; part load 7.7.2.2")
WHY = Why(
    sentence="{space_heat_kwh:,.0f} kWh of heating and {hot_water_kwh:,.0f} kWh of hot water take "
    "{electricity_kwh:,.0f} kWh of electricity, a seasonal ratio of {seasonal_ratio:.2f}; a real year lies between "
    "{low_kwh:,.0f} and {high_kwh:,.0f} kWh",
    source=SOURCE,
)
FUELS = Source("gross calorific values of fuels", standing="from memory")
EFFICIENCIES = Source("seasonal efficiencies of boilers by kind", standing="from memory")

UNCERTAINTY = Source("JCGM 100:2008, guide to the expression of uncertainty", "5.1.2, inputs that are independent")
"""The rule by which spans are combined: root of the sum of squares, to either side by itself. Each span is one that
about nine houses or years in ten stay within, and so is the range."""
WEATHER = Source("UK degree days of single years against their 20-year mean", standing="from memory")
WEATHER_RATIO = 0.10
ROOMS = Source("energy follow-up survey of English homes, 2011: rooms against what is wanted", standing="from memory")
ROOM_K = 1.0
GAINS = Source("CIBSE TM41:2006", "base temperature = inside less gains by loss coefficient", "from memory")
GAINS_K = 1.0
GAINS_W_PER_M2 = 5.0
"""Sun, people and appliances of a winter's day, for each square metre of floor (from memory)."""
DRAW = Source("hot water measured in 120 English homes, 2008: homes of one size", standing="from memory")
DRAW_RATIO = 1 / 3
DEFROST_RATINGS_RATIO = 0.05
HOTTER_CURVE_K = 5.0
AT_REST_W = 25.0
"""What frost takes beyond ratings that have defrosting in them, how much hotter than designed a curve is often left,
and controls with a pump outside the unit through the year: common practice, no source."""
METHODS = Source("BS EN 12831-1:2017", "its other methods on this survey")
RANGE_SOURCES = {
    "weather": WEATHER, "rooms": ROOMS, "gains": GAINS, "method": METHODS, "hot_water": DRAW,
    "defrost": COMMON_PRACTICE, "curve": COMMON_PRACTICE, "at_rest": COMMON_PRACTICE, "hill": COMMON_PRACTICE,
}  # fmt: skip
_SOURCE_OF = {code: str(source) for code, source in RANGE_SOURCES.items()}
STORE_APPROACH_K = 5.0
"""Flow above the store at the end of its heating. Common practice, no source."""
COLD_WATER_C = 10.0
"""Cold water through the year. Common practice, no source."""
DISAGREES_RATIO = 0.30

FUEL_KWH = {
    ("oil", "litre"): 10.35, ("oil", "kg"): 12.8,
    ("lpg", "litre"): 7.1, ("lpg", "kg"): 13.7, ("lpg", "m3"): 25.9,
    ("mains_gas", "m3"): 11.1,
    ("coal", "kg"): 8.0,
    ("wood", "kg"): 4.1,
}  # fmt: skip
"""Gross kWh in a unit of fuel, from memory; a kWh is a kWh of any fuel."""
BURNT = frozenset({"mains_gas", "oil", "lpg", "coal", "wood"})
COMPARED = BURNT | {"electric"}
EFFICIENCY_RATIO = {
    "combi": 0.84, "regular": 0.80, "system": 0.82, "back_boiler": 0.68, "range_cooker": 0.60, "none": 0.50,
    "unknown": 0.78,
}  # fmt: skip
"""Heat from a unit of fuel by kind of boiler, from memory; "none" is open fires and room heaters."""
ELECTRIC_EFFICIENCY_RATIO = 1.0

ASSUMPTIONS = (
    "the weather of an average year; within a month temperatures spread by 4 K about its mean",
    "ratings of the maker between his points; beyond the warmest weather or the coolest water rated, the nearest "
    "point, which is on the safe side",
    "the maker gives the power at full output only; below the least output the ratio falls as BS EN 14825 says",
    "the weather compensation follows the heating curve, set without counting on sun and people; rooms are heated all "
    "day",
    "power of controls at rest and of pumps outside the unit is not counted",
)


@quickly_made
@dataclass(frozen=True, slots=True)
class HotWaterRun:
    """A year of hot water by the unit and by its immersion heater."""

    heat_kwh: float
    electricity_kwh: float
    immersion_kwh: float
    unit_ratio: float | None
    flow_temp_c: float
    reached_c: float


@dataclass(frozen=True, slots=True)
class Seasonal:
    """What ranks a flow temperature: electricity of a year, what it costs and the ratio of heat to it."""

    electricity_kwh: float
    seasonal_ratio: float | None
    running_pence_per_year: Pence


def bins(climate: Climate) -> tuple[tuple[float, float], ...]:
    """Hours of the year in each whole degree of outdoor temperature, coldest first; they add up to 8760.

    Normal spread about the monthly means, fitted to the published UK degree days; the same climate gives the same
    bins.
    """
    return temperature_bins(climate.monthly_mean_temp_c)


def cheap_seasonal(*, space: YearOfHeat, water: HotWaterRun, tariffs: Tariffs) -> Seasonal:
    """Electricity of a year for ranking candidate flow temperatures: `performance` without pipe loss and words.

    CIBSE TM41:2006 and BS EN 14825:2022 as there. `space` and `water` are of the same unit, without pipes outdoors.
    """
    electricity_kwh = space.electricity_kwh + water.electricity_kwh
    ratio = (space.heat_kwh + water.heat_kwh) / electricity_kwh if electricity_kwh > 0 else None
    return Seasonal(electricity_kwh, ratio, _cost(electricity_kwh, tariffs.electricity_pence_per_kwh))


def performance(
    *,
    heat_loss: HeatLoss,
    climate: Climate,
    year: HeatingYear,
    unit: OutdoorUnit,
    count: int,
    hot_water: CylinderChoice,
    tariffs: Tariffs,
    existing: ExistingSystem,
    pipe_loss_outside_w: float,
    above_station_m: float,
) -> Performance | None:
    """A year of running and the fuel that it replaces, or None for a house without any heat to deliver.

    CIBSE TM41:2006 load line, BS EN 14825:2022 part load. `year` is `physics.seasonal.heating_year` of this house at
    the flow temperature chosen; `pipe_loss_outside_w` the loss of the outdoor pipes at design conditions;
    `above_station_m` how far the house stands above its weather station. The range is that of `range_terms`, combined
    as JCGM 100:2008, 5.1.2 has it for independent causes.
    """
    grid = rating_grid(unit)
    space = year_of_heat(
        grid,
        year=year,
        count=count,
        defrost_included=unit.defrost_included,
        pipe_loss_outside_w=pipe_loss_outside_w,
    )
    water = hot_water_run(unit=unit, climate=climate, hot_water=hot_water)
    electricity_kwh = space.electricity_kwh + water.electricity_kwh
    space_ratio = space.seasonal_ratio
    if space_ratio is None or electricity_kwh <= 0:
        return None
    running = _cost(electricity_kwh, tariffs.electricity_pence_per_kwh)
    findings = [*_water_findings(water, hot_water), *_backup_findings(space)]
    fuel_kwh, fuel_findings = _fuel_now(existing)
    findings += fuel_findings
    fuel_pence: Pence | None = None
    if fuel_kwh is not None:
        findings += _cross_check(existing, fuel_kwh, space.heat_kwh, hot_water)
        tariff = tariffs.fuel_pence_per_kwh
        if tariff == UNKNOWN and existing.fuel == "electric":
            tariff = tariffs.electricity_pence_per_kwh
        if tariff != UNKNOWN:
            fuel_pence = _cost(fuel_kwh, tariff)
    terms = range_terms(
        heat_loss=heat_loss,
        year=year,
        unit=unit,
        space_electricity_kwh=space.electricity_kwh,
        drawn_electricity_kwh=water.electricity_kwh * hot_water.hot_water_kwh_per_year / water.heat_kwh
        if water.heat_kwh > 0
        else 0.0,
        above_station_m=above_station_m,
    )
    per_kwh = tariffs.electricity_pence_per_kwh
    low_kwh = max(0.0, electricity_kwh - sqrt(sum([term.less_kwh**2 for term in terms])))
    high_kwh = electricity_kwh + sqrt(sum([term.more_kwh**2 for term in terms]))
    cheap, dear = _cost(low_kwh, per_kwh), _cost(high_kwh, per_kwh)
    return Performance(
        degree_days_kd=year.degree_days_kd,
        space_heat_kwh=space.heat_kwh,
        hot_water_kwh=water.heat_kwh,
        space_electricity_kwh=space.electricity_kwh,
        hot_water_electricity_kwh=water.electricity_kwh,
        electricity_kwh=electricity_kwh,
        seasonal_ratio=(space.heat_kwh + water.heat_kwh) / electricity_kwh,
        space_seasonal_ratio=space_ratio,
        hours_below_minimum_h=space.hours_below_minimum_h,
        heat_below_minimum_ratio=space.heat_below_minimum_kwh / space.heat_kwh,
        backup_kwh=space.backup_kwh,
        pipe_loss_kwh=space.pipe_loss_kwh,
        running_cost_pence=running,
        fuel_now_kwh=fuel_kwh,
        fuel_now_cost_pence=fuel_pence,
        saving_pence=fuel_pence - running if fuel_pence is not None else None,
        low_kwh=low_kwh,
        high_kwh=high_kwh,
        assumptions=_assumptions(heat_loss, year, unit, water, low_kwh, high_kwh),
        findings=tuple(findings),
        range_terms=terms,
        running_cost_low_pence=cheap,
        running_cost_high_pence=dear,
        saving_low_pence=fuel_pence - dear if fuel_pence is not None else None,
        saving_high_pence=fuel_pence - cheap if fuel_pence is not None else None,
    )


def range_terms(
    *,
    heat_loss: HeatLoss,
    year: HeatingYear,
    unit: OutdoorUnit,
    space_electricity_kwh: float,
    drawn_electricity_kwh: float,
    above_station_m: float,
) -> tuple[RangeTerm, ...]:
    """What each assumption of the year could take off its electricity or add to it, by itself.

    CIBSE TM41:2006 for what a kelvin is worth: the days of heating over the degree days. `drawn_electricity_kwh` is the
    part of hot water that goes with its use. What only adds takes nothing off.
    """
    space_kwh = space_electricity_kwh
    kelvin_kwh = space_kwh * year.heating_hours_h / 24 / year.degree_days_kd if year.degree_days_kd > 0 else 0.0
    terms = [
        RangeTerm(
            "weather", "the weather of a single year", "a tenth fewer to a tenth more degree days",
            WEATHER_RATIO * space_kwh, WEATHER_RATIO * space_kwh, _SOURCE_OF["weather"],
        ),
        RangeTerm(
            "rooms", "how warm the household keeps its rooms, and for how long", "1 K cooler to 1 K warmer",
            ROOM_K * kelvin_kwh, ROOM_K * kelvin_kwh, _SOURCE_OF["rooms"],
        ),
    ]  # fmt: skip
    cooler_k = GAINS_K
    own_w = heat_loss.heat_loss_w - heat_loss.reheat_w
    if own_w > NOTHING_W:
        lifted_k = GAINS_W_PER_M2 * heat_loss.floor_area_m2 / heat_loss.loss_coefficient_w_per_k
        cooler_k = max(GAINS_K, year.base_temp_c - (heat_loss.mean_room_temp_c - lifted_k))
    terms.append(
        RangeTerm(
            "gains", "what sun, people and appliances give",
            f"heating needed from {cooler_k:.1f} K colder to {GAINS_K:g} K warmer outside",
            min(cooler_k * kelvin_kwh, space_kwh), GAINS_K * kelvin_kwh, _SOURCE_OF["gains"],
        )
    )  # fmt: skip
    if heat_loss.other_methods and own_w > NOTHING_W:
        others = [(other.heat_loss_w - heat_loss.reheat_w) / own_w - 1 for other in heat_loss.other_methods]
        low, high = min(0.0, *others), max(0.0, *others)
        terms.append(
            RangeTerm(
                "method", "the heat loss itself: what the other methods make of the same survey",
                f"{per_cent(abs(low))} less to {per_cent(high)} more", abs(low) * space_kwh, high * space_kwh,
                _SOURCE_OF["method"],
            )
        )  # fmt: skip
    terms.append(
        RangeTerm(
            "hot_water", "how much hot water is drawn", "a third less to a third more",
            DRAW_RATIO * drawn_electricity_kwh, DRAW_RATIO * drawn_electricity_kwh, _SOURCE_OF["hot_water"],
        )
    )  # fmt: skip
    frosty_wh = all_wh = warmth_wh = water_wh = 0.0
    for outdoor_c, hours_h, load_w, flow_c, _ in year.bins:
        heat_wh = load_w * hours_h
        all_wh += heat_wh
        warmth_wh += heat_wh * outdoor_c
        water_wh += heat_wh * flow_c
        if DEFROST_FROM_C <= outdoor_c <= DEFROST_TO_C:
            frosty_wh += heat_wh
    if all_wh <= 0:
        return tuple(terms)
    defrost_ratio = DEFROST_RATINGS_RATIO if unit.defrost_included else DEFROST_LOSS_RATIO
    frosty_kwh = defrost_ratio * space_kwh * frosty_wh / all_wh
    terms.append(
        RangeTerm(
            "defrost", "defrosting, which fog and frost ask for more often than the test does",
            f"{per_cent(defrost_ratio)} less to {per_cent(defrost_ratio)} more for {per_cent(frosty_wh / all_wh)} of "
            "the heat",
            frosty_kwh, frosty_kwh, _SOURCE_OF["defrost"],
        )
    )  # fmt: skip
    terms.append(
        RangeTerm(
            "curve", "a heating curve that is left hotter than designed", f"up to {HOTTER_CURVE_K:g} K hotter water",
            0.0, space_kwh * _hotter_ratio(unit, warmth_wh / all_wh, water_wh / all_wh), _SOURCE_OF["curve"],
        )
    )  # fmt: skip
    terms.append(
        RangeTerm(
            "at_rest", "controls at rest and a pump outside the unit, which are not counted",
            f"up to {AT_REST_W:g} W through the year", 0.0, AT_REST_W * HOURS_A_YEAR_H / 1000, _SOURCE_OF["at_rest"],
        )
    )  # fmt: skip
    if above_station_m >= HIGH_ABOVE_STATION_M:
        colder_k = LAPSE_K_PER_100M * above_station_m / 100
        terms.append(
            RangeTerm(
                "hill", "months that are colder on the hill than in its region", f"up to {colder_k:.1f} K colder",
                0.0, colder_k * kelvin_kwh, _SOURCE_OF["hill"],
            )
        )  # fmt: skip
    return tuple(terms)


def _hotter_ratio(unit: OutdoorUnit, outdoor_temp_c: float, flow_temp_c: float) -> float:
    """How much more power the unit takes with hotter water, in the weather in which most heat is given.

    Beyond the maker's hottest water it is as much as up to there.
    """
    grid = rating_grid(unit)
    hotter_c = min(flow_temp_c + HOTTER_CURVE_K, grid.flow_temps_c[-1])
    at_c = max(outdoor_temp_c, grid.outdoor_temps_c[0])
    states = [
        unit_at(grid, outdoor_temp_c=at_c, flow_temp_c=flow_c, defrost_included=unit.defrost_included)
        for flow_c in (min(flow_temp_c, hotter_c), hotter_c)
    ]
    (output_w, input_w, _), (hot_output_w, hot_input_w, _) = (state for state in states if state is not None)
    return max(0.0, hot_input_w / hot_output_w / (input_w / output_w) - 1)


def fuel_check(
    *, existing: ExistingSystem, space_heat_kwh: float, hot_water: CylinderChoice
) -> tuple[Finding, ...]:
    """What the fuel of today says about the heat of a year, where no unit was found and `performance` is None.

    CIBSE TM41:2006 load line: the survey can be wrong whether or not there is a unit for it.
    """
    fuel_kwh, findings = _fuel_now(existing)
    if fuel_kwh is not None:
        findings += _cross_check(existing, fuel_kwh, space_heat_kwh, hot_water)
    return tuple(findings)


def _cost(energy_kwh: float, pence_per_kwh: Decimal) -> Pence:
    return pence(exact(energy_kwh) * pence_per_kwh)


def hot_water_run(*, unit: OutdoorUnit, climate: Climate, hot_water: CylinderChoice) -> HotWaterRun:
    """The unit heats the store as far as its flow allows, the immersion heater the rest and the hygiene cycles.

    BS EN 14511-2:2022 ratings at the mean outdoor temperature of the year; common practice for who heats what.
    """
    grid = rating_grid(unit)
    flow_c = hot_water.store_temp_c + STORE_APPROACH_K
    reached_c = min(hot_water.store_temp_c, grid.flow_temps_c[-1] - STORE_APPROACH_K)
    state = unit_at(
        grid,
        outdoor_temp_c=climate.annual_mean_temp_c,
        flow_temp_c=min(flow_c, grid.flow_temps_c[-1]),
        defrost_included=unit.defrost_included,
    )
    by_store_kwh = hot_water.hot_water_kwh_per_year + hot_water.standing_loss_kwh_per_year
    heat_kwh = by_store_kwh + hot_water.hygiene_kwh_per_year
    if state is None:
        return HotWaterRun(heat_kwh, heat_kwh, heat_kwh, None, flow_c, COLD_WATER_C)
    output_w, input_w, _ = state
    lifted_k = hot_water.store_temp_c - COLD_WATER_C
    by_unit_ratio = max(0.0, reached_c - COLD_WATER_C) / lifted_k if lifted_k > 0 else 1.0
    by_unit_kwh = by_store_kwh * by_unit_ratio
    immersion_kwh = heat_kwh - by_unit_kwh
    ratio = output_w / input_w
    return HotWaterRun(heat_kwh, by_unit_kwh / ratio + immersion_kwh, immersion_kwh, ratio, flow_c, reached_c)


def _assumptions(
    heat_loss: HeatLoss, year: HeatingYear, unit: OutdoorUnit, water: HotWaterRun, low_kwh: float, high_kwh: float
) -> tuple[str, ...]:
    said = [
        f"no heating is needed from {year.base_temp_c:g} °C outside; sun, people and appliances carry the house there",
        f"the house loses {heat_loss.loss_coefficient_w_per_k:.0f} W for each kelvin",
        *ASSUMPTIONS,
        f"hot water at a flow of {water.flow_temp_c:g} °C and the mean outdoor temperature of the year",
        f"about nine years and households in ten lie between {low_kwh:,.0f} and {high_kwh:,.0f} kWh: the spans of its "
        "assumptions, as the root of the sum of their squares",
    ]
    if not unit.defrost_included:
        lost = per_cent(DEFROST_LOSS_RATIO)
        said.append(f"the ratings leave defrosting out: {lost} of output taken off in frosty weather")
    return tuple(said)


def _water_findings(water: HotWaterRun, hot_water: CylinderChoice) -> list[Finding]:
    if water.reached_c >= hot_water.store_temp_c:
        return []
    return [
        Finding(
            "store_hotter_than_unit_reaches",
            "note",
            "hot water",
            f"the unit heats the store to {water.reached_c:g} °C; the rest up to {hot_water.store_temp_c:g} °C, "
            f"{water.immersion_kwh:,.0f} kWh a year with the hygiene cycles, comes from the immersion heater",
            str(SOURCE),
            "a unit with a hotter flow, or a cooler store",
        )
    ]


def _backup_findings(space: YearOfHeat) -> list[Finding]:
    if space.backup_kwh < 1:
        return []
    return [
        Finding(
            "direct_electric_heat_in_cold_hours",
            "note",
            "outdoor unit",
            f"{space.backup_kwh:,.0f} kWh of the year's {space.heat_kwh:,.0f} kWh are more than the unit gives in the "
            f"coldest hours; direct electric heat is counted for them",
            str(SOURCE),
            "the next size of unit",
        )
    ]


def _fuel_now(existing: ExistingSystem) -> tuple[float | None, list[Finding]]:
    """Energy in the fuel of a whole year, kWh gross."""
    if existing.fuel == "none" or existing.fuel_used == UNKNOWN:
        return None, []
    per_unit_kwh = 1.0 if existing.fuel_unit == "kwh" else FUEL_KWH.get((existing.fuel, existing.fuel_unit))
    if per_unit_kwh is None:
        return None, [
            Finding(
                "fuel_unit_unusual",
                "ask",
                "existing system",
                f"{existing.fuel.replace('_', ' ')} does not come by the {existing.fuel_unit}; its energy is not known",
                str(FUELS),
                "give the fuel of a year in kWh",
            )
        ]
    return existing.fuel_used * per_unit_kwh, []


def _cross_check(
    existing: ExistingSystem, fuel_kwh: float, space_heat_kwh: float, hot_water: CylinderChoice
) -> list[Finding]:
    """The year's heat estimated from the building against that which the fuel bill allows."""
    if existing.fuel not in COMPARED or space_heat_kwh <= 0:
        return []
    efficiency, told = existing.boiler_efficiency_ratio, "as surveyed"
    if efficiency == UNKNOWN:
        burns = existing.fuel in BURNT
        efficiency = EFFICIENCY_RATIO[existing.boiler] if burns else ELECTRIC_EFFICIENCY_RATIO
        told = str(EFFICIENCIES)
    by_fuel_kwh = fuel_kwh * efficiency - hot_water.hot_water_kwh_per_year
    away_ratio = (by_fuel_kwh - space_heat_kwh) / space_heat_kwh
    if abs(away_ratio) <= DISAGREES_RATIO:
        return []
    other = existing.other_heater
    beside = "" if other in ("none", "unknown") else f" The {other.replace('_', ' ')} heats besides."
    return [
        Finding(
            "fuel_disagrees",
            "ask",
            "existing system",
            f"the fuel of a year holds {fuel_kwh:,.0f} kWh; at an efficiency of {efficiency:.2f} ({told}) and less hot "
            f"water it gave {by_fuel_kwh:,.0f} kWh of heating, {per_cent(abs(away_ratio))} "
            f"{'more' if away_ratio > 0 else 'less'} than the {space_heat_kwh:,.0f} kWh by the survey.{beside}",
            str(EFFICIENCIES if told != "as surveyed" else SOURCE),
            "look again at insulation, temperatures and hours of heating, and at the fuel bills",
        )
    ]
