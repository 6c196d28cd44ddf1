"""Which values of a survey were not seen: those called assumed, and those that are unknown."""

from typing import Any, NamedTuple

from models.survey.part import Part
from models.survey.rooms import Emitter
from models.survey.site import Supply
from models.survey.survey import Survey
from models.units import UNKNOWN

_OF_FLOOR_HEATING = frozenset({"pipe_spacing_mm", "covering_m2k_per_w", "screed_mm", "mixing_valve"})
"""Fields of an emitter that are asked of floor heating only."""
_SUMMED = frozenset({"demand_before_a"})
"""Fields of a supply that are worked out where its loads are listed."""
_NOTHING: frozenset[str] = frozenset()
_NOT_SEEN = frozenset({UNKNOWN, "assumed"})
_NUMBERS = frozenset({float, int, bool, type(None)})


class AssumedValue(NamedTuple):
    """A value that nobody saw: where, which field of which kind of part, the value, and the way to it.

    `path` goes from the survey to the field: names of fields, and places in lists.
    """

    place: str
    field: str
    part: str
    value: Any
    path: tuple[str | int, ...]


def assumed_values(survey: Survey) -> tuple[str, ...]:
    """Every assumed or unknown value as "place: field", in the order of the survey.

    Assumed is what the survey calls so; a size that is absent from `known` was measured.
    """
    return tuple([f"{one.place or 'survey'}: {one.field}" for one in assumed_with_paths(survey)])


def assumed_with_paths(survey: Survey) -> tuple[AssumedValue, ...]:
    """The same values with what they are and the way to them."""
    found: list[AssumedValue] = []
    _gather(survey, "", (), found)
    return tuple(found)


def _gather(part: Part, place: str, path: tuple[str | int, ...], found: list[AssumedValue]) -> None:
    # Every answer lists what was assumed, and a house has some thousand values: nearly all are left at the first look.
    skipped = _NOTHING
    if isinstance(part, Emitter):
        if part.kind != "floor_heating":
            skipped = _OF_FLOOR_HEATING
    elif isinstance(part, Supply) and part.loads:
        skipped = _SUMMED
    known = part.known
    for field, value in part.__dict__.items():
        kind = type(value)
        if kind is str:
            if value not in _NOT_SEEN and known.get(field) != "assumed":
                continue
        elif kind in _NUMBERS:
            if not known or known.get(field) != "assumed":
                continue
        elif kind is tuple:
            for index, item in enumerate(value):
                if isinstance(item, Part):
                    _gather(item, _inside(place, field, item), (*path, field, index), found)
            continue
        elif isinstance(value, Part):
            _gather(value, _inside(place, field, value), (*path, field), found)
            continue
        elif known.get(field) != "assumed":
            continue
        if field not in skipped and field != "known":
            found.append(AssumedValue(place, field, type(part).__name__, value, (*path, field)))


def _inside(place: str, field: str, part: Part) -> str:
    # Straight from its values: a model asked for a field that it lacks makes an error first.
    values = part.__dict__
    name = values.get("name") or values.get("id") or field
    return f"{place}, {name}" if place else str(name)
