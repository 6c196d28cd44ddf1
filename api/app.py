"""The service as FastAPI sees it: routes, errors, the frame around requests, and the contract in OpenAPI."""

import gc
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from typing import Any

from fastapi import FastAPI
from fastapi.openapi.utils import get_openapi
from pydantic import TypeAdapter

from api.body import BODY_SCHEMAS
from api.errors import PROBLEM_TYPE, install_error_handlers
from api.logs import configure_logging
from api.middleware import BodyLimit, Metrics, RequestFrame
from api.routes import estimates, health, jobs, prices, quotes, surveys
from api.schemas.estimates import ESTIMATE_SCHEMA
from api.schemas.problems import ProblemPublic
from api.services.rules import RulesBook
from api.settings import Settings
from api.store.engine import make_engine
from api.store.migrate import migrate

PREFIX = "/api/v1"
_PROBLEM = {"content": {PROBLEM_TYPE: {"schema": {"$ref": "#/components/schemas/Problem"}}}}
_PROBLEMS = {
    "400": "The request cannot be read",
    "401": "No session and no key that is in use",
    "403": "The role lacks the right",
    "404": "Not there, or not for this actor",
    "409": "The present state does not allow it",
    "412": "Another version stands by now",
    "413": "The body is too large",
    "415": "Not JSON",
    "422": "The input does not hold together: room, field, value and what would be right",
}


def create_app(settings: Settings) -> FastAPI:
    """The API with its database, brought to the newest tables when the service starts.

    Reads no environment: everything is in `settings`. Pages may be added by whoever composes the whole.
    """
    configure_logging(settings.log_level)
    engine = make_engine(settings.url())
    book = RulesBook(settings.seed_dir)

    @asynccontextmanager
    async def lifespan(_app: FastAPI) -> AsyncIterator[None]:
        migrate(engine)
        book.of_files()
        # What was built by now lives as long as the process: the collector need not walk it at every pass.
        gc.collect()
        gc.freeze()
        yield
        engine.dispose()

    app = FastAPI(
        title="Footing",
        version="1",
        summary="From a surveyed house to a design, a labour-day plan, a bill of materials and a price.",
        docs_url=f"{PREFIX}/docs",
        redoc_url=None,
        openapi_url=f"{PREFIX}/openapi.json",
        lifespan=lifespan,
    )
    app.state.settings = settings
    app.state.engine = engine
    app.state.rules_book = book
    app.state.metrics = Metrics()
    install_error_handlers(app)
    for routes in (estimates, jobs, surveys, quotes, prices):
        app.include_router(routes.router, prefix=PREFIX)
    app.include_router(health.router)
    app.add_middleware(BodyLimit, limit_bytes=settings.body_limit_bytes)
    app.add_middleware(RequestFrame, metrics=app.state.metrics)
    app.openapi = lambda: _contract(app)  # type: ignore[method-assign]
    return app


def _contract(app: FastAPI) -> dict[str, Any]:
    """The OpenAPI document: FastAPI's own, with the bodies that routes read as bytes and the one shape of errors."""
    if app.openapi_schema is not None:
        return app.openapi_schema
    contract = get_openapi(
        title=app.title, version=app.version, summary=app.summary, routes=app.routes, openapi_version=app.openapi_version
    )
    components = contract.setdefault("components", {})
    schemas = components.setdefault("schemas", {})
    wanted = {**BODY_SCHEMAS, "Problem": ProblemPublic}
    of_name, found = TypeAdapter.json_schemas(
        [(name, "validation", TypeAdapter(kind)) for name, kind in wanted.items()],
        ref_template="#/components/schemas/{model}",
    )
    schemas |= found.get("$defs", {})
    for (name, _), schema in of_name.items():
        if schema.get("$ref") != f"#/components/schemas/{name}":
            schemas[name] = schema
    schemas["Estimate"] = ESTIMATE_SCHEMA
    components["securitySchemes"] = {
        "key": {"type": "http", "scheme": "bearer", "description": "A key of an accounts program or of the demo."}
    }
    contract["security"] = [{"key": []}]
    for path in contract["paths"].values():
        for operation in path.values():
            for status, description in _PROBLEMS.items():
                operation["responses"].setdefault(status, {"description": description, **_PROBLEM})
                operation["responses"][status] = {"description": description, **_PROBLEM}
    for unused in ("HTTPValidationError", "ValidationError"):
        schemas.pop(unused, None)
    app.openapi_schema = contract
    return contract
