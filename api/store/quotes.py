"""Queries about quotes, their events and accepted findings."""

import json
from datetime import datetime
from typing import Any

from sqlalchemy import func
from sqlmodel import Session, col, select

from api.store.counters import take_number
from models.records import AskAcceptance, Job, Quote, QuoteEvent, QuoteState


def quote_by_id(
    session: Session, quote_id: str, *, only_owner: str | None, lock: bool = False
) -> tuple[Quote, Job] | None:
    """A quote and its job, unless the job belongs to someone else while only those of `only_owner` may be seen."""
    query = select(Quote, Job).join(Job, col(Job.id) == col(Quote.job_id)).where(Quote.id == quote_id)
    if only_owner is not None:
        query = query.where(Job.owner == only_owner)
    found = session.exec(query.with_for_update() if lock else query).first()
    return None if found is None else (found[0], found[1])


def quotes_of_job(session: Session, job_id: str) -> list[Quote]:
    """The quotes of a job, the newest first."""
    return list(session.exec(select(Quote).where(Quote.job_id == job_id).order_by(col(Quote.revision).desc())))


def next_revision(session: Session, job_id: str) -> int:
    """The number of the next quote of a job. The caller has locked the job."""
    latest = session.exec(select(func.max(Quote.revision)).where(Quote.job_id == job_id)).one()
    return (latest or 0) + 1


def issued_of_job(session: Session, job_id: str) -> list[Quote]:
    """The quotes of a job that are with the customer."""
    return list(session.exec(select(Quote).where(Quote.job_id == job_id, Quote.state == QuoteState.ISSUED)))


def add_event(
    session: Session,
    quote: Quote,
    event: QuoteState,
    *,
    by: str,
    now: datetime,
    reason: str = "",
    payload: dict[str, Any] | None = None,
) -> QuoteEvent:
    """Add what happened to a quote. Its place in the order is taken under a lock that lasts to the commit."""
    quote.state = event
    session.add(quote)
    session.flush()
    happened = QuoteEvent(
        seq=take_number(session, "quote_event"),
        quote_id=quote.id,
        event=event,
        at=now,
        by=by,
        reason=reason,
        payload=json.dumps(payload or {}, ensure_ascii=False),
    )
    session.add(happened)
    return happened


def events_of(session: Session, quote_id: str) -> list[QuoteEvent]:
    """What happened to a quote, in order."""
    return list(session.exec(select(QuoteEvent).where(QuoteEvent.quote_id == quote_id).order_by(col(QuoteEvent.seq))))


def events_after(
    session: Session, seq: int, *, only_owner: str | None, limit: int
) -> list[tuple[QuoteEvent, Quote, Job]]:
    """Events after one in the order of all, each with its quote and job."""
    query = (
        select(QuoteEvent, Quote, Job)
        .join(Quote, col(Quote.id) == col(QuoteEvent.quote_id))
        .join(Job, col(Job.id) == col(Quote.job_id))
        .where(col(QuoteEvent.seq) > seq)
    )
    if only_owner is not None:
        query = query.where(Job.owner == only_owner)
    return [(event, quote, job) for event, quote, job in session.exec(query.order_by(col(QuoteEvent.seq)).limit(limit))]


def acceptances(session: Session, quote_id: str) -> list[AskAcceptance]:
    """The findings of a quote that someone accepted."""
    query = select(AskAcceptance).where(AskAcceptance.quote_id == quote_id)
    return list(session.exec(query.order_by(col(AskAcceptance.code), col(AskAcceptance.where))))
