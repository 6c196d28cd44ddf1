"""The contract: OpenAPI with the bodies that routes read themselves, the problems, and how to show a key."""

from typing import Any

from fastapi import FastAPI
from fastapi.openapi.utils import get_openapi
from pydantic import TypeAdapter

from api.body import BODY_SCHEMAS
from api.errors import PROBLEM_TYPE
from api.schemas.problems import FaultPublic, ProblemPublic

_REFERENCE = "#/components/schemas/{model}"
_TAGS = [
    {"name": "estimates", "description": "One survey in; design, labour-day plan, bill, price and findings out."},
    {"name": "jobs", "description": "The houses to be quoted for."},
    {"name": "surveys", "description": "Saved by part, safe to repeat, with ETag and If-Match."},
    {"name": "quotes", "description": "Drafted, issued and sealed, then accepted, declined or withdrawn."},
    {"name": "price lists", "description": "What things cost, by date."},
    {"name": "health", "description": "Whether the service lives and is ready."},
]
_PROBLEMS = {
    "401": "No key or session, or one that is not in use.",
    "403": "The role has no right to this.",
    "404": "There is no such thing, or not for this actor.",
    "405": "This address does not take this method.",
    "409": "The present state does not allow it, or the Idempotency-Key was used for another request.",
    "412": "Another version stands than the request expects.",
    "413": "The body is too large.",
    "415": "The body is not JSON.",
    "422": "The input does not hold together; `errors` says where, which field, and what would be right.",
    "500": "Something broke on our side; nothing was changed.",
    "503": "Busy; try again.",
}
_ONLY_WITH_BODY = {"409", "412", "413", "415"}


def _number(description: str) -> dict[str, Any]:
    return {"type": ["number", "null"], "description": description}


def _whole(description: str) -> dict[str, Any]:
    return {"type": ["integer", "null"], "description": description}


def _thing(properties: dict[str, Any], *, nullable: bool = False) -> dict[str, Any]:
    return {"type": ["object", "null"] if nullable else "object", "properties": properties}


def _list_of(properties: dict[str, Any]) -> dict[str, Any]:
    return {"type": "array", "items": _thing(properties)}


_TEXT = {"type": "string"}
_MOMENT = _thing({"day": {"type": "integer"}, "at": _TEXT})
ESTIMATE_SCHEMA: dict[str, Any] = {
    "type": "object",
    "description": "An estimate. On a *stop* finding the objects it concerns are null. Units stand in the names.",
    "required": ["design", "labour_plan", "bill", "price", "findings", "basis"],
    "properties": {
        "design": _thing({
            "heat_loss_w": _number("Of the house, without flows between its own rooms."),
            "design_outdoor_temp_c": _number("Outdoor design temperature of the place."),
            "flow_temp_c": _number("Flow temperature at design conditions."),
            "rooms": _list_of({
                "room_id": _TEXT, "heat_loss_w": _number("What the emitters of the room must cover."),
                "transmission_w": _number(""), "ventilation_w": _number(""),
                "to_rooms_w": _number("To the house's other rooms; all rooms together give zero."),
                "emitter_output_w": _number("After the steps."), "emitter_action": _TEXT,
            }),
            "outdoor_unit": _thing({
                "sku": _TEXT, "count": _whole(""), "capacity_w": _number("Of all units at design conditions."),
                "cover_ratio": _number(""),
            }, nullable=True),
            "cylinder": _thing({"sku": _TEXT, "volume_l": _number("")}, nullable=True),
            "primary": _thing({
                "od_mm": _whole(""), "flow_l_per_s": _number(""), "velocity_m_per_s": _number(""),
                "pressure_drop_pa": _number(""),
            }, nullable=True),
            "noise": _list_of({
                "where": _TEXT, "level_dba": _number(""), "limit_dba": _number(""),
                "passes": {"type": ["boolean", "null"]},
            }),
            "performance": _thing({
                "space_heat_kwh": _number(""), "hot_water_kwh": _number(""), "electricity_kwh": _number(""),
                "seasonal_ratio": _number(""),
            }, nullable=True),
        }),
        "labour_plan": _thing({
            "days": _whole(""), "person_hours": {},
            "tasks": _list_of({
                "code": _TEXT, "trade": _TEXT, "crew": _whole(""), "start": _MOMENT, "end": _MOMENT,
            }),
            "hot_water_off_h": {}, "heating_off_h": {},
        }),
        "bill": _thing({
            "lines": _list_of({
                "line_id": _TEXT, "sku": _TEXT, "description": _TEXT, "unit": _TEXT,
                "used": _TEXT, "bought": _TEXT, "charged": _TEXT, "why": _TEXT,
                "cost_pence": _whole("Only with the right to see cost."), "sell_pence": _whole(""),
            }),
        }),
        "price": _thing({
            "net_pence": _whole(""), "vat_pence": _whole(""), "total_pence": _whole("The full price."),
            "grant_pence": _whole(""), "customer_pays_pence": _whole("After the grant."),
        }),
        "findings": _list_of({
            "code": _TEXT, "strength": {"enum": ["stop", "ask", "note"]}, "where": _TEXT, "message": _TEXT,
        }),
        "basis": {"type": "object", "description": "Versions, dates, defaults and hashes that stand behind it."},
    },
}  # fmt: skip


def contract(app: FastAPI) -> dict[str, Any]:
    """The OpenAPI document of an app, made once."""
    if app.openapi_schema:
        return app.openapi_schema
    document = get_openapi(
        title=app.title, version=app.version, description=app.description, routes=app.routes, tags=_TAGS
    )
    schemas: dict[str, Any] = document.setdefault("components", {}).setdefault("schemas", {})
    for name in ("HTTPValidationError", "ValidationError"):
        schemas.pop(name, None)
    for name, kind in BODY_SCHEMAS.items():
        schema = TypeAdapter(kind).json_schema(ref_template=_REFERENCE)
        for inner, definition in schema.pop("$defs", {}).items():
            schemas.setdefault(inner, definition)
        if schema.get("$ref") == _REFERENCE.format(model=name):
            continue
        schemas.setdefault(name, schema)
    schemas["Fault"] = TypeAdapter(FaultPublic).json_schema()
    problem = TypeAdapter(ProblemPublic).json_schema(ref_template=_REFERENCE)
    problem.pop("$defs", None)
    problem["properties"]["errors"]["items"] = {"$ref": "#/components/schemas/Fault"}
    schemas["Problem"] = problem
    schemas["Estimate"] = ESTIMATE_SCHEMA
    document["components"]["securitySchemes"] = {
        "key": {"type": "http", "scheme": "bearer", "description": "A key that starts with fk_."},
        "session": {"type": "apiKey", "in": "cookie", "name": "footing_session"},
    }
    for path, operations in document["paths"].items():
        for operation in operations.values():
            _complete(path, operation)
    app.openapi_schema = document
    return document


def _complete(path: str, operation: dict[str, Any]) -> None:
    """Declare how one operation fails and what it wants to see."""
    responses = operation["responses"]
    responses.pop("422", None)
    if path == "/health/live":
        operation["security"] = []
        return
    operation["security"] = [{"key": []}, {"session": []}]
    has_body = "requestBody" in operation
    for status, description in _PROBLEMS.items():
        if status in _ONLY_WITH_BODY and not has_body:
            continue
        content = {PROBLEM_TYPE: {"schema": {"$ref": "#/components/schemas/Problem"}}}
        responses.setdefault(status, {"description": description, "content": content})
