"""Which values of a survey were not seen: those called assumed, and those that are unknown."""

from collections.abc import Iterator

from models.survey.part import Part
from models.survey.survey import Survey
from models.units import UNKNOWN


def assumed_values(survey: Survey) -> tuple[str, ...]:
    """Every assumed or unknown value as "place: field", in the order of the survey.

    Assumed is what the survey calls so; a size that is absent from `known` was measured.
    """
    return tuple(_assumed(survey, ""))


def _assumed(part: Part, place: str) -> Iterator[str]:
    for field in type(part).model_fields:
        value = getattr(part, field)
        if isinstance(value, Part):
            yield from _assumed(value, _inside(place, field, value))
        elif isinstance(value, tuple):
            for item in value:
                if isinstance(item, Part):
                    yield from _assumed(item, _inside(place, field, item))
        elif field != "known" and (part.known.get(field) == "assumed" or value == UNKNOWN or value == "assumed"):
            yield f"{place or 'survey'}: {field}"


def _inside(place: str, field: str, part: Part) -> str:
    name = getattr(part, "name", None) or getattr(part, "id", None) or field
    return f"{place}, {name}" if place else str(name)
