"""The API as an app. The pages put themselves on top of it in `web`."""

import gc
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from importlib.metadata import PackageNotFoundError, version

from fastapi import FastAPI
from fastapi.responses import HTMLResponse

from api.errors import install_error_handlers
from api.logs import configure_logging
from api.middleware import BodyLimit, Metrics, RequestFrame
from api.openapi import contract, contract_page
from api.routes import days, estimates, health, jobs, options, people, photos, prices, quotes, rules, surveys
from api.services.rules import RulesBook
from api.settings import Settings
from api.startup import prepare, repricing_of

API_PREFIX = "/api/v1"


def create_api(settings: Settings) -> FastAPI:
    """The API under /api/v1, with health and metrics beside it, on a database that is brought up to date.

    Raises ValueError without a secret key. `app.state` holds settings, engine, rules_book and metrics;
    `app.state.problem_page` may be set to a function of request and problem that answers errors of pages.
    """
    settings.required_secret()
    configure_logging(settings.log_level)
    book = RulesBook(settings.seed_dir)
    engine = prepare(settings, book)

    @asynccontextmanager
    async def lifespan(_: FastAPI) -> AsyncIterator[None]:
        # What was built by now lives as long as the process: the collector need not walk it at every pass.
        gc.collect()
        gc.freeze()
        app.state.repricing.start()
        yield
        app.state.repricing.end()
        engine.dispose()

    app = FastAPI(
        title="Footing",
        version=_version(),
        description="From a surveyed house to a priced quote: design, labour-day plan, bill of materials, price.",
        openapi_url=f"{API_PREFIX}/openapi.json",
        docs_url=None,
        redoc_url=None,
        lifespan=lifespan,
        redirect_slashes=False,
    )
    app.state.settings = settings
    app.state.engine = engine
    app.state.rules_book = book
    app.state.repricing = repricing_of(settings, engine, book)
    app.state.metrics = Metrics()
    app.state.problem_page = None
    install_error_handlers(app)
    app.add_middleware(BodyLimit, limit_bytes=settings.body_limit_bytes)
    app.add_middleware(RequestFrame, metrics=app.state.metrics)
    for part in (estimates, options, jobs, photos, surveys, quotes, days, prices, rules, people):
        app.include_router(part.router, prefix=API_PREFIX)
    app.include_router(health.router)

    @app.get(f"{API_PREFIX}/docs", include_in_schema=False, response_class=HTMLResponse)
    def docs() -> HTMLResponse:
        return HTMLResponse(contract_page(contract(app)))

    app.openapi = lambda: contract(app)  # type: ignore[method-assign]
    return app


def _version() -> str:
    try:
        return version("footing")
    except PackageNotFoundError:
        return "0"
