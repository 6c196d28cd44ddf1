"""Requests that are worked out."""

from typing import Any

from pydantic import BaseModel, ConfigDict, Field

from models.estimate import Choices
from models.survey import Survey


class EstimateRequest(BaseModel):
    """A survey, and what is chosen; whatever is left out of the choices is chosen by stated rules."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    survey: Survey
    choices: Choices = Field(default_factory=Choices)


class ChoicesRequest(BaseModel):
    """What is chosen for the stored survey of a job."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    choices: Choices = Field(default_factory=Choices)


def _object(**properties: Any) -> dict[str, Any]:
    return {"type": "object", "properties": properties}


def _list(item: dict[str, Any]) -> dict[str, Any]:
    return {"type": "array", "items": item}


_NUMBER = {"type": "number"}
_MAYBE = {"type": ["number", "null"]}
_WHOLE = {"type": ["integer", "null"]}
_TEXT = {"type": "string"}
_AMOUNT = {"type": ["integer", "null"], "description": "whole pence; null while a *stop* stands"}
_QUANTITY = {"type": "string", "description": "a decimal with three places"}
_MOMENT = _object(day={"type": "integer", "minimum": 1}, at={"type": "string", "description": "HH:MM"})


def _or_null(schema: dict[str, Any]) -> dict[str, Any]:
    return {"anyOf": [schema, {"type": "null"}]}


_MAYBE_TEXT = {"type": ["string", "null"]}
_FIRM = _object(
    name=_TEXT,
    address=_list(_TEXT),
    postcode=_TEXT,
    telephone=_TEXT,
    email=_TEXT,
    company_number=_MAYBE_TEXT,
    registered_in=_MAYBE_TEXT,
    vat_number=_MAYBE_TEXT,
    registrations=_list(_object(scheme=_TEXT, number=_TEXT)),
    bank=_or_null(_object(account_name=_TEXT, sort_code=_TEXT, account_number=_TEXT)),
) | {"description": "who makes the offer; null where no record of the firm is in force"}
ESTIMATE_SCHEMA: dict[str, Any] = _object(
    firm=_or_null(_FIRM),
    design=_object(
        heat_loss_w=_NUMBER,
        design_outdoor_temp_c=_NUMBER,
        flow_temp_c=_NUMBER,
        rooms=_list(
            _object(
                room_id=_TEXT,
                name=_TEXT,
                room_temp_c=_NUMBER,
                heat_loss_w={"type": "number", "description": "what the emitter must cover"},
                transmission_w={"type": "number", "description": "with what goes to the house's other rooms"},
                ventilation_w=_NUMBER,
                to_rooms_w={"type": "number", "description": "over all rooms it adds up to 0"},
                emitter_output_w=_NUMBER,
                emitter_action={"enum": ["keep", "swap", "add", "swap_and_add", "short", "none_needed"]},
            )
        ),
        outdoor_unit=_or_null(_object(sku=_TEXT, count={"type": "integer"}, capacity_w=_MAYBE, cover_ratio=_MAYBE)),
        cylinder=_or_null(_object(sku=_TEXT, volume_l=_NUMBER)),
        primary=_or_null(
            _object(od_mm=_WHOLE, flow_l_per_s=_NUMBER, velocity_m_per_s=_MAYBE, pressure_drop_pa=_MAYBE)
        ),
        noise=_list(
            _object(where=_TEXT, level_dba=_NUMBER, limit_dba=_MAYBE, passes={"type": ["boolean", "null"]})
        ),
        performance=_or_null(
            _object(
                space_heat_kwh=_NUMBER, hot_water_kwh=_NUMBER, electricity_kwh=_NUMBER, seasonal_ratio=_NUMBER
            )
        ),
    ),
    labour_plan=_or_null(
        _object(
            days=_WHOLE,
            person_hours={"type": "string", "description": "a decimal"},
            tasks=_list(
                _object(code=_TEXT, name=_TEXT, trade=_TEXT, crew={"type": "integer"}, start=_MOMENT, end=_MOMENT)
            ),
            hot_water_off_h=_NUMBER,
            heating_off_h=_NUMBER,
        )
    ),
    bill=_or_null(
        _object(
            lines=_list(
                _object(
                    line_id=_TEXT,
                    sku=_TEXT,
                    description=_TEXT,
                    unit=_TEXT,
                    used=_QUANTITY,
                    bought=_QUANTITY,
                    charged=_QUANTITY,
                    why=_TEXT,
                    cost_pence={"type": "integer", "description": "absent without the right to see cost"},
                    sell_pence={"type": "integer"},
                )
            )
        )
    ),
    price=_or_null(
        _object(
            net_pence=_AMOUNT,
            vat_pence=_AMOUNT,
            total_pence=_AMOUNT,
            grant_pence=_AMOUNT,
            customer_pays_pence=_AMOUNT,
        )
    ),
    findings=_list(
        _object(
            code=_TEXT,
            strength={"enum": ["stop", "ask", "note"]},
            where=_TEXT,
            message=_TEXT,
            source=_TEXT,
            remedy=_TEXT,
        )
    ),
    days={"type": ["object", "null"], "description": "with include=days: the papers, as `DaysPublic` has them"},
    what_if={"type": "array", "items": {"type": "object"}, "description": "with include=what_if"},
    basis={"type": "object", "description": "versions, dates, defaults, choices, a hash of the survey, assumed values"},
)
"""The fields of an estimate that are promised; there are more beside them."""
