"""The U-value of what lies on the ground, over a vented void or in the earth: floors, and walls of a basement."""

from collections.abc import Iterable

from models.design.results import ConstructionU
from models.physics.conduction import basement_floor, basement_wall, floor_over_void, slab_on_ground
from models.reference import Reference
from models.sources import Source, Why
from models.survey import BasementFloor, BasementWall, Construction, GroundSlab, House, SuspendedFloor

SOURCE = Source("EN ISO 13370", "7.1 and 8.1, slab on ground")
SUSPENDED = Source("RdSAP 2012", "S5.5, suspended floor after EN ISO 13370", "from memory")
BASEMENT = Source("EN ISO 13370", "heated basement", "from memory")
WHY = Why(sentence="{u_w_per_m2k:.2f} W/m2K: {how}", source=SOURCE)


def ground_floors(
    *, constructions: Iterable[Construction], house: House, reference: Reference
) -> dict[str, ConstructionU]:
    """U-value of each solid or suspended ground floor, and of the floors and walls of a basement, by construction id.

    EN ISO 13370 for solid floors and heated basements, to the ground; the RdSAP form of it for suspended floors,
    through the void to outdoor air. Area, exposed perimeter, wall thickness and the ground's conductivity are the
    house's.
    """
    found = {}
    for construction in constructions:
        if isinstance(construction, GroundSlab):
            found[construction.id] = _slab(construction, house, reference)
        elif isinstance(construction, SuspendedFloor):
            found[construction.id] = _suspended(construction, house, reference)
        elif isinstance(construction, BasementFloor):
            found[construction.id] = _basement_floor(construction, house, reference)
        elif isinstance(construction, BasementWall):
            found[construction.id] = _basement_wall(construction, house, reference)
    return found


def _slab(construction: GroundSlab, house: House, reference: Reference) -> ConstructionU:
    surfaces = reference.heat_loss.surface_resistance_m2k_per_w
    floor = slab_on_ground(
        area_m2=house.slab_area_m2,
        exposed_perimeter_m=house.exposed_perimeter_m,
        wall_thickness_m=house.slab_wall_thickness_mm / 1000,
        insulation_m2k_per_w=construction.insulation_m2k_per_w,
        ground_conductivity_w_per_mk=house.ground_conductivity_w_per_mk,
        inside_surface_m2k_per_w=surfaces["inside_down"],
        outside_surface_m2k_per_w=surfaces["outside"],
    )
    compared = "not less than" if floor.deep else "less than"
    return ConstructionU(
        construction.id,
        floor.u_w_per_m2k,
        f"{construction.name}: {house.slab_area_m2:g} m2 of floor with {house.exposed_perimeter_m:g} m of edge, "
        f"B' {floor.characteristic_m:.2f} m; {construction.insulation_m2k_per_w:g} m2K/W of insulation and walls of "
        f"{house.slab_wall_thickness_mm} mm count as {floor.equivalent_thickness_m:.2f} m of ground, "
        f"{compared} B'",
        SOURCE,
        construction.how_known("insulation_m2k_per_w") == "assumed",
    )


def _suspended(construction: SuspendedFloor, house: House, reference: Reference) -> ConstructionU:
    surfaces = reference.heat_loss.surface_resistance_m2k_per_w
    floor = floor_over_void(
        area_m2=house.slab_area_m2,
        exposed_perimeter_m=house.exposed_perimeter_m,
        wall_thickness_m=house.slab_wall_thickness_mm / 1000,
        insulation_m2k_per_w=construction.insulation_m2k_per_w,
        floor_above_ground_m=construction.floor_above_ground_m,
        vent_area_m2_per_m=construction.vent_area_m2_per_m,
        void_wall_u_w_per_m2k=construction.void_wall_u_w_per_m2k,
        wind_speed_m_per_s=construction.wind_speed_m_per_s,
        wind_shielding_ratio=construction.wind_shielding_ratio,
        ground_conductivity_w_per_mk=house.ground_conductivity_w_per_mk,
        inside_surface_m2k_per_w=surfaces["inside_down"],
        outside_surface_m2k_per_w=surfaces["outside"],
    )
    return ConstructionU(
        construction.id,
        floor.u_w_per_m2k,
        f"{construction.name}: {house.slab_area_m2:g} m2 of floor with {house.exposed_perimeter_m:g} m of edge, "
        f"B' {floor.characteristic_m:.2f} m; the ground under it {floor.ground_u_w_per_m2k:.2f} W/m2K, the vented void "
        f"{floor.void_u_w_per_m2k:.2f} W/m2K, {construction.insulation_m2k_per_w:g} m2K/W in the floor",
        SUSPENDED,
        construction.how_known("insulation_m2k_per_w") == "assumed",
    )


def _basement_floor(construction: BasementFloor, house: House, reference: Reference) -> ConstructionU:
    surfaces = reference.heat_loss.surface_resistance_m2k_per_w
    floor = basement_floor(
        area_m2=house.slab_area_m2,
        exposed_perimeter_m=house.exposed_perimeter_m,
        depth_m=construction.depth_m,
        wall_thickness_m=house.slab_wall_thickness_mm / 1000,
        insulation_m2k_per_w=construction.insulation_m2k_per_w,
        ground_conductivity_w_per_mk=house.ground_conductivity_w_per_mk,
        inside_surface_m2k_per_w=surfaces["inside_down"],
        outside_surface_m2k_per_w=surfaces["outside"],
    )
    return ConstructionU(
        construction.id,
        floor.u_w_per_m2k,
        f"{construction.name}: {construction.depth_m:g} m below ground, B' {floor.characteristic_m:.2f} m; "
        f"{construction.insulation_m2k_per_w:g} m2K/W of insulation and walls of {house.slab_wall_thickness_mm} mm "
        f"count as {floor.equivalent_thickness_m:.2f} m of ground",
        BASEMENT,
        construction.how_known("insulation_m2k_per_w") == "assumed",
    )


def _basement_wall(construction: BasementWall, house: House, reference: Reference) -> ConstructionU:
    surfaces = reference.heat_loss.surface_resistance_m2k_per_w
    wall = basement_wall(
        depth_m=construction.depth_m,
        floor_wall_thickness_m=house.slab_wall_thickness_mm / 1000,
        floor_insulation_m2k_per_w=construction.floor_insulation_m2k_per_w,
        resistance_m2k_per_w=construction.resistance_m2k_per_w,
        ground_conductivity_w_per_mk=house.ground_conductivity_w_per_mk,
        floor_surface_m2k_per_w=surfaces["inside_down"],
        inside_surface_m2k_per_w=surfaces["inside_horizontal"],
        outside_surface_m2k_per_w=surfaces["outside"],
    )
    return ConstructionU(
        construction.id,
        wall.u_w_per_m2k,
        f"{construction.name}: down to {construction.depth_m:g} m below ground; "
        f"{construction.resistance_m2k_per_w:g} m2K/W counts as {wall.equivalent_thickness_m:.2f} m of ground",
        BASEMENT,
        construction.how_known("resistance_m2k_per_w") == "assumed",
    )
