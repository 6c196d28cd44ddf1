"""Photographs: made upright and small, without place, time and device, and kept beside the survey that names them."""

import hashlib
import io
import json
import threading
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import Engine
from sqlmodel import Session

from api.errors import Problem, conflict, not_found
from api.ids import is_id
from api.security import Actor
from api.store import jobs, office, photos, surveys
from api.store.engine import reading, writing
from api.versions import matches_tag
from models.records import Job, PhotoRecord

MOST_BYTES = 300_000
MOST_OF_A_JOB = 300
LONGEST_SIDE_PX = 1600
MOST_PIXELS = 50_000_000
"""A photograph of a telephone has 12 to 50 million; a small file that unfolds to more is not one."""
_TOO_MANY = f"the photograph unfolds to more than {MOST_PIXELS // 10**6} million pixels"
FORMATS = {"image/jpeg": "JPEG", "image/png": "PNG", "image/webp": "WEBP"}
KEPT_AS = "image/jpeg"
_QUALITIES = (85, 75, 65, 55, 45)
_turns = threading.BoundedSemaphore(2)


@dataclass(frozen=True, slots=True)
class Picture:
    """A photograph as it is kept."""

    body: bytes
    sha256: str
    width_px: int
    height_px: int


def small(data: bytes, media_type: str) -> Picture:
    """The picture upright, at most 1600 pixels long and 300 kB, as JPEG without any text of the camera in it.

    Raises a 415 problem for another kind of file, 422 for one that is not what it says, is broken or is too large
    when it is unfolded. At most two are worked on at once, since each takes memory by its pixels.
    """
    from PIL import Image, ImageOps, UnidentifiedImageError

    if media_type not in FORMATS:
        raise Problem(415, "wrong_media_type", f"send {', '.join(FORMATS)}, not {media_type[:80] or 'nothing'}")
    with _turns:
        try:
            with Image.open(io.BytesIO(data), formats=(FORMATS[media_type],)) as opened:
                if opened.width * opened.height > MOST_PIXELS:
                    raise Problem(422, "invalid", _TOO_MANY)
                # A JPEG is unfolded at a fraction of its size where that is enough; others are not affected.
                opened.draft("RGB", (LONGEST_SIDE_PX, LONGEST_SIDE_PX))
                opened.load()
                upright = ImageOps.exif_transpose(opened)
        except Image.DecompressionBombError as fault:
            raise Problem(422, "invalid", _TOO_MANY) from fault
        except UnidentifiedImageError as fault:
            raise Problem(422, "invalid", f"the file is not {media_type}, whatever its name says") from fault
        except (OSError, ValueError, SyntaxError) as fault:
            raise Problem(422, "invalid", "the photograph is broken and cannot be read") from fault
        if upright.has_transparency_data:
            ground = Image.new("RGBA", upright.size, "white")
            upright = Image.alpha_composite(ground, upright.convert("RGBA"))
        upright = upright.convert("RGB")
        upright.thumbnail((LONGEST_SIDE_PX, LONGEST_SIDE_PX))
        return _within_limit(upright)


def _within_limit(upright: "object") -> Picture:
    from PIL import Image

    assert isinstance(upright, Image.Image)
    while True:
        for quality in _QUALITIES:
            # A picture made afresh: nothing that the camera wrote down goes with it.
            clean = Image.new("RGB", upright.size)
            clean.paste(upright)
            out = io.BytesIO()
            clean.save(out, "JPEG", quality=quality, optimize=True, progressive=True)
            body = out.getvalue()
            if len(body) <= MOST_BYTES:
                return Picture(body, hashlib.sha256(body).hexdigest(), *upright.size)
        upright = upright.resize((max(1, upright.width * 3 // 4), max(1, upright.height * 3 // 4)))


def job_of(session: Session, actor: Actor, job_id: str, *, lock: bool = False) -> Job:
    """The job at an address. Raises 404 also for one that this actor may not see."""
    found = jobs.job_by_id(session, job_id, only_owner=actor.only_owner, lock=lock) if is_id(job_id) else None
    if found is None:
        raise not_found("job")
    return found


def named(session: Session, job: Job) -> frozenset[str]:
    """The photographs that the survey names."""
    part = surveys.part(session, job.id, "photos", "")
    if part is None or part.deleted:
        return frozenset()
    rows = json.loads(part.body) or []
    return frozenset(str(one.get("name")) for one in rows if isinstance(one, dict))


def photo_of(session: Session, job: Job, name: str) -> PhotoRecord:
    """A photograph of a job. Raises 404."""
    found = photos.photo(session, job.id, name)
    if found is None:
        raise not_found("photograph")
    return found


def keep(
    engine: Engine,
    actor: Actor,
    job_id: str,
    name: str,
    data: bytes,
    media_type: str,
    *,
    if_match: str | None,
    if_none_match: str | None,
    now: datetime,
) -> tuple[photos.PhotoRow, bool]:
    """Keep a photograph under a name; the same again changes nothing. Answers what is kept, and whether it is new.

    The picture is worked on outside the transaction. Raises 404, 409 for an erased customer or too many photographs,
    412, 415, 422.
    """
    with reading(engine) as session:
        job_of(session, actor, job_id)
    picture = small(data, media_type)
    with writing(engine) as session:
        job = job_of(session, actor, job_id, lock=True)
        jobs.refuse_change_of_erased(jobs.party_of(session, job))
        old = photos.photo(session, job.id, name)
        _check(old, if_match, if_none_match)
        if old is None and photos.photo_count(session, job.id) >= MOST_OF_A_JOB:
            raise conflict(f"a job has at most {MOST_OF_A_JOB} photographs")
        if old is None or old.sha256 != picture.sha256:
            kept = old or PhotoRecord(job_id=job.id, name=name, media_type=KEPT_AS, body=b"", updated_at=now)
            told = None if old is None else old.sha256
            kept.media_type, kept.body, kept.sha256 = KEPT_AS, picture.body, picture.sha256
            kept.width_px, kept.height_px, kept.updated_at = picture.width_px, picture.height_px, now
            session.add(kept)
            office.write_audit(
                session, actor=actor.id, action="photo_saved", subject=job.id, now=now, old=told, new=picture.sha256,
                detail={"photo": name},
            )  # fmt: skip
        at = now if old is None else old.updated_at
    row = photos.PhotoRow(name, KEPT_AS, picture.sha256, picture.width_px, picture.height_px, len(picture.body), at)
    return row, old is None


def take_out(session: Session, actor: Actor, job: Job, name: str, *, if_match: str | None, now: datetime) -> None:
    """Take a photograph out for good; one that is not there changes nothing. The job is locked by the caller."""
    old = photos.photo(session, job.id, name)
    if old is None:
        return
    _check(old, if_match, None)
    photos.delete_photo(session, job.id, name)
    office.write_audit(
        session, actor=actor.id, action="photo_deleted", subject=job.id, now=now, old=old.sha256,
        detail={"photo": name},
    )  # fmt: skip


def _check(old: PhotoRecord | None, if_match: str | None, if_none_match: str | None) -> None:
    tag = None if old is None else f'"{old.sha256}"'
    headers = {} if tag is None else {"ETag": tag}
    if if_match is not None and (tag is None or not matches_tag(if_match, tag)):
        raise Problem(412, "clash", "another photograph stands there than the request expects", headers=headers)
    if if_none_match is not None and tag is not None and matches_tag(if_none_match, tag):
        raise Problem(412, "clash", "there is one already", headers=headers)
