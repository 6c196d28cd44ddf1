"""People of the firm and customers: users, keys, sessions, and taking a customer's name out for good."""

from datetime import datetime

from sqlmodel import Session

from api import security
from api.errors import conflict, not_found
from api.ids import is_id, new_id
from api.schemas.people import Erased, KeyCreate, UserCreate, UserUpdate
from api.security import Actor, require
from api.settings import Settings
from api.store import jobs, office, people, quotes
from models.records import ApiKey, Job, Role, UserRecord

ERASED_LABEL = "Job {number}, customer erased"


def add_user(session: Session, actor: Actor, body: UserCreate, *, now: datetime) -> UserRecord:
    """A new user. Raises 403, and 409 for a name that is taken."""
    require(actor, "manage_users")
    name = body.name.strip().casefold()
    if people.user_by_name(session, name) is not None:
        raise conflict(f"there is a user called {name} already")
    user = UserRecord(
        id=new_id(),
        name=name,
        full_name=body.full_name,
        role=body.role,
        password_hash=None if body.password is None else security.password_hash(body.password),
        created_at=now,
    )
    session.add(user)
    session.flush()
    office.write_audit(
        session, actor=actor.id, action="user_created", subject=user.id, now=now, new={"name": name, "role": body.role}
    )
    return user


def change_user(session: Session, actor: Actor, user_id: str, body: UserUpdate, *, now: datetime) -> UserRecord:
    """Change a user. Raises 403, 404, and 409 where the firm would be left without an owner who can come in."""
    require(actor, "manage_users")
    owners = people.active_owners(session)
    user = user_for(session, user_id, lock=True)
    stays_owner = (body.role in (None, Role.OWNER)) and body.active is not False
    if [owner.id for owner in owners] == [user.id] and not stays_owner:
        raise conflict("this is the last owner who can come in; make another owner first")
    old: dict[str, object] = {}
    new: dict[str, object] = {}
    for name in ("full_name", "role", "active"):
        wanted = getattr(body, name)
        if wanted is not None and wanted != getattr(user, name):
            old[name], new[name] = getattr(user, name), wanted
            setattr(user, name, wanted)
    if body.password is not None:
        user.password_hash = security.password_hash(body.password)
        new["password"] = "set"
    session.add(user)
    if body.password is not None or body.active is False:
        people.forget_sessions_of(session, user.id)
    if new:
        office.write_audit(
            session, actor=actor.id, action="user_changed", subject=user.id, now=now, old=old, new=new,
            why=body.why or "",
        )  # fmt: skip
    return user


def user_for(session: Session, user_id: str, *, lock: bool = False) -> UserRecord:
    """The user at an address. Raises 404."""
    user = people.user_by_id(session, user_id, lock=lock) if is_id(user_id) else None
    if user is None:
        raise not_found("user")
    return user


def sign_in_link(session: Session, settings: Settings, actor: Actor, user_id: str, *, now: datetime) -> str:
    """The token of a link that signs a user in once. Raises 403, 404, 409 for one who is not active."""
    require(actor, "manage_users")
    user = user_for(session, user_id)
    if not user.active:
        raise conflict(f"{user.name} is not active")
    office.write_audit(session, actor=actor.id, action="sign_in_link_made", subject=user.id, now=now)
    return security.keep_signin_link(session, settings, user.id, now=now)


def sign_out_everywhere(session: Session, actor: Actor, user_id: str, *, now: datetime) -> int:
    """End all sessions of a user: one's own, or anyone's with the right to manage users."""
    if actor.user_id != user_id:
        require(actor, "manage_users")
        user_for(session, user_id)
    ended = people.forget_sessions_of(session, user_id)
    office.write_audit(
        session, actor=actor.id, action="signed_out_everywhere", subject=user_id, now=now, detail={"sessions": ended}
    )
    return ended


def add_key(session: Session, actor: Actor, body: KeyCreate, *, now: datetime) -> tuple[ApiKey, str]:
    """A new key, and the key itself. Raises 403."""
    require(actor, "manage_users")
    made, key = security.new_api_key(role=Role(body.role), label=body.label, now=now)
    session.add(made)
    session.flush()
    office.write_audit(
        session, actor=actor.id, action="key_created", subject=made.id, now=now,
        new={"label": body.label, "role": body.role},
    )  # fmt: skip
    return made, key


def revoke_key(session: Session, actor: Actor, key_id: str, *, now: datetime) -> ApiKey:
    """Take a key out of use; a second time changes nothing. Raises 403, 404."""
    require(actor, "manage_users")
    key = people.api_key_by_id(session, key_id) if is_id(key_id) else None
    if key is None:
        raise not_found("key")
    if key.revoked_at is None:
        people.revoke_api_key(session, key.id, now)
        office.write_audit(session, actor=actor.id, action="key_revoked", subject=key.id, now=now)
    return key


def erase_party(session: Session, actor: Actor, job: Job, reason: str, *, now: datetime) -> Erased:
    """Take a customer's name, address, contact and photographs out for good.

    Sealed quotes keep their bytes and hashes: they never held the name. Of files that did, the copy without it stays.
    Raises 403, 409 where it was done before.
    """
    require(actor, "erase_people")
    party = jobs.party_of(session, job)
    if party.erased_at is not None:
        raise conflict("this customer was erased already")
    of_party = people.parties_jobs(session, party.id)
    job_ids = [one.id for one in of_party]
    party.name = party.address = party.contact = ""
    party.erased_at = now
    session.add(party)
    for one in of_party:
        one.label = ERASED_LABEL.format(number=one.number)
        one.version += 1
        session.add(one)
    photos = people.delete_photos(session, job_ids)
    # The database lets a file with a name go only once its customer is erased.
    session.flush()
    files = quotes.delete_files_with_names(session, job_ids)
    office.write_audit(
        session, actor=actor.id, action="party_erased", subject=party.id, now=now, why=reason,
        detail={"jobs": [one.number for one in of_party], "photos": photos, "files": files},
    )  # fmt: skip
    kept = people.issued_count(session, job_ids)
    return Erased(job_ids=job_ids, quotes_kept=kept, photos_deleted=photos, files_deleted=files)
