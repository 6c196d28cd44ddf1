"""The typed answers that the questions of `design` hand to each other and to everything after them.

All are plain values. Each keeps the intermediate numbers that were used, so that a page, a document and the API
print the same ones. Units stand in the names.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Generic, Literal, NamedTuple, TypeVar

from models.catalogue import Cable, Cylinder, EmitterProduct, OutdoorUnit, Vessel, Volumiser
from models.findings import Finding
from models.frozen import quickly_made
from models.physics.rating import UnitState as UnitState
from models.sources import Source

ItemT = TypeVar("ItemT")
EmitterAction = Literal["keep", "swap", "add", "swap_and_add", "short", "none_needed"]


@dataclass(frozen=True, slots=True)
class Offer(Generic[ItemT]):
    """A catalogue item, what it costs the firm at the date, and the person-hours to fit it."""

    item: ItemT
    cost_pence: int
    fit_hours: float


@dataclass(frozen=True, slots=True)
class EmitterPrices:
    """What the choice of emitters needs to know about money: offers, and what else a change of emitter costs.

    What renewed tails take is for each emitter and for each metre one way, in 15 or 22 mm.
    """

    offers: tuple[Offer[EmitterProduct], ...]
    labour_pence_per_h: int
    swap_hours: float
    add_hours: float
    valve_hours: float
    swap_parts_pence: int
    add_parts_pence_per_m: int
    valve_pair_pence: int
    assumed_run_m: float
    add_parts_pence: int = 0
    tail_hours: float = 0.0
    tail_parts_pence: int = 0
    tail_15_hours_per_m: float = 0.0
    tail_22_hours_per_m: float = 0.0
    tail_15_parts_pence_per_m: int = 0
    tail_22_parts_pence_per_m: int = 0


@quickly_made
@dataclass(frozen=True, slots=True)
class Climate:
    """Outdoor temperatures of the place. `monthly_mean_temp_c` holds January to December."""

    station: str
    station_altitude_m: float
    station_design_temp_c: float
    altitude_rule: str
    altitude_correction_k: float
    design_outdoor_temp_c: float
    annual_mean_temp_c: float
    monthly_mean_temp_c: tuple[float, ...]
    region_name: str
    source: Source
    findings: tuple[Finding, ...] = ()


@quickly_made
@dataclass(frozen=True, slots=True)
class ConstructionU:
    """The U-value of one construction and how it came about."""

    construction_id: str
    u_w_per_m2k: float
    how: str
    source: Source
    assumed: bool = False
    findings: tuple[Finding, ...] = ()


@quickly_made
@dataclass(frozen=True, slots=True)
class ZoneAir:
    """Air that leaks into the house as a whole, by the standard method.

    `vents_50pa_m3_per_h` is what the background vents let through at 50 Pa, `unbalanced_m3_per_h` what fans take out
    beyond what they bring in, `extract_factor_ratio` how far that suppresses wind and buoyancy,
    `additional_infiltration_m3_per_h` what these still bring in, `envelope_flow_m3_per_h` all together.
    """

    envelope_m2: float
    permeability_m3_per_h_m2: float
    volume_flow_factor_ratio: float
    vents_50pa_m3_per_h: float
    unbalanced_m3_per_h: float
    extract_factor_ratio: float
    additional_infiltration_m3_per_h: float
    envelope_flow_m3_per_h: float
    how: str
    assumed: bool


@quickly_made
@dataclass(frozen=True, slots=True)
class RoomAir:
    """The outdoor air that a room takes: air changes, flow and how the rate was known.

    What follows `assumed` belongs to the standard method: the room's share of the leaks, what comes in through its
    envelope, what it needs, what fans and ducts move, and the outdoor air that counts for the room by itself
    (`design_flow_m3_per_h`) and as a part of the house (`zone_flow_m3_per_h`), the supply not among it.
    """

    room_id: str
    air_changes_per_h: float
    flow_m3_per_h: float
    heat_recovery_ratio: float
    how: str
    assumed: bool
    envelope_m2: float = 0.0
    leak_m3_per_h: float = 0.0
    envelope_flow_m3_per_h: float = 0.0
    minimum_m3_per_h: float = 0.0
    technical_m3_per_h: float = 0.0
    supply_m3_per_h: float = 0.0
    extract_m3_per_h: float = 0.0
    design_flow_m3_per_h: float = 0.0
    zone_flow_m3_per_h: float = 0.0
    flows_unknown: bool = False
    zone: ZoneAir | None = None


class ElementLoss(NamedTuple):
    """Heat through one element at design conditions. Positive leaves the room.

    An inner element, surveyed in one of its two rooms, stands in the losses of both, with opposite sign.
    `temperature_factor_ratio` is the loss over area, U and the room's difference to outdoors.
    """

    element_id: str
    kind: str
    faces: str
    area_m2: float
    u_w_per_m2k: float
    thermal_bridge_w_per_m2k: float
    temperature_factor_ratio: float
    other_side_temp_c: float
    loss_w: float


@quickly_made
@dataclass(frozen=True, slots=True)
class RoomLoss:
    """What a room's emitter must cover at design conditions.

    `heat_loss_w` = `transmission_w` + `ventilation_w` + `reheat_w`; `transmission_w` contains `to_rooms_w`, the
    net flow to the house's own other rooms.
    """

    room_id: str
    name: str
    use: str
    storey: int
    room_temp_c: float
    floor_area_m2: float
    volume_m3: float
    air_changes_per_h: float
    transmission_w: float
    ventilation_w: float
    reheat_w: float
    to_rooms_w: float
    heat_loss_w: float
    elements: tuple[ElementLoss, ...]


@quickly_made
@dataclass(frozen=True, slots=True)
class MethodResult:
    """The same survey by one method of heat loss.

    `sum_of_rooms_w` adds up what the rooms lose outwards. It differs from `heat_loss_w` where a method takes other air
    for a room by itself than for the house: the wind is not on every side at once.
    """

    method: str
    heat_loss_w: float
    transmission_w: float
    ventilation_w: float
    sum_of_rooms_w: float


@quickly_made
@dataclass(frozen=True, slots=True)
class HeatLoss:
    """Design heat loss of the house: the rooms less what they only pass to each other.

    `neighbour_check_w` is what next door standing at 10 °C would add; nothing where the policy counts it already.
    `loss_coefficient_w_per_k` is fabric and air, without reheat, per kelvin of mean room above outdoor temperature.
    `ventilation_w` is of the house as a whole, `rooms_ventilation_w` the sum of its rooms: emitters are sized on the
    rooms, the unit on the house. `method_name` names the method, `other_methods` is the same survey by the others.
    `neighbour_heated_w` and `neighbour_at_10_w` are the loss of the house with next door heated and at 10 °C.
    `zone_air` is how leaky the standard method takes the house to be.
    """

    method: str
    rooms: tuple[RoomLoss, ...]
    transmission_w: float
    ventilation_w: float
    reheat_w: float
    heat_loss_w: float
    floor_area_m2: float
    heat_loss_w_per_m2: float
    loss_coefficient_w_per_k: float
    mean_room_temp_c: float
    findings: tuple[Finding, ...] = ()
    neighbour_check_w: float = 0.0
    method_name: str = ""
    rooms_ventilation_w: float = 0.0
    other_methods: tuple[MethodResult, ...] = ()
    neighbour_heated_w: float = 0.0
    neighbour_at_10_w: float = 0.0
    zone_air: ZoneAir | None = None


@quickly_made
@dataclass(frozen=True, slots=True)
class EmitterStep:
    """What happens to one emitter or at one wall space. `sku` and `run_m` only where something new is fitted.

    `new_tail_od_mm` is the size in which its tails are renewed because the old ones are too narrow, over `tail_run_m`
    one way.
    """

    action: Literal["keep", "swap", "add", "remove"]
    emitter_id: str | None
    wall_space_id: str | None
    sku: str | None
    description: str
    output_w: float
    water_l: float
    run_m: float
    run_assumed: bool
    new_valves: bool
    needs_mains: bool = False
    new_tail_od_mm: int | None = None
    tail_run_m: float = 0.0


@quickly_made
@dataclass(frozen=True, slots=True)
class RoomEmitters:
    """The emitters of one room at the flow temperature. `output_w` is after the steps, `output_before_w` before."""

    room_id: str
    name: str
    needed_w: float
    output_before_w: float
    output_w: float
    short_w: float
    action: EmitterAction
    steps: tuple[EmitterStep, ...]
    cost_pence: int
    fit_hours: float
    why: str


@quickly_made
@dataclass(frozen=True, slots=True)
class EmitterSchedule:
    """All rooms' emitters at one flow temperature. `governing_room_id` is the room that needs the hottest water."""

    flow_temp_c: float
    return_temp_c: float
    rooms: tuple[RoomEmitters, ...]
    cost_pence: int
    fit_hours: float
    governing_room_id: str | None
    water_l: float
    findings: tuple[Finding, ...] = ()


@quickly_made
@dataclass(frozen=True, slots=True)
class UnitConsidered:
    """A unit that was looked at, and why it was or was not taken."""

    sku: str
    name: str
    count: int
    capacity_w: float | None
    cover_ratio: float | None
    taken: bool
    reason: str


@quickly_made
@dataclass(frozen=True, slots=True)
class UnitChoice:
    """The outdoor unit: `capacity_w` of all `count` units together at design outdoor and flow temperature.

    `unit` is None where none is enough; then the finding says what was missing.
    """

    unit: OutdoorUnit | None
    count: int
    capacity_w: float | None
    input_w: float | None
    cover_ratio: float | None
    minimum_output_w: float | None
    hours_below_minimum_h: float | None
    sound_power_dba: float | None
    considered: tuple[UnitConsidered, ...]
    findings: tuple[Finding, ...] = ()


@quickly_made
@dataclass(frozen=True, slots=True)
class FlowCandidate:
    """One flow temperature tried: what it costs to reach it and what it costs to run.

    `rooms_short` counts the rooms that stay short of their heat by more than emitters may fall short of their plate.
    """

    flow_temp_c: float
    unit_sku: str | None
    unit_count: int
    emitters_changed: int
    emitter_fit_hours: float
    purchase_pence: int
    seasonal_ratio: float | None
    running_pence_per_year: int | None
    whole_cost_pence: int | None
    feasible: bool
    taken: bool
    reason: str
    electricity_kwh_per_year: float | None = None
    rooms_short: int = 0


@quickly_made
@dataclass(frozen=True, slots=True)
class FlowChoice:
    """The flow temperature of the whole system and the candidates beside it."""

    flow_temp_c: float
    delta_t_k: float
    years: int
    rule: str
    candidates: tuple[FlowCandidate, ...]
    findings: tuple[Finding, ...] = ()


@quickly_made
@dataclass(frozen=True, slots=True)
class SpaceCheck:
    """Whether a cylinder goes into its place: each measure needed against the one there."""

    cylinder_sku: str
    fits: bool
    checks: tuple[tuple[str, float, float, bool], ...]
    findings: tuple[Finding, ...] = ()


@quickly_made
@dataclass(frozen=True, slots=True)
class CylinderChoice:
    """The hot-water store. `cylinder` is None where there is no place or nothing large enough."""

    people: float
    draw_l_per_day: float
    store_needed_l: float
    store_temp_c: float
    cylinder: Cylinder | None
    volume_l: float | None
    mixed_40c_l: float | None
    reheat_power_w: float | None
    reheat_minutes: float | None
    hot_water_kwh_per_year: float
    standing_loss_kwh_per_year: float
    hygiene_kwh_per_year: float
    considered: tuple[str, ...]
    findings: tuple[Finding, ...] = ()


@quickly_made
@dataclass(frozen=True, slots=True)
class Discharge:
    """The discharge pipe of the relief valves. `d2_od_mm` is None where no size of the table is enough."""

    outlet: str
    run_m: float
    bends: int
    d1_min_od_mm: int
    d2_od_mm: int | None
    resistance_m: float | None
    limit_m: float | None
    tried: tuple[tuple[int, float, float, bool], ...]
    findings: tuple[Finding, ...] = ()


@quickly_made
@dataclass(frozen=True, slots=True)
class FrostProtection:
    """Antifreeze valves with plain inhibited water, or glycol without them: never both."""

    method: Literal["valves", "glycol"]
    glycol_ratio: float
    valves: int
    reason: str
    findings: tuple[Finding, ...] = ()


@quickly_made
@dataclass(frozen=True, slots=True)
class PipeTried:
    """One tube size tried for the primary."""

    od_mm: int
    velocity_m_per_s: float
    gradient_pa_per_m: float
    pressure_drop_pa: float
    passes: bool
    reason: str


@quickly_made
@dataclass(frozen=True, slots=True)
class Primary:
    """The pipe between the unit and the valve set, both ways. Flow is that of all units together.

    `pressure_drop_pa` is the route out and back with its fittings and the fixed losses of the index circuit;
    `pump_available_pa` is what the unit's pump has left at that flow after its own loss. Where hot water takes the
    larger flow these are of heating the store, whose coil takes the place of the index circuit, and
    `heating_flow_l_per_s`, `heating_drop_pa` and `heating_available_pa` are of heating.
    """

    od_mm: int | None
    wall_mm: float | None
    flow_l_per_s: float
    velocity_m_per_s: float | None
    gradient_pa_per_m: float | None
    pressure_drop_pa: float | None
    pump_available_pa: float | None
    length_m: float
    equivalent_length_m: float | None
    fixed_loss_pa: float
    separation_needed: bool
    water_l: float
    heat_lost_outside_w: float | None
    tried: tuple[PipeTried, ...]
    index_circuit: str
    findings: tuple[Finding, ...] = ()
    heating_flow_l_per_s: float | None = None
    heating_drop_pa: float | None = None
    heating_available_pa: float | None = None


@quickly_made
@dataclass(frozen=True, slots=True)
class SystemVolume:
    """Water in the circuit, the vessel for its expansion (EN 12828) and the always-open volume."""

    pipes_l: float
    emitters_l: float
    unit_and_coil_l: float
    total_l: float
    expansion_ratio: float
    expansion_l: float
    reserve_l: float
    vessel_needed_l: float
    vessel: Vessel | None
    open_l: float
    minimum_l: float
    volumiser: Volumiser | None
    volumiser_count: int
    drinking_vessel: Vessel | None
    findings: tuple[Finding, ...] = ()


@quickly_made
@dataclass(frozen=True, slots=True)
class NoiseAt:
    """The level at one neighbouring window, all units together, under the nation's method.

    `units_dba` is that of the units alone, `formula_dba` what the point source formula gives for them where the
    edition takes distance from a table instead.
    """

    where: str
    distance_m: float
    sound_power_dba: float
    directivity: int
    barrier_db: float
    level_dba: float
    limit_dba: float | None
    passes: bool | None
    pass_distance_m: float | None
    method: str
    units_dba: float
    formula_dba: float | None = None


@quickly_made
@dataclass(frozen=True, slots=True)
class ZoneCheck:
    """One opening or ignition source against the protective zone. `zone_top_m` is None where nobody knows how high
    a wall-mounted unit will hang; then everything within reach counts as inside."""

    what: str
    name: str
    distance_m: float
    reach_m: float
    height_m: float
    zone_top_m: float | None
    inside: bool


@quickly_made
@dataclass(frozen=True, slots=True)
class Siting:
    """One outdoor position judged: clearances, noise, protective zone and planning.

    `ground_findings` are those of ground and route at this position, which count when positions are ranked; those of
    the chosen position are said by their own questions.
    """

    position_id: str
    name: str
    clearances: tuple[tuple[str, int, int, bool], ...]
    noise: tuple[NoiseAt, ...]
    zone: tuple[ZoneCheck, ...]
    planning: Literal["permitted", "application_needed", "not_known"]
    planning_reasons: tuple[str, ...]
    findings: tuple[Finding, ...] = ()
    ground_findings: tuple[Finding, ...] = ()


@quickly_made
@dataclass(frozen=True, slots=True)
class Condensate:
    """Where the meltwater goes. Sizes of the pit only for a soakaway."""

    to: Literal["soakaway", "gully", "undecided"]
    pipe_m: float
    depth_m: float
    width_m: float
    volume_m3: float
    wrap_m2: float
    standing_pipe_m: float
    gravel_20mm_m3: float
    gravel_10mm_m3: float
    trace_heated: bool
    findings: tuple[Finding, ...] = ()


@quickly_made
@dataclass(frozen=True, slots=True)
class Base:
    """What the unit stands on. Sizes are zero for wall mounting."""

    type: Literal["rapid_slab", "standard_slab", "preformed", "wall_bracket"]
    length_m: float
    width_m: float
    thickness_m: float
    sub_base_m: float
    area_m2: float
    volume_m3: float
    perimeter_m: float
    dig_m3: float
    reason: str
    findings: tuple[Finding, ...] = ()


@dataclass(frozen=True, slots=True)
class LoadDemand:
    """The loads of one kind: how many, what they draw with all on, and what counts after diversity, before and after.

    After is without the new units and the new immersion heater, which are added to the sum.
    """

    kind: str
    count_before: int
    connected_before_a: float
    counted_before_a: float
    count_after: int
    connected_after_a: float
    counted_after_a: float


@quickly_made
@dataclass(frozen=True, slots=True)
class Electrical:
    """Demand before and after, cable, breaker, isolator, and what the network operator must be told.

    `demand_basis` says how the demand of today is known: as the survey has it, summed `from_loads`, or not at all.
    `loads` is the sum by kind wherever loads are listed, also where a known demand stands before it.
    """

    demand_before_a: float | None
    unit_current_a: float
    immersion_current_a: float
    demand_after_a: float | None
    cutout_a: float | None
    breaker_a: int
    cable: Cable | None
    voltage_drop_ratio: float | None
    network: Literal["notify", "apply", "not_known"]
    extension_board: bool
    bonding_needed: bool
    isolator: str
    findings: tuple[Finding, ...] = ()
    demand_basis: Literal["measured", "plate", "told", "assumed", "from_loads", "unknown"] = "unknown"
    loads: tuple[LoadDemand, ...] = ()


@quickly_made
@dataclass(frozen=True, slots=True)
class CurvePoint:
    """Flow and return temperature at one outdoor temperature."""

    outdoor_temp_c: float
    load_ratio: float
    flow_temp_c: float
    return_temp_c: float


@dataclass(frozen=True, slots=True)
class HeatingCurve:
    """Weather compensation from design conditions up to the temperature at which the load is nothing."""

    base_temp_c: float
    exponent: float
    points: tuple[CurvePoint, ...]


@quickly_made
@dataclass(frozen=True, slots=True)
class RangeTerm:
    """One assumption of the year, its span, and how much less or more electricity its ends would take."""

    code: str
    what: str
    span: str
    less_kwh: float
    more_kwh: float
    source: str


@quickly_made
@dataclass(frozen=True, slots=True)
class Performance:
    """A year of running: heat, electricity and cost, against the fuel used today.

    `low_kwh` and `high_kwh` are the electricity less and more the root of the sum of the squares of `range_terms`,
    `running_cost_low_pence` and `running_cost_high_pence` what they cost. `saving_low_pence` and `saving_high_pence`
    are what is saved against the fuel of today at the dear and at the cheap end.
    """

    degree_days_kd: float
    space_heat_kwh: float
    hot_water_kwh: float
    space_electricity_kwh: float
    hot_water_electricity_kwh: float
    electricity_kwh: float
    seasonal_ratio: float
    space_seasonal_ratio: float
    hours_below_minimum_h: float
    heat_below_minimum_ratio: float
    backup_kwh: float
    pipe_loss_kwh: float
    running_cost_pence: int
    fuel_now_kwh: float | None
    fuel_now_cost_pence: int | None
    saving_pence: int | None
    low_kwh: float
    high_kwh: float
    assumptions: tuple[str, ...]
    findings: tuple[Finding, ...] = ()
    range_terms: tuple[RangeTerm, ...] = ()
    running_cost_low_pence: int = 0
    running_cost_high_pence: int = 0
    saving_low_pence: int | None = None
    saving_high_pence: int | None = None


@quickly_made
@dataclass(frozen=True, slots=True)
class Design:
    """All answers about one house at one set of choices. Parts are None where a *stop* leaves nothing to say."""

    climate: Climate
    u_values: Mapping[str, ConstructionU]
    heat_loss: HeatLoss
    flow: FlowChoice
    emitters: EmitterSchedule
    unit: UnitChoice
    hot_water: CylinderChoice
    cylinder_space: SpaceCheck | None
    discharge: Discharge | None
    frost: FrostProtection | None
    primary: Primary | None
    volume: SystemVolume | None
    position_id: str | None
    sitings: tuple[Siting, ...]
    condensate: Condensate | None
    base: Base | None
    electrical: Electrical | None
    curve: HeatingCurve
    performance: Performance | None
