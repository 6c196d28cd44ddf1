"""The house as a whole: where it stands, what it is, what it is built of."""

from typing import Annotated, Literal

from pydantic import Field, model_validator

from models.survey.part import Id, Name, Part, YesNoUnknown
from models.units import SHORTEST_M, AreaM2, Ratio, RouteM, Unknown, UWPerM2K

Nation = Literal["england", "wales", "scotland", "northern_ireland"]
DwellingType = Literal["detached", "semi_detached", "end_terrace", "mid_terrace", "bungalow", "flat"]
Tenure = Literal["owner", "leasehold", "private_rented", "social_rented"]
AgeBand = Literal["A", "B", "C", "D", "E", "F", "G", "H", "I", "J", "K", "L", "M"]


class Annexe(Part):
    """A second dwelling or part that the same heating serves. The route is that of its heating pipes, one way.

    `route_m` is nought where it stands under the same roof and its emitters hang on the pipes of the house.
    """

    name: Name
    route_m: RouteM = 0.0
    own_meter: YesNoUnknown = "unknown"
    own_zone: YesNoUnknown = "unknown"


class House(Part):
    """What holds for the whole dwelling.

    `weather_station` is a row of the table of design temperatures; `climate_region` a region of SAP Appendix U
    Table U1 (0 to 21). `age_band` is the RdSAP band of England and Wales. `slab_area_m2` and
    `exposed_perimeter_m` describe the ground floor as EN ISO 13370 wants it. `air_permeability_m3_per_h_m2` is the
    result of a pressure test at 50 Pa; without one `air_tightness` is the class of BS EN 12831-1. `exposed_facades`
    counts the sides of the house that the wind reaches.
    """

    nation: Nation
    place: Name
    altitude_m: Annotated[float, Field(ge=-10, le=1400)]
    weather_station: Name
    climate_region: Annotated[int, Field(ge=0, le=21)]
    dwelling_type: DwellingType
    tenure: Tenure = "owner"
    age_band: AgeBand
    storeys: Annotated[int, Field(ge=1, le=6)]
    bedrooms: Annotated[int, Field(ge=0, le=20)]
    occupants: Annotated[int, Field(ge=1, le=30)]
    on_gas_grid: YesNoUnknown = "unknown"
    listed: YesNoUnknown = "unknown"
    conservation_area: YesNoUnknown = "unknown"
    energy_certificate_valid: YesNoUnknown = "unknown"
    often_empty: YesNoUnknown = "unknown"
    power_cuts: Literal["rare", "frequent", "unknown"] = "unknown"
    slab_area_m2: AreaM2
    exposed_perimeter_m: Annotated[float, Field(ge=SHORTEST_M, le=500)]
    slab_wall_thickness_mm: Annotated[int, Field(ge=50, le=1500)] = 300
    ground_conductivity_w_per_mk: Annotated[float, Field(ge=0.5, le=4)] = 1.5
    air_tightness: Literal["I", "II", "III", "IV"] | Unknown = "unknown"
    air_permeability_m3_per_h_m2: Annotated[float, Field(ge=0.01, le=50)] | Unknown = "unknown"
    exposed_facades: Annotated[int, Field(ge=1, le=4)] | Unknown = "unknown"
    annexe: Annexe | None = None


class LayerPath(Part):
    """One material side by side with others in a layer: its share of the area, thickness and conductivity."""

    share_ratio: Annotated[float, Field(ge=0.0001, le=1)] = 1.0
    thickness_mm: Annotated[float, Field(ge=0.001, le=2000)] | None = None
    conductivity_w_per_mk: Annotated[float, Field(gt=0.005, le=500)] | None = None
    resistance_m2k_per_w: Annotated[float, Field(ge=0, le=50)] | None = None

    @model_validator(mode="after")
    def _one_way_of_saying_it(self) -> "LayerPath":
        by_material = self.thickness_mm is not None and self.conductivity_w_per_mk is not None
        by_resistance = self.resistance_m2k_per_w is not None
        if by_material == by_resistance:
            raise ValueError("a layer has either a thickness and a conductivity, or a resistance")
        return self


class Layer(Part):
    """One layer of a construction, inside to outside; several paths where it is bridged (studs, joists)."""

    name: Name
    paths: Annotated[tuple[LayerPath, ...], Field(min_length=1, max_length=4)]

    @model_validator(mode="after")
    def _shares_fill_the_layer(self) -> "Layer":
        total = sum(path.share_ratio for path in self.paths)
        if abs(total - 1) > 1e-6:
            raise ValueError(f"the shares of the layer add up to {total:g}, they must add up to 1")
        return self


class ByU(Part):
    """A construction of which the U-value itself is known."""

    by: Literal["u_value"]
    id: Id
    name: Name
    u_w_per_m2k: UWPerM2K


class ByLayers(Part):
    """A construction known by its layers; U by BS EN ISO 6946."""

    by: Literal["layers"]
    id: Id
    name: Name
    heat_flow: Literal["horizontal", "up", "down"] = "horizontal"
    outside_surface: Literal["outside_air", "inside_air"] = "outside_air"
    layers: Annotated[tuple[Layer, ...], Field(min_length=1, max_length=20)]


class ByTable(Part):
    """A construction looked up: a wall by kind and the house's age band, or an element row by its description.

    `table` is `wall_by_age` (row: solid_brick, cavity, filled_cavity, timber_frame, system_built or cob),
    `stone_by_thickness` (row: granite_or_whinstone, sandstone_or_limestone) or `element` (row: its description).
    """

    by: Literal["table"]
    id: Id
    name: Name
    table: Literal["wall_by_age", "stone_by_thickness", "element"]
    row: Name
    thickness_mm: Annotated[int, Field(ge=50, le=1500)] | None = None
    dry_lined: bool = False


class GroundSlab(Part):
    """A solid floor on the ground; U by EN ISO 13370 from the house's slab and the insulation's resistance."""

    by: Literal["ground_slab"]
    id: Id
    name: Name
    insulation_m2k_per_w: Annotated[float, Field(ge=0, le=15)] = 0.0


class SuspendedFloor(Part):
    """A suspended timber floor over a vented void; U by the RdSAP form of EN ISO 13370."""

    by: Literal["suspended_floor"]
    id: Id
    name: Name
    insulation_m2k_per_w: Annotated[float, Field(ge=0, le=15)] = 0.2
    floor_above_ground_m: Annotated[float, Field(ge=0, le=3)] = 0.3
    vent_area_m2_per_m: Annotated[float, Field(ge=0, le=0.05)] = 0.003
    void_wall_u_w_per_m2k: UWPerM2K = 1.5
    wind_speed_m_per_s: Annotated[float, Field(ge=0, le=15)] = 5.0
    wind_shielding_ratio: Ratio = 0.05


class BasementFloor(Part):
    """The floor of a heated basement, `depth_m` below the ground outside; U by EN ISO 13370 from the house's slab."""

    by: Literal["basement_floor"]
    id: Id
    name: Name
    depth_m: Annotated[float, Field(ge=SHORTEST_M, le=5)]
    insulation_m2k_per_w: Annotated[float, Field(ge=0, le=15)] = 0.0


class BasementWall(Part):
    """A wall of a heated basement against earth; its resistance without surfaces, of the wall and its insulation.

    `floor_insulation_m2k_per_w` is that of the basement's floor, which the heat of the wall's foot goes round.
    """

    by: Literal["basement_wall"]
    id: Id
    name: Name
    depth_m: Annotated[float, Field(ge=SHORTEST_M, le=5)]
    resistance_m2k_per_w: Annotated[float, Field(ge=0, le=15)] = 0.3
    floor_insulation_m2k_per_w: Annotated[float, Field(ge=0, le=15)] = 0.0


Construction = Annotated[
    ByU | ByLayers | ByTable | GroundSlab | SuspendedFloor | BasementFloor | BasementWall, Field(discriminator="by")
]
