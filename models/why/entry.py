"""How a reason is written down: path, sentence, formula, numbers, source, and how each input is known."""

from collections.abc import Iterable, Sequence
from dataclasses import fields
from functools import cache
from typing import Any

from models.sources import Source, Why
from models.survey.part import Known, Part
from models.units import UNKNOWN

Entry = dict[str, Any]
Numbers = Sequence[tuple[str, Any]]

MAKER = Source("the maker's record", standing="maker's record")
SURVEY = Source("the survey", standing="firm's rule")

UNITS = {
    "_w_per_m2k": "W/m2K", "_w_per_mk": "W/mK", "_m2k_per_w": "m2K/W", "_w_per_m2": "W/m2", "_w_per_k": "W/K",
    "_w_per_m": "W/m", "_l_per_s": "L/s", "_m_per_s": "m/s", "_pa_per_m": "Pa/m", "_m3_per_h_m2": "m3/(h m2)",
    "_m3_per_h": "m3/h", "_wh_per_m3k": "Wh/m3K", "_kg_per_m3": "kg/m3", "_j_per_kgk": "J/kgK", "_pa_s": "Pa s",
    "_mv_per_a_m": "mV/(A m)",
    "_l_per_day": "L/day", "_pence_per_kwh": "p/kWh", "_pence_per_year": "p/year", "_kwh_per_year": "kWh/year",
    "_kwh_per_day": "kWh/day", "_mg_per_l": "mg/L", "_per_h": "1/h", "_kwh": "kWh", "_kd": "K d", "_dba": "dB(A)",
    "_db": "dB", "_minutes": "min", "_pence": "p", "_gbp": "£", "_ratio": "1", "_hours": "h", "_bar": "bar",
    "_kg": "kg", "_pa": "Pa", "_mm2": "mm2", "_mm": "mm", "_m2": "m2", "_m3": "m3", "_w": "W", "_c": "°C", "_k": "K",
    "_m": "m", "_l": "L", "_a": "A", "_v": "V", "_h": "h", "_kw": "kW",
}  # fmt: skip
"""The unit that a name's ending says, the longest ending first."""


@cache
def unit_of(name: str) -> str:
    """The unit that the ending of a name says; nothing for a bare number."""
    return next((unit for ending, unit in UNITS.items() if f"_{name}".endswith(ending)), "")


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
