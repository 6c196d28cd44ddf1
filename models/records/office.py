"""What keeps the store in order: counters, kept answers, throttles, the audit list, facts about the database."""

from datetime import datetime

from sqlalchemy import Text
from sqlmodel import Field, LargeBinary, SQLModel

from models.records.columns import UtcStamp


class Counter(SQLModel, table=True):
    """A number that is taken under lock in the transaction that uses it, so that none is missing."""

    __tablename__ = "counter"

    name: str = Field(primary_key=True, max_length=60)
    value: int


class Idempotency(SQLModel, table=True):
    """The answer that a key got. `status` is empty only inside the transaction that is making it."""

    __tablename__ = "idempotency"

    actor: str = Field(primary_key=True, max_length=48)
    key: str = Field(primary_key=True, max_length=200)
    path: str = Field(max_length=400)
    body_hash: str = Field(max_length=64)
    status: int | None = None
    headers: str = Field(default="{}", sa_type=Text)
    response: bytes | None = Field(default=None, sa_type=LargeBinary)
    at: datetime = Field(sa_type=UtcStamp)


class Throttle(SQLModel, table=True):
    """How often something was tried in a window of time; in a table because workers share no memory."""

    __tablename__ = "throttle"

    key: str = Field(primary_key=True, max_length=200)
    window: int = Field(primary_key=True, sa_column_kwargs={"name": "window_no", "autoincrement": False})
    count: int


class Audit(SQLModel, table=True):
    """Who did what to which record, what stood there and stands there now, why, and from where.

    Rows are only ever added: the database itself refuses anything else. No customer's name or address is kept here.
    """

    __tablename__ = "audit"

    id: str = Field(primary_key=True, max_length=36)
    at: datetime = Field(sa_type=UtcStamp, index=True)
    actor: str = Field(max_length=48)
    action: str = Field(max_length=60)
    subject: str = Field(index=True, max_length=120)
    detail: str = Field(default="{}", sa_type=Text)
    old: str = Field(default="null", sa_type=Text)
    new: str = Field(default="null", sa_type=Text)
    why: str = Field(default="", sa_type=Text)
    client: str = Field(default="", max_length=100)


class AppMeta(SQLModel, table=True):
    """A fact about this database, by name."""

    __tablename__ = "app_meta"

    name: str = Field(primary_key=True, max_length=60)
    value: str = Field(sa_type=Text)
