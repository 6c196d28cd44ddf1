"""How much outdoor air each room takes: by air changes, and by the standard method through envelope, fans and ducts."""

from collections.abc import Iterable

from models.design.results import RoomAir, ZoneAir
from models.physics.air_flow import outdoor_flow, room_envelope_flow, room_leak, vents_at_50pa, zone_infiltration
from models.reference import Reference
from models.reference.load import VentilationTable
from models.sources import Source, Why
from models.survey import House, Room

SOURCE = Source("domestic heating design guide", "air changes by use and age of house", "from memory")
STANDARD = Source("BS EN 12831-1:2017", "functions 15 to 31; values of Annex B", "from memory")
WHY = Why(sentence="{air_changes_per_h:g} air changes an hour, {flow_m3_per_h:.0f} m3/h: {how}", source=SOURCE)
WHY_ZONE = Why(
    sentence=(
        "{envelope_flow_m3_per_h:.0f} m3/h through {envelope_m2:.0f} m2 of envelope at {permeability_m3_per_h_m2:g} "
        "m3/h for each m2 at 50 Pa ({how}), times {volume_flow_factor_ratio:g}; fans take out "
        "{unbalanced_m3_per_h:.0f} m3/h more than they bring in"
    ),
    source=STANDARD,
)
AIR_CHANGE_TABLES = frozenset({"household_design_guide"})


class UnknownAirChangeTable(ValueError):
    """The defaults name a table of air changes that does not exist."""


def room_air(*, rooms: Iterable[Room], house: House, reference: Reference) -> dict[str, RoomAir]:
    """Outdoor air of every room by room id, in both ways of counting it.

    Air changes as surveyed, or by use and age band (age band I, 1996 to 2002, counts as before 2000, the larger
    rate). Heat recovery is handed on, not yet taken off.

    By BS EN 12831-1:2017, functions 15 to 31: the envelope is what faces outside, openings in it included; its
    permeability that of a test, else of the class of air tightness, else of the class usual at that age; unknown
    facades count as two or more; normal shielding. Flows of fans and vents that are unknown count as none
    (`flows_unknown`). Combustion air, large openings and flows from room to room are not surveyed and left out.
    Raises UnknownAirChangeTable.
    """
    if reference.defaults.air_change_table not in AIR_CHANGE_TABLES:
        raise UnknownAirChangeTable(
            f"no table of air changes '{reference.defaults.air_change_table}'; there is {', '.join(AIR_CHANGE_TABLES)}"
        )
    rooms = tuple(rooms)
    table = reference.heat_loss.ventilation
    envelopes_m2 = [_envelope_m2(room) for room in rooms]
    vents_m3_per_h = sum(_known(room.background_vents_m3_per_h) for room in rooms)
    zone = _zone(rooms, house, table, sum(envelopes_m2), vents_m3_per_h)
    at_once_ratio = table.one_room_at_once_ratio if len(rooms) == 1 else table.more_rooms_at_once_ratio
    return {
        room.id: _of_room(room, envelope_m2, zone, vents_m3_per_h, at_once_ratio, house, reference)
        for room, envelope_m2 in zip(rooms, envelopes_m2, strict=True)
    }


def _of_room(
    room: Room,
    envelope_m2: float,
    zone: ZoneAir,
    zone_vents_m3_per_h: float,
    at_once_ratio: float,
    house: House,
    reference: Reference,
) -> RoomAir:
    changes_per_h, how, assumed = _air_changes(room, house, reference)
    table = reference.heat_loss.ventilation
    volume_m3 = room.volume_m3
    vents_m3_per_h = _known(room.background_vents_m3_per_h)
    supply_m3_per_h = _known(room.supply_m3_per_h)
    extract_m3_per_h = _known(room.extract_m3_per_h)
    technical_m3_per_h = max(supply_m3_per_h, extract_m3_per_h)
    minimum_m3_per_h = table.minimum_air_change_per_h * volume_m3
    leak_m3_per_h = room_leak(
        zone_envelope_m3_per_h=zone.envelope_flow_m3_per_h,
        zone_leaks_50pa_m3_per_h=zone.permeability_m3_per_h_m2 * zone.envelope_m2,
        zone_vents_50pa_m3_per_h=zone.vents_50pa_m3_per_h,
        envelope_share_ratio=envelope_m2 / zone.envelope_m2 if envelope_m2 else 0.0,
        vents_share_ratio=vents_m3_per_h / zone_vents_m3_per_h if vents_m3_per_h else 0.0,
    )
    envelope_flow_m3_per_h = room_envelope_flow(
        zone_envelope_m3_per_h=zone.envelope_flow_m3_per_h,
        zone_additional_m3_per_h=zone.additional_infiltration_m3_per_h,
        leak_m3_per_h=leak_m3_per_h,
        direction_ratio=table.direction_ratio,
    )
    return RoomAir(
        room.id,
        changes_per_h,
        changes_per_h * volume_m3,
        room.heat_recovery_ratio,
        how,
        assumed,
        envelope_m2,
        leak_m3_per_h,
        envelope_flow_m3_per_h,
        minimum_m3_per_h,
        technical_m3_per_h,
        supply_m3_per_h,
        extract_m3_per_h,
        outdoor_flow(
            through_envelope_m3_per_h=envelope_flow_m3_per_h,
            minimum_m3_per_h=minimum_m3_per_h,
            technical_m3_per_h=technical_m3_per_h,
        ),
        outdoor_flow(
            through_envelope_m3_per_h=leak_m3_per_h,
            minimum_m3_per_h=at_once_ratio * minimum_m3_per_h,
            technical_m3_per_h=technical_m3_per_h,
        ),
        "unknown" in (room.supply_m3_per_h, room.extract_m3_per_h, room.background_vents_m3_per_h),
        zone,
    )


def _air_changes(room: Room, house: House, reference: Reference) -> tuple[float, str, bool]:
    """Air changes an hour, how they are known, and whether they were assumed."""
    if room.air_changes_per_h is not None:
        known = room.how_known("air_changes_per_h")
        return room.air_changes_per_h, f"as surveyed ({known})", known == "assumed"
    band = reference.age_bands[house.age_band]
    changes_per_h = reference.rooms[room.use].air_changes_per_h[band.air_change_column]
    how = f"{room.use.replace('_', ' ')} in a house of age band {house.age_band} ({band.years})"
    return changes_per_h, how, True


def _known(flow_m3_per_h: float | str) -> float:
    return 0.0 if isinstance(flow_m3_per_h, str) else flow_m3_per_h


def _envelope_m2(room: Room) -> float:
    total_m2 = 0.0
    for element in room.elements:
        if element.faces == "outside" and element.within is None:
            total_m2 += element.gross_area_m2
    return total_m2


def _zone(
    rooms: tuple[Room, ...], house: House, table: VentilationTable, envelope_m2: float, vents_m3_per_h: float
) -> ZoneAir:
    facades = "one_facade" if house.exposed_facades == 1 else "more_facades"
    permeability_m3_per_h_m2, how, assumed = _permeability(house, table)
    vents_50pa_m3_per_h = vents_at_50pa(
        design_m3_per_h=vents_m3_per_h, design_pa=table.vent_design_pa, exponent=table.exponent
    )
    unbalanced_m3_per_h = sum(_known(room.extract_m3_per_h) - _known(room.supply_m3_per_h) for room in rooms)
    air = zone_infiltration(
        envelope_m2=envelope_m2,
        permeability_m3_per_h_m2=permeability_m3_per_h_m2,
        vents_50pa_m3_per_h=vents_50pa_m3_per_h,
        unbalanced_m3_per_h=unbalanced_m3_per_h,
        volume_flow_factor_ratio=table.volume_flow_factor_ratio[facades],
        facade_ratio=table.facade_ratio[facades],
    )
    return ZoneAir(
        envelope_m2,
        permeability_m3_per_h_m2,
        table.volume_flow_factor_ratio[facades],
        vents_50pa_m3_per_h,
        unbalanced_m3_per_h,
        air.extract_factor_ratio,
        air.additional_m3_per_h,
        air.envelope_m3_per_h,
        how,
        assumed,
    )


def _permeability(house: House, table: VentilationTable) -> tuple[float, str, bool]:
    tested = house.air_permeability_m3_per_h_m2
    if not isinstance(tested, str):
        return tested, "pressure test", house.how_known("air_permeability_m3_per_h_m2") == "assumed"
    tightness = house.air_tightness
    if tightness != "unknown":
        how = f"class {tightness} of air tightness"
        return table.permeability_m3_per_h_m2[tightness], how, house.how_known("air_tightness") == "assumed"
    usual = table.class_by_age_band[house.age_band]
    how = f"class {usual}, usual for age band {house.age_band}; no test, no class surveyed"
    return table.permeability_m3_per_h_m2[usual], how, True
