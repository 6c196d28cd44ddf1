"""The parts of a survey as forms: which model each has, what it is called, which choices it takes from elsewhere."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any

from pydantic import BaseModel, ConfigDict

from models.reference import load
from models.survey import (
    Construction,
    CylinderPlace,
    ExistingSystem,
    Hazard,
    HotWater,
    House,
    Photo,
    Position,
    Room,
    Supply,
    Tariffs,
)
from models.survey.part import Remark
from web.forms.fields import Options, number_text, row_title
from web.forms.words import choice_words


class Constructions(BaseModel):
    """All constructions of a house on one page."""

    model_config = ConfigDict(extra="forbid")
    constructions: tuple[Construction, ...] = ()


class Hazards(BaseModel):
    """All hazards on one page."""

    model_config = ConfigDict(extra="forbid")
    hazards: tuple[Hazard, ...] = ()


class Photos(BaseModel):
    """All photos by name on one page."""

    model_config = ConfigDict(extra="forbid")
    photos: tuple[Photo, ...] = ()


class Notes(BaseModel):
    """The notes of a survey."""

    model_config = ConfigDict(extra="forbid")
    notes: Remark = ""


@dataclass(frozen=True, slots=True)
class Section:
    """A page of the survey. `wrapped` names the list or text that the part is, where it is not a record itself."""

    name: str
    title: str
    model: type[BaseModel]
    needed: bool
    wrapped: str = ""
    caution: str = ""

    def record(self, body: Any) -> dict[str, Any]:
        """The stored part as the record that the form shows."""
        if self.wrapped:
            return {self.wrapped: body} if body is not None else {}
        return dict(body) if isinstance(body, Mapping) else {}

    def body(self, record: Mapping[str, Any]) -> Any:
        """The record as it is stored."""
        if not self.wrapped:
            return dict(record)
        return record.get(self.wrapped, "" if self.wrapped == "notes" else [])


SECTIONS: tuple[Section, ...] = (
    Section("house", "The house", House, True),
    Section("constructions", "What walls, floors, roofs, windows are made of", Constructions, True, "constructions"),
    Section("existing", "Heating there now", ExistingSystem, True),
    Section("hot_water", "Hot water and the cold main", HotWater, False),
    Section(
        "cylinder_place", "Place for the cylinder", CylinderPlace, False,
        caution="An unvented cylinder is fitted and notified by a competent person; its discharge can scald.",
    ),
    Section(
        "supply", "Electrical supply", Supply, True,
        caution="Look, do not touch: cut-out and meter belong to others, and the electrician decides.",
    ),
    Section("tariffs", "What energy costs", Tariffs, True),
    Section(
        "hazards", "Hazards", Hazards, False, "hazards",
        caution="Leave suspected asbestos alone; do not dig before buried services are located.",
    ),
    Section("photos", "Photos by name", Photos, False, "photos"),
    Section("notes", "Notes", Notes, False, "notes"),
)  # fmt: skip
ROOM = Section("room", "Room", Room, True)
POSITION = Section(
    "position", "Position", Position, True,
    caution="Propane is heavier than air: note every opening, drain and ignition source near the unit.",
)  # fmt: skip


def section_called(name: str) -> Section | None:
    """The section of this name."""
    return next((section for section in SECTIONS if section.name == name), None)


@cache
def reference_choices() -> dict[str, Options]:
    """The choices that come from the reference tables."""
    reference = load()
    walls = [(row, f"wall: {choice_words('ByTable', 'row', row)}") for row in reference.walls.u_w_per_m2k]
    stones = [(row, f"stone wall: {choice_words('ByTable', 'row', row)}") for row in reference.walls.stone]
    others = [(row, row) for row in reference.elements_u]
    return {
        "House.weather_station": [
            (name, f"{name}, {number_text(one.altitude_m)} m") for name, one in reference.stations.items()
        ],
        "House.climate_region": [(str(region.number), region.name) for region in reference.regions],
        "ByTable.row": [*walls, *stones, *others],
    }


def with_tables(part: Mapping[str, Any]) -> dict[str, Any]:
    """The constructions where each that is looked up says in which table, and has the name of its row if no other."""
    walls, stones = load().walls.u_w_per_m2k, load().walls.stone
    rows = []
    for one in _rows(part.get("constructions")):
        row = str(one.get("row") or "")
        if one.get("by") == "table":
            table = "wall_by_age" if row in walls else "stone_by_thickness" if row in stones else "element"
            called = dict(reference_choices()["ByTable.row"]).get(row, "")
            named = {} if one.get("name") or not called else {"name": called[:1].upper() + called[1:]}
            rows.append({**one, "table": table, **named})
        else:
            rows.append(dict(one))
    return {**part, "constructions": rows} if "constructions" in part else dict(part)


def survey_choices(survey: Mapping[str, Any], part: Mapping[str, Any] | None = None) -> dict[str, Options]:
    """The choices that come from the rest of the survey, and of a room from the room itself."""
    part = part or {}
    constructions = [
        (str(one["id"]), _named(one)) for one in _rows(survey.get("constructions")) if one.get("id") is not None
    ]
    rooms = [(str(one["id"]), _named(one)) for one in _rows(survey.get("rooms")) if one.get("id") is not None]
    hosts = [
        (str(one["id"]), row_title(Room, "elements", one))
        for one in _rows(part.get("elements"))
        if one.get("id") is not None and one.get("kind") in ("wall", "roof", "ceiling", "floor", "door")
    ]
    emitters = [
        (str(one["id"]), row_title(Room, "emitters", one))
        for one in _rows(part.get("emitters"))
        if one.get("id") is not None
    ]
    return {
        **reference_choices(),
        "Element.construction": constructions,
        "Element.beside_room": [(key, name) for key, name in rooms if key != part.get("id")],
        "Element.within": hosts,
        "WallSpace.emitter": emitters,
        "CylinderPlace.room": rooms,
    }


def _named(one: Mapping[str, Any]) -> str:
    return str(one.get("name") or one["id"])


def _rows(value: Any) -> Sequence[Mapping[str, Any]]:
    return [one for one in value if isinstance(one, Mapping)] if isinstance(value, list | tuple) else []
