"""Who is asking and what they may do: keys, sessions, one-time links, passwords, rights by role.

Only hashes are kept: SHA-256 of a key (it is random and long), a keyed hash of session tokens and links, argon2 of
passwords. Argon2 takes 64 MiB and a sixth of a second a try, so tries are bounded at once and counted in a table.
"""

import hashlib
import hmac
import re
import secrets
import threading
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import lru_cache
from typing import Literal

from pwdlib import PasswordHash
from pwdlib.hashers.argon2 import Argon2Hasher
from sqlalchemy import Engine
from sqlmodel import Session

from api.errors import Problem
from api.ids import new_id
from api.logs import client_address
from api.settings import Settings, checked_key
from api.store import office, people
from api.store.engine import reading, writing
from models.records import ApiKey, Role, SigninLink, UserRecord, UserSession

Right = Literal[
    "write", "see_cost", "edit_prices", "manage_users", "see_all_jobs", "see_metrics", "see_audit", "approve_margin",
    "erase_people",
]  # fmt: skip
RIGHTS: dict[Role, frozenset[Right]] = {
    Role.SALES: frozenset({"write"}),
    Role.OFFICE: frozenset({
        "write", "see_cost", "edit_prices", "see_all_jobs", "see_audit", "approve_margin", "erase_people",
    }),
    Role.ACCOUNTS: frozenset({"see_cost", "see_all_jobs"}),
    Role.OWNER: frozenset({
        "write", "see_cost", "edit_prices", "manage_users", "see_all_jobs", "see_metrics", "see_audit",
        "approve_margin", "erase_people",
    }),
}  # fmt: skip
RIGHT_WORDS: dict[Right, str] = {
    "write": "write anything down",
    "see_cost": "see what things cost the firm",
    "edit_prices": "change prices and rules",
    "manage_users": "look after people and keys",
    "see_all_jobs": "see the jobs of others",
    "see_metrics": "read how the service is doing",
    "see_audit": "read who did what",
    "approve_margin": "approve a low margin",
    "erase_people": "erase a customer",
}
SAFE_METHODS = frozenset({"GET", "HEAD", "OPTIONS"})
STORES_NOTHING = frozenset({
    "/api/v1/estimates", "/api/v1/options", "/api/v1/sessions", "/sign-out", "/people/sign-out-everywhere",
})  # fmt: skip
"""Addresses whose changing methods write nothing but the asker's own sessions: roles that only read may use them."""
_STORED_SURVEY_WORKED_OUT = re.compile(r"/api/v1/jobs/[^/]+/estimate")
SESSION_COOKIE = "footing_session"
KEY_PREFIX = "fk_"
LEAST_PASSWORD_CHARACTERS = 10
_WAIT_FOR_TURN_S = 5


@dataclass(frozen=True, slots=True)
class Actor:
    """Who acts: a signed-in user or a key. `id` is what records keep; `csrf` only for a browser session."""

    id: str
    name: str
    role: Role
    user_id: str | None = None
    csrf: str | None = None

    def may(self, right: Right) -> bool:
        """Whether the role of this actor has a right."""
        return right in RIGHTS[self.role]

    @property
    def sees_cost(self) -> bool:
        """Whether cost fields are shown."""
        return self.may("see_cost")

    @property
    def only_owner(self) -> str | None:
        """The owner that jobs must have to be seen by this actor; None for all jobs."""
        return None if self.may("see_all_jobs") else self.id


def require(actor: Actor, right: Right) -> None:
    """Raise a 403 problem unless the actor has the right."""
    if not actor.may(right):
        raise Problem(403, "not_allowed", f"the role {actor.role} may not {RIGHT_WORDS[right]}")


def require_write(actor: Actor, *, method: str, path: str) -> None:
    """Raise a 403 problem where a role that only reads asks for something that would be written down."""
    if method not in SAFE_METHODS and path not in STORES_NOTHING and not _STORED_SURVEY_WORKED_OUT.fullmatch(path):
        require(actor, "write")


def keyed_hash(secret: bytes, text: str) -> str:
    """SHA-256 of a token under the installation's secret key."""
    return hmac.new(secret, text.encode("utf-8", "replace"), hashlib.sha256).hexdigest()


def key_hash(key: str) -> str:
    """SHA-256 of an API key."""
    return hashlib.sha256(key.encode("utf-8", "replace")).hexdigest()


# --- keys ---


def create_api_key(engine: Engine, *, role: Role, label: str, now: datetime, key: str | None = None) -> str:
    """Keep a key and answer it; it cannot be read again. A given key that is known already is left as it is.

    Raises ValueError for a given key of fewer than 8 characters or with others than printing ASCII.
    """
    key = checked_key(key or KEY_PREFIX + secrets.token_urlsafe(32))
    with writing(engine) as session:
        known = people.api_key_by_hash(session, key_hash(key))
        if known is None:
            session.add(new_api_key(role=role, label=label, now=now, key=key)[0])
    return key


def new_api_key(*, role: Role, label: str, now: datetime, key: str | None = None) -> tuple[ApiKey, str]:
    """A key that is not kept yet, and the key itself."""
    key = key or KEY_PREFIX + secrets.token_urlsafe(32)
    made = ApiKey(
        id=new_id(),
        prefix=key[: min(8, len(key) // 3)],
        key_hash=key_hash(key),
        role=role,
        label=label,
        created_at=now,
    )
    return made, key


def actor_of_key(engine: Engine, key: str) -> Actor | None:
    """Whose key it is; None for one that is unknown or revoked."""
    wanted = key_hash(key)
    with reading(engine) as session:
        found = people.api_key_by_hash(session, wanted)
    if found is None or not hmac.compare_digest(found.key_hash, wanted) or found.revoked_at is not None:
        return None
    return Actor(f"key:{found.id}", found.label, Role(found.role))


# --- sessions and links ---


@dataclass(frozen=True, slots=True)
class SignedIn:
    """A new session: the token for the cookie, the form token, and when it ends."""

    token: str
    csrf: str
    expires_at: datetime
    actor: Actor


def start_session(
    engine: Engine, settings: Settings, user: UserRecord, *, now: datetime, client: str = ""
) -> SignedIn:
    """A session for a user from an address. Ended sessions are cleared away in passing."""
    token, csrf = secrets.token_urlsafe(32), secrets.token_urlsafe(32)
    expires_at = now + timedelta(hours=settings.session_hours)
    with writing(engine) as session:
        people.forget_ended_sessions(session, now)
        session.add(
            UserSession(
                token_hash=keyed_hash(settings.required_secret(), token),
                user_id=user.id,
                csrf=csrf,
                created_at=now,
                expires_at=expires_at,
                client=client[:100],
            )
        )
        office.write_audit(session, actor=f"user:{user.id}", action="signed_in", subject=user.id, now=now)
    return SignedIn(token, csrf, expires_at, _actor_of_user(user, csrf))


def actor_of_session(engine: Engine, settings: Settings, token: str, *, now: datetime) -> Actor | None:
    """Who is signed in with a session token; None when it is unknown or ended, or the user is not active."""
    with reading(engine) as session:
        found = people.session_with_user(session, keyed_hash(settings.required_secret(), token))
    if found is None:
        return None
    kept, user = found
    if kept.expires_at <= now or not user.active:
        return None
    return _actor_of_user(user, kept.csrf)


def end_session(engine: Engine, settings: Settings, token: str) -> None:
    """Sign out."""
    with writing(engine) as session:
        people.forget_session(session, keyed_hash(settings.required_secret(), token))


def _actor_of_user(user: UserRecord, csrf: str) -> Actor:
    return Actor(f"user:{user.id}", user.full_name, Role(user.role), user.id, csrf)


def check_form_token(actor: Actor, given: str | None) -> None:
    """Raise a 403 problem unless a form or script of a session carries that session's own token."""
    if actor.csrf is None:
        return
    if given is None or not hmac.compare_digest(actor.csrf.encode(), given.encode("utf-8", "replace")):
        raise Problem(403, "form_expired", "the form does not carry the token of this session; load the page again")


def create_signin_link(engine: Engine, settings: Settings, user_id: str, *, now: datetime) -> str:
    """The token of a link that signs a user in once."""
    with writing(engine) as session:
        return keep_signin_link(session, settings, user_id, now=now)


def keep_signin_link(session: Session, settings: Settings, user_id: str, *, now: datetime) -> str:
    """The token of a link that signs a user in once, kept with the rest of a transaction."""
    token = secrets.token_urlsafe(32)
    session.add(
        SigninLink(
            token_hash=keyed_hash(settings.required_secret(), token),
            user_id=user_id,
            expires_at=now + timedelta(minutes=settings.signin_link_minutes),
        )
    )
    return token


def use_signin_link(engine: Engine, settings: Settings, token: str, *, now: datetime) -> SignedIn | None:
    """Sign in by a link. None when it is unknown, used or too old; the first use is the only one."""
    with writing(engine) as session:
        user = people.take_signin_link(session, keyed_hash(settings.required_secret(), token), now)
    return None if user is None else start_session(engine, settings, user, now=now, client=client_address.get())


# --- passwords ---


class _Turns:
    """How many passwords may be checked at the same time in this process."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._semaphores: dict[int, threading.BoundedSemaphore] = {}

    def of(self, width: int) -> threading.BoundedSemaphore:
        with self._lock:
            return self._semaphores.setdefault(width, threading.BoundedSemaphore(width))


_turns = _Turns()


@lru_cache(maxsize=1)
def _hasher() -> PasswordHash:
    return PasswordHash((Argon2Hasher(),))


@lru_cache(maxsize=1)
def _hash_of_nobody() -> str:
    return _hasher().hash(secrets.token_urlsafe(16))


def password_hash(password: str) -> str:
    """Argon2 of a password. Raises ValueError for a short one."""
    if len(password) < LEAST_PASSWORD_CHARACTERS:
        raise ValueError(f"a password has at least {LEAST_PASSWORD_CHARACTERS} characters")
    return _hasher().hash(password)


def create_user(
    engine: Engine, *, name: str, full_name: str, role: Role, password: str | None, now: datetime
) -> UserRecord:
    """A new user. Raises ValueError for a short password or a name that is taken; without one only links sign in."""
    name = name.strip().casefold()
    if not name:
        raise ValueError("a user needs a name")
    hashed = None if password is None else password_hash(password)
    user = UserRecord(
        id=new_id(), name=name, full_name=full_name, role=role, password_hash=hashed, created_at=now
    )
    with writing(engine) as session:
        if people.user_by_name(session, name) is not None:
            raise ValueError(f"there is a user called {name} already")
        session.add(user)
    return user


def sign_in(
    engine: Engine, settings: Settings, *, name: str, password: str, client: str, now: datetime
) -> SignedIn | None:
    """Sign in by password. None when name or password is wrong, without saying which.

    `client` is the address that asks. Raises a 429 problem after too many tries for the name or from the client,
    and a 503 problem when too many passwords are being checked at once.
    """
    name = name.strip().casefold()[:120]
    window = int(now.timestamp()) // (settings.signin_window_minutes * 60)
    with writing(engine) as session:
        people.forget_old_tries(session, window)
        by_name = people.count_try(session, f"name:{keyed_hash(settings.required_secret(), name)}", window)
        by_client = people.count_try(session, f"client:{client[:100]}", window)
    if by_name > settings.signin_tries or by_client > 5 * settings.signin_tries:
        seconds = settings.signin_window_minutes * 60
        raise Problem(
            429, "too_many_tries", "too many tries; wait and try again", headers={"Retry-After": str(seconds)}
        )
    with reading(engine) as session:
        user = people.user_by_name(session, name)
    turn = _turns.of(settings.signin_concurrency)
    if not turn.acquire(timeout=_WAIT_FOR_TURN_S):
        raise Problem(503, "busy", "many people are signing in; try again", headers={"Retry-After": "2"})
    try:
        known = user.password_hash if user is not None and user.active and user.password_hash else _hash_of_nobody()
        right = _hasher().verify(password, known)
    finally:
        turn.release()
    if not right or user is None or not user.active or user.password_hash is None:
        return None
    return start_session(engine, settings, user, now=now, client=client)
