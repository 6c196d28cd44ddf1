"""The order of the steps: survey, design, take-off, labour plan, bill, price.

The only module that knows it; everything else knows only its own inputs. Pure: dates come in as arguments.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, fields, replace
from datetime import date, timedelta
from decimal import Decimal
from functools import partial
from typing import Annotated, Literal

from pydantic import Field

from models.catalogue import OutdoorUnit, PipeInsulation
from models.design.base import base
from models.design.climate import climate
from models.design.condensate import condensate
from models.design.cross_check import cross_checks
from models.design.cylinder_space import space_check
from models.design.discharge import discharge
from models.design.dwelling_parts import part_findings
from models.design.electrical import electrical
from models.design.emitters import (
    FLOOR_EXPONENT,
    EmitterCost,
    EmitterOptions,
    emitter_cost,
    emitter_options,
    emitter_schedule,
)
from models.design.existing_system import existing_findings
from models.design.flow_temperature import choose_flow_temperature
from models.design.frost_protection import frost_protection
from models.design.ground import ground_floors
from models.design.hazards import hazard_findings
from models.design.heat_loss import heat_loss
from models.design.heating_curve import heating_curve
from models.design.hot_water import STORE_TEMP_C, cylinder_choice
from models.design.noise import noise_at, noise_findings
from models.design.outdoor_unit import (
    RankedUnit,
    UnitOutdoors,
    choose_unit,
    rank_unit,
    sound_of_enough,
    units_outdoors,
)
from models.design.performance import HotWaterRun, cheap_seasonal, fuel_check, hot_water_run, performance
from models.design.primary_pipework import (
    BURIED_DEPTH_M,
    BURIED_GROUND_W_PER_MK,
    BURIED_INSULATION_MM,
    BURIED_INSULATION_W_PER_MK,
    BURIED_OD_MM,
    index_circuit,
    primary,
    route_findings,
)
from models.design.refrigerant_zone import zone_checks
from models.design.results import (
    Base,
    Climate,
    Condensate,
    ConstructionU,
    CylinderChoice,
    Design,
    Discharge,
    Electrical,
    EmitterSchedule,
    FlowCandidate,
    FlowChoice,
    FrostProtection,
    HeatLoss,
    Siting,
    SpaceCheck,
    UnitChoice,
    ZoneCheck,
)
from models.design.siting import rank_positions, siting
from models.design.system_volume import NEW_BRANCH_MM, system_volume
from models.design.u_values import u_values
from models.design.ventilation import room_air
from models.findings import Finding, has_stop, sorted_findings
from models.frozen import quickly_made
from models.labour.before import Precondition, before_day_one
from models.labour.plan import LabourPlan, plan
from models.labour.search import Effort
from models.labour.tasks import needed_tasks
from models.physics.conduction import buried_pipe_loss_w_per_m, insulated_pipe_loss_w_per_m
from models.physics.rating import rating_grid, unit_state
from models.physics.seasonal import HeatingYear, YearOfHeat, heating_year, year_of_heat
from models.pricing.beside import ExtraRules, extras_of
from models.pricing.price import Price, price
from models.rules import Rules
from models.survey import Pipework, Position, Survey
from models.takeoff.bill import Bill, bill
from models.takeoff.quantities import EXTRAS, TakeOff, take_off
from models.units import UNKNOWN, Input

CANDIDATE_FLOW_TEMPS_C = (35.0, 40.0, 45.0, 50.0, 55.0)
DESIGN_DELTA_T_K = 5.0
"""Flow less return at design: common practice for a heat pump on radiators, no source."""
YEARS = 15
"""Years of running that are weighed against purchase when a flow temperature is chosen: the firm's rule."""
BASE_TEMP_C = 15.5
"""Outdoor temperature above which the house needs no heating: CIBSE TM41:2006, the usual UK base."""
EMITTER_EXPONENT = 1.3
"""Of the emitters together, for the heating curve: EN 442-2, panel radiators. Floors alone have their own."""
OUTDOOR_SURFACE_W_PER_M2K = 10.0
"""Outside surface coefficient of outdoor pipes: EN ISO 12241, from memory."""
COLD_BELOW_C = 5.0
"""A month whose mean is below this counts as cold for concrete: common practice, no source."""
ASSUMED_START_AFTER = timedelta(days=42)
"""Where no start is chosen, the works are taken to begin on the first Monday six weeks after pricing that is not a
bank holiday: the firm's rule."""


Day = Annotated[date, Field(ge=date(2000, 1, 1), lt=date(2100, 1, 1))]
"""A day that a calendar can be worked out around."""


class Choices(Input):
    """What the customer or the engineer decides; whatever is left out, Footing chooses by its stated rules."""

    flow_temp_c: Annotated[float, Field(ge=30, le=65)] | None = None
    emitters: Literal["keep", "least_cost"] = "least_cost"
    outdoor_unit_sku: Annotated[str, Field(max_length=40)] | None = None
    cylinder_sku: Annotated[str, Field(max_length=40)] | None = None
    position_id: Annotated[str, Field(max_length=64)] | None = None
    frost_protection: Literal["valves", "glycol"] | None = None
    base_type: Literal["rapid_slab", "standard_slab", "preformed"] | None = None
    priced_on: Day | None = None
    works_start_on: Day | None = None
    works_end_on: Day | None = None
    grant_applied_on: Day | None = None
    extras: Annotated[tuple[str, ...], Field(max_length=20)] = ()
    heat_loss_method: Literal["room_air_changes", "standard", "simplified"] | None = None
    discount_ratio: Annotated[Decimal, Field(ge=0, lt=1, max_digits=5, decimal_places=4)] = Decimal(0)
    fan_assisted: Literal["not_in_bedrooms", "anywhere", "nowhere"] = "not_in_bedrooms"
    party_wall_policy: Literal["neighbour_heated", "neighbour_at_10"] | None = None
    reheat_w_per_m2: Annotated[float, Field(ge=0, le=100)] | None = None
    design_percentile: Literal["99", "99_6"] | None = None
    altitude_rule: Annotated[str, Field(max_length=40)] | None = None


class UnknownChoice(ValueError):
    """A choice that names something which is not there: says the field, the value and what there is."""

    def __init__(self, field: str, value: str, there: list[str]) -> None:
        super().__init__(f"{field} '{value}' is not there; there is {', '.join(there) or 'none'}")
        self.field = field
        self.value = value
        self.there = tuple(there)


@quickly_made
@dataclass(frozen=True, slots=True)
class Estimate:
    """Everything worked out about one survey at one set of choices. Nothing in it is stored.

    `plan` and `bill` are None where a *stop* leaves the house without a unit, a cylinder or a place for them; the
    price is then partial. `priced_on`, `works_start_on` and `works_end_on` are the dates that were used.
    """

    survey: Survey
    choices: Choices
    rules: Rules
    priced_on: date
    works_start_on: date
    works_end_on: date
    start_assumed: bool
    design: Design
    take_off: TakeOff
    plan: LabourPlan | None
    bill: Bill | None
    price: Price | None
    before_day_one: tuple[Precondition, ...]
    findings: tuple[Finding, ...]


@quickly_made
@dataclass(frozen=True, slots=True)
class HousePart:
    """What does not depend on the flow temperature: worked out once, shared by whatever is laid side by side.

    It holds for one survey, one set of rules and one `house_key` of choices. `machines`, `waters`, `supplies` and
    `grounds` remember what hangs on the outdoor unit, its store and its position alone, so that 21 flow temperatures
    with the same unit ask for it once; `heats` what a unit does in the year at a flow temperature, so that ranking and
    choosing ask for it once.
    """

    survey: Survey
    rules: Rules
    climate: Climate
    u_values: Mapping[str, ConstructionU]
    heat_loss: HeatLoss
    emitter_options: EmitterOptions
    discharges: Mapping[str, Discharge]
    spaces: Mapping[str, SpaceCheck]
    checks: tuple[Finding, ...]
    units: tuple[UnitOutdoors, ...]
    machines: dict[tuple[object, ...], "_MachinePart"]
    waters: dict[tuple[object, ...], HotWaterRun]
    heats: dict[tuple[object, ...], YearOfHeat]
    supplies: dict[tuple[object, ...], Electrical]
    grounds: dict[tuple[object, ...], "_GroundPart"]


@dataclass(frozen=True, slots=True)
class _MachinePart:
    """What follows from the outdoor unit, whatever the flow temperature. `zones` by position."""

    store: CylinderChoice
    frost: FrostProtection
    zones: Mapping[str, tuple[tuple[ZoneCheck, ...], tuple[Finding, ...]]]


@dataclass(frozen=True, slots=True)
class _GroundPart:
    """What follows from the ground and the route of one position, whatever the flow temperature."""

    pit: Condensate
    footing: Base
    findings: tuple[Finding, ...]


def estimate(
    survey: Survey,
    choices: Choices,
    rules: Rules,
    *,
    today: date,
    house: HousePart | None = None,
    effort: Effort = "live",
) -> Estimate:
    """Work out one survey at one set of choices.

    `today` stands in for the dates that the choices leave open; `house` is what `house_part` gave for the same survey,
    `chosen_rules` and `house_key`, where several estimates share it. `effort` is that of the labour
    plan: "live", or "thorough" (some 50 ms more) for a quote. Raises UnknownChoice for a
    choice that names something which is not there, and ValueError where the survey names a weather station or a row of
    a table that does not exist; everything else that is wrong with the house is a finding of the answer.
    """
    check_choices(survey, choices, rules)
    rules = chosen_rules(rules, choices)
    priced_on, start_on, holidays = works_dates(survey, choices, rules, today=today)
    if house is None:
        house = house_part(survey, choices, rules)
    design = _design(house, choices, priced_on, start_on)
    cold = is_cold(house, start_on)
    measured = take_off(survey=survey, design=design, extras=frozenset(choices.extras), cold=cold)
    found = list(design_findings(design))
    found += house.checks
    if design.performance is None:
        found += fuel_check(
            existing=survey.existing,
            space_heat_kwh=heating_year_at(house, design.flow.flow_temp_c).space_heat_kwh,
            hot_water=design.hot_water,
        )
    found += existing_findings(
        survey=survey,
        heat_loss=design.heat_loss,
        flow=design.flow,
        emitters=design.emitters,
        cylinder=design.hot_water.cylinder,
    )
    found += hazard_findings(
        survey=survey,
        position=next((one for one in survey.positions if one.id == design.position_id), None),
        reference=rules.reference,
    )
    found += [
        Finding(
            "extra_without_effect",
            "ask",
            "extras",
            f"asked for: {EXTRAS[extra]}; there is none at this house, so nothing of it is priced",
            remedy="take the extra out of the choices, or mend the survey",
        )
        for extra in choices.extras
        if not measured.flags[extra]
    ]
    labour = materials = cost = None
    end_on = choices.works_end_on or start_on
    if design.unit.unit is not None and design.base is not None and design.hot_water.cylinder is not None:
        labour = plan(
            needed_tasks(rules.labour, measured),
            rules.labour.settings.usual_crew,
            rules.labour.settings,
            starts_on=start_on,
            base_type=design.base.type,
            cold=cold,
            bank_holidays=holidays,
            effort=effort,
        )
        found += labour.findings
    if labour is not None and labour.days is not None:
        end_on = choices.works_end_on or labour.dates[-1]
        found += _date_findings(choices, priced_on, start_on, labour.dates[-1])
        materials = bill(
            take_off=measured,
            plan_quantities={
                "plan_days": Decimal(labour.days),
                "heating_off_nights": Decimal(labour.heating_off_nights),
            },
            recipes=rules.recipes,
            price_list=rules.price_list,
            margins=rules.rates.margin_ratio_by_class,
            priced_on=priced_on,
        )
        found += materials.findings
        cost = price(
            bill=materials,
            hours_by_trade=_charged_hours(labour),
            plan_days=labour.days,
            rates=rules.rates,
            money_rules=rules.money,
            nation=survey.house.nation,
            tenure=survey.house.tenure,
            fuel_now=survey.existing.fuel,
            on_gas_grid=survey.house.on_gas_grid,
            grant_applied_on=choices.grant_applied_on or priced_on,
            priced_on=priced_on,
            works_start_on=start_on,
            works_end_on=end_on,
            stopped=has_stop(found),
            discount_ratio=choices.discount_ratio,
            findings=found,
            flags=measured.flags,
            extras=extras_of(
                ExtraRules(measured, rules.recipes, rules.labour, rules.price_list),
                rates=rules.rates,
                fuel_now=survey.existing.fuel,
                on=end_on,
                series=rules.money.vat,
            ),
            price_list=rules.price_list,
        )
        found += cost.findings
    return Estimate(
        survey=survey,
        choices=choices,
        rules=rules,
        priced_on=priced_on,
        works_start_on=start_on,
        works_end_on=end_on,
        start_assumed=choices.works_start_on is None,
        design=design,
        take_off=measured,
        plan=labour,
        bill=materials,
        price=cost,
        before_day_one=_before_day_one(survey, rules, design, materials, cost),
        findings=sorted_findings(found),
    )


def _charged_hours(labour: LabourPlan) -> dict[str, Decimal]:
    """Person-hours by trade, each visit rounded up once."""
    hours: dict[str, Decimal] = {}
    for visit in labour.visits:
        hours[visit.trade] = hours.get(visit.trade, Decimal(0)) + visit.charged_person_hours
    return hours


def _before_day_one(
    survey: Survey, rules: Rules, design: Design, materials: Bill | None, cost: Price | None
) -> tuple[Precondition, ...]:
    siting_ = next((siting_ for siting_ in design.sitings if siting_.position_id == design.position_id), None)
    if design.electrical is None or siting_ is None or materials is None:
        return ()
    granted = cost is not None and cost.grant is not None and cost.grant.deducted_pence > 0
    return before_day_one(
        network=design.electrical.network,
        network_reply_days=rules.waiting.network_reply_days,
        planning=siting_.planning,
        planning_decision_days=rules.waiting.planning_decision_days,
        grant="grant" if granted else None,
        grant_offer_days=rules.waiting.grant_offer_days,
        cancellation_days=rules.money.consumer.cancellation_days,
        early_start_asked_in_writing=False,
        asbestos_samples=sum(hazard.samples for hazard in survey.hazards if hazard.kind == "asbestos"),
        laboratory_days=rules.waiting.laboratory_days,
        lead_times=[(line.description, line.lead_time_days) for line in materials.lines if line.held == "order"],
        fuel=survey.existing.fuel,
    )


def _assumed_start(priced_on: date, holidays: frozenset[date]) -> date:
    start_on = priced_on + ASSUMED_START_AFTER
    start_on += timedelta(days=-start_on.weekday() % 7)
    while start_on in holidays:
        start_on += timedelta(days=7)
    return start_on


def check_choices(survey: Survey, choices: Choices, rules: Rules) -> None:
    """Raises UnknownChoice for a choice that names something which is not there."""
    named = (
        ("position_id", choices.position_id, [position.id for position in survey.positions]),
        ("outdoor_unit_sku", choices.outdoor_unit_sku, [offer.item.sku for offer in rules.offers.outdoor_units]),
        ("cylinder_sku", choices.cylinder_sku, [offer.item.sku for offer in rules.offers.cylinders]),
        ("altitude_rule", choices.altitude_rule, list(rules.reference.altitude_rules)),
        *(("extras", extra, list(EXTRAS)) for extra in choices.extras),
    )
    for field, value, there in named:
        if value is not None and value not in there:
            raise UnknownChoice(field, value, there)


def _date_findings(choices: Choices, priced_on: date, start_on: date, planned_end_on: date) -> Iterator[Finding]:
    """What speaks against the days that were chosen: VAT and the stages follow them, whatever the plan says."""
    end_on = choices.works_end_on
    if end_on is not None and end_on < planned_end_on:
        yield Finding(
            "works_end_before_plan",
            "stop" if end_on < start_on else "ask",
            "price",
            f"the works are to end on {end_on:%d %B %Y}; by the plan they start on {start_on:%d %B %Y} and end on "
            f"{planned_end_on:%d %B %Y}, and the tax points follow the day that was chosen",
            remedy="leave the end to the plan, or start earlier",
        )
    if start_on < priced_on:
        yield Finding(
            "works_start_before_pricing",
            "ask",
            "price",
            f"the works are to start on {start_on:%d %B %Y}, before {priced_on:%d %B %Y}, the day of pricing",
            remedy="choose a later first day, or price the works as of a day before it",
        )


_OF_DEFAULTS = ("party_wall_policy", "reheat_w_per_m2", "design_percentile", "altitude_rule")


def chosen_rules(rules: Rules, choices: Choices) -> Rules:
    """The rules with those of the firm's defaults replaced that this job chooses otherwise."""
    chosen = {name: getattr(choices, name) for name in _OF_DEFAULTS if getattr(choices, name) is not None}
    if not chosen:
        return rules
    reference = rules.reference
    return replace(rules, reference=replace(reference, defaults=replace(reference.defaults, **chosen)))


def house_key(choices: Choices) -> tuple[object, ...]:
    """What two sets of choices must have in common to share what `house_part` gives."""
    return (
        choices.heat_loss_method,
        choices.emitters,
        choices.fan_assisted,
        *[getattr(choices, name) for name in _OF_DEFAULTS],
    )


def house_part(survey: Survey, choices: Choices, rules: Rules) -> HousePart:
    """Climate, U-values, heat loss, what can be done about the emitters and where a cylinder could stand.

    Raises as `estimate` does.
    """
    reference, house = rules.reference, survey.house
    outdoors = climate(
        house=house,
        reference=reference,
        altitude_rule=reference.defaults.altitude_rule,
        percentile=reference.defaults.design_percentile,
    )
    constructions_u = u_values(constructions=survey.constructions, house=house, reference=reference)
    constructions_u |= ground_floors(constructions=survey.constructions, house=house, reference=reference)
    loss = heat_loss(
        survey=survey,
        climate=outdoors,
        u_values=constructions_u,
        air=room_air(rooms=survey.rooms, house=house, reference=reference),
        reference=reference,
        method=choices.heat_loss_method,
    )
    discharges, spaces = _cylinder_places(survey, rules)
    return HousePart(
        survey=survey,
        rules=rules,
        climate=outdoors,
        u_values=constructions_u,
        heat_loss=loss,
        emitter_options=emitter_options(
            rooms=survey.rooms,
            losses={room.room_id: room for room in loss.rooms},
            prices=rules.offers.emitters,
            tubes=reference.tubes,
            policy=choices.emitters,
            pipework=survey.existing.pipework,
            fans=choices.fan_assisted,
        ),
        discharges=discharges,
        spaces=spaces,
        checks=(
            *cross_checks(heat_loss=loss, climate=outdoors, house=house, reference=reference),
            *part_findings(survey=survey, heat_loss=loss),
        ),
        units=units_outdoors(offers=rules.offers.outdoor_units, climate=outdoors),
        machines={},
        waters={},
        heats={},
        supplies={},
        grounds={},
    )


def works_dates(survey: Survey, choices: Choices, rules: Rules, *, today: date) -> tuple[date, date, frozenset[date]]:
    """The day of pricing, the first day of the works and the bank holidays of the nation."""
    priced_on = choices.priced_on or today
    holidays = rules.bank_holidays.get(survey.house.nation, frozenset())
    return priced_on, choices.works_start_on or _assumed_start(priced_on, holidays), holidays


def is_cold(house: HousePart, start_on: date) -> bool:
    """Whether the works fall into a month that is cold for concrete."""
    return is_cold_month(house.climate, start_on)


def is_cold_month(outdoors: Climate, start_on: date) -> bool:
    """Whether the month of a day is cold for concrete in a climate."""
    return outdoors.monthly_mean_temp_c[start_on.month - 1] < COLD_BELOW_C


def first_store(house: HousePart, choices: Choices) -> CylinderChoice:
    """The hot-water store before anybody knows what will heat it."""
    return _store(house.survey, choices, house.rules, house.spaces, None)


def _design(house: HousePart, choices: Choices, on: date, start_on: date) -> Design:
    store = first_store(house, choices)
    flow, schedule, year = _flow_temperature(house, choices, store)
    unit = unit_at(house, choices, flow.flow_temp_c, year)
    design = design_at(house, choices, flow, schedule, unit, store, on, start_on)
    machine = unit.unit
    if machine is None or design.hot_water.cylinder is None:
        return design
    lost_w = design.primary.heat_lost_outside_w if design.primary else None
    energy = performance(
        heat_loss=house.heat_loss,
        climate=house.climate,
        year=year,
        unit=machine,
        count=unit.count,
        hot_water=design.hot_water,
        tariffs=house.survey.tariffs,
        existing=house.survey.existing,
        pipe_loss_outside_w=0.0 if lost_w is None else lost_w,
        above_station_m=house.survey.house.altitude_m - house.climate.station_altitude_m,
    )
    return replace(design, performance=energy)


def unit_at(house: HousePart, choices: Choices, flow_temp_c: float, year: HeatingYear | None) -> UnitChoice:
    """The outdoor unit at a flow temperature; without `year` its hours below the least output are left out."""
    return choose_unit(
        units=house.units,
        heat_loss_w=house.heat_loss.heat_loss_w,
        climate=house.climate,
        flow_temp_c=flow_temp_c,
        heated=None if year is None else partial(_heated, house, year),
        wanted_sku=choices.outdoor_unit_sku,
    )


def design_at(
    house: HousePart,
    choices: Choices,
    flow: FlowChoice,
    schedule: EmitterSchedule,
    unit: UnitChoice,
    store: CylinderChoice,
    on: date,
    start_on: date,
) -> Design:
    """Everything of the design at one flow temperature but the year of running, which is left None.

    `store` is that of `first_store`; `schedule` and `unit` belong to the flow temperature of `flow`.
    """
    survey, rules, outdoors, loss = house.survey, house.rules, house.climate, house.heat_loss
    reference, offers = rules.reference, rules.offers
    flow_temp_c, delta_t_k = flow.flow_temp_c, flow.delta_t_k
    curve = heating_curve(
        flow_temp_c=flow_temp_c,
        delta_t_k=delta_t_k,
        room_temp_c=loss.mean_room_temp_c,
        design_outdoor_temp_c=outdoors.design_outdoor_temp_c,
        base_temp_c=loss.mean_room_temp_c,
        exponent=_exponent(house),
    )
    machine = unit.unit
    frost = ground = supply = position = None
    sitings: tuple[Siting, ...] = ()
    if machine is not None:
        its = _machine_part(house, choices, machine, unit, store)
        store, frost = its.store, its.frost
        grounds = {one.id: _ground_part(house, choices, machine, unit.count, one, start_on) for one in survey.positions}
        sitings = _sitings(house, flow_temp_c, unit, its.zones, grounds, on)
        position = _position(survey, choices, sitings)
        if position is not None:
            ground = grounds[position.id]
            supply = _supply(house, choices, machine, unit, store, position)
    cylinder = store.cylinder
    pipes = volume = None
    if machine is not None and position is not None and frost is not None:
        pipework, largest_w, largest_in = _hardest_to_serve(survey.existing.pipework, schedule)
        water_temp_c = flow_temp_c - delta_t_k / 2
        index = index_circuit(
            pipework=pipework,
            floor_area_m2=loss.floor_area_m2,
            storeys=survey.house.storeys,
            heat_loss_w=loss.heat_loss_w,
            farthest_emitter_w=largest_w,
            farthest_room=largest_in,
            flow_temp_c=flow_temp_c,
            delta_t_k=delta_t_k,
            glycol_ratio=frost.glycol_ratio,
            reference=reference,
        )
        pipes = primary(
            position=position,
            unit=machine,
            count=unit.count,
            heat_w=max(loss.heat_loss_w, store.reheat_power_w or 0.0),
            heating_w=loss.heat_loss_w,
            flow_temp_c=flow_temp_c,
            delta_t_k=delta_t_k,
            glycol_ratio=frost.glycol_ratio,
            index=index,
            heat_lost_w_per_m=_outdoor_pipe_loss(
                rules.catalogue.pipe_insulation, water_temp_c, outdoors.design_outdoor_temp_c
            ),
            buried_lost_w_per_m=buried_pipe_loss_w_per_m(
                od_mm=BURIED_OD_MM,
                insulation_mm=BURIED_INSULATION_MM,
                insulation_conductivity_w_per_mk=BURIED_INSULATION_W_PER_MK,
                depth_m=BURIED_DEPTH_M,
                ground_conductivity_w_per_mk=BURIED_GROUND_W_PER_MK,
                fluid_temp_c=water_temp_c,
                surface_temp_c=outdoors.design_outdoor_temp_c,
            )
            if position.route_buried_m > 0
            else 0.0,
            reference=reference,
        )
        volume = system_volume(
            survey=survey,
            schedule=schedule,
            primary=pipes,
            longest_run_m=index.run_m,
            unit=machine,
            count=unit.count,
            cylinder=cylinder,
            frost=frost,
            vessels=offers.vessels,
            volumisers=offers.volumisers,
            reference=reference,
        )
    return Design(
        climate=outdoors,
        u_values=house.u_values,
        heat_loss=loss,
        flow=flow,
        emitters=schedule,
        unit=unit,
        hot_water=store,
        cylinder_space=house.spaces.get(cylinder.sku) if cylinder else None,
        discharge=house.discharges.get(cylinder.relief_outlet) if cylinder else None,
        frost=frost,
        primary=pipes,
        volume=volume,
        position_id=position.id if position else None,
        sitings=sitings,
        condensate=ground.pit if ground else None,
        base=ground.footing if ground else None,
        electrical=supply,
        curve=curve,
        performance=None,
    )


def _hardest_to_serve(pipework: Pipework, schedule: EmitterSchedule) -> tuple[Pipework, float, str]:
    """The emitter that carries most, with its room: of narrow branches the one that still hangs on them.

    Valves and balancing hold an emitter to the room's need, however much it could give. What is added or has its tails
    renewed hangs on new ones; where all do, those are the branches.
    """
    carried = [
        (step.output_w * min(1.0, room.needed_w / room.output_w), room.name,
         step.action == "add" or step.new_tail_od_mm is not None)
        for room in schedule.rooms
        if room.output_w > 0
        for step in room.steps
    ]  # fmt: skip
    narrow = pipework.branch_mm != UNKNOWN and pipework.branch_mm < NEW_BRANCH_MM
    if narrow:
        on_old = [one for one in carried if not one[2]]
        if not on_old and carried:
            pipework = pipework.model_copy(update={"branch_mm": NEW_BRANCH_MM})
        carried = on_old or carried
    heat_w, name, _ = max(carried, default=(0.0, "", False))
    return pipework, heat_w, name


def _machine_part(
    house: HousePart, choices: Choices, machine: OutdoorUnit, unit: UnitChoice, store: CylinderChoice
) -> _MachinePart:
    """Hot water, frost protection and protective zones: made once for a unit and the choices that bear on them."""
    survey, rules = house.survey, house.rules
    key = machine.sku, unit.count, choices.cylinder_sku, choices.frost_protection
    part = house.machines.get(key)
    if part is None:
        part = house.machines[key] = _MachinePart(
            store=_store(
                survey, choices, rules, house.spaces, _reheat_power_w(unit, house.climate), _least_power_w(machine)
            ),
            frost=frost_protection(
                house=survey.house,
                count=unit.count,
                choice=choices.frost_protection,
                design_outdoor_temp_c=house.climate.design_outdoor_temp_c,
            ),
            zones={
                position.id: zone_checks(position=position, unit=machine, place_reference=rules.place)
                for position in survey.positions
            },
        )
    return part


def immersion_w(store: CylinderChoice, rules: Rules) -> float:
    """Power of the immersion heater; where no cylinder is left, the largest offered: the supply has to carry one."""
    if store.cylinder is not None:
        return store.cylinder.immersion_w
    return max((offer.item.immersion_w for offer in rules.offers.cylinders), default=0.0)


def _supply(
    house: HousePart,
    choices: Choices,
    machine: OutdoorUnit,
    unit: UnitChoice,
    store: CylinderChoice,
    position: Position,
) -> Electrical:
    """Circuit and supply: made once for a unit at a position and the cylinder."""
    key = machine.sku, unit.count, position.id, choices.cylinder_sku
    supply = house.supplies.get(key)
    if supply is None:
        supply = house.supplies[key] = electrical(
            supply=house.survey.supply,
            unit=machine,
            count=unit.count,
            immersion_w=immersion_w(store, house.rules),
            cables=house.rules.catalogue.cables,
            position=position,
            place_reference=house.rules.place,
            old_cylinder_goes=house.survey.existing.cylinder is not None and store.cylinder is not None,
            heated_by_electricity=house.survey.existing.fuel in ("electric", "heat_pump", "hybrid"),
        )
    return supply


def _ground_part(
    house: HousePart, choices: Choices, machine: OutdoorUnit, count: int, position: Position, start_on: date
) -> _GroundPart:
    """Meltwater, base and route of a position: made once for a unit and the choices that bear on them."""
    cold, place = is_cold(house, start_on), house.rules.place
    key = machine.sku, count, position.id, choices.base_type, cold
    part = house.grounds.get(key)
    if part is None:
        pit = condensate(position=position, unit=machine, count=count, place_reference=place)
        footing = base(
            position=position, unit=machine, count=count, wanted=choices.base_type, cold=cold, place_reference=place
        )
        part = house.grounds[key] = _GroundPart(
            pit, footing, (*pit.findings, *footing.findings, *route_findings(position=position))
        )
    return part


def _cylinder_places(survey: Survey, rules: Rules) -> tuple[dict[str, Discharge], dict[str, SpaceCheck]]:
    """The discharge pipe by relief-valve outlet, and whether each cylinder goes into its place, by SKU."""
    there = survey.cylinder_place
    if there is None:
        return {}, {}
    cylinders = [offer.item for offer in rules.offers.cylinders]
    discharges: dict[str, Discharge] = {
        outlet: discharge(place=there, outlet=outlet, reference=rules.reference)
        for outlet in {cylinder.relief_outlet for cylinder in cylinders}
    }
    spaces = {
        cylinder.sku: space_check(place=there, cylinder=cylinder, discharge=discharges[cylinder.relief_outlet])
        for cylinder in cylinders
    }
    return discharges, spaces


def _store(
    survey: Survey,
    choices: Choices,
    rules: Rules,
    spaces: Mapping[str, SpaceCheck],
    reheat_power_w: float | None,
    least_power_w: float | None = None,
) -> CylinderChoice:
    return cylinder_choice(
        survey=survey,
        offers=rules.offers.cylinders,
        reheat_power_w=reheat_power_w,
        least_power_w=least_power_w,
        space=spaces,
        wanted_sku=choices.cylinder_sku,
    )


def heating_year_at(house: HousePart, flow_temp_c: float) -> HeatingYear:
    """The heating hours of a year at a flow temperature."""
    outdoors, loss = house.climate, house.heat_loss
    return heating_year(
        monthly_mean_temp_c=outdoors.monthly_mean_temp_c,
        loss_coefficient_w_per_k=loss.loss_coefficient_w_per_k,
        base_temp_c=BASE_TEMP_C,
        design_outdoor_temp_c=outdoors.design_outdoor_temp_c,
        room_temp_c=loss.mean_room_temp_c,
        flow_temp_c=flow_temp_c,
        delta_t_k=DESIGN_DELTA_T_K,
        exponent=_exponent(house),
    )


def _exponent(house: HousePart) -> float:
    """Of the emitters together: that of floors where there is nothing else, BS EN 1264-2, else of radiators."""
    return FLOOR_EXPONENT if house.emitter_options.floors_alone else EMITTER_EXPONENT


def _flow_temperature(
    house: HousePart, choices: Choices, store: CylinderChoice
) -> tuple[FlowChoice, EmitterSchedule, HeatingYear]:
    """Each candidate flow temperature straight through, then the choice among them, its emitters and its year."""
    wanted_c = choices.flow_temp_c
    temps_c = CANDIDATE_FLOW_TEMPS_C if wanted_c is None else (wanted_c,)
    options = house.emitter_options
    costs = [
        emitter_cost(options=options, flow_temp_c=flow_temp_c, delta_t_k=DESIGN_DELTA_T_K) for flow_temp_c in temps_c
    ]
    years = [heating_year_at(house, flow_temp_c) for flow_temp_c in temps_c]
    candidates = [
        flow_candidate(
            house,
            store,
            cost,
            rank_unit(
                units=house.units,
                heat_loss_w=house.heat_loss.heat_loss_w,
                flow_temp_c=flow_temp_c,
                wanted_sku=choices.outdoor_unit_sku,
            ),
            year,
        )
        for flow_temp_c, cost, year in zip(temps_c, costs, years, strict=True)
    ]
    flow = choose_flow_temperature(
        candidates=tuple(candidates), delta_t_k=DESIGN_DELTA_T_K, years=YEARS, wanted_c=wanted_c
    )
    taken = temps_c.index(flow.flow_temp_c)
    schedule = emitter_schedule(
        options=options, flow_temp_c=flow.flow_temp_c, delta_t_k=flow.delta_t_k, picks=costs[taken].picks
    )
    return flow, schedule, years[taken]


def flow_candidate(
    house: HousePart, store: CylinderChoice, emitters: EmitterCost, unit: RankedUnit | UnitChoice, year: HeatingYear
) -> FlowCandidate:
    """One flow temperature: what the emitters and units for it cost, and what they take to run."""
    seasonal = None
    purchase_pence = emitters.cost_pence
    if unit.unit is not None:
        purchase_pence += unit.count * house.rules.price_list.cost_pence(unit.unit.sku)
        seasonal = cheap_seasonal(
            space=_heated(house, year, unit.unit, unit.count),
            water=_water(house, unit.unit, store),
            tariffs=house.survey.tariffs,
        )
    return FlowCandidate(
        flow_temp_c=emitters.flow_temp_c,
        unit_sku=unit.unit.sku if unit.unit else None,
        unit_count=unit.count,
        emitters_changed=emitters.changed,
        emitter_fit_hours=emitters.fit_hours,
        purchase_pence=purchase_pence,
        seasonal_ratio=seasonal.seasonal_ratio if seasonal else None,
        running_pence_per_year=seasonal.running_pence_per_year if seasonal else None,
        whole_cost_pence=None,
        feasible=unit.unit is not None and not emitters.stops,
        taken=False,
        reason="",
        electricity_kwh_per_year=seasonal.electricity_kwh if seasonal else None,
        rooms_short=emitters.rooms_short,
    )


def _heated(house: HousePart, year: HeatingYear, machine: OutdoorUnit, count: int) -> YearOfHeat:
    """A year of heating without pipes outdoors: made once for so many units at a flow temperature."""
    key = machine.sku, count, year.flow_temp_c
    ran = house.heats.get(key)
    if ran is None:
        ran = house.heats[key] = year_of_heat(
            rating_grid(machine),
            year=year,
            count=count,
            defrost_included=machine.defrost_included,
            pipe_loss_outside_w=0.0,
        )
    return ran


def _water(house: HousePart, machine: OutdoorUnit, store: CylinderChoice) -> HotWaterRun:
    """A year of hot water: made once for a unit and its store."""
    key = machine.sku, store.cylinder and store.cylinder.sku
    run = house.waters.get(key)
    if run is None:
        run = house.waters[key] = hot_water_run(unit=machine, climate=house.climate, hot_water=store)
    return run


def _reheat_power_w(unit: UnitChoice, outdoors: Climate) -> float | None:
    """What the units give at the store's temperature on the design day."""
    if unit.unit is None:
        return None
    grid = rating_grid(unit.unit)
    flow_temp_c = min(max(STORE_TEMP_C, grid.flow_temps_c[0]), grid.flow_temps_c[-1])
    state = unit_state(grid, outdoor_temp_c=outdoors.design_outdoor_temp_c, flow_temp_c=flow_temp_c)
    return None if state is None else state.output_w * unit.count


def _least_power_w(machine: OutdoorUnit) -> float | None:
    """What one unit gives at least at the store's temperature in the warmest weather it is rated for."""
    grid = rating_grid(machine)
    flow_temp_c = min(max(STORE_TEMP_C, grid.flow_temps_c[0]), grid.flow_temps_c[-1])
    state = unit_state(grid, outdoor_temp_c=grid.outdoor_temps_c[-1], flow_temp_c=flow_temp_c)
    return None if state is None else state.minimum_output_w


def _outdoor_pipe_loss(
    insulations: tuple[PipeInsulation, ...], water_temp_c: float, air_temp_c: float
) -> dict[int, float]:
    return {
        insulation.od_mm: insulated_pipe_loss_w_per_m(
            od_mm=insulation.od_mm,
            insulation_mm=insulation.thickness_mm,
            insulation_conductivity_w_per_mk=insulation.conductivity_w_per_mk,
            surface_coefficient_w_per_m2k=OUTDOOR_SURFACE_W_PER_M2K,
            fluid_temp_c=water_temp_c,
            air_temp_c=air_temp_c,
        )
        for insulation in insulations
        if insulation.place == "outside"
    }


def _sitings(
    house: HousePart,
    flow_temp_c: float,
    unit: UnitChoice,
    zones: Mapping[str, tuple[tuple[ZoneCheck, ...], tuple[Finding, ...]]],
    grounds: Mapping[str, _GroundPart],
    on: date,
) -> tuple[Siting, ...]:
    machine, power_dba = unit.unit, unit.sound_power_dba
    if machine is None or power_dba is None:
        return ()
    survey, rules = house.survey, house.rules
    nation, place = survey.house.nation, rules.place
    loudest_dba = max(point.sound_power_dba for point in machine.ratings)
    enough: tuple[tuple[str, float], ...] | None = None
    judged = []
    for position in survey.positions:
        noise = noise_at(
            position=position,
            sound_power_dba=power_dba,
            unit_height_m=machine.height_mm / 1000,
            count=unit.count,
            nation=nation,
            on=on,
            place_reference=place,
        )
        too_loud = any([at.passes is False for at in noise])
        if too_loud and enough is None:
            enough = sound_of_enough(
                units=house.units, heat_loss_w=house.heat_loss.heat_loss_w, flow_temp_c=flow_temp_c
            )
        zone, zone_findings = zones[position.id]
        judged.append(
            siting(
                position=position,
                unit=machine,
                count=unit.count,
                house=survey.house,
                noise=noise,
                noise_findings=noise_findings(
                    position=position,
                    noise=noise,
                    nation=nation,
                    on=on,
                    place_reference=place,
                    other_units=(enough or ()) if too_loud else (),
                    loudest_over_design_db=loudest_dba - power_dba,
                ),
                zone=zone,
                zone_findings=zone_findings,
                on=on,
                place_reference=place,
                ground_findings=grounds[position.id].findings,
            )
        )
    return tuple(judged)


def _position(survey: Survey, choices: Choices, sitings: tuple[Siting, ...]) -> Position | None:
    """The chosen position, else the best ranked one; None where no unit could be judged anywhere."""
    if not sitings:
        return None
    by_id = {position.id: position for position in survey.positions}
    if choices.position_id is not None:
        return by_id[choices.position_id]
    routes = {
        position.id: position.route_outside_m + position.route_buried_m + position.route_inside_m
        for position in survey.positions
    }
    return by_id[rank_positions(sitings=sitings, routes=routes)[0]]


_QUESTIONS = tuple(field.name for field in fields(Design) if field.name != "sitings")


def design_findings(design: Design) -> Iterator[Finding]:
    """What every question of a design says, of the positions only the chosen one."""
    for name in _QUESTIONS:
        yield from getattr(getattr(design, name), "findings", ())
    for siting_ in design.sitings:
        if siting_.position_id == design.position_id:
            yield from siting_.findings
    if design.unit.unit is not None and not design.sitings:
        yield Finding(
            "no_outdoor_position",
            "stop",
            "outdoors",
            "the survey has no position where a unit could stand",
            remedy="survey at least one position with its clearances, windows and route",
        )
