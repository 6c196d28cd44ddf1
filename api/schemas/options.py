"""Requests and answers of several choices side by side."""

from typing import Annotated, Any

from pydantic import BaseModel, ConfigDict, Field

from models.estimate import Choices
from models.survey import Survey

MOST_OPTIONS = 8


class OptionsRequest(BaseModel):
    """A survey and up to eight sets of choices; `curve` asks for the flow temperatures of the first of them."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    survey: Survey
    choices: Annotated[tuple[Choices, ...], Field(min_length=1, max_length=MOST_OPTIONS)] = (Choices(),)
    curve: bool = True


def _object(**properties: Any) -> dict[str, Any]:
    return {"type": "object", "properties": properties}


def _list(item: dict[str, Any]) -> dict[str, Any]:
    return {"type": "array", "items": item}


_NUMBER = {"type": "number"}
_MAYBE = {"type": ["number", "null"]}
_WHOLE = {"type": ["integer", "null"]}
_TEXT = {"type": "string"}
_TEXT_OR_NOT = {"type": ["string", "null"]}
_COST = {"type": ["integer", "null"], "description": "whole pence at cost; absent without the right to see cost"}

CURVE_SCHEMA = _object(
    years=_WHOLE,
    delta_t_k=_NUMBER,
    rule=_TEXT,
    best_flow_temp_c={"type": ["number", "null"], "description": "null where none heats every room"},
    points=_list(
        _object(
            flow_temp_c=_NUMBER,
            return_temp_c=_NUMBER,
            feasible={"type": "boolean", "description": "whether every room and the house are heated"},
            reasons=_list(_TEXT),
            other_stops=_list(_TEXT),
            unit_sku=_TEXT_OR_NOT,
            unit_count={"type": "integer"},
            emitters_changed={"type": "integer"},
            emitter_pence=_COST,
            unit_pence=_COST,
            purchase_pence=_COST,
            whole_cost_pence=_COST,
            seasonal_ratio=_MAYBE,
            electricity_kwh_per_year=_MAYBE,
            running_pence_per_year=_WHOLE,
            person_hours={"type": ["string", "null"], "description": "a decimal; null where the point is not feasible"},
            days=_WHOLE,
            governing_room_id=_TEXT_OR_NOT,
            governing_room=_TEXT_OR_NOT,
            best={"type": "boolean"},
            rooms_short={"type": "integer"},
        )
    ),
    day_steps=_list(
        _object(
            below_temp_c=_NUMBER,
            flow_temp_c=_NUMBER,
            days_below={"type": "integer"},
            days={"type": "integer"},
            sentence=_TEXT,
        )
    ),
    sentences=_list(_TEXT),
)
OPTIONS_SCHEMA = _object(
    options=_list({"$ref": "#/components/schemas/Estimate"}),
    summary=_list(
        _object(
            choices={"type": "object"},
            flow_temp_c=_NUMBER,
            outdoor_unit_sku=_TEXT_OR_NOT,
            outdoor_unit_count={"type": "integer"},
            cylinder_sku=_TEXT_OR_NOT,
            position_id=_TEXT_OR_NOT,
            emitters_changed={"type": "integer"},
            seasonal_ratio=_MAYBE,
            electricity_kwh=_MAYBE,
            running_cost_pence=_WHOLE,
            days=_WHOLE,
            person_hours=_TEXT_OR_NOT,
            net_pence=_WHOLE,
            total_pence=_WHOLE,
            customer_pays_pence=_WHOLE,
            stops={"type": "integer"},
            asks={"type": "integer"},
        )
    ),
    curve=CURVE_SCHEMA,
)
"""The fields that are promised: options and their summaries in the order of the choices; `curve` where asked for."""
