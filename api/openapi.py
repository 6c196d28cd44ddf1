"""The contract: OpenAPI with the bodies that routes read themselves, the problems, and how to show a key."""

from html import escape
from typing import Any

from fastapi import FastAPI
from fastapi.openapi.utils import get_openapi
from pydantic import TypeAdapter

from api.body import BODY_SCHEMAS
from api.errors import PROBLEM_TYPE
from api.schemas.estimates import ESTIMATE_SCHEMA
from api.schemas.problems import FaultPublic, ProblemPublic

_REFERENCE = "#/components/schemas/{model}"
_TAGS = [
    {"name": "estimates", "description": "One survey in; design, labour-day plan, bill, price and findings out."},
    {"name": "jobs", "description": "The houses to be quoted for."},
    {"name": "surveys", "description": "Saved by part, safe to repeat, with ETag and If-Match."},
    {"name": "quotes", "description": "Drafted, issued and sealed, then accepted, declined or withdrawn."},
    {"name": "price lists", "description": "What things cost, by date."},
    {"name": "rules", "description": "Recipes, labour tasks, rates, crews, calendars, stage plans, by version."},
    {"name": "people", "description": "Users, keys, sessions, the audit list, and erasing a customer."},
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
        for method, operation in operations.items():
            _complete(path, method, operation)
    app.openapi_schema = document
    return document


def _complete(path: str, method: str, operation: dict[str, Any]) -> None:
    """Declare how one operation fails and what it wants to see."""
    responses = operation["responses"]
    responses.pop("422", None)
    if path == "/health/live":
        operation["security"] = []
        return
    operation["security"] = [{"key": []}, {"session": []}]
    has_body = "requestBody" in operation
    also = {"409"} if method != "get" else set()
    if any(one["name"] == "If-Match" for one in operation.get("parameters", ())):
        also.add("412")
    for status, description in _PROBLEMS.items():
        if status in _ONLY_WITH_BODY and not has_body and status not in also:
            continue
        content = {PROBLEM_TYPE: {"schema": {"$ref": "#/components/schemas/Problem"}}}
        responses.setdefault(status, {"description": description, "content": content})


def contract_page(document: dict[str, Any]) -> str:
    """The contract to read in a browser: every operation with what it does. Plain HTML that asks nobody else."""
    info = document["info"]
    parts = [
        f"<!doctype html><html lang=en><meta charset=utf-8><title>{escape(info['title'])} for programs</title>",
        f"<h1>{escape(info['title'])} for programs</h1><p>{escape(info.get('description', ''))}</p>",
        '<p>Send <code>Authorization: Bearer</code> with a key. The whole contract, with every field and the demo '
        'households as examples, is <a href="openapi.json">openapi.json</a>.</p>',
    ]
    shown = [
        (operation.get("tags", [""])[0], method.upper(), path, operation)
        for path, operations in document["paths"].items()
        for method, operation in operations.items()
    ]
    for tag in dict.fromkeys(one[0] for one in shown):
        parts.append(f"<h2>{escape(tag.capitalize())}</h2><dl>")
        for _, method, path, operation in (one for one in shown if one[0] == tag):
            parts.append(f"<dt><b>{method}</b> <code>{escape(path)}</code> {escape(operation['summary'])}</dt>")
            parts.append(f"<dd>{escape(operation.get('description', ''))}</dd>")
        parts.append("</dl>")
    return "".join(parts)
