"""Who may come in: users with a role, keys for programs, sessions and one-time links."""

from datetime import datetime
from enum import StrEnum

from sqlmodel import Field, SQLModel

from models.records.columns import UtcStamp


class Role(StrEnum):
    """What someone does in the firm. Rights follow from it in `api.security`."""

    SALES = "sales"
    OFFICE = "office"
    ACCOUNTS = "accounts"
    OWNER = "owner"


class UserRecord(SQLModel, table=True):
    """A person of the firm. `name` is what they sign in with, in lower case."""

    __tablename__ = "user"

    id: str = Field(primary_key=True, max_length=36)
    name: str = Field(unique=True, max_length=120)
    full_name: str = Field(max_length=120)
    role: str = Field(max_length=16)
    password_hash: str | None = Field(default=None, max_length=255)
    active: bool = True
    created_at: datetime = Field(sa_type=UtcStamp)


class ApiKey(SQLModel, table=True):
    """A key for a program: its first letters to know it by, and the SHA-256 of the whole."""

    __tablename__ = "api_key"

    id: str = Field(primary_key=True, max_length=36)
    prefix: str = Field(max_length=12)
    key_hash: str = Field(unique=True, max_length=64)
    role: str = Field(max_length=16)
    label: str = Field(max_length=120)
    created_at: datetime = Field(sa_type=UtcStamp)
    revoked_at: datetime | None = Field(default=None, sa_type=UtcStamp)


class UserSession(SQLModel, table=True):
    """A signed-in browser. Only a keyed hash of its token is kept."""

    __tablename__ = "session"

    token_hash: str = Field(primary_key=True, max_length=64)
    user_id: str = Field(foreign_key="user.id", index=True, max_length=36)
    csrf: str = Field(max_length=64)
    created_at: datetime = Field(sa_type=UtcStamp)
    expires_at: datetime = Field(sa_type=UtcStamp)
    client: str = Field(default="", max_length=100)


class SigninLink(SQLModel, table=True):
    """A link that signs one user in once."""

    __tablename__ = "signin_link"

    token_hash: str = Field(primary_key=True, max_length=64)
    user_id: str = Field(foreign_key="user.id", max_length=36)
    expires_at: datetime = Field(sa_type=UtcStamp)
    used_at: datetime | None = Field(default=None, sa_type=UtcStamp)
