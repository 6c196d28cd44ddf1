"""Texts that come in from outside and are kept."""

from typing import Annotated

from pydantic import StringConstraints

_PRINTING = r"^[^\x00-\x1f\x7f]*$"
_PRINTING_LINES = r"^[^\x00-\x09\x0b-\x1f\x7f]*$"

Label = Annotated[str, StringConstraints(strip_whitespace=True, min_length=1, max_length=120, pattern=_PRINTING)]
Reason = Annotated[
    str, StringConstraints(strip_whitespace=True, min_length=1, max_length=2000, pattern=_PRINTING_LINES)
]
FoundAt = Annotated[str, StringConstraints(max_length=400, pattern=_PRINTING_LINES)]
PersonName = Annotated[str, StringConstraints(strip_whitespace=True, min_length=1, max_length=120, pattern=_PRINTING)]
Line = Annotated[str, StringConstraints(strip_whitespace=True, max_length=200, pattern=_PRINTING)]
Lines = Annotated[str, StringConstraints(strip_whitespace=True, max_length=1000, pattern=_PRINTING_LINES)]
Contact = Annotated[str, StringConstraints(strip_whitespace=True, max_length=500, pattern=_PRINTING_LINES)]
