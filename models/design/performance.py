"""A year of running: heat, electricity and cost, against the fuel of today.

CIBSE TM41:2006 load line over temperature bins; BS EN 14511 ratings; BS EN 14825:2022 part-load degradation.
"""

from dataclasses import dataclass
from decimal import Decimal

from models.catalogue import OutdoorUnit
from models.design.results import Climate, CylinderChoice, HeatLoss, Performance
from models.findings import Finding
from models.money import Pence, pence
from models.physics.rating import RatingGrid, rating_grid
from models.physics.seasonal import (
    DEFROST_LOSS_RATIO,
    HeatingYear,
    YearOfHeat,
    temperature_bins,
    unit_at,
    year_of_heat,
)
from models.sources import Source, Why
from models.survey import ExistingSystem, Tariffs
from models.units import UNKNOWN, exact

SOURCE = Source("CIBSE TM41:2006; BS EN 14825:2022", "degree-day load line; part load 7.7.2.2")
WHY = Why(
    sentence="{space_heat_kwh:,.0f} kWh of heating and {hot_water_kwh:,.0f} kWh of hot water take "
    "{electricity_kwh:,.0f} kWh of electricity, a seasonal ratio of {seasonal_ratio:.2f}; a real year lies between "
    "{low_kwh:,.0f} and {high_kwh:,.0f} kWh",
    source=SOURCE,
)
FUELS = Source("gross calorific values of fuels", standing="from memory")
EFFICIENCIES = Source("seasonal efficiencies of boilers by kind", standing="from memory")

RANGE_RATIO = 0.10
"""How far a real year may lie from the estimate to either side. Common practice, no source."""
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


def cheap_seasonal(
    *,
    year: HeatingYear,
    climate: Climate,
    unit: OutdoorUnit,
    count: int,
    hot_water: CylinderChoice,
    tariffs: Tariffs,
) -> Seasonal:
    """Electricity of a year for ranking candidate flow temperatures: `performance` without pipe loss and words.

    CIBSE TM41:2006 and BS EN 14825:2022 as there.
    """
    grid = rating_grid(unit)
    space = year_of_heat(
        grid, year=year, count=count, defrost_included=unit.defrost_included, pipe_loss_outside_w=0.0
    )
    water = _hot_water_run(grid, unit, climate, hot_water)
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
) -> Performance | None:
    """A year of running and the fuel that it replaces, or None for a house without any heat to deliver.

    CIBSE TM41:2006 load line, BS EN 14825:2022 part load. `year` is `physics.seasonal.heating_year` of this house at
    the flow temperature chosen; `pipe_loss_outside_w` the loss of the outdoor pipes at design conditions. The range
    is a tenth to either side of the electricity.
    """
    grid = rating_grid(unit)
    space = year_of_heat(
        grid,
        year=year,
        count=count,
        defrost_included=unit.defrost_included,
        pipe_loss_outside_w=pipe_loss_outside_w,
    )
    water = _hot_water_run(grid, unit, climate, hot_water)
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
        low_kwh=electricity_kwh * (1 - RANGE_RATIO),
        high_kwh=electricity_kwh * (1 + RANGE_RATIO),
        assumptions=_assumptions(heat_loss, year, unit, water),
        findings=tuple(findings),
    )


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


def _hot_water_run(grid: RatingGrid, unit: OutdoorUnit, climate: Climate, hot_water: CylinderChoice) -> HotWaterRun:
    """The unit heats the store as far as its flow allows, the immersion heater the rest and the hygiene cycles."""
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
    heat_loss: HeatLoss, year: HeatingYear, unit: OutdoorUnit, water: HotWaterRun
) -> tuple[str, ...]:
    said = [
        f"no heating is needed from {year.base_temp_c:g} °C outside; sun, people and appliances carry the house there",
        f"the house loses {heat_loss.loss_coefficient_w_per_k:.0f} W for each kelvin",
        *ASSUMPTIONS,
        f"hot water at a flow of {water.flow_temp_c:g} °C and the mean outdoor temperature of the year",
        f"a real year may lie {RANGE_RATIO:.0%} to either side",
    ]
    if not unit.defrost_included:
        said.append(f"the ratings leave defrosting out: {DEFROST_LOSS_RATIO:.0%} of output taken off in frosty weather")
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
            f"water it gave {by_fuel_kwh:,.0f} kWh of heating, {abs(away_ratio):.0%} "
            f"{'more' if away_ratio > 0 else 'less'} than the {space_heat_kwh:,.0f} kWh by the survey.{beside}",
            str(EFFICIENCIES if told != "as surveyed" else SOURCE),
            "look again at insulation, temperatures and hours of heating, and at the fuel bills",
        )
    ]
