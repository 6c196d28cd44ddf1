"""One survey: everything that was seen in a house, complete enough to be worked out."""

from collections import Counter
from collections.abc import Iterator
from typing import Annotated, Literal

from pydantic import Field, model_validator

from models.survey.house import Construction, House
from models.survey.part import Name, Part, Remark
from models.survey.rooms import Room
from models.survey.site import Hazard, Photo, Position, Supply, Tariffs
from models.survey.systems import CylinderPlace, ExistingSystem, HotWater

SCHEMA_VERSION: Literal[1] = 1


class Survey(Part):
    """A surveyed house. Names, addresses and contacts of people do not belong here."""

    schema_version: Literal[1] = SCHEMA_VERSION
    label: Name
    house: House
    constructions: tuple[Construction, ...]
    rooms: Annotated[tuple[Room, ...], Field(min_length=1)]
    existing: ExistingSystem
    hot_water: HotWater = Field(default_factory=HotWater)
    cylinder_place: CylinderPlace | None = None
    positions: tuple[Position, ...] = ()
    supply: Supply
    tariffs: Tariffs
    hazards: tuple[Hazard, ...] = ()
    photos: tuple[Photo, ...] = ()
    notes: Remark = ""

    @model_validator(mode="after")
    def _hangs_together(self) -> "Survey":
        faults = list(_faults(self))
        if faults:
            raise ValueError("; ".join(faults))
        return self


def _faults(survey: Survey) -> Iterator[str]:
    """What does not hang together, each in a sentence that names room, field and value."""
    yield from _doubles("construction", [c.id for c in survey.constructions])
    yield from _doubles("room id", [room.id for room in survey.rooms])
    yield from _doubles("room name", [room.name.casefold() for room in survey.rooms])
    yield from _doubles("position", [position.id for position in survey.positions])
    constructions = {construction.id for construction in survey.constructions}
    rooms = {room.id for room in survey.rooms}
    if survey.cylinder_place and survey.cylinder_place.room not in {None, *rooms}:
        yield f"the cylinder place is in room '{survey.cylinder_place.room}', which does not exist"
    for room in survey.rooms:
        yield from _room_faults(room, constructions, rooms)


def room_faults(room: Room, *, constructions: set[str], rooms: set[str]) -> tuple[str, ...]:
    """What does not hang together in one room, given the ids of the house's constructions and rooms."""
    return tuple(_room_faults(room, constructions, rooms))


def _room_faults(room: Room, constructions: set[str], rooms: set[str]) -> Iterator[str]:
    here = f"room '{room.name}'"
    yield from _doubles(f"{here}: element", [element.id for element in room.elements])
    yield from _doubles(f"{here}: emitter", [emitter.id for emitter in room.emitters])
    yield from _doubles(f"{here}: wall space", [space.id for space in room.wall_spaces])
    emitters = {emitter.id for emitter in room.emitters}
    for space in room.wall_spaces:
        if space.emitter is not None and space.emitter not in emitters:
            yield f"{here}: wall space '{space.id}' holds emitter '{space.emitter}', which is not in this room"
    hosts = {element.id: element for element in room.elements}
    cut: Counter[str] = Counter()
    for element in room.elements:
        at = f"{here}: {element.kind} '{element.id}'"
        if element.area_m2 is None and (element.length_m is None or element.height_m is None):
            yield f"{at} has neither an area nor a length and a height"
        if element.construction not in constructions:
            yield f"{at} is built of '{element.construction}', which is not among the constructions"
        if element.faces == "room":
            if element.beside_room is None:
                yield f"{at} faces another room of the house but does not say which"
            elif element.beside_room not in rooms:
                yield f"{at} is next to room '{element.beside_room}', which does not exist"
            elif element.beside_room == room.id:
                yield f"{at} is next to its own room"
        elif element.beside_room is not None:
            yield f"{at} names a room beside it ('{element.beside_room}') but faces {element.faces}"
        if element.faces == "unheated" and element.space is None:
            yield f"{at} faces an unheated space but does not say of which kind"
        if element.within is not None:
            if element.within not in hosts or element.within == element.id:
                yield f"{at} is cut from '{element.within}', which is not another element of this room"
            cut[element.within] += 0
    for host_id in cut:
        host = hosts.get(host_id)
        if host is None:
            continue
        openings_m2 = sum(e.gross_area_m2 for e in room.elements if e.within == host_id)
        if openings_m2 > host.gross_area_m2 + 1e-9:
            yield (
                f"{here}: the openings in {host.kind} '{host.id}' take {openings_m2:.2f} m2 but it has only "
                f"{host.gross_area_m2:.2f} m2; openings must be smaller than what they are cut from"
            )


def _doubles(what: str, names: list[str]) -> Iterator[str]:
    for name, count in Counter(names).items():
        if count > 1:
            yield f"{what} '{name}' stands {count} times; give each its own"
