"""Signing in by password or by a link that works once, and signing out."""

from typing import Annotated

from fastapi import APIRouter, Query, Request
from fastapi.responses import Response

from api import security
from api.deps import EngineDep, Now, SettingsDep, actor_of_request
from api.errors import Problem
from api.security import SESSION_COOKIE, SignedIn
from api.settings import Settings
from web.pages import OwnForm, PostedFields, Viewer, page, safe_next, to

router = APIRouter(include_in_schema=False)


@router.get("/sign-in")
def ask(request: Request, next: Annotated[str, Query()] = "") -> Response:
    """The form; who is signed in already goes on."""
    actor = actor_of_request(request)
    if actor is not None and actor.csrf is not None:
        return to(safe_next(next))
    return page("sign_in.html", None, next=next, name="", fault="")


@router.post("/sign-in")
def sign_in(request: Request, engine: EngineDep, settings: SettingsDep, now: Now, form: PostedFields) -> Response:
    """Sign in by password. A form that another site posts is refused."""
    if request.headers.get("sec-fetch-site", "same-origin") not in ("same-origin", "none"):
        raise Problem(403, "form_expired", "this form was not sent from our own page")
    name, going_to = form.get("name", ""), form.get("next", "")
    client = request.client.host if request.client else ""
    try:
        signed_in = security.sign_in(
            engine, settings, name=name, password=form.get("password", ""), client=client, now=now
        )
    except Problem as problem:
        return page(
            "sign_in.html", None, status=problem.status, headers=problem.headers, next=going_to, name=name,
            fault=problem.detail[:1].upper() + problem.detail[1:] + ".",
        )  # fmt: skip
    if signed_in is None:
        return page(
            "sign_in.html", None, status=401, next=going_to, name=name, fault="Name and password do not go together."
        )
    return _with_cookie(to(safe_next(going_to)), signed_in, settings)


@router.get("/sign-in/link")
def by_link(
    engine: EngineDep, settings: SettingsDep, now: Now, token: Annotated[str, Query(max_length=200)] = ""
) -> Response:
    """Sign in by a link. It works once; its token stands where no log of paths keeps it."""
    signed_in = security.use_signin_link(engine, settings, token, now=now)
    if signed_in is None:
        return page(
            "sign_in.html", None, status=410, next="", name="", fault="This link was used already or is too old."
        )
    return _with_cookie(to("/jobs"), signed_in, settings)


@router.post("/sign-out")
def sign_out(request: Request, engine: EngineDep, settings: SettingsDep, viewer: Viewer, form: OwnForm) -> Response:
    """End the session."""
    security.end_session(engine, settings, request.cookies.get(SESSION_COOKIE, ""))
    response = to("/sign-in")
    response.delete_cookie(SESSION_COOKIE)
    return response


def _with_cookie(response: Response, signed_in: SignedIn, settings: Settings) -> Response:
    response.set_cookie(
        SESSION_COOKIE, signed_in.token, max_age=settings.session_hours * 3600, httponly=True, samesite="lax",
        secure=settings.secure_cookies,
    )  # fmt: skip
    return response
