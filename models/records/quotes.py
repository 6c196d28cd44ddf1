"""Quotes: drafts, what was sealed at issue, and the list of what happened to each."""

from datetime import date, datetime
from enum import StrEnum

from sqlalchemy import Text, UniqueConstraint
from sqlmodel import Field, LargeBinary, SQLModel

from models.records.columns import PackedBytes, UtcStamp


class QuoteState(StrEnum):
    """Where a quote stands: the last of its events."""

    DRAFTED = "drafted"
    ISSUED = "issued"
    ACCEPTED = "accepted"
    DECLINED = "declined"
    WITHDRAWN = "withdrawn"
    LAPSED = "lapsed"
    SUPERSEDED = "superseded"


class Quote(SQLModel, table=True):
    """One offer for one job. From issue on, nothing here but `state` is ever written again.

    `document` is the exact UTF-8 JSON that the customer's quote is; `workings` the estimate behind it with costs;
    `survey` and `choices` what it was computed from. `party_hash` is SHA-256 of salt and party, so that the party
    may be erased and the sealed bytes stay whole. The pence stand beside for lists and the feed.
    """

    __tablename__ = "quote"

    id: str = Field(primary_key=True, max_length=36)
    job_id: str = Field(foreign_key="job.id", index=True, max_length=36)
    revision: int
    number: str | None = Field(default=None, unique=True, max_length=20)
    state: str = Field(max_length=16)
    survey_version: int
    survey: str = Field(sa_type=Text)
    choices: str = Field(sa_type=Text)
    rules_version: str = Field(max_length=80)
    workings: bytes = Field(sa_type=PackedBytes)
    findings: str = Field(sa_type=Text)
    net_pence: int | None = None
    vat_pence: int | None = None
    total_pence: int | None = None
    grant_pence: int | None = None
    customer_pays_pence: int | None = None
    document: bytes | None = Field(default=None, sa_type=LargeBinary)
    document_sha256: str | None = Field(default=None, max_length=64)
    party_salt: str | None = Field(default=None, max_length=64)
    party_hash: str | None = Field(default=None, max_length=64)
    created_at: datetime = Field(sa_type=UtcStamp)
    issued_at: datetime | None = Field(default=None, sa_type=UtcStamp)
    valid_until: date | None = None


class QuoteEvent(SQLModel, table=True):
    """Something that happened to a quote. `seq` is taken under one lock: it is the order, and the feed's cursor."""

    __tablename__ = "quote_event"

    seq: int = Field(primary_key=True, sa_column_kwargs={"autoincrement": False})
    quote_id: str = Field(foreign_key="quote.id", index=True, max_length=36)
    event: str = Field(max_length=20)
    at: datetime = Field(sa_type=UtcStamp)
    by: str = Field(sa_column_kwargs={"name": "by_actor"}, max_length=160)
    reason: str = Field(default="", sa_type=Text)
    payload: str = Field(default="{}", sa_type=Text)


class AskAcceptance(SQLModel, table=True):
    """A finding of strength *ask* that a named person accepted, and why."""

    __tablename__ = "ask_acceptance"

    quote_id: str = Field(primary_key=True, foreign_key="quote.id", max_length=36)
    code: str = Field(primary_key=True, max_length=120)
    where: str = Field(primary_key=True, sa_column_kwargs={"name": "found_where"}, max_length=400)
    by: str = Field(sa_column_kwargs={"name": "accepted_by"}, max_length=120)
    reason: str = Field(sa_type=Text)
    at: datetime = Field(sa_type=UtcStamp)
    actor: str = Field(max_length=48)


class QuotePrices(SQLModel, table=True):
    """The unit prices of the whole list and the rates that a quote was made with, copied as JSON: variations use them.

    Written with the draft, again when it is re-priced, and never after issue.
    """

    __tablename__ = "quote_prices"

    quote_id: str = Field(primary_key=True, foreign_key="quote.id", max_length=36)
    price_list_version: str = Field(max_length=40)
    body: bytes = Field(sa_type=LargeBinary)
    sha256: str = Field(max_length=64)


class QuoteWhy(SQLModel, table=True):
    """Why each figure of a quote is what it is, cost and all: JSON by path, apart so that rows of quotes stay narrow.

    Written with the draft, again when it is re-priced, and never after issue: the sealed document holds `sha256`.
    """

    __tablename__ = "quote_why"

    quote_id: str = Field(primary_key=True, foreign_key="quote.id", max_length=36)
    body: bytes = Field(sa_type=PackedBytes)
    sha256: str = Field(max_length=64)


class QuoteFile(SQLModel, table=True):
    """A file of an issued quote as it was rendered at issue, once and for good: PDF, UBL or CSV.

    What prints the customer stands twice, with the name and without. The one with the name goes when the customer is
    erased; nothing else is ever changed or taken out.
    """

    __tablename__ = "quote_file"

    quote_id: str = Field(primary_key=True, foreign_key="quote.id", max_length=36)
    kind: str = Field(primary_key=True, max_length=8)
    names_party: bool = Field(primary_key=True)
    body: bytes = Field(sa_type=LargeBinary)
    sha256: str = Field(max_length=64)


class QuoteApproval(SQLModel, table=True):
    """Somebody with the right to it lets a quote go out below the firm's margin floor, and why."""

    __tablename__ = "quote_approval"

    id: str = Field(primary_key=True, max_length=36)
    quote_id: str = Field(foreign_key="quote.id", index=True, max_length=36)
    by: str = Field(sa_column_kwargs={"name": "approved_by"}, max_length=160)
    reason: str = Field(sa_type=Text)
    at: datetime = Field(sa_type=UtcStamp)
    actor: str = Field(max_length=48)


class VariationState(StrEnum):
    """Where a variation stands."""

    PROPOSED = "proposed"
    APPROVED = "approved"
    REFUSED = "refused"


class Variation(SQLModel, table=True):
    """A change of the works after acceptance, at the quote's own prices. Only its state and who decided are written on.

    `document` is the exact JSON of its lines without cost; `place` counts the variations of one quote from 1.
    """

    __tablename__ = "variation"
    __table_args__ = (UniqueConstraint("quote_id", "place"),)

    id: str = Field(primary_key=True, max_length=36)
    quote_id: str = Field(foreign_key="quote.id", index=True, max_length=36)
    place: int
    state: str = Field(max_length=16)
    reason: str = Field(max_length=40)
    note: str = Field(sa_type=Text)
    document: bytes = Field(sa_type=LargeBinary)
    document_sha256: str = Field(max_length=64)
    net_pence: int
    vat_pence: int
    total_pence: int
    cost_pence: int
    proposed_by: str = Field(max_length=160)
    proposed_at: datetime = Field(sa_type=UtcStamp)
    decided_by: str = Field(default="", max_length=160)
    decided_reason: str = Field(default="", sa_type=Text)
    decided_at: datetime | None = Field(default=None, sa_type=UtcStamp)
