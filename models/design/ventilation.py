"""How much outdoor air each room takes: the survey's air changes, else those of the room's use and age of the house."""

from collections.abc import Iterable

from models.design.results import RoomAir
from models.reference import Reference
from models.sources import Source, Why
from models.survey import House, Room

SOURCE = Source("domestic heating design guide", "air changes by use and age of house", "from memory")
WHY = Why(sentence="{air_changes_per_h:g} air changes an hour, {flow_m3_per_h:.0f} m3/h: {how}", source=SOURCE)
AIR_CHANGE_TABLES = frozenset({"household_design_guide"})


class UnknownAirChangeTable(ValueError):
    """The defaults name a table of air changes that does not exist."""


def room_air(*, rooms: Iterable[Room], house: House, reference: Reference) -> dict[str, RoomAir]:
    """Outdoor air of every room by room id.

    Air changes as surveyed, or by use and age band (age band I, 1996 to 2002, counts as before 2000, the larger
    rate). Heat recovery is handed on, not yet taken off. Raises UnknownAirChangeTable.
    """
    if reference.defaults.air_change_table not in AIR_CHANGE_TABLES:
        raise UnknownAirChangeTable(
            f"no table of air changes '{reference.defaults.air_change_table}'; there is {', '.join(AIR_CHANGE_TABLES)}"
        )
    column = reference.age_bands[house.age_band].air_change_column
    years = reference.age_bands[house.age_band].years
    found = {}
    for room in rooms:
        surveyed = room.air_changes_per_h
        if surveyed is None:
            changes_per_h = reference.rooms[room.use].air_changes_per_h[column]
            how = f"{room.use.replace('_', ' ')} in a house of age band {house.age_band} ({years})"
            assumed = True
        else:
            changes_per_h = surveyed
            known = room.how_known("air_changes_per_h")
            how = f"as surveyed ({known})"
            assumed = known == "assumed"
        found[room.id] = RoomAir(
            room.id, changes_per_h, changes_per_h * room.volume_m3, room.heat_recovery_ratio, how, assumed
        )
    return found
