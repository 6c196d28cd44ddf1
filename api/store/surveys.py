"""Queries about surveys by part. Every write takes the header first, so that writers of one survey queue."""

from datetime import datetime

from sqlmodel import Session, col, select

from models.records import SurveyHeader, SurveyPart


def header(session: Session, job_id: str, *, lock: bool = False) -> SurveyHeader:
    """The header of a job's survey, locked to the end of the transaction when it will be written."""
    query = select(SurveyHeader).where(SurveyHeader.job_id == job_id)
    return session.exec(query.with_for_update() if lock else query).one()


def part(session: Session, job_id: str, kind: str, part_id: str) -> SurveyPart | None:
    """One part, also when it is only the mark of a deleted one."""
    return session.get(SurveyPart, (job_id, kind, part_id))


def parts(session: Session, job_id: str, kind: str | None = None) -> list[SurveyPart]:
    """The parts that stand, in their order."""
    query = select(SurveyPart).where(SurveyPart.job_id == job_id, col(SurveyPart.deleted).is_(False))
    if kind is not None:
        query = query.where(SurveyPart.kind == kind)
    return list(session.exec(query.order_by(col(SurveyPart.kind), col(SurveyPart.place), col(SurveyPart.part_id))))


def part_ids(session: Session, job_id: str, kind: str) -> set[str]:
    """The ids of the parts of one kind that stand."""
    return set(
        session.exec(
            select(SurveyPart.part_id).where(
                SurveyPart.job_id == job_id, SurveyPart.kind == kind, col(SurveyPart.deleted).is_(False)
            )
        )
    )


def write_part(
    session: Session, head: SurveyHeader, *, kind: str, part_id: str, body: str, place: int | None, now: datetime
) -> SurveyPart:
    """Keep a part under the next version of its survey. Without `place` a new part goes to the end."""
    head.version += 1
    head.updated_at = now
    session.add(head)
    kept = part(session, head.job_id, kind, part_id)
    if kept is None:
        kept = SurveyPart(
            job_id=head.job_id, kind=kind, part_id=part_id, place=head.version, body=body, version=0, updated_at=now
        )
    elif kept.deleted:
        kept.place = head.version
    if place is not None:
        kept.place = place
    kept.body, kept.version, kept.deleted, kept.updated_at = body, head.version, False, now
    session.add(kept)
    return kept


def delete_part(session: Session, head: SurveyHeader, kept: SurveyPart, now: datetime) -> None:
    """Leave only the mark of a part, so that its version never comes back."""
    head.version += 1
    head.updated_at = now
    kept.body, kept.version, kept.deleted, kept.updated_at = "null", head.version, True, now
    session.add(head)
    session.add(kept)
