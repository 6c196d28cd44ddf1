"""Queries about users, keys, sessions, links and tries."""

from datetime import datetime

from sqlalchemy import delete, update
from sqlalchemy.dialects import postgresql, sqlite
from sqlmodel import Session, col, select

from models.records import ApiKey, SigninLink, Throttle, UserRecord, UserSession


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
