"""Quotes over the wire."""

import json
from datetime import date, datetime
from decimal import Decimal
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field, model_validator

from api.render.files import KINDS
from api.schemas.findings import FindingPublic
from api.schemas.texts import FoundAt, PersonName, Reason
from models.document import without_cost
from models.quote import Change
from models.records import AskAcceptance, Job, Party, Quote, QuoteApproval, QuoteEvent, QuoteState, Variation


class _Incoming(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class Acceptance(_Incoming):
    """A named person accepts a finding of strength *ask*, with a reason. `where` as the finding says it."""

    code: Annotated[str, Field(min_length=1, max_length=120)]
    where: FoundAt
    by: PersonName
    reason: Reason


class IssueRequest(_Incoming):
    """The findings that are accepted with the issue."""

    accepted: Annotated[tuple[Acceptance, ...], Field(max_length=500)] = ()


class ApprovalRequest(_Incoming):
    """Why a quote may go out below the firm's margin floor."""

    reason: Reason


Quantity = Annotated[Decimal, Field(gt=-100_000, lt=100_000, max_digits=9, decimal_places=3)]
VariationReason = Literal[
    "seized_valves", "longer_route", "isolator_moved", "damaged_part_replaced", "hidden_fault", "asked_by_customer"
]


class VariationPart(_Incoming):
    """A part of the price list by its SKU, in its unit of measure; below nothing for what is not used after all."""

    sku: Annotated[str, Field(min_length=1, max_length=40)]
    quantity: Quantity


class VariationHours(_Incoming):
    """Person-hours of a trade."""

    trade: Annotated[str, Field(min_length=1, max_length=40)]
    hours_h: Quantity


class VariationRequest(_Incoming):
    """What is done otherwise than quoted, at the quote's own prices. `note` says what was found."""

    reason: VariationReason
    note: Reason
    parts: Annotated[tuple[VariationPart, ...], Field(max_length=100)] = ()
    hours: Annotated[tuple[VariationHours, ...], Field(max_length=20)] = ()

    @model_validator(mode="after")
    def _holds_something(self) -> "VariationRequest":
        if not (self.parts or self.hours):
            raise ValueError("a variation holds at least one part or some hours")
        return self


class DecisionRequest(_Incoming):
    """Who of the customer's or the firm's side approves or refuses a variation, by name."""

    by: PersonName
    reason: Reason | None = None


class EventRequest(_Incoming):
    """Who says so, and why."""

    by: PersonName | None = None
    reason: Reason | None = None


class QuotePublic(BaseModel):
    """A quote in lists and in the feed. Amounts are null where a *stop* leaves no price.

    `state` is the last thing that happened. `over` is true of an issued quote whose last day has passed: nobody has
    said so yet, and accepting it makes it lapse.
    """

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
    over: bool

    @staticmethod
    def of(quote: Quote, job: Job, today: date) -> "QuotePublic":
        """The public form of a quote on a day."""
        own = {name: getattr(quote, name) for name in QuotePublic.model_fields if name not in ("job_number", "over")}
        over = quote.state == QuoteState.ISSUED and quote.valid_until is not None and today > quote.valid_until
        return QuotePublic(job_number=job.number, over=over, **own)


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


class ApprovalPublic(BaseModel):
    """Somebody let the quote go out below the margin floor."""

    by: str
    reason: str
    at: datetime

    @staticmethod
    def of(kept: QuoteApproval) -> "ApprovalPublic":
        """The public form of an approval."""
        return ApprovalPublic(by=kept.by, reason=kept.reason, at=kept.at)


class PartyPublic(BaseModel):
    """Whose quote it is. After an erasure the texts are empty and `erased_at` says when."""

    name: str
    address: str
    contact: str
    erased_at: datetime | None

    @staticmethod
    def of(party: Party) -> "PartyPublic":
        """The public form of a party."""
        return PartyPublic(**{name: getattr(party, name) for name in PartyPublic.model_fields})


class VariationPublic(BaseModel):
    """A change of the works after acceptance. `document` holds its lines and VAT."""

    id: str
    place: int
    state: str
    reason: str
    note: str
    document: dict[str, Any]
    document_sha256: str
    net_pence: int
    vat_pence: int
    total_pence: int
    proposed_by: str
    proposed_at: datetime
    decided_by: str
    decided_reason: str
    decided_at: datetime | None

    @staticmethod
    def of(kept: Variation, *, sees_cost: bool) -> "VariationPublic":
        """The public form of a variation."""
        own = {name: getattr(kept, name) for name in VariationPublic.model_fields if name != "document"}
        document = json.loads(kept.document)
        return VariationPublic(document=document if sees_cost else without_cost(document), **own)


class QuoteFilePublic(BaseModel):
    """A sealed file of an issued quote: its address ends in the suffix, its ETag is the hash."""

    suffix: str
    media_type: str
    sha256: str

    @staticmethod
    def of(kind: str, sha256: str) -> "QuoteFilePublic":
        """The public form of a file."""
        return QuoteFilePublic(suffix=KINDS[kind].suffix, media_type=KINDS[kind].media_type, sha256=sha256)


class QuoteDetail(QuotePublic):
    """A quote with its document, findings and events. Cost fields are absent without the right to see cost.

    `order_value_pence` is the total with the approved variations, once the quote is accepted. `needs_approval` where
    the margin is below the firm's floor; `approvals` are those that were given. `choices_now` says of a draft whether a
    fresh estimate would choose differently. `files` are the sealed ones; none of a draft.
    """

    choices: dict[str, Any]
    findings: list[FindingPublic]
    accepted: list[AcceptedPublic]
    events: list[EventPublic]
    document: dict[str, Any]
    party: PartyPublic
    needs_approval: bool
    approvals: list[ApprovalPublic]
    variations: list[VariationPublic]
    order_value_pence: int | None
    choices_now: list[str]
    files: list[QuoteFilePublic]


class ChangePublic(BaseModel):
    """One difference in words."""

    about: str
    where: str
    sentence: str
    before: str | None
    after: str | None

    @staticmethod
    def of(change: Change) -> "ChangePublic":
        """The public form of a difference."""
        return ChangePublic(**{name: getattr(change, name) for name in ChangePublic.model_fields})


class DifferencePublic(BaseModel):
    """What differs between a quote and an earlier one of the same job."""

    from_id: str
    from_revision: int
    to_id: str
    to_revision: int
    changes: list[ChangePublic]


class VerifiedPublic(BaseModel):
    """What still holds of a sealed quote. `party_holds` is null once the customer was erased.

    `why_holds` says whether the kept reasons still have the hash that stands in the sealed document; null where a
    quote of an earlier release has them inside. `files_hold` whether each sealed file still has its own; null where a
    quote of an earlier release has none.
    """

    document_sha256: str
    document_holds: bool
    why_holds: bool | None
    files_hold: bool | None
    party_hash: str
    party_holds: bool | None
    party: PartyPublic


class FeedItem(EventPublic):
    """One event of the feed with its quote as it is now."""

    quote: QuotePublic


class QuoteFeed(BaseModel):
    """Events after a cursor in their one order. `next_cursor` is always there: ask again with it."""

    items: list[FeedItem]
    next_cursor: str
    more: bool
