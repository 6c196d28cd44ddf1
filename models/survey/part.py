"""The base of everything surveyed: frozen, closed to unknown keys, with how each value is known beside it."""

from typing import Annotated, Literal

from pydantic import Field, StringConstraints, field_validator

from models.units import Input

Known = Literal["measured", "plate", "told", "assumed"]
Name = Annotated[str, StringConstraints(strip_whitespace=True, min_length=1, max_length=120)]
Id = Annotated[str, StringConstraints(strip_whitespace=True, min_length=1, max_length=64)]
Remark = Annotated[str, StringConstraints(max_length=2000)]
YesNoUnknown = Literal["yes", "no", "unknown"]


class Part(Input):
    """A part of a survey.

    `known` says how a value of this part is known: field name to measured, plate, told or assumed. A size that is
    not named there was measured; a value that was left at its default was assumed.
    """

    known: dict[str, Known] = Field(default_factory=dict)

    @field_validator("known")
    @classmethod
    def _known_of_its_fields(cls, known: dict[str, Known]) -> dict[str, Known]:
        # A slip of the pen here would count an assumed value as measured.
        for name in known:
            if name not in cls.model_fields:
                raise ValueError(f"known names '{name}', and there is no such field here")
        return known

    def how_known(self, field: str) -> Known:
        """How one field of this part is known."""
        if field in self.known:
            return self.known[field]
        return "measured" if field in self.model_fields_set else "assumed"
