"""Numbers with a unit: the annotated types that inputs are made of, and the few exact conversions.

One unit per quantity inside `models`; the suffix of a name says which (see DEVELOPERS.md, "Nomenclature").
"""

import math
from decimal import ROUND_CEILING, ROUND_HALF_UP, Decimal
from functools import cache
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field, GetCoreSchemaHandler
from pydantic_core import CoreSchema, PydanticKnownError, core_schema

Unknown = Literal["unknown"]
UNKNOWN: Unknown = "unknown"

SHORTEST_M = 0.001
"""The shortest length that anybody measures; a size below it is a slip, and formulas divide by sizes."""
SMALLEST_M2 = 0.0001

LengthM = Annotated[float, Field(ge=SHORTEST_M, le=100)]
HeightM = Annotated[float, Field(gt=0.3, le=15)]
DistanceM = Annotated[float, Field(ge=0, le=1000)]
RouteM = Annotated[float, Field(ge=0, le=200)]
AreaM2 = Annotated[float, Field(ge=SMALLEST_M2, le=5000)]
SizeMm = Annotated[int, Field(gt=0, le=10000)]
ClearanceMm = Annotated[int, Field(ge=0, le=100000)]
RoomTempC = Annotated[float, Field(ge=5, le=30)]
FlowTempC = Annotated[float, Field(ge=25, le=75)]
AirChangesPerH = Annotated[float, Field(ge=0, le=20)]
UWPerM2K = Annotated[float, Field(ge=0, le=7)]
Ratio = Annotated[float, Field(ge=0, le=1)]
Count = Annotated[int, Field(ge=0, le=1000)]

ABSOLUTE_ZERO_C = -273.15
GRAVITY_M_PER_S2 = 9.80665
HOURS_A_YEAR_H = 8760
DAYS_A_YEAR = 365
DAYS_OF_MONTHS = (31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)

_SIXTH = Decimal("0.000001")

NOTHING_W = 0.001
"""A heat loss up to this is none: shares of a denormal float are infinite."""

_NO_SCHEMAS = frozenset({"default", "expected", "metadata", "serialization", "config"})
"""What of a core schema holds values and settings, not schemas of parts."""


def _without_truths(schema: Any) -> Any:
    """The schema with each number in it guarded; parts that are an `Input` themselves are already."""
    if isinstance(schema, dict):
        kind = schema.get("type")
        if kind in ("float", "int") or (kind == "literal" and 1 in schema["expected"]):
            return core_schema.no_info_before_validator_function(_no_truth, schema)
        if kind == "function-before" and schema["function"]["function"] is _no_truth:
            return schema
        return {key: part if key in _NO_SCHEMAS else _without_truths(part) for key, part in schema.items()}
    if isinstance(schema, list | tuple):
        return type(schema)(_without_truths(part) for part in schema)
    return schema


def _no_truth(value: Any) -> Any:
    if value is True or value is False:
        raise PydanticKnownError("float_type")
    return value


class Input(BaseModel):
    """The base of whatever comes from outside: frozen, closed to unknown keys, and true is no number.

    Python counts true as 1, so that without this a room 1.0 m long would come out of `"length_m": true`.
    """

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)

    @classmethod
    def __get_pydantic_core_schema__(cls, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        schema: CoreSchema = _without_truths(handler(source))
        return schema


UNITS_BY_ENDING = {
    "_w_per_m2k": "W/m2K", "_w_per_mk": "W/mK", "_m2k_per_w": "m2K/W", "_w_per_m2": "W/m2", "_w_per_k": "W/K",
    "_w_per_m": "W/m", "_l_per_s": "L/s", "_m_per_s": "m/s", "_pa_per_m": "Pa/m", "_m3_per_h_m2": "m3/(h m2)",
    "_m3_per_h": "m3/h", "_wh_per_m3k": "Wh/m3K", "_kg_per_m3": "kg/m3", "_j_per_kgk": "J/kgK", "_pa_s": "Pa s",
    "_mv_per_a_m": "mV/(A m)", "_l_per_min": "L/min",
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
    return next((unit for ending, unit in UNITS_BY_ENDING.items() if f"_{name}".endswith(ending)), "")


def exact(value: float | Decimal) -> Decimal:
    """The value at six decimal places, so that a ceiling taken afterwards meets no float dust.

    2 x 8.4 / 1.2 is 14.000000000000002 in floats and 14 here.
    """
    if isinstance(value, Decimal):
        return value.quantize(_SIXTH, ROUND_HALF_UP)
    if -1e9 < value < 1e9:
        millionths = round(value * 1e6)
        # At most fifteen digits that read back as the same float are the ones that it prints: no need to print it.
        if millionths / 1e6 == value:
            return millionths * _SIXTH
    return Decimal(repr(float(value))).quantize(_SIXTH, ROUND_HALF_UP)


def whole_up(value: float | Decimal) -> int:
    """The next whole number at or above the value, after quantising to six places."""
    return int(exact(value).to_integral_value(ROUND_CEILING))


def per_cent(ratio: float) -> str:
    """A share as people write it: 0.354 is "35 %"."""
    return f"{ratio * 100:.0f} %"


def counted(count: int, noun: str) -> str:
    """A number of things in words: "1 room", "3 rooms"; the noun takes an s."""
    return f"{count} {noun}" if count == 1 else f"{count} {noun}s"


def dyadic(value: float) -> float:
    """The value on a grid of 2**-24, fine enough to be invisible, on which sums of floats are exact up to 2**29."""
    return math.ldexp(round(math.ldexp(value, 24)), -24)
