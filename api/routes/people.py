"""Users, keys, one's own sessions, the audit list, and taking a customer out for good."""

from typing import Annotated

from fastapi import APIRouter, Query, Response

from api.answers import answer
from api.body import RawJson, documented, parse
from api.deps import CurrentActor, Now, OnceDep, ReadSession, SettingsDep, WriteSession, kept
from api.errors import Problem
from api.ids import cursor_of, is_id, text_of_cursor
from api.routes.jobs import Cursor, Limit, job_for
from api.schemas.people import (
    AuditPage,
    AuditPublic,
    Erased,
    ErasureRequest,
    KeyCreate,
    KeyMade,
    KeyPublic,
    SessionPublic,
    SignInLink,
    UserCreate,
    UserPublic,
    UserUpdate,
)
from api.security import require
from api.services import people as service
from api.store import office, people

router = APIRouter(tags=["people"])


@router.get("/users", summary="List users", response_model=list[UserPublic])
def list_users(actor: CurrentActor, session: ReadSession) -> list[UserPublic]:
    """Everyone of the firm, also those who are no longer active. Only for the owner."""
    require(actor, "manage_users")
    return [UserPublic.of(user) for user in people.users(session)]


@router.post(
    "/users",
    summary="Add a user",
    status_code=201,
    responses={201: {"model": UserPublic}},
    openapi_extra=documented(
        "UserCreate",
        UserCreate,
        {"sales": {"value": {"name": "kim", "full_name": "Kim Surveyor", "role": "sales"}}},
    ),
)
def post_user(actor: CurrentActor, raw: RawJson, session: WriteSession, once: OnceDep, now: Now) -> Response:
    """A new user with a role. 409 for a sign-in name that is taken."""
    body = parse(UserCreate, raw, where="the user")

    def make() -> Response:
        user = service.add_user(session, actor, body, now=now)
        return answer(UserPublic.of(user), status=201, location=f"/api/v1/users/{user.id}")

    return once.answer(make)


@router.get("/users/{user_id}", summary="Read a user", response_model=UserPublic)
def get_user(user_id: str, actor: CurrentActor, session: ReadSession) -> UserPublic:
    """One user. Only for the owner."""
    require(actor, "manage_users")
    return UserPublic.of(service.user_for(session, user_id))


@router.patch(
    "/users/{user_id}",
    summary="Change a user",
    responses={200: {"model": UserPublic}},
    openapi_extra=documented(
        "UserUpdate", UserUpdate, {"leaves": {"value": {"active": False, "why": "has left the firm"}}}
    ),
)
@kept
def patch_user(user_id: str, actor: CurrentActor, raw: RawJson, session: WriteSession, now: Now) -> Response:
    """Change name, role, password, or take somebody out. 409 for the last owner."""
    body = parse(UserUpdate, raw, where="the user")
    return answer(UserPublic.of(service.change_user(session, actor, user_id, body, now=now)))


@router.post(
    "/users/{user_id}/sign-in-link", summary="Make a sign-in link", status_code=201, response_model=SignInLink
)
def post_sign_in_link(
    user_id: str, actor: CurrentActor, session: WriteSession, settings: SettingsDep, now: Now
) -> SignInLink:
    """The address that signs a user in once, for somebody without a password."""
    token = service.sign_in_link(session, settings, actor, user_id, now=now)
    return SignInLink(address=f"/sign-in/link?token={token}")


@router.delete("/users/{user_id}/sessions", summary="Sign a user out everywhere", status_code=204)
@kept
def delete_user_sessions(user_id: str, actor: CurrentActor, session: WriteSession, now: Now) -> Response:
    """End all sessions of a user."""
    require(actor, "manage_users")
    service.sign_out_everywhere(session, actor, user_id, now=now)
    return Response(status_code=204)


@router.get("/sessions", summary="List my sessions", response_model=list[SessionPublic])
def list_sessions(actor: CurrentActor, session: ReadSession, now: Now) -> list[SessionPublic]:
    """Where I am signed in, the newest first. A key has no sessions."""
    if actor.user_id is None:
        return []
    return [SessionPublic.of(one) for one in people.sessions_of(session, actor.user_id, now)]


@router.delete("/sessions", summary="Sign me out everywhere", status_code=204)
@kept
def delete_sessions(actor: CurrentActor, session: WriteSession, now: Now) -> Response:
    """End all my sessions, this one too."""
    if actor.user_id is not None:
        service.sign_out_everywhere(session, actor, actor.user_id, now=now)
    return Response(status_code=204)


@router.get("/api-keys", summary="List keys", response_model=list[KeyPublic])
def list_keys(actor: CurrentActor, session: ReadSession) -> list[KeyPublic]:
    """All keys, also those that were revoked. The keys themselves are not kept."""
    require(actor, "manage_users")
    return [KeyPublic.of(key) for key in people.api_keys(session)]


@router.post(
    "/api-keys",
    summary="Make a key",
    status_code=201,
    responses={201: {"model": KeyMade}},
    openapi_extra=documented("KeyCreate", KeyCreate, {"books": {"value": {"label": "books", "role": "accounts"}}}),
)
def post_key(actor: CurrentActor, raw: RawJson, session: WriteSession, now: Now) -> Response:
    """A key with the rights of a role. It is shown in this answer and never again, so no kept answer repeats it."""
    body = parse(KeyCreate, raw, where="the key")
    made, key = service.add_key(session, actor, body, now=now)
    shown = KeyMade(**KeyPublic.of(made).model_dump(), key=key)
    return answer(shown, status=201)


@router.delete("/api-keys/{key_id}", summary="Revoke a key", status_code=204)
@kept
def delete_key(key_id: str, actor: CurrentActor, session: WriteSession, now: Now) -> Response:
    """Take a key out of use at once."""
    service.revoke_key(session, actor, key_id, now=now)
    return Response(status_code=204)


@router.get("/audit", summary="Read the audit list", response_model=AuditPage)
def list_audit(
    actor: CurrentActor,
    session: ReadSession,
    limit: Limit = 50,
    cursor: Cursor = None,
    by: Annotated[str | None, Query(max_length=48, description="Only what this actor did.")] = None,
    subject: Annotated[str | None, Query(max_length=120, description="Only what was done to this record.")] = None,
    action: Annotated[str | None, Query(max_length=60, description="Only this kind of action.")] = None,
) -> AuditPage:
    """Who did what, when, to which record, what stood there before and after, why, and from where. Newest first."""
    require(actor, "see_audit")
    before = None if cursor is None else text_of_cursor(cursor)
    if before is not None and not is_id(before):
        raise Problem(422, "invalid", "the cursor is not one that a list of ours gave")
    found = office.audit_before(session, before=before, actor=by, subject=subject, action=action, limit=limit + 1)
    shown = found[:limit]
    names = people.names_of_actors(session)
    return AuditPage(
        items=[AuditPublic.of(row, names) for row in shown],
        next_cursor=cursor_of(shown[-1].id) if len(found) > limit else None,
    )


@router.post(
    "/jobs/{job_id}/party/erasure",
    summary="Erase a customer",
    responses={200: {"model": Erased}},
    openapi_extra=documented(
        "ErasureRequest", ErasureRequest, {"asked": {"value": {"reason": "asked for it in a letter of 3 May"}}}
    ),
)
def post_erasure(
    job_id: str, actor: CurrentActor, raw: RawJson, session: WriteSession, once: OnceDep, now: Now
) -> Response:
    """Take a customer's name, address, contact and photographs out. Sealed quotes keep their bytes and hashes."""
    body = parse(ErasureRequest, raw, where="the erasure")

    def make() -> Response:
        job = job_for(session, actor, job_id, lock=True)
        return answer(service.erase_party(session, actor, job, body.reason, now=now))

    return once.answer(make)
