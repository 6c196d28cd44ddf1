"""Rooms: their size, what bounds them, the emitters in them and the wall spaces where another could hang."""

from typing import Annotated, Literal

from pydantic import Field

from models.survey.part import Id, Name, Part, Remark, YesNoUnknown
from models.units import SHORTEST_M, AirChangesPerH, AreaM2, HeightM, LengthM, Ratio, RoomTempC, RouteM, SizeMm, Unknown

RoomUse = Literal[
    "living", "dining", "kitchen", "bedroom", "bathroom", "shower_room", "toilet", "hall", "landing", "study",
    "utility", "storage", "other", "conservatory",
]
ElementKind = Literal["wall", "window", "door", "roof_window", "floor", "ceiling", "roof"]
Faces = Literal["outside", "ground", "neighbour", "unheated", "room"]
UnheatedSpace = Literal[
    "room_1_external_wall", "room_2_external_walls", "room_2_external_walls_with_door", "room_3_external_walls",
    "basement_without_openings", "basement_with_openings", "roof_space_highly_vented", "roof_space_uninsulated",
    "roof_space_insulated", "internal_circulation", "vented_circulation", "crawl_space", "conservatory",
]
EmitterKind = Literal["panel", "column", "towel_rail", "fan_assisted", "floor_heating"]


class Element(Part):
    """A flat piece of what bounds a room.

    Its size is `area_m2`, or `length_m` times `height_m` (of one of `count` alike). `within` names the wall, roof
    or floor that an opening is cut from: the engine subtracts, the survey gives the whole wall. An inner wall,
    floor or ceiling that faces another heated room stands in *one* of the two rooms and names the other one in
    `beside_room`. `space` is the kind of the unheated space.
    """

    id: Id
    kind: ElementKind
    faces: Faces
    construction: Id
    area_m2: AreaM2 | None = None
    length_m: LengthM | None = None
    height_m: Annotated[float, Field(ge=SHORTEST_M, le=15)] | None = None
    count: Annotated[int, Field(ge=1, le=50)] = 1
    within: Id | None = None
    beside_room: Id | None = None
    space: UnheatedSpace | None = None

    @property
    def gross_area_m2(self) -> float:
        """Area of all `count` pieces before openings are taken off, m2."""
        one = self.area_m2 if self.area_m2 is not None else (self.length_m or 0.0) * (self.height_m or 0.0)
        return one * self.count


class Emitter(Part):
    """An emitter that hangs or lies in the room today.

    `output_50k_w` is the rated output at 50 K excess temperature (EN 442-2) and `exponent` its characteristic;
    unknown output is estimated from kind and size and counted as assumed.

    Of floor heating only: `pipe_spacing_mm` from pipe to pipe, `screed_mm` above the pipes, `covering_m2k_per_w` of
    what lies on the screed; with all three the output is that of BS EN 1264-2. `mixing_valve` says whether a valve
    keeps its water cooler than that of the radiators. `customer_supplies` is an emitter that the customer brings and
    the firm hangs. `loop_place` is its place on a single-pipe loop, 1 the first after the boiler.
    """

    id: Id
    kind: EmitterKind
    type: Annotated[str, Field(max_length=40)] = ""
    height_mm: SizeMm | None = None
    length_mm: SizeMm | None = None
    output_50k_w: Annotated[float, Field(ge=1, le=20000)] | Unknown = "unknown"
    exponent: Annotated[float, Field(ge=1.0, le=1.6)] = 1.3
    water_l: Annotated[float, Field(ge=0, le=500)] | Unknown = "unknown"
    tail_mm: Annotated[int, Field(ge=6, le=42)] | Unknown = "unknown"
    valves: Literal["thermostatic", "manual", "seized", "none", "unknown"] = "unknown"
    condition: Literal["sound", "leaking", "corroded", "unknown"] = "unknown"
    keep_wish: bool = False
    pipe_spacing_mm: Annotated[int, Field(ge=50, le=600)] | Unknown = "unknown"
    covering_m2k_per_w: Annotated[float, Field(ge=0, le=1)] | Unknown = "unknown"
    screed_mm: Annotated[int, Field(ge=5, le=200)] | Unknown = "unknown"
    mixing_valve: YesNoUnknown = "unknown"
    customer_supplies: bool = False
    loop_place: Annotated[int, Field(ge=1, le=100)] | None = None


class WallSpace(Part):
    """A stretch of wall where an emitter hangs or could hang.

    `emitter` names the one that hangs there now. `run_m` is the one-way pipe run from the nearest flow and return;
    "assumed" where the layout under the floor was not seen.
    """

    id: Id
    length_mm: SizeMm
    height_mm: SizeMm
    depth_mm: SizeMm = 110
    emitter: Id | None = None
    run_m: RouteM | Literal["assumed"] = "assumed"


AirFlow = Annotated[float, Field(ge=0, le=2000)] | Unknown


class Room(Part):
    """A room that is to be heated. `storey` counts from 0 at the ground floor.

    `extract_m3_per_h` and `supply_m3_per_h` are what fans and ducts move for as long as it is cold, not a fan that
    runs with the light; `background_vents_m3_per_h` is what the vents in windows and walls are rated for at 4 Pa.
    `height_m` is that of the highest point; where the ceiling slopes `mean_height_m` is the air volume over the floor
    area. `dwelling_part` says whether the room belongs to the house or to its annexe. `fan_accepted` says whether the
    household accepts a convector with a fan here; unknown leaves it to the rule of the estimate.
    """

    id: Id
    name: Name
    use: RoomUse
    storey: Annotated[int, Field(ge=-1, le=6)] = 0
    length_m: LengthM
    width_m: LengthM
    height_m: HeightM
    wanted_temp_c: RoomTempC | None = None
    air_changes_per_h: AirChangesPerH | None = None
    heat_recovery_ratio: Ratio = 0.0
    elements: tuple[Element, ...] = ()
    emitters: tuple[Emitter, ...] = ()
    wall_spaces: tuple[WallSpace, ...] = ()
    has_sensor: bool = False
    floor_must_be_lifted: bool = False
    notes: Remark = ""
    extract_m3_per_h: AirFlow = 0.0
    supply_m3_per_h: AirFlow = 0.0
    background_vents_m3_per_h: AirFlow = 0.0
    mean_height_m: HeightM | None = None
    dwelling_part: Literal["main", "annexe"] = "main"
    fan_accepted: YesNoUnknown = "unknown"

    @property
    def floor_area_m2(self) -> float:
        """Floor area, m2."""
        return self.length_m * self.width_m

    @property
    def volume_m3(self) -> float:
        """Air volume, m3."""
        height_m = self.height_m if self.mean_height_m is None else self.mean_height_m
        return self.length_m * self.width_m * height_m
