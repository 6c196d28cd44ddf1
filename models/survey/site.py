"""Outdoors and the supply: where a unit could stand, who lives nearby, what the ground and the cut-out are."""

from collections.abc import Sequence
from decimal import Decimal
from typing import Annotated, Literal

from pydantic import Field, StringConstraints

from models.survey.part import Id, Name, Part, Remark, YesNoUnknown
from models.units import ClearanceMm, Count, DistanceM, RouteM, Unknown

Ground = Literal["sand_or_gravel", "loam", "clay", "rubble_or_rock", "unknown"]


class Opening(Part):
    """Something that the protective zone of a flammable refrigerant must not reach, or that could ignite it.

    `distance_m` is the shortest horizontal distance from the unit's case; `height_m` that of its lowest edge
    above the ground at the unit.
    """

    what: Literal[
        "window", "door", "air_brick", "vent", "roof_window", "drain", "gully", "light_well", "basement_opening",
        "flue", "socket", "light_fitting", "other_ignition",
    ]
    name: Name
    distance_m: DistanceM
    height_m: Annotated[float, Field(ge=-10, le=30)] = 0.0


def told_apart(names: Sequence[str]) -> tuple[str, ...]:
    """The names, with a number behind each that stood before: two windows called alike are two windows."""
    seen: dict[str, int] = {}
    apart = []
    for name in names:
        seen[name] = seen.get(name, 0) + 1
        apart.append(name if seen[name] == 1 else f"{name} ({seen[name]})")
    return tuple(apart)


class NeighbourWindow(Part):
    """A window of a neighbour's habitable room, seen from the unit. `height_m` is that of its middle."""

    name: Name
    distance_m: Annotated[float, Field(ge=0.01, le=500)]
    height_m: Annotated[float, Field(ge=-10, le=60)] = 1.5
    view: Literal["in_sight", "partly_hidden", "hidden"] = "in_sight"


class Isolator(Part):
    """Where the electrical isolator of the unit is to go."""

    distance_m: Annotated[float, Field(ge=0, le=50)]
    height_m: Annotated[float, Field(ge=0, le=5)]
    in_sight_and_reach: YesNoUnknown = "unknown"


class Position(Part):
    """A place where an outdoor unit could stand or hang.

    `reflecting_surfaces` counts the planes that throw sound back: 1 the ground alone, 2 a wall as well, 3 a corner.
    The three route lengths are one way and separate: outside, buried, inside. `mount_height_m` is the height of the
    lower edge of a wall-mounted unit above the ground.
    """

    id: Id
    name: Name
    mount: Literal["ground", "wall"] = "ground"
    against: Literal["free_standing", "wall", "corner"] = "wall"
    wall: Literal["masonry", "timber_frame", "other", "unknown"] = "unknown"
    stone_wall: bool = False
    clear_back_mm: ClearanceMm
    clear_left_mm: ClearanceMm
    clear_right_mm: ClearanceMm
    clear_front_mm: ClearanceMm
    clear_above_mm: ClearanceMm = 10000
    reflecting_surfaces: Annotated[int, Field(ge=1, le=3)]
    openings: tuple[Opening, ...] = ()
    windows: tuple[NeighbourWindow, ...] = ()
    boundary_m: DistanceM | Unknown = "unknown"
    path_m: DistanceM | Unknown = "unknown"
    faces_highway: YesNoUnknown = "unknown"
    ground: Ground = "unknown"
    water_table: Literal["low", "high", "unknown"] = "unknown"
    percolation: Literal["passes", "fails", "unknown"] = "unknown"
    frost_depth_mm: Annotated[int, Field(ge=0, le=1500)] | Unknown = "unknown"
    slope_ratio: Annotated[float, Field(ge=0, le=1)] = 0.0
    route_outside_m: RouteM
    route_buried_m: RouteM = 0.0
    route_inside_m: RouteM
    changes_outside: Count = 0
    changes_inside: Count = 0
    penetrations: Annotated[int, Field(ge=1, le=20)] = 1
    isolator: Isolator | None = None
    condensate_to: Literal["soakaway", "gully", "unknown"] = "unknown"
    condensate_run_m: RouteM = 0.0
    carry_m: RouteM = 0.0
    notes: Remark = ""
    mount_height_m: Annotated[float, Field(ge=0, le=20)] | Unknown = "unknown"


LoadKind = Literal[
    "lighting", "sockets", "cooker", "shower", "immersion", "water_heater", "storage_heater", "fixed_heating",
    "floor_warming", "electric_boiler", "heat_pump", "ev_charger", "other",
]  # fmt: skip


class Load(Part):
    """What draws from the supply today: `count` alike. Either figure is enough; the power of the plate comes first.

    `rated_kw` is of one; `breaker_a` the rating of its fuse or breaker. `goes` where it is taken out with these works.
    `control_socket` is a socket outlet in a cooker's control unit; `limited` a charge point that gives way to the rest
    of the house before the cut-out is overloaded.
    """

    kind: LoadKind
    name: Annotated[str, StringConstraints(strip_whitespace=True, max_length=120)] = ""
    count: Annotated[int, Field(ge=1, le=40)] = 1
    rated_kw: Annotated[float, Field(gt=0, le=50)] | None = None
    breaker_a: Annotated[float, Field(gt=0, le=125)] | None = None
    goes: bool = False
    control_socket: bool = False
    limited: bool = False


class Supply(Part):
    """The electrical supply as seen at the meter and the consumer unit.

    `loads` are for a house where nobody measured the demand of today: it is summed from them with diversity.
    """

    phases: Literal["single", "three", "unknown"] = "unknown"
    cutout_a: Annotated[float, Field(ge=20, le=400)] | Unknown = "unknown"
    looped: YesNoUnknown = "unknown"
    earthing: Literal["tn_s", "tn_c_s", "tt", "unknown"] = "unknown"
    bonding_sound: YesNoUnknown = "unknown"
    spare_ways: Annotated[int, Field(ge=0, le=40)] | Unknown = "unknown"
    demand_before_a: Annotated[float, Field(ge=0, le=400)] | Unknown = "unknown"
    cable_route_m: RouteM
    cable_method: Literal["clipped", "buried", "in_insulation", "unknown"] = "unknown"
    loads: tuple[Load, ...] = ()


PencePerKwh = Annotated[Decimal, Field(ge=0, le=500, max_digits=8, decimal_places=3)]


class Tariffs(Part):
    """What the household pays for a unit of energy, pence a kilowatt-hour."""

    electricity_pence_per_kwh: PencePerKwh
    fuel_pence_per_kwh: PencePerKwh | Unknown = "unknown"


class Hazard(Part):
    """Something that can hurt someone who works here, or that must be tested before work."""

    kind: Literal["asbestos", "lead_pipe", "buried_services", "work_at_height", "other"]
    where: Name
    samples: Count = 0


class Photo(Part):
    """A photograph by name; its bytes are kept elsewhere."""

    name: Name
    about: Remark = ""
