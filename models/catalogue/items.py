"""What can be bought, with every attribute that a design question asks of it. Prices stand in `prices`."""

from typing import Annotated, Literal

from pydantic import Field

from models.units import Input

Sku = Annotated[str, Field(min_length=1, max_length=40, pattern=r"^[A-Z0-9][A-Z0-9-]*$")]
Positive = Annotated[float, Field(gt=0)]
NotNegative = Annotated[float, Field(ge=0)]


class Row(Input):
    """A catalogue row."""


class Rating(Row):
    """What a unit does at one outdoor and one flow temperature: heat out, power in, least heat out, sound power.

    Sound power in dB(A) re 1 pW (EN 12102-1). Points of a unit form a full grid of outdoor by flow temperature.
    """

    outdoor_temp_c: float
    flow_temp_c: float
    output_w: Positive
    input_w: Positive
    minimum_output_w: Positive
    sound_power_dba: Positive


class PumpPoint(Row):
    """One point of the curve of the pump inside the unit: head in Pa at a flow."""

    flow_l_per_s: NotNegative
    head_pa: NotNegative


class ZoneRecord(Row):
    """The maker's protective zone around a unit with flammable refrigerant, for one way of standing.

    `reach_m` is the horizontal extent from the case to each side, `above_top_m` how far it rises over the top of
    the case (0: it ends at the top); downwards it always reaches the ground and follows it.
    """

    against: Literal["free_standing", "wall", "corner"]
    mount: Literal["ground", "wall"]
    reach_m: NotNegative
    above_top_m: NotNegative
    below_mounting_m: NotNegative = 0.0


class OutdoorUnit(Row):
    """An outdoor air-to-water unit."""

    sku: Sku
    name: str
    ratings: Annotated[tuple[Rating, ...], Field(min_length=4)]
    defrost_included: bool
    pump_curve: Annotated[tuple[PumpPoint, ...], Field(min_length=2)]
    own_loss_pa: NotNegative
    nominal_flow_l_per_s: Positive
    minimum_flow_l_per_s: Positive
    maximum_flow_l_per_s: Positive
    minimum_volume_l: NotNegative
    connection_od_mm: int
    width_mm: int
    depth_mm: int
    height_mm: int
    mass_kg: Positive
    clear_back_mm: int
    clear_left_mm: int
    clear_right_mm: int
    clear_front_mm: int
    clear_above_mm: int
    refrigerant: str
    charge_kg: NotNegative
    water_l: NotNegative
    zones: tuple[ZoneRecord, ...] = ()
    wall_bracket_allowed: bool
    cascade_allowed: bool
    phases: Literal["single", "three"]
    maximum_current_a: Positive
    breaker_a: int
    condensate_l_per_day: Positive


class Cylinder(Row):
    """An unvented hot-water cylinder with a coil. `relief_outlet` is that of its temperature relief valve.

    `standing_loss_kwh_per_day` is as the maker declares it to BS EN 12897: at 65 °C in air of 20 °C.
    """

    sku: Sku
    name: str
    volume_l: Positive
    coil_area_m2: Positive
    coil_volume_l: NotNegative
    standing_loss_kwh_per_day: NotNegative
    diameter_mm: int
    height_mm: int
    top_clearance_mm: int
    mass_dry_kg: Positive
    mass_full_kg: Positive
    relief_outlet: Literal["G1/2", "G3/4", "G1"]
    inlet_group_included: bool
    immersion_w: Positive


class EmitterProduct(Row):
    """An emitter that can be bought. Output at 50 K excess temperature to EN 442-2."""

    sku: Sku
    name: str
    kind: Literal["panel", "column", "towel_rail", "fan_assisted"]
    type: str
    height_mm: int
    length_mm: int
    depth_mm: int
    output_50k_w: Positive
    exponent: Annotated[float, Field(ge=1, le=1.6)]
    water_l: NotNegative


class Cable(Row):
    """A cable size: current it carries by method, and its voltage drop. Figures of BS 7671 Appendix 4 from memory."""

    sku: Sku
    size_mm2: Positive
    clipped_a: Positive
    buried_a: Positive
    in_insulation_a: Positive
    drop_mv_per_a_m: Positive


class Vessel(Row):
    """An expansion vessel for heating water, or one for drinking water."""

    sku: Sku
    volume_l: Positive
    for_water: Literal["heating", "drinking"]


class PipeInsulation(Row):
    """Insulation of a heating pipe by outside diameter of the tube."""

    sku: Sku
    od_mm: int
    place: Literal["outside", "inside"]
    thickness_mm: Positive
    conductivity_w_per_mk: Positive


class Volumiser(Row):
    """A vessel that adds always-open water to the circuit."""

    sku: Sku
    volume_l: Positive


class Catalogue(Row):
    """Everything that the design may choose from."""

    outdoor_units: tuple[OutdoorUnit, ...]
    cylinders: tuple[Cylinder, ...]
    emitters: tuple[EmitterProduct, ...]
    cables: tuple[Cable, ...]
    vessels: tuple[Vessel, ...]
    pipe_insulation: tuple[PipeInsulation, ...]
    volumisers: tuple[Volumiser, ...]
