"""Quotes over the wire."""

from datetime import date, datetime
from typing import Annotated, Any

from pydantic import BaseModel, ConfigDict, Field

from api.schemas.findings import FindingPublic
from api.schemas.texts import PersonName, Reason
from models.records import AskAcceptance, Job, Quote, QuoteEvent


class _Incoming(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class Acceptance(_Incoming):
    """A named person accepts a finding of strength *ask*, with a reason. `where` as the finding says it."""

    code: Annotated[str, Field(min_length=1, max_length=120)]
    where: Annotated[str, Field(max_length=400)]
    by: PersonName
    reason: Reason


class IssueRequest(_Incoming):
    """The findings that are accepted with the issue."""

    accepted: Annotated[tuple[Acceptance, ...], Field(max_length=500)] = ()


class EventRequest(_Incoming):
    """Who says so, and why."""

    by: PersonName | None = None
    reason: Reason | None = None


class QuotePublic(BaseModel):
    """A quote in lists and in the feed. Amounts are null where a *stop* leaves no price."""

    id: str
    job_id: str
    job_number: int
    revision: int
    number: str | None
    state: str
    created_at: datetime
    issued_at: datetime | None
    valid_until: date | None
    document_sha256: str | None
    net_pence: int | None
    vat_pence: int | None
    total_pence: int | None
    grant_pence: int | None
    customer_pays_pence: int | None

    @staticmethod
    def of(quote: Quote, job: Job) -> "QuotePublic":
        """The public form of a quote."""
        own = {name: getattr(quote, name) for name in QuotePublic.model_fields if name != "job_number"}
        return QuotePublic(job_number=job.number, **own)


class EventPublic(BaseModel):
    """Something that happened to a quote."""

    seq: int
    event: str
    at: datetime
    by: str
    reason: str

    @staticmethod
    def of(event: QuoteEvent) -> "EventPublic":
        """The public form of an event."""
        return EventPublic(seq=event.seq, event=event.event, at=event.at, by=event.by, reason=event.reason)


class AcceptedPublic(BaseModel):
    """A finding that someone accepted."""

    code: str
    where: str
    by: str
    reason: str
    at: datetime

    @staticmethod
    def of(kept: AskAcceptance) -> "AcceptedPublic":
        """The public form of an acceptance."""
        return AcceptedPublic(code=kept.code, where=kept.where, by=kept.by, reason=kept.reason, at=kept.at)


class QuoteDetail(QuotePublic):
    """A quote with its document, findings and events. Cost fields are absent without the right to see cost."""

    choices: dict[str, Any]
    findings: list[FindingPublic]
    accepted: list[AcceptedPublic]
    events: list[EventPublic]
    document: dict[str, Any]


class FeedItem(EventPublic):
    """One event of the feed with its quote as it is now."""

    quote: QuotePublic


class QuoteFeed(BaseModel):
    """Events after a cursor in their one order. `next_cursor` is always there: ask again with it."""

    items: list[FeedItem]
    next_cursor: str
    more: bool
