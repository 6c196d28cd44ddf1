"""A job, whose house it is, and its survey by parts."""

from datetime import datetime

from sqlalchemy import Index, Text
from sqlmodel import Field, LargeBinary, SQLModel

from models.records.columns import UtcStamp


class Party(SQLModel, table=True):
    """Name, address and contact of a customer: apart, so that a person can be erased and the money stays."""

    __tablename__ = "party"

    id: str = Field(primary_key=True, max_length=36)
    name: str = Field(default="", max_length=200)
    address: str = Field(default="", max_length=1000)
    contact: str = Field(default="", max_length=500)
    erased_at: datetime | None = Field(default=None, sa_type=UtcStamp)


class Job(SQLModel, table=True):
    """One house to be quoted for. `number` is what people call it by; `owner` is the actor who made it."""

    __tablename__ = "job"
    __table_args__ = (Index("ix_job_owner_number", "owner", "number"),)

    id: str = Field(primary_key=True, max_length=36)
    number: int = Field(unique=True)
    label: str = Field(max_length=120)
    party_id: str = Field(foreign_key="party.id", max_length=36)
    owner: str = Field(max_length=48)
    status: str = Field(default="open", max_length=16)
    version: int = 1
    created_at: datetime = Field(sa_type=UtcStamp)


class SurveyHeader(SQLModel, table=True):
    """The survey of a job. `version` grows with every write to any part."""

    __tablename__ = "survey_header"

    job_id: str = Field(primary_key=True, foreign_key="job.id", max_length=36)
    version: int = 0
    updated_at: datetime = Field(sa_type=UtcStamp)


class SurveyPart(SQLModel, table=True):
    """A room, a position or a section, as JSON text.

    `version` is that of the header at the write, so it never comes back; a deleted part stays as a mark.
    """

    __tablename__ = "survey_part"

    job_id: str = Field(primary_key=True, foreign_key="job.id", max_length=36)
    kind: str = Field(primary_key=True, max_length=20)
    part_id: str = Field(primary_key=True, max_length=64)
    place: int = 0
    body: str = Field(sa_type=Text)
    version: int
    deleted: bool = False
    updated_at: datetime = Field(sa_type=UtcStamp)


class PhotoRecord(SQLModel, table=True):
    """The bytes of a photograph, 300 kB at most, upright and without place, time or device. `sha256` is its ETag."""

    __tablename__ = "photo"

    job_id: str = Field(primary_key=True, foreign_key="job.id", max_length=36)
    name: str = Field(primary_key=True, max_length=120)
    media_type: str = Field(max_length=40)
    body: bytes = Field(sa_type=LargeBinary)
    updated_at: datetime = Field(sa_type=UtcStamp)
    sha256: str = Field(default="", max_length=64)
    width_px: int = 0
    height_px: int = 0
