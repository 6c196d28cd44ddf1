"""Queries about photographs of a job. The bytes are only read where they are asked for."""

from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import delete, func, select
from sqlmodel import Session

from models.records import PhotoRecord

_PHOTO = PhotoRecord.__table__  # type: ignore[attr-defined]


@dataclass(frozen=True, slots=True)
class PhotoRow:
    """What is known of a photograph without its bytes."""

    name: str
    media_type: str
    sha256: str
    width_px: int
    height_px: int
    size_bytes: int
    updated_at: datetime


def photos(session: Session, job_id: str) -> list[PhotoRow]:
    """The photographs of a job by name, without their bytes."""
    query = select(
        _PHOTO.c.name, _PHOTO.c.media_type, _PHOTO.c.sha256, _PHOTO.c.width_px, _PHOTO.c.height_px,
        func.length(_PHOTO.c.body), _PHOTO.c.updated_at,
    ).where(_PHOTO.c.job_id == job_id)  # fmt: skip
    return [PhotoRow(*row) for row in session.connection().execute(query.order_by(_PHOTO.c.name))]


def photo(session: Session, job_id: str, name: str) -> PhotoRecord | None:
    """One photograph with its bytes."""
    return session.get(PhotoRecord, (job_id, name))


def photo_count(session: Session, job_id: str) -> int:
    """How many photographs a job has."""
    query = select(func.count()).select_from(_PHOTO).where(_PHOTO.c.job_id == job_id)
    return int(session.connection().execute(query).scalar_one())


def delete_photo(session: Session, job_id: str, name: str) -> None:
    """Drop a photograph."""
    session.connection().execute(delete(_PHOTO).where(_PHOTO.c.job_id == job_id, _PHOTO.c.name == name))
