"""The composed app: the API, the pages and the static files."""

from typing import Annotated

from fastapi import FastAPI, Query, Request
from fastapi.responses import Response

from api.app import create_api
from api.errors import not_found
from api.settings import Settings
from web.pages import SecurityHeaders, problem_page, static_files
from web.routes import days, estimate, jobs, network, office, options, people, quotes, sign_in, survey

FOR_EVER = "public, max-age=31536000, immutable"
FOR_NOW = "public, max-age=300"


def create_app(settings: Settings) -> FastAPI:
    """The whole service under one address: `/api/v1` for programs, pages for people."""
    app = create_api(settings)
    app.state.problem_page = problem_page
    for routes in (sign_in, people, jobs, survey, estimate, options, quotes, days, network, office):
        app.include_router(routes.router)
    app.add_api_route("/static/{name}", _static, include_in_schema=False)
    app.add_middleware(SecurityHeaders)
    return app


def _static(request: Request, name: str, v: Annotated[str, Query()] = "") -> Response:
    """A static file: kept for ever under the address that carries its digest, otherwise for minutes."""
    file = static_files().get(name)
    if file is None:
        raise not_found("file")
    headers = {"cache-control": FOR_EVER if v == file.digest else FOR_NOW, "etag": f'"{file.digest}"'}
    if request.headers.get("if-none-match") == headers["etag"]:
        return Response(status_code=304, headers=headers)
    return Response(file.body, media_type=file.media_type, headers=headers)
