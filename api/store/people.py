"""Queries about users, keys, sessions, links and tries."""

from datetime import datetime

from sqlalchemy import delete, func, update
from sqlalchemy.dialects import postgresql, sqlite
from sqlmodel import Session, col, select

from models.records import ApiKey, Job, PhotoRecord, Quote, Role, SigninLink, Throttle, UserRecord, UserSession


def api_key_by_hash(session: Session, key_hash: str) -> ApiKey | None:
    """The key with this hash."""
    return session.exec(select(ApiKey).where(ApiKey.key_hash == key_hash)).first()


def revoke_api_key(session: Session, key_id: str, now: datetime) -> bool:
    """Take a key out of use. False when there is none."""
    key = session.get(ApiKey, key_id)
    if key is not None and key.revoked_at is None:
        key.revoked_at = now
        session.add(key)
    return key is not None


def user_by_name(session: Session, name: str) -> UserRecord | None:
    """The user who signs in with this name (already folded to lower case)."""
    return session.exec(select(UserRecord).where(UserRecord.name == name)).first()


def session_with_user(session: Session, token_hash: str) -> tuple[UserSession, UserRecord] | None:
    """A kept session and its user."""
    found = session.exec(
        select(UserSession, UserRecord)
        .join(UserRecord, col(UserRecord.id) == col(UserSession.user_id))
        .where(UserSession.token_hash == token_hash)
    ).first()
    return None if found is None else (found[0], found[1])


def forget_session(session: Session, token_hash: str) -> None:
    """Drop one session."""
    session.connection().execute(delete(UserSession).where(col(UserSession.token_hash) == token_hash))


def forget_ended_sessions(session: Session, now: datetime) -> None:
    """Drop the sessions that are over."""
    session.connection().execute(delete(UserSession).where(col(UserSession.expires_at) <= now))


def take_signin_link(session: Session, token_hash: str, now: datetime) -> UserRecord | None:
    """Use a link up, in one step so that two who hold it cannot both come in. The active user it is for, or None."""
    taken = session.connection().execute(
        update(SigninLink)
        .where(col(SigninLink.token_hash) == token_hash, col(SigninLink.used_at).is_(None))
        .where(col(SigninLink.expires_at) > now)
        .values(used_at=now)
    )
    if taken.rowcount != 1:
        return None
    link = session.get(SigninLink, token_hash)
    user = None if link is None else session.get(UserRecord, link.user_id)
    return user if user is not None and user.active else None


def count_try(session: Session, key: str, window: int) -> int:
    """Count one more try in a window of time and answer how many there are now."""
    insert = postgresql.insert if session.get_bind().dialect.name == "postgresql" else sqlite.insert
    statement = insert(Throttle).values({"key": key, "window_no": window, "count": 1})
    statement = statement.on_conflict_do_update(
        index_elements=["key", "window_no"], set_={"count": Throttle.__table__.c.count + 1}  # type: ignore[attr-defined]
    )
    session.connection().execute(statement)
    kept = session.exec(select(Throttle.count).where(Throttle.key == key, Throttle.window == window)).one()
    return int(kept)


def forget_old_tries(session: Session, window: int) -> None:
    """Drop the counts of earlier windows."""
    session.connection().execute(delete(Throttle).where(col(Throttle.window) < window))


def user_by_id(session: Session, user_id: str, *, lock: bool = False) -> UserRecord | None:
    """A user."""
    query = select(UserRecord).where(UserRecord.id == user_id)
    return session.exec(query.with_for_update() if lock else query).first()


def users(session: Session) -> list[UserRecord]:
    """Everyone who is or was of the firm, by name."""
    return list(session.exec(select(UserRecord).order_by(col(UserRecord.name))))


def active_owners(session: Session) -> list[UserRecord]:
    """The owners who may come in, locked: two of them cannot take each other out at once."""
    query = select(UserRecord).where(UserRecord.role == Role.OWNER, col(UserRecord.active).is_(True))
    return list(session.exec(query.order_by(col(UserRecord.id)).with_for_update()))


def api_keys(session: Session) -> list[ApiKey]:
    """All keys, the newest first."""
    return list(session.exec(select(ApiKey).order_by(col(ApiKey.id).desc())))


def api_key_by_id(session: Session, key_id: str) -> ApiKey | None:
    """A key."""
    return session.get(ApiKey, key_id)


def sessions_of(session: Session, user_id: str, now: datetime) -> list[UserSession]:
    """The sessions of a user that are not over, the newest first."""
    query = select(UserSession).where(UserSession.user_id == user_id, col(UserSession.expires_at) > now)
    return list(session.exec(query.order_by(col(UserSession.created_at).desc(), col(UserSession.token_hash))))


def forget_sessions_of(session: Session, user_id: str) -> int:
    """Drop all sessions of a user and use up their links. Answers how many sessions there were."""
    gone = session.connection().execute(delete(UserSession).where(col(UserSession.user_id) == user_id))
    session.connection().execute(delete(SigninLink).where(col(SigninLink.user_id) == user_id))
    return int(gone.rowcount)


def names_of_actors(session: Session) -> dict[str, str]:
    """What users and keys are called, by the id under which they act."""
    found = {f"user:{user.id}": user.full_name for user in users(session)}
    return found | {f"key:{key.id}": f"key {key.label}" for key in api_keys(session)}


def parties_jobs(session: Session, party_id: str) -> list[Job]:
    """The jobs of a customer, locked."""
    query = select(Job).where(Job.party_id == party_id).order_by(col(Job.number))
    return list(session.exec(query.with_for_update()))


def issued_count(session: Session, job_ids: list[str]) -> int:
    """How many quotes of some jobs were issued."""
    query = select(func.count()).select_from(Quote).where(col(Quote.job_id).in_(job_ids))
    return int(session.exec(query.where(col(Quote.document).is_not(None))).one())


def delete_photos(session: Session, job_ids: list[str]) -> int:
    """Drop the photographs of some jobs. Answers how many there were."""
    gone = session.connection().execute(delete(PhotoRecord).where(col(PhotoRecord.job_id).in_(job_ids)))
    return int(gone.rowcount)
