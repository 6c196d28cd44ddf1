"""Queries about quotes, their events and accepted findings."""

import json
from datetime import datetime
from typing import Any

from sqlalchemy import delete, func
from sqlmodel import Session, col, select

from api.store.counters import take_number
from models.records import (
    AskAcceptance,
    Job,
    Quote,
    QuoteApproval,
    QuoteEvent,
    QuoteFile,
    QuotePrices,
    QuoteState,
    QuoteWhy,
    Variation,
)


def quote_by_id(
    session: Session, quote_id: str, *, only_owner: str | None, lock: bool = False
) -> tuple[Quote, Job] | None:
    """A quote and its job, unless the job belongs to someone else while only those of `only_owner` may be seen.

    To be written, the job is locked first and the quote read after that: all quotes of a job queue at the job, since
    issuing one supersedes others.
    """
    query = select(Job).join(Quote, col(Quote.job_id) == col(Job.id)).where(Quote.id == quote_id)
    if only_owner is not None:
        query = query.where(Job.owner == only_owner)
    job = session.exec(query.with_for_update(of=Job) if lock else query).first()
    if job is None:
        return None
    return session.exec(select(Quote).where(Quote.id == quote_id)).one(), job


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


def numbered_of_job(session: Session, job_id: str) -> list[Quote]:
    """The quotes of a job that were ever issued, in the order of issue. The caller has locked the job."""
    query = select(Quote).where(Quote.job_id == job_id, col(Quote.number).is_not(None))
    return sorted(session.exec(query), key=lambda quote: (len(quote.number or ""), quote.number or ""))


def issued_before(session: Session, quote: Quote) -> Quote | None:
    """The last revision of the same job before a quote that went out, else the last one at all; None for the first."""
    query = select(Quote).where(Quote.job_id == quote.job_id, col(Quote.revision) < quote.revision)
    in_order = query.order_by(col(Quote.issued_at).is_(None), col(Quote.revision).desc())
    return session.exec(in_order.limit(1)).first()


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
    return note_event(session, quote, event, by=by, now=now, reason=reason, payload=payload)


def note_event(
    session: Session,
    quote: Quote,
    event: str,
    *,
    by: str,
    now: datetime,
    reason: str = "",
    payload: dict[str, Any] | None = None,
) -> QuoteEvent:
    """Add what happened around a quote and leaves its state as it is: an approved variation, say."""
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


def keep_prices(session: Session, quote_id: str, *, price_list_version: str, body: bytes, sha256: str) -> None:
    """Keep the unit prices that a draft is made with, in place of those that were kept before."""
    session.merge(QuotePrices(quote_id=quote_id, price_list_version=price_list_version, body=body, sha256=sha256))


def prices_of(session: Session, quote_id: str) -> QuotePrices | None:
    """The unit prices that a quote was made with."""
    return session.get(QuotePrices, quote_id)


def keep_whys(session: Session, quote_id: str, *, body: bytes, sha256: str) -> None:
    """Keep why the figures of a draft are what they are, in place of what was kept before."""
    session.merge(QuoteWhy(quote_id=quote_id, body=body, sha256=sha256))


def whys_of(session: Session, quote_id: str) -> QuoteWhy | None:
    """Why the figures of a quote are what they are; None for one of an earlier release, whose document holds it."""
    return session.get(QuoteWhy, quote_id)


def keep_file(session: Session, file: QuoteFile) -> None:
    """Keep a file of a quote that is being issued; the database refuses it once the quote is."""
    session.add(file)


def files_of(session: Session, quote_id: str) -> dict[str, str]:
    """The SHA-256 of the files of a quote as they are given out, by kind, without reading them; none of a draft."""
    query = select(QuoteFile.kind, QuoteFile.sha256).where(QuoteFile.quote_id == quote_id)
    # Where both are there, the one with the customer's name comes last and stands.
    return dict(session.exec(query.order_by(col(QuoteFile.names_party))).all())


def file_of(session: Session, quote_id: str, kind: str) -> QuoteFile | None:
    """A file of a quote: the one with the customer's name while there is one, else the one without."""
    query = select(QuoteFile).where(QuoteFile.quote_id == quote_id, QuoteFile.kind == kind)
    return session.exec(query.order_by(col(QuoteFile.names_party).desc()).limit(1)).first()


def every_file(session: Session, quote_id: str) -> list[QuoteFile]:
    """All files of a quote with their bytes."""
    return list(session.exec(select(QuoteFile).where(QuoteFile.quote_id == quote_id)))


def delete_files_with_names(session: Session, job_ids: list[str]) -> int:
    """Drop the files of some jobs that name the customer, who is erased. Answers how many there were."""
    of_jobs = select(Quote.id).where(col(Quote.job_id).in_(job_ids))
    named = delete(QuoteFile).where(col(QuoteFile.quote_id).in_(of_jobs), col(QuoteFile.names_party))
    return int(session.connection().execute(named).rowcount)


def approvals(session: Session, quote_id: str) -> list[QuoteApproval]:
    """Who let a quote go out below the margin floor, in order."""
    query = select(QuoteApproval).where(QuoteApproval.quote_id == quote_id)
    return list(session.exec(query.order_by(col(QuoteApproval.id))))


def variations(session: Session, quote_id: str) -> list[Variation]:
    """The variations of a quote in the order in which they were proposed."""
    query = select(Variation).where(Variation.quote_id == quote_id)
    return list(session.exec(query.order_by(col(Variation.place))))


def variation_by_id(session: Session, quote_id: str, variation_id: str) -> Variation | None:
    """One variation of a quote. The caller has locked the quote."""
    query = select(Variation).where(Variation.quote_id == quote_id, Variation.id == variation_id)
    return session.exec(query).first()
