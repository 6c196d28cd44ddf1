"""What every page shares: the templates with their words, who looks, the posted form, the headers."""

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Annotated, Any
from urllib.parse import quote

from fastapi import Depends, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response
from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from api.deps import actor_of_request
from api.errors import TITLES, Problem
from api.render.sentences import (
    before_lines,
    difference_words,
    emitter_words,
    equipment_words,
    grouped,
    off_lines,
    price_lines,
    stage_words,
)
from api.render.wording import (
    CANCELLATION_FORM,
    STRENGTH_TITLES,
    STRENGTH_WORDS,
    day_words,
    edition,
    figure,
    noted,
    per_cent,
    plural,
    pounds,
    quantity,
    sentence,
    sort_code_words,
    unit_mark,
    vat_number_words,
    words_of,
)
from api.security import Actor, check_form_token, require_write
from web.sentences import (
    OFF_FIGURES,
    PLANNING_WORDS,
    PRICE_FIGURES,
    RANKING_RULE,
    basis_lines,
    equipment_reason,
    load_words,
    method_lines,
    position_words,
    ranking_rows,
)

HERE = Path(__file__).parent
STATIC_TYPES = {"css": "text/css; charset=utf-8", "js": "text/javascript; charset=utf-8", "svg": "image/svg+xml"}
MOST_FIELDS = 20_000
SECURITY_HEADERS = {
    "content-security-policy": (
        "default-src 'none'; style-src 'self'; img-src 'self'; script-src 'self'; connect-src 'self'; "
        "form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
    ),
    "x-content-type-options": "nosniff",
    "x-frame-options": "DENY",
    "referrer-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "permissions-policy": "camera=(), geolocation=(), microphone=()",
}


@dataclass(frozen=True, slots=True)
class StaticFile:
    """A file that never changes under its address: its bytes, kind and digest."""

    body: bytes
    media_type: str
    digest: str


@cache
def static_files() -> dict[str, StaticFile]:
    """The static files by name, read once."""
    return {
        path.name: StaticFile(
            path.read_bytes(), STATIC_TYPES[path.suffix[1:]], hashlib.sha256(path.read_bytes()).hexdigest()[:12]
        )
        for path in sorted((HERE / "static").iterdir())
        if path.suffix[1:] in STATIC_TYPES
    }


def static_address(name: str) -> str:
    """The address of a static file, which changes when its bytes do."""
    return f"/static/{name}?v={static_files()[name].digest}"


@cache
def templates() -> Environment:
    """The templates with everything they may call. Everything is escaped."""
    environment = Environment(
        loader=FileSystemLoader(HERE / "templates"), autoescape=True, undefined=StrictUndefined, trim_blocks=True,
        lstrip_blocks=True,
    )  # fmt: skip
    environment.filters |= {
        "pounds": pounds, "figure": figure, "quantity": quantity, "per_cent": per_cent, "words": words_of,
         "grouped": grouped, "mark": unit_mark, "sentence": sentence,
        "edition": edition, "noted": noted, "vat_number": vat_number_words, "sort_code": sort_code_words,
    }  # fmt: skip
    environment.globals |= {
        "static": static_address, "strength_words": STRENGTH_WORDS, "strength_titles": STRENGTH_TITLES,
        "plural": plural, "day_words": day_words, "price_lines": price_lines, "stage_words": stage_words,
        "difference_words": difference_words, "cancellation_form": CANCELLATION_FORM,
        "emitter_words": emitter_words, "method_lines": method_lines, "position_words": position_words,
        "ranking_rows": ranking_rows, "ranking_rule": RANKING_RULE,
        "planning_words": PLANNING_WORDS,
        "equipment_words": equipment_words, "off_lines": off_lines, "before_lines": before_lines,
        "basis_lines": basis_lines, "price_figures": PRICE_FIGURES, "equipment_reason": equipment_reason,
        "off_figures": OFF_FIGURES, "load_words": load_words,
        "box": (), "said": None, "version": None, "opened": "", "why_at": "", "wide": False,
    }  # fmt: skip
    return environment


def page(
    name: str, viewer: Actor | None, /, *, status: int = 200, headers: Mapping[str, str] | None = None, **context: Any
) -> HTMLResponse:
    """A page for whoever looks. It is never kept by a cache, since it may hold a customer's data."""
    token = viewer.csrf if viewer is not None and viewer.csrf is not None else ""
    field = Markup('<input type="hidden" name="csrf" value="{}">').format(token)
    html = templates().get_template(name).render(viewer=viewer, csrf=lambda: field, **context)
    return HTMLResponse(html, status, {"cache-control": "no-store", **(headers or {})})


def to(address: str) -> RedirectResponse:
    """Go on to another page after a form was taken."""
    return RedirectResponse(address, 303, {"cache-control": "no-store"})


def viewer_of(request: Request) -> Actor:
    """Who looks. Raises 401, which becomes the sign-in page."""
    actor = actor_of_request(request)
    if actor is None or actor.csrf is None:
        raise Problem(401, "not_signed_in", "sign in to see this")
    request.state.actor_id = actor.id
    return actor


Viewer = Annotated[Actor, Depends(viewer_of)]
Form = dict[str, str]


async def posted_fields(request: Request) -> Form:
    """The fields of a posted form as text; files are not taken."""
    async with request.form(max_files=0, max_fields=MOST_FIELDS) as form:
        return {name: value.replace("\0", "") for name, value in form.items() if isinstance(value, str)}


def own_form(request: Request, viewer: Viewer, fields: Annotated[Form, Depends(posted_fields)]) -> Form:
    """A form that carries the token of the viewer's own session. Raises 403, also for a role that only reads."""
    check_form_token(viewer, fields.pop("csrf", None))
    require_write(viewer, method=request.method, path=request.url.path)
    return fields


PostedFields = Annotated[Form, Depends(posted_fields)]
OwnForm = Annotated[Form, Depends(own_form)]


def safe_next(address: str | None) -> str:
    """An address of our own to go on to; anything else leads to the jobs."""
    if address and address.startswith("/") and not address.startswith(("//", "/\\")) and address.isprintable():
        return address
    return "/jobs"


def problem_page(request: Request, problem: Problem) -> Response:
    """A problem as a page; whoever is not signed in is led to the sign-in page."""
    if problem.status == 401:
        here = request.url.path + (f"?{request.url.query}" if request.url.query else "")
        return to(f"/sign-in?next={quote(here, safe='')}" if request.method == "GET" else "/sign-in")
    try:
        viewer = actor_of_request(request)
    except Exception:
        viewer = None
    lines = [f"{fault.where}: {fault.message}" for fault in problem.errors]
    detail = problem.detail[:1].upper() + problem.detail[1:]
    return page(
        "problem.html", viewer if viewer is not None and viewer.csrf else None, status=problem.status,
        headers={**problem.headers}, title=TITLES.get(problem.code, "This did not work"), detail=detail, lines=lines,
        back=None, back_words=None,
    )  # fmt: skip


class SecurityHeaders:
    """Adds the headers that tell a browser to trust nothing but our own files."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app
        self.headers = [(name.encode(), value.encode()) for name, value in SECURITY_HEADERS.items()]

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass the request on and mark the answer."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return

        async def marked(message: Message) -> None:
            if message["type"] == "http.response.start":
                there = {name.lower() for name, _ in message["headers"]}
                message["headers"] = [
                    *message["headers"], *((name, value) for name, value in self.headers if name not in there)
                ]  # fmt: skip
            await send(message)

        await self.app(scope, receive, marked)
