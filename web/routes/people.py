"""The firm's people and its programs' keys for the owner, the audit list for the office; own sessions for everyone."""

from datetime import datetime
from typing import Annotated

from fastapi import APIRouter, Query
from fastapi.responses import Response
from pydantic import ValidationError
from sqlmodel import Session

from api.deps import Now, ReadSession, SettingsDep, WriteSession
from api.errors import Problem
from api.ids import is_id
from api.render.wording import day_words
from api.routes.jobs import job_for
from api.schemas.people import AuditPublic, ErasureRequest, KeyCreate, UserCreate, UserUpdate
from api.security import Actor, require
from api.services import people as service
from api.store import jobs, office, people
from web.pages import Form, OwnForm, Viewer, page, to

router = APIRouter(include_in_schema=False)
ROLES = {
    "sales": "sales: own jobs, no cost",
    "office": "office: everything but people",
    "accounts": "accounts: reads, changes nothing",
    "owner": "owner: everything",
}
AUDIT_LINES = 100


@router.get("/people")
def show_people(session: ReadSession, viewer: Viewer, now: Now) -> Response:
    """Users and keys for the owner, a way to the audit list for the office; others see where they are signed in."""
    return _page(session, viewer, now)


def _page(
    session: Session, viewer: Actor, now: datetime, *, fault: str = "", shown: str = "", form: Form | None = None,
    status: int = 200,
) -> Response:  # fmt: skip
    manages = viewer.may("manage_users")
    own = people.sessions_of(session, viewer.user_id, now) if viewer.user_id else []
    return page(
        "people.html", viewer, status=status, fault=fault, shown=shown, typed=form or {}, roles=ROLES, sessions=own,
        users=people.users(session) if manages else [], keys=people.api_keys(session) if manages else [],
        manages=manages, stamp=_stamp,
    )  # fmt: skip


def _stamp(moment: datetime) -> str:
    return f"{day_words(moment.date())}, {moment:%H:%M} UTC"


def _fault(error: ValidationError) -> str:
    words = {"name": "a sign-in name", "full_name": "a full name", "password": "a password of 10 characters or more",
             "label": "a label", "role": "a role", "reason": "a reason"}  # fmt: skip
    wanted = dict.fromkeys(words.get(str(one["loc"][0]), "a text that can be printed") for one in error.errors())
    return f"Give {', '.join(wanted)}."


@router.post("/people/users")
def add_user(session: WriteSession, viewer: Viewer, form: OwnForm, now: Now) -> Response:
    """A new user."""
    require(viewer, "manage_users")
    try:
        body = UserCreate.model_validate({
            "name": form.get("name", ""), "full_name": form.get("full_name", ""), "role": form.get("role", ""),
            "password": form.get("password") or None,
        })  # fmt: skip
        service.add_user(session, viewer, body, now=now)
    except ValidationError as error:
        return _page(session, viewer, now, fault=_fault(error), form=form, status=422)
    except Problem as problem:
        return _page(session, viewer, now, fault=_said(problem), form=form, status=problem.status)
    return to("/people")


def _said(problem: Problem) -> str:
    return problem.detail[:1].upper() + problem.detail[1:] + "."


@router.post("/people/users/{user_id}")
def change_user(
    session: WriteSession, viewer: Viewer, user_id: str, form: OwnForm, settings: SettingsDep, now: Now
) -> Response:
    """Change a role or password, let somebody in or out, end their sessions, or make a link that signs in once."""
    require(viewer, "manage_users")
    do = form.get("do", "save")
    try:
        if do == "link":
            token = service.sign_in_link(session, settings, viewer, user_id, now=now)
            return _page(session, viewer, now, shown=f"/sign-in/link?token={token}")
        if do == "sign_out":
            service.sign_out_everywhere(session, viewer, user_id, now=now)
            return to("/people")
        wanted: dict[str, str | bool | None]
        wanted = {"role": form.get("role") or None, "password": form.get("password") or None}
        if do in ("activate", "deactivate"):
            wanted = {"active": do == "activate"}
        body = UserUpdate.model_validate({**wanted, "why": form.get("why", "").strip() or None})
        service.change_user(session, viewer, user_id, body, now=now)
    except ValidationError as error:
        return _page(session, viewer, now, fault=_fault(error), status=422)
    except Problem as problem:
        return _page(session, viewer, now, fault=_said(problem), status=problem.status)
    return to("/people")


@router.post("/people/keys")
def add_key(session: WriteSession, viewer: Viewer, form: OwnForm, now: Now) -> Response:
    """A new key, shown once on the page that this answers."""
    require(viewer, "manage_users")
    try:
        body = KeyCreate.model_validate({"label": form.get("label", ""), "role": form.get("role", "")})
        _, key = service.add_key(session, viewer, body, now=now)
    except ValidationError as error:
        return _page(session, viewer, now, fault=_fault(error), form=form, status=422)
    return _page(session, viewer, now, shown=key)


@router.post("/people/keys/{key_id}")
def revoke_key(session: WriteSession, viewer: Viewer, key_id: str, form: OwnForm, now: Now) -> Response:
    """Take a key out of use."""
    service.revoke_key(session, viewer, key_id, now=now)
    return to("/people")


@router.post("/people/sign-out-everywhere")
def sign_out_everywhere(session: WriteSession, viewer: Viewer, form: OwnForm, now: Now) -> Response:
    """End all of one's own sessions."""
    if viewer.user_id is not None:
        service.sign_out_everywhere(session, viewer, viewer.user_id, now=now)
    return to("/sign-in")


@router.get("/people/audit")
def show_audit(
    session: ReadSession, viewer: Viewer, before: Annotated[str, Query(max_length=36)] = "",
    subject: Annotated[str, Query(max_length=120)] = "",
) -> Response:  # fmt: skip
    """Who did what, the newest first."""
    require(viewer, "see_audit")
    found = office.audit_before(
        session, before=before if is_id(before) else None, actor=None, subject=subject or None, action=None,
        limit=AUDIT_LINES + 1,
    )  # fmt: skip
    names = people.names_of_actors(session)
    rows = [AuditPublic.of(row, names) for row in found[:AUDIT_LINES]]
    more = rows[-1].id if len(found) > AUDIT_LINES else ""
    return page("audit.html", viewer, rows=rows, more=more, subject=subject, stamp=_stamp)


@router.get("/jobs/{job_id}/erase-customer")
def ask_erasure(session: ReadSession, viewer: Viewer, job_id: str) -> Response:
    """What erasing a customer does, and the reason for it."""
    require(viewer, "erase_people")
    job = job_for(session, viewer, job_id)
    return page("erase.html", viewer, job=job, party=jobs.party_of(session, job), fault="")


@router.post("/jobs/{job_id}/erase-customer")
def erase_customer(session: WriteSession, viewer: Viewer, job_id: str, form: OwnForm, now: Now) -> Response:
    """Take a customer out for good."""
    job = job_for(session, viewer, job_id, lock=True)
    try:
        body = ErasureRequest(reason=form.get("reason", ""))
        service.erase_party(session, viewer, job, body.reason, now=now)
    except ValidationError:
        party = jobs.party_of(session, job)
        return page("erase.html", viewer, status=422, job=job, party=party, fault="Say why the customer is erased.")
    return to(f"/jobs/{job.id}")
