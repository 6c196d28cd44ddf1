"""How a reason is written down: path, sentence, formula, numbers, source, and how each input is known."""

from collections.abc import Iterable, Sequence
from dataclasses import fields
from typing import Any

from models.sources import Source, Why
from models.survey.part import Known, Part
from models.units import UNKNOWN, unit_of

Entry = dict[str, Any]
Numbers = Sequence[tuple[str, Any]]

MAKER = Source("the maker's record", standing="maker's record")
SURVEY = Source("the survey", standing="firm's rule")


def entry(
    path: str,
    formula: str,
    numbers: Numbers,
    source: Source,
    *,
    sentence: str = "",
    inputs: Iterable[Entry] = (),
    cost_why: Entry | None = None,
) -> Entry:
    """A reason. `sentence` as an engineer would say it; without one it is the formula."""
    made: Entry = {
        "path": path,
        "sentence": sentence or formula,
        "formula": formula,
        "numbers": [number(name, value) for name, value in numbers],
        "source": str(source),
        "standing": source.standing,
        "inputs": list(inputs),
    }
    if cost_why is not None:
        made["cost_why"] = cost_why
    return made


def number(name: str, value: Any) -> Entry:
    """One of the numbers used, with the unit that its name says."""
    return {"name": name, "value": value, "unit": unit_of(name)}


def said(why: Why, result: Any) -> str:
    """The sentence of a question, filled with the fields of its result."""
    return why.sentence.format(**{field.name: getattr(result, field.name) for field in fields(result)})


def of(result: Any, *names: str) -> list[tuple[str, Any]]:
    """Fields of a result by name and value."""
    return [(name, getattr(result, name)) for name in names]


def surveyed(what: str, part: Part, field: str) -> Entry:
    """A surveyed value and how it is known; one that is unknown, or left to its default, was assumed."""
    value = getattr(part, field)
    return given(what, field, value, "assumed" if value in (UNKNOWN, "assumed", None) else part.how_known(field))


def given(what: str, field: str, value: Any, known: Known) -> Entry:
    """A value that came from outside the design, and how it is known."""
    return {"what": what, "value": value, "unit": unit_of(field), "known": known}
