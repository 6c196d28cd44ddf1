"""Users, keys, sessions and the audit list over the wire."""

import json
from datetime import datetime
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, StringConstraints

from api.schemas.texts import Label, PersonName, Reason
from models.records import ApiKey, Audit, UserRecord, UserSession

RoleName = Literal["sales", "office", "accounts", "owner"]
Password = Annotated[str, StringConstraints(min_length=10, max_length=500)]
SignInName = Annotated[
    str, StringConstraints(strip_whitespace=True, min_length=1, max_length=120, pattern=r"^[^\x00-\x1f\x7f]*$")
]


class _Incoming(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class UserCreate(_Incoming):
    """A new person of the firm. Without a password only a sign-in link lets them in."""

    name: SignInName
    full_name: PersonName
    role: RoleName
    password: Password | None = None


class UserUpdate(_Incoming):
    """What may be changed about a user; the rest stays. A new password or `active` false ends their sessions."""

    full_name: PersonName | None = None
    role: RoleName | None = None
    active: bool | None = None
    password: Password | None = None
    why: Reason | None = None


class UserPublic(BaseModel):
    """A person of the firm. `has_password` is false while only links sign in."""

    id: str
    name: str
    full_name: str
    role: str
    active: bool
    has_password: bool
    created_at: datetime

    @staticmethod
    def of(user: UserRecord) -> "UserPublic":
        """The public form of a user."""
        return UserPublic(
            id=user.id,
            name=user.name,
            full_name=user.full_name,
            role=user.role,
            active=user.active,
            has_password=user.password_hash is not None,
            created_at=user.created_at,
        )


class SignInLink(BaseModel):
    """The address that signs a user in once. It is shown only here."""

    address: str


class KeyCreate(_Incoming):
    """A key for a program, with the rights of a role."""

    label: Label
    role: RoleName


class KeyPublic(BaseModel):
    """A key in lists: only its first letters, to know it by."""

    id: str
    prefix: str
    role: str
    label: str
    created_at: datetime
    revoked_at: datetime | None

    @staticmethod
    def of(key: ApiKey) -> "KeyPublic":
        """The public form of a key."""
        return KeyPublic(**{name: getattr(key, name) for name in KeyPublic.model_fields})


class KeyMade(KeyPublic):
    """A new key with the key itself, which is never shown again."""

    key: str


class SessionPublic(BaseModel):
    """A signed-in browser of one's own."""

    client: str
    created_at: datetime
    expires_at: datetime

    @staticmethod
    def of(kept: UserSession) -> "SessionPublic":
        """The public form of a session."""
        return SessionPublic(client=kept.client, created_at=kept.created_at, expires_at=kept.expires_at)


class AuditPublic(BaseModel):
    """Who did what to what and when; what stood there before and after, why, and from where."""

    id: str
    at: datetime
    actor: str
    actor_name: str
    action: str
    subject: str
    old: Any
    new: Any
    why: str
    client: str
    detail: dict[str, Any]

    @staticmethod
    def of(row: Audit, names: dict[str, str]) -> "AuditPublic":
        """The public form of a line; `names` holds what actors are called today."""
        return AuditPublic(
            id=row.id,
            at=row.at,
            actor=row.actor,
            actor_name=names.get(row.actor, row.actor),
            action=row.action,
            subject=row.subject,
            old=json.loads(row.old),
            new=json.loads(row.new),
            why=row.why,
            client=row.client,
            detail=json.loads(row.detail),
        )


class AuditPage(BaseModel):
    """A page of the audit list, the newest first. `next_cursor` is null on the last page."""

    items: list[AuditPublic]
    next_cursor: str | None


class ErasureRequest(_Incoming):
    """Why a customer is erased."""

    reason: Reason


class Erased(BaseModel):
    """A customer who was erased: what remains are jobs and quotes without a name."""

    job_ids: list[str]
    quotes_kept: int
    photos_deleted: int
    files_deleted: int
