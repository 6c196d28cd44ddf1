"""What heats the house and its water today, what the main gives, and where a cylinder could stand."""

from typing import Annotated, Literal

from pydantic import Field

from models.survey.part import Id, Name, Part, Remark, YesNoUnknown
from models.units import Count, FlowTempC, Ratio, RouteM, SizeMm, Unknown

Fuel = Literal["mains_gas", "oil", "lpg", "coal", "wood", "electric", "heat_pump", "hybrid", "none"]
FuelUnit = Literal["kwh", "litre", "kg", "m3"]


class LoftTank(Part):
    """A cold storage or feed-and-expansion tank that would come out."""

    name: Name
    volume_l: Annotated[float, Field(gt=0, le=2000)]
    remove: bool = True


class Pipework(Part):
    """The heating pipes that stay."""

    main_mm: Annotated[int, Field(ge=10, le=54)] | Unknown = "unknown"
    branch_mm: Annotated[int, Field(ge=6, le=35)] | Unknown = "unknown"
    material: Literal["copper", "steel", "plastic", "mixed", "unknown"] = "unknown"
    layout: Literal["two_pipe", "single_pipe", "manifold", "unknown"] = "unknown"
    longest_run_m: RouteM | Literal["assumed"] = "assumed"


class OldCylinder(Part):
    """The cylinder that is there now. `same_place` where the new one goes into its cupboard."""

    kind: Literal["vented", "unvented", "thermal_store"]
    volume_l: Annotated[float, Field(gt=0, le=1000)] | Unknown = "unknown"
    same_place: bool = True
    scrap_to_firm: bool = True


class ExistingSystem(Part):
    """The heating that is replaced. `fuel_used` is the amount of a whole year, in `fuel_unit`.

    `flow_temp_c` is what kept the house warm in the coldest weather that the household remembers.
    """

    fuel: Fuel
    fuel_used: Annotated[float, Field(ge=0, le=1_000_000)] | Unknown = "unknown"
    fuel_unit: FuelUnit = "kwh"
    boiler: Literal["combi", "regular", "system", "back_boiler", "range_cooker", "none", "unknown"] = "unknown"
    boiler_output_kw: Annotated[float, Field(gt=0, le=200)] | Unknown = "unknown"
    boiler_efficiency_ratio: Ratio | Unknown = "unknown"
    circuit: Literal["open_vented", "sealed", "unknown"] = "unknown"
    loft_tanks: tuple[LoftTank, ...] = ()
    pipework: Pipework = Field(default_factory=Pipework)
    cylinder: OldCylinder | None = None
    pump_head_m: Annotated[float, Field(ge=0, le=15)] | Unknown = "unknown"
    sludge_mg_per_l: Annotated[float, Field(ge=0, le=20000)] | Unknown = "unknown"
    oil_tank_goes: bool = False
    other_heater: Literal["none", "stove", "open_fire", "range_cooker", "electric", "unknown"] = "unknown"
    flow_temp_c: FlowTempC | Unknown = "unknown"


class HotWater(Part):
    """How hot water is used and what the cold main can give."""

    baths: Count = 1
    showers: Count = 1
    power_showers: Count = 0
    use: Literal["low", "usual", "high"] = "usual"
    static_pressure_bar: Annotated[float, Field(ge=0, le=16)] | Unknown = "unknown"
    dynamic_pressure_bar: Annotated[float, Field(ge=0, le=16)] | Unknown = "unknown"
    main_flow_l_per_min: Annotated[float, Field(ge=0, le=200)] | Unknown = "unknown"
    main_upgrade_m: RouteM = 0.0
    hardness_mg_per_l: Annotated[float, Field(ge=0, le=1000)] | Unknown = "unknown"
    softened: YesNoUnknown = "unknown"
    stopcock_sound: YesNoUnknown = "unknown"


class CylinderPlace(Part):
    """Where a cylinder could stand, the way in and the way out for its relief discharge."""

    name: Name
    room: Id | None = None
    width_mm: SizeMm
    depth_mm: SizeMm
    height_mm: SizeMm
    door_width_mm: SizeMm
    floor: Literal["solid", "timber", "unknown"] = "unknown"
    floor_limit_kg: Annotated[float, Field(gt=0, le=5000)] | Unknown = "unknown"
    discharge_run_m: RouteM | Unknown = "unknown"
    discharge_bends: Count = 0
    discharge_falls: YesNoUnknown = "unknown"
    discharge_to: Literal["gully", "low_level_outside", "soil_stack", "unknown"] = "unknown"
    notes: Remark = ""
